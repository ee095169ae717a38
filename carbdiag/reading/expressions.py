"""Set expressions found word for word, with the small words that phrases leave out.

Phrases drop "bike", "engine", "and", "in": common words that stand anywhere. Where just such a word tells something
("the engine was rebuilt", "comes and goes", "road bike", "scooter") the record lists the expression as it is spoken.
"""

from __future__ import annotations

import importlib
import re
from bisect import bisect_left
from collections.abc import Iterable
from itertools import accumulate, product
from typing import Any, Final, NamedTuple

from carbdiag.reading.lexicon import folded
from carbdiag.reading.matcher import Meaning

_WORD: Final = re.compile(r"[^\W_]+(?:['’`´][^\W_]+)*")
_GAP: Final = re.compile(r"[.,;:!?()\n]")


class Spoken(NamedTuple):
    """An expression found: characters from `start` up to `end`."""

    start: int
    end: int
    meaning: Meaning


class Expressions:
    """The set expressions of one language; `a|b` in an expression is either word, and a last "s" counts for nothing."""

    def __init__(self, listed: Iterable[tuple[str, Meaning]]) -> None:
        found: dict[str, tuple[int, dict[Meaning, None]]] = {}
        for expression, meaning in listed:
            for words in product(*(choice.split("|") for choice in expression.lower().split())):
                key = f" {''.join(map(_bare, words))}"
                found.setdefault(key, (len(words), {}))[1][meaning] = None
        self._automaton: Any = importlib.import_module("ahocorasick").Automaton()
        for key, (length, meanings) in found.items():
            self._automaton.add_word(key, (length, tuple(meanings)))
        self._any = bool(found)
        if self._any:
            self._automaton.make_automaton()

    def find(self, text: str) -> list[Spoken]:
        """Every expression in a text, in the order of where it ends."""
        if not self._any:
            return []
        places = list(_WORD.finditer(text))
        bare = _Bare()
        words = [bare[place[0]] for place in places]
        ends = list(accumulate(map(len, words)))  # of each word in the joined text
        out: list[Spoken] = []
        for end, (length, meanings) in self._automaton.iter(f" {''.join(words)}"):
            last = bisect_left(ends, end)
            start, stop = places[last - length + 1].start(), places[last].end()
            if _GAP.search(text, start, stop) is None:
                out.extend(Spoken(start, stop, meaning) for meaning in meanings)
        return out


def _bare(word: str) -> str:
    return f"{word.removesuffix('s')} "


class _Bare(dict[str, str]):
    """Words of a text as they are compared, each worked out once."""

    def __missing__(self, word: str) -> str:
        found = self[word] = _bare(folded(word))
        return found
