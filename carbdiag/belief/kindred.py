"""Faults of a known kind that nobody wrote down: what they are taken to be like.

Of every kind (a group of causes and a direction of the mixture) one such fault stands for all that is not listed. It is
like the mean of the n listed causes of its kind and, as one more of equal weight, the mean of all causes. The one more
was measured: with listed causes left out one at a time, their signs and check outcomes are foretold best when the mean
of the others of their kind weighs about n / (n + 1) (`python benchmarks/kindred.py`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from carbdiag.belief.lattice import Floats, Ints


@dataclass(frozen=True, eq=False)
class Likeness:
    """How much the unlisted fault of each kind takes after each cause, kept as the sums that it is made of."""

    states: Ints  # (L,) states of listed causes, those of one cause side by side
    share: Floats  # (L,) each one's part of its cause
    first: Ints  # (C,) where each cause begins in `states`
    order: Ints  # (C,) causes, those of one kind side by side, those without kin first
    start: Ints  # where each kind begins in `order`
    kin: Floats  # (kinds,) causes of each kind

    def __len__(self) -> int:
        """Number of kinds."""
        return len(self.kin)

    def by_cause(self, by_state: Floats) -> Floats:
        """The mean of each listed cause over its states, (..., S) to (..., C)."""
        return np.asarray(np.add.reduceat(by_state.take(self.states, axis=-1) * self.share, self.first, axis=-1))

    def of(self, by_state: Floats) -> Floats:
        """What the fault of each kind is like, from values by state; (..., S) to (..., kinds)."""
        return self.of_causes(self.by_cause(by_state))

    def of_causes(self, by_cause: Floats) -> Floats:
        """The same from values by cause; (..., C) to (..., kinds)."""
        sums = np.add.reduceat(by_cause.take(self.order, axis=-1), self.start, axis=-1)
        every = by_cause.mean(axis=-1, keepdims=True)
        return np.asarray((sums[..., len(self.start) - len(self) :] + every) / (self.kin + 1))


def likeness(kind: Ints, cause: Ints, odds: Floats) -> Likeness:
    """How the unlisted fault of each kind takes after the listed causes.

    Causes count alike, the severities of one cause by their odds.

    Args:
        kind: (S,) number of the kind of each state, counted from 0; -1 for states that have no kin.
        cause: (S,) cause of each state, in ascending order; -1 for states that are no listed cause.
        odds: (S,) prior odds of each state.

    >>> like = likeness(np.array([-1, 0, 0, 1]), np.array([-1, 0, 0, 1]), np.array([1.0, 0.2, 0.6, 0.1]))
    >>> like.of(np.eye(4)).T.round(2).tolist()
    [[0.0, 0.19, 0.56, 0.25], [0.0, 0.06, 0.19, 0.75]]
    """
    states = np.flatnonzero(cause >= 0)
    first = np.flatnonzero(np.diff(cause[states], prepend=-1))
    of_cause = kind[states[first]]
    order = np.argsort(of_cause, kind="stable")
    return Likeness(
        states=states,
        share=odds[states] / np.add.reduceat(odds[states], first)[cause[states]],
        first=first,
        order=order,
        start=np.flatnonzero(np.diff(of_cause[order], prepend=-2)),
        kin=np.bincount(of_cause + 1, minlength=int(kind.max(initial=-1)) + 2)[1:].astype(float),
    )
