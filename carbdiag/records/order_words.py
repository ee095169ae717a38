"""The words of a language that tell one time, and one weather, from another."""

from __future__ import annotations

from pydantic import Field

from carbdiag.field_types import Number
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import Word, Words


class OrderWords(Frozen):
    """Words that put what is told in order in time."""

    lessened: Words = Field(
        default=(), description='Before a trouble since a deed, there is less of it: "now only a slight hesitation".'
    )
    pulls_well: Words = Field(default=(), description='"Now it four strokes and (cuts) well": that is as it should be.')
    only: Words = Field(default=(), description='Right before a trouble, it is nowhere else now: "now it (only) bogs".')
    only_at: Words = Field(default=(), description='Behind that, where it is: "stumbles now only (off) idle".')
    though: Words = Field(default=(), description='At the end of "still sooty though": it is better otherwise.')
    now: Words = Field(default=(), description='Between a deed and a sign, the sign is seen since: "and now it".')
    reason: Words = Field(default=(), description='Between a deed and a sign, the sign is why it was done: "because".')
    new_trouble: Words = Field(default=(), description='Behind a cure, that was of another trouble: "new issue".')
    now_behind: Words = Field(default=(), description='Behind a sign, it is seen since: "which it never did before".')
    habit: Words = Field(default=(), description='In "cured for a while", it is the complaint: "runs ten miles, then".')
    until: Words = Field(default=(), description='Before a deed, it ended the trouble: "nothing helped until I".')
    still: Words = Field(default=(), description='Behind such a word, the sign was there before: "now still".')
    since: Words = Field(default=(), description="Before a deed, the signs of its sentence are seen since.")
    gone: Words = Field(default=(), description='Behind a sign that is denied, it was there before: "any more".')
    not_before: Words = Field(default=(), description='Behind a sign, it was not there before: "never used to".')
    keeps: Words = Field(default=(), description='Before any deed, as much as the trouble itself: "keeps stalling".')
    past_forms: Words = Field(default=(), description="Before a sign, or in it, it was seen then, and not now.")
    past_ending: str = Field(default="", description="The ending of a verb that tells what was.")
    ended: Words = Field(default=(), description='Right before a sign told as a doing, it is over: "stopped popping".')
    ending: Words = Field(default=(), description='Behind a denial, it goes on: "can not get it to stop popping".')
    ended_through: Words = Field(default=(), description='May stand behind those: "stopped getting worse".')
    doing_ending: str = Field(default="", description="The ending of a sign told as a doing.")


class ShortLived(Frozen):
    """Words behind an effect that helped, which say that it did not last: "ran great for two rides, then ..."."""

    spans: Words = Field(default=(), description='How long it did: "rides", "a week".')
    soon: Words = Field(default=(), description='Before a span, that is how soon it was well: "within a mile".')
    ends: Words = Field(default=(), description='Behind a span, the trouble was back: "then", "again".')
    not_before: Words = Field(default=(), description='Behind "then", something else was done: "then I".')
    returns: Words = Field(default=(), description='In the next sentence, the trouble is back: "now it\'s back".')
    returns_not: Words = Field(default=(), description='Behind those, it is not: "it\'s back (together)".')
    until_after: Words = Field(default=(), description='Before a span, it was well so long: "then after (a week)".')


class WeatherWords(Frozen):
    """Words that tell two kinds of weather as then and as now: "fine all summer, now it's 3 degrees"."""

    words: dict[Word, Number] = Field(default={}, description="Seasons and kinds of weather, in degrees Celsius.")
    doubtful: dict[Word, Number] = Field(
        default={}, description='Likewise, where they may be said of the engine: "it gets hot".'
    )
    then: Words = Field(default=(), description='In the clause of a season, it ran well in it: "great all summer".')
    habit: Words = Field(default=(), description='A height it is taken to again and again: "(every weekend)".')
    no_trouble: Words = Field(default=(), description='In such a sentence, it runs right there: "without any trouble".')
    small_words: Words = Field(default=(), description='Between a season and its degrees: "in August (at) 31 C".')
    now: Words = Field(default=(), description='In the clause of a season, it is that of now: "now in the heat".')
    lately: Words = Field(default=(), description='Likewise, where nothing says that it ran well in it: "yesterday".')
    so: Words = Field(default=(), description='Likewise, where nothing says that it ran well in it: "its 3 degrees".')
    clause_ends: Words = Field(
        default=(), description='Before or behind a season or degrees, another clause begins: "great all summer (but)".'
    )
    outside: Words = Field(default=(), description='Behind a number, it is one of degrees: "now its 95 out".')
    minus: Words = Field(default=(), description='As the sign before degrees: "minus 20".')
    plus: Words = Field(default=(), description='As the sign before degrees: "plus 5".')
    plain_behind: Words = Field(default=(), description='Before a mere number, it may be of degrees: "(it was) 85".')
    plain_before: Words = Field(default=(), description='What follows it then, if anything: "its 40 (now)".')
    plain_ahead: Words = Field(default=(), description='Behind a mere number, it may be too: "85 (at home)".')
    lent_behind: Words = Field(
        default=(), description='Before a mere number, it may be of degrees beside another that is: "90 degrees to 45".'
    )
    of_weather: Words = Field(
        default=(), description='Beside one of two mere numbers, both are of degrees: "90 (when I tuned it), 45 today".'
    )
    either: Words = Field(default=(), description='Before degrees, it is the same in both: "40 (or) 90 out".')
    degrees: Words = Field(default=(), description='In a sentence, its mere numbers are: "(temps) went from 75 to 30".')
    no_degrees: Words = Field(default=(), description="In its sentence, it is another number.")
    likes: Words = Field(
        default=(), description="In the clause of a weather, it runs right in it, so it is no change for the worse."
    )
    was: Words = Field(default=(), description='In the clause of degrees, they are those of then: "it was 22c".')
    went_from: Words = Field(default=(), description='Right before degrees, those of then: "it dropped from 80f".')
    went_to: Words = Field(default=(), description='Between them and the next, which are those of now: "to 50f".')
    no_weather: Words = Field(
        default=(), description='In the clause of a season, it was not run in it: "sat over winter", "engine gets hot".'
    )
