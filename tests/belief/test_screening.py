"""Looking at fewer pairs answers as looking at all of them does: the same leading cause, the same probabilities.

The complete enumeration is the reference (it is itself tested against a plain model); cases are the reported ones, the
jetting complaints, and cases drawn from the model with one, two or three things wrong at once.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from carbdiag import Case, Knowledge
from carbdiag.belief.network import Network, build
from carbdiag.belief.shifts import COARSE
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Belief
from carbdiag.strict_yaml import parse_yaml
from tests.belief.plain_model import PlainModel

TESTS = Path(__file__).parent.parent
#: Greatest difference of any probability that is tolerated.
CLOSE = 1e-3
NOT_THE_CASE = ("expected", "rows", "misleading", "no_band", "family_in_report")


def written_cases(k: Knowledge) -> dict[str, Case]:
    """The reported cases and jetting complaints that the knowledge covers."""
    out = {}
    for file in sorted([*TESTS.glob("cases/*.yaml"), *TESTS.glob("jetting/*.yaml")]):
        data = cast(dict[str, Any], parse_yaml(file.read_text(encoding="utf-8")))
        if data["machine"].get("family", "unknown") in (*k.families, "unknown"):
            out[file.stem] = Case.model_validate({n: v for n, v in data.items() if n not in NOT_THE_CASE})
    return out


def drawn_case(model: PlainModel, wrong: int, rng: random.Random) -> Case:
    """What a rider might tell of a machine with `wrong` causes at work: present signs, some denied, some unplaced."""
    listed = [s for s in model.states if s.cause]
    h: list[Any] = []
    while len(h) < wrong:
        (state,) = rng.choices(listed, weights=[s.odds for s in listed])
        if all(state.cause != other.cause for other in h):
            h.append(state)
    residual = {p: model.steps(rng.gauss(0, model.tables.sigma[p])) for p in model.k.places}
    present, absent = [], []
    for finding, place in model_rows(model):
        shows = rng.random() < model.present(finding, place, tuple(h), residual[place])
        (present if shows else absent).append((finding, place))
    told = [(f, p, "present") for f, p in rng.sample(present, min(len(present), rng.randint(1, 5)))]
    told += [(f, p, "denied") for f, p in rng.sample(absent, rng.randint(0, 4))]
    named = {f: (p, s) for f, p, s in told}  # one statement a sign
    return Case.model_validate(
        {
            "machine": {"family": model.family.id, "strokes": model.strokes},
            "reporting": rng.choice(["interview", "volunteered"]),
            "contexts": rng.sample(sorted(model.k.contexts), rng.randint(0, 2)),
            "findings": [
                {"finding": f, "status": s, **({"at": [p]} if rng.random() < 0.7 else {})}
                for f, (p, s) in named.items()
            ],
        }
    )


def model_rows(model: PlainModel) -> list[tuple[str, str]]:
    """Every sign of the family at every place, those left out that need parts nobody said are there."""
    out = []
    for f in model.k.findings.values():
        a = f.applies
        if (a.families and model.family.id not in a.families) or (a.strokes and model.strokes not in a.strokes):
            continue
        if not (a.cylinders or a.carburetors or a.cooling or a.oiling or a.fuel_feed):
            out += [(f.id, place) for place in f.at]
    return out


def causes(belief: Belief) -> np.ndarray:
    """P(cause), in the order of the model."""
    by_state, number = belief.posterior.by_state(belief.network), belief.network.cause
    return np.bincount(number[number >= 0], by_state[number >= 0])


def compare(few: Belief, all_: Belief) -> tuple[float, int]:
    """Greatest difference of a cause's probability, and how many pairs the shorter way looked at."""
    a, b = causes(few), causes(all_)
    assert b[a.argmax()] == pytest.approx(b.max(), rel=1e-9)  # the same leads, or one that is exactly as likely
    assert abs(few.posterior.weights[0] - all_.posterior.weights[0]) < CLOSE
    assert abs(few.background - all_.background) < CLOSE
    assert few.background_ratio == pytest.approx(all_.background_ratio, rel=0.01)
    return float(np.abs(a - b).max()), few.network.size


def test_written_cases_are_answered_as_by_looking_at_every_pair(k: Knowledge, complete: Knowledge) -> None:
    seen = []
    for name, case in written_cases(k).items():
        for few in assess(k, case).beliefs:
            matches = [b for b in assess(complete, case).beliefs if b.model.family is few.model.family]
            (whole,) = [b for b in matches if b.model.strokes == few.model.strokes]
            worst, size = compare(few, whole)
            assert worst < CLOSE, name
            assert few.weight == pytest.approx(whole.weight, abs=CLOSE), name
            seen.append(size / whole.network.size)
    assert len(seen) > 80
    assert float(np.median(seen)) < 0.5  # it does save something


@pytest.mark.parametrize("kind", ["round_slide, 2", "round_slide, 4", "flat_slide, 2", "flat_slide_pump, 4"])
def test_drawn_cases_are_answered_as_by_looking_at_every_pair(
    k: Knowledge, complete: Knowledge, kind: str
) -> None:
    family, strokes = kind.split(", ")
    model, rng = PlainModel(k, family, int(strokes)), random.Random(kind)
    for n in range(45):
        case = drawn_case(model, n % 3 + 1, rng)
        (few,), (whole,) = assess(k, case).beliefs, assess(complete, case).beliefs
        worst, _ = compare(few, whole)
        assert worst < CLOSE, case


def unlike_world(causes_: int, rng: np.random.Generator) -> Network:
    """Causes of one to three severities without any sign, two of which are likelier together."""
    from tests.belief.test_posterior_brute_force import LATTICE, random_world  # noqa: PLC0415

    number = np.repeat(np.arange(-1, causes_), [1, *rng.integers(1, 4, causes_)])
    group, signs = np.where(number < 0, -1, number // 2), random_world(1).network.signs
    some = type(signs)(signs.place[:0], signs.silent_base[:0], np.ones((0, len(number))), (), ())
    x = rng.integers(-40, 41, (1, len(number)))
    x[:, 0] = 0
    odds, sigma = rng.uniform(0.01, 0.3, len(number)), np.array([0.03])
    return build(LATTICE, number, group, odds, x, some, sigma, frozenset({(0, 1)}), 3.0)


@pytest.mark.parametrize("seed", range(12))
def test_where_nothing_was_seen_classes_weigh_as_their_pairs_do(seed: int) -> None:
    """Whoever is a head, and whoever is alike: no sum over the pairs of a state, a group or a mixture changes."""
    rng = np.random.default_rng(seed)
    whole = unlike_world(2 + seed % 5, rng)
    states, odds = whole.states, whole.odds
    heads = rng.permutation(whole.listed)[: rng.integers(0, len(whole.listed))]
    few = whole.narrowed(heads, odds, rng.integers(0, 3, states))
    a, b = whole.prior(odds), few.prior(odds)
    assert (b >= 0).all()
    assert b.sum() == pytest.approx(a.sum())
    assert few.by_state(b) == pytest.approx(whole.by_state(a))
    groups = int(whole.group.max()) + 1
    assert few.in_group_twice(b, groups) == pytest.approx(whole.in_group_twice(a, groups), abs=1e-15)
    for members in (few.to_first(b) + few.to_second(b), few.by_state(b)):
        assert members.sum() - members[0] == pytest.approx((whole.by_state(a)).sum() - a[0], abs=a.sum())
    for cause in range(whole.causes):
        of_cause = whole.cause == cause
        assert few.over_x_with(cause, b, 0)[1].sum() == pytest.approx(few.by_state(b)[of_cause].sum())


def test_a_class_of_one_cause_has_no_pair_in_itself() -> None:
    whole = unlike_world(2, np.random.default_rng(3))
    few = whole.narrowed(whole.listed[:0], whole.odds, np.array([-1, *whole.cause[1:]]))
    classes = few.blocks(few.prior(whole.odds))[2]
    assert classes.shape == (2, 2)
    assert not classes.diagonal().any()
    assert classes[0, 1] == classes[1, 0] > 0


def one_belief(k: Knowledge) -> Belief:
    """What one case makes us believe."""
    case = Case.model_validate(
        {
            "machine": {"family": "round_slide", "strokes": 2},
            "findings": [{"finding": "bogs", "at": ["half"]}, {"finding": "black_smoke", "status": "denied"}],
        }
    )
    (belief,) = assess(k, case).beliefs
    return belief


def test_members_and_holders_are_those_of_the_enumeration(k: Knowledge) -> None:
    """What is looked up of some hypotheses is what stands for all of them."""
    belief = one_belief(k)
    alone = belief.model.network
    whole = alone.narrowed(alone.listed, alone.odds, np.zeros(alone.states, dtype=np.intp))
    for network in (belief.network, alone, whole):
        every = np.arange(network.by_name)
        some = every[::7][::-1]
        for chosen in (every, some, every[:0]):
            first, second = network.members(chosen)
            assert (first == network.first[chosen]).all()
            assert (second == network.second[chosen]).all()
    for network in (alone, whole):
        weights = network.prior(network.odds)
        for cause in (0, 3, len(belief.model.cause_ids) - 1):
            holds = np.flatnonzero((network.cause[network.first] == cause) | (network.cause[network.second] == cause))
            cells, weighed = network.over_x_with(cause, weights, 3)
            expected = np.bincount(network.cell(3, holds), weights[holds], network.lattice.size)
            assert np.bincount(cells, weighed, network.lattice.size) == pytest.approx(expected)
            assert float(weighed.sum()) > 0


def test_the_mixture_is_that_of_all_hypotheses_added_up_one_by_one(k: Knowledge) -> None:
    """Each pair lies where the shifts of its members add up to, classes where two of their members roughly do."""
    belief = one_belief(k)
    alone = belief.model.network
    tables = {n: residual.unseen(0) for n, residual in belief.model.residuals.items()}
    same = np.zeros(alone.states, dtype=np.intp)
    for network in (
        belief.network,
        alone,
        alone.narrowed(alone.listed[:0], alone.odds, alone.cause % 5),
        alone.narrowed(alone.listed, alone.odds, same),
        belief.network.moved(-belief.network.x),
    ):
        weights, every = network.prior(network.odds), np.arange(network.by_name)
        classes = network.blocks(weights)[2]
        of_class = np.zeros((network.states, len(classes)))
        if classes.size:
            of_class[np.arange(network.states), network.of_class] = network.part
        of_two = of_class @ classes @ of_class.T
        for (place, table), summed in zip(tables.items(), network.over_x(weights, tables), strict=True):
            x = COARSE * np.rint(network.x[place] / COARSE).astype(np.intp)
            at = network.lattice.clip(x[:, None] + x + network.lattice.center)
            one_by_one = table[:, network.cell(place, every)] @ weights[: len(every)]
            expected = one_by_one + (table[:, at] * of_two).sum((1, 2))
            assert summed == pytest.approx(expected, rel=1e-11)
