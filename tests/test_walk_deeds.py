"""In which order a walk does things: settings are tried where they may cure, and the likely deed is not put off."""

from __future__ import annotations

from typing import Any

import pytest

from carbdiag import Knowledge
from carbdiag.answers.walk_text import WalkWords
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import likeliest
from carbdiag.moves import Move
from carbdiag.outlook import outlook
from carbdiag.plan import plan
from carbdiag.safety import safety_of
from carbdiag.terms import Change
from carbdiag.walk_schema import StepAnswer, WalkRequest
from carbdiag.walking import walk

MX = {"family": "flat_slide", "strokes": 2, "cylinders": 1, "use": "motocross"}
PUMPER = {"family": "flat_slide_pump", "strokes": 4, "cylinders": 1, "use": "enduro"}
FOUR = {"family": "constant_velocity", "strokes": 4, "cylinders": 4, "carburetors": 4, "use": "road"}

FOULED: dict[str, Any] = {
    "machine": MX,
    "contexts": ["rejetted"],
    "findings": [
        {"finding": "misfires"},
        {"finding": "hard_to_start"},
        {"finding": "revs_hang", "status": "denied"},
        {"finding": "raw_fuel_fumes_sting", "status": "denied"},
        {"finding": "needs_more_throttle", "status": "denied"},
    ],
}
JETTED_UP: dict[str, Any] = {
    "machine": MX,
    "contexts": ["main_made_larger"],
    "findings": [{"finding": "blubbers", "at": ["full"]}, {"finding": "thick_on_top", "at": ["full"]}],
}
WEAK_SQUIRT: dict[str, Any] = {
    "machine": PUMPER,
    "findings": [{"finding": "bogs", "at": ["snap_open"]}, {"finding": "snap_only"}],
    "checks": [{"check": "pump_squirt_watch", "outcome": "weak_or_late"}],
}
OUT_OF_BALANCE: dict[str, Any] = {
    "machine": FOUR,
    "contexts": ["carb_just_cleaned"],
    "findings": [{"finding": "idle_rough"}, {"finding": "vibrates_more"}],
}


def moves(k: Knowledge, told: dict[str, Any], asks: int) -> tuple[Move, ...]:
    a = assess(k, Case.model_validate(told))
    return plan(a, outlook(likeliest(a)), safety_of(a), 200, asks).moves


def deeds(k: Knowledge, told: dict[str, Any]) -> list[Move]:
    return [m for m in moves(k, told, 0) if m.kind in ("repair", "trial")]


@pytest.mark.parametrize("told", [FOULED, OUT_OF_BALANCE])
def test_the_idle_screw_cures_nothing_that_it_does_not_set(k: Knowledge, told: dict[str, Any]) -> None:
    """One rider in ten tells an effect that has nothing to do with what he did: that is no cure to hope for."""
    screw = [m for m in deeds(k, told) if m.id == "mixture_screw"]
    assert screw
    for move in screw:
        assert move.success < dict(move.outcomes)["cured"] - 0.02  # the others will only say so


@pytest.mark.parametrize("told", [FOULED, OUT_OF_BALANCE, WEAK_SQUIRT])
def test_no_setting_is_tried_while_another_deed_cures_five_times_as_often_a_minute(
    k: Knowledge, told: dict[str, Any]
) -> None:
    order = deeds(k, told)
    best = max(m.success / m.minutes for m in order)
    idle = [m.kind == "trial" and m.success / m.minutes < best * k.scales.decision.hopeful_trial for m in order]
    assert any(idle)
    assert idle == sorted(idle)
    assert order[0].success / order[0].minutes > best / 5


def test_a_main_jet_that_was_fitted_too_large_is_stepped_down_before_unlikely_repairs(k: Knowledge) -> None:
    first = deeds(k, JETTED_UP)[0]
    assert (first.kind, first.id, first.direction, first.steps) == ("trial", "main_jet", Change.LEANER, 1)


def test_a_setting_that_is_off_by_several_steps_is_counted_at_all_its_trials(k: Knowledge) -> None:
    """Else whatever else is done first costs less than the first of those trials, and it is put off for ever."""
    first = next(m for m in deeds(k, JETTED_UP) if (m.id, m.direction) == ("main_jet", Change.LEANER))
    a = assess(k, Case.model_validate(JETTED_UP))
    by_repairs = plan(a, outlook(likeliest(a)), safety_of(a), 1, 0).by_repairs
    useless = min(m.expected_minutes for m in deeds(k, JETTED_UP) if m.success < 0.01)
    assert first.expected_minutes < by_repairs < useless


@pytest.mark.parametrize("told", [WEAK_SQUIRT, OUT_OF_BALANCE, JETTED_UP, FOULED])
def test_once_a_deed_is_likelier_than_not_to_cure_a_question_must_pay_by_itself(
    k: Knowledge, told: dict[str, Any]
) -> None:
    found = moves(k, told, 10)
    deed = max((m for m in found if m.kind in ("repair", "trial")), key=lambda m: m.success / m.minutes)
    first = found[0]
    # but for a look at what the deed would put right, which may spare it
    looks = {s.check for c in k.causes.values() if deed.id in {f.do for f in c.fixed_by} for s in c.checks}
    asked_first = first.kind not in ("repair", "trial") and first.id not in looks
    if deed.success >= k.scales.decision.likely_cause and asked_first:
        assert first.expected_minutes < deed.expected_minutes
    if told is WEAK_SQUIRT:
        assert deed.id == "repair_accel_pump"
        assert deed.success >= k.scales.decision.likely_cause


WORN: dict[str, Any] = {
    "machine": {"family": "round_slide", "strokes": 2, "cylinders": 1, "use": "moped"},
    "contexts": ["high_mileage", "rejetted"],
    "findings": [
        {"finding": "low_power", "at": ["overall"]},
        {"finding": "hard_to_start", "at": ["warm_start"]},
        {"finding": "kick_softer_when_hot"},
    ],
}


def test_nobody_takes_an_engine_apart_before_the_gauge_that_may_spare_it(k: Knowledge) -> None:
    order = [(m.kind, m.id) for m in moves(k, WORN, 60)]
    gauge = order.index(("check", "compression_gauge"))
    assert gauge < order.index(("repair", "rebuild_top_end"))
    assert gauge < min(n for n, (kind, _) in enumerate(order) if kind == "finding")  # with few asks left it still comes


LEAN_MAIN: dict[str, Any] = {
    "machine": MX,
    "contexts": ["exhaust_changed"],
    "findings": [{"finding": "bogs", "at": ["full"]}],
}
LARGER: dict[str, Any] = {"change": "main_jet", "at": "full", "effect": "better"}


@pytest.mark.parametrize("told", [{"direction": "richer", "steps": 2}, {"from_size": 160, "to_size": 170}])
def test_whoever_feels_that_a_larger_jet_helped_goes_on_with_it(k: Knowledge, told: dict[str, Any]) -> None:
    """Told by its direction or by its sizes: no screw is turned in between."""
    first = deeds(k, LEAN_MAIN | {"trials": [LARGER | told]})[0]
    assert (first.id, first.direction, first.goes_on) == ("main_jet", Change.RICHER, True)


@pytest.mark.parametrize("effect", ["no_change", "worse"])
def test_what_did_not_help_is_not_gone_on_with(k: Knowledge, effect: str) -> None:
    sizes = {"from_size": 160, "to_size": 170, "effect": effect, "put_back": True}
    assert not any(m.goes_on for m in moves(k, LEAN_MAIN | {"trials": [LARGER | sizes]}, 10))


def test_sizes_that_went_too_far_leave_it_to_the_bracket(k: Knowledge) -> None:
    sizes = {"from_size": 160, "to_size": 180, "effect": "overshot"}
    assert "main_jet" not in [m.id for m in deeds(k, LEAN_MAIN | {"trials": [LARGER | sizes]})]


def test_while_a_step_helps_a_question_must_pay_by_itself(k: Knowledge) -> None:
    told = LEAN_MAIN | {"trials": [LARGER | {"direction": "richer", "steps": 2}]}
    first = moves(k, told, 10)[0]
    further = next(m for m in moves(k, told, 10) if m.goes_on)
    assert first == further or first.expected_minutes < further.expected_minutes


def test_a_trial_is_as_likely_as_that_its_setting_is_off_and_not_as_its_first_step_cures(k: Knowledge) -> None:
    jet = next(m for m in deeds(k, JETTED_UP) if m.kind == "trial" and m.id == "main_jet")
    assert jet.chance > 2 * jet.success


def test_a_leaner_step_that_waits_is_told_beside_what_is_done_instead(k: Knowledge) -> None:
    """A clip that is surely too rich, and three-quarter may run lean after one step more: no silence, and no step."""
    clip = {
        "machine": MX,
        "epochs": [
            {
                "findings": [{"finding": "blubbers", "at": ["half"]}],
                "trials": [{"change": "needle", "direction": "leaner", "at": "half", "effect": "better"}],
            },
            {"checks": [{"check": "clip_groove_look", "outcome": "richer_groove"}]},
        ],
    }
    now = walk(WalkRequest(case=Case.model_validate(clip), asks=0, steps=5), k)
    assert not any((s.id, s.direction) == ("needle", "leaner") for s in now.steps)
    assert now.advice.waits is not None
    assert now.advice.waits.startswith("Probably still too rich: the jet needle")
    assert now.advice.waits in " ".join(" ".join(WalkWords(now).standing()).split())
    assert walk(WalkRequest(case=Case.model_validate(JETTED_UP)), k).advice.waits is None


@pytest.mark.parametrize(("asks", "said"), [(50, True), (0, False)])
def test_a_deed_says_that_no_question_is_left_only_where_one_might_be_asked(
    k: Knowledge, asks: int, said: bool
) -> None:
    now = walk(WalkRequest(case=Case.model_validate(WEAK_SQUIRT), asks=asks, steps=5), k)
    while (step := now.steps[0]).kind != "repair":
        likely = max(step.outcomes, key=lambda o: o.probability).outcome
        answer = StepAnswer(kind=step.kind, id=step.id, at=step.at, direction=step.direction, outcome=likely)
        now = walk(WalkRequest(case=now.case, answer=answer, asks=asks, steps=5), k)
    assert ("no cheap question left" in now.steps[0].why) is said
