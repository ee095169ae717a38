"""Lists of words and turns as they are written, looked for in a stretch of text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator


def any_of(words: Iterable[str]) -> re.Pattern[str] | None:
    """A pattern of whole words; none of no words."""
    listed = "|".join(sorted(map(re.escape, words), key=len, reverse=True))
    return re.compile(rf"(?<![\w'])(?:{listed})(?![\w'])", re.IGNORECASE) if listed else None


def small_letters(text: str) -> str:
    """A text in small letters, each character in its place."""
    small = text.lower()
    return small if len(small) == len(text) else "".join(c if len(c.lower()) > 1 else c.lower() for c in text)


def standing(words: Iterable[str], text: str) -> Iterator[tuple[int, int]]:
    """Where whole words stand in a whole text, from one character up to another, as the pattern of them finds them.

    A pattern tries every word at every character, which takes ten times as long in a long text.

    Args:
        words: in small letters.
        text: in small letters.
    """
    found = ((at, -at - len(word)) for word in words for at in _each(word, text))
    reach = 0
    for start, end in sorted(found):
        if start >= reach:
            reach = -end
            yield start, reach


def _each(word: str, text: str) -> Iterator[int]:
    at = text.find(word)
    while at >= 0:
        end = at + len(word)
        if not (_goes_on(text[at - 1 : at]) or _goes_on(text[end : end + 1])):
            yield at
        at = text.find(word, at + 1)


def _goes_on(letter: str) -> bool:
    return letter.isalnum() or letter in ("_", "'")
