"""How far the mixture is off, as a distribution, and what a change of fuel would leave of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from carbdiag.metering.limits import refuse, within

LEAN_COST: Final = 3.0


@dataclass(frozen=True)
class Deviation:
    """Distribution of x = ln(lambda/lambda target) at an opening: points and weights (positive x is lean).

    Valid range: x from -1 to 1; weights not negative, summing above 0. Source: the caller's posterior.

    >>> deviation_normal(0.05, 0.02).mean
    0.05
    """

    x: tuple[float, ...]
    weight: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.x) != len(self.weight) or not self.x:
            raise refuse("deviation", "needs as many weights as points, at least one")
        for value in self.x:
            within("mixture deviation", value, -1.0, 1.0, "")
        for value in self.weight:
            within("weight", value, 0.0, math.inf, "")
        if sum(self.weight) <= 0.0:
            raise refuse("deviation", "weights must sum above zero")

    @property
    def mean(self) -> float:
        """Mean deviation (unitless; positive lean)."""
        return sum(x * w for x, w in zip(self.x, self.weight, strict=True)) / sum(self.weight)


_NORMAL_POINTS: Final = (-2.0, -1.33, -0.67, 0.0, 0.67, 1.33, 2.0)


def deviation_normal(mean: float, standard_deviation: float) -> Deviation:
    """A seven-point bell-shaped Deviation (unitless ln lambda).

    Valid range: mean -0.6 to 0.6, standard deviation 0 to 0.2. Source: own discretization.

    >>> len(deviation_normal(0.0, 0.03).x)
    7
    """
    m = within("mean deviation", mean, -0.6, 0.6, "")
    sd = within("standard deviation", standard_deviation, 0.0, 0.2, "")
    return Deviation(tuple(m + sd * z for z in _NORMAL_POINTS), tuple(math.exp(-0.5 * z * z) for z in _NORMAL_POINTS))


def expected_loss(deviation: Deviation, effects: Sequence[tuple[float, float]], lean_cost: float = LEAN_COST) -> float:
    """Mean squared deviation left after a change, lean errors counted `lean_cost` times (unitless).

    `effects` are (d ln fuel, weight) pairs of the change. Valid range: lean_cost 1 to 20. Source: quadratic
    loss; the asymmetry is a judgment (the scales file may state another).

    >>> expected_loss(Deviation((0.05,), (1.0,)), [(0.05, 1.0)])
    0.0
    """
    within("lean cost", lean_cost, 1.0, 20.0, "")
    total = weight = 0.0
    for x, w in zip(deviation.x, deviation.weight, strict=True):
        for effect, v in effects:
            r = x - effect
            total += w * v * r * r * (lean_cost if r > 0.0 else 1.0)
            weight += w * v
    return total / weight


def best_fuel_change(deviation: Deviation, lean_cost: float = LEAN_COST) -> float:
    """The d ln(fuel) with the least expected loss, before any rounding to parts (positive is richer).

    Valid range: lean_cost 1 to 20. Source: expectile of the deviation.

    >>> best_fuel_change(Deviation((0.0, 0.1), (1.0, 1.0)), 3.0)
    0.075
    """
    within("lean cost", lean_cost, 1.0, 20.0, "")
    points = sorted(zip(deviation.x, deviation.weight, strict=True))
    # what lies above the answer pulls `lean_cost` times as hard as what lies below; points go below one by one
    weight = lean_cost * sum(w for _, w in points)
    moment = lean_cost * sum(w * x for x, w in points)
    for x, w in points:
        if moment <= weight * x:
            break
        weight -= (lean_cost - 1.0) * w
        moment -= (lean_cost - 1.0) * w * x
    return moment / weight
