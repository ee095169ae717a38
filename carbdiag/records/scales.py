"""The one file in which words become numbers."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from carbdiag.field_types import Id, Number, Probability
from carbdiag.frozen import Frozen
from carbdiag.terms import Certainty, ContextWord, Effect, PriorWord, ProbabilityWord, RepairHow, ShiftWord, SizeWord


class LambdaSigma(Frozen):
    """Spread of a measured lambda about the true one, in ln(lambda), by protocol."""

    steady_load: Annotated[Number, Field(gt=0, le=0.2)]
    no_load: Annotated[Number, Field(gt=0, le=0.2)]


class MixtureScale(Frozen):
    """Numbers of the mixture axis x = ln(lambda / lambda wanted)."""

    right_within: Number
    lean_within: Number
    residual_sigma: Number
    lattice_step: Number
    lattice_limit: Number
    lambda_sigma: LambdaSigma
    lambda_misread: Probability
    weak_power: Probability


class ReportingScale(Frozen):
    """What an unprompted complaint leaves out."""

    false_mention: Probability
    silence_weight: Probability
    silence_where_spoken: Probability
    only_the_worst: Probability = Field(description="Share of complaints whose silence says nothing at all.")
    complains_of_everyday: Probability = Field(
        description="How often somebody complains of what sound engines do too, beside one whose fault shows."
    )
    circumstance_told: Probability = Field(description="Chance that a circumstance that holds is told unasked.")


class UnlistedScale(Frozen):
    """Odds kept for faults nobody wrote down."""

    share_of_circuits: Probability
    share_of_groups: Probability
    share_of_background: Probability
    background_rate: Probability
    background_mix: Probability


class PairScale(Frozen):
    """Odds of two causes together."""

    compensation: Number
    not_headed: Annotated[Number, Field(ge=0, le=1)]


class SeveralScale(Frozen):
    """How a fault of one cylinder, or of all, shows on a machine with several."""

    own_shows_on_one: Probability
    shared_shows_on_one: Probability


class RepairScale(Frozen):
    """What is reported after a repair that fixed all, some or none of what is wrong."""

    fixed: dict[Effect, Probability]
    partly: dict[Effect, Probability]
    not_fixed: dict[Effect, Probability]


class TrialScale(Frozen):
    """How changes already made are read."""

    noticeable: Number
    noticeable_share: Number = Field(ge=0, description="And this share of what is off before and after is not felt.")
    effect_noise: Probability
    felt_anew: Probability = Field(description="of signs told once more after a repair, those felt anew")
    settings_come_back: Probability
    repair: RepairScale
    brought_by_work: Annotated[Number, Field(ge=1)] = Field(
        description="Work with which trouble began speaks so many times for the faults that it is done for, and a "
        "setting moved for being off that way."
    )
    how: dict[RepairHow, Number] = Field(description="What the odds that a repair works are multiplied by.")


class DecisionScale(Frozen):
    """Costs and limits of advice."""

    lean_cost: Number
    lean_is_possible: Probability
    leaned_from_middle: Probability
    explained_ratio: Number
    known_air_odds: Number
    known_air_troubles: Annotated[float, Field(gt=0, description="Deviation by air from which these odds hold whole.")]
    very_deviation: Number
    very_spread: Number
    most_deviation: Number
    likely_cause: Probability = Field(description="From this chance on a cause is called the likely one.")
    richer_in_danger: Probability = Field(
        description="From this chance on a richer step leads where danger was told and wide open is likely lean."
    )
    certain_cause: Probability = Field(description="From this chance on a cause is put right without asking more.")
    shown_cause: Probability = Field(
        description="From this chance on a cause that a check has shown is put right without asking more."
    )
    suspect: Probability = Field(description="From this chance on a quick check that would show a cause comes first.")
    suspect_stands_out: Annotated[Number, Field(ge=1, description="If it is so many times likelier than the next.")]
    quick_minutes: Number
    certain_kind: Probability = Field(
        description="From this chance on nobody is asked which carburetor, or how many strokes, it has."
    )
    known_air_first: Probability = Field(
        description="From this chance on thinner air is answered before any other cause is looked for."
    )
    likely_area: Probability = Field(description="From this chance on a group of causes is called the likely one.")
    decides: Probability = Field(
        description="A look that decides about the likely cause with this chance comes before any other question."
    )
    mostly_worse: Probability = Field(
        description="While settings are gone through, another step felt as worse more often than this is left out."
    )
    look_before_step: Annotated[Number, Field(
        ge=1, description="A look before a step of a setting takes at most so many times less than the step's trials."
    )]
    spared_below: Probability = Field(
        description="A check may spare a repair that after it would cure this much as often as now, or less."
    )
    points_to: Probability = Field(description="From this chance on an open answer points to a group.")
    points_to_mixture: Annotated[float, Field(ge=0.5, le=1)] = Field(
        description="From this chance on an open answer says where it is rich or lean."
    )
    workshop_minutes: Number
    hopeful_trial: Probability
    hopeless: Probability = Field(description="A step that leaves wide openings lean more often waits for no answer.")
    goes_on: Probability = Field(description="A step that goes on with what helped comes first from this chance on.")
    most_steps: Annotated[int, Field(ge=1, description="Steps of a setting at once, and trials in a row one way.")]
    round_from: Probability
    round_on: Probability
    round_least: Probability
    round_tries: Annotated[int, Field(ge=1, description="Tries of each step while settings are gone through.")]
    ask_return: Annotated[Number, Field(ge=1)]
    cheap_minutes: Number
    start_minutes: Number
    ask_minutes: Number
    answered_unvisited: Probability = Field(
        description="Of questions about a place nothing was told of, those that can be answered."
    )
    hazard_minutes: dict[Id, Number]
    most_of_kind: dict[Literal["check", "question", "finding", "context"], int]


class SeveralSettingsScale(Frozen):
    """Several settings off at once, after a change that the engine wants set anew."""

    chance: Probability = Field(description="That it is so, before anything is told.")
    steps: dict[Id, Annotated[int, Field(ge=1)]] = Field(description="Settings, and the most steps each is off.")
    trims: dict[Id, Id] = Field(description="Finer settings, each named only where the coarser one it trims is right.")
    each_step: Probability = Field(description="How much less likely each step further off is.")
    mends: Probability = Field(description="Going through one of them one way puts it all right so often.")
    too_lean: Number = Field(description="How many times likelier each is too lean than too rich.")


class ShowingScale(Frozen):
    """From which chance on an answer says a thing."""

    cause_from: Probability = Field(description="A cause is listed.")
    several_from: Probability = Field(description="It is named that several settings may be off.")
    correction_from: Probability = Field(description="The correction of the leading cause is told step by step.")
    hold_from: Probability = Field(description="What must not be done is told at the top.")
    fix_from: Probability = Field(description="A repair that the walk comes to is called a fix, and not a try.")
    workshop_from: Probability = Field(description="The walk sends to a workshop for causes that are its job.")


class ChartScale(Frozen):
    """What the chart of throttle openings and signs says."""

    shown_from: Probability = Field(description="A sign points rich, or lean, where that side shows it so often.")
    stands_out: Annotated[Number, Field(ge=1)] = Field(
        description="One side is named alone where it shows the sign so many times as often as the other."
    )
    screw_worth_percent: Number = Field(
        description="Where a step of the mixture screw gives so much fuel, it is turned before a pilot jet is changed."
    )


Between = tuple[Number, Number]
"""The least and the most that something may be."""


class ToldWithin(Frozen):
    """Between which numbers what a post tells may be such a fact; a case takes both ends."""

    displacement_cc: Between
    elevation_m: Between
    temperature_c: Between
    main_jet: Between = Field(description="Where the circuit does not say between which numbers its jets are.")
    pilot_jet: Between
    screw_turns: Between
    high_needle_turns: Between = Field(description="Of a diaphragm carburetor; its low needle is its mixture screw.")
    clip_groove: Between

    @model_validator(mode="after")
    def _rise(self) -> Self:
        for fact, (least, most) in self:
            if least > most:
                raise ValueError(f"{fact} goes from {least:g} down to {most:g}")
        return self


class ReadingScale(Frozen):
    """What is much and what is little of a number that a post tells."""

    same_height_m: Number = Field(description="Heights nearer to each other than this are one place.")
    weather_apart_c: Number = Field(description="Degrees Celsius between two kinds of weather that a setting feels.")
    weather_apart: Number = Field(description="The same where nobody says of which scale the degrees are.")
    cold_in_either: Number = Field(description="Degrees without a scale up to which it is cold in either scale.")
    hot_in_either: Number = Field(description="Degrees without a scale from which it is hot in either.")
    hottest_told: Number = Field(description="A mere number above it is none of degrees, whatever the scale.")
    very_hot_c: Number = Field(description="So hot that it is told for being so.")
    jet_number_from: Number = Field(description="A smaller number is on no jet: it counts turns, grooves or sizes.")
    jet_put_in_from: Number = Field(description='From it on, "had 56 in it, put 61 in" tells of the main jet.')
    told_within: ToldWithin
    one_jet: Annotated[Number, Field(ge=1)] = Field(
        description="A jet is not changed for one of more than so many times its number."
    )
    few_sizes: Annotated[Number, Field(ge=1)] = Field(
        description="Sentences away from its name, a new jet is told only by a number within so many times the old one."
    )


class Scales(Frozen):
    """The one file in which words become numbers."""

    probability: dict[ProbabilityWord, Probability]
    prior: dict[PriorWord, Number]
    nothing_wrong: Number
    context: dict[ContextWord, Number]
    context_limit: Number = Field(ge=1, description="Of several circumstances together; one alone may do more.")
    context_overlap: Probability = Field(
        description="What part of itself each circumstance beside the strongest adds: 1 if independent, 0 if one event."
    )
    context_most: Probability
    shift: dict[ShiftWord, Number]
    size: dict[SizeWord, Number]
    certainty: dict[Certainty, Probability]
    mixture: MixtureScale
    reporting: ReportingScale
    floor: Probability
    outcome_floor: Probability = Field(description="Likewise, of the outcomes of a check that reads causes.")
    outcome_sharpness: Number = Field(
        ge=1, description="Power of the chances of a check that reads causes, made whole again; no question has it."
    )
    unlisted: UnlistedScale
    pairs: PairScale
    unknown_fact: Probability
    several_unsaid: Probability
    several: SeveralScale
    trials: TrialScale
    several_settings: SeveralSettingsScale
    decision: DecisionScale
    showing: ShowingScale
    chart: ChartScale
    reading: ReadingScale
    saying: dict[str, Probability] = Field(
        min_length=1, description="What a chance is called from here on, falling; the last word is for all below."
    )

    @model_validator(mode="after")
    def _complete(self) -> Self:
        for name, words in (
            ("probability", ProbabilityWord),
            ("prior", PriorWord),
            ("context", ContextWord),
            ("shift", ShiftWord),
            ("size", SizeWord),
            ("certainty", Certainty),
        ):
            missing = [w.value for w in words if w not in getattr(self, name)]
            if missing:
                raise ValueError(f"{name} lacks {', '.join(missing)}")
        for name, ordered in (("probability", ProbabilityWord), ("prior", PriorWord), ("context", ContextWord)):
            numbers = getattr(self, name)
            for more, less in pairwise(ordered):
                if not numbers[more] > numbers[less]:
                    raise ValueError(f"{name}.{more} must be more than {name}.{less}, which is {numbers[less]:g}")
        said = list(self.saying.values())
        if said != sorted(set(said), reverse=True) or said[-1] != 0:
            raise ValueError("saying must fall from word to word, and end at 0")
        return self
