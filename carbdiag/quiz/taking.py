"""Take a quiz at a terminal: one question at a time, each answer explained at once, a case walked turn by turn."""

from __future__ import annotations

from collections.abc import Callable

from carbdiag.answers.layout import caution_lines
from carbdiag.errors import CaseError
from carbdiag.knowledge import Knowledge
from carbdiag.quiz.exports.plain import item_grade_lines, item_lines, option_lines
from carbdiag.quiz.grading import grade_quiz
from carbdiag.quiz_schema import Answer, AnswerSheet, Grade, ItemGrade, ItemView, Quiz

_PROMPT = {
    "choice": "Your answer (a letter; nothing to skip): ",
    "order": "Your order, first to last (as B A D C; nothing to skip): ",
    "number": "Your number (nothing to skip): ",
    "scenario": "Your choice (a letter; nothing to stop here): ",
}


def take_quiz(
    quiz: Quiz, ask: Callable[[str], str | None], say: Callable[[str], None], knowledge: Knowledge | None = None
) -> Grade:
    """Ask every item and grade it at once.

    Args:
        quiz: the quiz with its key.
        ask: shows a prompt and gives what was typed; None when nothing more comes, which ends the quiz.
        say: shows a line.
        knowledge: the records the quiz was made from; without it, the shipped ones.
    """
    answers: dict[str, Answer] = {}
    warned: set[str] = set()  # cautions shown already: each is shown when it first applies
    for number, item in enumerate(quiz.items):
        for line in item_lines(item):
            say(line)
        given = _one(quiz, number, item, ask, say, warned, knowledge)
        if given is None:
            break
        if given:
            answers[item.id] = given
        say("")
    return grade_quiz(quiz, AnswerSheet(answers=answers), knowledge)


def _one(
    quiz: Quiz,
    number: int,
    item: ItemView,
    ask: Callable[[str], str | None],
    say: Callable[[str], None],
    warned: set[str],
    knowledge: Knowledge | None,
) -> Answer:
    """What was answered, () for skipped, None for the end; asked again until it fits."""
    way: tuple[str, ...] = ()
    while True:
        typed = ask(_PROMPT[item.answer_form])
        if typed is None or not typed.strip():
            return None if typed is None else way
        answer: Answer = (*way, typed.strip()) if item.answer_form == "scenario" else typed.strip()
        try:
            graded = grade_quiz(quiz, AnswerSheet(answers={item.id: answer}), knowledge).by_item[number]
        except CaseError as error:
            for problem in error.problems:
                say(f"  {problem.message}. Allowed: {', '.join(problem.allowed)}" if problem.allowed else
                    f"  {problem.message}")  # fmt: skip
            continue
        if item.answer_form == "scenario" and isinstance(answer, tuple):
            way = answer
            _turn(graded, say)
        if graded.finished:
            for line in item_grade_lines(graded):
                say(line)
            for line in caution_lines(c for c in graded.cautions if c.id not in warned):
                say(line)
            warned.update(c.id for c in graded.cautions)
            return answer


def _turn(graded: ItemGrade, say: Callable[[str], None]) -> None:
    turn = graded.turns[-1]
    if not graded.finished:
        say(f"  It shows: {turn.shows}")
        say(f"  {turn.ask}")
        for line in option_lines(turn.options):
            say(line)
