"""What the look ahead says of every candidate, beside the same sums done plainly, hypothesis by hypothesis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from carbdiag import Case, Knowledge
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import likeliest
from carbdiag.casework.still_at_work import not_cured
from carbdiag.knowledge import shipped_knowledge
from carbdiag.outlook import Outlook, _rows, outlook
from carbdiag.scales import probability

MACHINE = {"family": "round_slide", "strokes": 2, "cylinders": 1}
CASES: dict[str, dict[str, Any]] = {
    "one sign": {"findings": [{"finding": "bogs", "at": ["half"]}]},
    "nothing told": {},
    "thinner air": {"air": {"set": {"elevation_m": 0}, "now": {"elevation_m": 2000}}, "visited": ["full"]},
    "denser air": {"air": {"set": {"elevation_m": 1500}, "now": {"elevation_m": 0}}, "visited": ["full"]},
    "pairs met from both sides": {
        "findings": [
            {"finding": "plug_white"},
            {"finding": "spits_back", "at": ["idle"]},
            {"finding": "idle_wanders", "at": ["idle"]},
        ]
    },
    "two faults": {
        "findings": [
            {"finding": "surges", "at": ["quarter"]},
            {"finding": "black_smoke"},
            {"finding": "spark_snaps_or_shocks"},
        ]
    },
    "after a repair in vain": {
        "findings": [{"finding": "bogs", "at": ["half"]}],
        "trials": [{"do": "clean_main_jet", "effect": "no_change"}],
    },
    "after a setting that helped": {
        "findings": [{"finding": "bogs", "at": ["half"]}],
        "trials": [{"change": "needle", "direction": "richer", "at": "half", "effect": "better"}],
    },
}


@dataclass(frozen=True)
class Looked:
    """An outlook; what every hypothesis in it would show, worked out anew; its causes; its merged hypothesis."""

    outlook: Outlook
    rows: np.ndarray
    causes: list[frozenset[int]]
    of: np.ndarray


@pytest.fixture(scope="module", params=CASES)
def look(request: pytest.FixtureRequest) -> Looked:
    case = Case.model_validate({"machine": MACHINE, **CASES[request.param]})
    belief = likeliest(assess(shipped_knowledge(), case))
    found = outlook(belief)
    assert found is not None
    first, second = belief.network.members(found.members)
    rows = _rows(belief.network, found.candidates, first, second, belief.steps).astype(float)
    signs = rows.shape[1] - len(belief.model.row_keys)
    for row in belief.unspoken.tolist():
        rows[:, signs + row] = left_unsaid(rows[:, signs + row], belief.model.row_keys[row][0])
    causes = [named(found, pair) for pair in zip(first.tolist(), second.tolist(), strict=True)]
    return Looked(found, rows, causes, np.repeat(np.arange(len(found.first)), found.groups.count))


def left_unsaid(shows: np.ndarray, sign: str) -> np.ndarray:
    """P(it shows | it was not told): told by none who do not see it, and by `noticed_unasked` of those who do.

    Silences are not independent, so one counts at the power that it counts at in the belief.
    """
    k = shipped_knowledge()
    told = 1 - (1 - probability(k, k.findings[sign].noticed_unasked)) ** k.scales.reporting.silence_weight
    joint = {"shows": shows * (1 - told), "does not": 1 - shows}
    return np.asarray(joint["shows"] / sum(joint.values()))


def named(found: Outlook, pair: tuple[int, int]) -> frozenset[int]:
    """The causes of a hypothesis; -1 for nothing wrong."""
    first, second = pair
    return frozenset(int(found.model.network.cause[s]) for s in ((first, second) if second else (first,)))


def test_a_merged_hypothesis_shows_the_mean_of_its_members(look: Looked) -> None:
    found = look.outlook
    share = found.groups.share.astype(float)
    for m in range(len(found.first)):
        mine = look.of == m
        assert found.rows[m] == pytest.approx(share[mine] @ look.rows[mine], abs=1e-5)
        assert share[mine].sum() == pytest.approx(1, abs=1e-5)


def test_a_merged_hypothesis_holds_all_that_name_its_causes_and_no_other(look: Looked) -> None:
    found = look.outlook
    merged = [named(found, pair) for pair in zip(found.first.tolist(), found.second.tolist(), strict=True)]
    assert len(set(merged)) == len(merged)
    assert [merged[m] for m in look.of] == look.causes
    assert len(set(found.members.tolist())) == len(found.members)


def test_the_gain_is_what_outcome_and_cause_tell_of_each_other(look: Looked) -> None:
    found = look.outlook
    weights = found.groups.weights.astype(float)
    for t, gain in enumerate(found.gain.tolist()):
        joint = found.given(t).astype(float) * weights
        apart = np.outer(joint.sum(axis=1), weights)
        seen = joint > 1e-12
        assert gain == pytest.approx((joint[seen] * np.log2(joint[seen] / apart[seen])).sum(), abs=2e-5)


def test_two_faults_of_one_group_are_that_group_once_where_an_answer_decides() -> None:
    """Else a group is more than certain, and every question decides about it."""
    told = {
        "machine": {"use": "outboard", "strokes": 4},
        "findings": [{"finding": sign} for sign in ("runs_while_primer_is_worked", "draws_no_fuel", "idle_rough")],
        "checks": [{"check": "primer_look", "outcome": "bubbles_or_flat"}],
    }
    found = outlook(likeliest(assess(shipped_knowledge(), Case.model_validate(told))))
    assert found is not None
    k, names = found.model.knowledge, found.model.cause_ids
    merged = [named(found, pair) for pair in zip(found.first.tolist(), found.second.tolist(), strict=True)]
    groups = [{k.causes[names[c]].group for c in pair if c >= 0} for pair in merged]
    weights = found.groups.weights.astype(float)
    every = {g for of in groups for g in of}

    def chances(of: np.ndarray) -> dict[str, float]:
        return {g: float(sum(w for w, mine in zip(of, groups, strict=True) if g in mine) / of.sum()) for g in every}

    now = chances(weights)
    first = max(now, key=lambda g: now[g])
    assert now[first] > 0.85
    asked = {"air_since_jetting_asked", "bowl_vents_look", "rest_before_restart_asked", "fuel_flow_at_inlet"}
    for t, (record, _) in enumerate(found.candidates.ids):
        if record not in asked:
            continue
        decided = 0.0
        for row in found.given(t).astype(float):
            then = chances(row * weights)
            sure = then[first] >= 0.85 and then[first] * (1 - now[first]) >= 3 * now[first] * (1 - then[first])
            if sure or max(then, key=lambda g: then[g]) != first:
                decided += float(row @ weights)
        assert found.decides(t, group=True, certain=0.85, apart=3) == pytest.approx(decided, abs=1e-5), record


def test_what_a_rider_would_have_told_is_hardly_expected_when_asked() -> None:
    """Nobody who rides leaves out that it lives on the choke alone; asked step by step, it may."""
    told = {"machine": MACHINE, "findings": [{"finding": "flat_spot", "at": ["half"]}]}
    chances = {}
    for reporting in ("volunteered", "interview"):
        belief = likeliest(assess(shipped_knowledge(), Case.model_validate({**told, "reporting": reporting})))
        found = outlook(belief)
        assert found is not None
        yes = found.groups.weights @ found.rows[:, found.candidates.yes_of("runs_only_on_choke", "overall")]
        chances[reporting] = float(yes)
    assert chances["volunteered"] < 0.7 * chances["interview"]


def test_what_was_repaired_is_taken_out_of_every_hypothesis(k: Knowledge, complete: Knowledge) -> None:
    """Beside the same done one hypothesis at a time; what was repaired whole is cured, and not asked about."""
    told: dict[str, Any] = {"machine": MACHINE, "trials": [{"do": "clean_carburetor", "effect": "better"}]}
    told["findings"] = [{"finding": "bogs", "at": ["half"]}]
    belief = likeliest(assess(complete, Case.model_validate(told)))
    network, weights, done = belief.network, belief.posterior.weights, belief.repaired
    left = np.zeros(network.size)
    for h, (s, t) in enumerate(zip(network.first.tolist(), network.second.tolist(), strict=True)):
        if t == 0:
            left[h] += weights[h] * (1 - done.alone[s])
            continue
        a, b = done.of_two[s], done.of_two[t]
        left[h] += weights[h] * (1 - a) * (1 - b)
        left[t] += weights[h] * a * (1 - b)
        left[s] += weights[h] * (1 - a) * b
    assert not_cured(belief).weights == pytest.approx(left / left.sum(), abs=1e-12)
    of_all = not_cured(belief).by_state(network)
    few = likeliest(assess(k, Case.model_validate(told)))
    assert not_cured(few).by_state(few.network) == pytest.approx(of_all, abs=5e-4)
