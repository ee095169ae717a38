"""The air a machine was set for and the air now, where a post tells two heights or two temperatures in their order."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterator
from itertools import pairwise

from carbdiag.case_schema import Air, AirChange
from carbdiag.reading.post import Post
from carbdiag.reading.wordlist import any_of
from carbdiag.reading_schema import FactRead, Said

_BEFORE = 40  # characters before a height in which it says what was done there
_AROUND = 60  # characters around a number in which its clause is looked for
_NEXT_TO = 3  # words before a height among which "from" stands: "from about 5000 ft"
_LONGEST_WAY = 8  # words between two numbers: "to our place in the hills at about"


class NewAir:
    """Reads the change of air from the words between two numbers of a text."""

    def __init__(self, post: Post) -> None:
        self.post, self.text, self.language = post, post.text, post.book.language
        self._sentences = [sentence.start for sentence in post.symbols.sentences]

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
        heights = _each_once(heights, self.post.book.limits.same_height_m)
        celsius = _in_order(facts, "temperature_c")
        match heights:
            case [first, second] if first.value != second.value:
                way = way_between(first, second)
                # heights told in another order than the way went may be anything
                went = set(moves) == {way} and all(map(self._is_a_place, low))
                went = went or self._lead(first, second, self.language.height_to)
                for before, after in self._in_time(first, second, led=went, anyhow=True):
                    told = {*moves} - {None}
                    said = self._of_then(before) or self._says(self.language.height_now, self._clause(after, before))
                    if not said and told and way_between(before, after) not in told:
                        return None  # the words tell one way and the numbers the other: nobody knows
                    # a temperature told beside neither is that of the ride; where it was set, the ordinary one is taken
                    then = [c for c in celsius if self._beside(c, before, after)]
                    ride = [c for c in celsius if c not in then]
                    if max(len(then), len(ride)) > 1:
                        then, ride = [], []  # nobody knows which of several it is
                    return AirChange(set=_air(before, *then[:1]), now=_air(after, *ride[:1]))
            case [] | [_]:
                match celsius:
                    case [first, second] if first.value != second.value:
                        led = self._lead(first, second, ())
                        for before, after in self._in_time(first, second, led=led, anyhow=led):
                            height = heights[0] if heights else None
                            return AirChange(set=_air(height, before), now=_air(height, after))
        return None

    def _in_time(
        self, first: FactRead, second: FactRead, *, led: bool, anyhow: bool
    ) -> list[tuple[FactRead, FactRead]]:
        """Two numbers as the air it was set for and the air now, by what is said in the clause of each.

        Args:
            led: that the words between lead from the first to the second.
            anyhow: that one of them is told as what it was set for, or as what is now, is enough.

        Returns:
            The one order that is said, or nothing.
        """
        clauses = [self._clause(first, second), self._clause(second, first)]
        was = [self._says(self.language.set_for, c) for c in clauses]
        if not any(was):
            was = [self._of_then(told) for told in (first, second)]
        now = [not w and self._says(self.language.height_now, c) for w, c in zip(was, clauses, strict=True)]
        soon = [self._says(self.language.height_soon, c) for c in clauses]
        if soon[0] != soon[1]:  # "great here at 300 ft, next week at 9000": the ride to come is the air to set for
            was, now, anyhow = [soon[1], soon[0]], soon, True
        orders = [(was[0] and not was[1], now[1] and not now[0]), (was[1] and not was[0], now[0] and not now[1])]
        pairs = [(first, second), (second, first)]
        said = [pair for pair, (set_, is_now) in zip(pairs, orders, strict=True) if (set_ and is_now) or (
            anyhow and (set_ or is_now))]  # fmt: skip
        if not said and led and not (was[1] or now[0]):
            return [(first, second)]
        return said if len(said) == 1 else []

    def _beside(self, celsius: FactRead, before: FactRead, after: FactRead) -> bool:
        """Whether a temperature stands in the sentence of the height it was set for, and not beside the other."""
        at, then, now = (self._number(fact)[0] for fact in (celsius, before, after))
        sentence_of = [bisect_right(self._sentences, place) for place in (at, then, now)]
        if sentence_of[0] != sentence_of[1]:
            return False
        return sentence_of[0] != sentence_of[2] or abs(at - then) <= abs(at - now)

    @staticmethod
    def _says(words: Collection[str], clause: str) -> bool:
        found = any_of(words)
        return found is not None and found.search(clause) is not None

    def _clause(self, told: FactRead, other: FactRead) -> str:
        """The words around a number, up to the next comma, "and" or the like on either side, without the other's."""
        (start, end), (first, last) = self._number(told), self._number(other)
        low, high = (last if last <= start else 0), (first if first >= end else len(self.text))
        clauses = self.post.book.height_clauses
        before = clauses.split(self.text[max(start - _AROUND, low) : start])[-1]
        return f"{before} {self.text[start:end]} {clauses.split(self.text[end : min(end + _AROUND, high)])[0]}"

    def _named(self, numbers: Collection[FactRead]) -> Iterator[FactRead]:
        """Heights told by the name of a place: "from the mile high city to the coast"."""
        book, small = self.post.book, self.post.small
        for _, start, end in book.height_names.standing(small):
            said = Said(words=self.text[start:end], start=start, end=end)
            if not _overlap(said, numbers):
                yield FactRead(fact="elevation_m", value=book.heights[small[start:end]], said=(said,))

    def _number(self, told: FactRead) -> tuple[int, int]:
        """Where the number itself stands; what was read of it may begin words before."""
        start, end = told.said[0].start, told.said[0].end
        return next((n for n in range(start, end) if self.text[n].isdigit()), start), end

    def _is_a_place(self, height: FactRead) -> bool:
        """Whether a height is told as that of a place, "at 500 ft", and not of a way, "ran 200 ft"."""
        start = height.said[0].start
        before = self.text[max(start - _BEFORE, 0) : start].lower().split()
        return bool(before) and before[-1] in self.language.height_at

    def _of_then(self, told: FactRead) -> bool:
        """Whether a height is told as that of the setting, or of a place left: "moved here from 5000 ft"."""
        start, _ = self._number(told)
        if self.post.small[max(start - _BEFORE, 0) : start].rstrip().endswith(self.language.height_here):
            return False  # "the last owner rode at 5000 ft, I'm at 500"
        before = f" {self.post.book.height_clauses.split(self.text[max(start - _AROUND, 0) : start].lower())[-1]}"
        words = f" {' '.join(before.split()[-_NEXT_TO:])} "
        left = any(f" {word} " in words for word in self.language.height_from)
        reached = any(f" {word} " in words for word in self.language.height_to)
        return (left and not reached) or self._says((*self.language.set_for, *self.language.height_then), before)

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


def _each_once(heights: list[FactRead], same_m: float) -> list[FactRead]:
    """Heights without one told a second time right behind: "at 2600 m in Bogota"."""
    kept: list[FactRead] = []
    for height in heights:
        if not kept or abs(float(height.value) - float(kept[-1].value)) > same_m:
            kept.append(height)
    return kept


def way_between(before: FactRead, after: FactRead) -> str:
    """Which way a machine went from one height to another."""
    return "up" if float(after.value) > float(before.value) else "down"


def _overlap(said: Said, facts: Collection[FactRead]) -> bool:
    return any(s.start < said.end and said.start < s.end for f in facts for s in f.said)


def _in_order(facts: Collection[FactRead], name: str) -> list[FactRead]:
    return sorted((f for f in facts if f.fact == name), key=lambda f: f.said[0].start)


def _air(height: FactRead | None, celsius: FactRead | None = None) -> Air:
    return Air(
        elevation_m=float(height.value) if height else 0.0,
        temperature_c=round(float(celsius.value), 1) if celsius else None,
    )
