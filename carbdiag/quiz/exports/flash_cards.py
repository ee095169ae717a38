"""Flash cards as CSV (RFC 4180): front, back, tags.

A cell that a spreadsheet would take for a formula gets an apostrophe before it.
"""

from __future__ import annotations

import csv
import io
from typing import Final

from carbdiag.quiz.exports.export import Export, left_out, pairs, why
from carbdiag.quiz_schema import ItemKey, ItemView, Quiz

FORMS: Final = ("choice", "order", "number")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def to_flash_cards(quiz: Quiz) -> Export:
    """The items as cards."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["front", "back", "tags"])
    for view, key in pairs(quiz, FORMS):
        options = "".join(f"\n{o.label}. {o.text}" for o in view.options)
        front = f"{view.stem}\n{view.ask}{options}"
        writer.writerow([cell(front), cell("\n".join((_right(view, key), *why(key)))), cell(" ".join(key.tags))])
    return Export("quiz.cards.csv", "text/csv", out.getvalue().encode(), left_out(quiz, FORMS, "A flash card"))


def cell(text: str) -> str:
    """A cell that no spreadsheet computes; characters that no text file should hold are dropped."""
    clean = "".join(c for c in text if c in "\n\t" or c.isprintable())
    return f"'{clean}" if clean.startswith(_FORMULA) else clean


def _right(view: ItemView, key: ItemKey) -> str:
    if key.number is not None:
        return f"{key.number.value:g} (from {key.number.low:g} to {key.number.high:g})"
    text = {o.label: o.text for o in view.options}
    return ", then ".join(f"{label}. {text[label]}" for label in key.answer)
