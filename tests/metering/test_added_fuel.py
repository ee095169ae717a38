"""Needle lengths, enrichener, power jet and leak jet: what each does where, and what is refused."""

from __future__ import annotations

import math

import pytest

from carbdiag.errors import CaseError, OutOfRangeError
from carbdiag.metering.added_fuel import (
    enrichener_kg_s,
    power_jet_kg_s,
    power_jet_starts_at,
    pump_share,
    squirt_change_percent,
)
from carbdiag.metering.geometry import Geometry, with_parts
from carbdiag.metering.needle import NeedleLengths, taper_lowered_mm, tip_leaves_at
from carbdiag.metering.shares import GRID, log_fuel, relative_mixture, shares_at
from carbdiag.metering.steps import changed_by_steps
from carbdiag.tuning import sweep
from carbdiag.tuning_schema import SweepRequest

BASE = Geometry()


def richer_percent(geometry: Geometry, opening: float) -> float:
    """Percent more fuel to the air."""
    return 100 * math.expm1(relative_mixture(geometry, opening) - relative_mixture(BASE, opening))


def answer(parts: dict[str, object], after: dict[str, object], family: str = "round_slide"):
    return sweep(
        SweepRequest.model_validate(
            {"machine": {"family": family, "parts": parts}, "after": {"parts": after}, "points": 9}
        )
    )


def test_an_enrichener_is_richest_near_closed_and_does_little_wide_open() -> None:
    # published: an enrichener does little at wide openings (see docs/metering.md)
    opened = with_parts(BASE, enrichener_jet_mm=0.6)
    by_opening = [richer_percent(opened, o) for o in GRID[1:]]
    assert by_opening == sorted(by_opening, reverse=True)
    assert by_opening[0] > 30
    assert 0 < by_opening[-1] < by_opening[0] / 5


def test_a_power_jet_acts_near_full_flow_only() -> None:
    fed = with_parts(BASE, power_jet_mm=0.5)
    starts = power_jet_starts_at(BASE.power_jet_head_mm)
    assert 0.4 < starts < 0.7
    assert [round(richer_percent(fed, o), 6) for o in GRID[:4]] == [0, 0, 0, 0]
    assert richer_percent(fed, 0.5) == 0
    assert 0 < richer_percent(fed, 0.75) <= richer_percent(fed, 1.0)
    assert 3 < richer_percent(fed, 1.0) < 15


@pytest.mark.parametrize("added", [{"enrichener_jet_mm": 0.6}, {"power_jet_mm": 0.5}])
def test_the_share_of_added_fuel_completes_the_others(added: dict[str, float]) -> None:
    for o in GRID:
        s = shares_at(with_parts(BASE, **added), o)
        # pilot, needle and main jet make 1 with what is added, but for the air bleed and the float head
        without = shares_at(BASE, o)
        if "power_jet_mm" in added:
            assert s.added == pytest.approx(1 - math.exp(log_fuel(BASE, o) - log_fuel(with_parts(BASE, **added), o)))
            assert s.pilot == pytest.approx(without.pilot * (1 - s.added))
            assert s.main_jet == pytest.approx(without.main_jet * (1 - s.added))
        else:
            assert s.added > 0
        assert s.pilot + s.needle + s.main_jet + s.added + s.air_correction == pytest.approx(1, abs=0.2)


def test_the_flows_agree_with_the_orifice_law() -> None:
    assert enrichener_kg_s(0.6, 4000.0) / enrichener_kg_s(0.3, 4000.0) == pytest.approx(4.0)
    head = 740 * 9.81 * 0.040
    ratio = power_jet_kg_s(0.5, head + 400.0) / power_jet_kg_s(0.5, head + 100.0)
    assert ratio == pytest.approx(2.0)
    assert power_jet_kg_s(0.5, head - 1.0) == 0.0


def test_one_groove_is_one_pitch_and_a_longer_top_is_a_groove_lower() -> None:
    needle = NeedleLengths(2.0, 0.9, 5, 30.0, 60.0)
    assert needle.seat_mm(4) - needle.seat_mm(3) == pytest.approx(0.9)
    longer = NeedleLengths(2.0, 0.9, 5, 30.9, 60.9)
    assert taper_lowered_mm(needle, longer) == pytest.approx(0.9)
    # hanging the taper one pitch lower and the clip one groove down (higher number) is the same mixture
    lowered = with_parts(
        BASE,
        taper_start=BASE.taper_start + BASE.clip_step_mm / BASE.bore_mm,
        second_taper_start=BASE.second_taper_start + BASE.clip_step_mm / BASE.bore_mm,
    )
    for o in GRID:
        assert log_fuel(with_parts(lowered, groove=4), o) == pytest.approx(log_fuel(BASE, o))


def test_a_short_needle_leaves_its_jet_and_then_only_the_main_jet_meters() -> None:
    tip = tip_leaves_at(BASE.taper_start, NeedleLengths(2.0, 0.8, 5, 30.0, 52.0), BASE.bore_mm)
    short = with_parts(BASE, needle_tip=tip)
    assert 0.7 < tip < 0.8
    assert richer_percent(short, 0.5) == pytest.approx(0.0)
    assert richer_percent(short, 0.9) > 5
    assert shares_at(short, 0.9).main_jet > shares_at(BASE, 0.9).main_jet
    # hung higher, it leaves earlier
    assert changed_by_steps(short, "needle", 1.0).needle_tip < tip


def test_a_larger_leak_jet_is_a_smaller_squirt() -> None:
    assert pump_share(0.5, 0.0) == 1.0
    assert squirt_change_percent(0.5, 0.4, 0.6) < 0 < squirt_change_percent(0.5, 0.6, 0.4)


def test_a_sweep_compares_another_needle_by_its_lengths() -> None:
    listed = {"clip_groove": 3, "clip_pitch_mm": 0.8, "needle_taper_mm": 30.0, "first_groove_mm": 2.0}
    lower = answer(listed, {"needle_taper_mm": 30.8})
    groove = answer(listed, {"clip_groove": 2})
    for a, b in zip(lower.bands, groove.bands, strict=True):
        assert a.after.middle == pytest.approx(b.after.middle, abs=1e-4)
    half = next(b for b in lower.bands if b.place == "half")
    assert half.after.middle > 0.01


def test_a_sweep_shows_enrichener_and_power_jet_and_says_what_it_left_out() -> None:
    opened = answer({"enrichener_jet_mm": 0.6, "enrichener_open": False}, {"enrichener_open": True})
    by_place = {b.place: b.after.middle for b in opened.bands}
    assert by_place["eighth"] < by_place["half"] < by_place["full"] < 0
    assert opened.after_is == "enrichener shut to open"
    assert opened.bands[0].shares.added > 0.5 > opened.bands[-1].shares.added > 0
    assert any(n.startswith("Fuel from beside pilot, needle and main jet: ") for n in opened.notes)
    assert any("air passage is a typical one" in n for n in opened.notes)
    plugged = answer({"power_jet_mm": 0.5}, {"power_jet_mm": 0})
    by_place = {b.place: b.after.middle for b in plugged.bands}
    assert by_place["quarter"] == 0 < by_place["full"]
    leak = answer({"leak_jet_mm": 0.5, "pump_nozzle_mm": 0.5}, {"leak_jet_mm": 0.4}, "flat_slide_pump")
    assert all(b.after.middle == 0 for b in leak.bands)
    assert any("its squirt is about 22 % larger" in n for n in leak.notes)
    short = answer({"needle_taper_mm": 30, "needle_length_mm": 62}, {"needle_length_mm": 50})
    assert any("too short" in n for n in short.notes)


@pytest.mark.parametrize(
    ("parts", "field", "says"),
    [
        ({"needle_taper_mm": 30, "needle_length_mm": 25}, "machine.parts", "needle length must be from 30 to 120 mm"),
        ({"needle_taper_mm": 4, "first_groove_mm": 2}, "machine.parts", "start of the needle taper must be from"),
        ({"needle_length_mm": 60}, "machine.parts", "says nothing without needle_taper_mm"),
        ({"enrichener_open": True}, "machine.parts", "is missing: how large"),
        ({"clip_pitch_mm": 0.1}, "machine.parts", "must be from 0.2 to 3 mm"),
    ],
)
def test_impossible_lengths_and_jets_are_refused(parts: dict[str, object], field: str, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        answer(parts, {})
    (problem,) = caught.value.problems
    assert problem.field.startswith(field)
    assert says in str(problem)


@pytest.mark.parametrize("bad", [{"power_jet_mm": 2.5}, {"enrichener_jet_mm": -0.1}, {"needle_tip": 0.0}])
def test_a_geometry_refuses_what_cannot_be(bad: dict[str, float]) -> None:
    with pytest.raises(OutOfRangeError):
        Geometry(**bad)
