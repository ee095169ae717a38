"""Air against outside references: frozen numbers, and the libraries themselves when they are installed."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from carbdiag.errors import CaseError, OutOfRangeError
from carbdiag.metering import air as a

from .reference_numbers import (
    ISA_AMBIANCE,
    ISA_FLUIDS,
    MOIST_DENSITY,
    PRINTED_DENSITY_HALF_SATURATED,
    PRINTED_STANDARD_ATMOSPHERE,
    PRINTED_VAPOR_PRESSURE,
    SATURATION,
    STATION_METPY,
    TEXTBOOK_ALTITUDE,
)

temperatures = st.floats(-40.0, 50.0)
pressures = st.floats(55_000.0, 108_000.0)
humidities = st.floats(0.0, 1.0)


@pytest.mark.parametrize(("elevation", "kelvin", "pascal", "density"), ISA_AMBIANCE)
def test_standard_atmosphere_against_ambiance(elevation, kelvin, pascal, density):
    assert a.standard_pressure_pa(elevation) == pytest.approx(pascal, rel=1e-5)
    assert a.standard_temperature_k(elevation) == pytest.approx(kelvin, rel=1e-6)
    dry = a.AirState(a.standard_pressure_pa(elevation), a.standard_temperature_k(elevation) - 273.15, 0.0)
    assert dry.moist_density_kg_m3 == pytest.approx(density, rel=5e-5)


@pytest.mark.parametrize(("elevation", "kelvin", "pascal"), ISA_FLUIDS)
def test_standard_atmosphere_against_fluids(elevation, kelvin, pascal):
    assert a.standard_pressure_pa(elevation) == pytest.approx(pascal, rel=1e-5)
    assert a.standard_temperature_k(elevation) == pytest.approx(kelvin, rel=1e-6)


def test_standard_atmosphere_against_installed_libraries():
    ambiance = pytest.importorskip("ambiance")
    atmosphere = pytest.importorskip("fluids.atmosphere")
    for z in range(-400, 6001, 350):
        ours = a.standard_pressure_pa(float(z))
        assert ours == pytest.approx(float(ambiance.Atmosphere(float(z)).pressure[0]), rel=1e-5)
        assert ours == pytest.approx(atmosphere.ATMOSPHERE_1976(float(z)).P, rel=1e-5)


@pytest.mark.parametrize(("elevation", "pascal"), PRINTED_STANDARD_ATMOSPHERE)
def test_standard_atmosphere_against_printed_table(elevation, pascal):
    assert a.standard_pressure_pa(elevation) == pytest.approx(pascal, rel=1e-3)


@pytest.mark.parametrize(("celsius", "coolprop", "iapws"), SATURATION)
def test_saturation_pressure(celsius, coolprop, iapws):
    assert a.saturation_pressure_pa(celsius) == pytest.approx(coolprop, rel=1e-3)
    assert a.saturation_pressure_pa(celsius) == pytest.approx(iapws, rel=1e-3)


@pytest.mark.parametrize(("celsius", "kilopascal"), PRINTED_VAPOR_PRESSURE)
def test_saturation_pressure_against_printed_table(celsius, kilopascal):
    assert a.saturation_pressure_pa(celsius) == pytest.approx(1000.0 * kilopascal, rel=1e-3)


def test_saturation_pressure_at_the_triple_point():
    """611.657 Pa: https://doi.org/10.6028/jres.080A.071"""
    assert a.saturation_pressure_pa(0.01) == pytest.approx(611.657, rel=1e-3)


@pytest.mark.parametrize(("pascal", "celsius", "humidity", "density"), MOIST_DENSITY)
def test_moist_density_against_coolprop(pascal, celsius, humidity, density):
    assert a.AirState(pascal, celsius, humidity).moist_density_kg_m3 == pytest.approx(density, rel=1.5e-3)


@pytest.mark.parametrize(("celsius", "gram"), PRINTED_DENSITY_HALF_SATURATED)
def test_moist_density_against_printed_table(celsius, gram):
    state = a.AirState(101_325.0, celsius, 0.5)
    assert state.moist_density_kg_m3 == pytest.approx(1000.0 * gram, rel=2e-3)


@pytest.mark.parametrize(("qnh", "elevation", "pascal"), STATION_METPY)
def test_station_pressure_against_metpy(qnh, elevation, pascal):
    assert a.station_pressure_pa(qnh, elevation) == pytest.approx(pascal, rel=5e-4)


@given(st.floats(90_000.0, 106_000.0), st.floats(-400.0, 4000.0))
def test_qnh_round_trip(qnh, elevation):
    station = a.station_pressure_pa(qnh, elevation)
    assume(station <= 110_000.0)  # below the sea on a day of high pressure a barometer leaves the valid range
    assert a.qnh_pa(station, elevation) == pytest.approx(qnh, rel=1e-9)


@pytest.mark.parametrize(("elevation", "ratio"), TEXTBOOK_ALTITUDE)
def test_mixture_ratio_follows_the_textbook_square_root_law(elevation, ratio):
    """p = 10^(-h/19200) bar, T = 300 - 0.0065 h: the textbook's own air, so only the law is tested."""
    low = a.AirState(100_000.0, 300.0 - 273.15, 0.0)
    high = a.AirState(1e5 * 10.0 ** (-elevation / 19_200.0), 300.0 - 0.0065 * elevation - 273.15, 0.0)
    assert 15.0 / a.mixture_ratio(low, high) == pytest.approx(ratio, abs=1e-2)


def test_humidity_costs_more_oxygen_than_density():
    """At 10/20/30/40 C density falls 0.46/0.87/1.58/2.75 %, oxygen 1.2/2.3/4.2/7.3 % (own earlier)."""
    for celsius, density, oxygen in ((10, 0.46, 1.2), (20, 0.87, 2.3), (30, 1.58, 4.2), (40, 2.75, 7.3)):
        dry, wet = a.AirState(101_325.0, celsius, 0.0), a.AirState(101_325.0, celsius, 1.0)
        assert 100.0 * (1.0 - a.relative_density(wet, dry)) == pytest.approx(density, abs=0.05)
        assert 100.0 * (1.0 - a.relative_oxygen(wet, dry)) == pytest.approx(oxygen, abs=0.06)
        assert a.mixture_ratio(dry, wet) > 1.0


def test_a_forecast_pressure_taken_for_station_pressure_is_noticed():
    state = a.air_state(station_pa=101_325.0, elevation_m=1000.0, temperature_c=20.0)
    assert any("forecast" in note for note in state.notes)
    right = a.air_state(qnh_pa=101_325.0, elevation_m=1000.0, temperature_c=20.0)
    assert state.moist_density_kg_m3 / right.moist_density_kg_m3 == pytest.approx(1.127, abs=0.002)


@given(pressures, temperatures, humidities)
def test_dry_part_is_never_denser_than_the_whole(pascal, celsius, humidity):
    state = a.AirState(pascal, celsius, humidity)
    assert state.dry_density_kg_m3 <= state.moist_density_kg_m3
    assert 0.15 < state.oxygen_mole_fraction <= 0.20946


@given(pressures, temperatures, temperatures, st.floats(0.0, 1.0))
def test_denser_dry_air_never_makes_fixed_jets_richer(pascal, one, other, opening):
    warm, cold = a.AirState(pascal, max(one, other), 0.0), a.AirState(pascal, min(one, other), 0.0)
    shift = a.air_shift_x(warm, cold, opening)
    assert shift.low >= -1e-12
    assert shift.low <= shift.middle <= shift.high


@given(pressures, temperatures, humidities)
def test_mixture_ratio_of_a_move_and_back_is_one(pascal, celsius, humidity):
    here, there = a.STANDARD_AIR, a.AirState(pascal, celsius, humidity)
    assert a.mixture_ratio(here, there) * a.mixture_ratio(there, here) == pytest.approx(1.0)


@given(st.floats(-400.0, 4000.0))
def test_density_altitude_of_standard_air_is_its_elevation(elevation):
    celsius = a.standard_temperature_k(elevation) - 273.15
    state = a.AirState(a.standard_pressure_pa(elevation), celsius, 0.0)
    assert a.density_altitude_m(state) == pytest.approx(elevation, abs=1.0)


def test_dew_point_and_humidity_agree():
    humid = a.relative_humidity_from_dew_point(20.0, 20.0)
    assert humid == pytest.approx(1.0)
    state = a.air_state(elevation_m=0.0, temperature_c=30.0, dew_point_c=20.0)
    assert state.vapor_pressure_pa == pytest.approx(a.saturation_pressure_pa(20.0))


@pytest.mark.parametrize(
    ("call", "quantity", "value"),
    [
        (lambda: a.AirState(-100.0, 20.0), "station pressure", -100.0),
        (lambda: a.AirState(101_325.0, 90.0), "temperature", 90.0),
        (lambda: a.AirState(101_325.0, 20.0, 1.2), "relative humidity", 1.2),
        (lambda: a.AirState(101_325.0, math.nan), "temperature", None),
        (lambda: a.standard_pressure_pa(9000.0), "elevation", 9000.0),
        (lambda: a.station_pressure_pa(1013.0, 100.0), "QNH", 1013.0),
        (lambda: a.relative_humidity_from_dew_point(20.0, 25.0), "dew point", 25.0),
        (lambda: a.mixture_exponent(1.5), "throttle opening", 1.5),
    ],
)
def test_out_of_range_says_what_and_why(call, quantity, value):
    with pytest.raises(OutOfRangeError) as caught:
        call()
    assert caught.value.quantity == quantity
    if value is not None:
        assert caught.value.value == value
    assert caught.value.low < caught.value.high


@pytest.mark.parametrize(
    "arguments",
    [
        {"temperature_c": 20.0},
        {"temperature_c": 20.0, "qnh_pa": 101_325.0},
        {"temperature_c": 20.0, "qnh_pa": 101_325.0, "station_pa": 95_000.0, "elevation_m": 10.0},
        {"temperature_c": 20.0, "elevation_m": 10.0, "relative_humidity": 0.5, "dew_point_c": 5.0},
    ],
)
def test_contradicting_inputs_are_refused(arguments):
    with pytest.raises(CaseError):
        a.air_state(**arguments)
