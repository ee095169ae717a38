"""GIFT, a plain text for importing questions into learning platforms.

Format as documented at https://docs.moodle.org/35/en/GIFT_format: `~ = # { } :` and the backslash are escaped by a
backslash, a line break is written \\n, an item holds no blank line, weights are percentages, and `####` begins the
general feedback. Importers take listed percentages only, so credits are rounded to tens.
"""

from __future__ import annotations

import re
from typing import Final

from carbdiag.quiz.exports.export import Export, left_out, one_line, pairs, why
from carbdiag.quiz_schema import ItemKey, ItemView, Quiz

FORMS: Final = ("choice", "number")
_SPECIAL = re.compile(r"([\\~=#{}:])")


def to_gift(quiz: Quiz) -> Export:
    """The quiz as GIFT text, key and feedback included."""
    head = f"// Quiz {quiz.quiz_id}, knowledge edition {one_line(quiz.edition)}. For the trainer: it holds the key.\n"
    items = [_item(view, key) for view, key in pairs(quiz, FORMS)]
    gone = left_out(quiz, FORMS, "GIFT")
    notes = "".join(f"// {note}\n" for note in gone)
    return Export("quiz.gift.txt", "text/plain", (head + notes + "\n" + "\n\n".join(items) + "\n").encode(), gone)


def escape(text: str) -> str:
    """Text that GIFT reads as itself."""
    return _SPECIAL.sub(r"\\\1", one_line(text))


def _answer(text: str) -> str:
    """Text of an answer: one that begins with a bracket would be taken for the name of a format."""
    return ("[plain]" if text.lstrip().startswith("[") else "") + escape(text)


def _item(view: ItemView, key: ItemKey) -> str:
    lines = [f"::{view.id}::[plain]{escape(view.stem)} {escape(view.ask)} {{"]
    if view.answer_form == "number":
        assert key.number is not None
        n = key.number
        lines[0] += "#"
        lines.append(f"  =%100%{n.low:g}..{n.high:g}")
        if n.half_to > n.half_from:
            told = escape("In the range, or richer, but not the size to begin with.")
            lines.append(f"  =%50%{n.half_from:g}..{n.half_to:g}#{told}")
    else:
        by_label = {o.label: o for o in key.options}
        for option in view.options:
            worth = by_label[option.label]
            percent = round(worth.credit * 10) * 10
            mark = "=" if percent == 100 else f"~%{percent}%" if percent else "~"
            text = _answer(option.text)
            if mark in ("=", "~") and text.startswith("%"):
                mark = f"{mark}%{percent}%"
            lines.append(f"  {mark}{text}#{escape(worth.feedback)}")
    lines.append(f"  ####{escape(' '.join(why(key)))}")
    return "\n".join([*lines, "}"])
