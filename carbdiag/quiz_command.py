"""The command `carbdiag quiz`: make a quiz, print or export it, grade sheets, analyze a class."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Final

from carbdiag.command_tools import FINE, BadInputError, parsed, read_named, tell, valid, write_json
from carbdiag.errors import CaseError, Problem
from carbdiag.frozen import Frozen
from carbdiag.quiz.answer_files import sheets_of, sheets_of_csv
from carbdiag.quiz.exports.export import Export
from carbdiag.quiz.exports.formats import STUDENT, TRAINER
from carbdiag.quiz.exports.plain import grade_text, key_text, profile_text, quiz_text, statistics_text
from carbdiag.quiz.grading import grade_quiz
from carbdiag.quiz.item_analysis import analyze_sheets
from carbdiag.quiz.making import make_quiz
from carbdiag.quiz.taking import take_quiz
from carbdiag.quiz_schema import AnswerSheet, Blueprint, Grade, Quiz

_PROGRESS_FROM = 50


def run(chosen: argparse.Namespace) -> int:
    """Do what was asked; the status is the command's."""
    asked = [name for name in ("key", "take", "grade", "analyze") if getattr(chosen, name)]
    if len(asked) > 1:
        raise BadInputError([f"give only one of {', '.join(f'--{a}' for a in asked)}"])
    wish = valid(_wish(chosen), Blueprint)
    bar = _Bar() if wish.items >= _PROGRESS_FROM and sys.stderr.isatty() else None
    try:
        quiz = make_quiz(wish, chosen.seed, progress=bar)
    except CaseError:
        if bar is not None:
            bar.stop()
        raise
    if chosen.take:
        sys.stdout.write(profile_text(take_quiz(quiz, _typed, print)))
    elif chosen.grade:
        _answers(chosen, _grades(quiz, _sheets(chosen.grade)), grade_text)
    elif chosen.analyze:
        _answers(chosen, [analyze_sheets(quiz, _sheets(chosen.analyze))], statistics_text)
    elif chosen.json:
        shown: Frozen = quiz if chosen.key else quiz.student_view()
        write_json(shown.model_dump(mode="json", by_alias=True))
    else:
        _write(chosen, _export(chosen, quiz))
    return FINE


def _grades(quiz: Quiz, sheets: Sequence[AnswerSheet]) -> list[Grade]:
    """Every sheet graded; what does not fit is told of all of them, with whose sheet it is."""
    grades: list[Grade] = []
    problems: list[Problem] = []
    for n, sheet in enumerate(sheets, 1):
        try:
            grades.append(grade_quiz(quiz, sheet))
        except CaseError as error:
            whose = sheet.student or f"sheet {n}"
            problems += [replace(p, field=f"{whose}, {p.field}") for p in error.problems]
    if problems:
        raise CaseError(problems)
    return grades


class _Bar:
    """A bar on standard error while a large bank is made."""

    def __call__(self, done: int, wanted: int) -> None:
        filled = 30 * done // wanted
        end = "\n" if done == wanted else ""
        print(f"\r[{'#' * filled}{'.' * (30 - filled)}] {done}/{wanted}", end=end, file=sys.stderr, flush=True)

    def stop(self) -> None:
        """Leave the bar where it is; what comes next begins a line."""
        print(file=sys.stderr)


def _typed(prompt: str) -> str | None:
    """One line of standard input; None at its end."""
    print(prompt, end="", flush=True)
    line = sys.stdin.readline()
    return line if line else None


def _wish(chosen: argparse.Namespace) -> object:
    given = {
        "items": _number(chosen.items),
        "families": chosen.family,
        "strokes": _number(chosen.strokes),
        "difficulty": chosen.difficulty,
        "kinds": chosen.kind,
        "shares": [_tagged(s, "--share", "percent") for s in chosen.share or ()] or None,
        "at_least": [_tagged(s, "--at-least", "items") for s in chosen.at_least or ()] or None,
    }
    told = {name: value for name, value in given.items() if value is not None}
    if chosen.blueprint is None:
        return told
    if told:
        raise BadInputError(["give either --blueprint or the options for it, not both"])
    return parsed(read_named(chosen.blueprint))


def _number(text: str | None) -> object:
    if text is None:
        return None
    try:
        return int(text)
    except ValueError:
        try:
            return float(text)
        except ValueError:
            return text


def _tagged(text: str, option: str, name: str) -> dict[str, object]:
    number, colon, tags = text.partition(":")
    words = [t.strip() for t in tags.split(",") if t.strip()]
    if not colon or not words:
        what = "40:needle,main_jet" if name == "percent" else "3:safety"
        raise CaseError([Problem(option, f"must be a number, a colon and tags, as {what}", text[:60])])
    return {name: _number(number.strip().removesuffix("%")), "tags": words}


def _sheets(name: str) -> Any:
    text = read_named(name)
    if name.lower().endswith(".csv") or text.lstrip("\ufeff").lower().startswith(("student,", "student;")):
        return valid(text, _CsvSheets)
    return valid(parsed(text), _Sheets)


class _Sheets:
    """Answer sheets as a JSON or YAML file holds them."""

    model_fields: Final[dict[str, Any]] = {}
    model_validate = staticmethod(sheets_of)


class _CsvSheets:
    """Answer sheets as a CSV file holds them."""

    model_fields: Final[dict[str, Any]] = {}
    model_validate = staticmethod(sheets_of_csv)


def _answers(chosen: argparse.Namespace, found: list[Any], text: Callable[[Any], str]) -> None:
    if chosen.form != "text":
        raise BadInputError(["--as goes with a quiz or its key; a grade is text, or JSON with --json"])
    if chosen.json:
        plain = [f.model_dump(mode="json") for f in found]
        write_json(plain[0] if len(plain) == 1 else plain)
    else:
        _write(chosen, Export("", "text/plain", "\n".join(text(f) for f in found).encode()))


def _export(chosen: argparse.Namespace, quiz: Quiz) -> Export:
    if chosen.form == "text":
        text = key_text(quiz) if chosen.key else quiz_text(quiz.student_view())
        return Export("", "text/plain", text.encode())
    if not chosen.key and chosen.form in STUDENT:
        return STUDENT[chosen.form](quiz)
    if not chosen.key:
        tell(f"{chosen.form} holds the key: keep the file from students.")
    return TRAINER[chosen.form](quiz)


def _write(chosen: argparse.Namespace, export: Export) -> None:
    for note in export.left_out:
        tell(note)
    if chosen.out is not None:
        try:
            chosen.out.write_bytes(export.content)
        except OSError as error:
            raise BadInputError([f"{chosen.out}: cannot be written ({error.strerror or error})"]) from None
        tell(f"Written to {chosen.out}")
    elif export.media_type == "application/zip":
        raise BadInputError(["a zip is no text: say where to write it with --out FILE"])
    else:
        sys.stdout.write(export.content.decode())
