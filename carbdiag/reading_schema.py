"""What a post was read as: statements with the words they came from, and what was not understood."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from carbdiag.case_schema import AirChange
from carbdiag.field_types import Id, LanguageCode, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.terms import Certainty, Change, Effect, Status

#: Longest post that is read, in bytes of UTF-8.
MOST_BYTES = 48 * 1024


class Said(Frozen):
    """A stretch of the post: from `start` up to, not including, `end`, counted in characters."""

    start: int = Field(ge=0)
    end: int = Field(ge=0)
    words: str


class FindingRead(Frozen):
    """A finding read in a post; `at` empty means nobody said where, several places mean somewhere there."""

    finding: Id
    at: tuple[Id, ...] = ()
    status: Status
    certainty: Certainty = Certainty.SURE
    cylinders: Literal["one", "all"] | None = None
    epoch: int = Field(
        default=0, ge=0, description="When it was seen: 0 before the first change that the post puts in order, then 1."
    )
    said: tuple[Said, ...]


class ContextRead(Frozen):
    """A circumstance read in a post."""

    context: Id
    status: Status
    said: tuple[Said, ...]


class CheckRead(Frozen):
    """A check and its outcome read in a post."""

    check: Id
    outcome: Id
    at: Id | None = None
    certainty: Certainty = Certainty.SURE
    epoch: int = Field(default=0, ge=0, description="When it was seen, as for a finding.")
    said: tuple[Said, ...]


class TrialRead(Frozen):
    """A repair or a change of setting read in a post, and its effect; both places in the post are named."""

    do: Id | None = None
    change: Id | None = None
    direction: Change | None = None
    from_size: Number | None = Field(default=None, description="The number on the jet taken out, where both are told.")
    to_size: Number | None = Field(default=None, description="The number on the jet put in.")
    steps: Annotated[Number, Field(gt=0, le=20)] | None = Field(
        default=None,
        description="How many practical steps it was moved, where that is counted: sizes, grooves, half turns.",
    )
    at: Id | None = Field(default=None, description="The opening beside which the effect of a setting is told.")
    effect: Effect
    unsaid: bool = Field(
        default=False, description="Nobody said what it did; the trouble goes on, so no change is taken as its effect."
    )
    put_back: bool = Field(default=False, description="The post says that the setting was put back as it was.")
    epoch: int = Field(default=0, ge=0, description="What was seen in this epoch was seen before it.")
    said: tuple[Said, ...]


class GaugeRead(Frozen):
    """A lambda measured at an opening, from itself or from the air-fuel ratio that a gauge made of it."""

    value: Number = Field(description="Air-fuel ratio divided by the chemical one.")
    at: Id
    protocol: Literal["steady_load", "no_load"]
    epoch: int = Field(default=0, ge=0, description="When it was measured, as with signs.")
    said: tuple[Said, ...]


class FactRead(Frozen):
    """A fact of the machine or its air, as a word or a number with its unit in the name of the fact."""

    fact: Literal[
        "family", "use", "strokes", "cylinders", "carburetors", "cooling", "fuel_feed", "oiling", "mixture_screw",
        "displacement_cc",
        "elevation_m", "temperature_c", "main_jet", "pilot_jet", "screw_turns", "high_needle_turns",
        "clip_groove", "engine_speed", "load", "asks_to_use",
    ]  # fmt: skip
    value: Number | str
    said: tuple[Said, ...]


class SetAside(Frozen):
    """Words that were recognized but are no statement about the machine now, and why."""

    record: Id
    why: Literal[
        "past", "question", "supposed", "quoted", "denied", "contradicted", "not_on_this_machine", "no_effect",
        "other_machine",
    ]  # fmt: skip
    said: Said


class TextReading(Frozen):
    """What a post was read as: statements with the words they came from, and what was not understood.

    `said` of a statement holds the words and where they stand in the post. `set_aside` is what was recognized and is no
    statement about the machine now (a guess, a plan, a question), `not_understood` what was not recognized,
    `please_say` what an answer needs most and the post leaves out. `case_of` makes a case of it.
    """

    edition: str
    language: LanguageCode
    findings: tuple[FindingRead, ...] = ()
    contexts: tuple[ContextRead, ...] = ()
    checks: tuple[CheckRead, ...] = ()
    trials: tuple[TrialRead, ...] = ()
    gauges: tuple[GaugeRead, ...] = ()
    facts: tuple[FactRead, ...] = ()
    air: AirChange | None = Field(
        default=None, description="Where the post tells both heights of a move: the air before it and now."
    )
    set_aside: tuple[SetAside, ...] = ()
    not_understood: tuple[Said, ...] = ()
    told_as_numbers: tuple[Id, ...] = Field(
        default=(), description="Checks that the post answers by a number alone (its main jet): nobody is sent to them."
    )
    please_say: tuple[Text, ...] = Field(default=(), description="What the post leaves out and an answer needs most.")

    @property
    def epochs(self) -> int:
        """How many stretches of time the post tells apart, each but the last ended by what was changed then."""
        seen = (x.epoch for told in (self.findings, self.checks, self.gauges) for x in told)
        return 1 + max((*seen, *(t.epoch for t in self.trials)), default=0)

    @property
    def is_empty(self) -> bool:
        """Whether nothing was read that a diagnosis could use."""
        return not (self.findings or self.contexts or self.checks or self.trials or self.gauges or self.air)
