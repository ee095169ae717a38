"""Circuit shares against the model table, its practical steps, and the published bands; properties.

Disagreements with published bands, kept on purpose and asserted where they can be:
- cutaway peaks below 1/16, published 1/8 to 1/4 (one column 1/8 to 1/2);
- the needle's taper must reach the jet near 1/8 for a flat mixture, published 1/4;
- published ends of the pilot band are 1/8, 15-20 %, 1/4 and 3/8: here its share passes 25 % near 0.18 and
  10 % near 0.38, inside that spread and equal to none of them;
- an air screw keeps 4 to 5 % per half turn at 1/16 to 1/8 here, 1 to 2 % in the table of steps: direction
  only;
- one float millimeter above closed gives 0.1 to 0.4 % here, 0.2 to 1.0 % in the table.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag.errors import CaseError, OutOfRangeError
from carbdiag.metering import plausible as p
from carbdiag.metering import shares as s
from carbdiag.metering import steps as t
from carbdiag.metering.fuel_path import annulus_area_mm2, jet_area_mm2, series_path
from carbdiag.metering.geometry import KINDS, TYPICAL, Geometry, typical, with_parts

openings = st.floats(0.0, 1.0)

MODEL_TABLE = {
    "pilot": ((.80, 1., 1.), (.27, .36, .95), (.25, .35, .72), (.11, .17, .41), (.04, .07, .17), (.03, .04,
    .11),
              (.02, .04, .09)),
    "cutaway": ((0., 0., 1.), (.18, .53, .70), (.14, .35, .46), (.11, .25, .35), (.07, .14, .27), (.04, .08,
    .18),
                (.02, .03, .08)),
    "needle": ((0., 0., 0.), (.30, .67, .92), (.43, .65, .83), (.58, .75, .86), (.49, .64, .76), (.26, .42,
    .55),
               (.16, .29, .41)),
    "main_jet": ((0., 0., 0.), (0., .03, .13), (.02, .05, .16), (.07, .18, .27), (.27, .41, .46), (.52, .61,
    .70),
                 (.64, .72, .81)),
}  # fmt: skip
"""10 %, 50 %, 90 % of 28 re-calibrated slide models at GRID (cutaway at closed: not stated, so unbounded)."""


@pytest.mark.parametrize("circuit", list(MODEL_TABLE))
@pytest.mark.parametrize("i", range(7))
def test_default_lies_inside_the_model_table(circuit, i):
    """By construction: the default's constants were chosen for this. See the text of `shares`."""
    low, _, high = MODEL_TABLE[circuit][i]
    value = getattr(s.shares_at(Geometry(), s.GRID[i]), circuit)
    assert low - 1e-9 <= value <= high + 1e-9


@pytest.mark.parametrize("circuit", list(MODEL_TABLE))
@pytest.mark.parametrize("i", range(1, 7))
def test_our_interval_overlaps_the_table_and_holds_our_value(circuit, i):
    low, _, high = MODEL_TABLE[circuit][i]
    span = p.share_spans(Geometry(), s.GRID[i]).of(circuit)
    assert span.low <= span.middle <= span.high
    assert span.low < high
    assert span.high > low


def test_default_mixture_is_flat():
    at = [
        s.relative_mixture(Geometry(), o) for o in (0.0625, 0.09, 0.125, 0.18, 0.25, 0.37, 0.5, 0.62, 0.75, 0.87, 1.0)
    ]
    mean = sum(at) / len(at)
    assert math.sqrt(sum((x - mean) ** 2 for x in at) / len(at)) < 0.04


# percent fuel for one practical step: own metering model, 28 variants, at s.GRID
STEP_TABLE = {
    "pilot": (10, 4.1, 3.7, 1.8, 0.7, 0.4, 0.4),
    "cutaway": (None, 12, 8, 6, 3, 2, 0.9),
    "needle": (0, 0, 8, 8, 6, 1.8, 0.7),
    "main_jet": (0, 0.1, 0.2, 0.7, 1.3, 2.1, 2.4),
}


@pytest.mark.parametrize("circuit", list(STEP_TABLE))
@pytest.mark.parametrize("i", range(7))
def test_practical_steps_are_of_the_tables_size(circuit, i):
    """Within half of the table's figure or half a percent: it has no interval. Printed with `-s`."""
    wanted = STEP_TABLE[circuit][i]
    if wanted is None:
        return
    ours = t.step_percent(Geometry(), circuit, s.GRID[i])
    print(f"{circuit:9} at {s.GRID[i]:.4f}: ours {ours:5.2f} %, table {wanted} %")
    assert ours == pytest.approx(wanted, rel=0.5, abs=0.5)


def crossing(function, low=0.03, high=1.0):
    for _ in range(50):
        middle = 0.5 * (low + high)
        if function(middle) > 0.0:
            low = middle
        else:
            high = middle
    return low


def test_band_edges_beside_published_charts():
    """Compared and printed, not tuned: published needle-to-main change at 3/4 (an article 0.60); pilot ends
    anywhere from 1/8 to 3/8."""
    g = Geometry()
    quarter = crossing(lambda o: s.shares_at(g, o).pilot - 0.25)
    tenth = crossing(lambda o: s.shares_at(g, o).pilot - 0.10)
    main = crossing(lambda o: s.shares_at(g, o).needle - s.shares_at(g, o).main_jet, 0.2)
    step = crossing(lambda o: t.step_percent(g, "needle", o) - t.step_percent(g, "main_jet", o), 0.3)
    print(f"pilot under 25 % at {quarter:.2f} (published end 1/8 to 1/4), under 10 % at {tenth:.2f} (3/8)")
    print(f"needle to main: by area {main:.2f} [.52-.75], by practical step {step:.2f} (published 3/4, 0.60)")
    assert 0.12 <= quarter <= 0.38
    assert 0.28 <= tenth <= 0.79
    assert 0.52 <= main <= 0.75
    assert 0.55 <= step <= 0.80


def test_oversize_main_also_richens_the_middle():
    """Published: http://piled-arms.com/tech34.html ; model: +5 % at full is +4.1, +2.4, +1.3 % lower down."""
    big = Geometry(main_jet_mm=1.71)
    gains = [s.log_fuel(big, o) - s.log_fuel(Geometry(), o) for o in (0.25, 0.5, 0.75, 1.0)]
    assert gains == sorted(gains)
    assert gains[0] > 0.005


def test_pilot_never_stops_feeding():
    """Factory manual: feeds continuously over the whole range."""
    assert 0.01 < s.shares_at(Geometry(), 1.0).pilot < 0.10


def test_cutaway_peaks_earlier_than_published():
    peak = max(range(1, 101), key=lambda i: s.shares_at(Geometry(), i / 100).cutaway) / 100
    print(f"cutaway peak at {peak:.2f}, published 1/8 to 1/4")
    assert peak < 0.125


def test_shares_use_the_series_law_of_fuel_path():
    g = Geometry(main_air_mm=0.0)
    share = s.shares_at(g, 1.0)
    path = series_path(jet_area_mm2(1.60, 0.72), annulus_area_mm2(2.70, g.needle_mm(1.0), 0.72), 0.0)
    assert share.main_jet == pytest.approx(path.s_jet * (1.0 - share.pilot), rel=1e-9)
    assert share.needle == pytest.approx(path.s_exit * (1.0 - share.pilot), rel=1e-9)


@pytest.mark.parametrize("opening", [0.04, 0.125, 0.3, 0.5, 0.8, 1.0])
def test_elasticities_match_finite_differences(opening):
    g, h = Geometry(), 1e-5
    share = s.shares_at(g, opening)

    def slope(**change):
        return (s.log_fuel(replace(g, **change), opening) - s.log_fuel(g, opening)) / h

    assert slope(main_jet_mm=g.main_jet_mm * math.exp(h / 2)) == pytest.approx(share.main_jet, abs=2e-3)
    assert slope(pilot_jet_mm=g.pilot_jet_mm * math.exp(h / 2)) == pytest.approx(share.pilot_jet, abs=2e-3)
    assert slope(annulus_discharge=g.annulus_discharge * math.exp(h)) == pytest.approx(share.needle, abs=2e-3)
    assert slope(main_air_mm=g.main_air_mm * math.exp(h / 2)) == pytest.approx(share.air_correction, abs=2e-3)
    assert slope(cutaway_mm=g.cutaway_mm * math.exp(-h)) == pytest.approx(share.cutaway, abs=2e-3)
    assert slope(float_head_mm=g.float_head_mm - h) == pytest.approx(share.float_level, abs=2e-3)


@settings(max_examples=150)
@given(
    openings,
    st.floats(1.3, 2.0),
    st.floats(0.35, 0.6),
    st.floats(2.4, 2.66),
    st.floats(1.5, 4.0),
    st.integers(1, 5),
)
def test_pilot_needle_and_main_are_about_one(opening, main, pilot, needle, cutaway, groove):
    g = Geometry(main_jet_mm=main, pilot_jet_mm=pilot, needle_straight_mm=needle, cutaway_mm=cutaway, groove=groove)
    share = s.shares_at(g, opening)
    total = share.pilot + share.needle + share.main_jet
    assert total + share.air_correction == pytest.approx(1.0)
    assert total >= 1.0 - 1e-9
    assert total <= 1.25 or opening < 0.1  # near closed a thick needle lets the bleed act more
    assert min(share.pilot, share.needle, share.main_jet, share.cutaway, share.float_level) >= 0.0


@given(st.sampled_from(KINDS), openings, st.floats(1.001, 1.3))
def test_a_bigger_jet_is_never_leaner(kind, opening, factor):
    g = typical(kind)
    main = with_parts(g, main_jet_mm=g.main_jet_mm * factor)
    pilot = with_parts(g, pilot_jet_mm=g.pilot_jet_mm * factor)
    assert s.log_fuel(main, opening) >= s.log_fuel(g, opening) - 1e-12
    assert s.log_fuel(pilot, opening) >= s.log_fuel(g, opening) - 1e-12


@given(openings, st.sampled_from(["cutaway", "needle", "main_jet", "needle_diameter", "pilot", "mixture_screw"]))
def test_a_richer_step_is_never_leaner(opening, circuit):
    assert t.step_percent(Geometry(), circuit, opening) >= -1e-9


def test_vacuum_slide_is_fixed_in_lift_not_in_plate():
    """Model: full plate lifts .32/.51/.69/.89 at 25/50/75/100 % speed. Change-over near lift .67."""
    g = typical("vacuum_slide")
    for speed, lift in ((0.25, 0.32), (0.5, 0.51), (0.75, 0.69), (1.0, 0.89)):
        assert s.vacuum_slide_lift_at(g, 1.0, speed) == pytest.approx(lift, abs=0.03)
    cross = crossing(lambda o: s.shares_at(g, o).needle - s.shares_at(g, o).main_jet, 0.3)
    print(f"vacuum slide: needle to main at lift {cross:.2f}")
    assert cross == pytest.approx(0.67, abs=0.06)


def test_butterfly_shape():
    """Model: main starts at plate .03-.04 and is half by .06, three quarters by .13."""
    g = typical("butterfly")
    assert s.shares_at(g, 0.03).main_jet == 0.0
    assert s.shares_at(g, 0.06).main_jet == pytest.approx(0.5, abs=0.05)
    assert s.shares_at(g, 0.13).main_jet == pytest.approx(0.75, abs=0.06)
    assert s.shares_at(g, 0.5).main_jet > 0.93


def test_diaphragm_main_starts_above_one_fifth():
    """Published: main above 20 % (https://boatmanuals.tpub.com/TM-55-1905-220-14-8/TM-55-1905-220-14-80369.htm)."""
    g = typical("diaphragm")
    assert s.shares_at(g, 0.20).main_jet == 0.0
    assert s.shares_at(g, 0.24).main_jet > 0.1
    assert 0.05 < s.shares_at(g, 1.0).pilot < 0.12


def test_variants_are_fixed_and_keep_the_owners_parts():
    first, again = p.variants(Geometry(main_jet_mm=1.7)), p.variants(Geometry(main_jet_mm=1.7))
    assert first == again
    assert len(set(first)) == p.VARIANT_COUNT
    assert {g.main_jet_mm for g in first} == {1.7}
    assert all(len(p.variants(TYPICAL[k])) == p.VARIANT_COUNT for k in KINDS)


@pytest.mark.parametrize(
    "parts",
    [
        {"groove": 0}, {"groove": 6}, {"needle_straight_mm": 2.75}, {"main_jet_mm": -1.0},
        {"float_head_mm": 90.0}, {"screw_turns": 0.0}, {"second_taper_deg": 7.9},
    ],
)  # fmt: skip
def test_impossible_parts_are_refused(parts):
    with pytest.raises(OutOfRangeError):
        Geometry(**parts)


def test_unknown_words_are_refused():
    with pytest.raises(CaseError):
        Geometry(kind="rotary")
    with pytest.raises(CaseError):
        typical("rotary")
    with pytest.raises(CaseError):
        t.step_percent(Geometry(), "horn", 0.5)
    with pytest.raises(OutOfRangeError):
        s.shares_at(Geometry(), 1.01)
    with pytest.raises(CaseError):
        s.vacuum_slide_lift_at(Geometry(), 0.5, 1.0)
