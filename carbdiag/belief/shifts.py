"""How far states move the mixture, and where the sum of two such shifts lies in a table.

All of it depends on the machine alone, so it is worked out once, and only for the places that are asked for.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from carbdiag.belief.lattice import Floats, Ints, Lattice


@dataclass(frozen=True, eq=False)
class Shifts:
    """Shifts of all states at all places."""

    lattice: Lattice
    x: Ints  # (P, S) in lattice steps
    listed: slice  # the states that pair
    _distinct: dict[int, tuple[Ints, Ints]] = field(default_factory=dict)
    _moving: dict[int, tuple[Ints, Ints, Floats]] = field(default_factory=dict)

    @cached_property
    def reach(self) -> int:
        """The largest shift of a state."""
        return int(np.abs(self.x).max(initial=0))

    @cached_property
    def spread(self) -> Ints:
        """Lattice index of every sum of two shifts, from twice `reach` below x = 0 to twice that above."""
        return self.lattice.clip(np.arange(-2 * self.reach, 2 * self.reach + 1) + self.lattice.center)

    def distinct(self, place: int) -> tuple[Ints, Ints]:
        """A number for the shift of each listed state, (L,), and the shifts by number."""
        found = self._distinct.get(place)
        if found is None:
            shifts, number = np.unique(self.x[place, self.listed], return_inverse=True)
            found = self._distinct[place] = number, shifts
        return found

    def moving(self, place: int) -> tuple[Ints, Ints, Floats]:
        """The listed states that move the mixture at a place, counted among them, their numbers as in `distinct`, and
        (L,) 1 for the others, 0 for those."""
        found = self._moving.get(place)
        if found is None:
            still = self.x[place, self.listed] == 0
            moving = np.flatnonzero(~still)
            found = self._moving[place] = moving, self.distinct(place)[0].take(moving), still.astype(float)
        return found

    @cached_property
    def _folds(self) -> tuple[Ints, Ints]:
        """Where each lattice index begins in `spread`, and those indices."""
        begins = np.flatnonzero(np.diff(self.spread, prepend=-1))
        return begins, self.spread[begins]

    def folded(self, by_sum: Floats) -> Floats:
        """Weights by index into `spread` as weights on the lattice, shape (N,)."""
        begins, at = self._folds
        out = np.zeros(self.lattice.size)
        out[at] = np.add.reduceat(by_sum, begins)
        return out
