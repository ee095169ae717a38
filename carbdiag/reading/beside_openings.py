"""Which statements only the words of an opening seem to make, and what is well at one: "off (idle it misses)"."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from itertools import pairwise, takewhile

from carbdiag.knowledge import Knowledge
from carbdiag.reading.matcher import Hit
from carbdiag.reading.post import Post
from carbdiag.reading.ranges_told import Range
from carbdiag.reading.reaches import NEXT_TO, NEXT_WORD, PLACE_REACH
from carbdiag.reading.spans import covered, ends_between
from carbdiag.reading.well_at import well_at


class BesideOpenings:
    """The statements of a post beside the openings that it names."""

    def __init__(
        self, k: Knowledge, post: Post, openings: Sequence[Hit], ranges: Sequence[Range], scarcely: Iterable[int]
    ) -> None:
        self._k, self._post, self._openings, self._ranges = k, post, openings, ranges
        self._scarcely = frozenset(scarcely)
        told = {r.hit: r for r in ranges}
        self._well = [*well_at(k, post.book.well_at, post.small, post.symbols, openings, told)]
        only_at = ((f.id, f.at[0]) for f in k.findings.values() if len(f.at) == 1)
        self._of_full = {sign for sign, place in only_at if k.places[place].drivers == {"full": 1.0}}
        """Signs that are told only of holding it wide open."""
        self.well = {at: h for h in self._well for at in range(h.first, h.last + 1)}
        """Openings at which it is told to run right: no trouble is there."""

    def statements(self, content: Iterable[Hit], named: Sequence[Hit]) -> list[Hit]:
        """The statements without those that openings tell, and with what is well at an opening."""
        content = [h for h in content if not any(a <= at <= b for at in self._scarcely for a, b in h.parts)]
        content = [h for h in content if not self._of_an_opening(h, named)]
        content = [h for h in content if not self._across_an_opening(h)]
        content = [h for h in content if not self._only_by_speed(h)]
        content = [h for h in content if not (h.meaning.more and self._well_until(h))]
        # "pulls hard past half" denies more than that it does not pull
        told = [r.hit.first for r in self._ranges]
        well = [h for h in self._well if h.meaning.record]
        better = [h for h in well if any(h.first <= first <= h.last for first in told)]
        content = [
            h for h in content
            if not (h.meaning.more == "denied" and any(w.first <= h.first and h.last <= w.last for w in better))
        ]  # fmt: skip
        # "no hesitation off idle", "throttle snaps shut like it should" say more than that it is right there
        said = covered(content, len(self._post.symbols.symbols))
        return content + [h for h in well if not any(said[h.first : h.last + 1])]

    def across_a_range(self, hit: Hit) -> bool:
        """Whether a stretch parts the words of a statement, or has some: "it goes (flat), half and up it is (great)".

        Nor does "(bogs) till half and (then pulls hard)" tell of a sudden opening, "(flat) in the (top) half" of revs.
        """
        if hit.meaning.kind not in ("finding", "context"):
            return False
        at = self._k.findings[hit.meaning.record].at if hit.meaning.kind == "finding" else ()
        sudden, anywhere = at == ("snap_open",), sum(self._k.places[p].opening is not None for p in at) > 1
        starts, ends = self._post.symbols.starts, self._post.symbols.ends
        gaps = [(ends[a], starts[b]) for (_, a), (b, _) in pairwise(hit.parts)]
        said = [(starts[a], ends[b]) for a, b in hit.parts]
        for r in self._ranges:
            if r.apart and not r.hit.meaning.more and not sudden:
                continue
            parted = (bool(r.border) and anywhere) or sudden or ends_between(self._post.commas, hit.first, r.hit.first)
            if parted and any(start <= r.start and r.end <= end for start, end in gaps):
                return True
            torn = any(a < r.end and r.start < b for a, b in said) and not any(
                a <= r.start and r.end <= b for a, b in said
            )
            if torn and ((r.of_travel and not anywhere) or r.hit.meaning.more or (parted and gaps and not r.apart)):
                return True
        return False

    def _of_an_opening(self, hit: Hit, named: Sequence[Hit]) -> bool:
        """Whether the idle in a sign is part of another opening: "off (idle it misses)", "(great idle) to half"."""
        if hit.meaning.kind != "finding" or len(hit.parts) > 1 or self._k.findings[hit.meaning.record].at != ("idle",):
            return False
        idle = {p.first for p in named if p.meaning.record == "idle" and hit.first <= p.first <= hit.last}
        if not idle:
            return False
        near = self._openings[max(bisect_right(self._openings, hit.first, key=lambda p: p.first) - 1, 0) :]
        return any(
            "idle" not in p.meaning.record.split()
            and (p.first < hit.first or hit.last < p.last)
            and not idle.isdisjoint(range(p.first, p.last + 1))
            for p in takewhile(lambda p: p.first <= hit.last, near)
        )

    def _well_until(self, hit: Hit) -> bool:
        """Whether a denial ends in an opening up to which it runs right: "(pulls fine to 3/4) then bogs"."""
        n = bisect_left(self._openings, hit.last, key=lambda p: p.last)
        if n == len(self._openings):
            return False
        opening, other = self._openings[n], self._openings[n + 1 : n + 2]
        if opening.first - hit.last > NEXT_TO or opening.first <= hit.first:
            return False
        sentence_of = self._post.symbols.sentence_of
        if self._post.broken(hit.last, opening.first) or sentence_of[hit.first] != sentence_of[opening.first]:
            return False
        near = bool(other) and 0 < other[0].first - opening.last <= PLACE_REACH
        if near and sentence_of[other[0].first] == sentence_of[hit.first]:
            return False  # "pulls fine to half, then wide open it goes flat"
        start, end = self._post.symbols.starts[hit.first], self._post.symbols.ends[opening.last]
        return self._post.book.well_at.ends_there(self._post.small[start:end], self._post.small[end : end + NEXT_WORD])

    def _across_an_opening(self, hit: Hit) -> bool:
        """Whether an opening stands between the parts of a sign of starting: "(starts), over half it just (dies)"."""
        if hit.meaning.kind != "finding" or len(hit.parts) == 1:
            return False
        if any(self._k.places[p].running for p in self._k.findings[hit.meaning.record].at):
            return False
        parts = {at for first, last in hit.parts for at in range(first, last + 1)}
        near = self._openings[bisect_left(self._openings, hit.first, key=lambda p: p.first) :]
        between = (p for p in takewhile(lambda p: p.last < hit.last, near) if p.first not in parts)
        return any(ends_between(self._post.commas, hit.first, p.first) and is_open(self._k, p) for p in between)

    def _only_by_speed(self, hit: Hit) -> bool:
        """Whether a sign of wide open is told by a road speed, and less of an opening in it or beside it.

        "Holding steady at about 60 (1/4 to 3/8 throttle) it surges" surges at a quarter.
        """
        if hit.meaning.kind != "finding" or hit.meaning.record not in self._of_full:
            return False
        sentence_of = self._post.symbols.sentence_of
        n = bisect_left(self._openings, hit.first - 2 * NEXT_TO, key=lambda p: p.first)
        near = takewhile(lambda p: p.first <= hit.last + NEXT_TO, self._openings[n:])
        ill = (p for p in near if p.first not in self.well and sentence_of[p.first] == sentence_of[hit.first])
        return any(is_open(self._k, p) and "full" not in p.meaning.record.split() for p in ill)


def is_open(k: Knowledge, place: Hit) -> bool:
    """Whether a place is an opening of the throttle above idle."""
    openings = (k.places[p].opening for p in place.meaning.record.split())
    return all(opening is not None and opening[0] > 0 for opening in openings)
