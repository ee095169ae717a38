"""Words typed during a walk: read into the epoch that is now, added to what stands there, nothing lost."""

from __future__ import annotations

import pytest

from carbdiag import Case, Knowledge
from carbdiag.walk_in_words import are_words, told_in_words

BOGS = {"finding": "bogs", "at": ["half"]}
RICHER = {"change": "needle", "direction": "richer", "at": "half", "effect": "better"}


def test_words_join_what_was_told_of_the_same_time(k: Knowledge) -> None:
    case, lines = told_in_words(k, Case.model_validate({"findings": [BOGS]}), "it bogs at full throttle", "en")
    assert not case.epochs
    assert [(f.finding, f.at) for f in case.findings] == [("bogs", ("half",)), ("bogs", ("full",))]
    assert "Bogs" in lines[0]


def test_after_a_change_they_are_of_the_machine_as_it_is_now(k: Knowledge) -> None:
    before = Case.model_validate({"findings": [BOGS], "trials": [RICHER]})
    case, _ = told_in_words(k, before, "now it surges at full throttle, new air filter", "en")
    first, now = case.epochs
    assert (first.findings, first.trials) == (before.findings, before.trials)
    assert {f.finding for f in now.findings} == {"surges"}
    assert not now.trials or {t.do for t in now.trials} <= {"clean_air_filter"}


def test_the_same_words_twice_are_told_once(k: Knowledge) -> None:
    case = Case()
    for _ in range(2):
        case, _ = told_in_words(k, case, "surges at full throttle", "en")
    assert len(case.findings) == 1


def test_what_is_not_understood_changes_nothing(k: Knowledge) -> None:
    case = Case.model_validate({"findings": [BOGS]})
    assert told_in_words(k, case, "blah blah", "en") == (case, ())


@pytest.mark.parametrize(("said", "words"), [("1", False), ("3??", False), ("o", False), ("no", False), ("bogs", True)])
def test_numbers_and_letters_are_no_words(said: str, words: bool) -> None:
    assert are_words(said) is words
