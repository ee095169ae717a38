"""Marks by which notes lead from a deed to what came of it: "coil changed -> same", "new plug = better"."""

from __future__ import annotations

import re
from typing import Final

_ARROW: Final = r"[-=]+>|→|=|(?<=[ \t])>(?=[ \t])"
#: A result follows.
ARROW: Final = re.compile(rf"[ \t]*(?:{_ARROW})")
#: All that stands between two sizes, the old and the new.
BETWEEN: Final = re.compile(r"\s*(?:[-=]*>|→)\s*")
#: In a short line, notes are kept: a thing, what was done or asked, and what came of it.
NOTE: Final = re.compile(rf"{_ARROW}|(?<=[\w)]):[ \t]|[ \t](?:-+|–|—)[ \t]")
_LEADS: Final = (">", "→", "=")
_PARTS: Final = (":", "-", "–", "—")
#: Characters between a mark and the word it leads to.
_BLANKS: Final = 4


def arrow_before(text: str, start: int) -> bool:
    """Whether an arrow, or "=", stands right before a place in the text."""
    return text[max(start - _BLANKS, 0) : start].rstrip().endswith(_LEADS)


def mark_before(text: str, start: int) -> bool:
    """Whether an arrow, a colon or a dash stands right before a place in the text."""
    return text[max(start - _BLANKS, 0) : start].rstrip().endswith((*_LEADS, *_PARTS))
