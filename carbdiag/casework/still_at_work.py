"""What is still at work once what was repaired, as far as it was, is taken out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.posterior import Posterior
from carbdiag.case_schema import Case
from carbdiag.casework.believed import Belief
from carbdiag.casework.effects import works_done
from carbdiag.casework.repaired import ToldAgain
from carbdiag.terms import Effect, Status


def weights_left(belief: Belief) -> Floats:
    """The weights of the hypotheses once what was repaired, as far as it was, is taken out of each; shape (H,)."""
    return _left_of(belief, lambda _: belief.posterior.weights)


def not_cured(belief: Belief) -> Posterior:
    """What is still at work where something is: what was repaired is taken out of every hypothesis."""
    left = weights_left(belief)
    left[0] = belief.posterior.weights[0]  # what was repaired whole is cured
    return replace(belief.posterior, weights=left / np.add.reduce(left))


def shows_again(belief: Belief, finding: str, place: str) -> Floats:
    """P(a sign that showed before what was repaired still shows), by what is left at work; shape (H,)."""
    index = belief.model.place(place)
    sign = ToldAgain(
        belief.model.rows[finding, place], index, int(belief.steps[index]), Status.PRESENT, 0.0,
        belief.model.knowledge.scales.trials.felt_anew,
    )  # fmt: skip
    weights, p = belief.posterior.weights, sign.present(belief.network)
    yes = _left_of(belief, lambda left: weights * sign.chance(p[left], p))
    return np.asarray(yes / np.maximum(weights_left(belief), 1e-300))


def _left_of(belief: Belief, weigh: Callable[[Ints | slice | int], Floats]) -> Floats:
    """Something that hypotheses weigh, added up over what the repairs have left of each; shape (H,).

    `weigh` gets what is left of every hypothesis: all of it, its second or its first cause alone, or nothing.
    """
    network = belief.network
    first, second = network.first, network.second
    a, b = belief.repaired.of_hypotheses(network)
    out = np.asarray(weigh(slice(None)) * (1 - a) * (1 - b))
    # what is left of a hypothesis, one member of which was repaired, is the other alone; of one repaired whole, nothing
    out[: network.states] += network.to_second(weigh(second) * a * (1 - b))
    out[: network.states] += network.to_first(weigh(first) * (1 - a) * b)
    out[0] += float((weigh(0) * a * b).sum())
    return out


def put_right(belief: Belief, case: Case) -> Floats:
    """Chance that each state, if it was at work, is so no longer, shape (S,).

    Settings were put right, or it was repaired, and nobody told what that did.
    """
    return np.asarray(1 - (1 - _set_right(belief)) * (1 - _repaired_untold(belief, case)))


def _repaired_untold(belief: Belief, case: Case) -> Floats:
    """Chance that each state is repaired by work of which nobody told what it did, shape (S,)."""
    model = belief.model
    left = np.ones(belief.network.states)
    for trial in (t for epoch in case.history() for t in epoch.trials):
        if trial.do is not None and trial.effect is Effect.NOT_TOLD:
            left = left * (1 - works_done(model.knowledge, model.works[trial.do], trial.how))
    return 1 - left


def _set_right(belief: Belief) -> Floats:
    """Chance that each state, if it was at work, is so no longer because settings were put right, shape (S,)."""
    model, network = belief.model, belief.network
    if not belief.steps.any():
        return np.zeros(network.states)
    k, step = model.knowledge, network.lattice.step
    bands = [n for n, p in enumerate(model.places) if k.places[p].kind == "band"]
    off = np.abs(network.x[bands] + belief.steps[bands, None]).max(axis=0) * step
    was = np.abs(network.x[bands]).max(axis=0) * step
    right = k.scales.mixture.right_within + k.scales.trials.noticeable
    metering = np.array([s.circuit is not None for s in model.states])
    felt = 1 - k.scales.trials.effect_noise
    return np.where(metering & (off <= right) & (off < was), felt, 0.0)
