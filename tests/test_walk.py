"""The walk: a pure function from a case to the next steps; the case is all the state there is."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag import Case, CaseError, Knowledge, diagnose, load_case
from carbdiag.answers.walk_text import walk_text
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import likeliest
from carbdiag.casework.levels import levels_at
from carbdiag.freed import Waiting, freed_by
from carbdiag.lean_risk import WIDE_OPEN, LeanRisk
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import outlook
from carbdiag.plan import plan
from carbdiag.safety import cause_chances, safety_of
from carbdiag.setting_trials import open_trials, steps_to_try
from carbdiag.terms import Change
from carbdiag.walk_answer import allowed_outcomes, asked_so_far, with_answer
from carbdiag.walk_schema import UNKNOWN, StepAnswer, Walk, WalkRequest, WalkStep
from carbdiag.walking import walk

SLIDE = {"family": "round_slide", "strokes": 2, "cylinders": 1}
START = {
    "bogs at half": {"machine": SLIDE, "findings": [{"finding": "bogs", "at": ["half"]}]},
    "will not start": {
        "machine": {"family": "flat_slide", "strokes": 4, "cylinders": 1},
        "findings": [{"finding": "will_not_start", "at": ["cold_start"]}],
    },
    "rich everywhere": {
        "machine": SLIDE,
        "findings": [
            {"finding": "blubbers", "at": ["full"]},
            {"finding": "black_smoke"},
            {"finding": "plug_black_dry"},
        ],
    },
    "two cylinders": {
        "machine": {"family": "round_slide", "strokes": 4, "cylinders": 2, "carburetors": 2},
        "findings": [{"finding": "one_cylinder_dead", "at": ["idle"]}],
    },
    "machine unknown": {"findings": [{"finding": "surges", "at": ["quarter"]}]},
}


def case(name: str) -> Case:
    return Case.model_validate(START[name])


def reply(step: WalkStep, outcome: str) -> StepAnswer:
    return StepAnswer(
        kind=step.kind, id=step.id, at=step.at, direction=step.direction, steps=step.by_steps, outcome=outcome
    )


def on(k: Knowledge, now: Walk, outcome: str, asks: int = 10) -> Walk:
    """The walk after an answer to its first step, sent as a client would: the case goes out and comes back."""
    sent = WalkRequest.model_validate(
        {
            "case": json.loads(now.case.model_dump_json(by_alias=True)),
            "answer": json.loads(reply(now.steps[0], outcome).model_dump_json()),
            "asks": asks,
        }
    )
    return walk(sent, k)


def identity(step: WalkStep) -> tuple[Any, ...]:
    return step.kind, step.id, step.at, step.direction


def beliefs(k: Knowledge, c: Case) -> dict[str, float]:
    return dict(cause_chances(assess(k, c)))


# ---------------------------------------------------------------------------------------------------------
# Steps


@pytest.mark.parametrize("name", START)
def test_a_step_says_all_that_a_minute_needs(k: Knowledge, name: str) -> None:
    now = walk(WalkRequest(case=case(name)), k)
    assert now.steps
    for step in now.steps:
        assert step.do
        assert step.minutes > 0
        assert step.why
        assert sum(o.probability for o in step.outcomes) == pytest.approx(1.0, abs=0.02)
        assert all(o.means for o in step.outcomes)
        if step.kind in ("repair", "trial"):
            assert step.verify
            assert step.put_back
    Walk.model_validate_json(now.model_dump_json(by_alias=True))
    assert walk_text(now)


@pytest.mark.parametrize("name", [n for n in START if n != "machine unknown"])
def test_what_an_outcome_would_mean_is_what_it_then_means(k: Knowledge, name: str) -> None:
    now = walk(WalkRequest(case=case(name)), k)
    for step in now.steps:
        for outcome in step.outcomes:
            after = beliefs(k, with_answer(k, now.case, reply(step, outcome.outcome)))
            for cause in outcome.causes:
                assert cause.after == pytest.approx(after[cause.id], abs=1e-4)


def test_a_kind_of_machine_that_cannot_have_what_was_done_is_not_offered(k: Knowledge) -> None:
    told = Case.model_validate({
        "machine": {"strokes": 2},
        "findings": [{"finding": "bogs", "at": ["half"]}],
        "checks": [{"check": "bowl_drain_sample", "outcome": "clean"}],
    })  # fmt: skip
    now = walk(WalkRequest(case=told), k)
    assert (now.steps[0].kind, now.steps[0].id) == ("machine", "family")
    offered = {o.outcome for o in now.steps[0].outcomes}
    assert "diaphragm" not in offered  # it has no bowl
    assert "round_slide" in offered
    for family in sorted(offered):
        walk(WalkRequest(case=told, answer=reply(now.steps[0], family)), k)


def test_a_family_by_its_everyday_name_is_walked_as_by_its_id(k: Knowledge) -> None:
    case = "machine: {family: %s, strokes: 4}\nfindings: [{finding: bogs, at: half}]"
    named, by_id = (walk(WalkRequest(case=load_case(case % name)), k) for name in ("cv", "constant_velocity"))
    assert named == by_id
    step = named.steps[0]
    answer = StepAnswer(kind=step.kind, id=step.id, at=step.at, outcome=UNKNOWN)
    assert with_answer(k, load_case(case % "cv"), answer) == with_answer(k, by_id.case, answer)


def test_an_unknown_machine_is_asked_for_first_and_then_no_more(k: Knowledge) -> None:
    now = walk(WalkRequest(case=case("machine unknown")), k)
    assert [s.id for s in now.steps[:2]] == ["strokes", "family"]
    now = on(k, now, "2")
    assert now.case.machine.strokes == 2
    now = on(k, now, UNKNOWN)
    assert "machine" not in {s.kind for s in now.steps}


@pytest.mark.parametrize("kind", ["finding", "check", "question", "context", "repair", "trial"])
def test_dont_know_changes_no_belief_and_is_not_asked_again(k: Knowledge, kind: str) -> None:
    start = case("bogs at half")
    record = {
        "finding": ("surges", "quarter", None),
        "check": ("touch_of_choke", "half", None),
        "question": ("grip_or_revs", None, None),
        "context": ("stood_for_months", None, None),
        "repair": ("clean_main_jet", None, None),
        "trial": ("needle", "half", Change.RICHER),
    }[kind]
    answer = StepAnswer(kind=kind, id=record[0], at=record[1], direction=record[2], outcome=UNKNOWN)  # type: ignore[arg-type]
    new = with_answer(k, start, answer)
    assert beliefs(k, new) == beliefs(k, start)
    proposed = walk(WalkRequest(case=new, steps=5), k).steps
    assert (answer.kind, answer.id) not in {(s.kind, s.id) for s in proposed if s.direction == answer.direction}
    assert asked_so_far(new) == (kind not in ("repair", "trial"))


def test_the_asks_run_out_and_then_only_deeds_are_proposed(k: Knowledge) -> None:
    now = walk(WalkRequest(case=case("bogs at half"), asks=0, steps=5), k)
    assert now.asks_left == 0
    assert {s.kind for s in now.steps} <= {"repair", "trial"}


# ---------------------------------------------------------------------------------------------------------
# Whole walks

OUTCOMES = st.lists(st.integers(0, 6), min_size=70, max_size=70)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(name=st.sampled_from(sorted(START)), chosen=OUTCOMES)
def test_a_walk_ends_and_never_proposes_what_was_done_or_is_held(k: Knowledge, name: str, chosen: list[int]) -> None:
    now = walk(WalkRequest(case=case(name), asks=6, steps=1), k)
    seen: list[tuple[Any, ...]] = []
    for n in chosen:
        if now.advice.kind == "done" or not now.steps:
            break
        step = now.steps[0]
        held = {h.id for h in now.diagnosis.holds}
        if step.kind in ("check", "question"):
            assert held.isdisjoint(k.checks[step.id].held_back_while)
        if step.kind == "repair":
            assert all(step.id not in k.holds[h].actions for h in held)
        if step.kind == "trial":
            limits = {limit for h in held for limit in k.holds[h].trials}
            assert "all" not in limits
            assert not (step.direction is Change.LEANER and "leaner" in limits)
            steps = likeliest(assess(k, now.case)).model.tables.steps[step.id]
            reaches = any(steps.get(p, 0.0) >= 1.0 for p in WIDE_OPEN)
            assert not (step.direction is Change.LEANER and reaches and "leaner_wide" in limits)
        else:
            assert identity(step) not in seen
        seen.append(identity(step))
        outcomes = [o.outcome for o in step.outcomes] + [UNKNOWN]
        now = on(k, now, outcomes[n % len(outcomes)], asks=6)
    else:
        pytest.fail(f"no end after {len(seen)} steps: {seen}")


def test_a_cure_ends_the_walk(k: Knowledge) -> None:
    fixed = StepAnswer(kind="repair", id="clean_main_jet", outcome="cured")
    now = walk(WalkRequest(case=case("bogs at half"), answer=fixed), k)
    assert now.advice.kind == "done"
    assert now.steps == ()


def test_a_worn_engine_goes_to_a_workshop(k: Knowledge) -> None:
    told = load_case(
        "machine: {family: round_slide, strokes: 2, cylinders: 1}\ncontexts: [high_mileage, gradual_onset]\n"
        "findings: [{finding: hard_to_start, at: cold_start}, {finding: turns_over_too_easily}]\n"
        "checks: [{check: compression_gauge, outcome: low}, {check: leak_down, outcome: crankcase_side}]\n"
    )
    advice = walk(WalkRequest(case=told, asks=0), k).advice
    assert advice.kind == "workshop"
    assert advice.cause == "rings_or_bore_worn"


def test_signs_that_nothing_explains_end_with_the_facts_that_would_help(k: Knowledge) -> None:
    signs = ("intake_hiss", "runs_on_after_switch_off", "fuel_smell", "hard_to_push", "streak_at_head_joint")
    told = load_case(
        "machine: {family: round_slide, strokes: 4, cylinders: 1}\nreporting: interview\nfindings:\n"
        + "".join(f"- {{finding: {sign}}}\n" for sign in signs)
    )
    d = diagnose(told, k)
    advice = walk(WalkRequest(case=told, asks=0), k).advice
    assert d.unexplained.flag
    assert advice.kind == "unexplained"
    assert len(advice.facts) == 3


# ---------------------------------------------------------------------------------------------------------
# Trials of a setting


@pytest.mark.parametrize("name", START)
def test_leaner_is_never_proposed_where_lean_is_possible(k: Knowledge, name: str) -> None:
    a = assess(k, case(name))
    safety = safety_of(a)
    limit = k.scales.decision.lean_is_possible
    for _, way, place in open_trials(a, likeliest(a), safety):
        if way is Change.LEANER:
            assert safety.lean[place] <= limit


def test_when_unsure_the_first_trial_goes_rich(k: Knowledge) -> None:
    a = assess(k, case("bogs at half"))
    ways = {way for _, way, _ in open_trials(a, likeliest(a), safety_of(a))}
    assert ways == {Change.RICHER}


def test_a_setting_is_tried_further_only_while_it_helps(k: Knowledge) -> None:
    def ways(effects: list[str]) -> set[Change]:
        trials = [{"change": "needle", "direction": "richer", "at": "half", "effect": e} for e in effects]
        a = assess(k, Case.model_validate({**START["bogs at half"], "trials": trials}))
        return {way for circuit, way, _ in open_trials(a, likeliest(a), safety_of(a)) if circuit == "needle"}

    assert ways(["better"]) == {Change.RICHER}
    assert ways(["no_change"]) == set()
    assert Change.RICHER not in ways(["worse"])
    assert ways(["better", "better", "better"]) == set()
    assert ways(["better", "overshot"]) == set()


@pytest.mark.parametrize(
    ("told", "then"),
    [
        # put back after it went too far: the same way by half; kept: half of it back
        ([("richer", 3, "overshot", True)], ("richer", 1)),
        ([("richer", 3, "overshot", False)], None),  # leaner, where lean is possible
        ([("leaner", 2, "overshot", False)], ("richer", 1)),
        ([("richer", 1, "overshot", True)], None),  # there is no half of a step
        # worse without ever having been better: the other way, once
        ([("leaner", 1, "no_change", True), ("leaner", 2, "worse", True)], ("richer", None)),
        ([("richer", 1, "better", False), ("richer", 1, "worse", True)], None),
        ([("leaner", 1, "worse", True), ("richer", 1, "worse", True)], None),
    ],
)
def test_what_went_too_far_is_followed_by_half_of_it(
    k: Knowledge, told: list[tuple[str, int, str, bool]], then: tuple[str, int | None] | None
) -> None:
    trials = [
        {"change": "needle", "direction": way, "steps": n, "at": "half", "effect": effect, "put_back": back}
        for way, n, effect, back in told
    ]
    a = assess(k, Case.model_validate({**START["bogs at half"], "trials": trials}))
    trials_open = open_trials(a, likeliest(a), safety_of(a))
    found = [(way.value, place) for circuit, way, place in trials_open if circuit == "needle"]
    assert [way for way, _ in found] == ([then[0]] if then else [])
    for way, place in found:
        steps = steps_to_try(a, likeliest(a), "needle", Change(way), place)
        assert then is not None
        assert then[1] in (None, steps)


RICH_AT_FULL = {
    "machine": {"family": "round_slide", "strokes": 4, "cylinders": 1},
    "readings": [
        {"at": "three_quarter", "lambda": 0.75, "protocol": "steady_load"},
        {"at": "full", "lambda": 0.7, "protocol": "steady_load"},
    ],
}
SMOKES = {"findings": [{"finding": f, "at": ["full"]} for f in ("blubbers", "black_smoke")]}


@pytest.mark.parametrize(("tried", "then"), [([], 1), ([1], 2), ([1, 2], None)])
def test_a_leaner_step_too_small_to_feel_is_followed_by_one_further(
    k: Knowledge, tried: list[int], then: int | None
) -> None:
    """A size of main jet is hardly felt: after "no change" the next trial goes one size further, until it is felt."""
    unfelt = {"change": "main_jet", "direction": "leaner", "at": "full", "effect": "no_change", "put_back": True}
    a = assess(k, Case.model_validate({**RICH_AT_FULL, **SMOKES, "trials": [{**unfelt, "steps": n} for n in tried]}))
    belief, way = likeliest(a), Change.LEANER
    is_open = ("main_jet", way, "full") in list(open_trials(a, belief, safety_of(a)))
    assert (steps_to_try(a, belief, "main_jet", way, "full") if is_open else None) == then


def test_no_leaner_trial_goes_further_where_it_could_end_lean(k: Knowledge) -> None:
    """Little rich wide open: one size leaner is safe there; two, after one that was not felt, might not be."""
    little = [{"at": p, "lambda": v, "protocol": "steady_load"} for p, v in (("three_quarter", 0.87), ("full", 0.84))]
    unfelt = {"change": "main_jet", "direction": "leaner", "at": "full", "effect": "no_change", "put_back": True}
    for tried, is_open in (([], True), ([{**unfelt, "steps": 1}], False)):
        a = assess(k, Case.model_validate({**RICH_AT_FULL, "readings": little * 2, "trials": tried}))
        assert safety_of(a).lean["three_quarter"] <= k.scales.decision.lean_is_possible
        assert (("main_jet", Change.LEANER, "full") in open_trials(a, likeliest(a), safety_of(a))) == is_open


def test_what_is_set_to_a_figure_is_a_repair_and_no_trial(k: Knowledge) -> None:
    """A float goes to the height in the book, whichever way it was off; nobody tries it a millimeter either way."""
    overfull = {
        "machine": {"family": "round_slide", "strokes": 4, "cylinders": 1},
        "checks": [{"check": "fuel_level_tube", "outcome": "high"}],
    }
    a = assess(k, Case.model_validate(overfull))
    moves = plan(a, outlook(likeliest(a)), safety_of(a), 60, 0).moves
    assert ("repair", "set_float_level") in [(m.kind, m.id) for m in moves]
    assert "float_level" not in [circuit for circuit, *_ in open_trials(a, likeliest(a), safety_of(a))]


def leaner(k: Knowledge, told: dict[str, Any]) -> set[str]:
    """The settings that may go a step leaner."""
    a = assess(k, Case.model_validate({"machine": {**SLIDE, "strokes": 4}, **told}))
    return {circuit for circuit, way, _ in open_trials(a, likeliest(a), safety_of(a)) if way is Change.LEANER}


REACH_WIDE_OPEN = {"main_jet", "needle", "cutaway"}
def measured(**at: float) -> list[dict[str, Any]]:
    return [{"at": place, "lambda": value, "protocol": "steady_load"} for place, value in at.items()]


RICH_IDLE = measured(idle=0.7, eighth=0.75)


def signs(*told: tuple[str, str]) -> list[dict[str, Any]]:
    return [{"finding": finding, "at": [at]} for finding, at in told]


@pytest.mark.parametrize(
    "told",
    [
        {"readings": RICH_IDLE},
        {"findings": signs(("blubbers", "half"), ("black_smoke", "half"), ("judged_rich", "half"))},
        {"findings": signs(("black_smoke", "overall")), "contexts": [{"context": "main_made_larger"}]},
        {"trials": [{"change": "needle", "direction": "richer", "at": "half", "effect": "worse", "put_back": True}]},
    ],
)
def test_nothing_told_of_wide_openings_bars_every_leaner_step_that_reaches_them(
    k: Knowledge, told: dict[str, Any]
) -> None:
    """However rich it is elsewhere, and however unlikely lean is there."""
    assert not leaner(k, told) & REACH_WIDE_OPEN


def test_a_screw_that_does_not_reach_wide_openings_waits_for_nothing_there(k: Knowledge) -> None:
    assert "mixture_screw" in leaner(k, {"readings": RICH_IDLE})


@pytest.mark.parametrize(
    ("told", "free"),
    [
        ([("blubbers", "full"), ("black_smoke", "full")], REACH_WIDE_OPEN),
        ([("blubbers", "half"), ("black_smoke", "half"), ("blubbers", "three_quarter")], REACH_WIDE_OPEN),
        ([("blubbers", "full")], REACH_WIDE_OPEN),
        # what may come of lean too, or of no mixture at all, is no reason
        ([("good_low_flat_on_top", "full")], set()),
        ([("misfires", "full")], set()),
        ([("blubbers", "full"), ("surges", "three_quarter")], set()),
        ([("blubbers", "full"), ("knocks", "full")], set()),
    ],
)
def test_a_leaner_step_wide_open_needs_rich_seen_there(
    k: Knowledge, told: list[tuple[str, str]], free: set[str]
) -> None:
    assert leaner(k, {"findings": signs(*told)}) & REACH_WIDE_OPEN == free


def test_lean_must_be_unlikely_wide_open_after_the_step_and_not_only_before_it(k: Knowledge) -> None:
    """Measured right at both wide openings: hardly lean now, and leaner than a sound engine may be after a step."""
    right = measured(three_quarter=0.9, full=0.87)
    a = assess(k, Case.model_validate({**RICH_AT_FULL, "readings": right}))
    safety, limit = safety_of(a), k.scales.decision.lean_is_possible
    assert max(safety.lean[p] for p in WIDE_OPEN) < limit
    for circuit in ("needle", "main_jet"):
        after = LeanRisk(safety.lean, a.beliefs).bars(circuit, 1.0, WIDE_OPEN, limit)
        assert after is not None
        assert after > limit
    assert not leaner(k, {"readings": right}) & REACH_WIDE_OPEN


def test_what_is_right_wide_open_however_surely_is_not_made_leaner(k: Knowledge) -> None:
    """So sure that it would hardly be lean after a size of main jet: there is no reason to."""
    right = measured(three_quarter=0.9, full=0.87) * 6
    a = assess(k, Case.model_validate({**RICH_AT_FULL, "readings": right}))
    risk = LeanRisk(safety_of(a).lean, a.beliefs)
    assert risk.bars("main_jet", 1.0, WIDE_OPEN, k.scales.decision.lean_is_possible) is None
    assert not leaner(k, {"readings": right}) & REACH_WIDE_OPEN


def test_what_is_surely_set_too_rich_may_be_put_right(k: Knowledge) -> None:
    """A sound engine is lean at three-quarter in one case of ten: the bar must not ask for less than that."""
    found = LeanRisk({}, assess(k, Case.model_validate({"machine": SLIDE})).beliefs)
    assert found.sound("three_quarter") > k.scales.decision.lean_is_possible
    by_a_step = measured(half=0.89, three_quarter=0.875, full=0.85) * 8
    assert {"needle", "main_jet"} <= leaner(k, {"readings": by_a_step})


RICH_AT_HALF = {"findings": signs(("blubbers", "half"), ("black_smoke", "half"))}


def test_how_it_pulls_wide_open_is_asked_where_that_would_free_a_leaner_step(k: Knowledge) -> None:
    told = Case.model_validate({"machine": {**SLIDE, "strokes": 4}, **RICH_AT_HALF})
    a = assess(k, told)
    first = plan(a, outlook(likeliest(a)), safety_of(a), 1).moves[0]
    assert (first.kind, first.at in WIDE_OPEN) == ("finding", True)


def test_the_answers_that_are_foretold_to_free_a_leaner_step_do(k: Knowledge) -> None:
    """Foretold from the leading hypotheses alone; found out by answering."""
    told = Case.model_validate({"machine": {**SLIDE, "strokes": 4}, **RICH_AT_HALF})
    a = assess(k, told)
    belief, safety = likeliest(a), safety_of(a)
    look = outlook(belief)
    assert look is not None
    c = look.candidates
    is_open = open_candidates(belief, told, safety.on)
    here = (*WIDE_OPEN, "half")
    asks = [t for t, (_, at) in enumerate(c.ids) if c.kind[t] == "finding" and at in here and is_open(t)]
    waiting = [Waiting(circuit, "half", 1.0) for circuit in ("needle", "main_jet")]
    joint = np.concatenate([look.given(t) for t in asks]) * look.groups.weights
    foretold = freed_by(belief, look, safety.risk, waiting, k.scales.decision.lean_is_possible, asks, joint)
    found = []
    for t in asks:
        for outcome in ("yes", "no"):
            finding, at = c.ids[t]
            after = with_answer(k, told, StepAnswer(kind="finding", id=finding, at=at, outcome=outcome))
            b = assess(k, after)
            free = {n for n, way, _ in open_trials(b, likeliest(b), safety_of(b)) if way is Change.LEANER}
            found.append([w.circuit in free for w in waiting])
    assert np.mean(foretold == np.array(found)) > 0.9
    assert 0.2 < np.mean(found) < 0.8


@pytest.mark.parametrize(("steps", "further"), [([1, 1, 1], True), ([3, 3, 2], True), ([3, 3, 3], False)])
def test_leaner_goes_as_far_as_richer_in_more_steps(k: Knowledge, steps: list[int], further: bool) -> None:
    """Richer moves as many steps at once as are felt, leaner one: a main jet six sizes too large needs five of them."""
    leaner_jet = {"change": "main_jet", "direction": "leaner", "at": "full", "effect": "better"}
    better = [{**leaner_jet, "steps": n} for n in steps]
    very_rich = measured(three_quarter=0.55, full=0.55) * 3
    assert ("main_jet" in leaner(k, {"readings": very_rich, "trials": better})) == further


@pytest.mark.parametrize(
    ("circuit", "at", "told", "then"),
    [
        ("mixture_screw", "idle", [], {Change.RICHER}),
        ("mixture_screw", "idle", [("richer", "worse")], {Change.LEANER}),
        ("mixture_screw", "idle", [("leaner", "better")], {Change.LEANER}),
        ("mixture_screw", "idle", [("leaner", "worse")], {Change.RICHER}),
        ("needle", "half", [("richer", "worse")], set()),  # it reaches three quarters, where lean breaks an engine
    ],
)
def test_only_what_does_not_reach_wide_openings_is_turned_both_ways_while_lean_is_possible(
    k: Knowledge, circuit: str, at: str, told: list[tuple[str, str]], then: set[Change]
) -> None:
    trials = [{"change": circuit, "direction": way, "at": at, "effect": effect, "put_back": effect == "worse"}
              for way, effect in told]  # fmt: skip
    signs = [{"finding": "runs_only_on_choke", "at": ["idle", "half"]}, {"finding": "revs_hang", "at": ["overrun"]}]
    a = assess(k, Case.model_validate({"machine": SLIDE, "findings": signs, "trials": trials}))
    safety = safety_of(a)
    assert max(safety.lean[p] for p in (at, *WIDE_OPEN)) > k.scales.decision.lean_is_possible
    assert {way for c, way, _ in open_trials(a, likeliest(a), safety) if c == circuit} == then


def test_fuel_in_the_oil_holds_every_trial_and_every_running_check(k: Knowledge) -> None:
    told = load_case(
        "machine: {family: round_slide, strokes: 4, cylinders: 1}\n"
        "findings: [{finding: fuel_in_oil}, {finding: bogs, at: half}]\n"
    )
    now = walk(WalkRequest(case=told, steps=5), k)
    assert "fuel_in_oil" in {h.id for h in now.diagnosis.holds}
    for step in now.steps:
        assert step.kind != "trial"
        assert step.id not in ("turn_screw", "balance_carbs", "set_timing")


@pytest.mark.parametrize(
    ("check", "outcome", "hold", "better"),
    [
        ("piston_through_port", "scored", "may_be_damaged", "smooth"),
        ("piston_crown_look", "holed_or_melted", "may_be_damaged", "normal"),
        ("oil_ratio_asked", "less_oil", "oil_missing", "as_book"),
    ],
)
def test_what_a_check_found_holds_the_engine_until_it_is_found_sound(
    k: Knowledge, check: str, outcome: str, hold: str, better: str
) -> None:
    assert better in k.checks[check].outcomes
    signs = [{"finding": "low_power", "at": ["full"]}]
    found = {"machine": SLIDE, "findings": signs, "checks": [{"check": check, "outcome": outcome}]}
    now = walk(WalkRequest(case=Case.model_validate(found), steps=5), k)
    assert {h.id: h.chance for h in now.diagnosis.holds}[hold] == 1
    assert not [s for s in now.steps if s.kind == "trial" and s.direction is Change.LEANER]
    # a later look at another piston: the last one counts
    rebuilt = {"do": "rebuild_top_end", "effect": "no_change"}
    before = {"findings": signs, "checks": found["checks"], "trials": [rebuilt]}
    later = {"machine": SLIDE, "epochs": [before, {"checks": [{"check": check, "outcome": better}]}]}
    sound = walk(WalkRequest(case=Case.model_validate(later), steps=5), k)
    assert {h.id: h.chance for h in sound.diagnosis.holds}.get(hold, 0) < 1


SMOKES_AT_FULL = (
    "machine: {family: round_slide, strokes: 2, cylinders: 1}\n"
    "findings: [{finding: black_smoke, at: full}, {finding: blubbers, at: full}]\n"
)


def lean_by_belief(k: Knowledge, text: str) -> tuple[dict[str, float], dict[str, float]]:
    """P(lean) by band as the holds go by it, and as if nothing had been repaired."""
    a = assess(k, load_case(text))
    belief = likeliest(a)
    levels = levels_at(belief, *belief.model.residuals)
    bands = (p.id for p in k.places.values() if p.kind == "band")
    of = (levels[:, 3:].sum(axis=1) / levels.sum(axis=1)).tolist()
    return safety_of(a).lean, dict(zip(bands, of, strict=True))


def test_a_repair_that_took_richness_away_may_have_laid_bare_what_it_hid(k: Knowledge) -> None:
    now, as_it_was = lean_by_belief(k, SMOKES_AT_FULL + "trials: [{do: clean_air_filter, effect: better}]\n")
    assert now["full"] > 1.5 * as_it_was["full"]
    assert now["three_quarter"] > 1.5 * as_it_was["three_quarter"]


@pytest.mark.parametrize("effect", ["better", "no_change", "worse", "came_back"])
@pytest.mark.parametrize("repair", ["clean_air_filter", "seal_intake", "clean_main_jet", "seat_carburetor"])
def test_a_repair_never_makes_leaning_look_safer_than_if_it_had_not_worked(
    k: Knowledge, repair: str, effect: str
) -> None:
    now, as_it_was = lean_by_belief(k, SMOKES_AT_FULL + f"trials: [{{do: {repair}, effect: {effect}}}]\n")
    assert all(now[band] >= as_it_was[band] - 1e-12 for band in as_it_was)


def test_a_hold_from_a_sign_lasts_until_the_sign_is_told_to_be_gone(k: Knowledge) -> None:
    machine = "machine: {family: round_slide, strokes: 4, cylinders: 1}\n"
    repaired = (
        "epochs:\n- {findings: [{finding: fuel_in_oil}, {finding: bogs, at: half}], "
        "trials: [{do: replace_float_valve, effect: better}]}\n"
    )
    gone = "- {findings: [{finding: fuel_in_oil, status: denied}, {finding: bogs, at: half}]}\n"

    def on(text: str) -> bool:
        return "fuel_in_oil" in {h.id for h in diagnose(load_case(text), k).holds if h.chance == 1.0}

    assert on(machine + repaired)
    assert not on(machine + repaired + gone)


# ---------------------------------------------------------------------------------------------------------
# Answers, asked for or not


def test_a_check_that_was_never_proposed_is_taken(k: Knowledge) -> None:
    answer = StepAnswer(kind="check", id="compression_gauge", outcome="low")
    new = with_answer(k, case("bogs at half"), answer)
    assert beliefs(k, new)["rings_or_bore_worn"] > 3 * beliefs(k, case("bogs at half"))["rings_or_bore_worn"]


def test_what_is_seen_after_a_repair_begins_a_new_epoch(k: Knowledge) -> None:
    new = with_answer(k, case("bogs at half"), StepAnswer(kind="repair", id="clean_main_jet", outcome="no_change"))
    new = with_answer(k, new, StepAnswer(kind="finding", id="surges", at="half", outcome="no"))
    assert len(new.epochs) == 2
    assert new.epochs[0].trials
    assert new.epochs[1].findings[0].asked


def test_an_answer_to_a_question_makes_no_silence_of_the_rest(k: Knowledge) -> None:
    """Saying yes to one sign at idle does not say that every other sign at idle was looked for."""
    start = case("bogs at half")
    asked = with_answer(k, start, StepAnswer(kind="finding", id="idle_rough", at="idle", outcome="yes"))
    told = start.model_copy(
        update={"findings": (*start.findings, asked.findings[-1].model_copy(update={"asked": False}))}
    )
    assert beliefs(k, asked) != beliefs(k, told)


@pytest.mark.parametrize(
    ("answer", "field", "says"),
    [
        ({"kind": "check", "id": "touch_of_chok", "outcome": "better"}, "answer.id", "unknown check"),
        ({"kind": "check", "id": "touch_of_choke", "outcome": "bettr"}, "answer.outcome", "cannot give"),
        ({"kind": "finding", "id": "surges", "outcome": "present"}, "answer.outcome", "cannot give"),
        ({"kind": "trial", "id": "main_jet", "outcome": "better"}, "answer.direction", "needs its direction"),
        ({"kind": "repair", "id": "replace_plug", "outcome": "overshot"}, "answer.outcome", "cannot give"),
        ({"kind": "repair", "id": "replace_plug", "at": "half", "outcome": "cured"}, "answer.at", "not tied"),
        ({"kind": "check", "id": "swap_plugs", "outcome": "fault_moves"}, "answer", "not possible"),
        ({"kind": "finding", "id": "surges", "at": "parked", "outcome": "yes"}, "answer", "place of surges"),
        ({"kind": "machine", "id": "strokes", "outcome": "3"}, "answer.outcome", "cannot give"),
        ({"kind": "context", "id": "rejetted", "direction": "richer", "outcome": "yes"}, "answer.direction", "trial"),
    ],
)
def test_an_answer_that_does_not_fit_says_why(k: Knowledge, answer: dict[str, Any], field: str, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        with_answer(k, case("bogs at half"), StepAnswer.model_validate(answer))
    assert [p.field for p in caught.value.problems] == [field]
    assert says in caught.value.problems[0].message


def test_sizes_that_do_not_follow_each_other_are_an_impossible_sequence(k: Knowledge) -> None:
    start = case("bogs at half")
    first = StepAnswer(kind="trial", id="main_jet", from_size=125, to_size=130, outcome="better")
    then = StepAnswer(kind="trial", id="main_jet", from_size=125, to_size=135, outcome="worse")
    with pytest.raises(CaseError, match="left the main jet at 130"):
        with_answer(k, with_answer(k, start, first), then)


def test_answers_that_contradict_each_other_are_both_kept_and_told(k: Knowledge) -> None:
    new = case("bogs at half")
    for outcome in ("better", "worse"):
        new = with_answer(k, new, StepAnswer(kind="check", id="touch_of_choke", at="half", outcome=outcome))
    assert [c.outcome for c in new.checks] == ["better", "worse"]
    assert "touch of choke" in walk_text(walk(WalkRequest(case=new), k)).lower()
    assert any("contradict" in n for n in walk(WalkRequest(case=new), k).diagnosis.notes)


def test_every_kind_of_step_has_outcomes_that_may_be_answered(k: Knowledge) -> None:
    assert allowed_outcomes(k, "machine", "family") == tuple(k.families)
    assert "overshot" in allowed_outcomes(k, "trial", "needle")
    assert "overshot" not in allowed_outcomes(k, "repair", "replace_plug")


# ---------------------------------------------------------------------------------------------------------
# Reasons


def test_each_leading_cause_says_what_would_lower_it_most(k: Knowledge) -> None:
    d = diagnose(case("bogs at half"), k)
    for cause in d.causes:
        assert len(cause.would_change) == 3
        left = [w.probability for w in cause.would_change]
        assert left == sorted(left)
        assert left[-1] < cause.probability
        assert len({w.id for w in cause.would_change}) == 3


def test_what_would_change_ones_mind_does(k: Knowledge) -> None:
    """Close to what the answer then makes of it: the look ahead leaves out what signs at one place share."""
    start = case("bogs at half")
    now = beliefs(k, start)
    for cause in diagnose(start, k).causes[:3]:
        for w in cause.would_change:
            answer = StepAnswer(kind=w.kind, id=w.id, at=w.at, outcome=w.outcome)
            after = beliefs(k, with_answer(k, start, answer))[cause.id]
            assert after < now[cause.id]
            assert after == pytest.approx(w.probability, abs=0.35 * now[cause.id])


def test_an_outlook_is_shared_by_question_and_answer(k: Knowledge) -> None:
    look = outlook(likeliest(assess(k, case("bogs at half"))))
    assert look is not None
    assert float(look.groups.weights.sum()) == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize("name", START)
def test_an_outlook_leaves_no_listed_cause_out(k: Knowledge, name: str) -> None:
    """Beyond the leading hypotheses each cause still stands with its share: a pair counts as half of each."""
    belief = likeliest(assess(k, case(name)))
    look = outlook(belief)
    assert look is not None
    network, weights = belief.network, belief.posterior.weights
    alone = network.blocks(weights)[0]
    believed = np.bincount(network.cause + 1, (network.by_state(weights) + alone) / 2)[1:]
    seen = np.zeros(network.causes)
    for first, second, weight in zip(look.first, look.second, look.groups.weights, strict=True):
        for state in (first, second) if second else (first,):
            if network.cause[state] >= 0:
                seen[network.cause[state]] += weight / (2 if second else 1)
    assert seen == pytest.approx(believed / (believed.sum() + alone[0]), abs=1e-4)


# ---------------------------------------------------------------------------------------------------------
# What the plan may do


def deeds(k: Knowledge, machine: dict[str, Any], told: dict[str, Any]) -> list[tuple[str, str, Change | None]]:
    """What could cure, likeliest first, where nothing may be asked any more."""
    a = assess(k, Case.model_validate({"machine": machine, **told}))
    moves = plan(a, outlook(likeliest(a)), safety_of(a), 20, 0).moves
    return [(m.kind, m.id, m.direction) for m in sorted(moves, key=lambda m: -m.success)]


HELPED = {
    "machine": {**SLIDE, "strokes": 4},
    "epochs": [
        {
            "findings": [
                {"finding": "fades_like_out_of_fuel", "at": ["sustained_full"]},
                {"finding": "will_not_idle", "at": ["idle"]},
                {"finding": "high_fuel_use"},
            ],
            "checks": [
                {"check": "grip_or_revs", "outcome": "follows_load_or_time"},
                {"check": "time_to_fail", "outcome": "sooner_at_full_throttle"},
                {"check": "fuel_flow_at_inlet", "outcome": "weak_or_fades"},
            ],
            "trials": [{"do": "replace_fuel_filter", "effect": "better"}],
        }
    ],
}


def told_again(k: Knowledge, told: Any) -> set[tuple[str, str | None]]:
    """Which of the signs told may be asked about once more."""
    a = assess(k, Case.model_validate(told))
    signs = {f.finding for e in a.case.history() for f in e.findings}
    moves = plan(a, outlook(likeliest(a)), safety_of(a), 200).moves
    return {(m.id, m.at) for m in moves if m.kind == "finding" and m.id in signs}


def test_after_a_repair_that_helped_the_signs_told_are_looked_at_again(k: Knowledge) -> None:
    """Those told of one place: of "uses much fuel" nobody can tell a minute after a repair."""
    assert told_again(k, HELPED) == {("fades_like_out_of_fuel", "sustained_full"), ("will_not_idle", "idle")}


@pytest.mark.parametrize("effect", ["no_change", "worse", "came_back"])
def test_after_a_repair_in_vain_nothing_is_asked_again(k: Knowledge, effect: str) -> None:
    assert not told_again(k, json.loads(json.dumps(HELPED).replace("better", effect)))


def test_nobody_is_sent_to_see_on_an_engine_that_must_not_run(k: Knowledge) -> None:
    assert not told_again(k, json.loads(json.dumps(HELPED).replace("high_fuel_use", "tightened_then_freed")))


def test_a_sign_is_asked_again_in_words_that_say_so_and_once(k: Knowledge) -> None:
    now = walk(WalkRequest(case=Case.model_validate(HELPED), asks=40), k)
    for _ in range(12):
        if now.steps[0].name.startswith("Still so?"):
            break
        now = on(k, now, UNKNOWN, 40)
    step = now.steps[0]
    assert "before the repair" in step.do[0]
    assert "Do not ride it hard" in step.do[0]
    assert {o.outcome: "went with the repair" in o.means for o in step.outcomes} == {"yes": False, "no": True}
    after = on(k, now, "no", 40)
    assert (step.id, step.at) not in told_again(k, json.loads(after.case.model_dump_json(by_alias=True)))


def test_a_step_that_was_repaired_no_longer_leads_what_is_left(k: Knowledge) -> None:
    now = walk(WalkRequest(case=Case.model_validate(HELPED)), k)
    assert now.diagnosis.causes[0].id == "fuel_filter_blocked"
    assert now.left
    assert now.left[0].id != "fuel_filter_blocked"
    assert "Likeliest of what is left" in walk_text(now)
    assert not walk(WalkRequest(case=case("bogs at half")), k).left


@pytest.mark.parametrize("asks", [0, 10])
@pytest.mark.parametrize("name", START)
def test_a_question_that_saves_less_than_it_takes_waits_for_the_deeds(k: Knowledge, name: str, asks: int) -> None:
    a = assess(k, case(name))
    found = plan(a, outlook(likeliest(a)), safety_of(a), 60, asks, "cost")
    # a trial that will hardly cure waits with them
    least = k.scales.decision.hopeful_trial * max(m.success / m.minutes for m in found.moves)
    moves = [m for m in found.moves if m.kind != "trial" or m.success / m.minutes >= least]
    pays = [m.kind in ("repair", "trial") or m.expected_minutes < found.by_repairs for m in moves]
    assert pays == sorted(pays, reverse=True)


@pytest.mark.parametrize("name", START)
def test_what_a_workshop_would_be_cheaper_than_is_done_in_the_order_of_success_per_minute(
    k: Knowledge, name: str
) -> None:
    a = assess(k, case(name))
    found = plan(a, outlook(likeliest(a)), safety_of(a), 60, 0, "cost").moves
    # a trial that will hardly cure waits for all of them
    least = k.scales.decision.hopeful_trial * max(m.success / m.minutes for m in found)
    moves = [m for m in found if m.kind != "trial" or m.success / m.minutes >= least]
    assert list(found[: len(moves)]) == moves
    workshop = k.scales.decision.workshop_minutes
    worth = [m.expected_minutes for m in moves if m.expected_minutes <= workshop]
    beyond = [m.success / m.minutes for m in moves if m.expected_minutes > workshop]
    assert worth == sorted(worth)
    assert beyond == sorted(beyond, reverse=True)
    assert [m.expected_minutes > workshop for m in moves] == [False] * len(worth) + [True] * len(beyond)


def test_a_blocked_pilot_is_cleaned(k: Knowledge) -> None:
    blocked = {
        "contexts": ["stood_for_months"],
        "findings": [{"finding": "runs_only_on_choke", "at": "idle"}, {"finding": "will_not_idle", "at": "idle"}],
    }
    assert ("repair", "clean_pilot_passages", None) in deeds(k, {**SLIDE, "strokes": 4}, blocked)[:2]


@pytest.mark.parametrize("name", START)
def test_a_setting_is_never_moved_without_saying_which_way(k: Knowledge, name: str) -> None:
    """A jet changed "as a repair" would pass the holds on leaner settings."""
    a = assess(k, case(name))
    model = likeliest(a).model
    moved = [k.circuits[c] for c in model.step_x]
    either_way = {c.richer.action for c in moved if c.richer.action == c.leaner.action and not c.to_figure}
    for move in plan(a, outlook(likeliest(a)), safety_of(a), 60, 0).moves:
        if move.kind == "repair" and move.id in either_way:
            cures = [c for c in model.cause_ids if any(f.do == move.id for f in k.causes[c].fixed_by)]
            assert any(model.directions[c] is None for c in cures), move.id


@pytest.mark.parametrize("machine", ["round_slide 4", "flat_slide 2", "butterfly 4", "diaphragm 2"])
def test_no_move_needs_a_part_the_machine_has_not(k: Knowledge, machine: str) -> None:
    family, strokes = machine.split()
    lean = {"machine": {"family": family, "strokes": int(strokes)}, "findings": [{"finding": "bogs", "at": "full"}]}
    a = assess(k, Case.model_validate(lean))
    circuits = k.families[family].circuits
    of_others = {c.richer.action for c in k.circuits.values() if c.richer.action == c.leaner.action} - {
        k.circuits[c].richer.action for c in circuits
    }
    assert not of_others & {m.id for m in plan(a, outlook(likeliest(a)), safety_of(a), 60, 0).moves}


@pytest.mark.parametrize("finding", ["bogs", "will_not_start", "fuel_overflow", "surges"])
def test_a_question_is_announced_without_a_stop_behind_it(k: Knowledge, finding: str) -> None:
    case = load_case(f"{{machine: {{family: round_slide, strokes: 2}}, findings: [{{finding: {finding}}}]}}")
    assert "?." not in walk(WalkRequest(case=case), k).advice.text
