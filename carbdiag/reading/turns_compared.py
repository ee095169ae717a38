"""A mixture screw told by its turns and what each did: "1 turn out it bogs, 2 out is better"."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deed_text import WORD
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.jet_numbers import is_a_mark
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.terms import Change, Effect

#: Symbols from the turns to what they did, and sentences from one number of turns to the next.
_REACH: Final = 3
_SENTENCES: Final = 2
#: More turns than any screw has.
_MOST: Final = 8
_GRADED: Final = (Effect.BETTER, Effect.WORSE, Effect.CURED)
_CIRCUIT: Final = "mixture_screw"


def turns_compared(k: Knowledge, deeds: Deeds, effects: Sequence[Hit]) -> Iterator[tuple[Told, Hit]]:
    """The turns tried after others, each with the words of what they did; out is richer, as of a fuel screw."""
    if _CIRCUIT not in k.circuits:
        return
    told = [at for at in sorted(deeds.symbols.values) if _is_turns_out(deeds, at)]
    graded = sorted((h for h in effects if h.meaning.record in _GRADED), key=lambda h: h.first)
    firsts = [h.first for h in graded]
    sentence_of, values = deeds.symbols.sentence_of, deeds.symbols.values
    for one, other in pairwise(told):
        sentence = deeds.symbols.sentences[sentence_of[other]]
        if sentence_of[other] - sentence_of[one] > _SENTENCES or values[one] == values[other]:
            continue
        n = bisect_left(firsts, other + 1)
        effect = graded[n] if n < len(graded) else None
        if effect is None or sentence.asks or sentence.quoted or effect.first >= sentence.last:
            continue
        if effect.first - other <= _REACH and _only_leads_on(deeds, other, effect.first):
            way = Change.RICHER if values[other] > values[one] else Change.LEANER
            hit = Hit(other, other, Meaning("change", _CIRCUIT, way.value), ((one, one), (other, other)))
            yield Told(hit, How.NAMED, False), effect


def _is_turns_out(deeds: Deeds, at: int) -> bool:
    """Whether a number tells how far a screw stands out: "2.5 turns out", "2 out"."""
    out = deeds.word_at(at + 1) in deeds.book.moves.outward and at + 1 not in deeds.symbols.breaks
    return out and deeds.symbols.values[at] <= _MOST and (deeds.counts_itself(at) or is_a_mark(deeds, at))


def _only_leads_on(deeds: Deeds, turns: int, effect: int) -> bool:
    """Whether the words from turns to an effect only lead on to it: "2 (out it is) better"."""
    said = WORD.findall(deeds.text[deeds.symbols.ends[turns] : deeds.symbols.starts[effect]].lower())
    book = deeds.book
    return (book.sizes.behind | book.sizes.joins | book.moves.outward | book.skipped).issuperset(said)


__all__ = ["turns_compared"]
