"""Faults of a known kind that nobody wrote down: what they are taken to be like.

Of every kind (a group of causes and a direction of the mixture) one such fault stands for all that is not listed. It is
like the mean of the n listed causes of its kind and, as one more of equal weight, the mean of all causes. The one more
was measured: with listed causes left out one at a time, their signs and check outcomes are foretold best when the mean
of the others of their kind weighs about n / (n + 1) (`python benchmarks/kindred.py`).
"""

from __future__ import annotations

import numpy as np

from carbdiag.belief.lattice import Floats, Ints


def likeness(kind: Ints, cause: Ints, odds: Floats) -> Floats:
    """How much the unlisted fault of each kind takes after each state, shape (kinds, S); a row sums to 1.

    Causes count alike, the severities of one cause by their odds.

    Args:
        kind: (S,) number of the kind of each state, counted from 0; -1 for states that have no kin.
        cause: (S,) cause of each state; -1 for states that are no listed cause.
        odds: (S,) prior odds of each state.

    >>> likeness(np.array([-1, 0, 0, 1]), np.array([-1, 0, 0, 1]), np.array([1.0, 0.2, 0.6, 0.1])).round(2).tolist()
    [[0.0, 0.19, 0.56, 0.25], [0.0, 0.06, 0.19, 0.75]]
    """
    listed = np.flatnonzero(cause >= 0)
    causes, kinds = int(cause.max(initial=-1)) + 1, int(kind.max(initial=-1)) + 1
    of_cause = np.full(causes, -1)
    of_cause[cause[listed]] = kind[listed]
    mine = (of_cause == np.arange(kinds)[:, None]).astype(float)
    by_cause = (mine + 1 / max(causes, 1)) / (mine.sum(axis=1, keepdims=True) + 1)
    out = np.zeros((kinds, len(cause)))
    share = odds[listed] / np.bincount(cause[listed], odds[listed], causes)[cause[listed]]
    out[:, listed] = by_cause[:, cause[listed]] * share
    return out


def fill(by_state: Floats, like: Floats) -> Floats:
    """Values by state (..., S) with those of the last states, the unlisted faults of each kind, filled in place."""
    kinds = len(like)
    if kinds:
        by_state[..., -kinds:] = by_state @ like.T
    return by_state
