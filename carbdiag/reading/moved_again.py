"""A setting moved once more, without its name: "shimmed it 1 mm, better. Another .5 and it was worse"."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from typing import Final

from carbdiag.reading.arrows import mark_before
from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.matcher import Hit, Meaning

#: Sentences back to the move that was made before.
_SENTENCES: Final = 2
#: Symbols behind in which the part is named that was moved, and before in which a verb says that it was done.
_NAMED: Final = 4
_VERB: Final = 2


def moved_again(deeds: Deeds, told: Iterable[Told]) -> Iterator[Told]:
    """The settings moved so, each the way it went before.

    Args:
        told: what other words tell; what is part of one of them is not told again.
    """
    cue, symbols = deeds.book.again, deeds.symbols
    if cue is None:
        return
    moves = sorted((t.hit for t in told if t.hit.meaning.kind == "change" and t.how is not How.PLANNED), key=_last)
    taken = {at for hit in moves for at in range(hit.first, hit.last + 1)}
    for match in cue.finditer(deeds.text):
        first = bisect_left(symbols.starts, match.start())
        last = bisect_left(symbols.starts, match.end()) - 1
        if last < first or not taken.isdisjoint(range(first, last + 1)):
            continue
        sentence = symbols.sentences[symbols.sentence_of[first]]
        if sentence.asks or sentence.quoted or _of_a_part(deeds, last):
            continue
        before = [hit for hit in moves if hit.last < first]
        if not before or symbols.sentence_of[first] - symbols.sentence_of[before[-1].last] > _SENTENCES:
            continue
        meaning = _meant(deeds, before[-1].meaning, deeds.word_at(last + 1))
        if meaning is not None:
            did = any(first - _VERB <= verb.last < first for verb in deeds.verbs) or _points(deeds, last)
            hit = Hit(first, last, meaning, ((first, last),))
            moves.append(hit)
            known = deeds.meant.get((before[-1].first, before[-1].last))
            item = next((i for i in deeds.named if before[-1].first <= i.first <= before[-1].last), known)
            if item is not None:
                deeds.meant[first, last] = item
            yield Told(hit, How.DONE if did else How.NAMED, False)


def _last(hit: Hit) -> int:
    return hit.last


def _meant(deeds: Deeds, before: Meaning, following: str) -> Meaning | None:
    """The way it went: as before, or as the word behind it says: "another notch down"; None where that is unclear."""
    kind = deeds.book.moves.direction([following])
    if not kind:
        return before
    ways = {e.meaning for item in deeds.named for _, e in deeds.changes(item, kind) if e.meaning[:2] == before[:2]}
    return ways.pop() if len(ways) == 1 else None


def _of_a_part(deeds: Deeds, last: int) -> bool:
    """Whether what was moved is named behind it in its clause: "another size on the main"."""
    behind = range(last + 1, min(last + 1 + _NAMED, len(deeds.symbols.starts)))
    named = next((at for at in behind if at in deeds.part_firsts), None)
    return named is not None and not any(at in deeds.symbols.breaks for at in range(last + 1, named + 1))


def _points(deeds: Deeds, last: int) -> bool:
    """Whether a mark leads on to what it did: "another washer = bogs"."""
    return last + 1 < len(deeds.symbols.starts) and mark_before(deeds.text, deeds.symbols.starts[last + 1])


__all__ = ["moved_again"]
