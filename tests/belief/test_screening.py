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
from carbdiag.belief.network import build
from carbdiag.casework import Belief, assess
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


def test_written_cases_are_answered_as_by_looking_at_every_pair(shipped: Knowledge, complete: Knowledge) -> None:
    seen = []
    for name, case in written_cases(shipped).items():
        for few in assess(shipped, case).beliefs:
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
    shipped: Knowledge, complete: Knowledge, kind: str
) -> None:
    family, strokes = kind.split(", ")
    model, rng = PlainModel(shipped, family, int(strokes)), random.Random(kind)
    for n in range(45):
        case = drawn_case(model, n % 3 + 1, rng)
        (few,), (whole,) = assess(shipped, case).beliefs, assess(complete, case).beliefs
        worst, _ = compare(few, whole)
        assert worst < CLOSE, case


def test_every_pair_lies_on_the_ring_once() -> None:
    """Narrowed to no heads, causes of one severity each are enumerated completely."""
    from tests.belief.test_posterior_brute_force import LATTICE, random_world  # noqa: PLC0415

    for causes_ in range(2, 8):
        number = np.arange(-1, causes_)
        signs = random_world(1).network.signs
        some = type(signs)(signs.place[:0], signs.silent_base[:0], np.ones((0, causes_ + 1)), (), ())
        x = np.zeros((1, causes_ + 1), dtype=np.intp)
        odds = np.linspace(0.1, 0.3, causes_ + 1)
        whole = build(LATTICE, number, number, odds, x, some, np.array([0.03]), frozenset({(0, 1)}), 3.0)
        few = whole.narrowed(np.zeros(0, dtype=np.intp), odds)
        for network in (whole, few):
            prior = network.prior(odds)
            pairs = {
                frozenset((int(a), int(b))): w
                for a, b, w in zip(network.first, network.second, prior, strict=True)
                if b > 0 and w > 0
            }
            assert len(pairs) == causes_ * (causes_ - 1) // 2 == int((prior[network.states :] > 0).sum())
            for pair, weight in pairs.items():
                a, b = pair
                assert weight == pytest.approx(odds[a] * odds[b] * (3.0 if pair == {1, 2} else 1.0))
        assert few.by_state(few.prior(odds)) == pytest.approx(whole.by_state(whole.prior(odds)))
        assert few.in_group_twice(few.prior(odds), causes_) == pytest.approx(np.zeros(causes_))


def test_members_and_holders_are_those_of_the_enumeration(shipped: Knowledge) -> None:
    """What is looked up of some hypotheses is what stands for all of them."""
    case = Case.model_validate(
        {
            "machine": {"family": "round_slide", "strokes": 2},
            "findings": [{"finding": "bogs", "at": ["half"]}, {"finding": "black_smoke", "status": "denied"}],
        }
    )
    (belief,) = assess(shipped, case).beliefs
    alone = belief.model.network
    whole = alone.narrowed(alone.listed, alone.odds)
    for network in (belief.network, alone, whole):
        every = np.arange(network.size)
        some = every[:: 7][::-1]
        for chosen in (every, some, every[:0]):
            first, second = network.members(chosen)
            assert (first == network.first[chosen]).all()
            assert (second == network.second[chosen]).all()
        weights = network.prior(network.odds)
        for cause in (0, 3, len(belief.model.cause_ids) - 1):
            holds = np.flatnonzero((network.cause[network.first] == cause) | (network.cause[network.second] == cause))
            cells, weighed = network.over_x_with(cause, weights, 3)
            expected = np.bincount(network.cell(3, holds), weights[holds], network.lattice.size)
            assert np.bincount(cells, weighed, network.lattice.size) == pytest.approx(expected)
            assert float(weighed.sum()) > 0


def test_the_mixture_is_that_of_all_hypotheses_added_up_one_by_one(shipped: Knowledge) -> None:
    """Pairs of which one moves nothing are added up together, and that changes no sum."""
    case = Case.model_validate({"machine": {"family": "round_slide", "strokes": 2}, "findings": [{"finding": "bogs"}]})
    (belief,) = assess(shipped, case).beliefs
    alone = belief.model.network
    tables = {n: residual.unseen(0) for n, residual in belief.model.residuals.items()}
    for network in (
        belief.network,
        alone,
        alone.narrowed(alone.listed[:0], alone.odds),
        alone.narrowed(alone.listed, alone.odds),
        belief.network.moved(-alone.x),
        belief.network.moved(np.zeros_like(alone.x)),
    ):
        weights, every = network.prior(network.odds), np.arange(network.size)
        for (place, table), summed in zip(tables.items(), network.over_x(weights, tables), strict=True):
            assert summed == pytest.approx(table[:, network.cell(place, every)] @ weights, rel=1e-11)
