"""What tells two causes apart: how far one observation shifts their odds, and what the best three together say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from carbdiag.applies import fits
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.model import Model
from carbdiag.records.applies import Applies
from carbdiag.records.causes import Cause
from carbdiag.records.checks import Check
from carbdiag.records.findings import Finding

#: An observation said to separate two causes must shift their odds by at least this.
APART: Final = 3.0

#: What comes less often than this, whichever of the two it is, tells nobody apart.
COMES: Final = 0.1

#: The same as a natural logarithm, rounding allowed for.
ENOUGH: Final = float(np.log(APART)) - 1e-9

#: Two equally likely causes are twins when the best observations together give less than this many bits of one.
#: At 0.1 bit a choice between them is right 68 times in 100 at best; 50 is a coin.
TWINS_BELOW: Final = 0.1

#: How many observations are put together.
BEST: Final = 3


@dataclass(frozen=True)
class Rival:
    """Two causes, how many bits of one the best observations together tell between them, and which those are."""

    cause: str
    rival: str
    bits: float
    observations: tuple[str, ...]
    machine: str

    def __str__(self) -> str:
        first, *others = self.observations
        also = f", then {', '.join(others)}" if others else ""
        return f"{self.cause} / {self.rival}: {self.bits:.2f} bit, best by {first}{also} ({self.machine})"


@dataclass(frozen=True, eq=False)
class Machine:
    """P(outcome | cause) for one family and stroke, causes at their usual severities.

    A row is one outcome of an observation: a sign seen or not seen at a place, a check with one of its outcomes. The
    rows of an observation follow one another.
    """

    name: str
    causes: tuple[str, ...]
    rows: tuple[str, ...]
    record: tuple[str, ...]  # id of the finding or check of each row
    is_finding: np.ndarray  # (R,)
    log_p: Floats  # (R, C)
    log_sound: Floats  # (R,) in an engine in which nothing is wrong
    observations: tuple[str, ...]
    start: Ints  # (O,) first row of each observation
    kin: Ints  # (O,) observations of one finding, check or cluster share a number: they count once
    open_to: np.ndarray  # (O, C) whether it can be made on every machine of the family that can have the cause
    together: np.ndarray  # (C, C) whether one machine can have both causes


class _Rows:
    """Observations of one machine while they are listed: their outcomes, and each outcome's chance by state."""

    def __init__(self, model: Model, causes: Sequence[Cause]) -> None:
        self._model, self._causes = model, causes
        self.names: list[str] = []
        self.record: list[str] = []
        self.by_state: list[Floats] = []
        self.observations: list[str] = []
        self.start: list[int] = []
        self.kin: list[str] = []
        self.open_to: list[list[bool]] = []
        self._add_signs()
        self.findings = len(self.names)
        self._add_checks()

    def _add(self, name: str, of: Finding | Check, outcomes: Mapping[str, Floats]) -> None:
        self.observations.append(name)
        self.start.append(len(self.names))
        self.kin.append((isinstance(of, Finding) and of.cluster) or of.id)
        wanted = [a for a in (of.applies, of.asked_of) if _limited(a)]
        here = fits(of.asked_of, self._model.family.id, self._model.strokes)
        self.open_to.append([here and all(_open(a, cause.applies) for a in wanted) for cause in self._causes])
        self.names.extend(outcomes)
        self.record.extend([of.id] * len(outcomes))
        self.by_state.extend(outcomes.values())

    def _add_signs(self) -> None:
        network = self._model.network
        for row, (finding, at) in enumerate(self._model.row_keys):
            index = network.single_cell(int(network.signs.place[row]))
            silent = network.base_mean[row].take(index) * network.signs.silent_links[row]
            name = f"{finding} at {at}"
            self._add(name, self._model.knowledge.findings[finding], {name: 1 - silent, f"no {name}": silent})

    def _add_checks(self) -> None:
        model, network = self._model, self._model.network
        for check in model.knowledge.checks.values():
            if not fits(check.applies, model.family.id, model.strokes):
                continue
            known = {outcome: model.outcomes[check.id, outcome] for outcome in check.outcomes}
            if check.reads == "causes":
                read = {f"{check.id}: {o}": np.where(c.speaks > 0, c.values, c.otherwise) for o, c in known.items()}
                self._add(check.id, check, read)
                continue
            for at in check.at:
                place = model.place(at)
                index = network.single_cell(place)
                tables = {o: c.table for o, c in known.items() if c.table is not None}
                read = {f"{check.id} at {at}: {o}": network.blur(t, place).take(index) for o, t in tables.items()}
                self._add(f"{check.id} at {at}", check, read)


def tabulate(model: Model) -> Machine:
    """Every observation and its chance under every cause."""
    causes = [model.knowledge.causes[c] for c in model.cause_ids]
    rows = _Rows(model, causes)
    log_p = np.log(np.stack(rows.by_state) @ _states_of_causes(model))
    kin_number = {name: n for n, name in enumerate(dict.fromkeys(rows.kin))}
    return Machine(
        name=f"{model.family.id}, {model.strokes}-stroke",
        causes=model.cause_ids,
        rows=tuple(rows.names),
        record=tuple(rows.record),
        is_finding=np.arange(len(rows.names)) < rows.findings,
        log_p=np.ascontiguousarray(log_p[:, :-1]),
        log_sound=log_p[:, -1],
        observations=tuple(rows.observations),
        start=np.array(rows.start),
        kin=np.array([kin_number[name] for name in rows.kin]),
        open_to=np.array(rows.open_to),
        together=_together(causes),
    )


def _states_of_causes(model: Model) -> Floats:
    """(S, C + 1) how the severities of each cause are weighed; the last column is an engine with nothing wrong."""
    number = {c: n for n, c in enumerate(model.cause_ids)}
    weights = np.zeros((model.network.states, len(number) + 1))
    weights[0, -1] = 1.0
    for n, state in enumerate(model.states):
        if state.cause is not None:
            weights[n, number[state.cause]] = model.network.odds[n]
    return np.asarray(weights / weights.sum(axis=0))


_COUNTS: Final = ("cylinders", "carburetors")
_KINDS: Final = ("cooling", "fuel_feed", "oiling", "uses")


def _limited(applies: Applies) -> bool:
    """Whether some machines of one family and stroke are left out."""
    return any(getattr(applies, field) for field in (*_COUNTS, *_KINDS, "not_uses", "not_with"))


def _open(observation: Applies, cause: Applies) -> bool:
    """Whether every machine that can have the cause can be observed so, family and stroke given."""
    counts = all(getattr(observation, f) in (None, getattr(cause, f)) for f in _COUNTS)
    kinds = ((getattr(observation, f), getattr(cause, f)) for f in _KINDS)
    left_out = {*observation.not_uses, *observation.not_with} - {*cause.not_uses, *cause.not_with}
    allowed = not left_out or (cause.uses and not left_out & set(cause.uses))
    return bool(counts and allowed and all(not needs or (has and set(has) <= set(needs)) for needs, has in kinds))


def _together(causes: list[Cause]) -> np.ndarray:
    """(C, C) whether one machine can have both causes, family and stroke given."""
    out = np.ones((len(causes), len(causes)), dtype=bool)
    limited = [n for n, cause in enumerate(causes) if _limited(cause.applies)]
    for a in limited:
        for b in limited:
            kinds = ((set(getattr(causes[n].applies, f)) for n in (a, b)) for f in _KINDS)
            out[a, b] = all(not one or not other or one & other for one, other in kinds)
    return out


def log_apart(log_a: Floats, log_b: Floats) -> Floats:
    """|log ratio| of what is observed under two causes, 0 where neither gives it often enough to count."""
    return np.where(np.maximum(log_a, log_b) >= np.log(COMES), np.abs(log_a - log_b), 0.0)


def pairs_apart(machine: Machine) -> Iterator[tuple[int, int, float, Ints]]:
    """Every pair of causes that one machine can have: the two, the bits their best observations tell, and which.

    The best are those with the least overlap of their outcomes under the two causes, one of each finding, check or
    cluster. Their bits are exact: the expected information about which of two equally likely causes it is, the
    observations independent given the cause, as they are in the model up to a residual shared within a place.
    """
    p = np.exp(machine.log_p)
    ends = np.append(machine.start[1:], len(p))
    p /= np.repeat(np.add.reduceat(p, machine.start), ends - machine.start, axis=0)
    root = np.sqrt(p).astype(np.float32)
    widest = int((ends - machine.start).max())
    padded = np.zeros((len(machine.start), widest, p.shape[1]), dtype=np.float32)
    for n, (first, end) in enumerate(zip(machine.start, ends, strict=True)):
        padded[n, : end - first] = p[first:end]
    entropy = _minus_p_log_p(padded).sum(axis=1)
    for a in range(len(machine.causes) - 1):
        others = np.arange(a + 1, len(machine.causes))
        others = others[machine.together[a, others]]
        if not len(others):
            continue
        overlap = np.add.reduceat(root[:, [a]] * root[:, others], machine.start)
        overlap[~(machine.open_to[:, [a]] | machine.open_to[:, others])] = 1
        best = np.empty((BEST, len(others)), dtype=np.intp)
        for n in range(BEST):
            best[n] = overlap.argmin(axis=0)
            overlap[machine.kin[:, None] == machine.kin[best[n]]] = 1
        joint = (_every_outcome(padded, best, np.full(len(others), a)) + _every_outcome(padded, best, others)) / 2
        apart = _minus_p_log_p(joint).sum(axis=(1, 2, 3)) - (entropy[best, a] + entropy[best, others]).sum(axis=0) / 2
        for n, b in enumerate(others):
            yield a, int(b), max(float(apart[n]), 0.0), best[:, n]


def _every_outcome(padded: np.ndarray, best: Ints, causes: Ints) -> np.ndarray:
    """Chance of every combination of outcomes of the best observations, one cause a row."""
    one, two, three = (padded[o, :, causes] for o in best)
    return np.asarray(one[:, :, None, None] * two[:, None, :, None] * three[:, None, None, :])


def _minus_p_log_p(p: np.ndarray) -> np.ndarray:
    return np.asarray(-p * np.log2(np.maximum(p, np.float32(1e-12))))


def rivals(machines: Iterable[Machine]) -> list[Rival]:
    """Every pair of causes on the machine where it is hardest to tell apart, the hardest pair first."""
    least: dict[tuple[str, str], tuple[float, Machine, Ints]] = {}
    for machine in machines:
        for a, b, bits, best in pairs_apart(machine):
            pair = (machine.causes[a], machine.causes[b])
            if pair not in least or bits < least[pair][0] - 1e-6:
                least[pair] = (bits, machine, best)
    ranked = sorted(least.items(), key=lambda item: (round(item[1][0], 6), item[0]))
    return [
        Rival(*pair, bits, tuple(machine.observations[o] for o in best), machine.name)
        for pair, (bits, machine, best) in ranked
    ]


def nearest_rivals(ranked: Iterable[Rival]) -> list[Rival]:
    """Of pairs hardest first, those that are the nearest for one of their causes."""
    seen: set[str] = set()
    out = []
    for pair in ranked:
        if not {pair.cause, pair.rival} <= seen:
            out.append(pair)
        seen |= {pair.cause, pair.rival}
    return out
