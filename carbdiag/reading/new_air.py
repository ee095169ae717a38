"""The air a machine was set for and the air now, where a post tells two heights or two temperatures in their order."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from itertools import pairwise

from carbdiag.reading.post import Post
from carbdiag.reading.wordlist import any_of
from carbdiag.reading_schema import FactRead, Said
from carbdiag.schema import Air, AirChange

_BEFORE = 40  # characters before a height in which it says what was done there
_LONGEST_WAY = 8  # words between two numbers: "to our place in the hills at about"


class NewAir:
    """Reads the change of air from the words between two numbers of a text."""

    def __init__(self, post: Post) -> None:
        self.post, self.text, self.language = post, post.text, post.book.language

    def told(
        self, facts: Collection[FactRead], low: Collection[FactRead], moves: Collection[str | None]
    ) -> AirChange | None:
        """The air before and now; None where the post does not say which came first.

        Args:
            facts: what was read of the machine and the air.
            low: heights too low to count by themselves ("ran 200 ft").
            moves: which ways a change of height was told, `up` and `down`.
        """
        low = [f for f in low if not _overlap(f.said[0], facts)]
        numbers = (*facts, *low)
        heights = _in_order((*numbers, *self._named(numbers)), "elevation_m")
        celsius = _in_order(facts, "temperature_c")
        match heights:
            case [before, after] if before.value != after.value:
                way = "up" if float(before.value) < float(after.value) else "down"
                was_set = [self._is_set(before, after), self._is_set(after, before)]
                if sum(was_set) == 1:
                    before, after = (before, after) if was_set[0] else (after, before)
                    ride = celsius[0] if len(celsius) == 1 else None
                    return AirChange(set=_air(before, None), now=_air(after, ride))
                # heights told in another order than the way went may be anything
                went = set(moves) == {way} and all(map(self._is_a_place, low))
                if not went and not self._lead(before, after, self.language.height_to):
                    return None
                # one temperature is that of the ride; where it was set, the ordinary one is taken
                ride = celsius[0] if len(celsius) == 1 else None
                return AirChange(set=_air(before, None), now=_air(after, ride))
            case [] | [_]:
                match celsius:
                    case [before, after] if self._lead(before, after, ()):
                        height = heights[0] if heights else None
                        return AirChange(set=_air(height, before), now=_air(height, after))
        return None

    def _named(self, numbers: Collection[FactRead]) -> Iterator[FactRead]:
        """Heights told by the name of a place: "from the mile high city to the coast"."""
        book, small = self.post.book, self.post.small
        for _, start, end in book.height_names.standing(small):
            said = Said(words=self.text[start:end], start=start, end=end)
            if not _overlap(said, numbers):
                yield FactRead(fact="elevation_m", value=book.heights[small[start:end]], said=(said,))

    def _is_set(self, height: FactRead, other: FactRead) -> bool:
        """Whether a height is told as that for which it was set: "jetted for 4000 ft", with the other behind."""
        start, end = height.said[0].start, height.said[0].end  # what was read of it may begin with those words
        first = max(start - _BEFORE, 0, *(s.end for s in other.said if s.end < end))
        words = any_of(self.language.height_set)
        return words is not None and words.search(re.split(r"[.;!?\n]", self.text[first:end])[-1]) is not None

    def _is_a_place(self, height: FactRead) -> bool:
        """Whether a height is told as that of a place, "at 500 ft", and not of a way, "ran 200 ft"."""
        start = height.said[0].start
        before = self.text[max(start - _BEFORE, 0) : start].lower().split()
        return bool(before) and before[-1] in self.language.height_at

    def _lead(self, first: FactRead, second: FactRead, ways: Collection[str]) -> bool:
        """Whether the few words between two numbers hold "now" or the like, or begin with one of some ways: "to"."""
        words = self._between(first.said[0], second.said[0])
        leads = any(words[: len(way)] == way for way in (w.split() for w in ways))
        now = self.language.height_now
        leads = leads or not set(words).isdisjoint(now)
        # a sentence may end there if the next begins with "now": "at 40F. Now it is 95F"
        ends = any(w[-1] in ".;:!?" and then not in now for w, then in pairwise((*words, "")))
        return leads and len(words) <= _LONGEST_WAY and not ends

    def _between(self, first: Said, second: Said) -> list[str]:
        """Words from one number to the next; what was read of the second may begin before its digits."""
        between = self.text[first.end : second.end].lower()
        digit = next((n for n, letter in enumerate(between) if letter.isdigit()), second.start - first.end)
        return between[:digit].strip(" ,").split()


def _overlap(said: Said, facts: Collection[FactRead]) -> bool:
    return any(s.start < said.end and said.start < s.end for f in facts for s in f.said)


def _in_order(facts: Collection[FactRead], name: str) -> list[FactRead]:
    return sorted((f for f in facts if f.fact == name), key=lambda f: f.said[0].start)


def _air(height: FactRead | None, celsius: FactRead | None) -> Air:
    return Air(
        elevation_m=float(height.value) if height else 0.0,
        temperature_c=round(float(celsius.value), 1) if celsius else None,
    )
