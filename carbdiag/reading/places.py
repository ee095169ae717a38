"""Where on the throttle, or in which state of the engine, a sign was seen: the place words that belong to it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit
from carbdiag.reading.ranges_told import Range
from carbdiag.reading.reaches import CUE_REACH, NEAR, NEXT_TO, PLACE_REACH
from carbdiag.reading.spans import ends_between


class Places:
    """The place words of a post, and whose they are."""

    def __init__(self, found: Found) -> None:
        self.found = found
        self._content_firsts = [h.first for h in found.content]

    def at(self, hit: Hit, allowed: Sequence[str]) -> tuple[str, ...]:
        """Where a finding was seen: the nearest place words of its clause that the finding knows."""
        if len(allowed) == 1:
            return tuple(allowed)
        found = [
            (self._distance(hit, p), p)
            for p in self._places_near(hit)
            if any(place in allowed for place in p.meaning.record.split())
        ]
        if not found:
            return ()
        found.sort(key=lambda pair: (pair[0], pair[1].first))
        nearest_hit = found[0][1]
        chosen = [nearest_hit]
        for _, place in found[1:]:
            near = self._gap(nearest_hit, place) <= NEXT_TO and place.meaning != nearest_hit.meaning
            if near and not self._done_next(nearest_hit, place) and not self._behind_another(hit, nearest_hit, place):
                chosen.append(place)
        places = {p for h in chosen for p in h.meaning.record.split() if p in allowed}
        return tuple(p for p in allowed if p in places)

    def until(self, hit: Hit) -> Range | None:
        """The limit right behind a sign, in its clause, up to which it is denied: "no bog (until half)"."""
        # "doesn't go (flat till half)" may hold it
        near = (r for r in self.found.ranges if r.until and hit.first < r.hit.first <= hit.last + NEXT_TO)
        behind = (r for r in near if r.hit.first > hit.last or not hit.meaning.more)
        return next((r for r in behind if not self.found.broken(hit.last, r.hit.first)), None)

    def _done_next(self, first: Hit, place: Hit) -> bool:
        """Whether a place is what is done after a comma, and no more of a list: "at half, pin it and it clears"."""
        if place.first < first.first or not ends_between(self.found.commas, first.last, place.first):
            return False
        start, end = self.found.symbols.starts[place.first], self.found.symbols.ends[place.last]
        words = self.found.text[start : end + NEAR].lower().split()
        return not self.found.book.deeds.pronouns.isdisjoint(words[: len(self.found.text[start:end].split()) + 1])

    def _behind_another(self, hit: Hit, nearest_hit: Hit, place: Hit) -> bool:
        """Whether a sign stands between its own place and another clause's: "full throttle (hesitates), 1/4 is ..."."""
        if nearest_hit.first >= hit.first and nearest_hit.last <= hit.last:
            between = (place.last, hit.first) if place.last < hit.first else (hit.last, place.first)
            return self.found.broken(*between)
        return nearest_hit.last < hit.first and hit.last < place.first and self.found.broken(hit.last, place.first)

    def _places_near(self, hit: Hit) -> Iterator[Hit]:
        sentence = self.found.sentence(hit)
        low = bisect_left(self.found.place_firsts, max(sentence.first, hit.first - 2 * PLACE_REACH))
        high = bisect_left(self.found.place_firsts, min(sentence.last, hit.last + PLACE_REACH + 1))
        for place in self.found.places[low:high]:
            if place.first >= hit.first and place.last <= hit.last:
                yield place
                continue
            if place.first in self.found.then_firsts and hit.last < place.first:
                continue
            well = self.found.well.get(place.first)
            if well is not None and not (hit.first <= well.last and well.first <= hit.last):
                continue  # it runs right there, and this is told of somewhere else
            before = place.last < hit.first or place.first < hit.first
            if not before and self._leads_on(hit, place):
                continue
            between = (place.last, hit.first) if before else (hit.last, place.first)
            if self._gap(hit, place) <= PLACE_REACH and not self.found.broken(*between, strong=True):
                # another statement in between owns the place, or shares it: "it stutters and blubbers"
                within = [
                    h
                    for h in self._content_between(between[0] + 1, between[1] - 1)
                    if h.meaning.kind == "finding" and h.meaning.record != hit.meaning.record
                ]
                shared = before and (_in_a_row(within, hit) or self._goes_on(within, hit))
                if within and not shared:
                    continue
                if not self.found.broken(*between) or (within and shared) or not self._owned(place):
                    yield place

    def _owned(self, place: Hit) -> bool:
        """Whether the clause of a place has a sign of its own."""
        n = bisect_right(self.found.breaks, place.first)
        first = max(self.found.breaks[n - 1] if n else 0, self.found.sentence(place).first, place.first - PLACE_REACH)
        end = self.found.breaks[n] if n < len(self.found.breaks) else self.found.sentence(place).last
        last = min(end - 1, place.last + PLACE_REACH)
        # a sign that holds the break itself is of this clause: "it goes up (and) down at 1/8"
        n = bisect_left(self._content_firsts, first)
        holds = (h for h in self.found.content[max(n - 1, 0) : n] if h.last >= first)
        within = [*holds, *self._content_between(first, last)]
        return any(h.meaning.kind == "finding" for h in within)

    def _content_between(self, first: int, last: int) -> Iterator[Hit]:
        firsts = self._content_firsts
        for hit in self.found.content[bisect_left(firsts, first) : bisect_right(firsts, last)]:
            if hit.last <= last:
                yield hit

    def _leads_on(self, hit: Hit, place: Hit) -> bool:
        """Whether a place behind a comma is that of what follows it: "blubbers, hold it wide open and it goes"."""
        if not ends_between(self.found.commas, hit.last, place.first):
            return False
        deeds = self.found.book.deeds
        end = self.found.symbols.ends[place.last]
        words = [w.strip(",") for w in self.found.text[end : end + NEAR].lower().split()]
        return bool(words) and words[0] in deeds.joins and not deeds.pronouns.isdisjoint(words[1:2])

    def _goes_on(self, statements: Sequence[Hit], hit: Hit) -> bool:
        """Whether a word between the statement before and another says that it goes on there: "pulls, then dies"."""
        last = max((h.last for h in statements), default=hit.first)
        words = self.found.text[self.found.symbols.ends[last] : self.found.symbols.starts[hit.first]].lower().split()
        return not self.found.book.goes_on.isdisjoint(words)

    @staticmethod
    def _gap(a: Hit, b: Hit) -> int:
        return max(a.first - b.last, b.first - a.last, 0)

    def _distance(self, hit: Hit, place: Hit) -> int:
        gap = self._gap(hit, place)
        if not gap:
            return 0
        between = (place.last, hit.first) if place.first < hit.first else (hit.last, place.first)
        return gap + (CUE_REACH if self.found.broken(*between) else 0)


def _in_a_row(statements: Sequence[Hit], hit: Hit) -> bool:
    """Whether statements lead up to another without a gap."""
    reach = hit.first
    for other in sorted(statements, key=lambda h: -h.last):
        if reach - other.last > 1:
            return False
        reach = min(reach, other.first)
    return True
