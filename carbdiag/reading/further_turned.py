"""What a setting does the further it is moved: "gets better the more I turn it out", "worse the further in I go"."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from typing import Final

from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deed_text import WORD, Item
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.matcher import Hit
from carbdiag.terms import Effect

#: Words behind "the more" in which it says what was moved, and which way.
_REACH: Final = 7
#: Symbols between the effect and "the more"; parts and sentences back to the setting.
_NEAR: Final = 4
_PARTS: Final = 4
_SENTENCES: Final = 1
_GRADED: Final = (Effect.BETTER, Effect.WORSE)


def further_turned(deeds: Deeds, effects: Sequence[Hit]) -> Iterator[tuple[Told, Hit]]:
    """The settings moved so, each with the words of what it did."""
    cue, symbols = deeds.book.further, deeds.symbols
    if cue is None:
        return
    graded = sorted(h for h in effects if h.meaning.record in _GRADED)
    lasts, firsts = [h.last for h in graded], [item.first for item in deeds.named]
    for match in cue.finditer(deeds.text):
        n = symbols.sentence_of[min(bisect_left(symbols.starts, match.end()), len(symbols.starts) - 1)]
        sentence = symbols.sentences[n]
        end = sentence.end or len(deeds.text)
        words = [*WORD.finditer(deeds.text.lower(), match.end(), end)][:_REACH]
        kind = next((kind for w in words if (kind := deeds.book.moves.direction([w[0]]))), "")
        first = bisect_left(symbols.starts, match.start())
        last = bisect_right(symbols.starts, words[-1].start()) - 1 if words else first
        low, high = bisect_left(lasts, first - _NEAR), bisect_right(lasts, last + 2 * _REACH)
        effect = _beside(deeds, graded[low:high], first, last)
        item = _setting(deeds, firsts, kind, first, last) if kind and effect is not None else None
        if item is None or effect is None or sentence.asks or sentence.quoted:
            continue
        at = min(first, len(symbols.starts) - 1)
        deeds.meant[at, last] = item
        for _, entry in deeds.changes(item, kind):
            yield Told(Hit(at, last, entry.meaning, ((at, last),)), How.NAMED, False), effect


def _beside(deeds: Deeds, graded: Sequence[Hit], first: int, last: int) -> Hit | None:
    """The effect right before "the more", or behind what was moved: "the more I turn it out the (worse) it gets"."""
    near = (h for h in graded if first - _NEAR <= h.last < first or first <= h.first <= last + _NEAR)
    sentence_of = deeds.symbols.sentence_of
    return next((h for h in near if sentence_of[h.first] == sentence_of[min(first, len(sentence_of) - 1)]), None)


def _setting(deeds: Deeds, firsts: Sequence[int], kind: str, first: int, last: int) -> Item | None:
    """The setting named there, or the one named last before."""
    n = bisect_left(firsts, first)
    inside = deeds.named[n : bisect_right(firsts, last)]
    before = [*reversed(deeds.named[max(n - _PARTS, 0) : n])]
    sentence_of = deeds.symbols.sentence_of
    near = (i for i in before if sentence_of[min(first, len(sentence_of) - 1)] - sentence_of[i.first] <= _SENTENCES)
    return next((i for i in (*inside, *near) if any(True for _ in deeds.changes(i, kind))), None)


__all__ = ["further_turned"]
