"""Set expressions found word for word, with the small words that phrases leave out.

Phrases drop "bike", "engine", "and", "in": common words that stand anywhere. Where just such a word tells something
("the engine was rebuilt", "comes and goes", "road bike", "scooter") the record lists the expression as it is spoken.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import product
from typing import Final, NamedTuple

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
    """The set expressions of one language; `a|b` in an expression is either word, and a last "s" may be missing."""

    def __init__(self, listed: Iterable[tuple[str, Meaning]]) -> None:
        self._by_first: dict[str, list[tuple[tuple[str, ...], Meaning]]] = {}
        for expression, meaning in listed:
            for words in product(*(choice.split("|") for choice in expression.lower().split())):
                self._by_first.setdefault(words[0], []).append((words, meaning))
        for found in self._by_first.values():
            found.sort(key=lambda pair: (-len(pair[0]), pair))

    def find(self, text: str) -> Iterator[Spoken]:
        """Every expression in a text, the longest where several begin."""
        words = [(folded(m[0]), m.start(), m.end()) for m in _WORD.finditer(text)]
        for n, (word, start, _) in enumerate(words):
            longest = 0
            for expression, meaning in self._by_first.get(word, self._by_first.get(word.removesuffix("s"), ())):
                if len(expression) < longest:
                    break
                last = n + len(expression) - 1
                if last >= len(words) or not all(_same(words[n + i][0], w) for i, w in enumerate(expression)):
                    continue
                if _GAP.search(text, start, words[last][1]) is None:
                    longest = len(expression)
                    yield Spoken(start, words[last][2], meaning)


def _same(word: str, expected: str) -> bool:
    return word == expected or word.removesuffix("s") == expected
