"""A walk to the cure, step by step: what a client sends back, and what it gets. The case is all the state there is."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from carbdiag.case_schema import Case
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.field_types import Id, Number, Probability, Text, Whole
from carbdiag.frozen import Frozen
from carbdiag.records.safety import CautionText
from carbdiag.terms import Certainty, Change, RepairHow

StepKind = Literal["check", "question", "finding", "context", "repair", "trial", "machine"]

#: The outcome that is always allowed: "don't know" or "can't". It is no evidence, and is not asked again.
UNKNOWN = "unknown"


class StepAnswer(Frozen):
    """What a step gave: `kind`, `id`, `at` and `direction` as in the step, and the outcome.

    Any check, sign, circumstance, repair or setting that exists may be answered, asked or not.

    `outcome`: an outcome of the check; `yes` or `no` for a sign or circumstance; the effect of a repair or trial; the
    value for the machine; or `unknown` for "don't know" and "can't".
    """

    kind: StepKind
    id: Id
    at: Id | None = None
    direction: Change | None = None
    outcome: Annotated[str, Field(min_length=1, max_length=60)]
    certainty: Certainty = Certainty.SURE
    how: RepairHow | None = None
    steps: Annotated[Number, Field(gt=0, le=20)] = 1.0
    from_size: Annotated[Number, Field(ge=0, le=1500)] | None = None
    to_size: Annotated[Number, Field(ge=0, le=1500)] | None = None
    put_back: bool | None = Field(
        default=None,
        description="Whether a setting was put back; left out, unless it was better or cured, or changed nothing in a "
        "step that `stays`.",
    )


class WalkRequest(Frozen):
    """A case, and the answer to one of its steps if there is one. The first request of a walk has no answer."""

    case: Case = Case()
    answer: StepAnswer | None = None
    asks: Annotated[Whole, Field(ge=0, le=50)] = Field(
        default=10, description="How many questions and checks the rider will answer in all."
    )
    steps: Annotated[Whole, Field(ge=1, le=5)] = Field(default=3, description="How many steps to offer.")


class CauseAfter(Frozen):
    """What an outcome would make of one cause."""

    id: Id
    name: Text
    now: Probability
    after: Probability


class CauseLeft(Frozen):
    """A cause of what a repair has left over, and its share in that."""

    id: Id
    name: Text
    probability: Probability


class WalkOutcome(Frozen):
    """One outcome of a step: how likely it is now, what it means, and what it would make of the leading causes."""

    outcome: Text
    probability: Probability
    means: Text
    causes: tuple[CauseAfter, ...]


class WalkStep(Frozen):
    """One thing to do next."""

    kind: StepKind
    id: Id
    at: Id | None = None
    direction: Change | None = None
    by_steps: Number = Field(default=1.0, description="Practical steps that a trial of a setting moves.")
    stays: bool = Field(default=False, description="Whether a trial is left in where it changed nothing.")
    name: Text
    aim: tuple[Text, ...] = Field(
        default=(), description="Of a trial: what is to be moved, which way and how far; `do` tells how."
    )
    do: tuple[Text, ...]
    minutes: Number
    tools: tuple[Text, ...] = ()
    outcomes: tuple[WalkOutcome, ...]
    expected_minutes: Number = Field(description="Expected minutes to the cure if this is done first.")
    cures: Probability = Field(default=0.0, description="Chance that this step itself ends the trouble.")
    why: Text
    verify: Text | None = None
    put_back: Text | None = None
    cautions: tuple[CautionText, ...] = ()


class Advice(Frozen):
    """Where the walk stands: ask on, try a setting, fix and confirm, workshop, unexplained, or done."""

    kind: Literal["ask", "try_setting", "fix_and_confirm", "workshop", "unexplained", "done"]
    text: Text
    cause: Id | None = None
    facts: tuple[Text, ...] = Field(default=(), description="The facts that would help most, when it is unexplained.")
    tell: Text | None = Field(
        default=None,
        description="After what made it better: that it may be told, in words or as signs, what is left and where.",
    )
    waits: Text | None = Field(
        default=None, description="Which setting is probably too rich, and why no leaner step of it is proposed yet."
    )


class Walk(Frozen):
    """The next steps of a case, the best first, and its diagnosis as it stands.

    Send `case` back with the next answer: it is all the state there is. `advice` says whether to ask on, to try a
    setting, to fix and confirm, to go to a workshop, that it is unexplained, or that it is done.
    """

    edition: Text
    case: Case
    asked: int = Field(description="Questions and checks answered in this walk so far.")
    asks_left: int
    advice: Advice
    steps: tuple[WalkStep, ...]
    diagnosis: Diagnosis
    left: tuple[CauseLeft, ...] = Field(
        default=(),
        description="The likeliest causes of what is still wrong, what was repaired taken out; empty before a repair. "
        "`diagnosis` is of the trouble as it began.",
    )
