"""What must not run is not run: a walk looks inside first, goes on when that is sound, and sends off who cannot."""

from __future__ import annotations

from typing import Any

import pytest

from carbdiag import Knowledge, diagnose
from carbdiag.case_schema import Case
from carbdiag.walk_schema import UNKNOWN, StepAnswer, Walk, WalkRequest
from carbdiag.walking import walk

TWO = {"family": "flat_slide", "strokes": 2, "cylinders": 1, "use": "motocross"}
FOUR = {"family": "round_slide", "strokes": 4, "cylinders": 1}
NIPPED_UP = [{"finding": "tightened_then_freed"}, {"finding": "bogs", "at": ["full"]}]
LOOKS = ("piston_through_port", "piston_crown_look", "compression_gauge")
SOUND = {"piston_through_port": "smooth", "piston_crown_look": "normal", "compression_gauge": "normal"}


def told(machine: dict[str, Any], findings: list[dict[str, Any]], **more: Any) -> Case:
    return Case.model_validate({"machine": machine, "findings": findings, **more})


def looked(k: Knowledge, case: Case, outcomes: dict[str, str]) -> tuple[list[str], Walk]:
    """The first steps, answered so, as long as they are among these; and the walk after them."""
    steps, now = [], walk(WalkRequest(case=case, steps=5), k)
    while now.steps[0].id in outcomes:
        step = now.steps[0]
        steps.append(step.id)
        answer = StepAnswer(kind=step.kind, id=step.id, outcome=outcomes[step.id])
        now = walk(WalkRequest(case=now.case, answer=answer, steps=5), k)
    return steps, now


def held(now: Walk) -> set[str]:
    return {h.id for h in now.diagnosis.holds}


@pytest.mark.parametrize(("machine", "looks"), [(TWO, LOOKS), (FOUR, LOOKS[1:])])
def test_after_a_piston_that_stuck_one_looks_inside_before_all_else(
    k: Knowledge, machine: dict[str, Any], looks: tuple[str, ...]
) -> None:
    first = walk(WalkRequest(case=told(machine, NIPPED_UP)), k)
    assert first.steps[0].why == "This comes before all else: it tells whether the engine may run."
    steps, now = looked(k, told(machine, NIPPED_UP), SOUND)
    assert tuple(steps) == looks
    assert "may_be_damaged" not in held(now)


def test_the_looks_come_when_nothing_more_may_be_asked_too(k: Knowledge) -> None:
    assert walk(WalkRequest(case=told(TWO, NIPPED_UP), asks=0), k).steps[0].id == LOOKS[0]


def test_a_sound_piston_may_be_run_on_a_larger_jet_and_on_no_smaller_one(k: Knowledge) -> None:
    _, now = looked(k, told(TWO, NIPPED_UP, contexts=["exhaust_changed"]), SOUND)
    now = walk(WalkRequest(case=now.case, asks=0, steps=5), k)
    trials = {(s.id, s.direction) for s in now.steps if s.kind == "trial"}
    assert ("main_jet", "richer") in trials
    assert ("main_jet", "leaner") not in trials
    assert "lean_at_wide_throttle" in held(now)


@pytest.mark.parametrize("bad", [{"piston_through_port": "scored"}, {"compression_gauge": "low"}])
def test_one_bad_look_and_it_is_not_run(k: Knowledge, bad: dict[str, str]) -> None:
    _, now = looked(k, told(TWO, NIPPED_UP), SOUND | bad)
    assert "may_be_damaged" in held(now)
    assert not [s for s in now.steps if s.kind == "trial"]


def test_who_cannot_look_is_sent_where_they_can(k: Knowledge) -> None:
    _, now = looked(k, told(TWO, NIPPED_UP), SOUND | {"piston_through_port": UNKNOWN})
    assert "may_be_damaged" in held(now)
    assert now.advice.kind == "workshop"
    assert now.advice.text.startswith("Take it to a workshop that can look inside.")


def test_what_was_seen_before_it_stuck_again_lifts_nothing(k: Knowledge) -> None:
    _, now = looked(k, told(TWO, NIPPED_UP), SOUND)
    step = StepAnswer.model_validate(
        {"kind": "trial", "id": "main_jet", "at": "full", "direction": "richer", "outcome": "no_change"}
    )
    tried = walk(WalkRequest(case=now.case, answer=step), k)
    assert "may_be_damaged" not in held(tried)
    again = StepAnswer(kind="finding", id="tightened_then_freed", at="sustained_full", outcome="yes")
    assert "may_be_damaged" in held(walk(WalkRequest(case=tried.case, answer=again), k))


@pytest.mark.parametrize("asks", [0, 10])
def test_nothing_is_run_or_tried_while_fuel_leaks(k: Knowledge, asks: int) -> None:
    leaks = told(FOUR, [{"finding": "fuel_overflow"}, {"finding": "loads_up", "at": ["idle"]}])
    now = walk(WalkRequest(case=leaks, asks=asks, steps=5), k)
    assert "fuel_leaks" in held(now)
    assert now.steps
    for step in now.steps:
        assert step.kind != "trial"
        assert step.kind not in ("check", "question") or not k.checks[step.id].needs_running


def test_what_only_runs_out_when_it_leans_may_be_run_upright(k: Knowledge) -> None:
    leans = told(FOUR, [{"finding": "overflows_only_tilted"}, {"finding": "surges", "at": ["half"]}])
    now = walk(WalkRequest(case=leans, asks=0, steps=5), k)
    assert "fuel_leaks" not in held(now)
    assert "fuel_leaks_tilted" in held(now)
    assert [s for s in now.steps if s.kind == "trial"]


def test_whether_it_still_drips_is_seen_standing_and_so_asked_of_an_engine_that_must_not_run(k: Knowledge) -> None:
    signs = [{"finding": "fuel_overflow", "at": ["parked"]}, {"finding": "idle_rough", "at": ["idle"]}]
    mended = told(FOUR, signs, trials=[{"do": "replace_float_valve", "effect": "better"}])
    asked = {s.id for s in walk(WalkRequest(case=mended, asks=40, steps=5), k).steps if s.name.startswith("Still so?")}
    assert asked == {"fuel_overflow"}


CAME_DOWN = ["moved_down", "main_made_smaller", "long_full_throttle_run"]


def test_who_came_down_on_the_jets_of_a_height_and_rode_hard_looks_at_the_piston_before_the_jets(k: Knowledge) -> None:
    case = told(TWO, [{"finding": "low_power", "at": ["overall"]}], contexts=CAME_DOWN)
    steps, after = looked(k, case, {"piston_through_port": "smooth", "compression_gauge": "normal"})
    assert steps[:2] == ["piston_through_port", "compression_gauge"]
    assert "ran_hard_while_lean" not in held(after)
    assert after.diagnosis.causes[0].id == "air_denser"


@pytest.mark.parametrize("without", [*CAME_DOWN[2:], "low_power"])
def test_without_the_hard_ride_or_the_lost_power_the_jets_come_first(k: Knowledge, without: str) -> None:
    signs = [{"finding": "low_power" if without != "low_power" else "better_when_eased", "at": ["full"]}]
    now = walk(WalkRequest(case=told(TWO, signs, contexts=[c for c in CAME_DOWN if c != without])), k)
    assert "ran_hard_while_lean" not in held(now)


@pytest.mark.parametrize(
    ("machine", "told_of", "look"),
    [
        (FOUR, {"findings": [{"finding": "kill_switch_ineffective"}, {"finding": "idle_too_high"}]}, "throttle_travel"),
        (TWO, {"findings": [{"finding": "revs_run_away"}, {"finding": "revs_hang"}]}, "throttle_travel"),
        (FOUR, {"findings": [{"finding": "drips_only_while_running"}, {"finding": "blubbers"}]}, "trace_the_drip"),
        (FOUR, {"contexts": ["fuel_smell_indoors"], "findings": [{"finding": "hard_to_start"}]}, "trace_the_drip"),
    ],
)  # fmt: skip
def test_where_a_danger_comes_from_is_looked_at_before_anything_is_asked(
    k: Knowledge, machine: dict[str, Any], told_of: dict[str, Any], look: str
) -> None:
    case = Case.model_validate({"machine": machine, **told_of})
    now = walk(WalkRequest(case=case), k)
    assert now.steps[0].id == look
    assert now.steps[0].why == "This comes before all else: it tells where the danger comes from."
    assert diagnose(case, k).next_steps[0].id == look
    skipped = StepAnswer(kind="check", id=look, outcome=UNKNOWN)
    assert walk(WalkRequest(case=now.case, answer=skipped), k).steps[0].id != look


def test_bars_are_not_turned_at_idle_where_it_may_race(k: Knowledge) -> None:
    case = told(FOUR | {"use": "road"}, [{"finding": "kill_switch_ineffective"}, {"finding": "bars_change_it"}])
    steps, _ = looked(k, case, {"throttle_travel": UNKNOWN, "bars_lock_to_lock": UNKNOWN})
    assert steps == ["throttle_travel"]


def test_a_scored_piston_is_mended_before_the_oil_in_the_fuel(k: Knowledge) -> None:
    outcomes = {"oil_ratio_asked": "less_oil", "piston_through_port": "scored", "compression_gauge": "low"}
    checks = [{"check": check, "outcome": outcome} for check, outcome in outcomes.items()]
    now = walk(WalkRequest(case=told(TWO, NIPPED_UP, checks=checks), steps=5, asks=0), k)
    assert [s.id for s in now.steps if s.kind in ("repair", "trial")] == ["rebuild_top_end"]
    done = StepAnswer(kind="repair", id="rebuild_top_end", outcome="no_change")
    after = walk(WalkRequest(case=now.case, answer=done, steps=5, asks=0), k)
    assert "mix_oil_as_book" in [s.id for s in after.steps]


def test_nobody_starts_an_engine_that_must_stay_off_to_answer_a_question(k: Knowledge) -> None:
    """From a post: a throttle that hangs was asked whether the engine races when the bars are turned."""
    stuck = [{"check": "throttle_travel", "outcome": "sticks_or_tight"}]
    hanging = told(FOUR, [{"finding": "throttle_sticks"}], checks=stuck)
    diagnosis = diagnose(hanging, k, steps=20)
    assert "throttle_hangs" in {hold.id for hold in diagnosis.holds}
    running = [s for s in diagnosis.next_steps if s.kind == "finding" and s.at and k.places[s.at].running]
    assert running
    for step in running:
        spared = k.findings[step.id].seen_standing
        assert spared or "answer_from_memory" in {c.id for c in step.cautions}, step.id
    free = diagnose(told(FOUR, [{"finding": "bogs", "at": ["half"]}]), k, steps=20)
    assert not any(c.id == "answer_from_memory" for s in free.next_steps for c in s.cautions)
