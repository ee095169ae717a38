"""A quiz, its key, a grade and the statistics of a class as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from carbdiag.answers.layout import INDENT, columns, page, wrap
from carbdiag.quiz.exports.export import FootNotes
from carbdiag.quiz.stories import closed
from carbdiag.quiz_schema import Grade, ItemGrade, ItemView, OptionView, Quiz, QuizStatistics, StudentQuiz


def quiz_text(quiz: StudentQuiz) -> str:
    """The questions."""
    lines: list[str] = []
    for item in quiz.items:
        lines += ["", *item_lines(item)]
    lines += ["", *wrap(f"Quiz {quiz.quiz_id}, knowledge edition {quiz.edition}.", "")]
    return page(lines[1:])


def item_lines(item: ItemView) -> Iterator[str]:
    """One question with its options."""
    yield from wrap(f"{item.id}. {item.stem}", "", INDENT)
    yield from wrap(item.ask)
    yield from option_lines(item.options)
    if item.answer_form == "number":
        yield from wrap(f"Answer: a number ({item.unit})", INDENT * 2)


def option_lines(options: Iterable[OptionView]) -> Iterator[str]:
    """Options, one under the other."""
    for o in options:
        yield from wrap(f"{o.label}. {o.text}", INDENT * 2, INDENT * 3 + " ")


def key_text(quiz: Quiz) -> str:
    """The answer key with reasons; cautions and sources stand once, at the end."""
    notes = FootNotes.of_keys(quiz.keys)
    lines: list[str] = []
    for item, key in zip(quiz.items, quiz.keys, strict=True):
        if key.number is not None:
            right = f"{key.number.value:g} (from {key.number.low:g} to {key.number.high:g})"
        else:
            right = ", ".join(key.answer)
        lines += ["", *wrap(f"{item.id}. {right}   [{key.difficulty_word}, {key.skill}]", "", INDENT)]
        lines += wrap(key.explanation)
        text = {o.label: o.text for o in item.options}
        for option in key.options:
            points = f"{option.credit:g}" if item.answer_form != "order" else "-"
            said = f"{closed(text[option.label])} {option.feedback}{notes.behind(key, option)}"
            lines += wrap(f"{option.label} ({points}) {said}", INDENT * 2, INDENT * 3)
        lines += wrap(notes.refer_to(key), INDENT * 2, INDENT * 3)
    lines += _foot(notes)
    lines += ["", *wrap(f"Quiz {quiz.quiz_id}, seed {quiz.seed}, knowledge edition {quiz.edition}.", "")]
    return page(lines[1:])


def profile_text(grade: Grade) -> str:
    """The points, by skill, and what to study."""
    who = f"{grade.student}: " if grade.student else ""
    head = f"{who}{grade.points:g} of {grade.items} points ({grade.share:.0%})"
    left = f", {grade.unanswered} unanswered" if grade.unanswered else ""
    lines = [*wrap(f"{head}{left}.", ""), ""]
    lines += columns([(s.name, f"{s.points:g} of {s.items}", s.study or "") for s in grade.by_skill])
    return page(lines)


def grade_text(grade: Grade) -> str:
    """A graded sheet, item by item."""
    notes = FootNotes.of(c.text for item in grade.by_item for c in item.cautions)
    lines = [profile_text(grade).rstrip("\n")]
    for item in grade.by_item:
        lines += ["", *item_grade_lines(item), *wrap(notes.refer(c.text for c in item.cautions))]
    return page([*lines, *_foot(notes)])


def _foot(notes: FootNotes) -> Iterator[str]:
    for title, letter, texts in (("Cautions", "C", notes.cautions), ("Sources", "S", notes.sources)):
        if texts:
            yield ""
            yield title
        for n, text in enumerate(texts, 1):
            yield from wrap(f"{letter}{n}  {text}", INDENT, INDENT * 3)


def item_grade_lines(item: ItemGrade) -> Iterator[str]:
    """What one answer earned, and why."""
    yield from wrap(f"{item.id}: {round(item.credit, 2):g}. {item.feedback}", "", INDENT)
    for turn in item.turns:
        shows = f"It shows: {turn.shows}" if turn.options or not item.finished else turn.shows
        yield from wrap(f"{closed(turn.chosen)} {shows}", INDENT * 2, INDENT * 3)
        if turn.ask is not None and not item.finished:
            yield from wrap(turn.ask, INDENT * 2)
            yield from option_lines(turn.options)
    if item.finished:
        if item.credit < 1:
            yield from wrap(f"Right: {item.right_answer}")
        yield from wrap(item.explanation)


def statistics_text(found: QuizStatistics) -> str:
    """How a quiz worked in a class."""
    lines = [
        *wrap(f"{found.sheets} sheets, {found.items} items: mean {found.mean_share:.0%}, spread"
              f" {found.sd_points:.2f} points.", ""),
        *wrap(_reliability(found), ""),
        "",
    ]  # fmt: skip
    rows = [("item", "facility", "discrimination", "upper-lower", "expected", "remarks")]
    rows += [
        (
            item.id,
            f"{item.facility:.2f}",
            "-" if item.discrimination is None else f"{item.discrimination:+.2f}",
            "-" if item.upper_lower is None else f"{item.upper_lower:+.2f}",
            f"{item.expected_difficulty:.2f}",
            " ".join(item.remarks) or "-",
        )
        for item in found.by_item
    ]
    lines += columns(rows)
    return page([*lines, "", *wrap(found.note, "")])


def _reliability(found: QuizStatistics) -> str:
    if found.alpha is None:
        return "Reliability: not defined, for scores do not vary."
    name, value = ("KR-20", found.kr20) if found.kr20 is not None else ("Cronbach's alpha", found.alpha)
    error = f"; a score is good to ±{found.standard_error_points:.1f} points" if found.standard_error_points else ""
    return f"Reliability ({name}): {value:.2f}{error}."
