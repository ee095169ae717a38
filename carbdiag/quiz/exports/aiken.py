"""Aiken, the plainest text for multiple-choice questions: question on one line, lettered options, ANSWER: and a letter.

It has no escapes, so what could be mistaken for an option or an answer line is set apart by a word before it.
"""

from __future__ import annotations

import re
from typing import Final

from carbdiag.quiz.exports.export import Export, left_out, loses_partial_credit, one_line, pairs
from carbdiag.quiz_schema import Quiz

FORMS: Final = ("choice",)
_MISTAKABLE = re.compile(r"^(?:[A-Za-z][.)]|ANSWER\s*:)", re.IGNORECASE)


def to_aiken(quiz: Quiz) -> Export:
    """The multiple-choice items as Aiken text, key included."""
    items = []
    for view, key in pairs(quiz, FORMS):
        lines = [question(f"{view.stem} {view.ask}")]
        lines += [f"{o.label}. {one_line(o.text)}" for o in view.options]
        lines.append(f"ANSWER: {key.answer[0]}")
        items.append("\n".join(lines))
    gone = (*left_out(quiz, FORMS, "Aiken"), *loses_partial_credit(quiz, FORMS, "Aiken"))
    return Export("quiz.aiken.txt", "text/plain", ("\n\n".join(items) + "\n").encode(), gone)


def question(text: str) -> str:
    """A question on one line that no reader takes for an option or an answer."""
    line = one_line(text)
    return f"Question: {line}" if _MISTAKABLE.match(line) else line
