"""Lists of words and turns as they are written, looked for in a stretch of text."""

from __future__ import annotations

import importlib
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Generic, TypeVar

_Kind = TypeVar("_Kind")
_MARKS = ",;-"


def one_of(words: Iterable[str]) -> str:
    """What matches one of some words inside a pattern, the longest first; of no words, nothing."""
    return "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True)) or "(?!)"


def clause_end(marks: str, words: Iterable[str]) -> re.Pattern[str]:
    """A pattern of what parts one clause from the next: a mark, a point that is in no number, a word such as "and"."""
    return re.compile(rf"[{re.escape(marks)}]|\.(?!\d)|\b(?:{one_of(words)})\b", re.IGNORECASE)


def any_of(words: Iterable[str]) -> re.Pattern[str] | None:
    """A pattern of whole words; none of no words."""
    in_order = sorted(words, key=len, reverse=True)
    if not in_order:
        return None
    # where no word can begin, that is seen by one letter, and not by trying every word
    begin = "".join(map(re.escape, sorted({word[0] for word in in_order})))
    listed = "|".join(map(re.escape, in_order))
    return re.compile(rf"(?=[{begin}])(?<![\w'])(?:{listed})(?![\w'])", re.IGNORECASE)


def any_turn(turns: Iterable[str]) -> re.Pattern[str] | None:
    """A pattern of whole words that may begin with a mark (", i"); none of no turns."""
    longest_first = sorted(turns, key=len, reverse=True)
    listed = [("" if turn[0] in _MARKS else r"(?<![\w'])") + re.escape(turn) for turn in longest_first]
    return re.compile(rf"(?:{'|'.join(listed)})(?![\w'])") if listed else None


def small_letters(text: str) -> str:
    """A text in small letters, each character in its place."""
    small = text.lower()
    return small if len(small) == len(text) else "".join(c if len(c.lower()) > 1 else c.lower() for c in text)


class Listed(Generic[_Kind]):
    """Words and turns listed by kind, in small letters, all looked for at once in a whole text.

    Their pattern would try every word at every character, which takes ten times as long in a long text.
    """

    def __init__(self, kinds: Mapping[_Kind, Iterable[str]]) -> None:
        kinds_of: dict[str, list[_Kind]] = {}
        for kind, words in kinds.items():
            for word in words:
                kinds_of.setdefault(word, []).append(kind)
        self._kinds = tuple(kinds)
        self._automaton: Any = importlib.import_module("ahocorasick").Automaton()
        for word, of in kinds_of.items():
            self._automaton.add_word(word, (len(word), of))
        self._any = bool(kinds_of)
        if self._any:
            self._automaton.make_automaton()

    def standing(self, text: str) -> Iterator[tuple[_Kind, int, int]]:
        """Where whole words stand, from one character up to another, kind by kind as the pattern of each finds them.

        Args:
            text: in small letters.
        """
        found: dict[_Kind, list[tuple[int, int]]] = {kind: [] for kind in self._kinds}
        for last, (length, kinds) in self._automaton.iter(text) if self._any else ():
            start, end = last + 1 - length, last + 1
            if not (_goes_on(text[start - 1 : start]) or _goes_on(text[end : end + 1])):
                for kind in kinds:
                    found[kind].append((start, -end))
        for kind, places in found.items():
            reach = 0
            for start, end in sorted(places):
                if start >= reach:
                    reach = -end
                    yield kind, start, reach


def _goes_on(letter: str) -> bool:
    return letter.isalnum() or letter in ("_", "'")
