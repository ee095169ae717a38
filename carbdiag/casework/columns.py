"""Factors over all hypotheses, single causes and pairs, that no one place holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from carbdiag.belief.evidence import somewhere_silent
from carbdiag.belief.lattice import Floats
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import Column
from carbdiag.model import CheckOutcome


def of_members(alone: Floats, constant: float, *products: tuple[Floats, Floats]) -> Column:
    """A constant and products of what each member brings, added up; `alone` is that of the single states."""
    of_first, of_second = (np.stack([*side, np.ones_like(alone)]) for side in zip(*products, strict=True))
    of_first[-1] = constant
    left, right = of_first.T[None], of_second[None]
    return lambda network: network.products(alone, left, right)


class Paraphrase(NamedTuple):
    """A sign told without one place; its likelihood is `constant` + `weight` times the chance that all is silent."""

    constant: float
    weight: float
    rows: tuple[int, ...]  # of the sign, one a place
    steps: tuple[int, ...]  # by which settings have moved the mixture at each
    everyday: float  # chance that it is silent on a sound machine


def somewhere(said: Sequence[Paraphrase]) -> Column:
    """Paraphrases told without one place: the rider said one of these words."""

    def column(network: Network) -> Floats:
        total: Floats | None = None
        for constant, weight, rows, steps, everyday in said:
            values = somewhere_silent(network, rows, everyday, steps, weight)
            values += constant
            total = values if total is None else np.add(total, values, out=total)
        assert total is not None
        return total

    return column


def anywhere(tables: Mapping[int, Floats]) -> Column:
    """A check that reads the mixture, done at one of several places: place -> table over x."""

    def column(network: Network) -> Floats:
        out = np.zeros(network.size)
        for place, table in tables.items():
            out += network.at(place, network.blur(table, place)) / len(tables)
        return out

    return column


def check_outcome(outcome: CheckOutcome, error: float, others: int) -> Column:
    """An outcome of a check that reads causes, told with a chance of error.

    Of a pair the mean over the members that decide it; where neither does, the ordinary outcome.
    """
    undecided, kept = 1 - outcome.speaks, 1 - error - error / others
    half = 1 - outcome.speaks / 2  # of what the other says, where this one speaks too
    chance = outcome.values + outcome.otherwise * undecided
    return of_members(
        kept * chance + error / others,
        error / others,
        (kept * outcome.values, half),
        (kept * half, outcome.values),
        (kept * outcome.otherwise * undecided, undecided),
    )


def speaks_for(members: Floats, times: float) -> Column:
    """Evidence that speaks so many times for any hypothesis with one of the members in it."""
    return of_members(1 + (times - 1) * members, times, ((1 - times) * (1 - members), 1 - members))


def reach_of(on_one: Floats, said: str) -> Column:
    """How many cylinders show it; a pair does as its members do on average."""

    def column(network: Network) -> Floats:
        mean = network.total(on_one) / 2
        mean[: network.states] = on_one
        return mean if said == "one" else 1 - mean

    return column


def typically(network: Network, likelihood: Floats) -> float:
    """The likelihood of a statement with the faults that are typical of this machine, from that by state, (S,)."""
    return float(network.typical @ likelihood)
