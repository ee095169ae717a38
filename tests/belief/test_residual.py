"""How rich or lean a place runs: point by point, and given what was seen there."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest

from carbdiag import Case, Knowledge
from carbdiag.belief.evidence import PlaceTerm, SignPart
from carbdiag.belief.residual import Residual, levels_seen
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Belief, likeliest
from carbdiag.casework.levels import levels_at
from carbdiag.model import compile_model
from tests.belief.test_posterior_brute_force import (
    CELLS,
    LATTICE,
    STEP,
    RandomWorld,
    Said,
    as_evidence,
    held,
    named,
    random_statements,
    random_world,
)

LEVELS = [-0.10, -0.03, 0.03, 0.10]  # a point on a limit belongs to the inner level


def level_of(x: float) -> int:
    return sum(x >= limit - 1e-9 for limit in LEVELS[:2]) + sum(x > limit + 1e-9 for limit in LEVELS[2:])


@pytest.mark.parametrize("sigma", [0.02, 0.0224, 0.0255, 0.05])
def test_a_sound_mixture_is_lean_as_often_as_the_normal_residual_says(sigma: float) -> None:
    """Whole lattice steps: what rounds to more than 0.03 is lean."""
    by_level = Residual.of(LATTICE, sigma).unseen(0)
    assert by_level.sum(axis=0) == pytest.approx(1.0)
    beyond = 1 - NormalDist(0, sigma).cdf(0.03 + STEP / 2)
    assert by_level[3:, CELLS].sum() == pytest.approx(beyond, abs=1e-9)
    assert by_level[:2, CELLS].sum() == pytest.approx(beyond, abs=1e-9)
    # never to the steps of five points: a little further is a little leaner
    lean = by_level[3:, CELLS - 20 : CELLS + 21].sum(axis=0)
    assert (np.diff(lean) > -1e-12).all()
    assert np.diff(lean).max() < STEP / sigma * 0.41


def test_every_band_of_every_machine_is_lean_by_its_own_spread(k: Knowledge) -> None:
    for family in k.families.values():
        model = compile_model(k, family.id, family.strokes[0])
        for n, residual in model.residuals.items():
            beyond = 1 - NormalDist(0, model.tables.sigma[model.places[n]]).cdf(0.0325)
            sound = residual.unseen(0)[:, model.network.lattice.center]
            assert sound[3:].sum() == pytest.approx(beyond, abs=1e-9)


def slow_levels(world: RandomWorld, said: list[Said], place: int, weights: list[float], moved: int) -> list[float]:
    """The same hypothesis by hypothesis and step by step, in plain Python."""
    out = [0.0] * 5
    reach = math.ceil(3.5 * 0.03 / STEP)
    normal = NormalDist(0, 0.03)
    for h, weight in zip(named(world), weights, strict=True):
        x = sum(world.x[place][s] for s in h)
        likely = []
        for r in range(-reach, reach + 1):
            low = 0.0 if r == -reach else normal.cdf((r - 0.5) * STEP)
            product = (1.0 if r == reach else normal.cdf((r + 0.5) * STEP)) - low
            for s in (s for s in said if s.place == place):
                at = held(held(x + CELLS) + r)
                if s.table is not None:
                    product *= s.table[at]
                    continue
                factor = 0.0
                for row in s.rows:
                    silent = world.silent[row][held(at + s.steps)]
                    p = 1 - silent * math.prod(world.silent_link[row][state] for state in h)
                    p = p if s.present else 1 - p
                    factor += ((1 - s.error) * p + s.error * (1 - p)) / len(s.rows)
                product *= factor
            likely.append(product)
        for r, product in zip(range(-reach, reach + 1), likely, strict=True):
            at = held(x + CELLS) - CELLS + r + moved
            out[level_of(at * STEP)] += weight * product / sum(likely)
    return out


@pytest.mark.parametrize("seed", range(30))
def test_levels_equal_a_slow_enumeration(seed: int) -> None:
    world = random_world(seed)
    said = random_statements(world, seed, 5)
    terms = {p.place: p.terms for p in as_evidence(world, said, [1.0] * len(world.cause), []).places}
    weights = np.random.default_rng(seed).random(world.network.size) * world.network.prior(world.network.odds)
    residual = Residual.of(LATTICE, 0.03)
    for place, here in terms.items():
        if math.prod(1 + sum(world.network.signs.has_links[p.row] for p in t.parts) for t in here) > 16:
            continue
        for moved in (0, 6):
            found = levels_seen(world.network, residual, place, here, weights, moved)
            assert found == pytest.approx(slow_levels(world, said, place, weights.tolist(), moved), rel=1e-9)


def test_of_too_many_statements_those_that_speak_for_lean_are_heard() -> None:
    """Six signs of rich that causes show directly, and one of lean told last: the lean one still counts."""
    world = random_world(1)
    row = next(n for n, linked in enumerate(world.network.signs.has_links) if linked)
    place, network = world.place[row], world.network
    x = (np.arange(LATTICE.size) - CELLS) * STEP
    ones = np.ones(LATTICE.size)
    rich = [PlaceTerm(1.0, (SignPart(row, 1e-6),), table=ones - 0.9 * (x > -0.03)) for _ in range(6)]
    lean = PlaceTerm(1.0, (SignPart(row, 1e-6),), table=ones - 0.9 * (x < 0.03))
    weights, residual = np.zeros(network.size), Residual.of(LATTICE, 0.03)
    weights[0] = 1.0  # nothing wrong: what is rich or lean is the residual

    def chance(*terms: PlaceTerm) -> float:
        levels = levels_seen(network, residual, place, terms, weights, 0)
        return float(levels[3:].sum() / levels.sum())

    assert chance(*rich, lean) > 2 * chance(*rich)
    assert chance(*rich, lean) == pytest.approx(chance(lean, *rich[:3]))


MACHINE = {"family": "round_slide", "strokes": 4, "cylinders": 1}


def believed(k: Knowledge, *signs: tuple[str, str]) -> Belief:
    findings = [{"finding": finding, "at": [at]} for finding, at in signs]
    return likeliest(assess(k, Case.model_validate({"machine": MACHINE, "findings": findings})))


def lean(belief: Belief, at: str, causes_alone: bool = False) -> float:
    """P(lean) at a place, or what the causes alone make of it, its residual as it was before evidence."""
    n = belief.model.place(at)
    if causes_alone:
        table = belief.model.residuals[n].unseen(0)
        levels = belief.network.over_x(belief.posterior.weights, {n: table})[0]
    else:
        levels = levels_at(belief, n)[0]
    return float(levels[3:].sum() / levels.sum())


def test_signs_speak_of_the_residual_where_they_were_seen_and_nowhere_else(k: Knowledge) -> None:
    rich = believed(k, ("black_smoke", "full"), ("blubbers", "full"))
    assert lean(rich, "full") < 0.5 * lean(rich, "full", causes_alone=True)
    assert lean(rich, "three_quarter") == pytest.approx(lean(rich, "three_quarter", causes_alone=True))
    runs_lean = believed(k, ("surges", "full"))
    assert lean(runs_lean, "full") > lean(runs_lean, "full", causes_alone=True) + 0.03


def test_a_sign_that_a_cause_shows_directly_says_less_of_the_mixture(k: Knowledge) -> None:
    """A weak spark misfires by itself; a sound mixture would have to be off there."""
    belief = believed(k, ("misfires", "full"))
    n, network = belief.model.place("full"), belief.network

    def of(state: int) -> float:
        weights = np.zeros(network.size)
        weights[state] = 1.0
        levels = levels_seen(network, belief.model.residuals[n], n, belief.seen[n], weights, 0)
        return float(levels[3:].sum())

    sound = belief.model.residuals[n].unseen(0)[3:, network.lattice.center].sum()
    still = np.flatnonzero(network.x[n] == 0)
    shows = network.signs.silent_links[belief.model.rows["misfires", "full"]].take(still)
    assert of(int(still[shows.argmin()])) < 1.1 * sound
    assert of(0) > 1.5 * sound
