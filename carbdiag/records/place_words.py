"""The words of a language for places, numbers and units."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from carbdiag.field_types import Id, Number
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import PhraseList, Words


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
        "displacement_cc", "elevation_m", "temperature_c", "main_jet", "pilot_jet", "screw_turns", "clip_groove",
        "lambda",
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
