"""What was repaired on the way, and what was seen after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np

from carbdiag.belief.evidence import Place
from carbdiag.belief.lattice import Floats, Ints, shifted
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import Column
from carbdiag.terms import Status


@dataclass(frozen=True, eq=False)
class Repaired:
    """Chance that each state, if it was at work, is repaired by now, shape (S,).

    A repair that took one of two causes away is felt otherwise than one that took the only one: "no change" is common
    after the first and all but rules out the second.
    """

    alone: Floats  # where it was the only cause
    of_two: Floats  # where there was a second one

    @classmethod
    def nothing(cls, states: int) -> Repaired:
        """Before any repair."""
        return cls(np.zeros(states), np.zeros(states))

    def and_then(self, more: Repaired) -> Repaired:
        """What is repaired after another repair."""
        return Repaired(
            1 - (1 - self.alone) * (1 - more.alone), 1 - (1 - self.of_two) * (1 - more.of_two)
        )

    def of_hypotheses(self, network: Network) -> tuple[Floats, Floats]:
        """Chance that the first, and the second, cause of every hypothesis is repaired, each (H,)."""
        first = network.of_first(self.of_two)
        first[: network.states] = self.alone
        return first, network.of_second(self.of_two)


@dataclass(frozen=True, eq=False)
class ToldAgain:
    """A sign that was told present before a repair, told once more after it.

    It is no new draw: what showed before goes on showing unless what made it show was repaired.
    """

    row: int
    place: int
    steps: int  # by which settings have moved the mixture since trouble began
    status: Status
    error: float
    anew: float  # chance that it is felt anew, whatever showed before

    def present(self, network: Network) -> Floats:
        """P(the sign shows), shape (H,)."""
        table = shifted(network.base_mean[self.row], self.steps)
        silent = network.at(self.place, table)
        if network.signs.has_links[self.row]:
            silent = silent * network.links(self.row)
        return np.asarray(1 - silent)

    def chance(self, now: Floats | float, before: Floats | float) -> Floats:
        """Chance of what was told: `now` P(it shows) by what is left of a hypothesis, `before` by all of it."""
        shows = (1 - self.anew) * np.minimum(now / np.maximum(before, 1e-12), 1) + self.anew * now
        told = shows if self.status is Status.PRESENT else 1 - shows
        return np.asarray((1 - self.error) * told + self.error * (1 - told))


def with_repair(
    repaired: Repaired, columns: tuple[Column, ...], places: tuple[Place, ...], again: tuple[ToldAgain, ...]
) -> Column:
    """Read later observations as a mix of repaired and not repaired causes."""

    def column(network: Network) -> Floats:
        # the scale is the same for every hypothesis; an epoch's is too small a part to matter elsewhere
        factors = [c(network) for c in columns] + [p.factor(network)[0] for p in places]
        seen = cast(Floats, np.prod(factors, axis=0)) if factors else np.ones(network.size)
        shown = [(sign, sign.present(network)) for sign in again]

        def left(of: Ints | slice | int) -> Floats:
            """Chance of all that was told where this is left of each hypothesis."""
            out = seen[of]
            for sign, p in shown:
                out = out * sign.chance(p[of], p)
            return np.asarray(out)

        a, b = repaired.of_hypotheses(network)
        every, first, second = slice(None), network.first, network.second
        return np.asarray(
            (1 - a) * (1 - b) * left(every) + a * (1 - b) * left(second) + (1 - a) * b * left(first) + a * b * left(0)
        )

    return column
