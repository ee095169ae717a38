"""Words typed during a walk: read into the epoch that is now, added to what stands there, nothing lost."""

from __future__ import annotations

import pytest

from carbdiag import Case, Knowledge
from carbdiag.answers.walk_text import walk_text
from carbdiag.posted_walk_schema import PostedWalk, ReadWalk
from carbdiag.walk_in_words import told_in_words, walk_posted
from carbdiag.walk_session import _are_words

BOGS = {"finding": "bogs", "at": ["half"]}
RICHER = {"change": "needle", "direction": "richer", "at": "half", "effect": "better"}


def test_words_join_what_was_told_of_the_same_time(k: Knowledge) -> None:
    case, reading = told_in_words(k, Case.model_validate({"findings": [BOGS]}), "it bogs at full throttle")
    assert not case.epochs
    assert [(f.finding, f.at) for f in case.findings] == [("bogs", ("half",)), ("bogs", ("full",))]
    assert [s.words for s in reading.findings[0].said] == ["bogs"]


def test_after_a_change_they_are_of_the_machine_as_it_is_now(k: Knowledge) -> None:
    before = Case.model_validate({"findings": [BOGS], "trials": [RICHER]})
    case, _ = told_in_words(k, before, "now it surges at full throttle, new air filter")
    first, now = case.epochs
    assert (first.findings, first.trials) == (before.findings, before.trials)
    assert {f.finding for f in now.findings} == {"surges"}
    assert not now.trials or {t.do for t in now.trials} <= {"clean_air_filter"}


def test_the_same_words_twice_are_told_once(k: Knowledge) -> None:
    case = Case()
    for _ in range(2):
        case, _ = told_in_words(k, case, "surges at full throttle")
    assert len(case.findings) == 1


def test_what_is_not_understood_changes_nothing(k: Knowledge) -> None:
    case = Case.model_validate({"findings": [BOGS]})
    same, reading = told_in_words(k, case, "blah blah")
    assert same == case
    assert reading.is_empty


@pytest.mark.parametrize(("said", "words"), [("1", False), ("3??", False), ("o", False), ("no", False), ("bogs", True)])
def test_numbers_and_letters_are_no_words(said: str, words: bool) -> None:
    assert _are_words(said) is words


def test_an_answer_and_words_come_together(k: Knowledge) -> None:
    posted = PostedWalk.model_validate(
        {
            "case": {"machine": {"family": "round_slide", "strokes": 2}, "findings": [BOGS]},
            "answer": {"kind": "trial", "id": "needle", "direction": "richer", "at": "half", "outcome": "better"},
            "text": "now it only surges at full throttle",
        }
    )
    found = walk_posted(posted, k)
    assert isinstance(found, ReadWalk)
    assert found.reading is not None
    assert [f.finding for f in found.reading.findings] == ["surges"]
    first, now = found.case.epochs
    assert [t.effect for t in first.trials] == ["better"]
    assert [(f.finding, f.at) for f in now.findings] == [("surges", ("full",))]


def test_after_better_it_may_be_told_what_is_left_and_where(k: Knowledge) -> None:
    told = {"case": {"machine": {"family": "round_slide", "strokes": 2}, "findings": [BOGS], "trials": [RICHER]}}
    better = walk_posted(PostedWalk.model_validate(told), k)
    assert better.advice.tell is not None
    said = walk_text(better, "es")
    assert "qué hace todavía y a qué apertura" in " ".join(said.split())
    left = walk_posted(PostedWalk.model_validate(told | {"text": "it still bogs at half throttle"}), k)
    assert left.advice.tell is None
    assert [(f.finding, f.at) for f in left.case.epochs[-1].findings] == [("bogs", ("half",))]


@pytest.mark.parametrize("effect", ["cured", "no_change", "worse"])
def test_only_after_better_is_there_something_left_to_tell(k: Knowledge, effect: str) -> None:
    told = {"case": {"findings": [BOGS], "trials": [RICHER | {"effect": effect}]}}
    assert walk_posted(PostedWalk.model_validate(told), k).advice.tell is None
