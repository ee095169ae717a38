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
