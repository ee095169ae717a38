"""What a rider can observe."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from carbdiag.field_types import Id, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.records.applies import Applies
from carbdiag.records.phrases import Phrases, Spoken
from carbdiag.records.sources import Citation
from carbdiag.terms import Level, ProbabilityWord

#: A word for each of the five levels of the mixture; the JSON Schema asks for all five too.
ByLevel = Annotated[
    dict[Level, ProbabilityWord], Field(json_schema_extra={"required": [level.value for level in Level]})
]


class Finding(Frozen):
    """Something a rider can observe, at one or several places."""

    id: Id
    name: Text
    ask: Text
    at: tuple[Id, ...] = Field(min_length=1)
    mixture: ByLevel | None = None
    everyday: ProbabilityWord
    noticed_unasked: ProbabilityWord
    worth_asking: bool = True
    minutes: Annotated[Number, Field(gt=0)] | None = Field(
        default=None, description="What it takes to see it, where thinking back does not do."
    )
    cautions: tuple[Id, ...] = Field(default=(), description="For whoever goes and looks.")
    answerable: ProbabilityWord | None = Field(
        default=None,
        description="How many riders can answer when asked, where it takes another day, height or place.",
    )
    means_dead: bool = Field(
        default=False, description="It tells of an engine that does not run, and is not asked of one that does."
    )
    means_no_ride: bool = Field(
        default=False, description="An engine that shows it does not run long enough for what only a ride shows."
    )
    opinion: bool = Field(default=False, description="It is what somebody judges: who heard it tells it too.")
    warns_of_lean: bool = Field(
        default=False,
        description='Told behind a leaner step that helped, it shows since: "went leaner, faster. Plug is white".',
    )
    stops_whole: bool = Field(default=False, description="The engine stops: one that \"nearly dies\" does not show it.")
    runs_right: bool = Field(default=False, description="It tells where it runs right, and is no fault by itself.")
    in_state: bool = Field(
        default=False,
        description="It tells in which state the fault shows; the fault in its words is told too, where it names an "
        'opening: "hot it (bogs at half)".',
    )
    told_if_ridden: bool = Field(
        default=False, description="Whoever rides or works with it would have told this: not asked of one that runs."
    )
    means_ride: bool = Field(
        default=False, description="It tells of an engine that is ridden or worked with: it runs."
    )
    needs_running: bool = False
    seen_standing: bool = False
    tells: tuple[Id, ...] = Field(
        default=(), description="What it tells that a question may presume, such as `stops`: the engine stops."
    )
    presumes: Id | None = Field(
        default=None, description="It is asked only where a sign was told that `tells` this: it makes no sense without."
    )
    shown_by: tuple[Id, ...] = Field(
        default=(), description="Words among which the result of one of these checks is told tell what is seen in "
        "it, and not this sign: fuel that runs out of a hose pulled off. Of a check that is done with the engine "
        "stopped, only where words say that something was opened to look."
    )
    only_at: tuple[Id, ...] = Field(
        default=(), description="It says that nothing is wrong at other openings than these: a post that tells of a "
        "trouble which none of these can show, at an opening of the chart above idle, does not state it.",
    )
    moot_after: tuple[Id, ...] = Field(
        default=(), description="Checks after which nobody asks it, whatever came of them."
    )
    moot_beside: tuple[Id, ...] = Field(
        default=(), description="Signs beside which nobody asks it: who tells one has as good as answered."
    )
    cluster: Id | None = None
    applies: Applies = Applies.trusted()
    asked_of: Applies = Field(
        default=Applies.trusted(),
        description="Of which of these machines it is asked; told of another, it counts all the same.",
    )
    phrases: Phrases = Field(default={})
    phrases_against: Phrases = Field(default={})
    spoken: Spoken = Field(default={}, description="Set expressions that tell it, with the small words phrases drop.")
    implies: tuple[Id, ...] = Field(
        default=(), description="Signs that are there whenever this one is; read with it where nothing is said of them."
    )
    narrows: tuple[Id, ...] = Field(
        default=(), description="Broader signs: the words that state this one do not state them beside it."
    )
    sources: tuple[Citation, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _all_levels(self) -> Self:
        if self.mixture is not None and set(self.mixture) != set(Level):
            missing = [level.value for level in Level if level not in self.mixture]
            raise ValueError(f"mixture lacks {', '.join(missing)}")
        return self
