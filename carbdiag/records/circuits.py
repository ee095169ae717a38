"""The circuits of a carburetor: how their settings are moved, their sizes read, and in which order they are set."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from carbdiag.field_types import Id, LanguageCode, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import Deed, PhrasesBy
from carbdiag.records.sources import Citation
from carbdiag.terms import Change


class Setting(Frozen):
    """One way to move a circuit's setting by one practical step."""

    do: Text
    action: Id


class PartSizes(Frozen):
    """How the sizes of a circuit's part are read.

    `per_step`: how much of the number makes one practical step; left out for jets, whose effect follows their area.
    `alone_from`: the least number that riders take for this part where they name none ("went from a 178 to a 168").
    `jet_from`: that of a "jet" without a name ("an 82 jet").
    `numbered`: the least and the largest number that stands on such a jet; one beyond them in a post is another thing.
    """

    name: Text
    larger_is: Change
    per_step: Annotated[Number, Field(gt=0)] | None = None
    alone_from: Annotated[Number, Field(gt=0)] | None = None
    jet_from: Annotated[Number, Field(gt=0)] | None = None
    numbered: tuple[Annotated[Number, Field(gt=0)], Annotated[Number, Field(gt=0)]] | None = None

    @model_validator(mode="after")
    def _numbers_rise(self) -> Self:
        if self.numbered is not None and self.numbered[0] >= self.numbered[1]:
            raise ValueError("numbered gives the least number first, then the largest")
        return self


class MetersAs(Frozen):
    """What a circuit is in the metering model, where its id does not say so.

    `part` gives its share of the fuel. One step of its setting moves the part's area by `step_percent` (an adjustable
    needle), or the measure `dimension` of the typical geometry by `by`.
    """

    part: Literal["pilot", "needle", "main_jet", "cutaway", "transfer"] | None = None
    step_percent: Number | None = None
    dimension: Id | None = None
    by: Number | None = None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.part is None and self.dimension is None:
            raise ValueError("give a part, or a dimension with by")
        if (self.dimension is None) != (self.by is None):
            raise ValueError("dimension and by go together")
        if self.step_percent is not None and (self.part is None or self.dimension is not None):
            raise ValueError("step_percent belongs to a part, and not beside a dimension")
        return self


class Circuit(Frozen):
    """A metering circuit and how its setting is moved.

    `to_figure`: it is set to a figure of the maker that can be measured (a height, a gauge), not by feel; putting it
    there is a repair whichever way it was off, and it is never moved on trial.
    """

    id: Id
    name: Text
    what: Text
    strongest_at: tuple[Id, ...]
    rank: int = Field(ge=1, le=9)
    step: Text
    meters_as: MetersAs | None = None
    to_figure: bool = False
    richer: Setting
    leaner: Setting
    sizes: PartSizes | None = None
    counted: dict[LanguageCode, dict[str, Annotated[Number, Field(gt=0)]]] = Field(
        default={}, description="What riders count a move in, by language: how many practical steps each of it is."
    )
    verify: Text
    put_back: Text
    phrases: PhrasesBy = Field(default={})
    deeds: dict[LanguageCode, dict[Id, tuple[Deed, ...]]] = Field(default={})
    cautions: tuple[Id, ...] = ()
    sources: tuple[Citation, ...] = Field(min_length=1)


class TuningStage(Frozen):
    """One stage of the tuning order."""

    rank: int
    id: Id
    name: Text
    circuits: tuple[Id, ...]
    causes: tuple[Id, ...] = Field((), description="Causes of this stage that set no circuit: a bent float.")
    why: Text
    sources: tuple[Citation, ...] = Field(min_length=1)
