"""Grade answer sheets: points, feedback for each item, a profile by skill, and what to study."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations
from typing import Final, Literal, NamedTuple

from carbdiag.errors import CaseError, Problem, nearest
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.quiz.bench import Fact
from carbdiag.quiz.blueprint import rules_of
from carbdiag.quiz.scenario_items import Walkable
from carbdiag.quiz.stories import result_words
from carbdiag.quiz_schema import (
    Answer,
    AnswerSheet,
    Grade,
    ItemGrade,
    ItemKey,
    ItemView,
    NumberKey,
    Quiz,
    SkillGrade,
    Turn,
)
from carbdiag.records.quiz import QuizRules

_UNTOLD: Final = "Not told."
_NO_ANSWER: Final[tuple[Answer, ...]] = (None, "", ())


def grade_quiz(quiz: Quiz, sheet: AnswerSheet, knowledge: Knowledge | None = None) -> Grade:
    """Grade one sheet: points, and what was right and why, item by item.

    Args:
        quiz: the quiz with its key.
        sheet: the answers; what is left out is unanswered and earns nothing.
        knowledge: the records the quiz was made from; without it, the shipped ones.

    Raises:
        CaseError: answers to items the quiz does not have, answers of the wrong form, or a quiz of another edition.
    """
    k = the_knowledge(knowledge)
    rules = rules_of(k)
    problems = list(sheet_problems(quiz, sheet, "answers", k, rules))
    if problems:
        raise CaseError(problems)
    graded = [
        _grade(k, rules, view, key, sheet.answers.get(view.id)) for view, key in zip(quiz.items, quiz.keys, strict=True)
    ]
    points = sum(g.credit for g in graded)
    by_skill = tuple(_by_skill(rules, graded))
    return Grade(
        student=sheet.student,
        edition=quiz.edition,
        quiz_id=quiz.quiz_id,
        points=round(points, 2),
        items=len(graded),
        share=round(points / len(graded), 4),
        unanswered=sum(not g.answered for g in graded),
        by_item=tuple(graded),
        by_skill=by_skill,
        study=tuple(f"{s.name}: {s.study}" for s in by_skill if s.study),
    )


def withheld(grade: Grade, tell: Literal["all", "answered", "points"]) -> Grade:
    """A grade that tells only so much of the key: of all items, of those answered, or points alone."""
    if tell == "all":
        return grade

    def told(item: ItemGrade) -> ItemGrade:
        if tell == "answered" and item.answered:
            return item
        return item.model_copy(
            update={"feedback": _UNTOLD, "right_answer": _UNTOLD, "explanation": _UNTOLD, "cautions": ()}
        )

    return grade.model_copy(update={"by_item": tuple(told(item) for item in grade.by_item)})


def credits_of(quiz: Quiz, sheet: AnswerSheet, knowledge: Knowledge | None = None) -> list[float]:
    """The credit of every item, in order."""
    return [g.credit for g in grade_quiz(quiz, sheet, knowledge).by_item]


def _by_skill(rules: QuizRules, graded: list[ItemGrade]) -> Iterator[SkillGrade]:
    for skill in rules.skills:
        mine = [g for g in graded if g.skill == skill.id]
        if mine:
            points = sum(g.credit for g in mine)
            share = points / len(mine)
            yield SkillGrade(
                skill=skill.id,
                name=skill.name,
                points=round(points, 2),
                items=len(mine),
                share=round(share, 4),
                study=skill.study if share < rules.pass_from else None,
            )


# ---------------------------------------------------------------------------------------------------------
# Whether a sheet fits


def sheet_problems(
    quiz: Quiz, sheet: AnswerSheet, field: str, k: Knowledge, rules: QuizRules
) -> Iterator[Problem]:
    """Everything about a sheet that does not fit the quiz."""
    if quiz.edition != k.edition:
        yield Problem(
            "edition",
            f"this quiz was made from edition {quiz.edition} of the knowledge; loaded is {k.edition}. Make it anew",
            quiz.edition,
            (k.edition,),
        )
        return
    items = {i.id: i for i in quiz.items}
    walks = {x.id: x for x in quiz.keys if x.hidden is not None}
    for item_id, answer in sheet.answers.items():
        at = f"{field}.{item_id}"
        if item_id not in items:
            near = nearest(item_id, items)
            yield Problem(at, "this quiz has no such item", item_id, tuple(items), near)
        elif answer not in _NO_ANSWER:
            wrong = _wrong_form(items[item_id], answer)
            if wrong is not None:
                yield Problem(at, wrong[0], str(answer)[:60], wrong[1])
            elif item_id in walks:
                yield from _walk_problems(k, rules, walks[item_id], answer, at)


def _wrong_form(item: ItemView, answer: Answer) -> tuple[str, tuple[str, ...]] | None:
    labels = tuple(o.label for o in item.options)
    if item.answer_form == "number":
        return None if _number(answer) is not None else ("must be a number", ())
    if item.answer_form == "choice":
        given = answer[0] if isinstance(answer, tuple) and len(answer) == 1 else answer
        return None if isinstance(given, str) and _label(given) in labels else ("must be one label", labels)
    if item.answer_form == "order":
        if sorted(_labels(answer)) != sorted(labels):
            return "must name every label once, first to last", labels
        return None
    return None if isinstance(answer, str | tuple) else ("must be a list of labels, one for each turn", labels)


def _walk_problems(k: Knowledge, rules: QuizRules, key: ItemKey, answer: Answer, at: str) -> Iterator[Problem]:
    assert key.hidden is not None
    walk = Walkable.of(k, rules, key.hidden)
    results: list[Fact] = []
    chosen = _labels(answer)
    if len(chosen) > walk.turns():
        yield Problem(at, f"a scenario has {walk.turns()} turns, found {len(chosen)} answers", str(len(chosen)))
        return
    for n, label in enumerate(chosen):
        node = walk.after(tuple(results))
        labels = tuple(v.label for v in node.views()) if node else ()
        if label not in labels:
            yield Problem(f"{at}[{n}]", "there is no such option at this turn", label[:20], labels)
            return
        assert node is not None
        result = node.results[labels.index(label)]
        if result is not None:
            results.append(result)


def _label(text: str) -> str:
    return text.strip().upper()


def _labels(answer: Answer) -> list[str]:
    """Labels of an answer: a list, or text such as `B A D C`, `B,A,D,C` or `BADC`."""
    if isinstance(answer, str):
        return [c for c in answer.upper() if c not in " ,;>-"]
    return [_label(x) for x in answer] if isinstance(answer, tuple) else []


def _number(answer: Answer) -> float | None:
    if isinstance(answer, tuple) or answer is None:
        return None
    try:
        value = float(answer)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


# ---------------------------------------------------------------------------------------------------------
# What an answer earns


class _Marked(NamedTuple):
    credit: float
    feedback: str
    turns: tuple[Turn, ...] = ()
    finished: bool = True


def _grade(k: Knowledge, rules: QuizRules, item: ItemView, key: ItemKey, answer: Answer) -> ItemGrade:
    marked = _Marked(0.0, "Not answered.")
    if answer not in _NO_ANSWER:
        if item.answer_form == "choice":
            marked = _choice(key, answer)
        elif item.answer_form == "order":
            marked = _mark_order(key, _labels(answer))
        elif item.answer_form == "number":
            assert key.number is not None
            marked = _mark_number(key.number, answer)
        else:
            marked = _walk(k, rules, key, _labels(answer))
    if not marked.finished:
        # the fault stays hidden until it was named
        return ItemGrade(
            id=item.id, skill=key.skill, credit=marked.credit, answered=True, finished=False, feedback=marked.feedback,
            right_answer="Not told before the last turn.", explanation="Not told before the last turn.",
            turns=marked.turns,
        )  # fmt: skip
    return ItemGrade(
        id=item.id,
        skill=key.skill,
        credit=marked.credit,
        answered=answer not in _NO_ANSWER,
        feedback=marked.feedback,
        right_answer=right_answer(item, key, k),
        explanation=key.explanation,
        cautions=key.cautions,
        turns=marked.turns,
    )


def _choice(key: ItemKey, answer: Answer) -> _Marked:
    label = _label(answer if isinstance(answer, str) else answer[0] if isinstance(answer, tuple) else "")
    chosen = next(o for o in key.options if o.label == label)
    return _Marked(chosen.credit, chosen.feedback)


def order_credit(right: tuple[str, ...], given: tuple[str, ...]) -> float:
    """Pairs in the right order less pairs in the wrong one, over all pairs; never below 0, so guessing earns nothing.

    >>> order_credit(("A", "B", "C"), ("A", "B", "C")), order_credit(("A", "B", "C"), ("C", "B", "A"))
    (1.0, 0.0)
    """
    place = {label: n for n, label in enumerate(given)}
    pairs = list(combinations(right, 2))
    kept = sum(place[a] < place[b] for a, b in pairs)
    return max(0.0, round((2 * kept - len(pairs)) / len(pairs), 4))


def _mark_order(key: ItemKey, given: list[str]) -> _Marked:
    credit = order_credit(key.answer, tuple(given))
    text = "In the right order." if credit == 1 else "Not all in order."
    return _Marked(credit, text)


def _mark_number(key: NumberKey, answer: Answer) -> _Marked:
    value = _number(answer)
    assert value is not None
    if key.low <= value <= key.high:
        return _Marked(1.0, f"Within {key.low:g} to {key.high:g}.")
    if key.half_from <= value <= key.half_to:
        begin = f"{key.low:g} to {key.high:g}"
        return _Marked(0.5, f"Not where one begins ({begin}), no leaner than published rules: half the points.")
    side = "leaner" if value < key.low else "richer"
    return _Marked(0.0, f"Too far to the {side} side; {key.low:g} to {key.high:g} was wanted.")


def _walk(k: Knowledge, rules: QuizRules, key: ItemKey, chosen: list[str]) -> _Marked:
    assert key.hidden is not None
    walk = Walkable.of(k, rules, key.hidden)
    results: list[Fact] = []
    turns: list[Turn] = []
    credit = 0.0
    node = walk.after(())
    for label in chosen:
        assert node is not None
        n = [v.label for v in node.views()].index(label)
        credit += node.options[n].credit / walk.turns()
        result = node.results[n]
        if result is not None:
            results.append(result)
        after = walk.after(tuple(results)) if result is not None else None
        turns.append(
            Turn(
                chosen=node.options[n].text,
                shows=result_words(k, result) if result is not None else node.options[n].feedback,
                ask=after.ask if after else None,
                options=after.views() if after else (),
            )
        )
        node = after
    done = node is None
    text = "Worked through to the end." if done else f"{walk.turns() - len(chosen)} more to choose."
    return _Marked(min(round(credit, 4), 1.0), text, tuple(turns), done)


def right_answer(item: ItemView, key: ItemKey, k: Knowledge) -> str:
    """The right answer in words."""
    if key.hidden is not None:
        return k.causes[key.hidden.cause].name
    if key.number is not None:
        return f"{key.number.value:g} ({key.number.low:g} to {key.number.high:g})"
    text = {o.label: o.text for o in item.options}
    return "; ".join(f"{label}. {text[label]}" for label in key.answer)
