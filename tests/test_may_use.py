"""Whether it may be used as it is: from what is held, told unasked where it is no, and told to whoever asks."""

from __future__ import annotations

from typing import Any

import pytest

from carbdiag import Knowledge, diagnose
from carbdiag.answers.rendering import FORMS, MARKUPS, render
from carbdiag.answers.walk_text import WalkWords
from carbdiag.case_schema import Case
from carbdiag.posted_schema import PostedCase
from carbdiag.reading import read_text
from carbdiag.reading.diagnosing import diagnose_posted
from carbdiag.walk_schema import StepAnswer, WalkRequest
from carbdiag.walking import walk

TWO = {"family": "flat_slide", "strokes": 2, "cylinders": 1, "use": "enduro"}
QUESTION = {"en": "Can it be used as it is?", "es": "¿Se puede usar así?"}


def told(*signs: str, machine: dict[str, Any] = TWO, **more: Any) -> Case:
    findings = [dict(zip(("finding", "at"), (sign, [at]) if at else (sign,), strict=False))
                for sign, _, at in (s.partition(" ") for s in signs)]  # fmt: skip
    return Case.model_validate({"machine": machine, "findings": findings, **more})


@pytest.mark.parametrize(
    ("signs", "how", "because"),
    [
        (["fuel_overflow"], "not_at_all", "fuel_leaks"),
        (["tightened_then_freed"], "not_at_all", "may_be_damaged"),
        (["bogs half", "rumble_from_below"], "not_at_all", "may_break_inside"),
        (["bogs half", "throttle_sticks"], "not_at_all", "throttle_hangs"),
        (["bogs half", "revs_run_away"], "not_at_all", "runs_away"),
        (["low_power full", "oil_tank_does_not_fall"], "not_at_all", "oil_not_fed"),
        (["low_power full", "oil_ran_out"], "not_at_all", "oil_ran_out"),
        (["bogs half", "weeps_at_a_joint"], "standing_only", "fuel_weeps"),
        (["low_power full", "hard_to_push"], "standing_only", "something_drags"),
        (["knocks full"], "gently", "knock_or_heat"),
        (["bogs full"], "gently", "lean_at_wide_throttle"),
        (["cuts_in_and_out"], "gently", "may_stop_on_the_way"),
        (["blubbers half"], "gently", None),
        ([], "not_known", None),
    ],
)
def test_it_may_be_used_as_far_as_the_strictest_hold_allows(signs: list[str], how: str, because: str | None) -> None:
    use = diagnose(told(*signs)).may_use
    assert use.how == how
    assert (because is None and not use.because) or because in [hold.id for hold in use.because]


def test_where_it_is_no_only_what_forbids_it_is_named() -> None:
    use = diagnose(told("bogs full", "fuel_overflow")).may_use
    assert [hold.id for hold in use.because] == ["fuel_leaks"]


def test_what_limits_nothing_but_its_use_holds_nothing_back() -> None:
    d = diagnose(told("bogs half", "hard_to_push"))
    assert "something_drags" not in [hold.id for hold in d.holds]


def test_every_hold_that_keeps_the_engine_off_forbids_its_use(k: Knowledge) -> None:
    assert {hold.use for hold in k.holds.values() if hold.engine_off} == {"not_at_all"}
    assert all(hold.use for hold in k.holds.values() if hold.of_use_only)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("markup", list(MARKUPS))
@pytest.mark.parametrize("form", list(FORMS))
def test_no_is_said_though_nobody_asks_and_before_all_that_is_to_be_done(
    form: str, markup: str, language: str
) -> None:
    text = render(diagnose(told("bogs half", "weeps_at_a_joint")), markup, form, language)
    assert QUESTION[language] in text.replace("\n", " ")
    assert text.index(QUESTION[language].split()[0]) < 60


def test_nothing_is_done_now_to_what_must_not_be_used() -> None:
    air = {"set": {"elevation_m": 200}, "now": {"elevation_m": 2500}}
    high = told("blubbers half", "blubbers full", "weeps_at_a_joint", air=air)
    assert diagnose(high).do_now is None


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("Two stroke, blubbers at half throttle. Can I ride it like this?", "en"),
        ("Two stroke, blubbers at half throttle. Is it safe to keep riding until the jets come?", "en"),
        ("Two stroke, blubbers at half throttle. Will it hurt the engine if I keep riding?", "en"),
        ("Dos tiempos, se ahoga a medio acelerador. ¿Puedo seguir andando así?", "es"),
        ("Dos tiempos, se ahoga a medio acelerador. ¿Es seguro usarla así?", "es"),
    ],
)
def test_whoever_asks_is_answered_in_the_short_message_too(text: str, language: str) -> None:
    asked = diagnose_posted(PostedCase(text=text, language=language))
    assert QUESTION[language] in render(asked, "text", "short", language)
    silent = diagnose_posted(PostedCase(text=text.partition(".")[0] + ".", language=language))
    assert silent.may_use.how == "gently"
    assert QUESTION[language] not in render(silent, "text", "short", language)


@pytest.mark.parametrize(
    "text",
    ["Can I run a 45 pilot in this?", "It bogs. I can ride it round that.", "It was fine to start with.",
     "It was safe at home.", "Could a leak do this?"],
)  # fmt: skip
def test_not_every_can_asks_for_it(k: Knowledge, text: str) -> None:
    assert "asks_to_use" not in {fact.fact for fact in read_text(text, k).facts}


def test_the_question_is_no_part_that_was_not_understood(k: Knowledge) -> None:
    assert not read_text("It bogs at half throttle. Can I ride it like this?", k).not_understood


def test_a_walk_says_no_before_its_first_step_and_names_all_on_demand(k: Knowledge) -> None:
    words = WalkWords(walk(WalkRequest(case=told("bogs full", "weeps_at_a_joint")), k))
    assert any(line.startswith("! Can it be used as it is? No:") for line in words.standing())
    lean = WalkWords(walk(WalkRequest(case=told("bogs full", "cutting_choke_in_helps_fade sustained_full")), k))
    assert "It may run lean wide open" in " ".join(lean.use_lines())
    assert not any(line.startswith("! Can it be used") for line in lean.standing())


def test_the_pump_is_looked_at_first_where_its_oil_may_not_be_fed(k: Knowledge) -> None:
    """Set right it may run for the checks; it is used only once it is known that oil is in the fuel."""
    now = walk(WalkRequest(case=told("low_power full", "oil_tank_does_not_fall")), k)
    assert now.steps[0].id == "oil_pump_marks_look"
    answer = StepAnswer(kind="check", id="oil_pump_marks_look", outcome="in_line")
    d = walk(WalkRequest(case=now.case, answer=answer), k).diagnosis
    assert "oil_not_fed" not in [hold.id for hold in d.holds]
    assert [hold.id for hold in d.may_use.because] == ["oil_missing"]
