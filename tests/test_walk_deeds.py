"""In which order a walk does things: settings are tried where they may cure, and the likely deed is not put off."""

from __future__ import annotations

from typing import Any

import pytest

from carbdiag import Knowledge
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import likeliest
from carbdiag.outlook import outlook
from carbdiag.plan import Move, plan
from carbdiag.safety import safety_of
from carbdiag.terms import Change

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
    asked_first = first.kind not in ("repair", "trial")
    if deed.success >= k.scales.decision.likely_cause and asked_first:
        assert first.expected_minutes < deed.expected_minutes
    if told is WEAK_SQUIRT:
        assert deed.id == "repair_accel_pump"
        assert deed.success >= k.scales.decision.likely_cause
