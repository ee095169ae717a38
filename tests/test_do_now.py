"""A correction is to be made now only where its cause is as good as certain, comes first, and nothing forbids it."""

from __future__ import annotations

from carbdiag import diagnose, load_case

CERTAIN = 0.9
HIGH = """
machine: {family: round_slide, strokes: 4, cylinders: 1}
air: {set: {elevation_m: 200}, now: {elevation_m: 2500}}
findings: [{finding: blubbers, at: [half, full]}]
"""


def test_an_engine_taken_up_a_mountain_is_rejetted_now() -> None:
    d = diagnose(load_case(HIGH))
    assert (d.do_now, d.causes[0].id) == ("air_thinner", "air_thinner")
    assert d.summary.endswith("Do this now: Rejet for height or temperature.")


def test_a_likely_cause_is_confirmed_first() -> None:
    d = diagnose(load_case(HIGH.replace("2500", "900")))
    assert d.do_now is None
    assert "first: " in d.summary


def test_nothing_is_to_be_changed_now_where_something_dangerous_was_seen() -> None:
    d = diagnose(load_case(HIGH.replace("full]}", "full]}, {finding: fuel_in_oil}")))
    assert (d.do_now, d.causes[0].id) == (None, "air_thinner")
    assert d.causes[0].probability > CERTAIN
