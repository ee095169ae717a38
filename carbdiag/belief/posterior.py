"""Posterior over hypotheses, and what is read off it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from carbdiag.belief.evidence import SMALL, PlaceTerm, place_factor
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network


@dataclass(frozen=True, eq=False)
class Evidence:
    """All that is known of one case, as factors.

    odds: (S,) prior odds of each state in this case's circumstances; state 0 holds those of nothing wrong.
    state_factor: (S,) likelihoods that speak of each state on its own (silence of signs); a pair takes the product.
    by_place: statements about each place, integrated together.
    columns: (H,) factors given outright.
    """

    odds: Floats
    state_factor: Floats
    by_place: tuple[tuple[int, tuple[PlaceTerm, ...]], ...]
    columns: tuple[Floats, ...]


@dataclass(frozen=True, eq=False)
class Posterior:
    """Weights of all hypotheses, scaled so that they and the reserved weight sum to 1."""

    weights: Floats  # (H,)
    scale_log: float  # log of what the weights were divided by

    def by_state(self, network: Network) -> Floats:
        """P(state is at work), shape (S,); state 0 holds P(nothing wrong)."""
        size = network.states
        out = np.asarray(np.bincount(network.first, self.weights, size), dtype=float)
        out += np.bincount(network.second, self.weights, size)
        out[0] = self.weights[0]
        return out


def prior_odds(network: Network, evidence: Evidence) -> Floats:
    """Prior odds of every hypothesis, shape (H,)."""
    return _per_hypothesis(network, evidence.odds, evidence.odds[0])


def _per_hypothesis(network: Network, by_state: Floats, nothing: float) -> Floats:
    in_pair = by_state * network.pair_scale
    in_pair[0] = 1.0
    out = network.product(in_pair)
    out[network.raised] *= network.raised_by
    out[: network.singles] = by_state
    out[0] = nothing
    return out


def posterior(network: Network, evidence: Evidence) -> Posterior:
    """Weigh every hypothesis by prior odds and evidence.

    Works with products, rescaled so that no number of observations can underflow; the logarithm of what was divided
    out is kept.
    """
    factor = evidence.state_factor / evidence.state_factor[0]
    weights = _per_hypothesis(network, evidence.odds * factor, evidence.odds[0])
    log = float(np.log(evidence.state_factor[0]))
    for place, terms in evidence.by_place:
        values, scale = place_factor(network, place, terms)
        log += scale + _multiply(weights, values)
    for column in evidence.columns:
        log += _multiply(weights, column)
    total = float(weights.sum())
    weights /= total
    return Posterior(weights, log + float(np.log(total)))


#: Where statements contradict each other beyond what numbers can hold, no hypothesis falls further than this at once.
_FLOOR = 1e-120


def _multiply(weights: Floats, values: Floats) -> float:
    """Multiply in place; returns the log of what was divided out to keep the product within range."""
    product = weights * values
    largest = float(product.max())
    if largest < SMALL:
        top_w, top_v = float(weights.max()), float(values.max())
        product = np.where(weights > 0, np.maximum(weights / top_w, _FLOOR), 0.0) * np.maximum(values / top_v, _FLOOR)
        largest = float(product.max())
        product /= largest
        weights[:] = product
        return math.log(largest) + math.log(top_w) + math.log(top_v)
    weights[:] = product
    return 0.0


def left_out_odds(network: Network, evidence: Evidence, found: Posterior) -> float:
    """Odds of three or more causes against everything enumerated, taken as no better explained than the best.

    The prior odds of all sets of three or more causes, times the best likelihood any enumerated hypothesis has. Where
    three causes each explain a sign that no pair explains, the truth is higher.
    """
    listed = network.cause >= 0
    per_cause = np.bincount(network.cause[listed], evidence.odds[listed])
    power1, power2 = per_cause.sum(), (per_cause**2).sum()
    more = float(np.prod(1 + per_cause) - 1 - power1 - (power1**2 - power2) / 2)
    prior = prior_odds(network, evidence)
    likelihood = np.divide(found.weights, prior, out=np.zeros_like(prior), where=prior > 0)
    return max(more, 0.0) * float(likelihood.max())


def leading(found: Posterior, most: int) -> Ints:
    """Indices of the `most` heaviest hypotheses, heaviest first; ties keep the order of enumeration."""
    weights = found.weights
    if most < len(weights):
        cut = np.partition(weights, len(weights) - most)[len(weights) - most]
        some = np.flatnonzero(weights >= cut)
    else:
        some = np.arange(len(weights))
    return np.asarray(some[np.argsort(-weights[some], kind="stable")][:most], dtype=np.intp)
