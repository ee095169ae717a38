"""A setting moved once more, without its name: "shimmed it 1 mm, better. Another .5 and it was worse"."""

from __future__ import annotations

import re
from bisect import bisect_left, insort
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from carbdiag.reading.arrows import mark_before
from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deed_text import Item
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
    cue, on, symbols = deeds.book.again, deeds.book.on_to, deeds.symbols
    if cue is None or on is None:
        return
    moves = sorted((t.hit for t in told if t.hit.meaning.kind == "change" and t.how is not How.PLANNED), key=_last)
    taken = {at for hit in moves for at in range(hit.first, hit.last + 1)}
    firsts = [item.first for item in deeds.named]
    cues = sorted((*cue.finditer(deeds.text), *on.finditer(deeds.text)), key=re.Match.start)
    for match in cues:
        first = bisect_left(symbols.starts, match.start())
        last = bisect_left(symbols.starts, match.end()) - 1
        if last < first:
            continue
        if not taken.isdisjoint(range(first, last + 1)):
            again = _told_again(moves, first)  # "clip up one, better. (Clip up one more)"
            yield from () if again is None else (Told(again, How.NAMED, False),)
            continue
        sentence = symbols.sentences[symbols.sentence_of[first]]
        if sentence.asks or sentence.quoted or _of_a_part(deeds, last):
            continue
        n = bisect_left(moves, first, key=_last)
        before = moves[n - 1] if n else None
        if before is None or symbols.sentence_of[first] - symbols.sentence_of[before.last] > _SENTENCES:
            continue
        if before.last == first - 1 and first not in symbols.breaks:
            if n > 1 and moves[n - 2].meaning == before.meaning:
                yield Told(before, How.DONE, False)  # "lowered it one, better, (lowered it) another"
            continue
        at = bisect_left(firsts, before.first)
        named = deeds.named[at] if at < len(firsts) and firsts[at] <= before.last else None
        item = named or deeds.meant.get((before.first, before.last))
        if match.re is on:
            meaning = _moved_on(deeds, item, before, last)
        else:
            meaning = _meant(deeds, item, before.meaning, deeds.word_at(last + 1))
        if meaning is not None:
            did = any(first - _VERB <= verb.last < first for verb in deeds.verbs) or _points(deeds, last)
            hit = Hit(first, last, meaning, ((first, last),))
            insort(moves, hit, key=_last)
            if item is not None:
                deeds.meant[first, last] = item
            yield Told(hit, How.DONE if did else How.NAMED, False)


def _told_again(moves: Sequence[Hit], at: int) -> Hit | None:
    """The move that the words for "once more" are part of, if the same was told before."""
    n = next((n for n, hit in enumerate(moves) if hit.first < at <= hit.last), 0)
    return moves[n] if n and moves[n - 1].meaning == moves[n].meaning and moves[n - 1].last < moves[n].first else None


def _last(hit: Hit) -> int:
    return hit.last


def _meant(deeds: Deeds, item: Item | None, before: Meaning, following: str) -> Meaning | None:
    """The way it went: as before, or as the word behind it says: "another notch down"; None where that is unclear."""
    kind = deeds.book.moves.direction([following])
    return _only_way(deeds, item, before, kind) if kind else before


def _moved_on(deeds: Deeds, item: Item | None, before: Hit, number: int) -> Meaning | None:
    """The way to a number from the one that a setting was moved to last: "from 4 to 3, better. To 2: gone".

    What jets do is told by their own numbers.
    """
    values = deeds.symbols.values
    told = [values[at] for at in range(before.first, before.last + 1) if at in values]
    if not told or number not in values or max(*told, values[number]) >= deeds.book.limits.jet_number_from:
        return None
    kind = deeds.book.moves.of_numbers(told[-1], values[number], "")
    return _only_way(deeds, item, before.meaning, kind) if kind else None


def _only_way(deeds: Deeds, item: Item | None, before: Meaning, kind: str) -> Meaning | None:
    """What a way means for the setting moved before; None where it is unclear."""
    changes = deeds.changes(item, kind) if item is not None else ()
    ways = {entry.meaning for _, entry in changes if entry.meaning[:2] == before[:2]}
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
