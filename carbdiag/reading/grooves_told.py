"""Grooves of the needle told one by one, as jets are: "clip 2, 3 and 4 tried. 2: pings. 3 - better. 4: blubbers"."""

from __future__ import annotations

from bisect import bisect_right
from typing import Final

from carbdiag.reading.arrows import mark_before
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.jet_sizes import Size

#: The circuit whose grooves they are; grooves a needle may have.
_NEEDLE: Final = "needle"
_MOST: Final = 7
#: Symbols from the clip to its groove, and sentences in which a mere number may stand for one.
_BESIDE: Final = 3
_SENTENCES: Final = 3


def grooves_told(deeds: Deeds) -> list[Size]:
    """The numbers of grooves that begin a clause and lead on to what it does there, where the clip is spoken of."""
    symbols, later = deeds.symbols, deeds.book.words.later
    clips = (i for i in deeds.named if any(e.meaning.record == _NEEDLE for _, e in deeds.changes(i, later)))
    named = sorted(item.last for item in clips)
    told: list[Size] = []
    last_told = -_SENTENCES - 1
    for at in sorted(symbols.values):
        value, sentence = symbols.values[at], symbols.sentences[symbols.sentence_of[at]]
        n = bisect_right(named, at)
        clip = named[n - 1] if n else None
        if not (value.is_integer() and 1 <= value <= _MOST) or sentence.asks or sentence.quoted:
            continue
        beside = clip is not None and 0 < at - clip <= _BESIDE and symbols.sentence_of[clip] == symbols.sentence_of[at]
        near = clip is not None and symbols.sentence_of[at] - symbols.sentence_of[clip] <= _SENTENCES
        near = near or symbols.sentence_of[at] - last_told <= 1
        begins = at == sentence.first or at in symbols.breaks
        leads = at + 1 < len(symbols.starts) and mark_before(deeds.text, symbols.starts[at + 1])
        if leads and (beside or (near and begins)):
            told.append(Size(at, _NEEDLE))
            last_told = symbols.sentence_of[at]
    return told


__all__ = ["grooves_told"]
