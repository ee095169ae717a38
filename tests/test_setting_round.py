"""Settings are gone through in turn after another filter or exhaust, and what was chosen is set for, not taken off."""

from __future__ import annotations

from typing import Any

import pytest

from carbdiag import Case, Knowledge, Walk, WalkRequest, diagnose, load_case, to_bbcode, to_html, to_text
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import likeliest
from carbdiag.do_now import wanted
from carbdiag.lean_risk import WIDE_OPEN
from carbdiag.safety import safety_of
from carbdiag.setting_trials import open_trials, tried_since
from carbdiag.terms import Change
from carbdiag.walking import walk

MACHINE = {"family": "round_slide", "strokes": 2, "cylinders": 1}
CHANGED = ["filter_changed", "exhaust_changed"]


def case(**told: Any) -> Case:
    return Case.model_validate({"machine": MACHINE, "contexts": CHANGED, **told})


def trial(change: str, way: str, at: str, effect: str, **more: Any) -> dict[str, Any]:
    back = {"put_back": effect != "better"}
    return {"change": change, "direction": way, "at": at, "effect": effect, **back, **more}


def bogs(at: str) -> dict[str, Any]:
    return {"finding": "bogs", "at": [at]}


# ---------------------------------------------------------------------------------------------------------
# What the rider chose is set for


@pytest.mark.parametrize(("at", "circuit"), [("full", "main_jet"), ("quarter", "needle")])
def test_a_chosen_filter_is_set_for_where_the_trouble_is(at: str, circuit: str) -> None:
    told = case(findings=[bogs(at)], checks=[{"check": "air_filter_look", "outcome": "free_flow_type"}])
    freer = next(c for c in diagnose(told).causes if c.id == "freer_filter_fitted")
    assert (freer.correction.circuit, freer.correction.direction) == (circuit, "richer")
    assert freer.correction.sized is not None
    assert freer.correction.sized.place == at


def test_a_freer_filter_that_nobody_told_of_goes_back_to_standard(k: Knowledge) -> None:
    told = Case.model_validate(
        {
            "machine": MACHINE,
            "findings": [bogs("full")],
            "checks": [{"check": "air_filter_look", "outcome": "free_flow_type"}],
        }
    )
    freer = next(c for c in diagnose(told).causes if c.id == "freer_filter_fitted")
    assert (freer.correction.action, freer.correction.direction) == ("fit_standard_filter", None)


def test_a_setting_that_suits_leads_where_the_freer_filter_is_likely() -> None:
    told = load_case(
        "machine: {family: round_slide, strokes: 4}\n"
        "contexts: [filter_changed]\n"
        "findings: [{finding: surges, at: half}, {finding: low_power, at: full}]\n"
        "checks:\n"
        "  - {check: air_filter_look, outcome: free_flow_type}\n"
        "  - {check: read_jet_numbers, outcome: as_baseline}\n"
        "  - {check: touch_of_choke, at: half, outcome: better}\n"
    )
    d = diagnose(told)
    assert d.do_now == "freer_filter_fitted"
    assert d.causes[0].correction.circuit == "needle"
    first = walk(WalkRequest(case=told)).steps[0]
    assert (first.kind, first.id, first.direction) == ("trial", "needle", Change.RICHER)


def test_causes_that_one_step_richer_puts_right_lead_together(k: Knowledge) -> None:
    told = load_case(
        "machine: {family: round_slide, strokes: 4}\n"
        "contexts: [filter_changed, main_made_larger]\n"
        "findings: [{finding: surges, at: half}, {finding: low_power, at: full}]\n"
        "checks:\n"
        "  - {check: air_filter_look, outcome: free_flow_type}\n"
        "  - {check: touch_of_choke, at: half, outcome: better}\n"
    )
    d = diagnose(told)
    alike = [c for c in d.causes if (c.correction.circuit, c.correction.direction) == ("needle", Change.RICHER)]
    assert {c.id for c in alike} == {"freer_filter_fitted", "needle_clip_lean"}
    assert d.causes[0] in alike
    assert d.causes[0].probability < k.scales.decision.likely_cause < wanted(c.probability for c in alike)
    assert d.do_now == d.causes[0].id
    first = walk(WalkRequest(case=told)).steps[0]
    assert (first.kind, first.id, first.direction) == ("trial", "needle", Change.RICHER)
    for markup in (to_text, to_bbcode, to_html):
        short = markup(d, form="short")
        assert "Try this now" in short
        assert "seizes" in short
        assert len(short) <= 900


# ---------------------------------------------------------------------------------------------------------
# In turn


def deeds(now: Walk) -> list[tuple[str, str]]:
    return [(s.kind, s.id) for s in now.steps if s.kind in ("trial", "repair")]


def test_settings_come_before_repairs_after_another_exhaust_once_one_helped(k: Knowledge) -> None:
    told = case(
        epochs=[{"findings": [bogs("full"), bogs("half")], "trials": [trial("main_jet", "richer", "full", "better")]}]
    )
    again = walk(WalkRequest(case=told, asks=0, steps=5))
    assert deeds(again)[0][0] == "trial"


def test_the_one_whose_turn_it_is_says_why(k: Knowledge) -> None:
    told = case(
        epochs=[
            {
                "findings": [bogs("full"), {"finding": "surges", "at": ["half"]}],
                "trials": [
                    trial("main_jet", "richer", "full", "better", steps=2),
                    trial("main_jet", "richer", "full", "no_change", steps=2),
                ],
            }
        ]
    )
    first = walk(WalkRequest(case=told, asks=0)).steps[0]
    assert (first.kind, first.id) == ("trial", "needle")
    assert "each is felt in turn" in first.why


def open_steps(k: Knowledge, told: Case) -> set[tuple[str, Change]]:
    a = assess(k, told)
    return {(circuit, way) for circuit, way, _ in open_trials(a, likeliest(a), safety_of(a))}


def test_a_step_that_brought_nothing_is_tried_once_more_and_then_no_more(k: Knowledge) -> None:
    once = [trial("needle", "richer", "half", "no_change")]
    for told, is_open in ((once, True), (once * 2, False)):
        here = case(epochs=[{"findings": [bogs("half")], "trials": told}])
        assert (("needle", Change.RICHER) in open_steps(k, here)) is is_open


def test_without_such_a_change_what_brought_nothing_is_not_tried_again(k: Knowledge) -> None:
    told = Case.model_validate(
        {
            "machine": MACHINE,
            "findings": [bogs("half")],
            "trials": [trial("needle", "richer", "half", "no_change")],
        }
    )
    assert ("needle", Change.RICHER) not in open_steps(k, told)


def test_what_another_setting_has_disturbed_is_open_again(k: Knowledge) -> None:
    vain = [trial("needle", "richer", "half", "worse")] * 2
    kept = trial("cutaway", "richer", "half", "better", steps=2)
    for trials, holds in ((vain, 2), ([*vain, kept], 0), ([*vain, {**kept, "put_back": True}], 2)):
        told = case(epochs=[{"findings": [bogs("half")], "trials": trials}])
        belief = likeliest(assess(k, told))
        assert len(tried_since(belief, told, "needle", "half")) == holds


def test_a_screw_that_was_no_better_richer_goes_leaner_too(k: Knowledge) -> None:
    told = case(
        epochs=[
            {
                "findings": [{"finding": "idle_rough", "at": ["idle"]}],
                "trials": [trial("mixture_screw", "richer", "idle", "no_change")],
            }
        ]
    )
    assert ("mixture_screw", Change.LEANER) in open_steps(k, told)


# ---------------------------------------------------------------------------------------------------------
# Leaner in the middle


def test_a_needle_rich_in_the_middle_is_leaned_though_wide_open_is_right(k: Knowledge) -> None:
    """Measured right at both wide openings: a groove is felt at a quarter, where nobody holds wide throttle."""
    measured = {"quarter": 0.76, "half": 0.8, "three_quarter": 0.9, "full": 0.87}
    told = Case.model_validate({"machine": MACHINE, "readings": [{"lambda": v, "at": p} for p, v in measured.items()]})
    a = assess(k, told)
    risk = safety_of(a).risk
    possible, most = k.scales.decision.lean_is_possible, k.scales.decision.leaned_from_middle
    assert possible < max(risk.after_leaner("needle")[p] - risk.sound(p) for p in WIDE_OPEN)
    assert max(risk.after_leaner("needle").values()) < most
    steps = open_steps(k, told)
    assert ("needle", Change.LEANER) in steps
    assert ("main_jet", Change.LEANER) not in steps
    clip = next(c for c in diagnose(told).causes if c.id == "needle_clip_rich")
    assert clip.correction.held_back is None


def test_it_waits_while_nothing_is_told_of_wide_open(k: Knowledge) -> None:
    told = Case.model_validate({"machine": MACHINE, "findings": [{"finding": "blubbers", "at": ["quarter"]}]})
    assert ("needle", Change.LEANER) not in open_steps(k, told)


def test_it_waits_where_wide_open_may_be_lean(k: Knowledge) -> None:
    rich = [{"finding": f, "at": ["quarter"]} for f in ("blubbers", "judged_rich")]
    lean = [{"finding": f, "at": ["full"]} for f in ("surges", "judged_lean")]
    told = Case.model_validate({"machine": MACHINE, "findings": [*rich, *lean]})
    assert ("needle", Change.LEANER) not in open_steps(k, told)


@pytest.mark.parametrize(("sign", "on"), [("blubbers", False), ("surges", True)])
def test_a_hold_for_lean_is_on_where_it_is_likelier_than_on_a_sound_engine(k: Knowledge, sign: str, on: bool) -> None:
    told = Case.model_validate({"machine": MACHINE, "findings": [{"finding": sign, "at": ["full"]}]})
    risk = safety_of(assess(k, told)).risk
    beyond = max(risk.beyond_sound(p) for p in WIDE_OPEN)
    assert (beyond > k.scales.decision.lean_is_possible) is on
    assert ("lean_at_wide_throttle" in {h.id for h in diagnose(told).holds}) is on
