"""The posterior equals exact inference in a Bayes network built with another library.

The network says the same things in another way: one node for the hypothesis, one for each state of a cause, one for
the residual of each place, and every sign as a noisy-OR of its states and of the mixture (the form whose weights
leave the leak out: `addNoisyORNet`). Uncertain statements are entered as likelihoods.
"""

from __future__ import annotations

import random
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from carbdiag.belief.posterior import posterior
from tests.belief.test_posterior_brute_force import (
    CELLS,
    RandomWorld,
    Said,
    as_evidence,
    held,
    hypotheses,
    named,
    random_world,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its C layer warns on import, and dies when a warning is made an error
    import pyagrum as _pyagrum

pyagrum: Any = _pyagrum  # it brings no types


@dataclass(frozen=True)
class Told:
    """One sign told present or absent, with a chance of error."""

    row: int
    present: bool
    error: float


def random_answers(world: RandomWorld, seed: int) -> list[Told]:
    """Two to five different signs."""
    rng = random.Random(seed)
    rows = rng.sample(range(len(world.place)), rng.randint(2, 5))
    return [Told(row, rng.random() < 0.6, rng.choice([0.0, 0.02, 0.15, 0.35])) for row in rows]


def _variable(name: str, size: int) -> object:
    return pyagrum.LabelizedVariable(name, name, size)


def bayes_network_posterior(world: RandomWorld, answers: list[Told]) -> list[float]:
    """P(hypothesis | answers), in the order of `hypotheses(world)`."""
    every = hypotheses(world)
    net = pyagrum.BayesNet()
    net.add(_variable("hypothesis", len(every)))
    prior = []
    for h in every:
        odds = world.odds[0] if not h else 1.0
        for s in h:
            odds *= world.odds[s]
        if len(h) == 2:
            a, b = (world.cause[s] for s in h)
            odds *= 4.0 if (a, b) in world.compensates or (b, a) in world.compensates else 1.0
        prior.append(odds)
    net.cpt("hypothesis").fillWith([p / sum(prior) for p in prior])
    for s in range(1, len(world.cause)):
        net.add(_variable(f"state{s}", 2))
        net.addArc("hypothesis", f"state{s}")
        for n, h in enumerate(every):
            net.cpt(f"state{s}")[{"hypothesis": n}] = [0.0, 1.0] if s in h else [1.0, 0.0]
    offsets, weights = np.polynomial.hermite_e.hermegauss(5)
    for place in range(len(world.x)):
        net.add(_variable(f"residual{place}", 5))
        net.cpt(f"residual{place}").fillWith([float(w) for w in weights / weights.sum()])
    for told in answers:
        place = world.place[told.row]
        mixture, sign = f"mixture{told.row}", f"sign{told.row}"
        net.add(_variable(mixture, 2))
        net.addArc("hypothesis", mixture)
        net.addArc(f"residual{place}", mixture)
        for n, h in enumerate(every):
            center = held(sum(world.x[place][s] for s in h) + CELLS)
            for r, node in enumerate(offsets):
                silent = world.silent[told.row][held(center + round(float(node) * 0.03 / 0.005))]
                net.cpt(mixture)[{"hypothesis": n, f"residual{place}": r}] = [silent, 1 - silent]
        net.addNoisyORNet(_variable(sign, 2), 0.0)
        net.addWeightedArc(mixture, sign, 1.0)
        for s, silent in enumerate(world.silent_link[told.row]):
            if s > 0 and silent < 1:
                net.addWeightedArc(f"state{s}", sign, 1 - silent)
    inference = pyagrum.LazyPropagation(net)
    for told in answers:
        e = told.error
        inference.addEvidence(f"sign{told.row}", [e, 1 - e] if told.present else [1 - e, e])
    inference.makeInference()
    return [float(p) for p in inference.posterior("hypothesis").tolist()]


@pytest.mark.parametrize("seed", range(12))
def test_posterior_equals_that_of_a_bayes_network(seed: int) -> None:
    world = random_world(seed + 1000)
    answers = random_answers(world, seed)
    peer = bayes_network_posterior(world, answers)

    said = [Said(world.place[t.row], (t.row,), t.present, t.error, 0, None) for t in answers]
    ours = posterior(world.network, as_evidence(world, said, [1.0] * len(world.cause), [])).weights
    by_name = {h: float(w) for h, w in zip(named(world), ours, strict=True) if w > 0}

    assert sum(peer) == pytest.approx(1.0, abs=1e-12)
    for h, p in zip(hypotheses(world), peer, strict=True):
        assert by_name[h] == pytest.approx(p, abs=1e-9)


def test_one_residual_for_all_signs_of_a_place_is_what_makes_them_agree() -> None:
    """With a residual for each sign the network answers otherwise: the agreement above is not by chance."""
    world = random_world(1003)
    here = [n for n, p in enumerate(world.place) if p == world.place[0]]
    assert len(here) >= 2
    said = [Said(world.place[0], (row,), True, 0.02, 0, None) for row in here]
    ours = posterior(world.network, as_evidence(world, said, [1.0] * len(world.cause), [])).weights
    apart = np.ones(len(ours))
    for one in said:
        apart = apart * posterior(world.network, as_evidence(world, [one], [1.0] * len(world.cause), [])).weights
    prior = posterior(world.network, as_evidence(world, [], [1.0] * len(world.cause), [])).weights
    apart = np.divide(apart, prior ** (len(said) - 1), out=np.zeros_like(apart), where=prior > 0)
    assert np.abs(ours - apart / apart.sum()).max() > 1e-3
