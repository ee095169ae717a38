"""Which pairs of causes a case has to look at one by one.

What a state could add to a pair is bounded by its odds times every factor with which an observation speaks for it:
what speaks against it may be explained by the other. Two mixture shifts can together do more than that, so the bound
is a good estimate and no proof; tests/belief/test_screening.py compares answers with the complete enumeration.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network


def promise(network: Network, odds: Floats, likelihoods: Sequence[Floats], nothing: float) -> Floats:
    """The most that each state can bring into a pair, shape (S,): the product of two is beside all single states.

    nothing: P(nothing wrong) among the single states, which sets that scale.
    """
    # odds[0] / nothing is what all single states weigh together
    scale = math.sqrt(max(nothing, _TINY) / max(odds[0], _TINY))
    promised = odds * scale
    if likelihoods:
        beside_nothing = np.stack(likelihoods)
        beside_nothing /= np.maximum(beside_nothing[:, :1], _TINY)
        with np.errstate(over="ignore"):
            most = np.multiply.reduce(np.maximum(beside_nothing, 1.0, out=beside_nothing), axis=0)
        promised *= np.minimum(most, _MOST)
    promised[network.raised] *= math.sqrt(max(network.raised_by, 1.0))
    promised[network.cause < 0] = 0.0
    return np.minimum(promised, _MOST)


#: Smaller than any weight that counts; and what can still be squared.
_TINY, _MOST = 1e-300, 1e130


def heads(network: Network, promised: Floats, most_left: float) -> Ints:
    """The states that head pairs: the most promising, until the other pairs weigh at most `most_left` of the singles.

    0 for `most_left` takes every state.
    """
    if most_left <= 0:
        return network.listed
    promised = promised[network.pairing]
    order = np.argsort(-promised, kind="stable")
    rest = np.cumsum(promised.take(order[::-1]))  # what the last ones promise together
    left = int(np.searchsorted(rest, math.sqrt(2 * most_left), side="right"))
    return network.listed.take(order[: len(order) - left])
