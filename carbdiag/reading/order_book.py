"""The words of one language that put what is told in order in time: now, since, until, gone, not before."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from carbdiag.reading.wordlist import any_of, one_of
from carbdiag.records.order_words import OrderWords

#: Characters behind a sign, or before it, in which the words stand that say it is over.
BEHIND: Final = 40


class OrderBook:
    """The words of one language that put what is told in order."""

    def __init__(
        self,
        words: OrderWords,
        partly: re.Pattern[str] | None = None,
        well: Iterable[str] = (),
        joins: Iterable[str] = (),
    ) -> None:
        self.partly = partly
        self.now, self.now_behind, self.since = map(any_of, (words.now, words.now_behind, words.since))
        self.habit, self.reason = any_of(words.habit), any_of(words.reason)
        self.still, self.until, self.less = map(any_of, (words.still, words.until, words.lessened))
        #: behind a sign that a setting brought, it is as it should be: "now it four strokes (and cuts well)"
        pulls_well = rf"(?:{one_of(words.pulls_well)})\s+(?:\w+\s+)?(?:{one_of(well)})(?![\w'])"
        self._pulls_well = re.compile(pulls_well, re.IGNORECASE)
        self._and_pulls_well = re.compile(rf"\s*(?:{one_of(joins)})\s+{pulls_well}", re.IGNORECASE)
        only, now = one_of(words.only), one_of(words.now)
        self._only = re.compile(rf"(?<![\w'])(?:{only})\s+$", re.IGNORECASE)
        is_now = rf"(?:(?:{now}|is|it's|its)\s+){{0,2}}"
        self._only_at = re.compile(rf"\s*{is_now}(?:{only})\s+(?:{one_of(words.only_at)})(?![\w'])", re.IGNORECASE)
        self.gone, self.not_before, self.past = map(any_of, (words.gone, words.not_before, words.past_forms))
        self.past_ending = words.past_ending
        self.new_trouble = any_of(words.new_trouble)
        self._ended, self.doing = frozenset(words.ended), words.doing_ending
        self.ending, self._through = frozenset(words.ending), words.ended_through
        self.over = self.ending | self._ended

    def is_habit(self, words: str) -> bool:
        """Whether words tell what it does each time, and not what it did once."""
        return finds(self.habit, words) is not None

    def ended(self, text: str, start: int) -> bool:
        """Whether the word before a sign says that it is over: "stopped (popping)"."""
        before = text[max(start - BEHIND, 0) : start].lower().split()
        words = text[start : start + BEHIND].lower().split(maxsplit=2)[:2]
        through = before.pop() if before and before[-1] in self._through else ""
        if not (before and words and self.doing and before[-1] in self._ended):
            return False
        # "stopped four stroking" is a doing too
        doing = words[0] if words[0].strip(".,;:!?").endswith(self.doing) or words[0][-1] in ".,;:!?" else words[-1]
        return doing.strip(".,;:!?").endswith(self.doing) or through.endswith(self.doing)

    def ends_trouble(self, words: str) -> bool:
        """Whether words say that a deed behind them ended what was: "nothing helped until"."""
        return finds(self.until, words) is not None

    def lessened(self, before: str) -> bool:
        """Whether only little is left of the trouble behind words: "... and now it is only a (slight hesitation)"."""
        return finds(self.less, before[-BEHIND:]) is not None

    def goes_well(self, text: str, start: int, end: int) -> bool:
        """Whether a sign, or what is told behind it, says that it runs well: "it (four strokes) and (cuts) well"."""
        return (self._pulls_well.match(text, start) or self._and_pulls_well.match(text, end)) is not None

    def only_there(self, before: str, behind: str) -> bool:
        """Whether the trouble between words shows only at one place any more: "now it only (bogs) at 1/4"."""
        return self._only.search(before) is not None or self._only_at.match(behind) is not None

    def says_now(self, words: str) -> bool:
        """Whether words between a deed and what follows say that it is so since, and was not so before."""
        return finds(self.now, words) is not None and finds(self.still, words) is None


def finds(pattern: re.Pattern[str] | None, text: str) -> int | None:
    """Where words stand in a stretch of text."""
    found = pattern.search(text.replace("’", "'")) if pattern is not None else None
    return None if found is None else found.start()
