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
    """Hypotheses merged by what they name: M groups of the K given, which lie group by group."""

    weights: Shares  # (M,) sums within each group
    start: Ints  # (M,) where each group begins
    count: Ints  # (M,) members of each group
    share: Shares  # (K,) weight of each member within its group

    @classmethod
    def of(cls, weights: Shares, keys: Ints) -> Grouped:
        """Group neighbors of equal keys; weights (K,) must be positive."""
        start = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]]))
        total = np.add.reduceat(weights, start)
        count = np.diff(np.append(start, len(keys)))
        return cls(total, start, count, weights / np.repeat(total, count))

    def averaged(self, table: Shares) -> Shares:
        """Average (K, rows) over the members of each group, shape (M, rows)."""
        out = table.take(self.start, axis=0)
        several = np.flatnonzero(self.count > 1)
        out[several] *= self.share.take(self.start[several])[:, None]
        n = 1
        while several.size:  # the second of every group that has one, the third, ...
            at = self.start[several] + n
            out[several] += table.take(at, axis=0) * self.share.take(at)[:, None]
            n += 1
            several = several[self.count[several] > n]
        return out


def p_log_p(p: Shares) -> Shares:
    """p log2 p, and 0 where p is 0."""
    return np.asarray(p * np.log2(p + _TINY))


#: Lost beside any chance that counts.
_TINY = np.float32(1e-30)


def outcome_gain_bits(weights: Shares, given: Shares, start: Ints) -> Shares:
    """Mutual information between outcome and group for observations with several outcomes, in bits.

    weights (M,) summing to 1; given (rows, M) = P(outcome | group); start (T,) first row of each observation -> (T,).

    >>> half = np.array([0.5, 0.5], dtype=np.float32)
    >>> given = np.array([[1.0, 0.0], [0.0, 1.0], [0.5, 0.5], [0.5, 0.5]], dtype=np.float32)
    >>> outcome_gain_bits(half, given, np.array([0, 2])).tolist()
    [1.0, 0.0]
    """
    rows = p_log_p(given) @ weights - p_log_p(given @ weights)
    return np.asarray(np.maximum(np.add.reduceat(rows, start), 0))
