"""Vacuum slides, butterflies, diaphragm carburetors, sets of carburetors, and what a machine is used for.

Ranges and directions are held against the published ranges in the family files; the cases are invented, each beside a
near-twin in which another cause must lead.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag import CaseError, Knowledge, band_table, diagnose, load_case, to_text
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.errors import KnowledgeError
from carbdiag.family_metering import family_geometry, family_tables
from carbdiag.knowledge import default_folder, family_id, nearest_family
from carbdiag.metering.geometry import TYPICAL
from carbdiag.metering.shares import shares_at, transfer_share, vacuum_slide_lift_at
from carbdiag.model import compile_model
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Direction
from carbdiag.walk_schema import WalkRequest
from carbdiag.walking import walk

NEW = ("constant_velocity", "butterfly", "diaphragm")


def answer(k: Knowledge, text: str) -> Diagnosis:
    return diagnose(load_case(text), k)


# ---------------------------------------------------------------------------------------------------------
# Which circuit rules where

@pytest.mark.parametrize("family", NEW)
def test_a_circuit_has_more_of_the_fuel_inside_its_published_range(k: Knowledge, family: str) -> None:
    """On the average over the bands inside and outside; a range over everything, and states, cannot be tested so."""
    record = k.families[family]
    shares = family_tables(k, record).shares
    tested = 0
    for band in record.published_bands:
        of = shares.get(band.circuit, {})
        middle = {p.id: p.opening[1] for p in k.places.values() if p.opening is not None}
        inside = [of.get(p, 0.0) for p, o in middle.items() if band.from_ <= o <= band.to]
        outside = [of.get(p, 0.0) for p, o in middle.items() if not band.from_ <= o <= band.to]
        if not outside or not inside:
            continue
        tested += 1
        assert sum(inside) / len(inside) > sum(outside) / len(outside), band
    assert tested >= 2


@pytest.mark.parametrize(
    ("family", "place", "circuit", "source"),
    [
        ("constant_velocity", "idle", "pilot", "bands_29"),
        ("constant_velocity", "half", "needle", "bands_30: taper from a little past 1/4 to about 3/4"),
        ("constant_velocity", "full", "main_jet", "bands_30"),
        ("butterfly", "idle", "pilot", "bands_34"),
        ("butterfly", "eighth", "pilot", "bands_36: idle and light load"),
        ("butterfly", "half", "main_jet", "bands_40: medium to full throttle"),
        ("diaphragm", "eighth", "low_needle", "bands_46: up to about 20 %"),
        ("diaphragm", "half", "high_needle", "bands_46: from there up"),
    ],
)
def test_the_circuit_in_control_is_the_published_one(
    k: Knowledge, family: str, place: str, circuit: str, source: str
) -> None:
    assert source.partition(":")[0] in k.sources
    rows = [r for r in band_table(family, knowledge=k).rows if r.place == place]
    assert rows
    assert {r.circuit for r in rows} == {circuit}


def test_the_transfer_holes_matter_just_above_idle_and_nowhere_else(k: Knowledge) -> None:
    """bands_35 (army course): above the idle port, with still too little air for the main nozzle."""
    for family in ("butterfly", "diaphragm"):
        of = family_tables(k, k.families[family]).shares["transfer"]
        assert max(of, key=lambda p: of[p]) == "eighth"
        assert of["full"] < 0.1
    butterfly = family_tables(k, k.families["butterfly"]).shares["transfer"]
    assert butterfly["half"] < butterfly["eighth"] / 3


@settings(max_examples=60, deadline=None)
@given(kind=st.sampled_from(sorted(TYPICAL)), opening=st.floats(0, 1))
def test_transfer_holes_carry_part_of_the_pilots_fuel(kind: str, opening: float) -> None:
    share = transfer_share(TYPICAL[kind], opening)
    assert 0 <= share <= shares_at(TYPICAL[kind], opening).pilot


def test_a_vacuum_slide_rises_with_the_air_and_not_with_the_grip(k: Knowledge) -> None:
    """What the band table says of it: about a third up at a quarter of rated speed, half at half, wide open."""
    family = k.families["constant_velocity"]
    geometry = family_geometry(family)
    assert geometry is not None
    assert family.opening_means is not None
    assert "third up at a quarter" in family.opening_means
    lifts = [vacuum_slide_lift_at(geometry, 1.0, speed) for speed in (0.25, 0.5, 1.0)]
    assert lifts[0] == pytest.approx(0.33, abs=0.04)
    assert lifts[1] == pytest.approx(0.52, abs=0.04)
    assert lifts[2] > 0.85
    assert family.opening_means in band_table("constant_velocity", knowledge=k).note


# ---------------------------------------------------------------------------------------------------------
# Which way is richer


@pytest.mark.parametrize(
    ("circuit", "richer", "leaner", "source"),
    [
        ("low_needle", "OUT", "IN", "symptoms_041"),
        ("high_needle", "OUT", "IN", "symptoms_097"),
        ("metering_lever", "Raise", "Lower", "bands_52"),
    ],
)
def test_directions_are_the_published_ones(k: Knowledge, circuit: str, richer: str, leaner: str, source: str) -> None:
    record = k.circuits[circuit]
    assert source in {c.source for c in record.sources}
    assert richer in record.richer.do
    assert leaner in record.leaner.do
    steps = family_tables(k, k.families["diaphragm"]).steps[circuit]
    assert all(percent >= 0 for percent in steps.values())  # a step richer never leans


def test_a_weaker_spring_matters_most_where_the_suction_is_weak(k: Knowledge) -> None:
    """The metering model: 200 Pa of spring are a third of the fuel at a quarter, a twentieth wide open."""
    lever = family_tables(k, k.families["diaphragm"]).steps["metering_lever"]
    assert lever["quarter"] > 3 * lever["full"] > 0


@pytest.mark.parametrize(
    ("cause", "family", "way"),
    [
        ("low_needle_lean", "diaphragm", Direction.LEAN),
        ("low_needle_rich", "diaphragm", Direction.RICH),
        ("high_needle_lean", "diaphragm", Direction.LEAN),
        ("high_needle_rich", "diaphragm", Direction.RICH),
        ("metering_lever_low", "diaphragm", Direction.LEAN),
        ("metering_lever_high", "diaphragm", Direction.RICH),
        ("inlet_needle_leaks", "diaphragm", Direction.RICH),
        ("pump_diaphragm_worn", "diaphragm", Direction.LEAN),
        ("enrichment_valve_leaks", "butterfly", Direction.RICH),
        ("enrichment_valve_stuck_shut", "butterfly", Direction.LEAN),
        ("throttle_shaft_worn", "constant_velocity", Direction.LEAN),
        ("coasting_valve_stuck_shut", "constant_velocity", Direction.RICH),
    ],
)
def test_causes_lean_or_richen_as_the_sources_say(k: Knowledge, cause: str, family: str, way: Direction) -> None:
    strokes = k.families[family].strokes[0]
    assert compile_model(k, family, strokes).directions[cause] is way


# ---------------------------------------------------------------------------------------------------------
# What a machine can have


def test_records_apply_where_their_circuits_are(k: Knowledge) -> None:
    restricted = 0
    for records in (k.causes, k.findings, k.checks):
        for record in records.values():
            a = record.applies
            if not a.circuits and not a.without_circuits:
                continue
            restricted += 1
            for family in k.families.values():
                has = bool(set(a.circuits) & set(family.circuits)) or not a.circuits
                lacks = not set(a.without_circuits) & set(family.circuits)
                if not a.families or family.id in a.families:
                    assert has, (record.id, family.id)
                    assert lacks, (record.id, family.id)
    assert restricted > 40


def test_a_diaphragm_carburetor_has_no_float_and_a_butterfly_no_slide(k: Knowledge) -> None:
    on = {f: set(compile_model(k, f, k.families[f].strokes[0]).cause_ids) for f in NEW}
    assert not {c for c in on["diaphragm"] if c.startswith(("float_", "bowl_", "slide_", "needle_", "pump_too"))}
    assert not {c for c in on["butterfly"] if c.startswith(("slide_", "needle_", "cutaway", "metering_"))}
    assert {"slide_diaphragm_torn", "vacuum_slide_sticks", "needle_clip_lean"} <= on["constant_velocity"]
    assert "slide_sticks" not in on["constant_velocity"]


def test_a_band_table_names_no_sign_that_the_family_cannot_show(k: Knowledge) -> None:
    for family in k.families.values():
        for row in band_table(family.id, knowledge=k).rows:
            families = k.findings[row.finding].applies.families
            assert not families or family.id in families


@pytest.mark.parametrize(
    ("family", "part"),
    [
        ("diaphragm", "main_jet: {number: 120, numbering: bore}"),
        ("diaphragm", "pilot_jet: {number: 40, numbering: bore}"),
        ("butterfly", "clip_groove: 3"),
        ("constant_velocity", "cutaway_mm: 2.5"),
    ],
)
def test_a_part_that_the_family_does_not_have_is_refused(k: Knowledge, family: str, part: str) -> None:
    with pytest.raises(CaseError) as refused:
        answer(k, f"machine: {{family: {family}, strokes: 4, parts: {{{part}}}}}")
    (problem,) = refused.value.problems
    assert problem.field == f"machine.parts.{part.partition(':')[0]}"
    assert "has no such part" in problem.message


@pytest.mark.parametrize("group", ["cv_diaphragm", "governor", "diaphragm_pumper", "carb_sync", "emulsion_tube"])
def test_every_group_of_the_new_families_holds_several_causes(k: Knowledge, group: str) -> None:
    assert sum(c.group == group for c in k.causes.values()) >= 3


def test_a_set_of_knowledge_without_the_needed_circuit_is_refused(tmp_path: Path) -> None:
    shutil.copytree(default_folder(), tmp_path / "k")
    (tmp_path / "k" / "families" / "constant_velocity.yaml").unlink()
    with pytest.raises(KnowledgeError, match="no family is left that this applies to"):
        Knowledge.load(tmp_path / "k")


def test_a_further_family_of_a_known_kind_needs_no_python(tmp_path: Path) -> None:
    folder = tmp_path / "k"
    shutil.copytree(default_folder(), folder)
    text = (folder / "families" / "butterfly.yaml").read_text(encoding="utf-8")
    text = text.replace("id: butterfly", "id: twin_choke").replace("name: Butterfly, fixed venturi", "name: Twin choke")
    text = "\n".join(line for line in text.split("\n") if not line.startswith("also_called:"))
    (folder / "families" / "twin_choke.yaml").write_text(text, encoding="utf-8")
    k = Knowledge.load(folder)
    assert {r.circuit for r in band_table("twin_choke", knowledge=k).rows if r.place == "full"} == {"main_jet"}
    machine = "machine: {family: twin_choke, strokes: 4}\nfindings: [{finding: bogs, at: full}]"
    assert answer(k, machine).causes


# ---------------------------------------------------------------------------------------------------------
# Names


@pytest.mark.parametrize(
    ("word", "family"),
    [
        ("cv", "constant_velocity"),
        ("vacuum_slide", "constant_velocity"),
        ("venturi", "butterfly"),
        ("pumper", "diaphragm"),
    ],
)
def test_a_riders_word_for_a_family_is_taken(k: Knowledge, word: str, family: str) -> None:
    assert family_id(k, word) == family
    rest = ", strokes: 4}\nfindings: [{finding: bogs, at: full}]"
    called, named = (answer(k, f"machine: {{family: {w}{rest}") for w in (word, family))
    assert called.model_dump_json() == named.model_dump_json()
    assert band_table(word, knowledge=k) == band_table(family, knowledge=k)


@pytest.mark.parametrize(
    ("word", "family"),
    [
        ("constant_velocty", "constant_velocity"),
        ("vacum_slide", "constant_velocity"),
        ("diafragm", "diaphragm"),
        ("buterfly", "butterfly"),
    ],
)
def test_a_near_miss_names_the_family_that_was_meant(k: Knowledge, word: str, family: str) -> None:
    assert nearest_family(k, word) == family
    with pytest.raises(CaseError, match=f"did you mean {family}"):
        answer(k, f"machine: {{family: {word}}}")


def test_no_word_means_two_families(k: Knowledge) -> None:
    words = [w for f in k.families.values() for w in (f.id, *f.also_called)]
    assert len(words) == len(set(words))


# ---------------------------------------------------------------------------------------------------------
# What it is used for


@pytest.mark.parametrize(
    ("machine", "family"),
    [
        ("use: generator, strokes: 4", "butterfly"),
        ("use: garden_machine, strokes: 4", "butterfly"),
        ("use: garden_machine, strokes: 2", "diaphragm"),
        ("use: kart, strokes: 2", "diaphragm"),
        ("use: road, strokes: 4, cylinders: 4", "constant_velocity"),
        ("use: scooter, strokes: 4", "constant_velocity"),
        ("use: outboard, strokes: 2", "butterfly"),
        ("use: vintage, strokes: 4", "round_slide"),
        ("use: motocross, strokes: 2", "flat_slide"),
        ("strokes: 4, cylinders: 4", "constant_velocity"),
    ],
)
def test_the_use_says_which_carburetor_to_expect(k: Knowledge, machine: str, family: str) -> None:
    beliefs = assess(k, load_case(f"machine: {{{machine}}}")).beliefs
    assert max(beliefs, key=lambda b: b.weight).model.family.id == family


def test_a_use_without_such_a_stroke_still_gets_an_answer(k: Knowledge) -> None:
    assert answer(k, "machine: {use: moped, strokes: 4}\nfindings: [{finding: bogs, at: full}]").causes


def test_an_unknown_use_is_refused_with_the_nearest(k: Knowledge) -> None:
    with pytest.raises(CaseError, match="did you mean generator"):
        answer(k, "machine: {use: generater}")


FLYING = [
    "{}",
    "{reporting: interview}",
    "{findings: [{finding: misfires, at: half}]}",
    "{findings: [{finding: will_not_start}], checks: [{check: spark_test, outcome: none}]}",
    "{findings: [{finding: knocks, at: full}, {finding: fuel_smell, at: parked}]}",
]


@pytest.mark.parametrize("use", ["paramotor", "ultralight"])
@pytest.mark.parametrize("told", FLYING)
def test_every_answer_about_a_flying_machine_defers_to_licensed_mechanics(k: Knowledge, use: str, told: str) -> None:
    case = load_case(told)
    case = case.model_copy(update={"machine": case.machine.model_copy(update={"use": use})})
    d = diagnose(case, k)
    assert d.cautions[0].id == "aviation_engine"
    assert "licensed mechanics" in d.cautions[0].text
    assert "licensed mechanics" in " ".join(to_text(d).split())
    assert "plug_chop" not in {s.id for s in d.next_steps}
    grounded = diagnose(case.model_copy(update={"machine": case.machine.model_copy(update={"use": "road"})}), k)
    assert "licensed mechanics" not in to_text(grounded)


def test_a_generator_has_no_bars_to_turn_and_no_pump_to_watch(k: Knowledge) -> None:
    for check in ("bars_lock_to_lock", "pump_squirt_watch"):
        (outcome, *_) = k.checks[check].outcomes
        with pytest.raises(CaseError, match="not possible"):
            answer(
                k,
                f"machine: {{family: butterfly, use: generator}}\nchecks: [{{check: {check}, outcome: {outcome}}}]",
            )


# ---------------------------------------------------------------------------------------------------------
# Invented cases, each beside its near-twin

CV4 = "machine: {family: constant_velocity, strokes: 4, cylinders: 4, carburetors: 4, use: road}\n"
GEN = "machine: {family: butterfly, strokes: 4, cylinders: 1, use: generator}\n"
HUNTS = "findings: [{finding: hunts_governed}]\n"
INVENTED = cast(
    list[dict[str, Any]], parse_yaml((Path(__file__).parent / "families" / "invented.yaml").read_text(encoding="utf-8"))
)


@pytest.mark.parametrize("told", INVENTED, ids=lambda told: told["case"])
def test_an_invented_case_leads_to_its_cause(k: Knowledge, told: dict[str, Any]) -> None:
    case = Case.model_validate({field: value for field, value in told.items() if field not in ("case", "leads")})
    assert diagnose(case, k).causes[0].id == told["leads"]


def test_every_kind_of_fault_has_a_case(k: Knowledge) -> None:
    groups = {k.causes[told["leads"]].group for told in INVENTED}
    assert {"cv_diaphragm", "governor", "diaphragm_pumper", "carb_sync", "slide_sticking", "emulsion_tube"} <= groups


def test_a_hunting_generator_is_first_suspected_lean_and_not_its_governor(k: Knowledge) -> None:
    """governor_hunts_lean (two engine manuals): hunting is generally the mixture; symptoms_045: a spring is rare."""
    d = answer(k, GEN + HUNTS)
    chance = {g.group: g.probability for g in d.groups}
    lean = sum(chance.get(g, 0.0) for g in ("pilot_blocked", "main_blocked", "emulsion_tube", "air_leak_intake"))
    assert lean > chance.get("governor", 0.0)


def test_one_bad_cylinder_points_to_its_own_parts_and_all_to_shared_ones(k: Knowledge) -> None:
    told = "findings: [{finding: misfires, at: half, cylinders: %s}]"
    reach = {c.id: c.reach for c in k.causes.values()}

    def own(d: Diagnosis) -> float:
        return sum(c.probability for c in d.causes if reach[c.id] == "own")

    assert own(answer(k, CV4 + told % "one")) > own(answer(k, CV4 + told % "all"))


def test_the_new_cautions_stand_beside_the_step_that_needs_them(k: Knowledge) -> None:
    assert "governor_never_bypassed" in k.checks["governor_hand_hint"].cautions
    assert "never push it open" in k.checks["governor_hand_hint"].do
    assert "short_to_ground" in k.checks["ground_one_lead"].cautions
    for action in ("set_governor_arm", "renew_governor_spring", "free_governor_linkage"):
        assert "governor_never_bypassed" in k.actions[action].cautions
    assert "lean_at_full_load" in k.actions["turn_high_needle"].cautions
    assert "lean_at_wide_throttle" in k.checks["unloaded_sound"].held_back_while


@pytest.mark.parametrize(("family", "action", "sized"), [
    ("diaphragm", "reset_needles_for_air", "fuel −"),
    ("round_slide", "rejet_for_air", "main jet area −"),
    ("butterfly", "rejet_for_air", "main jet area −"),
])  # fmt: skip
def test_thin_air_is_answered_with_what_the_carburetor_has(k: Knowledge, family: str, action: str, sized: str) -> None:
    """A saw has needles to turn and no jets to change."""
    air = "air: {set: {elevation_m: 0}, now: {elevation_m: 2000}}"
    told = (
        f"machine: {{family: {family}, strokes: 2}}\n{air}\n"
        "contexts: [moved_up]\nfindings: [{finding: blubbers, at: full}]"
    )
    thin = next(c for c in answer(k, told).causes if c.id == "air_thinner")
    assert thin.correction.action == action
    assert thin.correction.sized is not None
    assert thin.correction.sized.amount.startswith(sized)
    steps = walk(WalkRequest(case=load_case(told)), k)
    others = {"reset_needles_for_air", "rejet_for_air"} - {action}
    assert others.isdisjoint(s.id for s in steps.steps)


def test_an_answer_does_not_depend_on_the_machine_diagnosed_before() -> None:
    """What is kept of one kind of carburetor, cautions above all, is not given for another."""
    told = "machine: {family: %s, strokes: 2}\ncontexts: [moved_up]\nfindings: [{finding: blubbers, at: full}]"
    families = ("diaphragm", "round_slide", "butterfly", "diaphragm")
    one_by_one = [answer(Knowledge.load(), told % family).model_dump_json() for family in families]
    k = Knowledge.load()
    assert [answer(k, told % family).model_dump_json() for family in families] == one_by_one


def test_who_watched_a_part_has_a_machine_with_it(k: Knowledge) -> None:
    """Looking surely at a part tells the carburetor as moving its setting does; a doubtful look, or none, does not."""

    def families(certainty: str) -> set[str]:
        check = {"check": "watch_slide_rise", "outcome": "stays_down", "certainty": certainty}
        return {b.model.family.id for b in assess(k, Case(checks=[check])).beliefs}

    with_vacuum_slide = {f.id for f in k.families.values() if "vacuum_slide" in f.circuits}
    assert families("sure") == with_vacuum_slide
    assert families("maybe") > with_vacuum_slide
