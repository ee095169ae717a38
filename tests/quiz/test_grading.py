"""Points, partial credit, feedback, a profile by skill; and a clear word where a sheet does not fit."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag import CaseError, Knowledge, grade_quiz, make_quiz
from carbdiag.knowledge import shipped_knowledge
from carbdiag.quiz.answer_files import sheets_of_csv
from carbdiag.quiz.grading import order_credit
from carbdiag.quiz_schema import AnswerSheet, AtLeast, Blueprint, Quiz


@pytest.fixture(scope="module")
def quiz(k: Knowledge) -> Quiz:
    kinds = ("kind:scenario", "kind:size_it", "kind:order_steps")
    return make_quiz(Blueprint(items=20, at_least=tuple(AtLeast(tags=(kind,), items=1) for kind in kinds)), 3, k)


def right(quiz: Quiz, k: Knowledge) -> dict[str, object]:
    """All right answers; scenarios are walked along the best checks."""
    out: dict[str, object] = {}
    for v, key in zip(quiz.items, quiz.keys, strict=True):
        if v.answer_form == "number":
            assert key.number is not None
            out[v.id] = key.number.value
        elif v.answer_form == "scenario":
            out[v.id] = best_way(quiz, v.id, k)
        else:
            out[v.id] = key.answer[0] if v.answer_form == "choice" else key.answer
    return out


def best_way(quiz: Quiz, item: str, k: Knowledge) -> tuple[str, ...]:
    """Try every label at each turn and keep the one that earns most."""
    way: tuple[str, ...] = ()
    while True:
        n = next(i for i, v in enumerate(quiz.items) if v.id == item)
        labels = [o.label for o in quiz.items[n].options]
        if way:
            turns = grade_quiz(quiz, AnswerSheet(answers={item: way}), k).by_item[n]
            if turns.finished:
                return way
            labels = [o.label for o in turns.turns[-1].options]
        earned = {x: grade_quiz(quiz, AnswerSheet(answers={item: (*way, x)}), k).by_item[n].credit for x in labels}
        way = (*way, max(earned, key=lambda x: earned[x]))


def test_all_right_earns_everything(quiz: Quiz, k: Knowledge) -> None:
    grade = grade_quiz(quiz, AnswerSheet.model_validate({"student": "Ann", "answers": right(quiz, k)}), k)
    assert grade.share == 1
    assert grade.points == grade.items == len(quiz.items)
    assert grade.study == ()
    assert all(s.share == 1 for s in grade.by_skill)


def test_an_empty_sheet_earns_nothing_and_names_what_to_study(quiz: Quiz, k: Knowledge) -> None:
    grade = grade_quiz(quiz, AnswerSheet(answers={}), k)
    assert grade.points == 0
    assert grade.unanswered == len(quiz.items)
    assert len(grade.study) == len(grade.by_skill)


def test_the_profile_adds_up(quiz: Quiz, k: Knowledge) -> None:
    some = dict(list(right(quiz, k).items())[::2])
    grade = grade_quiz(quiz, AnswerSheet.model_validate({"answers": some}), k)
    assert sum(s.items for s in grade.by_skill) == len(quiz.items)
    assert sum(s.points for s in grade.by_skill) == pytest.approx(grade.points)


def test_a_near_check_earns_its_part(quiz: Quiz, k: Knowledge) -> None:
    quiz = make_quiz(Blueprint(items=6, kinds=("best_check",)), 3, k)
    for v, key in zip(quiz.items, quiz.keys, strict=True):
        for o in key.options:
            graded = grade_quiz(quiz, AnswerSheet(answers={v.id: o.label}), k)
            mine = next(g for g in graded.by_item if g.id == v.id)
            assert mine.credit == o.credit
            assert mine.feedback == o.feedback


def test_a_number_earns_all_at_the_rich_end_half_in_the_range_and_nothing_leaner(k: Knowledge) -> None:
    quiz = make_quiz(Blueprint(items=6, kinds=("size_it",)), 1, k)
    for v, key in zip(quiz.items, quiz.keys, strict=True):
        n = key.number
        assert n is not None

        def credit(value: float, item: str = v.id) -> float:
            graded = grade_quiz(quiz, AnswerSheet(answers={item: value}), k)
            return next(g.credit for g in graded.by_item if g.id == item)

        assert credit(n.low) == credit(n.high) == credit(n.value) == 1
        assert credit(n.half_from - 1) == 0
        assert credit(n.half_to + 1) == 0
        for value in (n.half_from, n.half_to):
            assert credit(value) == (1 if n.low <= value <= n.high else 0.5)


@given(st.permutations("ABCD"))
def test_an_order_earns_by_pairs_and_never_less_than_nothing(given_order: list[str]) -> None:
    credit = order_credit(("A", "B", "C", "D"), tuple(given_order))
    assert 0 <= credit <= 1
    assert (credit == 1) == (given_order == list("ABCD"))


def test_orders_may_be_written_as_people_do(k: Knowledge) -> None:
    quiz = make_quiz(Blueprint(items=1, kinds=("order_steps",)), 1, k)
    key = quiz.keys[0].answer
    for said in (key, " ".join(key), ",".join(key), "".join(key).lower(), " > ".join(key)):
        assert grade_quiz(quiz, AnswerSheet(answers={"q01": said}), k).points == 1


# ---------------------------------------------------------------------------------------------------------
# A case in turns


@given(st.integers(0, 10**6))
@settings(max_examples=15, deadline=None)
def test_any_way_through_a_scenario_can_be_graded(chance: int) -> None:
    k = shipped_knowledge()
    quiz = make_quiz(Blueprint(items=1, kinds=("scenario",)), 4, k)
    draw = random.Random(chance)
    way: list[str] = []
    options = [o.label for o in quiz.items[0].options]
    cause = grade_quiz(quiz, AnswerSheet(answers={"q01": tuple(best_way(quiz, "q01", k))}), k).by_item[0].right_answer
    while options:
        way.append(draw.choice(options))
        graded = grade_quiz(quiz, AnswerSheet(answers={"q01": tuple(way)}), k).by_item[0]
        assert 0 <= graded.credit <= 1
        assert len(graded.turns) == len(way)
        options = [o.label for o in graded.turns[-1].options]
        if not graded.finished:
            assert cause not in (graded.right_answer, graded.explanation), "told before the last turn"
    assert graded.finished
    assert graded.right_answer == cause


def test_each_answer_reveals_the_next_result(k: Knowledge) -> None:
    quiz = make_quiz(Blueprint(items=1, kinds=("scenario",)), 4, k)
    one = grade_quiz(quiz, AnswerSheet(answers={"q01": ("A",)}), k).by_item[0]
    assert one.turns[0].chosen == quiz.items[0].options[0].text
    assert one.turns[0].shows.startswith(one.turns[0].chosen.split(" (")[0])
    assert len(one.turns[0].shows) > len(one.turns[0].chosen.split(" (")[0]) + 2, "the result stands behind the name"
    assert one.turns[0].ask
    assert one.turns[0].options


# ---------------------------------------------------------------------------------------------------------
# Sheets that do not fit


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({"q99": "A"}, "no such item"),
        ({"q01": "Z"}, "must be one label"),
        ({"q01": ("A", "B")}, "must be one label"),
    ],
)
def test_a_wrong_answer_is_named_with_what_is_allowed(k: Knowledge, answers: dict[str, object], said: str) -> None:
    quiz = make_quiz(Blueprint(items=2, kinds=("which_circuit",)), 1, k)
    with pytest.raises(CaseError, match=said):
        grade_quiz(quiz, AnswerSheet.model_validate({"answers": answers}), k)


@pytest.mark.parametrize(
    ("kind", "answer", "said"),
    [
        ("order_steps", "A B C", "every label once"),
        ("order_steps", "A A B C", "every label once"),
        ("size_it", "big", "must be a number"),
        ("scenario", ("Z",), "no such option at this turn"),
        ("scenario", ("A", "A", "A", "A", "A"), "3 turns, found 5"),
    ],
)
def test_a_wrong_form_is_named(k: Knowledge, kind: str, answer: object, said: str) -> None:
    quiz = make_quiz(Blueprint(items=1, kinds=(kind,)), 1, k)
    with pytest.raises(CaseError, match=said):
        grade_quiz(quiz, AnswerSheet.model_validate({"answers": {"q01": answer}}), k)


def test_another_edition_is_refused(k: Knowledge) -> None:
    quiz = make_quiz(Blueprint(items=2), 1, k)
    later = replace(k, info=k.info.model_copy(update={"edition": "2099.01"}))
    with pytest.raises(CaseError, match=r"2099\.01"):
        grade_quiz(quiz, AnswerSheet(answers={}), later)


@pytest.mark.parametrize("nothing", ["", (), None])
def test_an_empty_answer_is_none(quiz: Quiz, k: Knowledge, nothing: str | tuple[str, ...] | None) -> None:
    grade = grade_quiz(quiz, AnswerSheet(answers=dict.fromkeys((v.id for v in quiz.items), nothing)), k)
    assert grade.unanswered == len(quiz.items)


@pytest.mark.parametrize("text", ["nan", "inf", "about 120"])
def test_what_is_no_number_is_refused(quiz: Quiz, k: Knowledge, text: str) -> None:
    item = next(v.id for v in quiz.items if v.answer_form == "number")
    with pytest.raises(CaseError, match="must be a number"):
        grade_quiz(quiz, AnswerSheet(answers={item: text}), k)


@pytest.mark.parametrize("apart", [",", ";"])
def test_a_class_may_come_as_csv(apart: str) -> None:
    sheets = sheets_of_csv("student,q01,q02\nAnn,A,145\nBo,,B D C A\n".replace(",", apart))
    assert [s.student for s in sheets] == ["Ann", "Bo"]
    assert sheets[1].answers == {"q02": "B D C A"}


@pytest.mark.parametrize(
    ("text", "said"),
    [("", "first line"), ("student,q01,q01\n", "comes twice"), ("student,q01\nAnn,A,B\n", "line 2.*3 cells")],
)
def test_a_broken_csv_is_refused_with_its_line(text: str, said: str) -> None:
    with pytest.raises(CaseError, match=said):
        sheets_of_csv(text)
