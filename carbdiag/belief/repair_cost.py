"""Expected cost of repair, as in decision-theoretic troubleshooting (Heckerman, Breese, Rommelse 1995).

Repairs are done in the order of success per minute, each once; what none of them cures costs a fixed sum.
Single precision throughout: a cost is compared with others, never added up.
"""

from __future__ import annotations

import numpy as np

from carbdiag.belief.information import Shares
from carbdiag.belief.quiet_product import quiet_product


def expected_minutes(
    weights: Shares, works: Shares, minutes: Shares, otherwise: float, rounds: int
) -> Shares:
    """Expected minutes to the cure by repairs alone, for each of several beliefs; shape (R,).

    Args:
        weights: (R, M) P(cause) in each belief; a row's sum is what there is to cure.
        works: (A, M) chance that a repair cures a cause.
        minutes: (A,) what a repair costs, successful or not.
        otherwise: minutes that whatever is left costs (a workshop).
        rounds: how many repairs are tried at most.

    >>> one = np.ones((1, 1), dtype=np.float32)
    >>> expected_minutes(one, one * 0.5, one[0] * 10, 100.0, 5).tolist()
    [60.0]
    """
    left = weights.copy()
    total = left.sum(axis=1)
    cost = np.zeros(len(weights), dtype=np.float32)
    done = np.zeros((len(weights), len(works)), dtype=bool)
    rows = np.arange(len(weights))
    by_cause = np.ascontiguousarray(works.T)
    for _ in range(min(rounds, len(works))):
        success = quiet_product(left, by_cause)
        success[done] = 0.0
        best = np.argmax(success / minutes, axis=1)
        # a repair is worth trying while what it may save is more than what it costs those still uncured
        worth = success[rows, best] * otherwise > minutes[best] * total
        if not worth.any():
            break
        cost += np.where(worth, total * minutes[best], 0.0)
        left *= np.where(worth[:, None], 1 - works[best], 1.0)
        done[rows, best] = True
        total = left.sum(axis=1)
    return np.asarray(cost + total * otherwise)


def search_minutes(chances: Shares, minutes: Shares) -> Shares:
    """Expected minutes to work through repairs in the best order until the one that is needed, all of them if need be.

    Unlike `expected_minutes` nothing ends the search early: what is unlikely and done last counts with all that it
    takes to get there. That is what an answer which only shortens the search changes, and it often leaves the first
    repair what it was.

    Args:
        chances: (R, A) P(this repair is the one needed) in each of several beliefs.
        minutes: (A,) what a repair costs.

    >>> minutes = np.array([30.0, 10.0], dtype=np.float32)
    >>> search_minutes(np.array([[0.5, 0.5], [0.9, 0.1]], dtype=np.float32), minutes).round(3).tolist()
    [25.0, 31.0]
    """
    order = np.argsort(-chances / minutes, axis=1, kind="stable")
    spent = np.cumsum(minutes[order], axis=1)
    return np.asarray((np.take_along_axis(chances, order, axis=1) * spent).sum(axis=1))
