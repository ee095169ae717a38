"""All that is known of one machine: the case that a diagnosis is made from."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, ConfigDict, Field, StringConstraints, model_validator

from carbdiag.field_types import Id, Number, ShortText, Whole
from carbdiag.frozen import Frozen
from carbdiag.terms import UNKNOWN_FAMILY, Certainty, Change, Effect, RepairHow, Status


def _one_or_many(value: object) -> object:
    return (value,) if isinstance(value, str) else value


Places = Annotated[tuple[Id, ...], BeforeValidator(_one_or_many)]


class Jet(Frozen):
    """A jet by the number stamped on it.

    `numbering` says what the number counts: `bore`, hundredths of a millimeter, or `flow`, cc per minute. The two are
    never compared, for no fixed conversion exists.
    """

    number: Annotated[Number, Field(gt=0, le=1500)]
    numbering: Literal["bore", "flow"]


class FittedParts(Frozen):
    """The parts in the carburetor.

    What is left out is taken as typical of the family, and then sizes in an answer are relative. Lengths and bores are
    in millimeters, the clip groove is counted from the top of the needle, the screw in turns out from lightly seated.
    """

    main_jet: Jet | None = None
    main_jet_marked: Annotated[Number, Field(gt=0, le=1500)] | None = Field(
        default=None,
        description="The number on the main jet where nobody knows how it counts; sizes are given for both ways.",
    )
    pilot_jet: Jet | None = None
    main_jets_at_hand: tuple[Annotated[Number, Field(gt=0, le=1500)], ...] = ()
    pilot_jets_at_hand: tuple[Annotated[Number, Field(gt=0, le=1500)], ...] = ()
    clip_groove: Annotated[Whole, Field(ge=1, le=12)] | None = Field(
        default=None, description="Groove of the clip, counted from the top; a lower groove is richer."
    )
    grooves: Annotated[Whole, Field(ge=1, le=12)] | None = None
    needle_straight_mm: Annotated[Number, Field(gt=0, le=10)] | None = None
    needle_jet_mm: Annotated[Number, Field(gt=0, le=10)] | None = None
    clip_pitch_mm: Annotated[Number, Field(gt=0, le=3)] | None = Field(
        default=None, description="From one groove of the needle to the next."
    )
    first_groove_mm: Annotated[Number, Field(ge=0, le=30)] | None = Field(
        default=None, description="From the needle's blunt end to its first groove."
    )
    needle_taper_mm: Annotated[Number, Field(gt=0, le=90)] | None = Field(
        default=None, description="From the needle's blunt end to where it begins to taper."
    )
    needle_length_mm: Annotated[Number, Field(gt=0, le=120)] | None = Field(
        default=None, description="The whole needle; one too short leaves its jet before full throttle."
    )
    power_jet_mm: Annotated[Number, Field(ge=0, le=2)] | None = Field(
        default=None, description="Jet that feeds into the inlet near full flow; 0 when plugged."
    )
    enrichener_jet_mm: Annotated[Number, Field(gt=0, le=3)] | None = None
    enrichener_open: bool | None = Field(default=None, description="Whether the choke or enrichener is on.")
    pump_nozzle_mm: Annotated[Number, Field(gt=0, le=2)] | None = None
    leak_jet_mm: Annotated[Number, Field(ge=0, le=2)] | None = Field(
        default=None, description="Jet that lets part of the accelerator pump's stroke back; 0 when plugged."
    )
    cutaway_mm: Annotated[Number, Field(ge=0, le=10)] | None = None
    screw_turns: Annotated[Number, Field(ge=0, le=12)] | None = None
    bore_mm: Annotated[Number, Field(gt=0, le=80)] | None = None


class Machine(Frozen):
    """What is known of the machine; leave out what is not.

    Nothing is needed. Where the family or the strokes are left out, every kind of machine is weighed.
    """

    family: Id = Field(default=UNKNOWN_FAMILY, description="Kind of carburetor, or `unknown`.")
    strokes: Literal[2, 4] | None = None
    cylinders: Annotated[Whole, Field(ge=1, le=12)] | None = None
    carburetors: Annotated[Whole, Field(ge=1, le=12)] | None = None
    cooling: Literal["air", "liquid"] | None = None
    fuel_feed: Literal["gravity", "vacuum_tap", "pump"] | None = None
    oiling: Literal["premix", "injection", "sump"] | None = None
    mixture_screw: Literal["air_screw", "fuel_screw"] | None = None
    use: Id | None = Field(default=None, description="What the machine is used for: an id of `uses`.")
    parts: FittedParts | None = None


class Air(Frozen):
    """The air at one place and time, from elevation and temperature."""

    elevation_m: Annotated[Number, Field(ge=-500, le=6000)] = 0.0
    temperature_c: Annotated[Number, Field(ge=-45, le=55)] | None = Field(
        default=None, description="Left out: that of the standard atmosphere at this elevation."
    )


class AirChange(Frozen):
    """The air the carburetor was set for, and the air now."""

    set: Air
    now: Air


class FindingReport(Frozen):
    """A finding as reported: what the engine does (`present`), or does not (`denied`).

    `at` is one throttle opening or situation, or several: somewhere among these. Left out, nobody said where.
    """

    finding: Id = Field(description="Id of a finding, such as `bogs`; the glossary lists them.")
    at: Places = Field(default=(), description="Ids of places, such as `half`; one may be given as plain text.")
    status: Status = Status.PRESENT
    certainty: Certainty = Certainty.SURE
    cylinders: Literal["one", "all"] | None = Field(
        default=None, description="Whether one cylinder shows it, or all; left out, nobody said."
    )
    asked: bool = Field(
        default=False, description="Given in answer to a question, so nothing left unsaid beside it means anything."
    )


class CheckResult(Frozen):
    """A check that was done, and what it gave."""

    check: Id = Field(description="Id of a check or question, such as `touch_of_choke`.")
    outcome: Id = Field(description="One of the outcomes of that check, such as `better`.")
    at: Id | None = Field(default=None, description="Where it was done, for a check that reads the mixture at a place.")
    certainty: Certainty = Certainty.SURE
    asked: bool = Field(default=False, description="Done in answer to a step of a walk.")


class Trial(Frozen):
    """A change already made and its effect.

    Exactly one of `do` (a repair), `change` (a setting moved) and `tried` (a change for a moment, then undone). A
    setting says its `direction`, or the sizes it went `from_size` and `to_size`.
    """

    do: Id | None = Field(default=None, description="Id of an action, such as `clean_carburetor`.")
    how: RepairHow | None = Field(default=None, description="How a repair was done; left out, as the action says.")
    change: Id | None = Field(default=None, description="Id of a circuit, such as `main_jet`.")
    direction: Change | None = None
    steps: Annotated[Number, Field(gt=0, le=20)] = Field(
        default=1.0, description="Practical steps: jet sizes, clip grooves, half turns of a screw."
    )
    from_size: Annotated[Number, Field(ge=0, le=1500)] | None = Field(
        default=None, description="The number before, as the part is marked; it goes with `to_size`."
    )
    to_size: Annotated[Number, Field(ge=0, le=1500)] | None = None
    numbering: Literal["bore", "flow"] | None = Field(
        default=None, description="How the jets are numbered; left out, as the machine's fitted jet."
    )
    tried: Id | None = Field(default=None, description="Id of a temporary trial, such as `cap_open`.")
    at: Id | None = Field(default=None, description="The place where the effect of a setting was felt.")
    effect: Effect
    put_back: bool = Field(default=False, description="Whether the setting was put back as it was.")

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if (self.do is not None) + (self.change is not None) + (self.tried is not None) != 1:
            raise ValueError("give one of do (a repair), change (a setting) or tried (for a moment, then undone)")
        sizes = (self.from_size is not None) + (self.to_size is not None)
        if self.change is not None and sizes == 1:
            raise ValueError("give both from_size and to_size, or neither")
        if self.change is not None and self.direction is None and not sizes:
            raise ValueError("a change of setting needs its direction: richer or leaner (or from_size and to_size)")
        if sizes and self.from_size == self.to_size:
            raise ValueError("from_size and to_size are equal: nothing was changed")
        if self.do is not None and (self.direction is not None or self.at is not None):
            raise ValueError("direction and at belong to a change of setting, not to a repair")
        if self.tried is not None and self.direction is not None:
            raise ValueError("direction belongs to a change of setting, not to something tried for a moment")
        if self.change is None and (sizes or self.numbering is not None):
            raise ValueError("from_size, to_size and numbering belong to a change of setting")
        if self.do is None and self.how is not None:
            raise ValueError("how belongs to a repair (do)")
        return self


class Reading(Frozen):
    """A measured lambda at a place: the air-fuel ratio divided by the chemically right one, so 1 is right, 0.9 rich.

    `Reading(lambda_=0.9, at="half")` in Python; the field is called `lambda` in JSON and YAML.
    """

    model_config = ConfigDict(populate_by_name=True)  # no keyword argument can be called lambda

    lambda_: Annotated[Number, Field(alias="lambda", ge=0.5, le=1.8)]
    at: Id
    protocol: Literal["steady_load", "no_load"] = "steady_load"


class ContextReport(Frozen):
    """A circumstance as told: something that happened before, or did not. Its id alone may stand for it in a case."""

    context: Id = Field(description="Id of a circumstance, such as `exhaust_changed`.")
    status: Status = Status.PRESENT
    asked: bool = Field(default=False, description="Given in answer to a step of a walk.")


class Unanswered(Frozen):
    """A step that was asked and could not be told or done: no evidence, and not asked again."""

    kind: Literal["check", "question", "finding", "context", "repair", "trial", "machine"]
    id: Id
    at: Id | None = None
    direction: Change | None = None
    asked: bool = Field(
        default=True, description="False: nobody was asked, for it is told another way (the number on a jet)."
    )


def _context_short(value: object) -> object:
    return {"context": value} if isinstance(value, str) else value


class Epoch(Frozen):
    """One stretch of a case's time: what was observed in it, and the changes made at its end."""

    note: ShortText = ""
    findings: Annotated[tuple[FindingReport, ...], Field(max_length=200)] = ()
    checks: Annotated[tuple[CheckResult, ...], Field(max_length=100)] = ()
    readings: Annotated[tuple[Reading, ...], Field(max_length=50)] = ()
    trials: Annotated[tuple[Trial, ...], Field(max_length=50)] = ()


#: Findings, check results, readings and trials of one case together; nobody observes more of one machine.
MOST_STATEMENTS = 300


class Case(Frozen):
    """All that is known of one machine: the input of a diagnosis.

    `findings`, `checks`, `readings` and `trials` are one epoch: observed, then changed. A longer history goes
    into `epochs`, oldest first, instead. Everything may be left out. Models are frozen: change a case with
    `case.model_copy(update={...})`, read one from text with `load_case`.

    >>> case = Case(machine=Machine(strokes=2), findings=(FindingReport(finding="bogs", at=("half",)),))
    >>> case.findings[0].status
    <Status.PRESENT: 'present'>
    """

    __slots__ = ("_history",)  # what `history` has put together; a copy does not take it along

    id: Annotated[str, StringConstraints(max_length=80)] = "case"
    title: ShortText = ""
    source: ShortText = ""
    note: ShortText = ""
    machine: Machine = Machine()
    air: AirChange | None = None
    contexts: Annotated[
        tuple[Annotated[ContextReport, BeforeValidator(_context_short)], ...], Field(max_length=60)
    ] = ()
    reporting: Literal["volunteered", "interview"] = Field(
        default="volunteered",
        description="How the case was told. Volunteered: what is left unsaid speaks weakly against it. Interview: "
        "silence says nothing.",
    )
    visited: Places = Field(
        default=(), description="Places the rider has been through beside those told of; silence counts only there."
    )
    findings: Annotated[tuple[FindingReport, ...], Field(max_length=200)] = ()
    checks: Annotated[tuple[CheckResult, ...], Field(max_length=100)] = ()
    readings: Annotated[tuple[Reading, ...], Field(max_length=50)] = ()
    trials: Annotated[tuple[Trial, ...], Field(max_length=50)] = ()
    epochs: Annotated[tuple[Epoch, ...], Field(max_length=40)] = ()
    unanswered: Annotated[tuple[Unanswered, ...], Field(max_length=200)] = ()

    @model_validator(mode="after")
    def _flat_or_epochs(self) -> Self:
        if self.epochs and (self.findings or self.checks or self.readings or self.trials):
            raise ValueError("give findings, checks, readings and trials either here or in epochs, not both")
        statements = sum(len(e.findings) + len(e.checks) + len(e.readings) + len(e.trials) for e in self.history())
        if statements > MOST_STATEMENTS:
            raise ValueError(f"a case may make at most {MOST_STATEMENTS} statements, found {statements}")
        return self

    def history(self) -> tuple[Epoch, ...]:
        """The case as epochs, oldest first."""
        if self.epochs:
            return self.epochs
        try:
            told: tuple[Epoch, ...] = object.__getattribute__(self, "_history")
        except AttributeError:
            told = (
                Epoch.trusted(
                    findings=self.findings, checks=self.checks, readings=self.readings, trials=self.trials
                ),
            )
            object.__setattr__(self, "_history", told)
        return told
