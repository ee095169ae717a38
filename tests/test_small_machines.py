"""What owners of saws, mowers, generators and old tractors must not be asked, and what must lead for them."""

from __future__ import annotations

import pytest

from carbdiag import Knowledge, diagnose, load_case


def test_no_one_is_asked_how_long_it_must_rest_who_said_so(k: Knowledge) -> None:
    told = "machine: {use: garden_machine, strokes: 4}\nfindings: [{finding: stops_abruptly}, {finding: FINDING}]\n"
    asked = {
        sign: {s.id for s in diagnose(load_case(told.replace("FINDING", sign)), k, steps=20).next_steps}
        for sign in ("restarts_at_once", "recovers_after_rest")
    }
    assert "rest_before_restart_asked" not in asked["restarts_at_once"]
    assert "rest_before_restart_asked" in asked["recovers_after_rest"]


@pytest.mark.parametrize(("family", "governed"), [("diaphragm", False), ("butterfly", True)])
def test_a_saw_is_not_asked_about_a_governor(k: Knowledge, family: str, governed: bool) -> None:
    case = load_case(
        f"machine: {{use: garden_machine, family: {family}, strokes: {4 if governed else 2}}}\n"
        "findings: [{finding: bogs}, {finding: plug_white}]\n"
    )
    asked = {s.id for s in diagnose(case, k, steps=20).next_steps}
    assert bool(asked & {"hunts_governed", "governed_speed", "governor_hand_hint", "hunts_only_unloaded"}) is governed


def test_a_generator_that_races_after_a_rebuild_has_its_governor_arm_set_wrong(k: Knowledge) -> None:
    case = load_case(
        "machine: {use: generator, strokes: 4}\ncontexts: [engine_rebuilt]\n"
        "findings: [{finding: overspeeds_governed}, {finding: lights_too_bright_or_blow}]\n"
    )
    assert diagnose(case, k).causes[0].id == "governor_misset"


def test_burnt_points_lead_where_a_thin_spark_fails_under_load(k: Knowledge) -> None:
    case = load_case(
        "machine: {family: butterfly, strokes: 4, cylinders: 4}\n"
        "findings: [{finding: fails_only_under_load, at: under_load}, {finding: misfires, at: under_load}]\n"
        "checks: [{check: points_look, outcome: burnt_or_closed}, {check: spark_test, outcome: weak}]\n"
    )
    assert diagnose(case, k).causes[0].id == "points_worn"


def test_a_freer_muffler_on_a_saw_asks_for_more_fuel_at_its_high_needle(k: Knowledge) -> None:
    case = load_case(
        "machine: {use: garden_machine, family: diaphragm, strokes: 2}\ncontexts: [exhaust_changed]\n"
        "findings: [{finding: screams_thin_at_full, at: full}, {finding: plug_white}]\n"
    )
    assert diagnose(case, k).causes[0].id == "high_needle_lean"
