"""Turns of speech that deny a statement, or only seem to: "at no point", "listened for a hiss, nothing", "no doubt".

A denial in the words right before a sign is found by its symbol; `manner` weighs it. Here are those that are told
otherwise: in turns whose words mean nothing one by one, behind what was looked for, and behind the sign itself; and
the turns that hold a word of denial and deny nothing.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from itertools import pairwise
from typing import Final

from carbdiag.reading.matcher import Hit
from carbdiag.reading.post import Post
from carbdiag.reading.reaches import CUE_REACH
from carbdiag.reading.spans import ends_between
from carbdiag.reading.symbols import COMMA

#: Characters between "looked for" and what was looked for, and between that and what came of it.
_SOUGHT: Final = 48
_CAME: Final = 40
#: Blanks between "nowhere near" and what it is said of.
_NEXT: Final = 3
#: Characters before a word in which the word before it stands.
_BESIDE: Final = 8
#: Words from a denial to the one in a sign that it undoes, that one with them: "won't [idle] without".
_UNDONE: Final = 3
_TO_ABSENT: Final = re.compile(r"(?: [\w'/]+){0,3} $")
_SHORTLY: Final = re.compile(r"(?: [\w']+){0,2} $")
_NOW: Final = re.compile(r"(?:,? [\w']+){0,7},? $")
_THEN: Final = re.compile(r"(?: [\w']+){0,3} $")
_MARKS: Final = re.compile(r"[,;.:!?()]")
#: Accents count for nothing, as in phrases.
_SAME: Final = str.maketrans("\u2019\n\u00e1\u00e9\u00ed\u00f3\u00fa\u00fc", "'.aeiouu")


class Denials:
    """Where words of one post deny a statement otherwise than by standing right before it."""

    def __init__(self, post: Post) -> None:
        self._post = post
        self._small = post.small.translate(_SAME)
        self._carrying = [[word] for word in post.book.language.negation.carried_by]
        self._places: dict[str, list[tuple[int, int]]] = {}
        for kind, start, end in post.book.denials.turns.standing(self._small):
            self._places.setdefault(kind, []).append((start, end))

    def seems(self, start: int) -> bool:
        """Whether the word of denial that begins there denies nothing: "no doubt", "without fail"."""
        return any(self._at(kind, start) for kind in ("undone", "twice", "more_than"))

    def more_than(self, at: int) -> bool:
        """Whether a symbol of denial only denies that it is all: "it doesn't just bog"."""
        return self._at("more_than", self._post.symbols.starts[at])

    def undone_before(self, at: int) -> bool:
        """Whether such a turn, begun before, ends in a symbol of denial: the "fails" of "never fails to bog"."""
        if self._post.book.negators.match(self._post.symbols.symbols, at) is None:
            return False
        start, stop = self._post.symbols.starts[at], self._post.symbols.ends[at]
        return any(end == stop for kind in ("undone", "twice") for _, end in self._before(kind, start))

    def holds(self, hit: Hit) -> bool:
        """Whether a statement is made of such a turn's words alone: the miss in "can't miss"."""
        first, last = self._span(hit)
        within = any(
            start <= first and last <= end and not (kind == "wholly" and self._of_life(end))
            for kind in ("undone", "wholly")
            for start, end in self._before(kind, first + 1)
        )
        return within or (hit.meaning.kind == "finding" and len(hit.parts) > 1 and self._holds_what_came(hit))

    def _of_life(self, end: int) -> bool:
        """Whether nothing is named behind a turn but life, or all: "not a hint of anything"."""
        word = self._small[end : end + _CAME].split()[:1]
        return not word or word[0].strip(".,;:!?") in self._post.book.denials.of_life

    def _holds_what_came(self, hit: Hit) -> bool:
        """Whether the last part of a sign is what came of a search: "listened for popping on (decel - nothing)"."""
        first, _ = self._span(hit)
        start = self._post.symbols.starts[hit.parts[-1][0]]
        return self._led(first, "sought") and self._at("found_none", start)

    def _led(self, first: int, kind: str) -> bool:
        """Whether a turn of a kind leads to what begins at a character."""
        return any(0 <= first - end <= _SOUGHT and self._one_clause(end, first) for _, end in self._before(kind, first))

    def denies(self, hit: Hit) -> bool:
        """Whether words around a statement deny it."""
        around = self._wholly(hit) or self._far_from(hit) or self._came_to_nothing(hit)
        return around or self._absent(hit) or self._ended(hit)

    def in_gap(self, hit: Hit, negators: list[int]) -> bool:
        """Whether a denial stands between the parts of a sign, with nothing behind it but "look" or the like."""
        if hit.meaning.kind != "finding" or hit.meaning.more:
            return False
        symbols, light = self._post.symbols.symbols, self._post.book.denials.light_verbs
        for (_, before), (behind, _) in pairwise(hit.parts):
            n = bisect_left(negators, behind) - 1
            at = negators[n] if n >= 0 else -1
            if at <= before or ends_between(self._post.breaks, at, behind) or self._is_until(at, hit):
                continue
            end = self._post.symbols.starts[behind]
            if self._small[max(end - _BESIDE, 0) : end].split()[-1:] in self._carrying:
                return True  # "the plug is not white or black"
            of_its_own = at + 1 < behind or behind != hit.parts[-1][0]  # right before its last part it is no denial
            if of_its_own and all(s in light for s in symbols[at + 1 : behind]):
                return True
        return False

    def undone_within(self, hit: Hit, negators: list[int]) -> bool:
        """Whether a denial in the gap of a sign undoes the one that its last part begins with: "won't idle without"."""
        if hit.meaning.kind != "finding" or hit.meaning.more or len(hit.parts) < 2:
            return False
        before, behind = hit.parts[-2][1], hit.parts[-1][0]
        if self._post.book.negators.match(self._post.symbols.symbols[behind]) is None:
            return False
        n = bisect_left(negators, behind) - 1
        at = negators[n] if n >= 0 else -1
        return max(before, behind - _UNDONE - 1) < at and not ends_between(self._post.breaks, at, behind)

    def _is_until(self, negator: int, hit: Hit) -> bool:
        """Whether the words of a sign go on to when it is so: "the idle won't drop until I blip it"."""
        start, (_, last) = self._post.symbols.starts[negator], self._span(hit)
        only_so = self._post.book.language.negation.only_so
        return any(start < at for at, _ in self._before("then", last)) or not only_so.isdisjoint(
            self._small[start:last].split()
        )

    def of_then(self, negator: int, hit: Hit) -> bool:
        """Whether what is denied is how it was before: "didn't have a hiss before", "wasn't smoking until"."""
        start, (_, last) = self._post.symbols.starts[negator], self._span(hit)
        if self._at("lasting_behind", start):
            words = (_SHORTLY.match(self._small[last:at]) for at, _ in self._behind("lasting", last))
            return any(words)  # "can't get the popping to go away"
        own = negator == hit.first and hit.meaning.more == "denied"  # "(didn't bog) before"
        if not (negator < hit.first or own) or not self._at("then_not", start):
            return False
        if any(_NOW.match(self._small[last:at]) for at, _ in self._behind("now", last)):
            return True
        words = (_THEN.match(self._small[last:at]) for at, _ in self._behind("then", last))
        # "not more gas than before" denies it
        return any(found is not None and found[0].split()[-1:] != ["than"] for found in words)

    def _wholly(self, hit: Hit) -> bool:
        """Whether a turn before it denies all that follows in its clause: "at no point did it (bog)"."""
        first, _ = self._span(hit)
        symbols, book = self._post.symbols, self._post.book
        begin = self._post.sentence(hit).start
        for start, end in self._before("wholly", first):
            behind = bisect_left(symbols.starts, end)
            if start < begin or end > first or hit.first - behind >= CUE_REACH or self.seems(start):
                continue
            # "can't get it to stop smoking", "failed to cure the miss"
            goes_on = not book.order.ending.isdisjoint(self._small[end:first].split())
            goes_on = goes_on or any(s in book.not_before for s in symbols.symbols[behind : hit.first])
            if not goes_on and not ends_between(self._post.breaks, behind, hit.first):
                return True
        return False

    def _far_from(self, hit: Hit) -> bool:
        """Whether the last part of a statement is told as far from what is: "compression is nowhere near (spec)"."""
        if len(hit.parts) == 1:
            return False
        start, end = self._post.symbols.ends[hit.parts[-2][1]], self._post.symbols.starts[hit.parts[-1][0]]
        places = (at for at in self._before("far", end) if start < at[0] and at[1] <= end)
        return any(self._small[to:end].count(" ") < _NEXT for _, to in places)

    def _came_to_nothing(self, hit: Hit) -> bool:
        """Whether it was looked for, or thought to come, and did not: "expected a bog but no"."""
        last = self._post.symbols.ends[hit.last]
        starts = self._post.symbols.starts
        for kind, behind in (("sought", "found_none"), ("expected", "but_none")):
            leads = self._post.book.denials.to_result
            came = (leads.match(self._small[last:at]) for at, _ in self._behind(behind, last))
            # of a check what it would show was expected: "sprayed it, expecting it to race, it didn't"
            shown = kind == "expected" and hit.meaning.kind == "check"
            if self._led(starts[hit.parts[-1][0] if shown else hit.first], kind) and any(came):
                return True
        return False

    def _absent(self, hit: Hit) -> bool:
        """Whether it is told behind it that it is not there: "smoke was nowhere to be seen"."""
        if hit.meaning.kind == "check":
            return False
        first, last = self._span(hit)
        if any(start < last < end for start, end in self._before("void", last)):
            return True  # "turning the bars (changes nothing)"
        if any(first < start and end < last for start, end in self._before("absent", last)):
            return True  # in a sign's own words: "snapping was nowhere to be (heard)"
        if any(self._small[last:at] == " " for at, _ in self._behind("absent_next", last)):
            return True
        for at, end in self._behind("absent", last):
            led = _TO_ABSENT.match(self._small[last:at])
            if led is not None and self._post.book.denials.tells_new.isdisjoint(led[0].split()[-1:]):
                word = self._small[end : end + 12].split()[:1]
                return not word or word[0].strip(".,;:!?") not in self._post.book.denials.not_absent
        return False

    def _ended(self, hit: Hit) -> bool:
        """Whether it is told as what somebody cured: "(that) fixed the (backfire)", but not "nothing fixed the ..."."""
        if hit.meaning.kind != "finding":
            return False
        first, _ = self._span(hit)
        for start, end in self._before("ended", first):
            if start >= self._post.sentence(hit).start and self._small[end:first].count(" ") in (1, 2):
                said = _MARKS.split(self._small[max(start - _SOUGHT, 0) : start])[-1].split()
                return self._post.book.denials.not_ended.isdisjoint(said) and "." not in self._small[end:first]
        return False

    def stops_inside(self, hit: Hit) -> bool:
        """Whether words between the parts of a sign say that it is over, or goes on: "lights (stopped) flickering"."""
        if hit.meaning.kind != "finding":
            return False
        order, symbols = self._post.book.order, self._post.symbols
        for (_, last), (first, _) in pairwise(hit.parts):
            said = self._small[symbols.ends[last] : symbols.ends[first]].split()
            if any(word in order.over and doing.endswith(order.doing) for word, doing in pairwise(said)):
                return True
        return False

    def _one_clause(self, start: int, end: int) -> bool:
        breaks = self._post.symbols.breaks
        first, last = bisect_left(self._post.symbols.starts, start), bisect_left(self._post.symbols.starts, end)
        return all(breaks.get(at, 0) < COMMA for at in range(first, last + 1)) and "." not in self._small[start:end]

    def _span(self, hit: Hit) -> tuple[int, int]:
        return self._post.symbols.starts[hit.first], self._post.symbols.ends[hit.last]

    def _at(self, kind: str, start: int) -> bool:
        places = self._places.get(kind, [])
        n = bisect_right(places, (start, len(self._small)))
        return n > 0 and places[n - 1][1] > start

    def _before(self, kind: str, end: int) -> list[tuple[int, int]]:
        """The turns of a kind that begin shortly before a character."""
        places = self._places.get(kind, [])
        return places[bisect_left(places, (end - 2 * _SOUGHT, 0)) : bisect_left(places, (end, 0))]

    def _behind(self, kind: str, start: int) -> list[tuple[int, int]]:
        places = self._places.get(kind, [])
        return places[bisect_left(places, (start, 0)) : bisect_left(places, (start + _CAME, 0))]
