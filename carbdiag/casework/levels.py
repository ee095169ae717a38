"""What a belief says of the mixture at each band, as the machine is now or would be after a change."""

from __future__ import annotations

import numpy as np

from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.residual import levels_seen
from carbdiag.casework.believed import Belief, Seen
from carbdiag.casework.still_at_work import weights_left


def mixture_levels(belief: Belief) -> Floats:
    """P(level) at every band as the machine is now, by what the causes make of it, (bands, 5); see `levels_at`."""
    return levels_at(belief, *belief.model.residuals, by_causes=True)


def levels_at(
    belief: Belief,
    *places: int,
    moved: Ints | None = None,
    without_repaired: bool = False,
    by_causes: bool = False,
) -> Floats:
    """P(level) at some bands as the machine is now, or moved (P,) lattice steps further; shape (bands, 5).

    Settings that were changed and kept have moved it; what was repaired still counts, unless `without_repaired`.
    What was said of a place speaks of its residual too, unless `by_causes`, which is three times as quick and hardly
    differs where little was said; once what was repaired is out, what was said since.
    """
    steps = belief.steps if moved is None else belief.steps + moved
    model, network = belief.model, belief.network
    seen: Seen = {} if by_causes else belief.seen_since if without_repaired else belief.seen
    weights = weights_left(belief) if without_repaired else belief.posterior.weights
    unseen = {n: model.residuals[n].unseen(int(steps[n])) for n in places if n not in seen}
    levels = dict(zip(unseen, network.over_x(weights, unseen), strict=True))
    for n in places:
        if n in seen:
            levels[n] = levels_seen(network, model.residuals[n], n, seen[n], weights, int(steps[n]))
    out = np.array([levels[n] for n in places])
    several = belief.several
    if several is None:
        return out
    of_several = np.array([several.levels(model.residuals[n], n, int(steps[n])) for n in places])
    return np.asarray((1 - several.share) * out + several.share * out.sum(axis=1, keepdims=True) * of_several)


def leaning(belief: Belief, *places: int, moved: Ints | None = None) -> Floats:
    """P(level) at some bands, as `levels_at`, with and without what was repaired; shape (2, bands, 5).

    A repair may lay bare what it hid: a clean filter, a main jet that is too small. And it may not have worked. Whoever
    must not lean what may be lean goes by the worse of the two.
    """
    as_it_was = levels_at(belief, *places, moved=moved)
    if not belief.repaired.alone.any():
        return np.stack([as_it_was, as_it_was])
    return np.stack([as_it_was, levels_at(belief, *places, moved=moved, without_repaired=True)])
