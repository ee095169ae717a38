"""What a mechanic looks at before he takes something apart, and when he has seen enough."""

from __future__ import annotations

from typing import Any

import pytest

from carbdiag import Knowledge
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import likeliest
from carbdiag.moves import Move
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import outlook
from carbdiag.plan import plan
from carbdiag.safety import safety_of
from carbdiag.walk_schema import WalkRequest
from carbdiag.walking import walk

MX = {"family": "flat_slide", "strokes": 2, "cylinders": 1, "use": "motocross"}
MOWER = {"family": "butterfly", "strokes": 4, "cylinders": 1, "use": "garden_machine"}
VACUUM = {"family": "constant_velocity", "strokes": 4, "cylinders": 1}

LEAKS_AIR: dict[str, Any] = {
    "machine": MX,
    "findings": [
        {"finding": "revs_hang", "at": ["overrun"]},
        {"finding": "revs_run_away", "at": ["idle"]},
        {"finding": "idle_too_high", "at": ["idle"]},
    ],
    "checks": [
        {"check": "throttle_travel", "outcome": "full_and_snaps_shut"},
        {"check": "leak_spray", "outcome": "no_change"},
        {"check": "crankcase_spray", "outcome": "speed_changes"},
    ],
}
DIES_HOT: dict[str, Any] = {
    "machine": VACUUM,
    "findings": [{"finding": "dies_after_minutes"}, {"finding": "worse_when_hot"}],
}
BLOCKED: dict[str, Any] = {
    "machine": MX,
    "contexts": ["stood_for_months"],
    "findings": [{"finding": "will_not_idle", "at": ["idle"]}, {"finding": "runs_only_on_choke"}],
    "checks": [{"check": "pilot_jet_light", "outcome": "blocked"}],
}


def moves(k: Knowledge, told: dict[str, Any], asks: int = 10) -> tuple[Move, ...]:
    a = assess(k, Case.model_validate(told))
    return plan(a, outlook(likeliest(a)), safety_of(a), 300, asks).moves


def with_check(told: dict[str, Any], check: str, outcome: str) -> dict[str, Any]:
    return {**told, "checks": [*told.get("checks", ()), {"check": check, "outcome": outcome}]}


@pytest.mark.parametrize("asks", [0, 10])
@pytest.mark.parametrize("told", [LEAKS_AIR, DIES_HOT])
def test_a_dear_repair_stands_behind_the_check_that_proves_it(k: Knowledge, told: dict[str, Any], asks: int) -> None:
    found = [m.id for m in moves(k, told, asks)]
    dear = [r for r in found if r in k.actions and k.actions[r].proved_by]
    assert dear
    for repair in dear:
        before = found[: found.index(repair)]
        assert not {*before}.isdisjoint(k.actions[repair].proved_by), repair


def test_the_pressure_test_comes_before_the_crankcase_is_opened_and_says_why(k: Knowledge) -> None:
    step = walk(WalkRequest(case=Case.model_validate(LEAKS_AIR), asks=0), k).steps[0]
    assert step.id == "crankcase_pressure_test"
    assert step.why.startswith("It comes before a repair that nobody makes on suspicion: ")


def test_who_made_the_pressure_test_is_not_held_up_any_more(k: Knowledge) -> None:
    first = moves(k, with_check(LEAKS_AIR, "crankcase_pressure_test", "leaks"), 0)[0]
    assert first.kind == "repair"


def test_what_a_look_has_shown_is_put_right_without_a_further_question(k: Knowledge) -> None:
    assert moves(k, BLOCKED)[0].id == "clean_pilot_passages"
    unseen = moves(k, {**BLOCKED, "checks": []})[0]
    assert unseen.kind not in ("repair", "trial")


def test_what_was_tried_since_the_look_asks_anew(k: Knowledge) -> None:
    told = {name: value for name, value in BLOCKED.items() if name not in ("findings", "checks")}
    first = {"findings": BLOCKED["findings"], "checks": BLOCKED["checks"]}
    tried = {"trials": [{"do": "clean_pilot_passages", "effect": "no_change"}]}
    assert moves(k, {**told, "epochs": [{**first, **tried}]})[0].id != "clean_pilot_passages"


def test_a_choke_that_stands_out_is_looked_at_before_half_minute_signs(k: Knowledge) -> None:
    told = {
        "machine": MOWER,
        "findings": [
            {"finding": "black_smoke"}, {"finding": "misfires"}, {"finding": "dies_after_minutes"},
            {"finding": "worse_when_hot"},
        ],
    }  # fmt: skip
    assert moves(k, told)[0].id == "choke_home"


LEAN_LOW: dict[str, Any] = {
    "machine": VACUUM,
    "contexts": ["filter_changed"],
    "findings": [
        {"finding": "revs_hang", "at": ["overrun"]}, {"finding": "surges"},
        {"finding": "pops_on_overrun", "at": ["overrun"]},
    ],
    "trials": [{"change": "main_jet", "direction": "richer", "effect": "no_change"}],
}  # fmt: skip


def test_a_touch_of_the_choke_comes_before_the_carburetor_is_opened_for_a_pilot_jet(k: Knowledge) -> None:
    found = moves(k, LEAN_LOW)
    assert [(m.id, m.at) for m in found[:2]] == [("touch_of_choke", "idle"), ("pilot", "idle")]


def test_while_settings_are_gone_through_no_other_step_is_left_that_is_mostly_felt_as_worse(k: Knowledge) -> None:
    told = [{"finding": "bogs", "at": ["full"]}, {"finding": "surges"}]
    fitted = ["filter_changed", "exhaust_changed"]
    found = [m for m in moves(k, {"machine": VACUUM, "contexts": fitted, "findings": told}, 0) if m.kind == "trial"]
    assert any(m.in_round for m in found)
    assert not [m for m in found if not m.in_round and dict(m.outcomes)["worse"] > 0.5]


@pytest.mark.parametrize(("sign", "asked"), [("bogs", True), ("worse_when_hot", False)])
def test_who_told_that_heat_brings_it_is_not_asked_for_it(k: Knowledge, sign: str, asked: bool) -> None:
    case = Case.model_validate({"machine": VACUUM, "findings": [{"finding": sign}]})
    a = assess(k, case)
    look, is_open = outlook(likeliest(a)), open_candidates(likeliest(a), a.case, safety_of(a).on)
    assert look is not None
    assert any(is_open(t) for t, (i, _) in enumerate(look.candidates.ids) if i == "cold_or_hot") is asked


@pytest.mark.parametrize(("check", "told"), [
    ("filter_off_briefly", [{"finding": "bogs", "at": ["full"]}, {"finding": "knocks"}]),
    ("prime_test", [{"finding": "low_power", "at": ["full"]}, {"finding": "surges"}]),
])  # fmt: skip
def test_a_test_of_another_trouble_is_not_proposed(k: Knowledge, check: str, told: list[dict[str, Any]]) -> None:
    assert check not in {m.id for m in moves(k, {"machine": VACUUM, "findings": told})}


def test_nobody_is_asked_for_the_carburetor_that_every_such_machine_has(k: Knowledge) -> None:
    mower = {"strokes": 4, "cylinders": 1, "use": "garden_machine"}
    for machine, asked in ((mower, False), ({"strokes": 4, "cylinders": 1}, True)):
        told = Case.model_validate({"machine": machine, "findings": [{"finding": "bogs", "at": ["full"]}]})
        assert (walk(WalkRequest(case=told), k).steps[0].kind == "machine") is asked
