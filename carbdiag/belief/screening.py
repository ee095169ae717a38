"""Which pairs of causes a case has to look at one by one.

What a state could add to a pair is bounded by its odds times every factor with which an observation speaks for it:
what speaks against it may be explained by the other. Two mixture shifts can together do more than that, so the bound
is a good estimate and no proof; tests/belief/test_screening.py compares answers with the complete enumeration.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network


def promise(network: Network, odds: Floats, likelihoods: Sequence[Floats]) -> Floats:
    """The most that each state can bring into a pair, on the scale of odds against nothing wrong, shape (S,)."""
    out = odds.copy()
    for likelihood in likelihoods:
        out *= np.maximum(likelihood / likelihood[0], 1.0)
    out[network.raised] *= np.sqrt(network.raised_by)
    out[network.cause < 0] = 0.0
    return out


def heads(network: Network, promised: Floats, total: float, most_left: float) -> Ints:
    """The states that head pairs: the most promising, until the other pairs weigh at most `most_left` of `total`.

    total: weight of the single states, on the scale of `promised`. 0 for `most_left` takes every state.
    """
    if most_left <= 0:
        return network.listed
    order = network.listed[np.argsort(-promised.take(network.listed), kind="stable")]
    rest = np.cumsum(promised.take(order[::-1]))[::-1]  # what the states from each one on promise together
    return order[: int(np.searchsorted(-(rest**2), -2 * most_left * total))]
