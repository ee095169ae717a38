"""Bad input is refused with the field, the value, what is allowed and the nearest match; nothing is guessed.

And what must never be proposed: what was answered, what the machine cannot have.
"""

from __future__ import annotations

import itertools
import re
from typing import Literal

import pytest
from pydantic import ValidationError

from carbdiag import (
    Case,
    CaseError,
    Knowledge,
    OutOfRangeError,
    diagnose,
    load_case,
    read_text,
    to_bbcode,
    to_html,
    to_markdown,
    to_text,
)
from carbdiag.casework.assessing import assess
from carbdiag.engine_state import visited
from carbdiag.errors import CarbdiagError, Problem
from carbdiag.posted_schema import PostedCase
from carbdiag.reading import diagnose_posted
from carbdiag.terms import Level


def problems(k: Knowledge, text: str) -> tuple[Problem, ...]:
    """The problems of a case that reads well but makes no sense."""
    with pytest.raises(CaseError) as caught:
        diagnose(load_case(text), k)
    for p in caught.value.problems:
        assert p.field in str(caught.value)
        assert p.message in str(caught.value)
    return caught.value.problems


# ---------------------------------------------------------------------------------------------------------
# Words that the knowledge does not have

UNKNOWN = {
    "family": ("machine: {family: round_slid}", "machine.family", "round_slid", "round_slide"),
    "finding": ("findings: [{finding: surgs}]", "findings[0].finding", "surgs", "surges"),
    "band": ("findings: [{finding: surges, at: quater}]", "findings[0].at", "quater", "quarter"),
    "second band": ("findings: [{finding: surges, at: [half, ful]}]", "findings[0].at", "ful", "full"),
    "check": (
        "checks: [{check: touch_of_chok, outcome: better}]",
        "checks[0].check",
        "touch_of_chok",
        "touch_of_choke",
    ),
    "outcome": ("checks: [{check: touch_of_choke, outcome: beter}]", "checks[0].outcome", "beter", "better"),
    "place of a check": (
        "checks: [{check: touch_of_choke, outcome: better, at: hal}]",
        "checks[0].at",
        "hal",
        "half",
    ),
    "context": ("contexts: [stood_for_month]", "contexts[0].context", "stood_for_month", "stood_for_months"),
    "action": (
        "trials: [{do: clean_carburettor, effect: better}]",
        "trials[0].do",
        "clean_carburettor",
        "clean_carburetor",
    ),
    "circuit": (
        "trials: [{change: main_jets, direction: richer, effect: better}]",
        "trials[0].change",
        "main_jets",
        "main_jet",
    ),
    "place of a trial": (
        "trials: [{change: main_jet, direction: richer, at: fulll, effect: better}]",
        "trials[0].at",
        "fulll",
        "full",
    ),
    "band of a reading": ("readings: [{lambda: 0.9, at: idl}]", "readings[0].at", "idl", "idle"),
    "visited": ("visited: [hallf]", "visited[0]", "hallf", "half"),
    "in an epoch": (
        "epochs: [{findings: []}, {findings: [{finding: surgs}]}]",
        "epochs[1].findings[0].finding",
        "surgs",
        "surges",
    ),
}


@pytest.mark.parametrize("what", UNKNOWN)
def test_an_unknown_word_is_named_with_field_value_allowed_and_nearest(k: Knowledge, what: str) -> None:
    text, field, value, near = UNKNOWN[what]
    (problem,) = problems(k, text)
    assert problem.field == field
    assert problem.value == value
    assert value in problem.message
    assert near in problem.allowed
    assert value not in problem.allowed
    assert problem.nearest == near
    assert f"did you mean {near}?" in str(problem)


def test_a_word_like_nothing_known_gets_no_guess(k: Knowledge) -> None:
    (problem,) = problems(k, "findings: [{finding: xqzwv_kkk}]")
    assert problem.nearest == ""
    assert "did you mean" not in str(problem)
    assert "surges" in problem.allowed


def test_all_problems_are_told_at_once(k: Knowledge) -> None:
    found = problems(
        k,
        "machine: {family: round_slid}\nfindings: [{finding: surgs}, {finding: surges, at: quater}]\n"
        "checks: [{check: touch_of_choke, outcome: beter}]\nvisited: [hallf]\n",
    )
    assert [p.field for p in found] == [
        "machine.family",
        "findings[0].finding",
        "findings[1].at",
        "checks[0].outcome",
        "visited[0]",
    ]


def test_words_of_the_language_itself_are_refused_with_what_is_allowed() -> None:
    for text, field, allowed in (
        ("findings: [{finding: surges, status: maybe}]", "status", "denied"),
        ("findings: [{finding: surges, certainty: certain}]", "certainty", "probably"),
        ("trials: [{do: clean_carburetor, effect: beter}]", "effect", "no_change"),
        ("trials: [{change: pilot, direction: fatter, effect: better}]", "direction", "richer"),
        ("machine: {strokes: 3}", "strokes", "4"),
        ("reporting: shouted", "reporting", "interview"),
    ):
        with pytest.raises(CaseError) as caught:
            load_case(text)
        (problem,) = caught.value.problems
        assert problem.field.endswith(field)
        assert allowed in problem.allowed
        assert repr(problem.value) in str(problem)


def test_an_unknown_field_is_refused_by_name() -> None:
    with pytest.raises(CaseError) as caught:
        load_case("machine: {famly: round_slide}\nfinding: surges\n")
    problems = {p.field: p for p in caught.value.problems}
    assert {field: p.nearest for field, p in problems.items()} == {"machine.famly": "family", "finding": "findings"}
    assert "strokes" in problems["machine.famly"].allowed


def test_a_field_in_the_wrong_place_is_told_where_it_belongs() -> None:
    with pytest.raises(CaseError) as caught:
        load_case("machine: {elevation_m: 2000}\nfamily: round_slide\nfindings: [{main_jet: 140}]\n")
    assert {p.field: p.message for p in caught.value.problems if p.message != "is missing"} == {
        "machine.elevation_m": "unknown field; it belongs at air.set.elevation_m or air.now.elevation_m",
        "family": "unknown field; it belongs at machine.family",
        "findings[0].main_jet": "unknown field; it belongs at machine.parts.main_jet",
    }


@pytest.mark.parametrize(
    ("text", "field", "says"),
    [
        ("findings: [bogs]", "findings[0]", "must be a set of fields, got 'bogs'. Allowed: finding, at, status"),
        ("findings: bogs", "findings", "must be a list, got 'bogs'"),
        ("machine: {parts: {main_jet: 160}}", "machine.parts.main_jet", "got '160'. Allowed: number, numbering"),
        ("title: 5", "title", "must be text, got '5'"),
        ("machine: {cylinders: 1.5}", "machine.cylinders", "must be a whole number, got '1.5'"),
        ("machine: {cylinders: two}", "machine.cylinders", "must be a number, got 'two'"),
        (f"id: {'x' * 90}", "id", "may have at most 80 characters"),
        (f"contexts: [{', '.join(['x1'] * 61)}]", "contexts", "must have at most 60 entries, has 61"),
        ("trials: [{do: x1}]", "trials[0].effect", "is missing. Allowed: cured, came_back, better"),
        ("machine: {parts: {main_jet: {number: 140}}}", "machine.parts.main_jet.numbering", "Allowed: bore, flow"),
        ("findings: [{finding: bogs, asked: perhaps}]", "findings[0].asked", "must be true or false, got 'perhaps'"),
        ("findings: [{finding: Bogs}]", "findings[0].finding", "must be an id of 2 to 60 small letters, digits and _"),
        ('{"machine": {"cylinders": 1e300}}', "machine.cylinders", "must be a whole number, got '1e+300'"),
    ],
)
def test_the_wrong_kind_of_value_is_told_in_plain_words(text: str, field: str, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        load_case(text)
    (problem,) = caught.value.problems
    assert problem.field == field
    assert says in str(problem)


def test_an_error_of_a_case_can_be_caught_as_ours_and_as_a_wrong_value() -> None:
    for kind in (CarbdiagError, ValueError):
        with pytest.raises(kind):
            load_case("findings: [")


# ---------------------------------------------------------------------------------------------------------
# Contradictions

CONTRADICTIONS = {
    "a sign without a place": "findings: [{finding: surges}, {finding: surges, status: denied}]",
    "a sign at a place": "findings: [{finding: surges, at: half}, {finding: surges, at: half, status: denied}]",
    "a circumstance": "contexts: [stood_for_months, {context: stood_for_months, status: denied}]",
    "a check": "checks: [{check: leak_spray, outcome: no_change}, {check: leak_spray, outcome: revs_change}]",
}


@pytest.mark.parametrize("what", CONTRADICTIONS)
def test_a_contradiction_is_told_kept_and_weakened(k: Knowledge, what: str) -> None:
    text = CONTRADICTIONS[what]
    if what == "a check":
        first, second = list(k.checks["leak_spray"].outcomes)[:2]
        text = f"checks: [{{check: leak_spray, outcome: {first}}}, {{check: leak_spray, outcome: {second}}}]"
    both = load_case("machine: {family: round_slide, strokes: 2}\n" + text)
    d = diagnose(both, k)
    (notice,) = [n for n in d.notes if "contradict" in n]
    assert "Both are kept" in notice
    names = {"a check": k.checks["leak_spray"].name, "a circumstance": k.contexts["stood_for_months"].name}
    assert names.get(what, k.findings["surges"].name) in notice
    assert len(d.understood) == 3  # the machine, and both statements


@pytest.mark.parametrize("at", ["half", "full"])
def test_a_contradicted_sign_counts_less_than_either_alone(k: Knowledge, at: str) -> None:
    head = "machine: {family: round_slide, strokes: 2}\nreporting: interview\nfindings:\n"
    yes, no = f"- {{finding: surges, at: {at}}}\n", f"- {{finding: surges, at: {at}, status: denied}}\n"

    def lean(text: str) -> float:
        levels = next(m for m in diagnose(load_case(head + text), k).mixture if m.place == at).levels
        return levels[Level.LEAN] + levels[Level.VERY_LEAN]

    assert lean(no) < lean(yes + no) < lean(yes)


def test_the_same_thing_said_twice_counts_once(k: Knowledge) -> None:
    once = "machine: {family: round_slide, strokes: 2}\nchecks: [{check: leak_spray, outcome: no_change}]"
    twice = once.replace("[{", "[{check: leak_spray, outcome: no_change}, {")
    assert diagnose(load_case(twice), k).causes == diagnose(load_case(once), k).causes


def test_present_here_and_denied_there_is_no_contradiction(k: Knowledge) -> None:
    case = load_case("findings: [{finding: surges, at: half}, {finding: surges, at: full, status: denied}]")
    assert not any("contradict" in note for note in diagnose(case, k).notes)


def test_what_changed_from_one_epoch_to_the_next_is_no_contradiction(k: Knowledge) -> None:
    case = load_case(
        "epochs:\n- {findings: [{finding: surges, at: half}], trials: [{do: clean_carburetor, effect: better}]}\n"
        "- {findings: [{finding: surges, at: half, status: denied}]}\n"
    )
    assert not any("contradict" in note for note in diagnose(case, k).notes)


# ---------------------------------------------------------------------------------------------------------
# Numbers


@pytest.mark.parametrize("number", ["1e999", "-1e999", ".nan", "nan", ".inf", "1e3", "0x10", "1_000", "'0.9'", "true"])
@pytest.mark.parametrize(
    "field",
    ["readings: [{{lambda: {}, at: half}}]", "air: {{set: {{temperature_c: {}}}, now: {{temperature_c: 5.0}}}}"],
)
def test_a_number_that_is_none_is_refused(field: str, number: str) -> None:
    with pytest.raises(CaseError) as caught:
        load_case(field.format(number))
    (problem,) = caught.value.problems
    assert problem.field in ("line 1", "readings[0].lambda", "air.set.temperature_c")
    assert number.strip("'") in str(problem)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_not_finite_numbers_are_refused_from_python_too(value: float) -> None:
    for data in (
        {"readings": [{"lambda": value, "at": "half"}]},
        {"air": {"set": {"temperature_c": value}, "now": {"temperature_c": 5.0}}},
        {"trials": [{"change": "main_jet", "direction": "richer", "steps": value, "effect": "better"}]},
    ):
        with pytest.raises(ValidationError):
            Case.model_validate(data)


@pytest.mark.parametrize(
    ("text", "limit"),
    [
        ("readings: [{lambda: 0.2, at: half}]", "0.5"),
        ("readings: [{lambda: 14.7, at: half}]", "1.8"),
        ("air: {set: {elevation_m: 9000, temperature_c: 5}, now: {temperature_c: 5}}", "6000"),
        ("air: {set: {temperature_c: 90}, now: {temperature_c: 5}}", "55"),
        ("trials: [{change: pilot, direction: richer, steps: 0, effect: better}]", "0"),
        ("trials: [{change: pilot, direction: richer, steps: 400, effect: better}]", "20"),
        ("machine: {cylinders: 0}", "1"),
    ],
)
def test_a_number_out_of_range_is_refused_with_its_limit(text: str, limit: str) -> None:
    with pytest.raises(CaseError) as caught:
        load_case(text)
    (problem,) = caught.value.problems
    assert limit in re.findall(r"-?[\d.]+", problem.message)
    assert problem.value in str(problem)


@pytest.mark.parametrize(
    "text",
    [
        "a: &x 1",
        "!!python/object:os.system {}",
        "--- {}\n--- {}",
        "id: a\nid: b",
        "[" * 60 + "]" * 60,
        "id: no",
        "id: 'open",
        "{}: {[1]: 2}",
    ],
)
def test_yaml_that_surprises_is_refused(text: str) -> None:
    with pytest.raises(CaseError):
        load_case(text)


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("machine: {", "line 1", "a bracket left open"),
        ("id: a\nnote: \"b\nfindings: []\n", "line 3", "a quote left open in line 2"),
        ("id: a\n  note: b\n", "line 2", "indented too far"),
    ],
)
def test_what_is_left_open_is_told_at_a_line_that_there_is(text: str, line: str, says: str) -> None:
    with pytest.raises(CaseError, match=says) as caught:
        load_case(text)
    assert caught.value.problems[0].field == line


@pytest.mark.parametrize(
    ("text", "note", "celsius"),
    [
        ('{"note": "\\ud83d\\ude00", "air": {"set": {}, "now": {"temperature_c": 1e1}}}', "\U0001f600", 10.0),
        ('\n{"note": "\x7f\\u0000", "air": {"set": {}, "now": {"temperature_c": 5.0E-1}}}', "\x7f\x00", 0.5),
    ],
)
def test_json_is_read_as_json_has_it(text: str, note: str, celsius: float) -> None:
    case = load_case(text)
    assert case.note == note
    assert case.air is not None
    assert case.air.now.temperature_c == celsius


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"id": "a", "id": "b"}', "duplicate key"),
        ('{"note": "\\ud800"}', "not valid YAML"),
        ('{"readings": [{"lambda": 1e999, "at": "half"}]}', "1e999"),
        ('{"machine": {"cylinders": ' + "1" * 31 + "}}", "at most 30 digits"),
        ('{"id": ' + "[" * 500_000, "not valid YAML"),
    ],
)
def test_json_that_surprises_is_refused_too(text: str, says: str) -> None:
    with pytest.raises(CaseError, match=says):
        load_case(text)


@pytest.mark.parametrize("text", ["- surges", "surges", "12"])
def test_a_case_that_is_no_mapping_is_refused(text: str) -> None:
    with pytest.raises(CaseError, match="case: must be a set of fields"):
        load_case(text)


# ---------------------------------------------------------------------------------------------------------
# Not on this machine

IMPOSSIBLE = {
    "check of a pump": (
        "machine: {family: round_slide}\nchecks: [{check: pump_squirt_watch, outcome: none}]",
        "checks[0].check",
        "pump_squirt_watch",
    ),
    "circuit of a pump": (
        "machine: {family: flat_slide}\ntrials: [{change: accelerator_pump, direction: richer, effect: better}]",
        "trials[0].change",
        "accelerator_pump",
    ),
    "strokes of the family": ("machine: {family: flat_slide_pump, strokes: 2}", "machine.strokes", "2"),
    "several cylinders": (
        "machine: {cylinders: 1}\nfindings: [{finding: surges, cylinders: one}]",
        "findings[0].cylinders",
        "one",
    ),
}


@pytest.mark.parametrize("what", IMPOSSIBLE)
def test_what_cannot_be_on_the_machine_is_refused(k: Knowledge, what: str) -> None:
    text, field, value = IMPOSSIBLE[what]
    (problem,) = problems(k, text)
    assert (problem.field, problem.value) == (field, value)
    assert problem.message


def test_every_finding_is_refused_on_a_machine_it_cannot_show_on(k: Knowledge) -> None:
    """All combinations of family and strokes, all findings with a restriction."""
    tried = 0
    for finding in k.findings.values():
        a = finding.applies
        for family, strokes in itertools.product(k.families.values(), (2, 4)):
            if strokes not in family.strokes:
                continue
            wrong = (a.families and family.id not in a.families) or (a.strokes and strokes not in a.strokes)
            text = f"machine: {{family: {family.id}, strokes: {strokes}}}\nfindings: [{{finding: {finding.id}}}]"
            if wrong:
                (problem,) = problems(k, text)
                assert (problem.field, problem.value) == ("findings[0].finding", finding.id)
                assert "is not possible on a" in problem.message
                tried += 1
    assert tried >= 3


# ---------------------------------------------------------------------------------------------------------
# What is proposed


@pytest.mark.parametrize("text", ["", "{}", "machine: {family: round_slide, strokes: 2}", "note: it is broken"])
def test_an_empty_case_asks_first_and_claims_nothing(k: Knowledge, text: str) -> None:
    d = diagnose(load_case(text or "{}"), k)
    assert d.answer == "ask_first"
    assert d.causes == ()
    assert d.groups == ()
    assert d.mixture == ()
    assert d.order == ()
    assert (d.nothing_wrong, d.unlisted.probability) == (0.0, 0.0)
    assert not d.unexplained.flag
    assert d.next_steps


def test_a_check_already_answered_is_never_proposed(k: Knowledge) -> None:
    """Follow the advice for a dozen rounds: nothing comes twice."""
    data: dict[str, object] = {
        "machine": {"family": "round_slide", "strokes": 2},
        "findings": [{"finding": "low_power", "at": ["full"]}],
        "checks": [],
        "contexts": [],
    }
    answered: set[tuple[str, str]] = {("finding", "low_power")}
    for _ in range(12):
        steps = diagnose(Case.model_validate(data), k, steps=20).next_steps
        assert steps
        for step in steps:
            if step.kind in ("check", "question"):
                assert ("check", step.id) not in answered, step.id
            elif step.kind == "context":
                assert ("context", step.id) not in answered
            else:
                assert ("finding", step.id) not in answered
        first = steps[0]
        if first.kind in ("check", "question"):
            outcome = next(o for o in k.checks[first.id].outcomes)
            data["checks"] = [*data["checks"], {"check": first.id, "outcome": outcome}]  # type: ignore[misc]
            answered.add(("check", first.id))
        elif first.kind == "context":
            data["contexts"] = [*data["contexts"], {"context": first.id, "status": "unknown"}]  # type: ignore[misc]
            answered.add(("context", first.id))
        else:
            data["findings"] = [*data["findings"], {"finding": first.id, "status": "unknown"}]  # type: ignore[misc]
            answered.add(("finding", first.id))


MACHINES = [
    "{family: round_slide, strokes: 2, cylinders: 1, cooling: air, fuel_feed: gravity, oiling: premix}",
    "{family: flat_slide, strokes: 4, cylinders: 1, cooling: liquid, fuel_feed: gravity, oiling: sump}",
    "{family: flat_slide_pump, strokes: 4, cylinders: 4, carburetors: 4, cooling: liquid, fuel_feed: pump,"
    " oiling: sump}",
]


@pytest.mark.parametrize("machine", MACHINES)
def test_steps_impossible_on_the_machine_are_never_proposed(k: Knowledge, machine: str) -> None:
    """Whatever the complaint: each step that is proposed could be told back without being refused."""
    proposed: set[str] = set()
    for finding in k.findings.values():
        text = f"machine: {machine}\nfindings: [{{finding: {finding.id}}}]"
        try:
            d = diagnose(load_case(text), k, steps=20)
        except CaseError:
            continue  # the complaint itself is impossible on this machine
        for step in d.next_steps:
            if step.kind in ("check", "question"):
                outcome = next(iter(k.checks[step.id].outcomes))
                at = f", at: {step.at}" if step.at else ""
                told = f"machine: {machine}\nchecks: [{{check: {step.id}, outcome: {outcome}{at}}}]"
            elif step.kind == "finding":
                told = f"machine: {machine}\nfindings: [{{finding: {step.id}, at: {step.at}}}]"
            else:
                told = f"machine: {machine}\ncontexts: [{step.id}]"
            if told not in proposed:
                proposed.add(told)
                diagnose(load_case(told), k, steps=0)
    assert len(proposed) > 50


def test_a_case_of_more_statements_than_anyone_makes_is_refused_with_the_number() -> None:
    trial = {"do": "clean_carburetor", "effect": "no_change"}
    with pytest.raises(ValidationError, match="at most 300 statements, found 350"):
        Case.model_validate({"epochs": [{"trials": [trial] * 50}] * 7})


def test_statements_without_number_that_contradict_each_other_still_give_an_answer(k: Knowledge) -> None:
    """Products of hundreds of likelihoods stay in range; nothing warns, nothing divides by zero."""
    trial = {"change": "main_jet", "direction": "richer", "at": "full", "put_back": True}
    epochs = [{"trials": [{**trial, "effect": effect}] * 50} for effect in ("better", "worse") * 3]
    d = diagnose(Case.model_validate({"machine": {"family": "round_slide", "strokes": 2}, "epochs": epochs}), k)
    assert d.answer in ("open", "unexplained")
    assert max(c.probability for c in d.causes) < 0.1


@pytest.mark.parametrize(
    ("parts", "field", "says"),
    [
        ("clip_groove: 7", "machine.parts.clip_groove", "must be from 1 to 5, got 7"),
        ("first_groove_mm: 5", "machine.parts.first_groove_mm", "says nothing without needle_taper_mm"),
        ("bore_mm: 5", "machine.parts.bore_mm", "must be from 8 to 60 mm"),
    ],
)
def test_parts_that_no_carburetor_has_are_refused_of_an_unknown_one_too(
    k: Knowledge, parts: str, field: str, says: str
) -> None:
    (problem,) = problems(k, f"machine: {{parts: {{{parts}}}}}")
    assert problem.field == field
    assert says in problem.message


def test_listed_parts_tell_an_unknown_carburetor(k: Knowledge) -> None:
    text = "machine: {{{}}}\nfindings: [{{finding: bogs, at: full}}]"
    for parts, possible in (("strokes: 4", True), ("strokes: 4, parts: {clip_groove: 3}", False)):
        kinds = {b.model.family.id for b in assess(k, load_case(text.format(parts))).beliefs}
        assert ("butterfly" in kinds) is possible


def test_an_air_change_beyond_what_jets_are_sized_for_is_diagnosed_all_the_same(k: Knowledge) -> None:
    air = "{set: {elevation_m: -500, temperature_c: -45}, now: {elevation_m: 6000, temperature_c: 55}}"
    d = diagnose(load_case(f"machine: {{family: round_slide}}\nair: {air}\nfindings: [{{finding: bogs, at: half}}]"), k)
    (moved,) = (c for c in d.causes if c.id == "air_thinner")
    assert moved.correction.sized is None


def test_a_flood_of_unknown_ids_is_answered_with_the_first_fifty(k: Knowledge) -> None:
    with pytest.raises(CaseError) as caught:
        diagnose(Case.model_validate({"findings": [{"finding": f"unknown_sign_{n}"} for n in range(190)]}), k)
    assert len(caught.value.problems) == 50


def steps_of(k: Knowledge, case: str) -> set[str]:
    """Ids of twenty proposed steps."""
    return {s.id for s in diagnose(load_case(case), k, steps=20).next_steps}


def test_a_circumstance_that_another_one_settles_is_not_asked(k: Knowledge) -> None:
    """Nobody who said that another exhaust was fitted is asked whether nothing was touched."""
    case = "machine: {family: round_slide, strokes: 4}\nfindings: [{finding: bogs, at: half}]\n"
    settled = k.contexts["untouched_since_fine"].settled_by
    assert "exhaust_changed" in settled
    assert "untouched_since_fine" in steps_of(k, case)
    assert "untouched_since_fine" not in steps_of(k, case + "contexts: [exhaust_changed]\n")


def test_a_running_engine_is_not_asked_whether_it_starts(k: Knowledge) -> None:
    dead = {f.id for f in k.findings.values() if f.means_dead}
    for at in ("half", "full", "overrun"):
        sign = "pops_on_overrun" if at == "overrun" else "bogs"
        case = f"machine: {{family: flat_slide, strokes: 2}}\nfindings: [{{finding: {sign}, at: {at}}}]\n"
        assert not dead & steps_of(k, case), at


def test_a_question_that_presumes_a_sign_waits_until_it_was_told(k: Knowledge) -> None:
    """Nobody whose idle hangs is asked how long the engine must rest after it stopped."""
    asked = (*k.findings.values(), *k.checks.values())
    about_stopping = {r.id for r in asked if r.presumes in ("stops", "fades", "gives_out")}
    assert {"rest_before_restart_asked", "time_to_fail", "loosen_fuel_cap"} <= about_stopping
    idle = "machine: {family: constant_velocity, strokes: 4}\nfindings: [{finding: revs_hang, at: overrun}]\n"
    assert not about_stopping & steps_of(k, idle)
    stops = "machine: {family: constant_velocity, strokes: 4}\nfindings: [{finding: stops_while_riding}]\n"
    assert about_stopping & steps_of(k, stops)


def test_an_engine_that_dies_at_once_is_asked_nothing_that_a_ride_shows(k: Knowledge) -> None:
    case = "machine: {family: butterfly, strokes: 4}\nfindings: [{finding: starts_then_dies, at: cold_start}]\n"
    assert not {"fades_on_long_climbs", "top_speed_down_only", "bucks_at_high_speed"} & steps_of(k, case)


@pytest.mark.parametrize("form", ["full", "short"])
@pytest.mark.parametrize(
    ("finding", "warned"),
    [
        ("fuel_overflow", "Mind this: Fuel is leaking: shut the tap, no flame near."),
        ("tightened_then_freed", "Mind this: The engine may be damaged inside: do not run it."),
    ],
)
def test_what_is_dangerous_now_is_said_before_anything_else(
    k: Knowledge, finding: str, warned: str, form: Literal["full", "short"]
) -> None:
    case = load_case(f"machine: {{family: round_slide, strokes: 2}}\nfindings: [{{finding: {finding}}}]\n")
    for render in (to_text, to_markdown, to_bbcode, to_html):
        opening = " ".join(render(diagnose(case, k), form=form).split())
        told = re.sub(r"<[^>]*>|\[/?b\]|\*\*", "", opening).strip()
        assert told.startswith(warned), (render.__name__, told[:90])


def test_what_a_rider_may_never_have_seen_is_asked_later(k: Knowledge) -> None:
    """Long full throttle is no first question about an engine of which only the start was told."""
    told = "machine: {family: round_slide, strokes: 2}\nfindings: [{finding: runs_only_on_choke, at: idle}]\n"
    case = load_case(told)
    first = diagnose(case, k).next_steps[0]
    assert first.at not in {"sustained_full", "full", "under_load"}
    assert visited(k, case) >= {"idle", "cold_start"}
    assert "sustained_full" not in visited(k, case)


@pytest.mark.parametrize(("cylinders", "asked"), [("", False), (", cylinders: 2", True)])
def test_a_mower_is_asked_of_several_cylinders_only_where_it_has_them(
    k: Knowledge, cylinders: str, *, asked: bool
) -> None:
    machine = f"machine: {{family: butterfly, strokes: 4, use: garden_machine{cylinders}}}\n"
    case = machine + "findings: [{finding: low_power}]\n"
    several = {r.id for r in (*k.findings.values(), *k.checks.values()) if r.applies.cylinders == "several"}
    assert bool(several & steps_of(k, case)) is asked


@pytest.mark.parametrize(
    ("said", "meant"),
    [("hanging_idle", "revs_hang"), ("decel_backfires", "backfires"), ("blackened_plug", "plug_black_dry")],
)
def test_a_sign_in_other_words_is_found_by_its_words(k: Knowledge, said: str, meant: str) -> None:
    with pytest.raises(CaseError) as caught:
        diagnose(load_case(f"findings: [{{finding: {said}}}]"), k)
    assert caught.value.problems[0].nearest == meant


@pytest.mark.parametrize("steps", [-1, 21, 99])
def test_steps_beyond_the_limit_are_refused_and_not_cut(k: Knowledge, steps: int) -> None:
    case = load_case("findings: [{finding: fuel_overflow}]")
    posted = PostedCase(findings=case.findings)
    for ask in (lambda: diagnose(case, k, steps), lambda: diagnose_posted(posted, k, steps)):
        with pytest.raises(OutOfRangeError, match=f"^steps must be from 0 to 20, got {steps}$") as caught:
            ask()
        assert (caught.value.value, caught.value.high) == (steps, 20)


def test_what_is_no_knowledge_is_refused_by_the_reader_too() -> None:
    with pytest.raises(TypeError, match="knowledge is a Knowledge"):
        read_text("it bogs", "")  # type: ignore[arg-type]
