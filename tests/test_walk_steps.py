"""What a step of a walk asks and says: nothing that makes no sense just then, and all that a minute needs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from carbdiag import Knowledge
from carbdiag.answers.walk_text import WalkWords
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import likeliest
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import outlook
from carbdiag.safety import safety_of
from carbdiag.walk_schema import Walk, WalkRequest
from carbdiag.walking import walk

ROUND = {"family": "round_slide", "strokes": 4, "cylinders": 1}
TWO = {"family": "flat_slide", "strokes": 2, "cylinders": 1, "use": "motocross"}


def told(*findings: dict[str, Any], machine: dict[str, Any] = ROUND, **more: Any) -> Case:
    return Case.model_validate({"machine": machine, "findings": list(findings), **more})


def may_be_asked(k: Knowledge, case: Case, kind: str, record: str) -> bool:
    a = assess(k, case)
    belief = likeliest(a)
    look = outlook(belief)
    assert look is not None
    is_open = open_candidates(belief, a.case, safety_of(a).on)
    numbers = [t for t, (i, _) in enumerate(look.candidates.ids) if i == record and look.candidates.kind[t] == kind]
    assert numbers
    return any(is_open(t) for t in numbers)


BOGS = {"finding": "bogs", "at": ["half"]}


@pytest.mark.parametrize(
    ("findings", "asked"),
    [
        ([BOGS], True),
        ([{"finding": "fades_like_out_of_fuel", "at": ["sustained_full"]}], True),
        ([{"finding": "low_power", "at": ["overall"]}], True),
        ([{"finding": "idle_wanders"}, {"finding": "pops_on_overrun"}], False),  # there is no such pattern at idle
        ([{"finding": "hard_to_start", "at": ["cold_start"]}], False),
        ([BOGS, {"finding": "dies_after_minutes"}], False),  # that tells it
        ([BOGS, {"finding": "hits_a_wall_at_same_revs"}], False),
        ([], True),
    ],
)
def test_whether_it_follows_grip_or_revs_is_asked_of_trouble_under_way(
    k: Knowledge, findings: list[dict[str, Any]], asked: bool
) -> None:
    assert may_be_asked(k, told(*findings), "question", "grip_or_revs") is asked


@pytest.mark.parametrize(
    ("sign", "check", "outcome"),
    [
        ("fires_on_prime_only", "prime_test", "no_difference"),
        ("turns_over_too_easily", "compression_gauge", "low"),
        ("fuel_looks_wrong", "bowl_drain_sample", "clean"),
        ("dirt_behind_filter", "air_filter_look", "clean"),
        ("filter_wet_with_fuel", "air_filter_look", "clean"),
        ("soot_at_exhaust_joint", "exhaust_joint_look", "sound"),
    ],
)
def test_what_a_check_has_shown_is_not_asked_for_once_more(k: Knowledge, sign: str, check: str, outcome: str) -> None:
    if outcome not in k.checks[check].outcomes:
        outcome = next(iter(k.checks[check].outcomes))
    start = {"finding": "hard_to_start"}
    dead = {"finding": "will_not_start"} if sign == "fires_on_prime_only" else start
    assert may_be_asked(k, told(dead), "finding", sign)
    assert not may_be_asked(k, told(dead, checks=[{"check": check, "outcome": outcome}]), "finding", sign)


@pytest.mark.parametrize(
    ("more", "asked"),
    [
        ({}, True),
        ({"contexts": ["needle_raised"]}, False),
        ({"contexts": ["main_made_larger"]}, False),
        ({"trials": [{"do": "clean_carburetor", "effect": "no_change"}]}, False),
        ({"trials": [{"change": "needle", "direction": "richer", "effect": "no_change", "put_back": True}]}, False),
    ],
)
def test_who_has_told_that_he_touched_it_is_not_asked_whether_nobody_did(
    k: Knowledge, more: dict[str, Any], asked: bool
) -> None:
    assert may_be_asked(k, told(BOGS, **more), "context", "untouched_since_fine") is asked


def test_nobody_who_sees_fuel_run_out_is_asked_whether_it_smells_of_it(k: Knowledge) -> None:
    assert may_be_asked(k, told(BOGS), "finding", "fuel_smell")
    assert not may_be_asked(k, told(BOGS, {"finding": "fuel_overflow"}), "finding", "fuel_smell")


@pytest.mark.parametrize("sign", ["fuel_looks_wrong", "wet_behind_flywheel", "filter_wet_with_fuel"])
def test_what_takes_tools_and_minutes_to_see_says_so_and_counts_them(k: Knowledge, sign: str) -> None:
    """A cup of fuel or a cover taken off is no half minute of thinking back."""
    record, decision = k.findings[sign], k.scales.decision
    look = outlook(likeliest(assess(k, told({"finding": "hard_to_start"}, machine=TWO))))
    assert look is not None
    assert record.minutes is not None
    counted = look.candidates.minutes[look.candidates.number[sign, record.at[0]]]
    dread = sum(decision.hazard_minutes.get(c, 0.0) for c in record.cautions)
    assert counted == pytest.approx(record.minutes + dread + decision.start_minutes)


def test_a_look_that_takes_a_hand_comes_with_its_minutes_and_cautions(k: Knowledge) -> None:
    dry = told({"finding": "will_not_start"}, {"finding": "plug_wet_after_cranking", "status": "denied"})
    now = walk(WalkRequest(case=dry, asks=40, steps=5), k)
    looks = [s for s in now.steps if s.kind == "finding" and k.findings[s.id].minutes]
    assert looks
    for step in looks:
        assert step.minutes == k.findings[step.id].minutes
        assert [c.id for c in step.cautions] == list(k.findings[step.id].cautions)


def step_of(k: Knowledge, case: Case, kind: str, record: str) -> tuple[Walk, Any]:
    now = walk(WalkRequest(case=case, asks=0, steps=5), k)
    return now, next(s for s in now.steps if s.kind == kind and s.id == record)


JETTED: Case = told(
    BOGS | {"at": ["full"]},
    {"finding": "cutting_choke_in_helps_fade", "at": ["sustained_full"]},
    machine=TWO,
    contexts=["exhaust_changed"],
)


def test_a_trial_says_first_what_is_moved_and_how_far_and_then_how(k: Knowledge) -> None:
    now, step = step_of(k, JETTED, "trial", "main_jet")
    assert step.by_steps == 2
    assert step.aim == (
        "Fit the next larger number of the same series.",
        "This time 2 such steps at once, counted from where it stands now.",
    )
    assert step.do[0].startswith("Engine off and cold")
    text = list(WalkWords(now).step_lines(step))
    assert next(n for n, line in enumerate(text) if line.strip().startswith("Fit the next larger")) < next(
        n for n, line in enumerate(text) if line.strip().startswith("1. Engine off")
    )


def test_what_a_trial_did_says_whether_it_stays(k: Knowledge) -> None:
    _, step = step_of(k, JETTED, "trial", "main_jet")
    means = {o.outcome: o.means for o in step.outcomes}
    assert means["better"].endswith("Leave it so.")
    assert means["worse"].endswith("Put it back.")
    # beside another filter the larger jet stays in, so that the other settings can be made leaner safely
    assert means["no_change"].endswith("wide openings are safer so while the others are set.")
    assert step.stays


def test_a_caution_that_was_read_in_full_is_short_the_next_time_and_never_left_out(k: Knowledge) -> None:
    now, step = step_of(k, JETTED, "trial", "main_jet")
    words = WalkWords(now)
    assert step.cautions
    first = " ".join(" ".join(words.step_lines(step)).split())
    again = " ".join(" ".join(words.step_lines(step, {c.id for c in step.cautions})).split())
    for caution in step.cautions:
        assert f"! {caution.text}" in first
        assert f"! {caution.short}" in again
    assert len(again) < len(first) - 600


def test_a_walk_that_is_done_says_so_before_all_else(k: Knowledge) -> None:
    cured = told(BOGS, trials=[{"change": "needle", "direction": "richer", "effect": "cured"}])
    now = walk(WalkRequest(case=cured), k)
    shown = [line for line in WalkWords(now).standing() if not line.startswith(("!", "  "))]
    assert shown[0].startswith("Cured.")
    assert any(line.startswith("Most likely it was:") for line in shown)


SAW = {"family": "diaphragm", "strokes": 2, "cylinders": 1, "use": "garden_machine"}
MOWER = {"family": "butterfly", "strokes": 4, "cylinders": 1, "use": "garden_machine"}
GENERATOR = MOWER | {"use": "generator"}
QUAD = {"family": "constant_velocity", "strokes": 4, "cylinders": 1, "use": "atv"}


@pytest.mark.parametrize(
    ("machine", "kind", "record", "asked"),
    [
        (SAW, "check", "timing_light", False),  # its spark is fixed by the flywheel's key
        (SAW, "check", "flywheel_key_look", True),
        (GENERATOR, "check", "timing_light", False),
        (ROUND, "check", "timing_light", True),
        (SAW, "check", "oil_pump_marks_look", False),  # oil comes with its fuel
        (SAW, "finding", "oil_tank_does_not_fall", False),
        (SAW | {"oiling": "injection"}, "finding", "oil_tank_does_not_fall", True),
        (SAW, "finding", "fuel_in_oil", False),
        (MOWER, "finding", "fuel_in_oil", True),
        (SAW, "finding", "fan_stands_still", False),
        (SAW | {"cooling": "liquid"}, "finding", "fan_stands_still", True),
        (QUAD, "finding", "fan_stands_still", True),
        (GENERATOR, "finding", "tach_needle_jumps", False),
        (GENERATOR, "finding", "fails_only_on_reserve", False),
        (QUAD, "finding", "fails_only_on_reserve", True),
        (TWO, "check", "tap_on_prime", False),  # its tap needs no vacuum
        (QUAD, "check", "tap_on_prime", True),
    ],
)
def test_nothing_is_asked_of_what_such_a_machine_has_not_got(
    k: Knowledge, machine: dict[str, Any], kind: str, record: str, asked: bool
) -> None:
    assert may_be_asked(k, told({"finding": "hard_to_start"}, machine=machine), kind, record) is asked


def test_what_a_use_mostly_has_changes_no_belief(k: Knowledge) -> None:
    sign = {"finding": "hard_to_start"}
    assumed = walk(WalkRequest(case=told(sign, machine=SAW)), k).diagnosis
    stripped = replace(k, uses={i: u.model_copy(update={"usual": {}}) for i, u in k.uses.items()}, memo={})
    plain = walk(WalkRequest(case=told(sign, machine=SAW)), stripped).diagnosis
    assert [(c.id, c.probability) for c in assumed.causes] == [(c.id, c.probability) for c in plain.causes]


def test_a_check_of_a_running_engine_gives_the_cautions_of_its_use(k: Knowledge) -> None:
    """Nobody sprays at an engine whose propeller turns without being told to tie the machine down."""
    flying = {"family": "diaphragm", "strokes": 2, "cylinders": 1, "use": "paramotor"}
    now = walk(WalkRequest(case=told({"finding": "revs_hang"}, machine=flying), steps=5), k)
    running = [s for s in now.steps if s.kind == "trial" or (s.kind == "check" and k.checks[s.id].needs_running)]
    assert running
    assert all("propeller" in [c.id for c in s.cautions] for s in running)


def test_the_kind_of_carburetor_is_asked_with_the_likeliest_first(k: Knowledge) -> None:
    enduro = Case.model_validate({"machine": {"use": "enduro", "strokes": 2}, "findings": [BOGS]})
    step = walk(WalkRequest(case=enduro), k).steps[0]
    assert step.id == "family"
    assert [o.outcome for o in step.outcomes][:2] == ["flat_slide", "round_slide"]
    assert sorted(o.probability for o in step.outcomes)[::-1] == [o.probability for o in step.outcomes]


def test_who_does_not_know_the_strokes_is_told_how_to_tell(k: Knowledge) -> None:
    unknown = Case.model_validate({"findings": [BOGS]})
    now = walk(WalkRequest(case=unknown), k)
    assert now.steps[0].id == "strokes"
    text = " ".join(" ".join(WalkWords(now).step_lines(now.steps[0])).split())
    assert "two-stroke Oil is mixed into its fuel" in text
