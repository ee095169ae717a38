"""Causes that nothing tells apart, or that nothing tells from a sound engine; checks said to separate that do not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from carbdiag.errors import Mistake
from carbdiag.knowledge import Knowledge
from carbdiag.lint.spots import Spots
from carbdiag.separation import (
    APART,
    BEST,
    ENOUGH,
    TWINS_BELOW,
    Machine,
    Rival,
    log_apart,
)


def twins(ranked: Iterable[Rival], spot: Spots) -> Iterator[Mistake]:
    """Pairs of causes that hardly any observation tells apart."""
    for pair in ranked:
        if pair.bits < TWINS_BELOW:
            yield spot.mistake(
                "causes",
                pair.cause,
                "checks",
                f"hardly anything tells it from {pair.rival} on {pair.machine}: the best {BEST} observations together "
                f"must give {TWINS_BELOW:g} bit",
                f"{pair.bits:.3f} bit, best by {', then '.join(pair.observations)}",
                words="checks:",
            )


def weak_separators(k: Knowledge, machines: list[Machine], spot: Spots) -> Iterator[Mistake]:
    """What a cause says tells it from another, and does not."""
    rows_of: list[dict[str, list[int]]] = []
    for machine in machines:
        rows_of.append({})
        for row, record in enumerate(machine.record):
            rows_of[-1].setdefault(record, []).append(row)
    for cause in k.causes.values():
        for n, rival in enumerate(cause.mistaken_for):
            best, shared = 0.0, False
            for machine, of_record in zip(machines, rows_of, strict=True):
                if cause.id not in machine.causes or rival.cause not in machine.causes:
                    continue
                shared = True
                rows = of_record.get(rival.told_apart_by)
                if rows:
                    a, b = machine.causes.index(cause.id), machine.causes.index(rival.cause)
                    best = max(best, float(log_apart(machine.log_p[rows, a], machine.log_p[rows, b]).max()))
            field = f"mistaken_for[{n}]"
            words = f"cause: {rival.cause},"
            if not shared:
                yield spot.mistake(
                    "causes",
                    cause.id,
                    f"{field}.cause",
                    "the two never occur on the same machine",
                    rival.cause,
                    words=words,
                )
            elif best < ENOUGH:
                yield spot.mistake(
                    "causes",
                    cause.id,
                    f"{field}.told_apart_by",
                    f"must shift the odds against {rival.cause} at least {APART:g}-fold",
                    f"{rival.told_apart_by} with {np.exp(best):.2f}-fold",
                    near=_strongest(machines, cause.id, rival.cause),
                    words=words,
                )


def _strongest(machines: list[Machine], cause: str, rival: str) -> str:
    for machine in machines:
        if cause in machine.causes and rival in machine.causes:
            a, b = machine.causes.index(cause), machine.causes.index(rival)
            apart = log_apart(machine.log_p[:, a], machine.log_p[:, b])
            row = int(apart.argmax())
            if apart[row] >= ENOUGH:
                return f"{machine.record[row]} ({machine.rows[row]}, {np.exp(apart[row]):.1f}-fold)"
    return ""


def causes_without_sign(machines: Iterable[Machine], spot: Spots) -> Iterator[Mistake]:
    """Causes that no finding makes clearly likelier than a sound engine."""
    seen: set[str] = set()
    for machine in machines:
        signs = machine.is_finding
        raised = (machine.log_p[signs] - machine.log_sound[signs][:, None]).max(axis=0)
        for n in np.flatnonzero(raised < ENOUGH):
            if machine.causes[n] not in seen:
                seen.add(machine.causes[n])
                yield spot.mistake(
                    "causes",
                    machine.causes[n],
                    "shows",
                    f"no finding makes it {APART:g} times likelier than a sound engine on {machine.name}",
                    f"{np.exp(raised[n]):.1f}-fold at best",
                )
