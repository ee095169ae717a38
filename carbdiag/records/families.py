"""The kinds of carburetor, and the uses of machines, which say what kinds to expect."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from carbdiag.field_types import Id, Number, Probability, Text
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import Phrases, Spoken
from carbdiag.records.sources import Citation
from carbdiag.terms import ContextWord

#: What a word of a use may be said of alone.
Stroke = Literal["two_stroke", "four_stroke"]


class StrokeWeights(Frozen):
    """A weight for each stroke, and how many times as likely on a machine said to have several cylinders."""

    two_stroke: Probability
    four_stroke: Probability
    several_cylinders: Annotated[Number, Field(gt=0)] = 1.0


class MixtureScrew(Frozen):
    """Which kind of idle mixture screw a family has, and the turns it works over."""

    two_stroke: Literal["air_screw", "fuel_screw"]
    four_stroke: Literal["air_screw", "fuel_screw"]
    usable_turns: tuple[Number, Number]


class PublishedBand(Frozen):
    """The throttle range a source gives for a circuit; the shares are checked against it."""

    circuit: Id
    from_: Probability = Field(alias="from")
    to: Probability
    source: Id


class FamilyGeometry(Frozen):
    """Typical dimensions, from which shares and steps are computed; what is left out is the kind's own."""

    kind: Literal["round_slide", "flat_slide", "vacuum_slide", "butterfly", "diaphragm"]
    dimensions: dict[Id, Number] = Field(default={})
    sources: tuple[Citation, ...] = Field(min_length=1)


class Family(Frozen):
    """A kind of carburetor.

    `shares` and `steps` hold what no geometry computes (pump, enrichener), or everything where there is no geometry.
    """

    id: Id
    name: Text
    also_called: tuple[Id, ...] = ()
    what: Text
    strokes: tuple[Literal[2, 4], ...] = Field(min_length=1)
    circuits: tuple[Id, ...] = Field(min_length=1)
    opening_means: Text | None = None
    weight_when_unknown: StrokeWeights
    mixture_screw: MixtureScrew
    grooves: int = Field(default=5, ge=1)
    geometry: FamilyGeometry | None = None
    shares: dict[Id, dict[Id, Number]]
    steps: dict[Id, dict[Id, Number]]
    air_exponent: dict[Id, Number]
    drivers: dict[Id, dict[Id, Probability]] = Field(
        default={}, description="Bands that set the mixture of a situation here, where not as on other carburetors."
    )
    published_bands: tuple[PublishedBand, ...] = ()
    phrases: Phrases = Field(default={})
    spoken: Spoken = Field(
        default={}, description="Machines that have no other: they say so where no other kind of machine is named."
    )
    spoken_strokes: Literal[2, 4] | None = Field(
        default=None, description="The strokes of those machines, where nobody says which."
    )
    sources: tuple[Citation, ...] = Field(min_length=1)


class UsualParts(Frozen):
    """What machines of one use and stroke mostly have, so that nothing is asked of what they have not got."""

    cooling: Literal["air", "liquid"] | None = None
    fuel_feed: Literal["gravity", "vacuum_tap", "pump"] | None = None
    oiling: Literal["premix", "injection", "sump"] | None = None


class Use(Frozen):
    """What a machine is used for: which carburetors it may have, what fails there, what must be said every time.

    `families` replaces the families' own weights where nobody said which it is; one left out is not considered.
    """

    id: Id
    name: Text
    what: Text
    families: dict[Id, StrokeWeights] = Field(default={})
    groups: dict[Id, ContextWord | dict[Stroke, ContextWord]] = Field(
        default={}, description="What fails more often, or more seldom, than elsewhere; of one stroke alone where said."
    )
    one_cylinder: bool = Field(
        default=False, description="Nearly all have one cylinder: nothing is asked of several unless they are stated."
    )
    usual: dict[Stroke, UsualParts] = Field(
        default={}, description="What nearly all of them have: signs and looks of anything else are not asked for, "
        "unless it was stated. It changes no belief.",
    )
    kinds: tuple[Id, ...] = Field(
        default=(), description="Uses that this one is the general word for: where one of them is told too, it is that."
    )
    cautions: tuple[Id, ...] = ()
    phrases: Phrases = Field(default={})
    spoken: Spoken = Field(default={})
    sources: tuple[Citation, ...] = Field(min_length=1)
