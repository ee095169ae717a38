"""Many phrases at once, in one pass over the symbols (Aho and Corasick 1975); gaps are joined hit by hit."""

from __future__ import annotations

import importlib
from collections.abc import Iterable
from typing import Any, Final, NamedTuple

from carbdiag.reading.symbols import SymbolText

#: Words that may stand where a phrase has a gap; riders tell signs with more words in between than deeds.
MOST_BETWEEN: Final = 3
MOST_BETWEEN_SIGNS: Final = 5
#: More segments than a phrase can have: with it, one number stands for a phrase and a segment.
_MOST_SEGMENTS: Final = 16


class Meaning(NamedTuple):
    """What a phrase says: a kind, and a record or a value with what goes with it."""

    kind: str
    record: str
    more: str = ""


class Hit(NamedTuple):
    """A phrase found: symbols from `first` up to and with `last`; `parts` leaves its gaps out.

    `acts`: the engine must do it; what the rider does ("I stopped") is another thing. `flows`: one thing follows the
    other, and may do so in another clause; without a gap, the phrase itself has a word that ends a clause ("and").
    """

    first: int
    last: int
    meaning: Meaning
    parts: tuple[tuple[int, int], ...]
    acts: bool = False
    flows: bool = False


class Phrase(NamedTuple):
    """A compiled phrase: its segments between gaps, each as all sequences it stands for."""

    segments: tuple[tuple[str, ...], ...]
    meaning: Meaning
    acts: bool = False
    flows: bool = False


class Matcher:
    """The compiled phrases of one language."""

    def __init__(self, phrases: Iterable[Phrase]) -> None:
        #: sequence -> its uses: number of the phrase, of the segment, of its last segment
        segments: dict[str, tuple[tuple[int, int, int], ...]] = {}
        self._meanings: list[Meaning] = []
        self._how: list[tuple[bool, bool]] = []
        self._apart: list[int] = []
        self._last_segment: list[int] = []
        number: dict[tuple[int, int, Meaning, bool, bool], int] = {}
        for phrase, (parts, meaning, *how) in enumerate(phrases):
            # A phrase without a gap needs no memory of what began: one number serves all phrases of a meaning.
            key = (phrase if len(parts) > 1 else -1, len(parts), meaning, how[0], how[1])
            if key not in number:
                number[key] = len(self._meanings)
                self._meanings.append(meaning)
                self._how.append((how[0], how[1]))
                self._last_segment.append(len(parts) - 1)
                self._apart.append(1 + (MOST_BETWEEN_SIGNS if meaning.kind == "finding" else MOST_BETWEEN))
            for n, sequences in enumerate(parts):
                use = (number[key], n, len(parts) - 1)
                alone = (use,)  # one for all its sequences: a hundred thousand small objects cost time and memory
                for sequence in sequences:
                    before = segments.get(sequence)
                    if before is None:
                        segments[sequence] = alone
                    elif use not in before:
                        segments[sequence] = (*before, use)
        self._kinds = tuple(dict.fromkeys(meaning.kind for meaning in self._meanings))
        self.sequences = len(segments)
        self._automaton: Any = importlib.import_module("ahocorasick").Automaton()
        values: dict[tuple[int, tuple[tuple[int, int, int], ...]], object] = {}
        for part, uses in segments.items():
            value = values.get((len(part), uses))
            if value is None:
                value = values[len(part), uses] = self._found(len(part), uses)
            self._automaton.add_word(part, value)
        if segments:
            self._automaton.make_automaton()

    def _found(self, length: int, uses: tuple[tuple[int, int, int], ...]) -> tuple[object, ...]:
        """What `find` needs of a sequence: how far back it began, and the phrases it is, begins and goes on with."""
        return (
            length - 1,
            tuple(self._whole(pattern) for pattern, _, of in uses if not of),
            tuple(pattern * _MOST_SEGMENTS for pattern, n, of in uses if of and not n),
            tuple(pattern * _MOST_SEGMENTS + n - 1 for pattern, n, _ in uses if n),
        )

    def _whole(self, pattern: int) -> tuple[int, Meaning, bool, bool]:
        meaning = self._meanings[pattern]
        return (self._kinds.index(meaning.kind), meaning, *self._how[pattern])

    def find(self, text: SymbolText) -> dict[str, list[Hit]]:
        """Every phrase in a text by the kind of its meaning, in the order of where it ends."""
        out: dict[str, list[Hit]] = {kind: [] for kind in self._kinds}
        if not self.sequences or not text.symbols:
            return out
        add = [hits.append for hits in out.values()]
        #: phrase and segment found last in this sentence -> the parts found so far
        begun: dict[int, tuple[tuple[int, int], ...]] = {}
        has_begun, made = begun.__contains__, tuple.__new__  # a hit every few letters: each step counts
        sentence_of, meanings, how_of, apart = text.sentence_of, self._meanings, self._how, self._apart
        sentence = -1
        for last, (back, whole, begins, goes_on) in self._automaton.iter(text.symbols):
            first = last - back
            part = ((first, last),)
            for kind, meaning, acts, flows in whole:
                add[kind](made(Hit, (first, last, meaning, part, acts, flows)))
            if sentence_of[last] != sentence:
                sentence = sentence_of[last]
                begun.clear()
            for before in filter(has_begun, goes_on):
                parts, (pattern, segment) = begun[before], divmod(before + 1, _MOST_SEGMENTS)
                if not 0 < first - parts[-1][1] <= apart[pattern]:
                    continue
                if segment == self._last_segment[pattern]:
                    hit = Hit(parts[0][0], last, meanings[pattern], (*parts, *part), *how_of[pattern])
                    out[hit.meaning.kind].append(hit)
                else:
                    begun[before + 1] = (*parts, *part)
            if begins:
                begun.update(dict.fromkeys(begins, part))
        return out
