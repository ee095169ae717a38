"""What the tuning functions promise: sizes that exist, richer when in doubt, cautions, honesty, clear refusals."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import matplotlib as mpl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from carbdiag import Air, AirChange, Case, CaseError, FindingReport, FittedParts, Knowledge, diagnose, tuning
from carbdiag.answers.sweep_plot import draw_sweep
from carbdiag.answers.tuning_text import sweep_csv, tuning_text
from carbdiag.case_schema import Machine
from carbdiag.errors import Problem
from carbdiag.metering import air as metering_air
from carbdiag.metering.jet_series import MAIN_BORE, PILOT_BORE
from carbdiag.records.safety import CautionText
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Level
from carbdiag.tuning_schema import (
    AirInput,
    CorrectionAnswer,
    CorrectionRequest,
    ResizeAnswer,
    ResizeRequest,
    SweepAnswer,
    SweepRequest,
)

EXAMPLES = Path(__file__).parents[1] / "docs" / "examples"
BORE_160: dict[str, Any] = {"number": 160, "numbering": "bore"}
FITTED: dict[str, Any] = {"main_jet": BORE_160, "pilot_jet": {"number": 45, "numbering": "bore"}, "clip_groove": 3}
MACHINE: dict[str, Any] = {"family": "round_slide", "strokes": 2, "parts": FITTED}
LOW = {"elevation_m": 300, "temperature_c": 25}
HIGH = {"elevation_m": 2400, "temperature_c": 5}
MOVED = AirChange(set=Air(elevation_m=300, temperature_c=25), now=Air(elevation_m=2400, temperature_c=5))
BANDS = ["idle", "eighth", "quarter", "half", "three_quarter", "full"]


def resized(k: Knowledge, first: object = LOW, then: object = HIGH, machine: object = MACHINE) -> ResizeAnswer:
    return tuning.resize(ResizeRequest.model_validate({"machine": machine, "set": first, "now": then}), k)


def corrected(k: Knowledge, machine: object = MACHINE, **wanted: object) -> CorrectionAnswer:
    return tuning.correct(CorrectionRequest.model_validate({"machine": machine, **wanted}), k)


def swept(k: Knowledge, machine: object = MACHINE, **changes: object) -> SweepAnswer:
    return tuning.sweep(SweepRequest.model_validate({"machine": machine, **changes}), k)


def refusal(ask: Any, *arguments: object, **more: object) -> Problem:
    """The one problem of a request that reads well but cannot be answered."""
    with pytest.raises(CaseError) as caught:
        ask(*arguments, **more)
    (problem,) = caught.value.problems
    return problem


# ---------------------------------------------------------------------------------------------------------
# Air


@pytest.mark.parametrize(
    ("given", "route", "says"),
    [
        ({"elevation_m": 1000}, "elevation", "standard atmosphere"),
        ({"elevation_m": 1000, "qnh_hpa": 1013.25}, "qnh", "QNH"),
        ({"station_hpa": 898.75}, "station", "barometer at the place"),
    ],
)
def test_three_ways_to_one_pressure_and_each_is_named(given: dict[str, float], route: str, says: str) -> None:
    answer = tuning.air_state(AirInput(temperature_c=20, **given))  # type: ignore[arg-type]
    assert answer.pressure_from == route
    assert says in answer.pressure_words
    assert answer.station_hpa == pytest.approx(898.75, abs=0.1)


def test_a_forecast_pressure_is_never_taken_for_the_pressure_of_the_place() -> None:
    forecast = tuning.air_state(AirInput(temperature_c=20, elevation_m=1000, qnh_hpa=1013.25))
    mistaken = tuning.air_state(AirInput(temperature_c=20, elevation_m=1000, station_hpa=1013.25))
    assert mistaken.relative_density / forecast.relative_density > 1.1
    assert any("forecast" in note for note in mistaken.notes)


def test_humidity_and_dew_point_say_the_same() -> None:
    dry = metering_air.saturation_pressure_pa(15.0) / metering_air.saturation_pressure_pa(25.0)
    from_dew = tuning.air_state(AirInput(temperature_c=25, elevation_m=0, dew_point_c=15))
    from_share = tuning.air_state(AirInput(temperature_c=25, elevation_m=0, humidity_percent=100 * dry))
    assert from_dew == from_share
    assert from_dew.relative_oxygen < from_dew.relative_density  # moisture takes the place of oxygen


BAD_AIR: dict[str, tuple[dict[str, float], str]] = {
    "ambient of 90 C": ({"temperature_c": 90, "elevation_m": 0}, "temperature_c must be from -45 to 60 C"),
    "negative pressure": ({"temperature_c": 20, "station_hpa": -5}, "station_hpa must be from 400 to 1100 hPa"),
    "pressure in pascal": ({"temperature_c": 20, "station_hpa": 101325}, "station_hpa must be from 400 to 1100 hPa"),
    "humidity of 1.2": ({"temperature_c": 20, "elevation_m": 0, "humidity_percent": 1.2}, "50, not 0.5"),
    "humidity of 120": ({"temperature_c": 20, "elevation_m": 0, "humidity_percent": 120}, "must be from 0 to 100 %"),
    "no pressure": ({"temperature_c": 20}, "give elevation_m, or qnh_hpa"),
    "two pressures": ({"temperature_c": 20, "station_hpa": 900, "qnh_hpa": 1013, "elevation_m": 1000}, "not both"),
    "QNH without height": ({"temperature_c": 20, "qnh_hpa": 1013}, "needs elevation_m"),
    "two humidities": (
        {"temperature_c": 20, "elevation_m": 0, "humidity_percent": 50, "dew_point_c": 5},
        "either humidity_percent or dew_point_c",
    ),
    "dew point above the air": ({"temperature_c": 20, "elevation_m": 0, "dew_point_c": 21}, "got 21 C"),
    "too high": ({"temperature_c": 20, "elevation_m": 9000}, "elevation_m must be from -500 to 6000 m"),
}


@pytest.mark.parametrize("name", list(BAD_AIR))
def test_impossible_air_is_refused_with_field_and_range(name: str) -> None:
    given, says = BAD_AIR[name]
    with pytest.raises(ValidationError) as caught:
        AirInput.model_validate(given)
    (error,) = caught.value.errors()
    assert says in f"{'.'.join(map(str, error['loc']))} {error['msg'].removeprefix('Value error, ')}"


def test_a_pressure_that_only_the_sum_makes_impossible_is_refused_in_hpa() -> None:
    problem = refusal(tuning.air_state, AirInput(temperature_c=20, elevation_m=6000, qnh_hpa=870))
    assert problem.field == "station_hpa"
    assert "400 to 1100 hPa" in problem.message


# ---------------------------------------------------------------------------------------------------------
# The machine

BAD_MACHINES: dict[str, tuple[dict[str, Any], str, str]] = {
    "unknown family": ({"family": "round_slid"}, "machine.family", "unknown family"),
    "no family": ({}, "machine.family", "name the kind"),
    "stroke it has not": ({"family": "flat_slide_pump", "strokes": 2}, "machine.strokes", "not known on a 2-stroke"),
    "groove beyond the needle": (
        {"family": "round_slide", "parts": {"clip_groove": 7}},
        "machine.parts.clip_groove",
        "from 1 to 5, got 7",
    ),
    "needle thicker than its jet": (
        {"family": "round_slide", "parts": {"needle_straight_mm": 2.8, "needle_jet_mm": 2.7}},
        "machine.parts.needle_straight_mm",
        "0.5 to 2.7 mm, got 2.8 mm",
    ),
    "bore number of a flow jet": (
        {"family": "round_slide", "parts": {"main_jet": {"number": 900, "numbering": "bore"}}},
        "machine.parts.main_jet",
        "from 10 to 400",
    ),
    "bore number of a flow pilot jet": (
        {"family": "round_slide", "parts": {"pilot_jet": {"number": 900, "numbering": "bore"}}},
        "machine.parts.pilot_jet",
        "from 10 to 400",
    ),
    "bore of nothing that rides": (
        {"family": "round_slide", "parts": {"bore_mm": 5}}, "machine.parts.bore_mm", "from 8 to 60 mm, got 5 mm"
    ),
    "taper above the clip": (
        {"family": "round_slide", "parts": {"needle_taper_mm": 1.5}}, "machine.parts.needle_taper_mm", "got 1.5 mm"
    ),
    "needle that ends before its taper": (
        {"family": "round_slide", "parts": {"needle_taper_mm": 30, "needle_length_mm": 20}},
        "machine.parts.needle_length_mm",
        "from 30 to 120 mm, got 20 mm",
    ),
    "groove measured, taper not": (
        {"family": "round_slide", "parts": {"first_groove_mm": 5}},
        "machine.parts.first_groove_mm",
        "says nothing without needle_taper_mm",
    ),
    "choke on, of no size": (
        {"family": "round_slide", "parts": {"enrichener_open": True}},
        "machine.parts.enrichener_jet_mm",
        "is missing",
    ),
}


@pytest.mark.parametrize("name", list(BAD_MACHINES))
def test_an_impossible_machine_is_refused_everywhere_in_the_same_words(k: Knowledge, name: str) -> None:
    machine, field, says = BAD_MACHINES[name]
    asked = (
        refusal(resized, k, machine=machine),
        refusal(corrected, k, machine, at="half", mixture="lean"),
        refusal(swept, k, machine),
        *([refusal(diagnose, Case(machine=Machine.model_validate(machine)), k)] if machine else []),
    )
    assert {p.field for p in asked} == {field}
    assert all(says in p.message for p in asked)


@pytest.mark.parametrize("parts", [{"needle_jet_mm": 2.0}, {"needle_straight_mm": 3.1}])
def test_one_of_needle_and_needle_jet_is_enough_everywhere(k: Knowledge, parts: dict[str, float]) -> None:
    machine = {"family": "round_slide", "strokes": 2, "parts": parts}
    assert resized(k, machine=machine).moves
    assert diagnose(Case(machine=Machine.model_validate(machine)), k).machine.parts is not None


PARTS = st.fixed_dictionaries(
    {},
    optional={
        "clip_groove": st.integers(1, 7),
        "grooves": st.integers(1, 9),
        "needle_jet_mm": st.sampled_from([1.5, 2.7, 4.0]),
        "needle_straight_mm": st.sampled_from([1.4, 2.6, 4.2]),
        "needle_taper_mm": st.sampled_from([1.0, 17.5, 35.0, 60.0]),
        "needle_length_mm": st.sampled_from([20.0, 28.4, 60.0, 100.0]),
        "first_groove_mm": st.sampled_from([0.0, 7.9]),
        "cutaway_mm": st.sampled_from([0.0, 2.5, 9.0]),
        "bore_mm": st.sampled_from([5, 8, 26, 60]),
        "enrichener_open": st.booleans(),
        "enrichener_jet_mm": st.sampled_from([0.3, 3.0]),
        "main_jet": st.fixed_dictionaries(
            {"number": st.sampled_from([20, 160, 500]), "numbering": st.sampled_from(["bore", "flow"])}
        ),
    },
)


@settings(max_examples=80, deadline=None)
@given(parts=PARTS, family=st.sampled_from(["unknown", "round_slide", "constant_velocity", "diaphragm", "butterfly"]))
def test_any_parts_are_taken_or_refused_by_their_field(k: Knowledge, parts: dict[str, Any], family: str) -> None:
    machine = Machine.model_validate({"family": family, "parts": parts})
    refused: list[Problem] = []
    for ask in (
        lambda: diagnose(Case(machine=machine, air=MOVED, findings=(FindingReport(finding="bogs"),)), k, steps=0),
        lambda: resized(k, machine=machine if family != "unknown" else MACHINE),
    ):
        try:
            ask()
        except CaseError as error:
            refused += error.problems
    assert {p.field.removeprefix("machine.parts.") for p in refused} <= {*FittedParts.model_fields}


@pytest.mark.parametrize("groove", [0, -1, 2.5, "3"])
def test_a_groove_is_counted_from_one_in_whole_numbers(groove: object) -> None:
    with pytest.raises(ValidationError, match="clip_groove"):
        Machine.model_validate({"family": "round_slide", "parts": {"clip_groove": groove}})


@pytest.mark.parametrize("parts", [{"needle_jet_mm": 2.60}, {"needle_straight_mm": 2.75}])
def test_one_of_needle_and_needle_jet_is_enough(k: Knowledge, parts: dict[str, float]) -> None:
    machine = {"family": "round_slide", "parts": parts}
    assert swept(k, machine).rows[10].shares.needle == pytest.approx(swept(k).rows[10].shares.needle, abs=0.1)


# ---------------------------------------------------------------------------------------------------------
# Moving the machine


def test_up_to_thin_air_takes_away_the_least_and_warns_of_the_way_back(k: Knowledge) -> None:
    answer = resized(k)
    main = answer.moves[0]
    assert (answer.direction, main.part, main.present) == ("leaner", "main_jet", 160)
    assert main.most is not None
    assert main.least is not None
    assert main.start_with is not None
    assert main.most <= main.least <= main.start_with <= 160
    assert any("way back" in w for w in answer.warnings)
    assert "descend_rejet" in {c.id for c in answer.cautions}
    assert answer.put_back is not None


def test_down_to_dense_air_starts_from_the_richest_end(k: Knowledge) -> None:
    answer = resized(k, HIGH, LOW)
    main = answer.moves[0]
    assert (answer.direction, main.start_with) == ("richer", main.most)
    assert all(b.mixture.middle > 0 for b in answer.bands)
    assert any("richest end" in w for w in answer.warnings)
    assert "lean_at_full_load" in {c.id for c in answer.cautions}


@pytest.mark.parametrize(("first", "then"), [(LOW, HIGH), (HIGH, LOW)])
def test_moves_come_in_tuning_order_with_sizes_that_exist(k: Knowledge, first: object, then: object) -> None:
    moves = resized(k, first, then).moves
    order = {c: s.rank for s in k.tuning_order.values() for c in s.circuits}
    assert [order[m.part] for m in moves] == sorted(order[m.part] for m in moves)
    series = {"main_jet": MAIN_BORE, "pilot": PILOT_BORE}
    for move in moves:
        if move.part in series:
            assert {move.least, move.most, move.start_with} <= set(series[move.part].numbers)
    (screw,) = [m for m in moves if m.part == "mixture_screw"]
    assert screw.start_with is screw.most is None  # direction only
    assert "no size is promised" in screw.amount


@pytest.mark.parametrize(
    ("strokes", "way", "turn"), [(2, (LOW, HIGH), " OUT"), (2, (HIGH, LOW), " IN"), (4, (LOW, HIGH), " IN")]
)
def test_the_screw_turns_the_way_its_kind_needs(
    k: Knowledge, strokes: int, way: tuple[object, object], turn: str
) -> None:
    """An air screw (two-stroke) lets in air: out is leaner. A fuel screw (four-stroke): in is leaner."""
    move = resized(k, *way, machine={**MACHINE, "strokes": strokes}).moves[-1]
    assert turn in move.do


def test_jets_at_hand_limit_what_is_proposed(k: Knowledge) -> None:
    machine = {**MACHINE, "parts": {**FITTED, "main_jets_at_hand": [150, 158]}}
    main = resized(k, machine=machine).moves[0]
    assert {main.start_with, main.least, main.most} <= {150, 158, 160}


def test_without_listed_jets_the_amounts_are_relative(k: Knowledge) -> None:
    main = resized(k, machine={"family": "round_slide"}).moves[0]
    assert main.present is main.start_with is None
    assert "% less jet area" in main.amount


def test_the_same_air_changes_nothing(k: Knowledge) -> None:
    answer = resized(k, LOW, LOW)
    assert (answer.direction, answer.moves, answer.steps) == ("leave", (), ())
    assert all(b.mixture.words == "unchanged" for b in answer.bands)


def test_untouched_bands_run_richer_in_thin_air_and_most_at_full(k: Knowledge) -> None:
    bands = resized(k).bands
    assert [b.place for b in bands] == BANDS
    middles = [b.mixture.middle for b in bands]
    assert middles == sorted(middles, reverse=True)
    assert all(m < 0 for m in middles)


# ---------------------------------------------------------------------------------------------------------
# A correction


def test_lean_at_full_gets_the_next_main_jets(k: Knowledge) -> None:
    answer = corrected(k, at="full", mixture="lean")
    assert (answer.part, answer.direction, answer.present) == ("main_jet", "richer", 160)
    assert answer.proposed in MAIN_BORE.numbers
    assert answer.proposed is not None
    assert answer.proposed > 160
    assert answer.fuel_percent_low <= answer.fuel_percent <= answer.fuel_percent_high
    assert [s.place for s in answer.side_effects] == BANDS[:-1]
    assert answer.side_effects[-1].percent > answer.side_effects[0].percent
    assert answer.verify
    assert answer.put_back
    assert answer.steps == k.actions["change_main_jet"].steps


def test_the_order_before_a_part_is_that_of_the_knowledge(k: Knowledge) -> None:
    before = corrected(k, at="half", mixture="lean").before_this
    stages = sorted((s for s in k.tuning_order.values()), key=lambda s: s.rank)
    needle = next(s.rank for s in stages if "needle" in s.circuits)
    assert [b.split(":")[0] for b in before] == [s.name for s in stages if s.rank < needle]


@pytest.mark.parametrize(("at", "part"), [("half", "needle"), ("full", "main_jet"), ("three_quarter", "main_jet")])
@pytest.mark.parametrize(
    "chances",
    [
        {},
        {"p_lean_full": 0.02},
        {"p_lean_three_quarter": 0.02},
        {"p_lean_full": 0.2, "p_lean_three_quarter": 0.2},
    ],
)
def test_nothing_is_leaned_at_wide_throttle_unless_lean_there_is_ruled_out(
    k: Knowledge, at: str, part: str, chances: dict[str, float]
) -> None:
    answer = corrected(k, at=at, mixture="rich", part=part, **chances)
    assert (answer.direction, answer.proposed, answer.steps) == ("none", None, ())
    assert answer.refused is not None
    assert "lean" in answer.refused
    assert "lean_at_full_load" in {c.id for c in answer.cautions}


def test_ruled_out_it_is_leaned_one_size_at_a_time(k: Knowledge) -> None:
    answer = corrected(k, at="full", mixture="rich", p_lean_three_quarter=0.02, p_lean_full=0.02)
    assert answer.direction == "leaner"
    assert answer.proposed is not None
    assert answer.first == 158
    assert answer.proposed <= answer.first < 160


parts = st.sampled_from(
    [None, "main_jet", "pilot", "needle", "needle_diameter", "cutaway", "float_level", "mixture_screw"]
)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(BANDS),
    st.sampled_from(["very_rich", "rich", "right", "lean", "very_lean"]),
    parts,
    st.floats(0.11, 1.0),
    st.booleans(),
)
def test_never_leaner_at_wide_throttle_whatever_is_asked(
    k: Knowledge, at: str, level: str, part: str | None, chance: float, given: bool
) -> None:
    chances = {"p_lean_three_quarter": chance, "p_lean_full": chance} if given else {}
    answer = corrected(k, at=at, mixture=level, part=part, **chances)
    here = {at: answer.fuel_percent} | {s.place: s.percent for s in answer.side_effects}
    assert min(here.get("three_quarter", 0.0), here.get("full", 0.0)) >= -0.5
    wanted = {"very_rich": -1, "rich": -1, "right": 0, "lean": 1, "very_lean": 1}[level]
    assert here[at] * wanted >= 0
    assert answer.honesty
    assert {"one_change_at_a_time", "manual_first"} <= {c.id for c in answer.cautions}


def test_a_screw_gets_a_direction_and_no_size(k: Knowledge) -> None:
    answer = corrected(k, at="idle", mixture="lean")
    assert (answer.part, answer.proposed, answer.present) == ("mixture_screw", None, None)
    assert answer.do is not None
    assert " IN" in answer.do  # an air screw: in is richer
    assert "direction only" in answer.amount


def test_measured_lambda_is_read_beside_what_the_opening_wants(k: Knowledge) -> None:
    lean = corrected(k, at="full", **{"lambda": 0.93})
    right = k.places["full"].lambda_wanted
    assert right is not None
    assert lean.direction == "richer"
    assert f"where about {right:g} is wanted: 7 % lean" in lean.told
    assert any("misfire" in n for n in lean.notes)


def test_what_no_setting_explains_is_a_fault_to_look_for(k: Knowledge) -> None:
    answer = corrected(k, at="quarter", **{"lambda": 1.4})
    assert answer.refused is not None
    assert "look for the fault" in answer.refused


def test_right_is_left_alone(k: Knowledge) -> None:
    answer = corrected(k, at="half", mixture="right")
    assert (answer.direction, answer.refused) == ("none", None)
    assert any("leave it" in n for n in answer.notes)


def test_without_the_fitted_part_no_size_is_named(k: Knowledge) -> None:
    answer = corrected(k, {"family": "round_slide"}, at="half", mixture="lean")
    assert (answer.part, answer.direction, answer.present, answer.proposed) == ("needle", "richer", None, None)
    assert any("not listed" in n for n in answer.notes)


@pytest.mark.parametrize("at", ["cold_start", "ful", "snap_open"])
def test_only_a_steady_opening_is_corrected(k: Knowledge, at: str) -> None:
    problem = refusal(corrected, k, at=at, mixture="lean")
    assert (problem.field, problem.allowed) == ("at", tuple(BANDS))


@pytest.mark.parametrize("wanted", [{}, {"mixture": "lean", "lambda": 0.9}])
def test_how_far_off_is_told_in_one_way(wanted: dict[str, object]) -> None:
    with pytest.raises(ValidationError, match="give either mixture"):
        CorrectionRequest.model_validate({"machine": MACHINE, "at": "half", **wanted})


# ---------------------------------------------------------------------------------------------------------
# A sweep


def test_the_working_set_up_beside_itself_is_unchanged(k: Knowledge) -> None:
    answer = swept(k)
    assert not answer.changed
    assert all(p.before.middle == p.after.middle == 0 for p in (*answer.bands, *answer.rows))


def test_the_table_by_band_comes_first_and_agrees_with_the_rows(k: Knowledge) -> None:
    answer = swept(k, after={"parts": {"main_jet": {"number": 165, "numbering": "bore"}}}, points=9)
    assert list(SweepAnswer.model_fields).index("bands") < list(SweepAnswer.model_fields).index("rows")
    assert [b.place for b in answer.bands] == BANDS
    assert [r.opening for r in answer.rows] == [i / 8 for i in range(9)]
    by_opening = {r.opening: r for r in answer.rows}
    for band in answer.bands:
        assert by_opening[band.opening].after == band.after
        assert by_opening[band.opening].shares == band.shares


def test_a_bigger_main_is_richer_most_at_full(k: Knowledge) -> None:
    bands = swept(k, after={"parts": {"main_jet": {"number": 165, "numbering": "bore"}}}).bands
    middles = [b.after.middle for b in bands]
    assert middles == sorted(middles, reverse=True)
    assert middles[-1] == pytest.approx(-0.044, abs=0.01)
    assert bands[0].after.words == "unchanged"


def test_flow_numbers_change_the_area_in_proportion_and_bore_numbers_squared(k: Knowledge) -> None:
    def at_full(numbering: str) -> float:
        machine = {"family": "round_slide", "parts": {"main_jet": {"number": 160, "numbering": numbering}}}
        after = {"parts": {"main_jet": {"number": 168, "numbering": numbering}}}
        return swept(k, machine, after=after).bands[-1].after.middle

    assert at_full("bore") / at_full("flow") == pytest.approx(2.0, abs=0.15)


def test_thin_air_and_a_smaller_jet_add_up(k: Knowledge) -> None:
    smaller = {"parts": {"main_jet": {"number": 155, "numbering": "bore"}}}
    both = swept(k, working={"air": LOW}, before={"air": HIGH}, after=smaller).bands[-1]
    jet = swept(k, after=smaller).bands[-1].after.middle
    assert both.before.middle == pytest.approx(resized(k).bands[-1].mixture.middle, abs=1e-4)
    assert both.after.middle == pytest.approx(both.before.middle + jet, abs=1e-3)


def test_alcohol_is_lean_and_methanol_says_why_it_is_dangerous(k: Knowledge) -> None:
    answer = swept(k, before={"fuel": "methanol"})
    assert answer.bands[-1].before.middle > 0.5
    assert {"methanol", "lean_at_full_load"} <= {c.id for c in answer.cautions}
    assert swept(k, before={"premix_ratio": 32}).bands[-1].before.middle == pytest.approx(0.033, abs=0.003)


def test_a_leaner_plan_carries_the_cautions_of_its_parts(k: Knowledge) -> None:
    plan = {"parts": {"clip_groove": 1, "main_jet": {"number": 150, "numbering": "bore"}}}
    answer = swept(k, after=plan)
    needed = {"lean_at_full_load", "one_change_at_a_time", "emissions_law", "throttle_snaps_shut", "fuel_vapor"}
    assert needed <= {c.id for c in answer.cautions}
    assert any("taper" in n for n in answer.notes)


REFUSED_CHANGES: dict[str, tuple[dict[str, Any], str, str]] = {
    "mixed numbering": (
        {"after": {"parts": {"main_jet": {"number": 300, "numbering": "flow"}}}},
        "after.parts.main_jet",
        "cannot be compared",
    ),
    "part not listed": (
        {"before": {"parts": {"cutaway_mm": 2.0}}},
        "before.parts.cutaway_mm",
        "does not say what is fitted",
    ),
    "groove beyond the needle": ({"after": {"parts": {"clip_groove": 6}}}, "after.parts.clip_groove", "from 1 to 5"),
    "air beside no air": ({"after": {"air": LOW}}, "working.air", "is missing"),
}


@pytest.mark.parametrize("name", list(REFUSED_CHANGES))
def test_what_cannot_be_compared_is_refused_at_its_field(k: Knowledge, name: str) -> None:
    changes, field, says = REFUSED_CHANGES[name]
    problem = refusal(swept, k, **changes)
    assert problem.field == field
    assert says in problem.message


def test_the_csv_has_the_columns_of_the_metering_and_every_row(k: Knowledge) -> None:
    lines = sweep_csv(swept(k, points=50)).splitlines()
    assert lines[0] == (
        "opening,before_low,before_x,before_high,after_low,after_x,after_high,pilot,needle,main_jet,cutaway"
    )
    assert len(lines) == 51
    assert lines[-1].startswith("1.0000,0.0000")


# ---------------------------------------------------------------------------------------------------------
# As text

ASKED = {
    "resize": lambda k, data: tuning.resize(ResizeRequest.model_validate(data), k),
    "correct": lambda k, data: tuning.correct(CorrectionRequest.model_validate(data), k),
    "sweep": lambda k, data: tuning.sweep(SweepRequest.model_validate(data), k),
}


@pytest.mark.parametrize("name", list(ASKED))
def test_the_text_of_an_example_drops_no_caution_no_band_and_not_the_honesty(k: Knowledge, name: str) -> None:
    answer = ASKED[name](k, parse_yaml((EXAMPLES / f"{name}.yaml").read_text(encoding="utf-8")))
    text = tuning_text(answer)
    flat = " ".join(text.split())
    assert max(len(line) for line in text.splitlines()) <= 88
    assert "invented" in (EXAMPLES / f"{name}.yaml").read_text(encoding="utf-8")
    for said in (*(c.text for c in answer.cautions), answer.honesty, *answer.notes):
        assert " ".join(said.split()) in flat
    for band in BANDS:
        assert f"\n  {k.places[band].name} " in text


def test_a_refused_correction_is_told_without_steps_but_with_its_cautions(k: Knowledge) -> None:
    answer = corrected(k, at="full", mixture="rich")
    text = tuning_text(answer)
    assert "NO SIZE GIVEN" in text
    assert "How (" not in text
    assert all(" ".join(c.text.split()) in " ".join(text.split()) for c in answer.cautions)


def test_words_of_a_mixture_follow_its_numbers() -> None:
    assert tuning.mixture_span(0.0, 0.0, 0.0).words == "unchanged"
    assert tuning.mixture_span(0.05, 0.06, 0.08).words == "6 % leaner (5 to 8 %)"
    assert tuning.mixture_span(-0.012, -0.004, 0.0).words == "hardly changed (up to 1 % richer)"


# ---------------------------------------------------------------------------------------------------------
# As a picture


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_the_plot_is_written_and_is_the_same_every_time(k: Knowledge, tmp_path: Path, ending: str) -> None:
    answer = swept(k, after={"parts": {"clip_groove": 2}})
    files = [tmp_path / f"{n}.{ending}" for n in "ab"]
    for file in files:
        draw_sweep(answer, file)
    assert files[0].read_bytes() == files[1].read_bytes()
    assert files[0].read_bytes()[:4] in (b"<?xm", b"\x89PNG")


def test_the_plot_speaks_in_words_and_in_one_ink(k: Knowledge, tmp_path: Path) -> None:
    file = tmp_path / "plot.svg"
    with mpl.rc_context({"svg.fonttype": "none"}):
        draw_sweep(swept(k, after={"parts": {"clip_groove": 2}}), file)
    drawn = file.read_text(encoding="utf-8")
    for word in ("LEANER", "RICHER", "% leaner", "as it ran right", "needle", "main jet", "pilot", "1/4", "promised"):
        assert word in drawn
    inks = {tuple(int(h[i : i + 2], 16) for i in (1, 3, 5)) for h in re.findall(r"#[0-9a-f]{6}", drawn)}
    assert all(max(ink) - min(ink) <= 24 for ink in inks), "grays and one dark ink only"


# Cautions ---------------------------------------------------------------------------------------------------


def test_a_caution_says_itself_when_sized_parts_need_it() -> None:
    k = Knowledge.load()
    own = k.cautions["manual_first"].model_copy(update={"id": "read_the_book", "sizing": ("always",)})
    texts = {**k.caution_texts, own.id: CautionText(id=own.id, text=own.text, short=own.short)}
    mine = replace(k, cautions={**k.cautions, own.id: own}, caution_texts=texts)
    request = CorrectionRequest(machine=Machine(family="round_slide"), at="full", mixture=Level.LEAN)
    given = [c.id for c in tuning.correct(request, k).cautions]
    assert {"lean_at_full_load", "one_change_at_a_time", "manual_first"} <= set(given)
    assert [c.id for c in tuning.correct(request, mine).cautions] == [*given, "read_the_book"]
