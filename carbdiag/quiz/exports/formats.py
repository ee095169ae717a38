"""Every export by the name that the command and other programs ask for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from carbdiag.quiz.exports.aiken import to_aiken
from carbdiag.quiz.exports.export import Export
from carbdiag.quiz.exports.flash_cards import to_flash_cards
from carbdiag.quiz.exports.gift import to_gift
from carbdiag.quiz.exports.qti import to_qti
from carbdiag.quiz.exports.sheets import html_key, html_sheet, markdown_key, markdown_sheet
from carbdiag.quiz_schema import Quiz


def _to_json(quiz: Quiz) -> Export:
    return Export("quiz.json", "application/json", (quiz.model_dump_json(indent=1) + "\n").encode())


#: For the trainer: each holds the key.
TRAINER: Mapping[str, Callable[[Quiz], Export]] = MappingProxyType(
    {
        "markdown": markdown_key,
        "html": html_key,
        "qti": to_qti,
        "gift": to_gift,
        "aiken": to_aiken,
        "cards": to_flash_cards,
        "json": _to_json,
    }
)


def _student_json(quiz: Quiz) -> Export:
    return Export("quiz.json", "application/json", (quiz.student_view().model_dump_json(indent=1) + "\n").encode())


#: For students: none holds the key.
STUDENT: Mapping[str, Callable[[Quiz], Export]] = MappingProxyType(
    {
        "markdown": lambda quiz: markdown_sheet(quiz.student_view()),
        "html": lambda quiz: html_sheet(quiz.student_view()),
        "json": _student_json,
    }
)
