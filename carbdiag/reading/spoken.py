"""Turns of speech that set what is said beside them aside: hearsay, guesses, other machines, the past.

They are found word for word, the words that carry nothing included: "could be" is made of nothing else. Where one
holds a gap ("until ... was cleaned|changed") a few words may stand in it, and `a|b` is either word.
"""

from __future__ import annotations

import importlib
import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from itertools import product
from typing import Any, NamedTuple

from carbdiag.reading.symbols import SymbolText
from carbdiag.records.manner_words import Spoken


class Turn(NamedTuple):
    """A turn of speech found: why it sets aside, how far it reaches, and the symbols it stands between."""

    why: str
    reach: str
    before: int
    """The first symbol at or behind its beginning."""
    after: int
    """The first symbol behind it."""
    end: int
    """The character behind it."""


class TurnBook:
    """The turns of speech of one language."""

    def __init__(self, spoken: Iterable[Spoken]) -> None:
        self._automaton: Any = importlib.import_module("ahocorasick").Automaton()
        turns: dict[str, list[_Meant]] = {}
        for turn in spoken:
            for words in turn.words:
                left, gap, right = words.partition(_GAP)
                behind = _behind_a_gap(right) if gap else None
                for begin in product(*(choice.split("|") for choice in left.split())):
                    turns.setdefault(" ".join(begin), []).append(
                        _Meant(turn.why, turn.reach, behind, turn.beside, turn.not_behind)
                    )
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
        said: set[str] = set()
        for end, (length, meant) in self._automaton.iter(plain):
            # one blank before the text, one behind the words
            before = bisect_left(symbols.starts, end - 1 - length)
            for why, reach, behind, beside, not_behind in meant:
                start = end - length
                if not_behind and _leads_with(not_behind, plain[max(start - _LEAD, 0) : start]):
                    continue
                said = said or {*plain.split()} if beside else said
                if beside and beside.isdisjoint(said):
                    continue
                found = behind.match(plain, end) if behind else None
                if found or behind is None:
                    last = (found.end() if found else end) - 2
                    out.append(Turn(why, reach, before, bisect_right(symbols.starts, last), last + 1))
        return sorted(out, key=lambda turn: turn.before)


class _Meant(NamedTuple):
    why: str
    reach: str
    behind: re.Pattern[str] | None
    """What stands behind a gap, from the blank behind the first words on."""
    beside: frozenset[str]
    """Words of which the text must hold one, if any."""
    not_behind: frozenset[str]
    """Words behind which it is none."""


def _leads_with(words: frozenset[str], before: str) -> bool:
    """Whether one of these words is the last of what stands before, or the last but one; a mark is two blanks."""
    return not words.isdisjoint(before.rsplit("  ", 1)[-1].split()[-2:])


def _behind_a_gap(words: str) -> re.Pattern[str]:
    """The words behind a gap. Marks are two blanks, so no gap reaches over one."""
    right = " ".join(f"(?:{'|'.join(map(re.escape, choice.split('|')))})" for choice in words.split())
    return re.compile(rf"(?: [^ ]+){{0,{_MOST_BETWEEN}}} {right}(?= )")


_GAP = "..."
#: Characters before a turn of speech in which the word that leads to it stands.
_LEAD = 24
#: Words that may stand in the gap of a turn of speech.
_MOST_BETWEEN = 4
#: What ends a word, as a blank: whole words are found, and never over a mark, which leaves two blanks.
_PLAIN: dict[int, str | int] = {
    **dict.fromkeys(map(ord, "\n\t\r()\"*_-/.,;:!?¿¡"), " "),
    **dict.fromkeys(map(ord, "’`´"), "'"),
    **str.maketrans("áéíóúüñ", "aeiouun"),
}
