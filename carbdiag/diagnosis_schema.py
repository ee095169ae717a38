"""The answer to a case: causes with their reasons and corrections, the mixture, and what to do next."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from carbdiag.case_schema import AirChange, Machine
from carbdiag.field_types import Id, Number, Probability, Text
from carbdiag.frozen import Frozen
from carbdiag.kept_json import HOLE, join, keep, keep_all
from carbdiag.records.safety import CautionText
from carbdiag.records.sources import Citation
from carbdiag.terms import Certainty, Change, Direction, Effect, Level, Status

#: Put right so likely is rather put right than not.
_RATHER = 0.5


class Statement(Frozen):
    """One thing the case says: its ids for programs and other languages, its words for people."""

    kind: Literal["context", "finding", "check", "reading", "setting", "repair", "reach"]
    ids: tuple[Id, ...] = Field(default=(), description="The record told of; several findings are paraphrases.")
    at: tuple[Id, ...] = ()
    status: Status = Status.PRESENT
    certainty: Certainty = Certainty.SURE
    outcome: Id | None = None
    direction: Change | None = None
    amount: Number | None = Field(default=None, description="Steps of a setting, or the measured lambda.")
    sizes: tuple[Number, Number] | None = Field(default=None, description="From and to which size, if stated.")
    effect: Effect | None = None
    epoch: int = Field(default=0, ge=0, description="Which stretch of the case's time it belongs to, oldest first.")
    text: Text


class Reason(Frozen):
    """How one observation speaks for or against a cause."""

    observation: Text
    statement: int | None = Field(default=None, description="Which of the statements told, from 0.")
    text: Text
    weight: Number = Field(description="Natural-log likelihood ratio against the strongest rival.")
    fits: bool = Field(
        default=False, description="It speaks for the cause by itself, beside all others: even where it fits the rival "
        "better still."
    )


class SizedChange(Frozen):
    """How large a change is wanted, if this is the cause, and which existing size is nearest."""

    place: Id
    amount: Text = Field(description="Relative amount, with its range.")
    present: Text | None = None
    proposed: Text | None = None
    refused: Text | None = Field(default=None, description="Why no size is proposed, if so.")
    side_effects: tuple[Text, ...] = ()
    notes: tuple[Text, ...] = ()


class Correction(Frozen):
    """What to change, which way, how much, how to verify and how to put it back."""

    action: Id
    name: Text
    part: Text
    circuit: Id | None = Field(default=None, description="The setting that is moved, if it is one.")
    direction: Change | None = None
    size: Text | None = None
    sized: SizedChange | None = None
    steps: tuple[Text, ...]
    minutes: Number
    tools: tuple[Text, ...] = ()
    verify: Text
    put_back: Text
    held_back: Text | None = Field(default=None, description="Why this must not be done yet, if so.")
    cautions: tuple[CautionText, ...] = ()


class WouldLower(Frozen):
    """An observation not made yet that would speak against a cause, and what would be left of it."""

    kind: Literal["check", "question", "finding", "context"]
    id: Id
    at: Id | None = None
    outcome: Text
    text: Text
    probability: Probability


class CauseBelief(Frozen):
    """A likely cause: how likely, what speaks for and against it, and how to put it right.

    Causes can be at work together, so the probabilities of all causes need not add up to one.
    """

    id: Id
    group: Id
    name: Text
    summary: Text
    probability: Probability = Field(description="Degree of belief that it is at work, from 0 to 1; no success rate.")
    words: Text = Field(description="The same in words, such as `quite possible`.")
    circuit: Id | None = None
    direction: Direction | None = None
    because: tuple[Reason, ...] = ()
    against: tuple[Reason, ...] = ()
    would_change: tuple[WouldLower, ...] = Field(
        default=(), description="What would change one's mind: the open observations that would lower it most."
    )
    rival: Id | None = Field(default=None, description="The likeliest other cause; reasons are weighed beside it.")
    told_apart_by: Text | None = Field(default=None, description="What tells it from the rival, in words.")
    separator: Id | None = Field(default=None, description="The check or finding that tells it from the rival.")
    correction: Correction
    put_right: Probability = Field(
        default=0.0,
        description="That a setting moved, and left so, or a repair of which nobody told what it did, has put it "
        "right already, if it was at work.",
    )
    verify: Text
    workshop: Text | None = None
    sources: tuple[Citation, ...]
    cautions: tuple[CautionText, ...] = ()
    spelled_out: bool = Field(
        default=False, description="Whether it is likely enough that its correction should be told step by step."
    )

    @property
    def is_put_right(self) -> bool:
        """Whether what was tried has rather put it right than not."""
        return self.put_right >= _RATHER


class GroupBelief(Frozen):
    """Probability that at least one cause of a group is at work."""

    group: Id
    name: Text
    probability: Probability


class BandMixture(Frozen):
    """What the mixture is doing at one band."""

    place: Id
    name: Text
    levels: dict[Level, Probability] = Field(description="From very rich to very lean; they add up to 1.")
    verdict: Text
    circuits: tuple[Id, ...] = Field(description="Circuits that feed it there, the strongest first.")


class OffMixture(Frozen):
    """Where it probably runs rich or lean, whichever part does it: neighboring bands, and the chance at the surest."""

    direction: Direction
    places: tuple[Id, ...] = Field(min_length=1, description="From the smallest opening to the widest.")
    probability: Probability


class SettingOff(Frozen):
    """A setting that is off if several are, as it is set now, which way, and the cause that it is."""

    circuit: Id
    direction: Direction
    cause: Id
    probability: Probability = Field(description="That it is off this way, given that several settings are.")


class SeveralSettingsOff(Frozen):
    """How likely several settings are off at once, as after another filter, exhaust, height or rebuild.

    Where they are, each of them is at work: the probabilities of the causes count that in.
    """

    probability: Probability
    leads: bool = Field(description="Likely enough that the answer says this before any one cause.")
    named: bool = Field(default=False, description="Likely enough that the answer says this at all.")
    settings: tuple[SettingOff, ...] = Field(
        description="Those likely off if so, in the order in which to set them, one at a time: too lean ones first. "
        "Nothing is made leaner while a hold says that it may run lean wide open."
    )


class OutcomeMeaning(Frozen):
    """One possible outcome of a step, how likely it is now, and what it would mean."""

    outcome: Id = Field(description="Of a check as a `CheckResult` takes it; of a sign or a circumstance yes or no.")
    means: Text
    probability: Probability
    raises: Id | None = Field(default=None, description="The cause it speaks for most; null: that nothing is wrong.")


class NextStep(Frozen):
    """A check or question worth doing next."""

    kind: Literal["check", "question", "finding", "context"]
    id: Id
    at: Id | None = None
    name: Text
    do: Text
    minutes: Number
    tools: tuple[Text, ...] = ()
    outcomes: tuple[OutcomeMeaning, ...]
    gain_bits: Number = Field(description="Expected information about the cause, in bits.")
    gain_per_minute: Number = Field(description="The same per minute of work, hazards counted as minutes.")
    why: Text
    cautions: tuple[CautionText, ...] = ()


class HoldNow(Frozen):
    """A hold that is on: what must not be done in the present belief, and why."""

    id: Id
    name: Text
    why: Text
    chance: Probability = Field(description="How likely its reason is now; 1 where it was observed.")
    pressing: bool = Field(
        default=True, description="Whether that is likely enough to be told first; else it only holds checks back."
    )


class MayUse(Frozen):
    """Whether the machine may be ridden, driven or worked as it is, from what is held now."""

    how: Literal["not_at_all", "standing_only", "gently", "not_known"] = Field(
        description="not_at_all: do not run it. standing_only: run it for checks only, standing. gently: nothing told "
        "forbids more than what `because` names. not_known: nothing was told yet."
    )
    because: tuple[HoldNow, ...] = Field(
        default=(),
        description="What forbids it, or what limits gentle use, the strictest first: whoever shows `how` shows their "
        "names.",
    )


class Bracket(Frozen):
    """Between which sizes or steps of a setting the right one lies, from trials that were felt."""

    circuit: Id
    at: Id
    richer_than: Text | None = Field(default=None, description="The right one is richer than this.")
    leaner_than: Text | None = Field(default=None, description="The right one is leaner than this.")
    text: Text


class UnlistedBelief(Frozen):
    """Chance that the cause is one nobody wrote down, and where it would sit: in a group, or at a circuit."""

    probability: Probability
    group: Id | None = None
    circuit: Id | None = None
    direction: Direction | None = None


class Unexplained(Frozen):
    """Whether anything known explains the case at all."""

    flag: bool
    ratio: Number = Field(description="Best listed hypothesis against the background, as odds.")
    findings: tuple[Text, ...] = ()
    statements: tuple[int, ...] = Field(default=(), description="The same, by number among the statements told.")
    text: Text


class PutBack(Frozen):
    """A setting to put back before anything else, with the cautions of moving it."""

    circuit: Id
    too_far: bool = Field(default=False, description="It helped and went past the mark: half way back will do.")
    cautions: tuple[CautionText, ...]


class Diagnosis(Frozen):
    """The answer to a case.

    Read first: `answer` and `summary`, then `next_steps` (the best first), `causes` (the likeliest first, six at most)
    with their `correction`, and `mixture` by throttle opening. `holds` says what must not be done just now. Whoever
    shows a step, cause or correction shows its `cautions` too; `to_text` and its like do.

    Probabilities are degrees of belief from 0 to 1 under the knowledge of this `edition`.
    """

    edition: Text
    case_id: str
    title: str = ""
    machine: Machine = Machine()
    air: AirChange | None = None
    told: tuple[Statement, ...] = Field(default=(), description="What counted as evidence, in the order told.")
    answer: Literal["likely", "open", "ask_first", "unexplained"] = Field(
        description="likely: one cause or group stands out, or that several settings are off. open: it can't be told "
        "yet. ask_first: nothing was observed yet. unexplained: no known cause fits."
    )
    area: Id | None = Field(
        default=None, description="The group that the answer names, where it is far likelier than any one cause."
    )
    off: OffMixture | None = Field(
        default=None, description="What an open answer says of the mixture, where that is surer than any part."
    )
    several_settings: SeveralSettingsOff | None = Field(
        default=None, description="That several settings are off at once; null where nothing told asks for it."
    )
    summary: Text
    understood: tuple[Text, ...] = Field(description="What the case was understood to say, in words, to check.")
    causes: tuple[CauseBelief, ...] = Field(description="The likeliest first, six at most.")
    order: tuple[Id, ...] = Field(description="The causes in the order in which to put things right.")
    do_now: Id | None = Field(
        default=None, description="A cause as good as certain, or a change of air that was told and is very likely, "
        "whose correction may be made before any further step; none where one is left to ask or check first."
    )
    groups: tuple[GroupBelief, ...]
    nothing_wrong: Probability = Field(description="That the engine is healthy and this happens now and then.")
    unlisted: UnlistedBelief
    mixture: tuple[BandMixture, ...] = Field(description="By throttle opening, from idle to full.")
    next_steps: tuple[NextStep, ...] = Field(description="What to ask or check next, the best first.")
    unexplained: Unexplained
    only_air: bool = Field(
        default=False, description="Whether nothing was told but other air, of a ride to come say, and that is likely."
    )
    holds: tuple[HoldNow, ...] = Field(
        default=(), description="What makes some checks unsafe just now; they are not proposed."
    )
    may_use: MayUse = Field(
        default=MayUse(how="not_known"),
        description="Whether it may be used as it is. Show it unasked where it is no: not_at_all or standing_only.",
    )
    put_back_first: tuple[PutBack, ...] = Field(
        default=(), description="Settings that were moved last for the worse, and not put back."
    )
    brackets: tuple[Bracket, ...] = Field(default=(), description="What trials say of the right size of a setting.")
    families: dict[Id, Probability] = Field(
        default={}, description="How likely each kind of carburetor is, where nobody said which it is."
    )
    left_out: Number = Field(
        description="Odds of three or more causes against all counted, if none explains more than the best counted."
    )
    notes: tuple[Text, ...] = ()
    cautions: tuple[CautionText, ...] = Field(default=(), description="All cautions of the answer, each once, in full.")
    of_machine: tuple[Id, ...] = Field(
        default=(), description="Which of the cautions the kind of machine asks for, whatever is done to it."
    )
    meaning: Text = Field(description="What the percentages mean, and do not, in a sentence to show.")

    def model_dump_json(self, **options: Any) -> str:
        """As pydantic's; without options that matter here, joined from pieces written once, in a third of the time."""
        joined = None if options.keys() - {"by_alias"} else self._joined()
        return super().model_dump_json(**options) if joined is None else joined

    def _joined(self) -> str | None:
        causes = [{**c.__dict__, "correction": HOLE, "sources": HOLE, "cautions": HOLE} for c in self.causes]
        steps = [{**s.__dict__, "cautions": HOLE} for s in self.next_steps]
        pieces = [
            piece for c in self.causes for piece in (keep(c.correction), keep_all(c.sources), keep_all(c.cautions))
        ]
        pieces += [keep_all(s.cautions) for s in self.next_steps]
        pieces.append(keep_all(self.cautions))
        return join({**self.__dict__, "causes": causes, "next_steps": steps, "cautions": HOLE}, pieces)


def left_to_do(causes: tuple[CauseBelief, ...]) -> tuple[CauseBelief, ...]:
    """The causes without those that what was tried has rather put right than not; all, where that leaves hardly any."""
    left = tuple(c for c in causes if not c.is_put_right)
    return left if any(c.spelled_out for c in left) else causes
