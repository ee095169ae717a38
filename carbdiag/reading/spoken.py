"""Turns of speech that set what is said beside them aside: hearsay, guesses, other machines, the past.

They are found word for word, the words that carry nothing included: "could be" is made of nothing else. Where one
holds a gap ("until ... was cleaned|changed") a few words may stand in it, and `a|b` is either word.
"""

from __future__ import annotations

import importlib
import re
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
        self._gapped: list[tuple[re.Pattern[str], str, str]] = []
        turns: dict[str, list[tuple[str, str]]] = {}
        for turn in spoken:
            for words in turn.words:
                if _GAP in words:
                    self._gapped.append((_with_gap(words), turn.why, turn.reach))
                else:
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
            out.extend(self._turns(symbols, last - length + 1, last, meant))
        for pattern, why, reach in self._gapped:
            for found in pattern.finditer(plain):
                out.extend(self._turns(symbols, found.start() - 1, found.end() - 2, [(why, reach)]))
        return sorted(out, key=lambda turn: turn.before)

    @staticmethod
    def _turns(symbols: SymbolText, first: int, last: int, meant: Iterable[tuple[str, str]]) -> Iterable[Turn]:
        before, after = bisect_left(symbols.starts, first), bisect_right(symbols.starts, last)
        return [Turn(why, reach, before, after) for why, reach in meant]


def _with_gap(words: str) -> re.Pattern[str]:
    """What finds words with a gap in a text whose marks are blanks: over a mark, which leaves two, no gap reaches."""
    left, right = (" ".join(map(_either, part.split())) for part in words.split(_GAP))
    return re.compile(rf"(?<= ){left}(?: [^ ]+){{0,{_MOST_BETWEEN}}} {right}(?= )")


def _either(choice: str) -> str:
    return f"(?:{'|'.join(map(re.escape, choice.split('|')))})"


_GAP = "..."
#: Words that may stand in the gap of a turn of speech.
_MOST_BETWEEN = 4
#: What ends a word, as a blank: whole words are found, and never over a mark, which leaves two blanks.
_PLAIN = {**dict.fromkeys(map(ord, "\n\t\r()\"*_-/.,;:!?"), " "), ord("’"): "'", ord("`"): "'", ord("´"): "'"}
