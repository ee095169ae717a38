"""The key never leaks: not by a field, not by an order, not by an id, not into a sheet for students."""

from __future__ import annotations

import json

import pytest
from itsdangerous import URLSafeSerializer

from carbdiag import CaseError, Knowledge, make_quiz
from carbdiag.quiz.exports.formats import STUDENT
from carbdiag.quiz.passes import PassMissingError, issue_pass, open_pass
from carbdiag.quiz_schema import Blueprint, ItemKey, ItemView, Quiz, StudentQuiz

SECRET = "a secret of the tests, long enough to be one"
NONCE = "0123456789abcdef" * 2
NOW = 1_800_000_000.0


def test_a_student_view_has_these_fields_and_no_others(quizzes: list[Quiz]) -> None:
    for quiz in quizzes:
        seen = json.loads(quiz.student_view().model_dump_json())
        assert set(seen) == {"edition", "quiz_id", "items"}
        for n, item in enumerate(seen["items"], 1):
            assert set(item) == {"id", "kind", "answer_form", "stem", "ask", "options", "unit"}
            assert item["id"] == f"q{n:02d}"
            assert [o["label"] for o in item["options"]] == list("ABCDEF")[: len(item["options"])]
            assert all(set(o) == {"label", "text"} for o in item["options"])


def test_no_field_name_is_shared_by_the_two_halves_but_the_id_and_the_options() -> None:
    assert set(ItemView.model_fields) & set(ItemKey.model_fields) == {"id", "options"}
    assert "keys" not in StudentQuiz.model_fields
    assert "seed" not in StudentQuiz.model_fields


@pytest.mark.parametrize("form", sorted(STUDENT))
def test_nothing_of_the_key_is_in_what_students_get(quizzes: list[Quiz], form: str) -> None:
    for quiz in quizzes[:4]:
        text = STUDENT[form](quiz).content.decode()
        assert f'"{quiz.seed}"' not in text
        for key in quiz.keys:
            assert key.explanation not in text
            assert "difficulty" not in text.lower()
            for option in key.options:
                assert option.feedback not in text
            if key.hidden is not None:
                assert key.hidden.turn_seed not in text


def test_the_student_half_does_not_change_with_the_key(quizzes: list[Quiz]) -> None:
    """Swap which option is right: what students see stays the same, byte for byte."""
    for quiz in quizzes[:3]:
        swapped = {"answer": ("B",), "difficulty": 0.0, "tags": ("skill:safety",)}
        keys = [x.model_copy(update=swapped) for x in quiz.keys]
        other = quiz.model_copy(update={"keys": tuple(keys), "seed": "other"})
        for form in STUDENT.values():
            assert form(other).content == form(quiz).content


def test_every_cause_of_a_scenario_shuffles_alike(bank: list[tuple[ItemView, ItemKey]]) -> None:
    """The order of turns is drawn from a random text, not from the hidden fault."""
    for _, key in bank:
        if key.hidden is not None:
            assert key.hidden.cause not in key.hidden.turn_seed
            assert key.hidden.turn_seed.isdigit()


# ---------------------------------------------------------------------------------------------------------
# A pass


def issued(k: Knowledge, nonce: str = NONCE) -> tuple[Quiz, str]:
    return issue_pass(Blueprint(items=5), SECRET, NOW, 3600, nonce, k)


def test_a_pass_gives_the_same_quiz_back(k: Knowledge) -> None:
    quiz, text = issued(k)
    assert open_pass(text, SECRET, NOW + 3599, k).model_dump_json() == quiz.model_dump_json()


def test_whoever_reads_a_pass_cannot_make_the_quiz(k: Knowledge) -> None:
    quiz, text = issued(k)
    content = URLSafeSerializer("anybody").loads_unsafe(text)[1]
    assert set(content) == {"blueprint", "nonce", "edition", "generator", "quiz_id", "expires"}
    assert quiz.seed not in json.dumps(content)
    for guess in (*content.values(), NONCE, "1", ""):
        assert make_quiz(Blueprint(items=5), str(guess), k).quiz_id != quiz.quiz_id


def test_another_secret_gives_another_quiz_and_opens_nothing(k: Knowledge) -> None:
    quiz, text = issued(k)
    other, _ = issue_pass(Blueprint(items=5), SECRET[::-1], NOW, 3600, NONCE, k)
    assert other.quiz_id != quiz.quiz_id
    with pytest.raises(CaseError, match="not one that this service issued"):
        open_pass(text, SECRET[::-1], NOW, k)


def test_an_expired_pass_is_refused(k: Knowledge) -> None:
    with pytest.raises(CaseError, match="expired"):
        open_pass(issued(k)[1], SECRET, NOW + 3600, k)


def test_a_pass_changed_in_any_one_place_is_refused(k: Knowledge) -> None:
    text = issued(k)[1]
    for n in range(0, len(text), 7):
        changed = text[:n] + ("A" if text[n] != "A" else "B") + text[n + 1 :]
        if changed.rstrip("=") != text.rstrip("="):
            with pytest.raises(CaseError):
                # the last sign of a base64 text holds bits that count for nothing; no other change may pass
                open_pass(changed, SECRET, NOW, k)


@pytest.mark.parametrize("text", ["", "x", "a.b", "ä", "e30.e30", "." * 5])
def test_a_text_that_is_no_pass_is_refused(k: Knowledge, text: str) -> None:
    with pytest.raises(CaseError, match="not one that this service issued"):
        open_pass(text, SECRET, NOW, k)


@pytest.mark.parametrize("secret", ["", "short"])
def test_without_a_good_secret_nothing_is_issued(k: Knowledge, secret: str) -> None:
    with pytest.raises(PassMissingError, match="at least 32 characters"):
        issue_pass(Blueprint(items=2), secret, NOW, 3600, NONCE, k)


def test_a_pass_of_another_edition_is_refused_with_both_named(k: Knowledge) -> None:
    from dataclasses import replace  # noqa: PLC0415

    later = replace(k, info=k.info.model_copy(update={"edition": "2099.01"}), memo={})
    with pytest.raises(CaseError, match="has changed since"):
        open_pass(issued(k)[1], SECRET, NOW, later)


@pytest.mark.parametrize("valid_s", [0, 59, 181 * 24 * 3600])
def test_a_pass_holds_for_a_minute_to_half_a_year(k: Knowledge, valid_s: int) -> None:
    with pytest.raises(CaseError, match="valid_s"):
        issue_pass(Blueprint(items=2), SECRET, NOW, valid_s, NONCE, k)
