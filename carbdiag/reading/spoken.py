"""Turns of speech that set what is said beside them aside: hearsay, guesses, other machines, the past.

They are found word for word, the words that carry nothing included: "could be" is made of nothing else.
"""

from __future__ import annotations

import importlib
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from typing import Any, NamedTuple

from carbdiag.reading.symbols import SymbolText
from carbdiag.reading_schema import Spoken


class Turn(NamedTuple):
    """A turn of speech found: why it sets aside, how far it reaches, and the symbols it stands between."""

    why: str
    reach: str
    before: int
    """The first symbol at or behind its beginning."""
    after: int
    """The first symbol behind it."""


class TurnBook:
    """The turns of speech of one language."""

    def __init__(self, spoken: Iterable[Spoken]) -> None:
        self._automaton: Any = importlib.import_module("ahocorasick").Automaton()
        turns: dict[str, list[tuple[str, str]]] = {}
        for turn in spoken:
            for words in turn.words:
                turns.setdefault(words, []).append((turn.why, turn.reach))
        for words, meant in turns.items():
            self._automaton.add_word(f" {words} ", (len(words), meant))
        self._any = len(self._automaton) > 0
        if self._any:
            self._automaton.make_automaton()

    def find(self, text: str, symbols: SymbolText) -> list[Turn]:
        """The turns of speech in a text, in order."""
        if not self._any:
            return []
        plain = f" {text.lower().translate(_PLAIN)} "
        if len(plain) != len(text) + 2:
            return []
        out: list[Turn] = []
        for end, (length, meant) in self._automaton.iter(plain):
            # one blank before the text, one behind the words
            last = end - 2
            first = last - length + 1
            before, after = bisect_left(symbols.starts, first), bisect_right(symbols.starts, last)
            out.extend(Turn(why, reach, before, after) for why, reach in meant)
        return out


#: What ends a word, as a blank: whole words are found, and never over a mark, which leaves two blanks.
_PLAIN = {**dict.fromkeys(map(ord, "\n\t\r()\"*_-/.,;:!?"), " "), ord("’"): "'", ord("`"): "'", ord("´"): "'"}
