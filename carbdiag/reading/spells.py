"""Spells of time for which something helped: "ran great for two rides, then it was back to missing"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from carbdiag.reading.wordlist import any_of
from carbdiag.records.order_words import ShortLived

#: Words that may stand before the span of time: "for about a", "for the first two".
_UP_TO_SPAN: Final = r"(?:[\s,]+[\w'/-]+){0,4}?[\s,]+"
#: What may stand between the end of a sentence and words that say of themselves that the trouble is back.
_UP_TO_RETURN: Final = r"[^.;!?\n]{0,44}?[.;!]+\s[^.;!?\n]{0,50}?(?<![\w'])"
#: What may stand between the span and the words of the trouble's return: less than a line.
_UP_TO_END: Final = r"[^\n]{0,44}?(?<![\w'])"


class Spells:
    """The words of one language for what did not last."""

    def __init__(self, words: ShortLived, well: Iterable[str]) -> None:
        good, spans, ends, done = map(_any, (well, words.spans, words.ends, words.not_before))
        self._well = self._ended = self._returned = None
        self._soon = any_of(words.soon)
        if good and spans:
            self._well = re.compile(rf"(?<![\w'])(?:{good}){_UP_TO_SPAN}(?:{spans})(?![\w'])")
        if spans and ends:
            other = rf"(?!\s+(?:{done})(?![\w']))" if done else ""
            self._ended = re.compile(
                rf"{_UP_TO_SPAN}(?:{spans})(?![\w']){_UP_TO_END}(?P<end>{ends})(?![\w']){other}"
            )
        back, but_not, after = map(_any, (words.returns, words.returns_not, words.until_after))
        self._returned = _returns(back, but_not, after, spans, done)

    def well(self, small: str, start: int, end: int) -> bool:
        """Whether a stretch of a text says that it ran well for a time: "great for two rides"."""
        return self._well is not None and self._well.search(small, start, end) is not None

    def soon(self, words: str) -> bool:
        """Whether a span of time only says how soon it was well: "came good within a mile"."""
        return self._soon is not None and self._soon.search(words) is not None

    def ended(self, small: str, start: int) -> int | None:
        """Where words say that the trouble was back, if a span of time and then such words follow here."""
        for told in (self._ended, self._returned):
            if told is not None and (found := told.match(small, start)):
                return found.start("end")
        return None


def _returns(said: str, but_not: str, after: str, spans: str, done: str) -> re.Pattern[str] | None:
    """What follows an effect where the trouble is back: ". Now two months later it's back", ", then after a week"."""
    kinds = []
    if said:
        kinds.append(rf"{_UP_TO_RETURN}(?P<back>{said})(?![\w'])(?!\s+(?:{but_not})(?![\w']))")
    if after and spans:
        kinds.append(rf"[\s,.]+(?:{after}){_UP_TO_SPAN}(?:{spans})(?![\w'])(?!,?\s+(?:{done})(?![\w']))")
    return re.compile(f"(?P<end>{'|'.join(kinds)})") if kinds else None


def _any(said: Iterable[str]) -> str:
    return "|".join(map(re.escape, sorted(said, key=len, reverse=True)))
