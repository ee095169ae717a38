"""Jets that no word names: "the kit has 120, 125 and 130", "an 82 jet", "went 142 to 150 to 155".

They are those of the circuit whose jet numbers are told alone (`alone_from`), the main jet.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Container
from itertools import pairwise
from typing import Final

from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_text import BACK, CUT, WORD
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.jet_numbers import is_a_mark
from carbdiag.records.circuits import PartSizes

#: Words between "jet" and its number; sentences back in which jets are spoken of; symbols from one to the next listed.
_BETWEEN: Final = 2
_SENTENCES: Final = 3
_LISTED: Final = 2
#: Numbers that make a list without a word for jets.
_SEVERAL: Final = 3
_ALIKE: Final = 1.3
#: Jets before and behind one that are looked at.
_RECENT: Final = 8


class PlainJets:
    """The numbers of one text that stand for a jet without its name."""

    def __init__(self, k: Knowledge, deeds: Deeds, named: Container[int]) -> None:
        self.deeds, self.named = deeds, named
        jets = [(c.id, c.sizes) for c in k.circuits.values() if c.sizes is not None and c.sizes.alone_from is not None]
        self.circuit: str = jets[0][0] if jets else ""
        self._sizes: PartSizes | None = jets[0][1] if jets else None
        words = deeds.book.sizes.plain
        self._words = [*words.finditer(deeds.text.lower())] if words is not None and jets else []
        self._ends = [m.end() for m in self._words]

    def told(self) -> list[int]:
        """Where the numbers stand, in order."""
        if self._sizes is None or self._sizes.alone_from is None:
            return []
        deeds = self.deeds
        marks = [at for at in sorted(deeds.symbols.values) if at not in self.named and is_a_mark(deeds, at)]
        least = self._sizes.jet_from or self._sizes.alone_from
        beside = [at for at in marks if deeds.symbols.values[at] >= least and self._beside_the_word(at)]
        alone = [at for at in marks if deeds.symbols.values[at] >= self._sizes.alone_from]
        chain, numbers = self._chains(alone), frozenset(alone)
        spoken = [at for at in alone if self._spoken_of(at) and self._may_stand_alone(at, numbers)]
        told = sorted({*spoken, *beside})
        place = {at: n for n, at in enumerate(told)}
        near = {at: told[max(place[at] - _RECENT, 0) : place[at] + _RECENT + 1] for at in spoken}
        alike = [at for at in spoken if any(self._alike(at, other) for other in near[at] if other != at)]
        return sorted({*beside, *chain, *alike})

    def _beside_the_word(self, at: int) -> bool:
        """Whether the plain word for a jet stands right beside a number: "jet 82", "an 82 jet", "jet was an 82"."""
        deeds = self.deeds
        start, end = deeds.symbols.starts[at], deeds.symbols.ends[at]
        n = bisect_left(self._ends, end)
        behind = self._words[n] if n < len(self._words) else None
        if behind is not None and not deeds.text[end : behind.start()].strip(" s\"'-"):
            return not self._of_another(behind.start()) and behind[0] in deeds.book.sizes.of_one
        n = bisect_right(self._ends, start) - 1
        before = self._words[n] if n >= 0 else None
        if before is None or before[0] not in deeds.book.sizes.of_one or self._of_another(before.start()):
            return False
        between = deeds.text[before.end() : start].lower()
        words = WORD.findall(between)
        joined = len(words) <= _BETWEEN and deeds.book.sizes.joins.issuperset(words)
        return joined and not CUT.search(between.replace(":", " "))

    def _of_another(self, start: int) -> bool:
        """Whether the word before makes it another jet: "needle jet", "air jet"; "main jet" is named already."""
        words = WORD.findall(self.deeds.text[max(start - BACK, 0) : start].lower())
        begun = start > 0 and self.deeds.text[start - 1] in " -"
        return bool(words) and begun and words[-1] in self.deeds.book.sizes.other_jets

    def _spoken_of(self, at: int) -> bool:
        """Whether jets are spoken of shortly before a number, or in its sentence or the next."""
        symbols = self.deeds.symbols
        first = max(symbols.sentence_of[at] - _SENTENCES, 0)
        sentence = symbols.sentences[min(symbols.sentence_of[at] + 1, len(symbols.sentences) - 1)]
        begin = symbols.sentences[first].start
        n = bisect_left(self._ends, begin)
        return n < len(self._ends) and self._ends[n] <= (sentence.end or len(self.deeds.text))

    def _may_stand_alone(self, at: int, marks: Container[int]) -> bool:
        """Whether a number may be a jet's by the words beside it: none before that makes it a speed ("at 95")."""
        deeds = self.deeds
        start, end = deeds.symbols.starts[at], deeds.symbols.ends[at]
        sentence = deeds.symbols.sentences[deeds.symbols.sentence_of[at]]
        said = deeds.text[max(sentence.start, start - BACK) : start].lower()
        before = WORD.findall(CUT.split(said)[-1])
        listed = any(near in marks for near in range(at - _LISTED, at + _LISTED + 1) if near != at)
        words, behind = deeds.book.sizes, WORD.match(deeds.text[end : end + BACK].lower().lstrip())
        if behind is not None and behind[0] in words.no_jets:
            return False
        return not before or before[-1] in words.leads_alone or (listed and before[-1] not in words.led_by)

    def _chains(self, marks: list[int]) -> list[int]:
        """Numbers of a change that goes on: "142 to 150 to 155"."""
        deeds, out = self.deeds, list[int]()
        for n in range(len(marks) - _SEVERAL + 1):
            several = marks[n : n + _SEVERAL]
            steps = list(pairwise(several))
            if all(b - a == 1 and self._alike(a, b) and deeds.moves_between(a, b) for a, b in steps):
                out += several
        return out

    def _alike(self, one: int, other: int) -> bool:
        sizes = self.deeds.symbols.values[one], self.deeds.symbols.values[other]
        near = abs(self.deeds.symbols.sentence_of[one] - self.deeds.symbols.sentence_of[other]) <= _SENTENCES
        return near and sizes[0] != sizes[1] and max(sizes) <= _ALIKE * min(sizes)
