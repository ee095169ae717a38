"""The small words of a post that say how what stands near them is meant: "maybe", "used to", "still", "gone"."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from itertools import chain

from carbdiag.reading.matcher import Hit
from carbdiag.reading.post import Post
from carbdiag.reading.reaches import CUE_REACH, GONE_REACH
from carbdiag.reading.spans import ends_between
from carbdiag.reading.symbols import Sentence


class Cues:
    """The cues of a post by their kind, and which of them reach a hit."""

    def __init__(self, post: Post, cues: Iterable[Hit]) -> None:
        self._post = post
        self._hits: dict[str, list[Hit]] = {}
        for cue in cues:
            self._hits.setdefault(cue.meaning.record, []).append(cue)
        self._lasts = {kind: [h.last for h in hits] for kind, hits in self._hits.items()}
        self._any_lasts = sorted(chain.from_iterable(self._lasts.values()))

    def of(self, kind: str) -> Sequence[Hit]:
        """All of a kind, from left to right."""
        return self._hits.get(kind, [])

    def lasts(self, kind: str) -> Sequence[int]:
        """The last symbol of each of a kind, from left to right."""
        return self._lasts.get(kind, [])

    def within(self, kind: str, sentence: Sentence) -> Sequence[Hit]:
        """Those of a kind that end in a sentence."""
        lasts = self.lasts(kind)
        return self.of(kind)[bisect_left(lasts, sentence.first) : bisect_left(lasts, sentence.last)]

    def any_near(self, hit: Hit) -> bool:
        """Whether any cue may stand near enough to a hit for `before` or `near`, which most have none of."""
        return ends_between(self._any_lasts, hit.first - CUE_REACH - 1, hit.last + CUE_REACH)

    def before(self, hit: Hit, kind: str, reach: int = CUE_REACH) -> bool:
        """Whether one stands before a hit in its sentence, within reach and in no other strong clause."""
        lasts = self.lasts(kind)
        n = bisect_right(lasts, hit.first)
        if not n or self.of(kind)[n - 1].first >= hit.first:
            return False
        last = lasts[n - 1]
        near = hit.first - last <= reach and last >= self._post.sentence(hit).first
        return near and not self._post.broken(last, hit.first, strong=True)

    def near(self, hit: Hit, kind: str, behind: int = GONE_REACH) -> bool:
        """Whether one stands before a hit, inside it, or so near behind it in its clause."""
        lasts = self.lasts(kind)
        n = bisect_left(lasts, hit.first)
        if n:
            last = lasts[n - 1]
            near = hit.first - last <= CUE_REACH and last >= self._post.sentence(hit).first
            if near and not self._post.broken(last, hit.first):
                return True
        if n < len(lasts):
            found = self.of(kind)[n]
            near = found.last - hit.last <= behind and found.last < self._post.sentence(hit).last
            return near and not self._post.broken(hit.last, found.first)
        return False
