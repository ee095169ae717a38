"""Posterior over hypotheses, and what is read off it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from carbdiag.belief.evidence import PlaceTerm, place_factor
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
    prior: Floats  # (H,) prior odds
    scale_log: float  # log of what the weights were divided by

    def by_state(self, network: Network) -> Floats:
        """P(state is at work), shape (S,); state 0 holds P(nothing wrong)."""
        out = np.bincount(network.first, self.weights, network.states) + np.bincount(
            network.second, self.weights, network.states
        )
        out[0] = self.weights[0]
        return out


def prior_odds(network: Network, evidence: Evidence) -> Floats:
    """Prior odds of every hypothesis, shape (H,)."""
    odds = evidence.odds.copy()
    odds[0] = 1.0
    prior = odds.take(network.first) * odds.take(network.second) * network.pair_factor
    prior[0] = evidence.odds[0]
    return np.asarray(prior)


def posterior(network: Network, evidence: Evidence) -> Posterior:
    """Weigh every hypothesis by prior odds and evidence.

    Works with scaled products: each place's factor is divided by its largest value, so that no number of
    observations can underflow, and the logarithm of the divisors is kept.
    """
    prior = prior_odds(network, evidence)
    factor = evidence.state_factor
    by_state = factor / factor[0]
    weights = prior * by_state.take(network.first)
    weights *= by_state.take(network.second)
    log = float(np.log(factor[0]))
    for place, terms in evidence.by_place:
        values = place_factor(network, place, terms)
        weights *= values
        log += _rescale(weights)
    for column in evidence.columns:
        weights *= column
    log += _rescale(weights)
    total = float(weights.sum())
    weights /= total
    return Posterior(weights, prior, log + float(np.log(total)))


def _rescale(weights: Floats) -> float:
    largest = float(weights.max())
    if largest > 1e-100:
        return 0.0
    weights /= largest
    return float(np.log(largest))


def left_out_odds(network: Network, evidence: Evidence, found: Posterior) -> float:
    """Bound on the odds of three or more causes against everything enumerated.

    The prior odds of all sets of three or more causes, times the best likelihood any enumerated hypothesis has.
    """
    listed = network.cause >= 0
    per_cause = np.bincount(network.cause[listed], evidence.odds[listed])
    power1, power2 = per_cause.sum(), (per_cause**2).sum()
    more = float(np.prod(1 + per_cause) - 1 - power1 - (power1**2 - power2) / 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        likelihood = np.where(found.prior > 0, found.weights / found.prior, 0.0)
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
