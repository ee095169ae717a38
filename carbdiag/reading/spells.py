"""Spells of time for which something helped: "ran great for two rides, then it was back to missing"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from carbdiag.reading.wordlist import any_of
from carbdiag.reading_schema import ShortLived

#: Words that may stand before the span of time: "for about a", "for the first two".
_UP_TO_SPAN: Final = r"(?:[\s,]+[\w'/-]+){0,4}?[\s,]+"
#: What may stand between the span and the words of the trouble's return: less than a line.
_UP_TO_END: Final = r"[^\n]{0,44}?(?<![\w'])"


class Spells:
    """The words of one language for what did not last."""

    def __init__(self, words: ShortLived, well: Iterable[str]) -> None:
        good, spans, ends, done = map(_any, (well, words.spans, words.ends, words.not_before))
        self._well = self._ended = None
        self._soon = any_of(words.soon)
        if good and spans:
            self._well = re.compile(rf"(?<![\w'])(?:{good}){_UP_TO_SPAN}(?:{spans})(?![\w'])")
        if spans and ends:
            other = rf"(?!\s+(?:{done})(?![\w']))" if done else ""
            self._ended = re.compile(
                rf"{_UP_TO_SPAN}(?:{spans})(?![\w']){_UP_TO_END}(?P<end>{ends})(?![\w']){other}"
            )

    def well(self, small: str, start: int, end: int) -> bool:
        """Whether a stretch of a text says that it ran well for a time: "great for two rides"."""
        return self._well is not None and self._well.search(small, start, end) is not None

    def soon(self, words: str) -> bool:
        """Whether a span of time only says how soon it was well: "came good within a mile"."""
        return self._soon is not None and self._soon.search(words) is not None

    def ended(self, small: str, start: int) -> int | None:
        """Where words say that the trouble was back, if a span of time and then such words follow here."""
        found = self._ended.match(small, start) if self._ended else None
        return None if found is None else found.start("end")


def _any(said: Iterable[str]) -> str:
    return "|".join(map(re.escape, sorted(said, key=len, reverse=True)))
