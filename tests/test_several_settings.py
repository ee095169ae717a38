"""Several settings off at once are weighed beside all else, after a change that the engine wants set anew."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from carbdiag import Case, Knowledge, diagnose, load_case, to_text
from carbdiag.answers.walk_text import walk_text
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Belief, likeliest
from carbdiag.casework.levels import levels_at
from carbdiag.casework.several_settings import SeveralSettings, combine
from carbdiag.model import compile_model
from carbdiag.records.scales import SeveralSettingsScale
from carbdiag.terms import Change
from carbdiag.walk_answer import with_answer
from carbdiag.walk_schema import StepAnswer, WalkRequest
from carbdiag.walking import walk

MACHINE = {
    "family": "round_slide", "strokes": 2, "cylinders": 1, "carburetors": 1,
    "cooling": "liquid", "fuel_feed": "gravity", "oiling": "premix",
}  # fmt: skip
CHANGED = ["filter_changed", "exhaust_changed"]
#: Three openings told of, each as if another setting were off: no two causes do that.
ALL_OVER = [
    {"finding": "blubbers", "at": ["idle"]},
    {"finding": "surges", "at": ["quarter"]},
    {"finding": "blubbers", "at": ["full"]},
]


def case(findings: list[dict[str, Any]], contexts: list[str] = CHANGED, **told: Any) -> Case:
    return Case.model_validate({"machine": MACHINE, "contexts": contexts, "findings": findings, **told})


def believed(k: Knowledge, told: Case) -> tuple[Belief, SeveralSettings]:
    belief = likeliest(assess(k, told))
    assert belief.several is not None
    return belief, belief.several


def test_without_such_a_change_nothing_is_weighed(k: Knowledge) -> None:
    assert likeliest(assess(k, case(ALL_OVER, ["stood_for_months"]))).several is None


def test_every_two_or_more_settings_are_combined_and_each_further_step_is_less_likely(k: Knowledge) -> None:
    scale = SeveralSettingsScale.model_validate(
        {
            "chance": 0.3, "steps": {"main_jet": 2, "needle": 1}, "trims": {},
            "each_step": 0.5, "mends": 0.3, "too_lean": 2.0,
        }
    )
    model = compile_model(k, "round_slide", 2)
    x, chance, off = combine(model, scale)
    steps = model.network.lattice.steps
    main, needle = steps(model.step_x["main_jet"]), steps(model.step_x["needle"])
    weight = {n: 0.5 ** abs(n) * (2 if n > 0 else 1) for n in range(-2, 3)}
    both = {(m, n): weight[m] * weight[n] for m in (-2, -1, 1, 2) for n in (-1, 1)}
    total = sum(both.values())
    assert x.shape == (len(model.places), len(both))
    assert chance.sum() == pytest.approx(1)
    found = {tuple(column): p for column, p in zip(x.T.tolist(), chance.tolist(), strict=True)}
    assert {(-m, -n) for m, n in zip(off["main_jet"].tolist(), off["needle"].tolist(), strict=True)} == set(both)
    for (m, n), p in both.items():  # more than 0 is too lean, and a step richer is less than 0
        assert found[tuple((-m * main - n * needle).tolist())] == pytest.approx(p / total)


def test_a_machine_with_one_such_setting_combines_nothing(k: Knowledge) -> None:
    scale = k.scales.several_settings.model_copy(update={"steps": {"main_jet": 4}})
    assert combine(compile_model(k, "round_slide", 2), scale)[1].size == 0


def test_trouble_all_over_speaks_for_several_and_a_mimics_sign_against_them(k: Knowledge) -> None:
    _, all_over = believed(k, case(ALL_OVER))
    _, starved = believed(k, case([{"finding": "fades_like_out_of_fuel", "at": ["sustained_full"]}]))
    _, noisy = believed(k, case([{"finding": "mechanical_noise", "at": ["overall"]}]))
    assert all_over.share > k.scales.several_settings.chance > starved.share > noisy.share


def test_what_a_trial_did_decides_which_combination_it_is(k: Knowledge) -> None:
    richer = {"change": "main_jet", "direction": "richer", "steps": 2, "at": "full", "put_back": True}
    lean, rich = (
        believed(k, case([ALL_OVER[1]], trials=[{**richer, "effect": effect}])) for effect in ("better", "worse")
    )
    full = lean[0].model.place("full")
    assert np.average(lean[1].cells[full], weights=lean[1].weights) > np.average(
        rich[1].cells[full], weights=rich[1].weights
    )


def test_the_mixture_by_opening_is_that_of_both_by_their_shares(k: Knowledge) -> None:
    belief, several = believed(k, case(ALL_OVER))
    for place, residual in belief.model.residuals.items():
        with_them = levels_at(belief, place)[0]
        alone = levels_at(Belief(**{**belief.__dict__, "several": None}), place)[0]
        of_several = several.levels(residual, place, int(belief.steps[place]))
        assert math.isclose(of_several.sum(), 1, rel_tol=1e-9)
        expected = (1 - several.share) * alone + several.share * alone.sum() * of_several
        assert with_them == pytest.approx(expected)


@pytest.mark.parametrize(
    ("contexts", "circuit", "way", "stays"),
    [
        (CHANGED, "main_jet", Change.RICHER, True),
        (CHANGED, "main_jet", Change.LEANER, False),
        (CHANGED, "needle", Change.RICHER, False),
        (["stood_for_months"], "main_jet", Change.RICHER, False),
    ],
)
def test_only_a_larger_main_beside_another_filter_stays_where_it_changed_nothing(
    k: Knowledge, contexts: list[str], circuit: str, way: Change, stays: bool
) -> None:
    answer = StepAnswer(kind="trial", id=circuit, direction=way, at="full", outcome="no_change")
    for told, kept in ((answer, stays), (answer.model_copy(update={"put_back": True}), False)):
        after = with_answer(k, case(ALL_OVER, contexts), told)
        assert after.history()[-1].trials[-1].put_back is not kept
    worse = answer.model_copy(update={"outcome": "worse"})
    assert with_answer(k, case(ALL_OVER, contexts), worse).history()[-1].trials[-1].put_back


def test_nothing_is_leaned_first_while_wide_open_may_run_lean(k: Knowledge) -> None:
    """Rich in the middle and lean wide open: the main jet goes richer before the needle goes lower."""
    findings = [
        {"finding": "blubbers", "at": ["quarter"]},
        {"finding": "screams_thin_at_full", "at": ["full"]},
        {"finding": "surges", "at": ["full"]},
    ]
    now = walk(WalkRequest(case=case(findings), asks=0, steps=5), k)
    trials = [(s.id, s.direction) for s in now.steps if s.kind == "trial"]
    assert trials[0] == ("main_jet", Change.RICHER)
    assert ("needle", Change.LEANER) not in trials


def test_a_main_jet_is_not_leaned_where_nothing_is_amiss_wide_open(k: Knowledge) -> None:
    """A larger jet that was not felt, and "above half it is alright": the trouble is at the bottom, and lean."""
    told = Case.model_validate(
        {
            "machine": {"family": "constant_velocity", "strokes": 4},
            "contexts": CHANGED,
            "findings": [
                {"finding": "flat_spot", "at": ["eighth", "quarter"]},
                {"finding": "surges", "at": ["quarter", "half"], "certainty": "maybe"},
                {"finding": "pops_on_overrun", "at": ["overrun"]},
                {"finding": "bogs", "at": ["three_quarter", "full"], "status": "denied"},
            ],
            "trials": [
                {"change": "main_jet", "direction": "richer", "from_size": 125, "to_size": 135, "effect": "no_change"}
            ],
        }
    )
    belief, _ = believed(k, told)
    rich = levels_at(belief, belief.model.place("full"))[0, :2].sum()
    assert rich > 0.5, "else nothing tempts it"
    steps = walk(WalkRequest(case=told, steps=5), k).steps
    assert all((s.id, s.direction) != ("main_jet", Change.LEANER) for s in steps)
    first = next(s for s in steps if s.kind == "trial")
    assert first.id in ("mixture_screw", "pilot", "needle")
    assert first.direction is Change.RICHER


def test_where_several_settings_are_likely_the_answer_says_so_and_in_which_order(k: Knowledge) -> None:
    choke = [("quarter", "better"), ("full", "worse")]
    checks = [{"check": "touch_of_choke", "at": at, "outcome": outcome} for at, outcome in choke]
    d = diagnose(case(ALL_OVER, checks=checks), k)
    assert d.several_settings is not None
    assert d.several_settings.leads
    assert d.answer == "likely"
    assert d.area is None
    ways = [(s.circuit, s.direction) for s in d.several_settings.settings]
    assert ("main_jet", "rich") in ways
    assert ("needle", "lean") in ways
    assert [way for _, way in ways] == sorted(way for _, way in ways)  # too lean ones are put right first
    assert "Several settings are probably off at once" in d.summary
    for form in ("full", "short"):
        assert "Several settings are probably off at once" in " ".join(to_text(d, form=form).split())
        assert "varios ajustes mal a la vez" in " ".join(to_text(d, form=form, language="es").split())


def test_where_nothing_was_set_anew_nothing_is_said_of_several(k: Knowledge) -> None:
    d = diagnose(case(ALL_OVER, ["stood_for_months"]), k)
    assert d.several_settings is None
    assert "at once" not in d.summary


#: A vacuum slide after another filter and exhaust, whose main, needle, pilot and screw were all tried both ways.
TRIED_OUT = """
machine:
  {family: constant_velocity, strokes: 4, cylinders: 1, carburetors: 1, cooling: air, fuel_feed: gravity, oiling: sump}
contexts: [filter_changed, exhaust_changed]
epochs:
  - findings:
      - {finding: will_not_idle, at: idle}
      - {finding: stalls_at_stop, at: idle}
      - {finding: lives_only_on_part_throttle, at: idle}
    trials:
      - {change: mixture_screw, direction: richer, at: idle, effect: better}
      - {change: pilot, direction: richer, at: idle, effect: worse, put_back: true}
  - findings: [{finding: extra_speed_by_itself, at: full, status: denied, asked: true}]
    checks: [{check: count_screw_turns, outcome: as_baseline}, {check: throttle_shaft_wiggle, outcome: tight}]
    trials:
      - {change: needle, direction: richer, at: quarter, effect: worse, put_back: true}
      - {change: main_jet, direction: richer, steps: 2, at: full, effect: better}
      - {change: main_jet, direction: richer, steps: 2, at: full, effect: no_change}
      - {change: needle, direction: leaner, at: quarter, effect: better}
      - {change: needle, direction: leaner, at: quarter, effect: no_change, put_back: true}
      - {change: mixture_screw, direction: richer, at: idle, effect: worse, put_back: true}
      - {change: pilot, direction: leaner, at: idle, effect: better}
      - {change: main_jet, direction: richer, steps: 2, at: full, effect: no_change}
  - findings: [{finding: loads_up, at: idle, status: denied, asked: true}]
    checks: [{check: screw_half_turn_richer, at: idle, outcome: no_change}]
    trials:
      - {change: needle, direction: richer, at: quarter, effect: no_change, put_back: true}
      - {change: mixture_screw, direction: richer, at: idle, effect: worse, put_back: true}
      - {change: mixture_screw, direction: leaner, at: idle, effect: better}
      - {change: mixture_screw, direction: leaner, at: idle, effect: overshot, put_back: true}
      - {change: pilot, direction: leaner, at: idle, effect: worse, put_back: true}
      - {change: pilot, direction: richer, at: idle, effect: overshot, put_back: true}
      - {change: needle, direction: richer, steps: 2, at: quarter, effect: overshot, put_back: true}
      - {change: pilot, direction: richer, at: idle, effect: overshot, put_back: true}
  - checks:
      - {check: choke_home, outcome: fully_home}
      - {check: tap_off_run, outcome: no_change}
      - {check: air_filter_look, outcome: clean}
"""


def test_once_what_can_be_felt_was_tried_it_sends_to_a_measured_mixture(k: Knowledge) -> None:
    """A repair that is unlikely to help is not called the next fix where several settings are likely off."""
    w = walk(WalkRequest(case=load_case(TRIED_OUT), asks=0), k)
    assert w.diagnosis.several_settings is not None
    assert w.diagnosis.several_settings.leads
    assert w.steps[0].kind == "repair"
    assert w.advice.kind == "workshop"
    assert "mixture measured at every opening" in w.advice.text
    assert "haz medir la mezcla en cada apertura" in " ".join(walk_text(w, language="es").split()).lower()


CURED_ON_TOP = """
machine: {family: round_slide, strokes: 2}
contexts: [exhaust_changed]
epochs:
  - findings: [{finding: good_low_flat_on_top, at: full}]
    trials: [{change: main_jet, from_size: 170, to_size: 178, at: full, effect: cured}]
  - findings: [{finding: blubbers, at: quarter}]
"""


def test_what_a_new_jet_put_right_is_said_so_and_not_proposed_again(k: Knowledge) -> None:
    d = diagnose(load_case(CURED_ON_TOP), k)
    small = next(c for c in d.causes if c.id == "main_jet_too_small")
    needle = next(c for c in d.causes if c.id == "needle_clip_rich")
    assert small.put_right > 0.5 > needle.put_right
    assert "main jet too small" not in d.summary
    assert "jet needle clip too low" in d.summary
    assert d.several_settings is not None
    assert ("main_jet", "lean") not in {(s.circuit, s.direction) for s in d.several_settings.settings}
    page = " ".join(to_text(d).split())
    assert "Main jet too small: likely what was tried has probably put this right" in page
    assert "If it turns out to be: jet needle clip too low" in page
    assert "probablemente ya lo arregló" in " ".join(to_text(d, language="es").split())


def test_a_setting_that_nobody_moved_is_not_put_right(k: Knowledge) -> None:
    assert all(c.put_right == 0 for c in diagnose(case(ALL_OVER), k).causes)
