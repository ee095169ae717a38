"""Which pairs of causes a case has to look at one by one, and which states are alike in all others.

What a state could add to a pair is bounded by its odds times every factor with which an observation speaks for it:
what speaks against it may be explained by the other. Two mixture shifts can together do more than that, so the bound
is a good estimate and no proof; tests/belief/test_screening.py compares answers with the complete enumeration.

In the pairs that are left it hardly matters which of those that fare alike a member is: they are looked at in classes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network


def beside_nothing(network: Network, likelihoods: Sequence[Floats]) -> Floats:
    """How many times likelier each statement is of each state alone than of nothing wrong, (statements, S)."""
    if not likelihoods:
        return np.ones((0, network.states))
    stacked = np.stack(likelihoods)
    stacked /= np.maximum(stacked[:, :1], _TINY)
    return stacked


def promise(network: Network, odds: Floats, spoken: Floats, nothing: float) -> Floats:
    """The most that each state can bring into a pair, shape (S,): the product of two is beside all single states.

    spoken: as of `beside_nothing`. nothing: P(nothing wrong) among the single states, which sets that scale.
    """
    # odds[0] / nothing is what all single states weigh together
    promised = odds * math.sqrt(max(nothing, _TINY) / max(odds[0], _TINY))
    with np.errstate(over="ignore"):
        most = np.multiply.reduce(np.maximum(spoken, 1.0), axis=0)
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
    rising = np.sort(promised)
    # so many, the least promising, do not promise more than that together
    left = int(np.searchsorted(rising.cumsum(), math.sqrt(2 * most_left), side="right"))
    least = rising[left] if left < len(rising) else np.inf
    return network.listed[promised >= least]


def alike(network: Network, before: Floats, after: Floats, spoken: Floats, repaired: Floats | None = None) -> Ints:
    """A number that states share which a pair can take for each other, shape (S,).

    They move the mixture one way, the same statements speak for them, and all that was told speaks about as much.

    before, after: (S,) odds of the single states without what was observed and with it. spoken: as of `beside_nothing`.
    repaired: (S,) how likely each is repaired by now, where anything was; those that are stand apart.
    """
    speaks = np.log(np.maximum(after, _TINY) / np.maximum(before, _TINY))
    number = 3 * np.rint((speaks - speaks[0]) * _STEPS) + network.shifts.way
    statements = 2.0 ** (np.arange(len(spoken)) % _BITS)
    number += _FAR * (statements @ (spoken > _SPEAKS).astype(float))
    if repaired is not None:
        number += _FAR * 2.0**_BITS * np.rint(10 * repaired)
    return np.asarray(number, dtype=np.intp)


#: Classes to a factor of e in what the case speaks for them; a statement speaks for a state from here on.
_STEPS, _SPEAKS = 4, 1.5
#: More than there are of those classes either way, and statements that are told apart.
_FAR, _BITS = 20_000, 32
