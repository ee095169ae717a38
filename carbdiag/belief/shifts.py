"""How far states move the mixture, and where the sum of two such shifts lies in a table.

All of it depends on the machine alone, so it is worked out once, and only for the places that are asked for.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from carbdiag.belief.lattice import Floats, Ints, Lattice

#: Lattice steps that make a coarse one.
COARSE = 4


@dataclass(frozen=True, eq=False)
class Shifts:
    """Shifts of all states at all places."""

    lattice: Lattice
    x: Ints  # (P, S) in lattice steps
    listed: slice  # the states that pair
    _distinct: dict[int, tuple[Ints, Ints]] = field(default_factory=dict)
    _rough: dict[int, tuple[Ints, Ints]] = field(default_factory=dict)

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

    def rough(self, place: int) -> tuple[Ints, Ints]:
        """A number for the shift of each listed state in coarse steps, (L,), and by two numbers the index into `spread`
        of the sum of two such shifts."""
        found = self._rough.get(place)
        if found is None:
            coarse = COARSE * np.rint(self.x[place, self.listed] / COARSE).astype(np.intp)
            shifts, number = np.unique(coarse, return_inverse=True)
            sums = np.clip(shifts[:, None] + shifts + 2 * self.reach, 0, 4 * self.reach)
            found = self._rough[place] = number, sums
        return found

    @cached_property
    def way(self) -> Ints:
        """Which way each state moves the mixture, taken over all places, (S,): -1 rich, 0 neither, 1 lean."""
        return np.asarray(np.sign(self.x.sum(axis=0)), dtype=np.intp)

    @cached_property
    def _folds(self) -> tuple[Ints, Ints]:
        """Where each lattice index begins in `spread`, and those indices."""
        begins = np.flatnonzero(np.diff(self.spread, prepend=-1))
        return begins, self.spread[begins]

    def folded(self, by_sum: Floats) -> Floats:
        """Weights by index into `spread` as weights on the lattice, (..., spread) to (..., N)."""
        begins, at = self._folds
        out = np.zeros((*by_sum.shape[:-1], self.lattice.size))
        out[..., at] = np.add.reduceat(by_sum, begins, axis=-1)
        return out
