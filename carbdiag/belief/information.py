"""Expected gain of an observation about which cause is at work."""

from __future__ import annotations

import numpy as np

from carbdiag.belief.lattice import Floats, Ints


def entropy(p: Floats, axis: int = -1) -> Floats:
    """Entropy in bits along an axis; zeros count nothing.

    >>> float(entropy(np.array([0.5, 0.5])))
    1.0
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(p > 0, p * np.log2(p), 0.0)
    return np.asarray(-terms.sum(axis=axis))


def merge(weights: Floats, keys: Ints, likelihood: Floats) -> tuple[Floats, Floats]:
    """Merge hypotheses that name the same causes.

    weights (K,), keys (K,), likelihood (..., K) -> weights (M,), likelihood (..., M) averaged within each key.
    """
    unique, inverse = np.unique(keys, return_inverse=True)
    gather = np.zeros((len(weights), len(unique)))
    gather[np.arange(len(weights)), inverse] = weights
    total = gather.sum(axis=0)
    return total, (likelihood @ gather) / np.where(total > 0, total, 1.0)


def expected_gain_bits(weights: Floats, outcome_given_key: Floats) -> Floats:
    """Mutual information between outcome and cause, in bits.

    weights (M,) normalized; outcome_given_key (T, O, M): T observations with O outcomes -> (T,).
    """
    marginal = outcome_given_key @ weights
    conditional = np.asarray(entropy(outcome_given_key, axis=1)) @ weights
    return np.maximum(entropy(marginal, axis=1) - conditional, 0.0)
