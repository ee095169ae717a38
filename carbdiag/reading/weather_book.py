"""The words that tell two kinds of weather as then and as now, compiled."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from carbdiag.reading.wordlist import Listed, any_of, clause_end, one_of
from carbdiag.records.order_words import WeatherWords


class WeatherBook:
    """Seasons and kinds of weather with their degrees, and what a clause says of them."""

    def __init__(self, words: WeatherWords, set_for: Iterable[str]) -> None:
        """Compile them; `set_for` says of a height too that the machine was set up for it."""
        self.celsius: Final[Mapping[str, float]] = {**words.doubtful, **words.words}
        self.doubtful = frozenset(words.doubtful)
        self.seasons = Listed({word: [word] for word in self.celsius})
        self.then, self.now, self.lately, self.so, self.no_weather = map(
            any_of, (words.then, words.now, words.lately, words.so, words.no_weather)
        )
        self.likes = any_of(words.likes)
        self.habit, self.no_trouble = any_of(words.habit), any_of(words.no_trouble)
        self.went_from, self.went_to = tuple(words.went_from), frozenset(words.went_to)
        self.was = any_of(words.was)
        #: between a season and its number
        self.small_words = frozenset(words.small_words)
        self.bracket = re.compile(rf"\((?P<said>(?:(?:{one_of(words.small_words)})\s+)*)[-+]?$")
        self.clauses = clause_end(",;!?\n()", words.clause_ends)
        outside = rf"(?:{one_of(words.outside)})\b"
        self.outside = re.compile(rf" ?\b{outside}")
        #: "its -5", "today plus 2"
        below, above = one_of(words.minus), one_of(words.plus)
        self.signed = re.compile(
            rf"(?<![\w.,/+-])(?:(?P<below>-|(?:{below})\s)|(?P<above>\+|(?:{above})\s))(?P<n>\d{{1,2}})(?![\w%/\"'-]|\.\d)"
        )
        #: "now its 95 out"; of turns there are fewer
        self.degrees_outside = re.compile(rf"(?<![\w.,/-])(?P<n>\d{{2,3}}) {outside}")
        #: "it was 85 when", "85 at home": of degrees where nothing in the sentence is of another kind
        ends = rf"(?=\s*(?:$|[,;!?)\n]|\.(?!\d)|(?:{one_of(words.plain_before)})\b))"
        number = r"(?P<n>-?\d{1,3})(?:(?<=0)'?s)?(?![\w%/\"'-]|\.\d)"
        led = rf"(?<![\w'])(?:{one_of(words.plain_behind)})\s+{number}{ends}"
        before = one_of((*words.plain_behind, *words.lent_behind))
        lent = rf"(?<![\w'])(?:{before})\s+{number}(?:{ends}|(?=\s+(?:{one_of(words.went_to)})\s))"
        begins = rf"(?:^|[.,;!?\n(] *|\b(?:{one_of(words.clause_ends)}) )"
        leads = rf"{begins}(?P<m>\d{{1,3}})(?:(?<=0)'?s)?\s+(?:{one_of(words.plain_ahead)})\b"
        self.plain, self.lent = re.compile(rf"{led}|{leads}"), re.compile(rf"{lent}|{leads}")
        self.of_weather, self.degrees, self.set_for = map(any_of, (words.of_weather, words.degrees, set_for))
        #: "was 80s all last month": of degrees, where no jet is named
        self.decade = re.compile(r"\b\d?\d0'?s\b")
        #: Right before degrees, those are of any weather: "40 or 90 out".
        self.either = re.compile(rf"\b(?:{one_of(words.either)})\s+$")
        self.no_degrees = any_of(words.no_degrees)
