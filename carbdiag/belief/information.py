"""Expected gain of an observation about which cause is at work.

Single precision throughout: a gain is compared with others, never added up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.lattice import Ints

Shares = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Grouped:
    """Hypotheses merged by what they name: M groups of the K given."""

    weights: Shares  # (M,) sums within each group
    representative: Ints  # (M,) a member of each group
    order: Ints  # (K,) members, group by group
    start: Ints  # (M,) where each group begins in `order`
    share: Shares  # (K,) weight of each ordered member within its group

    @classmethod
    def of(cls, weights: Shares, keys: Ints) -> Grouped:
        """Group by equal keys; weights (K,) must be positive."""
        order = np.argsort(keys, kind="stable")
        ordered = keys[order]
        start = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
        total = np.add.reduceat(weights[order], start)
        counts = np.diff(np.append(start, len(keys)))
        return cls(total, order[start], order, start, weights[order] / np.repeat(total, counts))

    def averaged(self, table: Shares) -> Shares:
        """The same from (K, rows), whose rows of one member lie side by side; shape (rows, M)."""
        ordered = table.take(self.order, axis=0)
        ordered *= self.share[:, None]
        out = ordered.take(self.start, axis=0)
        count = np.diff(np.append(self.start, len(ordered)))
        for n in range(1, int(count.max())):  # the second of every group that has one, the third, ...
            more = np.flatnonzero(count > n)
            out[more] += ordered[self.start[more] + n]
        return np.ascontiguousarray(out.T)

    def average(self, table: Shares) -> Shares:
        """Average (rows, K) over the members of each group, shape (rows, M)."""
        return np.asarray(np.add.reduceat(table[:, self.order] * self.share, self.start, axis=1))


def _p_log_p(p: Shares) -> Shares:
    return np.asarray(p * np.log2(np.maximum(p, np.float32(1e-12))))


def outcome_gain_bits(weights: Shares, given: Shares, start: Ints) -> Shares:
    """Mutual information between outcome and group for observations with several outcomes, in bits.

    weights (M,) summing to 1; given (rows, M) = P(outcome | group); start (T,) first row of each observation -> (T,).
    """
    rows = _p_log_p(given) @ weights - _p_log_p(given @ weights)
    return np.asarray(np.maximum(np.add.reduceat(rows, start), 0))


def yes_gain_bits(weights: Shares, yes: Shares) -> Shares:
    """The same for questions answered yes or no; yes (T, M) = P(yes | group) -> (T,).

    >>> half = np.array([0.5, 0.5], dtype=np.float32)
    >>> yes_gain_bits(half, np.array([[1.0, 0.0], [0.5, 0.5]], dtype=np.float32)).tolist()
    [1.0, 0.0]
    """
    p = yes @ weights
    inner = (_p_log_p(yes) + _p_log_p(1 - yes)) @ weights
    return np.asarray(np.maximum(inner - _p_log_p(p) - _p_log_p(1 - p), 0))
