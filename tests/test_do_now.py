"""A correction is to be made now only where its cause is as good as certain, comes first, and nothing forbids it."""

from __future__ import annotations

import pytest

from carbdiag import Knowledge, WalkRequest, diagnose, load_case
from carbdiag.walking import walk

CERTAIN, LIKELY = 0.85, 0.5
HIGH = """
machine: {family: round_slide, strokes: 4, cylinders: 1}
air: {set: {elevation_m: 200}, now: {elevation_m: 2500}}
findings: [{finding: blubbers, at: [half, full]}]
"""


def test_an_engine_taken_up_a_mountain_is_rejetted_now() -> None:
    d = diagnose(load_case(HIGH))
    assert (d.do_now, d.causes[0].id) == ("air_thinner", "air_thinner")
    assert d.summary.endswith("Do this now: Rejet for height or temperature, for running there only.")


def test_a_likely_cause_is_confirmed_first() -> None:
    d = diagnose(load_case(HIGH.replace("2500", "600")))
    assert d.do_now is None
    assert "first: " in d.summary


def test_nothing_is_to_be_changed_now_where_something_dangerous_was_seen() -> None:
    d = diagnose(load_case(HIGH.replace("full]}", "full]}, {finding: fuel_in_oil}")))
    assert (d.do_now, d.causes[0].id) == (None, "air_thinner")
    assert d.causes[0].probability > CERTAIN


FOULING = """
machine: {family: round_slide, strokes: 2, cylinders: 1, parts: {main_jet_marked: 175, clip_groove: 3}}
air: {set: {elevation_m: 90}, now: {elevation_m: 1830}}
findings:
  - {finding: loads_up}
  - {finding: plug_fouls_repeatedly, at: [overall]}
  - {finding: oil_at_silencer, at: [overall]}
  - {finding: idle_rough, at: [idle]}
"""


def test_a_change_of_air_is_put_right_before_rarer_causes_are_looked_for() -> None:
    d = diagnose(load_case(FOULING))
    assert d.do_now == "air_thinner"
    assert 0.75 <= d.causes[0].probability < CERTAIN


def test_the_walk_rejets_first_too_and_says_to_which_size() -> None:
    step = walk(WalkRequest(case=load_case(FOULING))).steps[0]
    assert (step.kind, step.id) == ("repair", "rejet_for_air")
    assert any(line.startswith("From main jet 175 the size worked out is main jet 1") for line in step.aim)
    assert step.why.startswith("The change of air is known")


def test_nothing_is_rejetted_for_air_while_something_dangerous_was_seen() -> None:
    held = FOULING + "  - {finding: fuel_overflow}\n"
    assert diagnose(load_case(held)).do_now is None
    assert walk(WalkRequest(case=load_case(held))).steps[0].id != "rejet_for_air"


LEAN_NEEDLE = """
machine: {family: round_slide, strokes: 4, cylinders: 2}
contexts: [{context: filter_changed}, {context: main_made_larger}]
findings:
  - {finding: flat_spot, at: [quarter, half]}
  - {finding: spits_back, at: [quarter, half]}
  - {finding: bogs, at: [full], status: denied}
"""


def test_a_setting_that_is_likely_too_lean_is_tried_richer_first() -> None:
    d = diagnose(load_case(LEAN_NEEDLE))
    assert d.do_now == "needle_clip_lean"
    assert 0.5 <= d.causes[0].probability < CERTAIN
    assert d.summary.endswith("Try this now: move the needle clip one groove, richer.")


def test_what_helped_is_gone_on_with_and_what_did_not_is_not_tried_blindly_again() -> None:
    for effect, leads in (("better", "needle_clip_lean"), ("no_change", None)):
        tried = f"trials: [{{change: needle, direction: richer, steps: 1, at: half, effect: {effect}}}]\n"
        d = diagnose(load_case(LEAN_NEEDLE + tried))
        assert d.do_now == leads


def test_a_setting_that_is_likely_too_rich_is_not_made_leaner_without_a_look() -> None:
    rich = "machine: {family: round_slide, strokes: 2}\ncontexts: [{context: main_made_larger}]\n"
    d = diagnose(load_case(rich + "findings: [{finding: blubbers, at: [full]}]"))
    assert d.causes[0].correction.direction == "leaner"
    assert d.causes[0].probability > 0.5
    assert d.do_now is None


def test_richer_jets_for_denser_air_need_not_be_as_sure() -> None:
    cold = (
        "machine: {family: round_slide, strokes: 2, cylinders: 1}\n"
        "air: {set: {elevation_m: 300, temperature_c: 25}, now: {elevation_m: 300, temperature_c: -5}}\n"
        "findings: [{finding: low_power, at: [full]}, {finding: screams_thin_at_full, at: [full]}]\n"
    )
    d = diagnose(load_case(cold))
    assert d.do_now == "air_denser"
    assert 0.5 <= d.causes[0].probability < 0.9


def test_an_engine_that_stuck_is_looked_into_before_anything_is_asked() -> None:
    d = diagnose(load_case("findings: [{finding: low_power, at: [full]}, {finding: tightened_then_freed}]"))
    assert d.next_steps[0].id == "piston_through_port"
    assert d.do_now is None


def test_circumstances_alone_are_no_trouble() -> None:
    d = diagnose(load_case("contexts: [{context: hotter_weather}]"))
    assert (d.answer, d.causes, d.holds) == ("ask_first", (), ())


def test_a_circumstance_that_is_a_danger_is_told_all_the_same() -> None:
    d = diagnose(load_case("contexts: [{context: run_indoors}]"))
    assert [h.id for h in d.holds] == ["exhaust_gas"]


@pytest.mark.parametrize("lean", ["screams_thin_at_full", "plug_white", "surges"])
def test_leaner_jets_for_thinner_air_wait_while_wide_open_may_be_lean(k: Knowledge, lean: str) -> None:
    high = (
        "machine: {family: round_slide, strokes: 2, cylinders: 1}\n"
        "air: {set: {elevation_m: 0}, now: {elevation_m: 2500}}\n"
        f"findings: [{{finding: low_power}}, {{finding: {lean}}}]\n"
    )
    d = diagnose(load_case(high))
    assert any(b.levels["lean"] + b.levels["very_lean"] > k.scales.decision.lean_is_possible for b in d.mixture[-2:])
    assert d.causes[0].id == "air_thinner"
    assert d.do_now is None
    assert walk(WalkRequest(case=load_case(high))).steps[0].id != "rejet_for_air"


KNOCKS = """
machine: {family: round_slide, strokes: 2, cylinders: 1}
contexts: [filter_changed, exhaust_changed]
findings: [{finding: knocks, at: under_load}, {finding: plug_white}]
checks: [{check: read_jet_numbers, outcome: as_baseline}]
"""


def test_what_knocks_and_is_likely_lean_wide_open_is_made_richer_before_more_is_asked() -> None:
    d = diagnose(load_case(KNOCKS))
    assert (d.do_now, d.causes[0].id) == ("main_jet_too_small", "main_jet_too_small")
    assert d.causes[0].probability < LIKELY
    first = walk(WalkRequest(case=load_case(KNOCKS))).steps[0]
    assert (first.kind, first.id, first.direction) == ("trial", "main_jet", "richer")


def test_what_knocks_and_is_not_likely_lean_is_not_changed_before_it_is_looked_at() -> None:
    d = diagnose(load_case("""
machine: {strokes: 2, cylinders: 1}
findings: [{finding: knocks, at: under_load}, {finding: plug_black_dry}, {finding: blubbers, at: [full]}]
"""))
    assert d.do_now is None


@pytest.mark.parametrize("seen", ["throttle_sticks", "revs_run_away"])
def test_what_hangs_is_looked_at_with_the_engine_off(k: Knowledge, seen: str) -> None:
    case = load_case(f"""
machine: {{family: round_slide, strokes: 2, cylinders: 1}}
findings: [{{finding: {seen}}}, {{finding: revs_hang, at: [overrun]}}]
""")
    running = [s.id for s in diagnose(case, k).next_steps if s.kind == "check" and k.checks[s.id].needs_running]
    assert not running if seen == "throttle_sticks" else running


def test_where_it_knocks_the_richer_step_that_is_wanted_most_leads_whatever_its_causes_are() -> None:
    d = diagnose(load_case("""
machine: {cylinders: 2}
contexts: [filter_changed, exhaust_changed, long_full_throttle_run]
findings:
  - {finding: rev_ceiling}
  - {finding: spits_back}
  - {finding: low_power, at: [full]}
  - {finding: knocks}
  - {finding: runs_hot}
checks: [{check: read_jet_numbers, outcome: as_baseline}]
"""))
    lead = next(c for c in d.causes if c.id == d.do_now)
    assert lead.id != d.causes[0].id
    assert (lead.correction.circuit, lead.correction.direction) == ("main_jet", "richer")
    assert "Try this now: change the main jet one size, richer." in d.summary


RIDE_TO_COME = """
machine: {family: round_slide, strokes: 2, cylinders: 1, parts: {main_jet_marked: 155}}
air: {set: {elevation_m: 0}, now: {elevation_m: 1600}}
contexts: [moved_up]
"""


def test_who_tells_only_other_air_is_told_the_jets_for_it() -> None:
    d = diagnose(load_case(RIDE_TO_COME))
    assert (d.do_now, d.only_air) == ("air_thinner", True)
    sized = d.causes[0].correction.sized
    assert sized is not None
    assert (sized.present, sized.refused) == ("main jet 155", None)
    step = walk(WalkRequest(case=load_case(RIDE_TO_COME))).steps[0]
    assert (step.kind, step.id) == ("repair", "rejet_for_air")


def test_jets_for_thinner_air_wait_where_it_may_be_lean_already() -> None:
    d = diagnose(load_case(RIDE_TO_COME.replace("contexts", "findings: [{finding: knocks, at: full}]\ncontexts")))
    assert d.do_now is None
    sized = next(c.correction.sized for c in d.causes if c.id == "air_thinner")
    assert sized is None or sized.refused is not None
