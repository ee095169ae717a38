"""A setting tried both ways in one breath: "two sizes bigger and two smaller on the main, no change"."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Sequence
from itertools import chain
from typing import Final, NamedTuple

from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deed_text import Item
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.terms import Effect

#: Symbols from the two ways to the setting, and sentences to what it did.
_NEAR: Final = 3
_BOTH: Final = 2
_SENTENCES: Final = 1
#: Effects that two opposite ways may have alike.
_ALIKE: Final = (Effect.NO_CHANGE, Effect.WORSE)


class BothWays(NamedTuple):
    """A setting moved so, from one symbol up to another, and what is told of it: each way with its effect."""

    first: int
    last: int
    circuit: str
    told: tuple[tuple[Told, Hit], ...]


def both_ways(deeds: Deeds, effects: Sequence[Hit]) -> Iterator[BothWays]:
    """The settings moved both ways. What did nothing, or made it worse, did so either way; what helped is not said."""
    moves, symbols = deeds.book.moves, deeds.symbols
    graded = sorted(effects, key=lambda h: h.first)
    firsts = [h.first for h in graded]
    for match in chain.from_iterable(cue.finditer(deeds.text) for cue in moves.both):
        low, high = _symbols(symbols.starts, match.start(), match.end())
        sentence = symbols.sentences[symbols.sentence_of[low]]
        if sentence.asks or sentence.quoted:
            continue
        said = [word for word in match.groupdict().values() if word]
        ways = {frozenset((moves.direction([word.lower()]),)) for word in said} if said else moves.kinds
        item, changes = _setting(deeds, low, high, ways)
        if item is None:
            continue
        low, high = max(min(low, item.first), sentence.first), max(high, item.last)
        low = low if low < high else max(low - 1, sentence.first)
        n = bisect_left(firsts, high + 1)
        effect = graded[n] if n < len(graded) else None
        near = effect is not None and symbols.sentence_of[effect.first] - symbols.sentence_of[high] <= _SENTENCES
        told: tuple[tuple[Told, Hit], ...] = ()
        if effect is not None and near and effect.meaning.record in _ALIKE and low < high:
            hits = (Hit(at, at, m, ((at, at),)) for at, m in zip((low, high), changes, strict=True))
            told = tuple((Told(hit, How.NAMED, False), effect) for hit in hits)
        yield BothWays(low, high, changes[0].record, told)


def _symbols(starts: Sequence[int], start: int, end: int) -> tuple[int, int]:
    """The first and last symbol of a stretch; of words that carry nothing, the next."""
    first, last = bisect_left(starts, start), bisect_left(starts, end) - 1
    return min(first, len(starts) - 1), max(first, last)


def _setting(
    deeds: Deeds, low: int, high: int, ways: Collection[frozenset[str]]
) -> tuple[Item | None, tuple[Meaning, ...]]:
    """The setting behind the two ways, or right before them, and its two opposite changes."""
    symbols, near = deeds.symbols, list[tuple[int, int, Item]]()
    for item in deeds.named:
        before = item.first < low
        one, other = (item.last, low) if before else (high, item.first)
        apart = any(at in symbols.breaks for at in range(one + 1, other + 1))
        if symbols.sentence_of[item.first] == symbols.sentence_of[low] and other - one <= _NEAR and not apart:
            near.append((before, abs(other - one), item))
    for _, _, item in sorted(near, key=lambda n: n[:2]):
        changes = {e.meaning for kinds in ways for kind in kinds for _, e in deeds.changes(item, kind)}
        if len(changes) == _BOTH and len({c.record for c in changes}) == 1:
            return item, tuple(sorted(changes))
    return None, ()


__all__ = ["BothWays", "both_ways"]
