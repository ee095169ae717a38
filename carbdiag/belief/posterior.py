"""Posterior over hypotheses, and what is read off it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from carbdiag.belief.evidence import SMALL, Place
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network

Column = Callable[[Network], Floats]


@dataclass(frozen=True, eq=False)
class Evidence:
    """All that is known of one case, as factors.

    odds: (S,) prior odds of each state in this case's circumstances; state 0 holds those of nothing wrong.
    state_factor: (S,) likelihoods that speak of each state on its own (silence of signs); a pair takes the product.
    places: statements about each place, integrated together.
    columns: factors (H,) as functions of the hypotheses looked at.
    alone: what some of the columns are for the single states of this machine, (S,), where it is known already.
    """

    odds: Floats
    state_factor: Floats
    places: tuple[Place, ...]
    columns: tuple[Column, ...]
    alone: Mapping[Column, Floats] = field(default_factory=dict)

    @cached_property
    def before(self) -> Floats:
        """Odds of each state before what was seen: the prior and what speaks of states alone, (S,)."""
        return np.asarray(self.odds * (self.state_factor / self.state_factor[0]))


@dataclass(frozen=True, eq=False)
class Posterior:
    """Weights of all hypotheses, scaled so that they and the reserved weight sum to 1."""

    weights: Floats  # (H,)
    scale_log: float  # log of what the weights were divided by

    def beside(self, other: float) -> Posterior:
        """The same with room for something else, whose weight is given on the scale of these weights."""
        every = 1 + other
        return Posterior(self.weights * (1 / every), self.scale_log + math.log1p(other))

    def by_state(self, network: Network) -> Floats:
        """P(state is at work), shape (S,); state 0 holds P(nothing wrong)."""
        return network.by_state(self.weights)


def posterior(network: Network, evidence: Evidence) -> Posterior:
    """Weigh every hypothesis by prior odds and evidence.

    Works with products, rescaled where they would underflow; the logarithm of what was divided out is kept.
    """
    weights = network.prior(evidence.before)
    log = math.log(evidence.state_factor[0])
    for place in evidence.places:
        values, scale = place.factor(network)
        weights = np.multiply(weights, values, out=values)
        log += scale
    known: Mapping[Column, Floats] = {} if network.paired else evidence.alone
    for column in evidence.columns:
        if column in known:
            weights = weights * known[column]
        else:
            values = column(network)
            weights = np.multiply(weights, values, out=values)
    total = float(np.add.reduce(weights))
    if total < SMALL:
        weights, log = _step_by_step(network, evidence)
        total = float(np.add.reduce(weights))
    weights *= 1 / total
    return Posterior(weights, log + math.log(total))


def _step_by_step(network: Network, evidence: Evidence) -> tuple[Floats, float]:
    """Unscaled weights and their log scale where the product of all factors falls out of range."""
    weights, log = network.prior(evidence.before), math.log(evidence.state_factor[0])
    for place in evidence.places:
        values, scale = place.factor(network)
        weights, lost = _multiplied(weights, values)
        log += scale + lost
    for column in evidence.columns:
        weights, lost = _multiplied(weights, column(network))
        log += lost
    return weights, log


#: Where statements contradict each other beyond what numbers can hold, no hypothesis falls further than this at once.
_FLOOR = 1e-120


def _multiplied(weights: Floats, values: Floats) -> tuple[Floats, float]:
    """The product, and the log of what was divided out to keep it within range."""
    product = weights * values
    largest = float(product.max())
    if largest >= SMALL:
        return product, 0.0
    top_w, top_v = float(weights.max()), float(values.max())
    product = np.where(weights > 0, np.maximum(weights / top_w, _FLOOR), 0.0) * np.maximum(values / top_v, _FLOOR)
    largest = float(product.max())
    return product / largest, math.log(largest) + math.log(top_w) + math.log(top_v)


def left_out_odds(network: Network, evidence: Evidence, found: Posterior) -> float:
    """Odds of three or more causes against everything enumerated, taken as no better explained than the best.

    The prior odds of all sets of three or more causes, times the best likelihood any enumerated hypothesis has. Where
    three causes each explain a sign that no pair explains, the truth is higher.
    """
    listed = network.cause >= 0
    per_cause = np.bincount(network.cause[listed], evidence.odds[listed])
    power1, power2 = per_cause.sum(), (per_cause**2).sum()
    more = float(np.prod(1 + per_cause) - 1 - power1 - (power1**2 - power2) / 2)
    prior = network.prior(evidence.odds)
    prior += _TINY  # what cannot be weighs nothing, so any divisor does
    return max(more, 0.0) * float(np.divide(found.weights, prior, out=prior).max())


_TINY = 1e-300


def leading(network: Network, found: Posterior, most: int) -> Ints:
    """Indices of the `most` heaviest hypotheses that are what they name; ties keep the order of enumeration."""
    weights = found.weights[: network.by_name]
    some = np.arange(len(weights))
    if most < len(weights):
        # what is not among the heaviest of the first few is not among the heaviest of all
        some = np.flatnonzero(weights >= _nth_largest(weights[: 8 * most], most))
        some = some[weights[some] >= _nth_largest(weights[some], most)]
    return np.asarray(some[np.argsort(-weights[some], kind="stable")][:most], dtype=np.intp)


def _nth_largest(values: Floats, n: int) -> float:
    return float(np.partition(values, len(values) - n)[len(values) - n])
