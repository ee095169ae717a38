"""Turns of speech that set a statement aside: told of then, of a plan, of another machine, or only supposed."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable
from itertools import pairwise
from typing import Final

from carbdiag.reading.deed_text import WORD
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit
from carbdiag.reading.symbols import Sentence

#: Characters before a deed in which the words stand that make it what somebody's word led on to.
_LED_ON: Final = 160
#: Words between a turn of speech and the sign right beside it, and the turns that are looked at.
_TURN_REACH: Final = 2
_MOST_TURNS: Final = 4
#: Characters behind a plan over which it may go on.
_PLAN_REACH: Final = 160
#: Characters before a turn in which the word that leads to it stands.
_NEAR: Final = 24
#: What a turn that tells of another time sets aside. What happened then may hold yet, what a check found not;
#: of a plan it is what would be new or looked at, for how it runs now is told beside plans too.
OF_THEN: Final = {"past": ("finding", "check"), "over": ("finding", "check"), "planned": ("context", "check")}
#: How far a turn of speech reaches that sets aside all that follows in its sentence.
_WHOLE: Final = ("sentence", "result")
_MARK: Final = re.compile(r"[,;:.!?()]")
_WORDS: Final = re.compile(r"[\w'’]+")


class TurnsOfSpeech:
    """The turns of speech of a post, and which statements each sets aside."""

    def __init__(self, found: Found, was_never: Callable[[Hit], bool]) -> None:
        self.found = found
        self._was_never = was_never
        language = found.book.language
        #: Words behind which what a turn says of the sign next to it is said no more.
        self._leads_on = (*language.order.reason, *language.goes_on)

    def why(self, hit: Hit, sentence: Sentence) -> str:
        """Why a turn of speech near a statement sets it aside, if one does."""
        if self._over_since(hit, sentence):
            return "over"
        n = bisect_right(self.found.turn_firsts, hit.first)
        return self._before(hit, sentence, n) or self._behind(hit, sentence, n)

    def tells_as_done(self, hit: Hit) -> bool:
        """Whether the words of a deed tell it as done: "I'll list it all: (replaced the coil)"."""
        past = self.found.book.deeds.words.ending_past
        return any(word.endswith(past) for word in WORD.findall(self.found.words(hit).lower()))

    def _before(self, hit: Hit, sentence: Sentence, n: int) -> str:
        """Why one of the turns before a statement, the `n` first, sets it aside; nothing where none does."""
        for turn in reversed(self.found.turns[max(n - _MOST_TURNS, 0) : n]):
            if turn.before < sentence.first:
                break
            reach = self.found.symbols.sentences[-1].last if turn.reach in _WHOLE else _TURN_REACH
            if turn.why == "planned" and self._led_off(turn.end, hit.first):
                continue
            if turn.why in ("planned", "supposed") and self._has_it(turn.end, hit.first):
                continue
            if turn.why in OF_THEN and turn.before == hit.first < turn.after <= hit.last:
                continue  # "(used to) do 75, now only 65": the sign itself tells of then and now
            if turn.reach == "result" and (hit.meaning.kind != "check" or self._since(turn.before)):
                continue
            if turn.why in OF_THEN and self._back_in_the_present(turn.after, hit.first):
                continue
            if turn.why in ("past", "over") and hit.meaning.kind == "check" and self._so_it_is_now(turn.after, hit):
                continue
            if turn.why == "supposed" and self._acted_then(turn.after, hit.parts[-1][0]):
                continue
            if turn.reach == "next" and self._led_to(self._leads_on, turn.after, hit.first):
                continue  # "I don't ride it because it bogs", "at first it pulls, then it bogs"
            if turn.why == "other_machine" and hit.meaning.kind in ("do", "change") and self._taken_from(turn.before):
                continue
            mine = self.found.book.language.this_machine
            if turn.why == "other_machine" and self._led_to(mine, turn.after, hit.first):
                continue  # "the other kart wouldn't start, so he drove this one, it bogs"
            if (
                turn.reach not in ("before", "within")
                and hit.first - turn.after <= reach
                and (
                    not self.found.contrast(turn.after, hit.parts[-1][0])  # "he says the grip, but it snaps shut"
                    or (turn.why == "past" and self.tells_as_done(hit))  # "before the rebuild it idled but leaked"
                )
            ):
                return turn.why
        return ""

    def _behind(self, hit: Hit, sentence: Sentence, n: int) -> str:
        """Why one of the turns in a statement or behind it sets it aside; nothing where none does."""
        for turn in self.found.turns[n : n + _MOST_TURNS]:
            if turn.before > hit.last + _TURN_REACH + 1:
                break
            if turn.reach == "within" and self._in_a_gap(turn.before, hit):
                return turn.why  # "pushed the plug cap on in case it was loose"
            if turn.reach == "before" and hit.last < turn.before < sentence.last and not self._was_never(hit):
                return turn.why
            if turn.reach == "before" and turn.why == "other_machine" and hit.last <= turn.before <= sentence.last:
                return turn.why  # "on" may be the last word of the part, and "his" is none: "a cone filter (on his)"
        return ""

    def _over_since(self, hit: Hit, sentence: Sentence) -> bool:
        """Whether the sentence goes on to say that it is over: "it leaked, a new needle took care of that"."""
        ends = self.found.over_since
        n = bisect_right(ends, hit.last)
        if n == len(ends) or ends[n] > sentence.last or self.found.contrast(hit.last, ends[n] - 1):
            return False
        return hit.meaning.kind in OF_THEN["over"] and not self.found.cues.near(hit, "still")

    def _in_a_gap(self, at: int, hit: Hit) -> bool:
        """Whether a symbol begins what stands between two parts of a sign, or the part behind that."""
        return any(a[1] < at <= b[0] for a, b in pairwise(hit.parts))

    def _acted_then(self, after: int, before: int) -> bool:
        """Whether what was heard or thought led on to a deed: "somebody told me go leaner so I went 160 to 155"."""
        symbols = self.found.symbols
        end = symbols.ends[before]
        start = max(symbols.ends[max(after - 1, 0)], end - _LED_ON)
        said = f" {' '.join(WORD.findall(self.found.small[start:end]))} "
        return any(f" {opener} " in said for opener in self.found.book.language.clause_openers)

    def _led_off(self, end: int, before: int) -> bool:
        """Whether a plan ends before a statement: "I'll rejet it (since it has) pods"."""
        start = self.found.symbols.starts[before]
        if start - end > _PLAN_REACH:
            return True
        between = self.found.small[end:start]
        return not self.found.book.plans_end.isdisjoint(re.findall(r"[^\W\d_]+", between))

    def _has_it(self, end: int, before: int) -> bool:
        """Whether a clause of its own says that it is there behind a plan: "thinking of pods, (have) a slip on"."""
        clauses = _MARK.split(self.found.small[end : self.found.symbols.starts[before]])
        owns = self.found.book.parts_not_on.owns
        return len(clauses) > 1 and not owns.isdisjoint(_WORDS.findall(clauses[-1])[:1])

    def _since(self, at: int) -> bool:
        """Whether it has been so from a time on: "since (last summer) it has no spark"."""
        start = self.found.symbols.starts[at]
        before = self.found.small[max(start - _NEAR, 0) : start].split()
        return bool(before) and before[-1] in self.found.book.language.order.since

    def _so_it_is_now(self, after: int, hit: Hit) -> bool:
        """Whether what is told of then led to what a check finds now: "spat back last year so he clipped it rich"."""
        last = min(hit.last + 1, self.found.sentence(hit).last - 1)
        return self._acted_then(after, hit.parts[-1][0]) or self._back_in_the_present(hit.first, last)

    def _taken_from(self, at: int) -> bool:
        """Whether another machine lent a part, or is a place: "the coil off my other bike", "at the truck"."""
        start = self.found.symbols.starts[at] if at < len(self.found.symbols.starts) else len(self.found.text)
        before = self.found.small[max(start - _NEAR, 0) : start].split()
        return not self.found.book.taken_from.isdisjoint(before)

    def _back_in_the_present(self, first: int, last: int) -> bool:
        """Whether words lead back from the past: "last year it was slow, this year it is slower"."""
        return self._led_to(self.found.book.language.present, first, last)

    def _led_to(self, words: tuple[str, ...], first: int, last: int) -> bool:
        """Whether words stand between two symbols."""
        if first > last:
            return False
        starts = self.found.symbols.starts
        between = self.found.small[starts[first - 1] if first else 0 : starts[last]]
        said = f" {' '.join(_WORDS.findall(between))} "
        return any(f" {led} " in said for led in words)
