"""What tells two causes apart: how far one observation shifts their odds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from carbdiag import schema
from carbdiag.belief.lattice import Floats
from carbdiag.model import Model, fits

#: One observation must shift the odds of two causes by at least this, or they are twins.
APART: Final = 3.0

#: What comes less often than this, whichever of the two it is, tells nobody apart.
COMES: Final = 0.1

#: The same as a natural logarithm, rounding allowed for.
ENOUGH: Final = float(np.log(APART)) - 1e-9


@dataclass(frozen=True)
class Rival:
    """The cause hardest to tell from another, and the one observation that does it best."""

    cause: str
    rival: str
    observation: str
    ratio: float
    machine: str

    def __str__(self) -> str:
        return f"{self.cause} / {self.rival}: {self.observation} ({self.ratio:.1f}x) on {self.machine}"


@dataclass(frozen=True, eq=False)
class Machine:
    """P(observation | cause) for one family and stroke, causes at their usual severities."""

    name: str
    causes: tuple[str, ...]
    observations: tuple[str, ...]
    record: tuple[str, ...]  # id of the finding or check of each observation
    log_p: Floats  # (O, C)
    log_sound: Floats  # (O,) in an engine in which nothing is wrong
    everywhere: np.ndarray  # (O,) whether the observation can be made on every machine of the family


def tabulate(model: Model) -> Machine:
    """Every observation and its chance under every cause; checks count where they say much."""
    k, network = model.knowledge, model.network
    number = {c: n for n, c in enumerate(model.cause_ids)}
    average = np.zeros((network.states, len(number) + 1))
    average[0, -1] = 1.0
    for n, state in enumerate(model.states):
        if state.cause is not None:
            average[n, number[state.cause]] = network.odds[n]
    average /= average.sum(axis=0)

    names: list[str] = []
    record: list[str] = []
    everywhere: list[bool] = []
    rows: list[Floats] = []

    def add(name: str, identity: str, applies: schema.Applies, by_state: Floats) -> None:
        names.append(name)
        record.append(identity)
        everywhere.append(_unrestricted(applies))
        rows.append(by_state)

    for row, (finding, at) in enumerate(model.row_keys):
        index = network.x_index[network.signs.place[row], : network.singles]
        silent = network.base_mean[row].take(index) * network.signs.silent_links[row]
        applies = k.findings[finding].applies
        add(f"{finding} at {at}", finding, applies, 1 - silent)
        add(f"no {finding} at {at}", finding, applies, silent)
    for (check_id, outcome), known in model.outcomes.items():
        check = k.checks[check_id]
        if not fits(check.applies, model.family.id, model.strokes):
            continue
        if known.table is None:
            by_state = np.where(known.speaks > 0, known.values, known.otherwise)
            add(f"{check_id}: {outcome}", check_id, check.applies, by_state)
            continue
        for at in check.at:
            mean = network.blur(known.table, model.place(at))
            index = network.x_index[model.place(at), : network.singles]
            add(f"{check_id} at {at}: {outcome}", check_id, check.applies, mean.take(index))
    log_p = np.log(np.stack(rows) @ average)
    return Machine(
        f"{model.family.id}, {model.strokes}-stroke",
        model.cause_ids,
        tuple(names),
        tuple(record),
        np.ascontiguousarray(log_p[:, :-1]),
        log_p[:, -1],
        np.array(everywhere),
    )


def _unrestricted(applies: schema.Applies) -> bool:
    return not (applies.cylinders or applies.carburetors or applies.cooling or applies.fuel_feed or applies.oiling)


def log_apart(log_a: Floats, log_b: Floats) -> Floats:
    """|log ratio| of what is observed under two causes, 0 where neither gives it often enough to count."""
    return np.where(np.maximum(log_a, log_b) >= np.log(COMES), np.abs(log_a - log_b), 0.0)


def best_apart(machine: Machine, cause: int) -> tuple[Floats, np.ndarray]:
    """Against every other cause: the best |log ratio| of one observation, and which one."""
    apart = log_apart(machine.log_p, machine.log_p[:, [cause]])
    apart[~machine.everywhere] = 0.0
    which = apart.argmax(axis=0)
    return apart[which, np.arange(apart.shape[1])], which


def nearest_rivals(machines: Iterable[Machine]) -> list[Rival]:
    """The nearest rival of every cause, the hardest to tell apart first."""
    out: dict[str, Rival] = {}
    for machine in machines:
        for n, cause in enumerate(machine.causes):
            best, which = best_apart(machine, n)
            best[n] = np.inf
            rival = int(best.argmin())
            ratio = float(np.exp(best[rival]))
            if cause not in out or ratio < out[cause].ratio - 1e-9:
                out[cause] = Rival(
                    cause, machine.causes[rival], machine.observations[which[rival]], ratio, machine.name
                )
    return sorted(out.values(), key=lambda r: (r.ratio, r.cause))
