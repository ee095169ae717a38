"""Series law, fuels and openings: exact limits, a bisection of the full equation, textbook examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from carbdiag.errors import CaseError, OutOfRangeError
from carbdiag.metering import fuel as f
from carbdiag.metering import fuel_path as p
from carbdiag.metering import openings as o

areas = st.floats(0.05, 5.0)
bleeds = st.floats(0.0, 2.0)
shares = st.floats(0.0, 1.0)


def solved(jet, exit_, air, head, depression):
    """Fuel conductance times root of pressure, from the full equation by bisection on the well depression."""
    low, high = 0.0, depression
    for _ in range(200):
        a = 0.5 * (low + high)
        fuel = jet * math.sqrt(max(0.0, a - head))
        if exit_ * math.sqrt(depression - a) > fuel + air * math.sqrt(a):
            low = a
        else:
            high = a
    return jet * math.sqrt(max(0.0, low - head))


@given(areas, areas, bleeds)
def test_closed_form_is_exact_without_head(jet, exit_, air):
    path = p.series_path(jet, exit_, air)
    assert path.conductance_mm2 * math.sqrt(2000.0) == pytest.approx(solved(jet, exit_, air, 0.0, 2000.0), rel=1e-6)


@given(areas, areas)
def test_closed_form_is_exact_without_air_bleed(jet, exit_):
    path = p.series_path(jet, exit_, 0.0, 110.0)
    ours = path.conductance_mm2 * math.sqrt(2000.0 - path.start_pa)
    assert ours == pytest.approx(solved(jet, exit_, 0.0, 110.0, 2000.0), rel=1e-6)


@pytest.mark.parametrize(("from_", "to", "error"), [(16.0, 60.0, 0.09), (8.0, 16.0, 0.17), (4.0, 8.0, 0.32)])
@given(jet=st.floats(0.5, 2.0), exit_=st.floats(0.3, 4.0), air=st.floats(0.0, 0.3), share=shares)
def test_closed_form_with_head_and_bleed_is_as_close_as_stated(from_, to, error, jet, exit_, air, share):
    """The errors stated in the module text; it reads high, never low."""
    path = p.series_path(jet, exit_, air, 110.0)
    depression = (from_ + share * (to - from_)) * path.start_pa
    ours = path.conductance_mm2 * math.sqrt(depression - path.start_pa)
    exact = solved(jet, exit_, air, 110.0, depression)
    assert exact * (1.0 - 1e-6) <= ours <= exact * (1.0 + error)


@given(st.floats(0.5, 2.0), st.floats(0.3, 4.0), st.floats(0.0, 0.3))
def test_fuel_starts_at_the_exact_depression(jet, exit_, air):
    start = p.series_path(jet, exit_, air, 110.0).start_pa
    assert solved(jet, exit_, air, 110.0, start * 0.999) == 0.0
    assert solved(jet, exit_, air, 110.0, start * 1.01) > 0.0


@given(areas, areas, bleeds)
def test_elasticities_sum_to_one_and_match_finite_differences(jet, exit_, air):
    path = p.series_path(jet, exit_, air)
    assert path.s_jet + path.s_exit + path.s_air == pytest.approx(1.0)
    h = 1e-5
    up = math.log(p.series_path(jet * (1 + h), exit_, air).conductance_mm2 / path.conductance_mm2) / h
    assert up == pytest.approx(path.s_jet, abs=1e-3)
    up = math.log(p.series_path(jet, exit_ * (1 + h), air).conductance_mm2 / path.conductance_mm2) / h
    assert up == pytest.approx(path.s_exit, abs=1e-3)


@given(st.floats(0.0, 2.0))
def test_needle_and_main_are_equal_where_the_series_law_has_them_so(bleed):
    """S_J = S_N where N^2 = J (J + A): at equal areas without an air bleed."""
    path = p.series_path(1.0, math.sqrt(1.0 + bleed), bleed)
    assert path.s_jet == pytest.approx(path.s_exit)


def test_textbook_simple_carburetor():
    """Problem file FOSSEE/Scilab-TBC-Uploads 443, EX8.5: A/F 15.1526 without lip, 15.1876 with 5 mm lip."""
    air = p.orifice_flow_kg_s(p.jet_area_mm2(2.0, 0.8) * 100.0, 1.2, 8000.0)  # 20 mm throat
    fuel_area = p.jet_area_mm2(1.14, 0.65)
    assert air / p.orifice_flow_kg_s(fuel_area, 750.0, 8000.0) == pytest.approx(15.1526, abs=1e-3)
    lip = p.float_head_pa(5.0, 750.0)
    assert air / p.orifice_flow_kg_s(fuel_area, 750.0, 8000.0 - lip) == pytest.approx(15.1876, abs=1e-3)


@pytest.mark.parametrize(
    ("fuel", "area", "diameter"),
    [(f.E10, 1.038, 1.019), (f.E85, 1.46, 1.21), (f.ETHANOL, 1.58, 1.26), (f.METHANOL, 2.20, 1.48)],
)
def test_fuel_area_factors(fuel, area, diameter):
    """Against the factors of the facts file (densities there from memory too), to their printed digits."""
    assert f.area_factor(f.PETROL, fuel) == pytest.approx(area, rel=5e-3)
    assert math.sqrt(f.area_factor(f.PETROL, fuel)) == pytest.approx(diameter, rel=6e-3)


@pytest.mark.parametrize(("ratio", "area"), [(32.0, 1.034), (40.0, 1.027), (50.0, 1.022)])
def test_premix_area_factors(ratio, area):
    assert f.area_factor(f.PETROL, f.premix(f.PETROL, ratio)) == pytest.approx(area, abs=1e-3)


def test_e10_ratio_against_published():
    """Published 14.7 to about 14.1: https://fanforum.uscho.com/threads/5-dollar-gas-are-we-ready.20025/page-16"""
    assert f.E10.stoichiometric_ratio == pytest.approx(14.1, abs=0.05)


def test_more_oil_and_warmer_fuel_run_leaner():
    assert f.fuel_shift_x(f.premix(f.PETROL, 50.0), f.premix(f.PETROL, 25.0)) > 0.0
    assert f.fuel_shift_x(f.PETROL, f.PETROL, 15.0, 45.0) > 0.0


@pytest.mark.parametrize(("lift", "share"), [(1 / 8, 0.07), (1 / 4, 0.20), (3 / 8, 0.34), (1 / 2, 0.50), (3 / 4, 0.80)])
def test_round_slide_area(lift, share):
    assert o.round_slide_open_fraction(lift) == pytest.approx(share, abs=0.006)


@pytest.mark.parametrize(
    ("plate", "share"), [(1 / 8, 0.04), (1 / 4, 0.11), (3 / 8, 0.21), (1 / 2, 0.34), (3 / 4, 0.65)]
)
def test_butterfly_area(plate, share):
    assert o.butterfly_open_fraction(plate) == pytest.approx(share, abs=0.006)
    assert o.butterfly_opening_for(o.butterfly_open_fraction(plate)) == pytest.approx(plate)


@given(shares, shares, st.floats(1.0, 2.0))
def test_openings_grow_with_lift(one, other, ratio):
    low, high = sorted((one, other))
    assert o.round_slide_open_fraction(low) <= o.round_slide_open_fraction(high) + 1e-12
    assert o.flat_slide_open_fraction(low, ratio) <= o.flat_slide_open_fraction(high, ratio) + 1e-12
    assert o.vacuum_slide_demand(low) <= o.vacuum_slide_demand(high) + 1e-12


@given(shares)
def test_flat_slide_with_round_throat_is_the_round_slide(lift):
    assert o.flat_slide_open_fraction(lift, 1.0) == pytest.approx(o.round_slide_open_fraction(lift), abs=1e-12)


@given(st.floats(0.01, 0.99), st.floats(0.0, 3.0))
def test_vacuum_slide_lift_inverts_its_demand(lift, rise):
    assert o.vacuum_slide_lift(o.vacuum_slide_demand(lift, rise), rise) == pytest.approx(lift, abs=2e-6)


@pytest.mark.parametrize(
    "call",
    [
        lambda: p.annulus_area_mm2(2.70, 2.75),
        lambda: p.jet_area_mm2(-1.0),
        lambda: p.series_path(0.0, 1.0, 0.0),
        lambda: p.float_head_pa(-3.0),
        lambda: f.ethanol_blend(1.1),
        lambda: f.premix(f.PETROL, 2.0),
        lambda: f.PETROL.density_kg_m3(90.0),
        lambda: o.round_slide_open_fraction(1.01),
    ],
)
def test_out_of_range(call):
    with pytest.raises(OutOfRangeError):
        call()


def test_unknown_fuel_lists_the_known():
    with pytest.raises(CaseError, match="methanol"):
        f.fuel_named("kerosene")
