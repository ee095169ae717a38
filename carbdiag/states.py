"""The states that one kind of machine may be in: every severity of every cause, and faults nobody wrote down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from carbdiag.belief.lattice import Ints
from carbdiag.family_metering import FamilyTables
from carbdiag.knowledge import Knowledge
from carbdiag.mixture_shifts import severities_of, through_drivers, way_of
from carbdiag.records.causes import Cause
from carbdiag.records.families import Family
from carbdiag.terms import Direction


class State(NamedTuple):
    """A cause at one severity, or a fault nobody wrote down (`cause` is None): of a circuit, or of a group."""

    cause: str | None
    severity: str
    circuit: str | None
    direction: Direction | None
    group: str | None = None


@dataclass
class StateList:
    """States side by side, each with its odds, the shift of the mixture it makes, and its cause."""

    states: list[State] = field(default_factory=list)
    odds: list[float] = field(default_factory=list)
    shifts: list[dict[str, float]] = field(default_factory=list)
    times: list[float] = field(default_factory=list)
    """How many times its shift each state makes."""
    causes: list[int] = field(default_factory=list)
    """Number of the cause among those of the machine; -1 for none that is listed."""

    def add(self, state: State, odds: float, shift: dict[str, float], times: float = 1.0, cause: int = -1) -> None:
        """Add a state."""
        self.states.append(state)
        self.odds.append(odds)
        self.shifts.append(shift)
        self.times.append(times)
        self.causes.append(cause)


def list_states(
    k: Knowledge, family: Family, tables: FamilyTables, strokes: int, causes: Sequence[Cause]
) -> tuple[StateList, Ints]:
    """The states of a machine that may have these causes, no fault first; and of every state its kind.

    A kind is a group with a direction, -1 for none; the last states are those of the kinds.
    """
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    out = StateList()
    out.add(State(None, "", None, None), k.scales.nothing_wrong, {})
    for n, cause in enumerate(causes):
        prior, effect = k.scales.prior[cause.prior], cause.mixture
        if effect is None:
            out.add(State(cause.id, "", None, None, cause.group), prior, {}, cause=n)
            continue
        severities = severities_of(k, tables, strokes, effect)
        direction = way_of(effect, [s[2] for s in severities], bands)
        for label, often, shift, times in severities:
            state = State(cause.id, label, effect.circuit, direction, cause.group)
            out.add(state, prior * often, shift, times, n)
    _add_unlisted(k, family, tables, out)
    return out, _add_kindred(k, out)


def _add_unlisted(k: Knowledge, family: Family, tables: FamilyTables, out: StateList) -> None:
    """A fault nobody wrote down in every circuit and direction, as strong as a clear shift of that circuit."""
    typical = k.scales.shift
    moving = [c for c in family.circuits if tables.shares.get(c)]
    each = k.scales.unlisted.share_of_circuits * sum(out.odds[1:]) / (2 * len(moving))
    for circuit in moving:
        largest = max(tables.shares[circuit].values())
        for direction in Direction:
            size = max(v for v in typical.values()) / 2 * (1 if direction is Direction.LEAN else -1)
            x = {p: size * s / largest for p, s in tables.shares[circuit].items()}
            out.add(State(None, "unlisted", circuit, direction), each, through_drivers(tables.drivers, x))


def _add_kindred(k: Knowledge, out: StateList) -> Ints:
    """A fault nobody wrote down in every group and direction, after all others; returns the kind of every state.

    What such a fault is like is filled in from the listed causes.
    """
    kinds: dict[tuple[str, Direction | None], int] = {}
    of_state = [
        kinds.setdefault((s.group, s.direction), len(kinds)) if s.group and k.groups[s.group].unlisted else -1
        for s in out.states
    ]
    by_kind = np.bincount(np.add(of_state, 1), out.odds)[1:]
    circuits: list[set[str | None]] = [set() for _ in kinds]
    for s, n in zip(out.states, of_state, strict=True):
        if n >= 0:
            circuits[n].add(s.circuit)
    for (group, direction), of_kin, listed in zip(kinds, circuits, by_kind.tolist(), strict=True):
        circuit = next(iter(of_kin)) if len(of_kin) == 1 else None
        out.add(State(None, "unlisted", circuit, direction, group), k.scales.unlisted.share_of_groups * listed, {})
    return np.array([*of_state, *([-1] * len(kinds))], dtype=np.intp)
