"""What a person can do to learn more: checks and questions, and what is tried for a moment."""

from __future__ import annotations

from typing import Annotated, Final, Literal, Self, get_args

from pydantic import Field, model_validator

from carbdiag.field_types import Id, LanguageCode, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.records.applies import Applies
from carbdiag.records.findings import ByLevel
from carbdiag.records.phrases import Found, Phrases, PhrasesBy
from carbdiag.records.sources import Citation
from carbdiag.terms import Effect, Level, ProbabilityWord


class Outcome(Frozen):
    """One outcome of a check and what it means."""

    means: Text
    mixture: ByLevel | None = None
    otherwise: ProbabilityWord | None = None
    expected_beside: tuple[Id, ...] = Field(
        default=(), description="Circumstances beside which it is what anybody would find, so that it tells little."
    )


class MeasuredRange(Frozen):
    """The numbers that make an outcome; those between two outcomes say nothing."""

    at_least: Number = 0.0
    at_most: Number = 1e9


class Unequal(Frozen):
    """The outcome of numbers set side by side, as of several cylinders, that are far apart."""

    outcome: Id
    below: Annotated[Number, Field(gt=0, lt=1)] = Field(description="The least is less than so much of the largest.")


class Measured(Frozen):
    """A number that a post tells as the result of a check: its phrases, and which numbers make which outcome.

    Of several numbers, as of several cylinders, the outcome listed first counts.
    """

    outcomes: dict[Id, MeasuredRange] = Field(min_length=1)
    unequal: Unequal | None = None
    phrases: Phrases = Field(default={})
    fact: Literal["high_needle_turns"] | None = Field(
        default=None, description="The number is that of this fact of a post, which has phrases of its own."
    )

    @model_validator(mode="after")
    def _is_told(self) -> Self:
        if bool(self.phrases) == (self.fact is not None):
            raise ValueError("a measured number has phrases, or is told by a fact")
        return self


#: How the number of the jet fitted stands to the one the book gives.
BesideBook = Literal["larger", "smaller", "same"]
_BESIDE_BOOK: Final = get_args(BesideBook)

class BesideSpec(Frozen):
    """What is measured of a part and told beside what it should be, and which outcome either way makes."""

    of: dict[LanguageCode, tuple[Text, ...]] = Field(min_length=1, description="Words for what is measured.")
    at_most: Number = Field(description="A larger number is of another thing.")
    smaller: Id
    same: Id
    larger: Id


#: Past which end of its usable turns a mixture screw stands.
ByTurns = Literal["rich", "lean"]
_BY_TURNS: Final = get_args(ByTurns)


class Check(Frozen):
    """Something a person does, or a question, to learn more."""

    id: Id
    name: Text
    kind: Literal["check", "question"]
    do: Text
    minutes: Annotated[Number, Field(gt=0)]
    needs_running: bool = False
    presumes: Id | None = Field(
        default=None, description="It is proposed only where a sign was told that `tells` this."
    )
    told_by_air: bool = Field(
        default=False, description="A case that states the air it was set for and the air now has answered it."
    )
    moot_beside: tuple[Id, ...] = Field(
        default=(), description="Signs and circumstances beside which nobody asks it: who tells one has as good as "
        "answered, or has something better to try.",
    )
    told_at: tuple[Id, ...] = Field(
        default=(), description="Places whose trouble it asks of: not asked where signs were told of others only."
    )
    told_by_facts: tuple[Literal["main_jet", "clip_groove", "screw_turns"], ...] = Field(
        default=(), description="Numbers of a post that tell as much: who tells his main jet is not sent to read it."
    )
    scant: dict[Id, Id] = Field(
        default={}, description='Outcomes that say there is none -> what they are told with "hardly" or "barely".'
    )
    between_cylinders: bool = Field(
        default=False, description="Parts change places between cylinders: no new part is fitted."
    )
    tools: tuple[Text, ...] = ()
    cautions: tuple[Id, ...] = ()
    applies: Applies = Applies.trusted()
    asked_of: Applies = Field(
        default=Applies.trusted(),
        description="Of which of these machines it is proposed; done of another, it counts all the same.",
    )
    at: tuple[Id, ...] = ()
    weak_at: tuple[Id, ...] = ()
    reads: Literal["mixture", "causes"]
    held_back_while: tuple[Id, ...] = ()
    outcomes: dict[Id, Outcome] = Field(min_length=2)
    groups: dict[Id, dict[Id, ProbabilityWord]] = Field(default={})
    phrases: PhrasesBy = Field(default={})
    found: dict[LanguageCode, tuple[Found, ...]] = Field(default={})
    measured: Measured | None = None
    beside_book: dict[BesideBook, Id] = Field(
        default={}, description="Outcome told by the number of a jet beside the one the book gives."
    )
    beside_spec: BesideSpec | None = None
    narrows: dict[Id, tuple[Id, ...]] = Field(
        default={}, description="By outcome, checks whose result the same words do not tell: no spark when it is hot."
    )
    by_turns: dict[ByTurns, Id] = Field(
        default={}, description="Outcome told by the turns of a mixture screw beside the family's usable ones."
    )
    spoken: PhrasesBy = Field(default={})
    sources: tuple[Citation, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _outcomes_fit(self) -> Self:
        for name in self.measured.outcomes if self.measured else ():
            if name not in self.outcomes:
                raise ValueError(f"measured.outcomes.{name} is none of the outcomes: {', '.join(self.outcomes)}")
        if self.beside_book and len(self.beside_book) < len(_BESIDE_BOOK):
            raise ValueError(f"beside_book must give all of {', '.join(_BESIDE_BOOK)}")
        if self.measured and self.measured.unequal and self.measured.unequal.outcome not in self.outcomes:
            raise ValueError(f"measured.unequal.outcome is none of the outcomes: {', '.join(self.outcomes)}")
        spec = self.beside_spec
        for name in (spec.smaller, spec.same, spec.larger) if spec else ():
            if name not in self.outcomes:
                raise ValueError(f"beside_spec names {name}, none of the outcomes: {', '.join(self.outcomes)}")
        for way, name in self.beside_book.items():
            if name not in self.outcomes:
                raise ValueError(f"beside_book.{way} is none of the outcomes: {', '.join(self.outcomes)}")
        if self.by_turns and len(self.by_turns) < len(_BY_TURNS):
            raise ValueError(f"by_turns must give all of {', '.join(_BY_TURNS)}")
        for name in self.narrows:
            if name not in self.outcomes:
                raise ValueError(f"narrows.{name} is none of the outcomes: {', '.join(self.outcomes)}")
        for turned, name in self.by_turns.items():
            if name not in self.outcomes:
                raise ValueError(f"by_turns.{turned} is none of the outcomes: {', '.join(self.outcomes)}")
        for name, outcome in self.outcomes.items():
            if self.reads == "mixture" and (outcome.mixture is None or set(outcome.mixture) != set(Level)):
                raise ValueError(f"outcomes.{name}.mixture must give all five levels")
            if self.reads == "causes" and outcome.otherwise is None:
                raise ValueError(f"outcomes.{name}.otherwise is missing")
        if (self.reads == "mixture") != bool(self.at):
            raise ValueError("a check that reads the mixture, and only such a one, says at which places")
        return self


class TemporaryTrial(Frozen):
    """A change made for a moment and undone, told as a trial; its effect is read as the outcome of a check."""

    id: Id
    name: Text
    what: Text
    check: Id
    effects: dict[Effect, Id] = Field(min_length=2)
    sources: tuple[Citation, ...] = Field(min_length=1)
