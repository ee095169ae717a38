"""The mixture axis: x = ln(lambda / lambda wanted), held in whole steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Lattice:
    """Whole steps of x from -limit to +limit; index `center` is x = 0."""

    step: float
    limit: float
    right_within: float
    lean_within: float

    @property
    def center(self) -> int:
        """Index of x = 0."""
        return round(self.limit / self.step)

    @property
    def size(self) -> int:
        """Number of lattice points."""
        return 2 * self.center + 1

    def points(self) -> Floats:
        """All x of the lattice, shape (size,)."""
        return np.asarray((np.arange(self.size) - self.center) * self.step, dtype=float)

    def steps(self, x: float | Floats) -> Ints:
        """Shifts x as whole steps, rounded half to even."""
        return np.asarray(np.rint(np.asarray(x, dtype=float) / self.step), dtype=np.intp)

    def clip(self, index: Ints) -> Ints:
        """Indices held inside the lattice."""
        return np.clip(index, 0, self.size - 1)

    def level_centers(self) -> Floats:
        """The x at which each of the five levels is typical, rich to lean.

        The outer two lie as far beyond their limit as the middle of the inner ones lies before it.
        """
        inner = (self.right_within + self.lean_within) / 2
        outer = self.lean_within + (self.lean_within - inner) + self.right_within
        return np.array([-outer, -inner, 0.0, inner, outer])

    def response(self, by_level: Floats) -> Floats:
        """Interpolate values given for the five levels over the lattice, shape (size,)."""
        return np.interp(self.points(), self.level_centers(), by_level)

    def level_weights(self) -> Floats:
        """P(level | x) on the lattice with hard limits, shape (5, size)."""
        x = self.points()
        edges = np.array([-self.lean_within, -self.right_within, self.right_within, self.lean_within])
        # a point on a limit belongs to the inner level; half a step of tolerance keeps rounding out of it
        level = np.searchsorted(edges[:2] - 1e-9, x, side="right") + np.searchsorted(edges[2:] + 1e-9, x)
        return np.asarray(level == np.arange(5)[:, None], dtype=float)

    def quadrature(self, sigma: Floats) -> tuple[Ints, Floats]:
        """Offsets in whole steps, shape (P, 5), and weights (5,) that integrate normal residuals of spread `sigma`."""
        return self.steps(np.multiply.outer(sigma, _NODES)), _WEIGHTS


#: Gauss's rule of five points for a standard normal: the zeros of x^5 - 10 x^3 + 15 x, and what each counts.
_NODES: Floats = np.sqrt([5 + 10**0.5, 5 - 10**0.5, 0.0, 5 - 10**0.5, 5 + 10**0.5]) * [-1, -1, 0, 1, 1]
_WEIGHTS: Floats = np.array([7 - 2 * 10**0.5, 7 + 2 * 10**0.5, 32, 7 + 2 * 10**0.5, 7 - 2 * 10**0.5]) / 60


def shifted(table: Floats, steps: int) -> Floats:
    """The table read `steps` further along its last axis, its ends held: result[i] = table[i + steps].

    >>> shifted(np.array([1.0, 2.0, 3.0]), 1).tolist()
    [2.0, 3.0, 3.0]
    """
    if steps == 0:
        return table
    size = table.shape[-1]
    return np.asarray(table[..., np.clip(np.arange(size) + steps, 0, size - 1)])
