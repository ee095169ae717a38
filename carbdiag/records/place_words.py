"""The words of a language for places, numbers and units."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from carbdiag.field_types import Id, Number
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import PhraseList, Word, Words


class PlaceWords(Frozen):
    """How riders name a throttle opening or a situation; several places mean somewhere there."""

    at: tuple[Id, ...] = Field(min_length=1)
    beside: Literal["below", "above", "elsewhere"] | None = Field(
        default=None,
        description='Of these openings, those below or above the one named before, or all others: "below that".',
    )
    phrases: PhraseList = Field(min_length=1)


class Quantity(Frozen):
    """A number that a post states about the machine or its air; the number stands in a slot such as <n>."""

    fact: Literal[
        "displacement_cc", "elevation_m", "temperature_c", "main_jet", "pilot_jet", "screw_turns",
        "high_needle_turns", "clip_groove", "lambda",
    ]  # fmt: skip
    phrases: PhraseList = Field(min_length=1)
    least: Number | None = Field(default=None, description="A smaller number is something else.")
    most: Number | None = Field(default=None, description="A larger number is something else, such as a year.")
    times: Number = Field(default=1.0, description="The number times this, with `plus` added, is the fact.")
    plus: Number = 0.0
    like_others: bool = Field(
        default=False, description="Told without its unit: it has that of a number of this fact told with one, or none."
    )


class Unit(Frozen):
    """A unit behind a number: the slot it fills, and how it turns into that slot's own unit."""

    slot: Id
    also: Id | None = Field(default=None, description="A wider slot that these units fill too.")
    written: Words = Field(min_length=1)
    times: Number = 1.0
    plus: Number = 0.0
    signed: bool = Field(default=False, description="A minus right before the number belongs to it.")


class OpeningWords(Frozen):
    """Openings told by one word, or as a stretch from one to another."""

    bare: dict[Word, Id] = Field(
        default={}, description='Words that name an opening only where they stand alone: "at (full)".'
    )
    before_bare: Words = ()
    behind_bare: Words = Field(default=(), description="What may follow such a word; the end of a clause always may.")
    not_of: Words = Field(
        default=(), description='Before such a word in its clause, what it is of is no throttle: "(filled) it a tope".'
    )
    onto: Words = Field(default=(), description='No end of an opening: "1/4 (on the) uphill".')
    up_to: Words = Field(default=(), description='Between the ends of a stretch: "1/8 (to) 3/4".')
    between: Words = Field(default=(), description='Before a stretch told by "and": "(between) idle and half".')
    ends_between: Words = Field(default=(), description='Between its ends then: "between idle (and) half".')
    between_words: Words = Field(default=(), description='Words that may stand beside these: "to (about) 1/8".')


class WellAt(Frozen):
    """Words that tell at which opening it runs right: "pinned it's great", "crisp off idle"."""

    good: Words = ()
    better: Words = Field(default=(), description="The same for what is only better there: nothing is denied.")
    breaks: Words = Field(default=(), description='Before it another clause ends: "it bogs (but) 1/4 is great".')
    between: Words = Field(default=(), description='Between an opening and its verdict: "1/4 (it runs really) great".')
    after_comma: Words = Field(default=(), description='Behind an opening and a comma: "1/4, (it) is great".')
    ends: Words = Field(default=(), description="What may follow when the verdict is all that is told of the opening.")
    prepositions: Words = Field(default=(), description='Between a verdict and its opening: "great (at) 1/4".')
    joins: Words = Field(default=(), description='Between two openings told together: "1/4 (to) half".')
    heads: Words = Field(default=(), description='Before an opening in its clause: "(but at) 1/4 it is great".')
    subjects: Words = Field(default=(), description='Before a verdict in its clause: "(it runs) great at 1/4".')
    until: Words = Field(default=(), description='Before an opening where it ends: "pulls fine (to) 3/4 then bogs".')
    then: Words = Field(default=(), description='Behind such an opening: "fine to 3/4 (then) it bogs".')
    denied: dict[Id, Id] = Field(default={}, description="By opening: the finding that is denied where it runs right.")
    denied_elsewhere: Id | None = Field(default=None, description="The finding denied at the other openings.")


class PointWords(Frozen):
    """A point or a part of the throttle's travel, and which openings it may be."""

    at: tuple[Id, ...] = Field(min_length=1)
    written: Words = Field(min_length=1)


class RangeWords(Frozen):
    """Words that tell a stretch of the throttle's travel by its ends, by a limit or as a part of it."""

    points: tuple[PointWords, ...] = Field(default=(), description='Where a stretch ends: "1/4", "barely open".')
    parts: tuple[PointWords, ...] = Field(default=(), description='Parts of the travel: "top half".')
    scarcely: Words = Field(default=(), description='The first opening, by what is no denial then: "barely open".')
    about: Words = Field(default=(), description='Before a point: "from (about a) quarter".')
    of_throttle: Words = Field(default=(), description='Behind a point: "half (throttle)".')
    of_travel: Words = Field(default=(), description='Behind a part: "top half (of the throttle)".')
    from_words: Words = Field(default=(), description='Before the first end: "(anywhere from) 1/4 to half".')
    to_words: Words = Field(default=(), description='Between the ends: "1/4 (up to) half".')
    between: Words = Field(default=(), description='Before two ends told by "and".')
    and_words: Words = Field(default=(), description='Between the ends then: "between 1/4 (and) half".')
    reaching: Words = Field(default=(), description='Between a limit\'s word and its point: "until (I get to) half".')
    up_to: Words = Field(default=(), description='Before an upper limit: "(until) half".')
    to: Words = Field(default=(), description='The same only behind what runs right: "pulls fine (to) half".')
    until: Words = Field(default=(), description='Of these, where what is denied begins: "no bog (until) half".')
    below: Words = Field(default=(), description='Before a limit that lies above: "(anywhere under) half".')
    past: Words = Field(default=(), description='Before a limit that lies below: "(once past) half".')
    onward: Words = Field(default=(), description='Behind "from" and a point: "from half (on)".')
    upward: Words = Field(default=(), description='Behind a point: "half (and up)".')
    downward: Words = Field(default=(), description='Behind a point: "half (and below)".')
    no_throttle: Words = Field(default=(), description='Before it, another thing is told: "(screw) from 1/2 to 1".')
    not_behind: Words = Field(default=(), description='Behind it, another thing is told: "under 1/4 (tank)".')
    goes: Words = Field(default=(), description='Before "up to", a point and no limit: "(open) it up to half".')
    it: Words = Field(default=(), description='Between those: "open (the throttle) up to half".')
    well: Words = Field(default=(), description='Before "to": "pulls (fine) to half".')
    or_so: Words = Field(default=(), description='Behind a limit: "till half (or so) then".')
    joined: Words = Field(default=(), description='Between a limit and what comes beyond it: "half (but) then".')
    then: Words = Field(default=(), description='Behind a limit, all beyond it: "fine till half, (then) it bogs".')
    goes_on: Words = Field(default=(), description='Behind an opening, up to a limit: "bogs at 1/4 (and keeps on)".')
    beside: dict[Literal["below", "above", "elsewhere"], Words] = Field(
        default={}, description='Openings by those named before: "(past that) it is fine".'
    )
    beside_range: dict[Literal["below", "above", "elsewhere"], Words] = Field(
        default={}, description='The same, only in the sentence of a stretch: "(after that) it is fine".'
    )
    beside_ends: dict[Literal["below", "above", "elsewhere"], Words] = Field(
        default={}, description='The same, only where a clause ends with it: "bogs before half, clean (after)".'
    )
