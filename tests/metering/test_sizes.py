"""Jet numbering, sized corrections, their refusals and side effects."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag.errors import CaseError, OutOfRangeError
from carbdiag.metering import deviation as d
from carbdiag.metering import jet_series as j
from carbdiag.metering import sizes as z
from carbdiag.metering.geometry import Geometry, typical
from carbdiag.metering.shares import log_fuel

FITTED = z.parts_of(Geometry(), main=j.JetSize(160), pilot=j.JetSize(45))
NOT_LEAN = z.LeanCare(three_quarter=0.0, full=0.0)


def side(correction, opening):
    return next(e.percent for e in correction.side_effects if e.opening == opening)


@pytest.mark.parametrize(
    ("opening", "part", "wanted", "low", "high"),
    [
        # solved sizes for +5 %: main 1.65 -> 1.707 at full; 0.60 to 0.94 groove at 1/4, 0.63 to 0.93 at 1/2
        (1.0, "main_jet", 0.05, 165, 168),
        (0.5, "needle", 0.05, 4, 4),
        (0.25, "needle", 0.05, 4, 4),
    ],
)
def test_sizes_near_the_full_solution(opening, part, wanted, low, high):
    c = z.size_correction(FITTED, part, opening, d.deviation_normal(wanted, 0.005))
    assert c.direction == "richer"
    assert low <= c.proposed <= high
    assert c.percent.low <= c.percent.middle <= c.percent.high
    assert c.loss_after < c.loss_before


def test_ten_percent_at_full_against_the_full_solution():
    """Solved elsewhere for the same carburetor class: main 1.65 -> 1.766 for +10 %: 7.0 % of diameter."""
    c = z.size_correction(FITTED, "main_jet", 1.0, d.deviation_normal(0.09, 0.005))
    assert c.proposed / 160 == pytest.approx(1.07, abs=0.02)


def test_one_groove_says_what_it_does_elsewhere():
    c = z.size_correction(FITTED, "needle", 0.5, d.deviation_normal(0.06, 0.01))
    assert c.present == 3
    assert c.proposed == 4
    assert side(c, 0.75) == pytest.approx(1.9, abs=1.0)
    assert 0.2 < side(c, 1.0) < 1.5
    assert any("half a groove" in note for note in c.notes)


def test_lean_is_dearer_than_rich():
    wide = d.deviation_normal(0.0, 0.05)
    assert d.best_fuel_change(wide, 3.0) > 0.01
    assert d.best_fuel_change(wide, 1.0) == pytest.approx(0.0, abs=1e-6)
    flat = d.Deviation((-0.04, 0.04), (1.0, 1.0))
    assert d.expected_loss(flat, [(0.02, 1.0)]) < d.expected_loss(flat, [(-0.02, 1.0)])


@pytest.mark.parametrize(("opening", "part"), [(1.0, "main_jet"), (0.75, "main_jet"), (0.5, "needle")])
def test_never_leaner_up_there_while_lean_is_possible(opening, part):
    rich = d.deviation_normal(-0.06, 0.01)
    for p in (0.11, 0.5, 1.0):
        c = z.size_correction(FITTED, part, opening, rich, z.LeanCare(three_quarter=p, full=p))
        assert c.refused
        assert c.proposed is None
    assert z.size_correction(FITTED, part, opening, rich).refused  # unknown counts as lean
    assert z.size_correction(FITTED, part, opening, rich, NOT_LEAN).direction == "leaner"


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(z.PARTS), st.sampled_from([0.0, 0.125, 0.25, 0.5, 0.75, 1.0]), st.floats(-0.12, 0.12),
    st.floats(0.0, 0.05), st.floats(0.0, 1.0), st.floats(0.0, 1.0),
)  # fmt: skip
def test_corrections_keep_their_promises(part, opening, mean, sd, p_three_quarter, p_full):
    deviation = d.deviation_normal(mean, sd)
    c = z.size_correction(FITTED, part, opening, deviation, z.LeanCare(p_three_quarter, p_full))
    if c.refused or c.direction == "none":
        assert c.proposed is None
        return
    assert c.loss_after <= c.loss_before
    assert (c.percent.middle > 0.0) == (c.direction == "richer")
    effects = {e.opening: e.percent for e in c.side_effects} | {opening: c.percent.middle}
    for place, p in ((0.75, p_three_quarter), (1.0, p_full)):
        if p > z.LEAN_LIMIT:
            assert effects[place] >= -0.5
    if part == "needle":
        assert abs(c.proposed - c.present) <= 2
        assert 1 <= c.proposed <= 5
    if part == "main_jet":
        assert max(abs(v) for v in effects.values()) <= 10.0 + 1e-6
        assert c.proposed in j.MAIN_BORE.numbers
    if part == "mixture_screw":
        assert c.proposed is None


def test_too_much_is_refused():
    far = d.deviation_normal(0.25, 0.01)
    assert "two grooves" in z.size_correction(FITTED, "needle", 0.5, far).refused
    assert "10 %" in z.size_correction(FITTED, "main_jet", 1.0, far).refused
    # 5.9 grooves for +10 % at three-quarter in the full model: unusable
    assert "two grooves" in z.size_correction(FITTED, "needle", 0.75, d.deviation_normal(0.095, 0.005)).refused


def test_no_groove_left():
    top = z.parts_of(Geometry(groove=5))
    assert z.size_correction(top, "needle", 0.5, d.deviation_normal(0.06, 0.01)).refused


def test_screw_gets_a_direction_only_and_only_near_closed():
    c = z.size_correction(FITTED, "mixture_screw", 0.0, d.deviation_normal(0.08, 0.02))
    assert c.direction == "richer"
    assert c.proposed is None
    assert any("no size" in note for note in c.notes)
    assert z.size_correction(FITTED, "mixture_screw", 0.25, d.deviation_normal(0.08, 0.02)).refused


def test_nothing_wrong_changes_nothing():
    c = z.size_correction(FITTED, "main_jet", 1.0, d.Deviation((0.0,), (1.0,)))
    assert c.direction == "none"


def test_relative_amounts_without_jet_sizes():
    c = z.size_correction(z.parts_of(Geometry()), "main_jet", 1.0, d.deviation_normal(0.05, 0.01))
    assert c.proposed is None
    assert c.percent.middle == pytest.approx(5.0, abs=2.0)


def test_suggestions_pick_the_part_in_charge():
    lean = d.deviation_normal(0.06, 0.01)
    assert z.suggest_correction(FITTED, 1.0, lean).part == "main_jet"
    assert z.suggest_correction(FITTED, 0.5, lean).part == "needle"
    assert z.suggest_correction(FITTED, 0.0, lean).part == "mixture_screw"
    for kind in ("vacuum_slide", "butterfly", "diaphragm"):
        assert z.suggest_correction(z.parts_of(typical(kind)), 1.0, lean).part == "main_jet"


def test_flow_numbers_use_area_as_the_number():
    flow = z.parts_of(Geometry(), main=j.JetSize(300, "flow"))
    c = z.size_correction(flow, "main_jet", 1.0, d.deviation_normal(0.05, 0.005))
    bore = z.size_correction(FITTED, "main_jet", 1.0, d.deviation_normal(0.05, 0.005))
    assert math.log(c.proposed / 300) == pytest.approx(2.0 * math.log(bore.proposed / 160), abs=0.02)


@pytest.mark.parametrize(
    "call",
    [
        lambda: j.JetSize(160, "bore").area_over(j.JetSize(300, "flow")),
        lambda: j.MAIN_BORE.nearest(j.JetSize(160, "flow")),
        lambda: j.round_toward(j.MAIN_FLOW, j.JetSize(160, "bore"), j.JetSize(162, "bore")),
        lambda: z.parts_of(Geometry(), main=j.JetSize(300, "flow"), main_series=j.MAIN_BORE),
        lambda: j.JetSize(160, "inch"),
        lambda: j.JetSeries("bore", (160.0,)),
        lambda: j.JetSeries("bore", (160.0, 150.0)),
        lambda: d.Deviation((0.0,), (0.0,)),
        lambda: z.size_correction(FITTED, "horn", 0.5, d.deviation_normal(0.0, 0.01)),
    ],
)
def test_mixed_or_broken_inputs_are_refused(call):
    with pytest.raises(CaseError):
        call()


@pytest.mark.parametrize(
    "call",
    [
        lambda: j.JetSize(0.0),
        lambda: j.MAIN_BORE.nearest(j.JetSize(399.0)),
        lambda: d.deviation_normal(2.0, 0.1),
        lambda: z.size_correction(FITTED, "needle", 1.2, d.deviation_normal(0.0, 0.01)),
        lambda: z.LeanCare(full=1.5),
    ],
)
def test_out_of_range(call):
    with pytest.raises(OutOfRangeError):
        call()


@given(st.floats(60, 280), st.floats(60, 280))
def test_rounding_never_crosses(present, wanted):
    p, w = j.MAIN_BORE.nearest(j.JetSize(present)), j.JetSize(wanted)
    got = j.round_toward(j.MAIN_BORE, p, w).number
    assert (got - p.number) * (w.number - p.number) >= 0.0
    assert j.MAIN_BORE.at_most(w).number <= w.number + 1e-9
    assert j.MAIN_BORE.at_least(w).number >= w.number - 1e-9


@given(st.floats(60, 280), st.floats(60, 280))
def test_rounding_keeps_order(one, other):
    low, high = sorted((one, other))
    assert j.MAIN_BORE.nearest(j.JetSize(low)).number <= j.MAIN_BORE.nearest(j.JetSize(high)).number


@given(st.floats(0.8, 1.25), st.sampled_from(j.NUMBERINGS))
def test_scaling_a_jet_scales_its_area(ratio, numbering):
    jet = j.JetSize(160.0, numbering)
    assert j.JetSize(jet.number_at(ratio), jet.numbering).area_over(jet) == pytest.approx(ratio)


def test_bigger_numbers_are_richer_at_full():
    fuels = [log_fuel(z.parts_of(Geometry(), main=j.JetSize(n)).geometry, 1.0) for n in (150, 155, 160, 165)]
    assert fuels == sorted(fuels)
