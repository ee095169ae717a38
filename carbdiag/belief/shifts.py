"""How far states move the mixture, and every sum of two such shifts, as indices into tables.

All of it depends on the machine alone, so it is worked out once, and only for the places that are asked for.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.lattice import Floats, Ints, Lattice


@dataclass(frozen=True, eq=False)
class Movers:
    """Pairs on the ring by how many of the two causes move the mixture at all."""

    both: Ints  # places on the ring, flattened
    first: Ints  # where the causes there stand
    second: Ints
    one: Ints  # likewise where one does
    mover: Ints  # which one

    @classmethod
    def of(cls, moves: NDArray[np.bool_], beside: NDArray[np.bool_]) -> Movers:
        """From what moves, (C,), and the same for the second of each pair, (C // 2, C)."""
        n = len(moves)
        both, one = np.flatnonzero(moves & beside), np.flatnonzero(moves ^ beside)
        row, first = np.divmod(both, max(n, 1))
        of_one = one % max(n, 1)
        mover = np.where(moves.take(of_one), of_one, (of_one + one // max(n, 1) + 1) % max(n, 1))
        return cls(both, first, (first + row + 1) % max(n, 1), one, mover)


@dataclass(frozen=True, eq=False)
class Shifts:
    """Shifts of all states at all places."""

    lattice: Lattice
    x: Ints  # (P, S) in lattice steps
    listed: slice  # the states that pair
    _sums: dict[int, tuple[Ints, Ints]] = field(default_factory=dict)
    _moving_sums: dict[int, tuple[Ints, Ints]] = field(default_factory=dict)

    @cached_property
    def reach(self) -> int:
        """The largest shift of a state."""
        return int(np.abs(self.x).max(initial=0))

    @cached_property
    def spread(self) -> Ints:
        """Lattice index of every sum of two shifts, from twice `reach` below x = 0 to twice that above."""
        return self.lattice.clip(np.arange(-2 * self.reach, 2 * self.reach + 1) + self.lattice.center)

    def sums(self, place: int) -> tuple[Ints, Ints]:
        """A number for the shift of each listed state, (L,), and by number the index into `spread` of its sum with
        that of each state, (numbers, S)."""
        found = self._sums.get(place)
        if found is None:
            shifts, number = np.unique(self.x[place, self.listed], return_inverse=True)
            found = self._sums[place] = number, (shifts[:, None] + 2 * self.reach) + self.x[place]
        return found

    @cached_property
    def moving(self) -> Ints:
        """Those of the listed states, counted among them, that move the mixture anywhere."""
        return np.flatnonzero((self.x[:, self.listed] != 0).any(axis=0))

    @cached_property
    def still(self) -> Floats:
        """(L,) 1 for the other listed states, 0 for those."""
        still = np.ones(self.x[:, self.listed].shape[1])
        still[self.moving] = 0.0
        return still

    def moving_sums(self, place: int) -> tuple[Ints, Ints]:
        """As `sums`, with the moving states alone."""
        found = self._moving_sums.get(place)
        if found is None:
            number, sums = self.sums(place)
            found = self._moving_sums[place] = number.take(self.moving), sums
        return found

    def folded(self, by_sum: Floats) -> Floats:
        """Weights by index into `spread` as weights on the lattice, shape (N,)."""
        return np.asarray(np.bincount(self.spread, by_sum, self.lattice.size), dtype=float)
