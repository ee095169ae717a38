"""Which of the phrases found in a text count where they overlap, and what they cover."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from operator import itemgetter
from typing import Final

from carbdiag.reading.matcher import Hit, Meaning

#: Where a hit stands, and its meaning.
PLACE: Final = itemgetter(0, 1, 2)


def ends_between(where: list[int], first: int, last: int) -> bool:
    """Whether one of the places, in order, lies after `first`, at or before `last`."""
    n = bisect_right(where, first)
    return n < len(where) and where[n] <= last


def longest(hits: list[Hit], *, by_record: bool = False) -> list[Hit]:
    """Hits without those that lie inside a longer part of another, by where they start; each meaning once a place."""
    parts: dict[str, list[tuple[int, int]]] = {}
    if by_record:
        for hit in hits:
            parts.setdefault(hit.meaning.record, []).extend(hit.parts)
    else:
        parts[""] = [part for hit in hits for part in hit.parts]
    reach = {key: _reach(found) for key, found in parts.items()}
    kept: dict[tuple[int, int, Meaning], Hit] = {}
    for hit in sorted(hits, key=PLACE):
        place = first, last, meaning = hit[:3]
        # a part of this hit starts with it
        before, with_it = reach[meaning.record if by_record else ""][first]
        if with_it <= last and before < last:
            kept.setdefault(place, hit)
    # of one record all that is kept in one place is as long; of several the longer comes first
    return sorted(kept.values(), key=lambda h: (h.first, -h.last)) if by_record else list(kept.values())


def _reach(parts: list[tuple[int, int]]) -> dict[int, tuple[int, int]]:
    """Where parts start -> the furthest end of those that start before, and of those that start there or before."""
    out: dict[int, tuple[int, int]] = {}
    at = before = reach = -1
    for first, last in sorted(parts):
        if first != at:
            at, before = first, reach
        reach = max(reach, last)
        out[first] = before, reach
    return out


def without_decoys(hits: Iterable[Hit], decoys: list[Hit]) -> list[Hit]:
    """Hits none of whose parts lies inside a longer decoy."""
    firsts, lasts = furthest([part for decoy in decoys for part in decoy.parts])
    inside = {at for first, last in zip(firsts, lasts, strict=True) for at in range(first, last + 1)}

    def hidden(parts: Iterable[tuple[int, int]]) -> bool:
        for first, last in parts:
            if first in inside:
                n = bisect_right(firsts, first) - 1
                if lasts[n] > last or (lasts[n] == last and firsts[n] < first):
                    return True
        return False

    return [h for h in hits if not hidden(h.parts)]


def furthest(parts: list[tuple[int, int]]) -> tuple[list[int], list[int]]:
    """Where parts start, in order, and the furthest end of those that start there or before."""
    firsts: list[int] = []
    lasts: list[int] = []
    for first, last in sorted(parts):
        furthest = max(last, lasts[-1]) if lasts else last
        if firsts and firsts[-1] == first:
            lasts[-1] = furthest
        else:
            firsts.append(first)
            lasts.append(furthest)
    return firsts, lasts


def meets(reach: tuple[list[int], list[int]] | None, hit: Hit) -> bool:
    """Whether one of the spans that `furthest` was given, if it was, shares a symbol with a hit."""
    firsts, lasts = reach or ((), ())
    n = bisect_right(firsts, hit.last)
    return n > 0 and lasts[n - 1] >= hit.first


def holds(reach: tuple[list[int], list[int]], hit: Hit) -> bool:
    """Whether what starts at a hit or before, of the spans that `furthest` was given, reaches to its end."""
    firsts, lasts = reach
    n = bisect_right(firsts, hit.first)
    return n > 0 and lasts[n - 1] >= hit.last


def unless_taken(content: list[Hit], negators: set[int]) -> Iterator[Hit]:
    """Hits, without a "not pop" whose last words begin a longer one: "not (pop on decel)"."""
    for n, hit in enumerate(content):
        following = content[n + 1 : n + 9]
        if hit.first in negators and any(
            hit.first < h.first <= hit.last < h.last
            and h.last - h.first >= hit.last - hit.first
            and h.meaning.record != hit.meaning.record
            for h in following
        ):
            continue
        yield hit


def covered(hits: Iterable[Hit], length: int) -> bytearray:
    """Of each symbol 1 where a part of some hit stands, otherwise 0."""
    out = bytearray(length)
    for hit in hits:
        for first, last in hit.parts:
            for at in range(first, last + 1):
                out[at] = 1
    return out
