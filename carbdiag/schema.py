"""One frozen model per kind of knowledge record, and for everything public that goes in or comes out.

Knowledge records say how the YAML must look; a field unknown here is refused. Units are in the names.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from itertools import pairwise
from typing import Annotated, Any, Final, Literal, Self, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    model_validator,
)

from carbdiag.kept_json import HOLE, join, keep, keep_all
from carbdiag.terms import (
    UNKNOWN_FAMILY,
    Certainty,
    Change,
    ContextWord,
    Direction,
    Effect,
    Level,
    PriorWord,
    ProbabilityWord,
    RepairHow,
    ShiftWord,
    SizeWord,
    Status,
)

Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{1,59}$")]
Text = Annotated[str, StringConstraints(min_length=1, max_length=2000, strip_whitespace=True)]


def _refuse_bool_and_text(value: object) -> object:
    if isinstance(value, bool | str):
        raise ValueError("must be a number")
    return value


def _refuse_not_finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("must be a finite number")
    return value


LanguageCode = Annotated[str, StringConstraints(pattern=r"^[a-z]{2,3}$")]
Phrase = Annotated[str, StringConstraints(min_length=1, max_length=300, strip_whitespace=True)]
#: How riders say it, by language; DEVELOPERS.md explains the small notation.
Phrases = dict[LanguageCode, tuple[Phrase, ...]]
#: Set expressions word for word, small words included, by language: `a|b` is either word.
Spoken = dict[LanguageCode, tuple[Phrase, ...]]
#: The same by outcome of a check, or by direction of a setting.
PhrasesBy = dict[LanguageCode, dict[Id, tuple[Phrase, ...]]]

Number = Annotated[float, BeforeValidator(_refuse_bool_and_text), AfterValidator(_refuse_not_finite)]
Whole = Annotated[int, BeforeValidator(_refuse_bool_and_text)]
Probability = Annotated[float, Field(ge=0, le=1)]


class Frozen(BaseModel):
    """Base of all records: immutable, unknown fields refused."""

    __slots__ = ("_json",)  # what `kept_json.keep` has written; a copy does not take it along
    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True, allow_inf_nan=False)

    @classmethod
    def trusted(cls, **values: Any) -> Self:
        """Build from values the library computed itself, without validating them again.

        Ten times as fast as pydantic's own unvalidated constructor; a test validates whole answers afterwards.
        """
        defaults, every = _fields.get(cls) or _fields_of(cls)
        self = _new(cls)
        # what was left out stands where its field stands, so that JSON keeps one order
        _put_values(self, values if len(values) == len(defaults) else {**defaults, **values})
        # one set for all: nothing changes a frozen model's, and a copy takes its own
        _put_set(self, every)
        _put_extra(self, None)
        _put_private(self, None)
        return self


#: Of each model built so: the defaults of its fields, and their names.
_fields: dict[type[Frozen], tuple[dict[str, Any], set[str]]] = {}


def _fields_of(cls: type[Frozen]) -> tuple[dict[str, Any], set[str]]:
    defaults = {name: field.get_default() for name, field in cls.model_fields.items()}
    return _fields.setdefault(cls, (defaults, set(defaults)))


# the slots of a pydantic model, written without looking them up by name each time
_new = object.__new__
_put_values, _put_set, _put_extra, _put_private = (
    BaseModel.__dict__[slot].__set__
    for slot in ("__dict__", "__pydantic_fields_set__", "__pydantic_extra__", "__pydantic_private__")
)


# ---------------------------------------------------------------------------------------------------------
# Knowledge records


class Citation(Frozen):
    """Where a record, or the named part of it, comes from."""

    source: Id
    supports: Text = Field(
        description="Fields of the record, or lines of them (`shows`, `shows.bogs, fixed_by`), then perhaps a remark"
        " after a colon."
    )


class Source(Frozen):
    """A published source, or one of the two honest forms for what has none."""

    id: Id
    kind: Literal["published", "common_practice", "from_memory"]
    title: Text
    url: Text | None = None


class KnowledgeInfo(Frozen):
    """Schema number and edition of a set of knowledge."""

    schema_number: int = Field(alias="schema")
    edition: Text
    title: Text


class LambdaSigma(Frozen):
    """Spread of a measured lambda about the true one, in ln(lambda), by protocol."""

    steady_load: Number
    no_load: Number


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
    explained_ratio: Number
    known_air_odds: Number
    very_deviation: Number
    very_spread: Number
    most_deviation: Number
    likely_cause: Probability = Field(description="From this chance on a cause is called the likely one.")
    likely_area: Probability = Field(description="From this chance on a group of causes is called the likely one.")
    points_to: Probability = Field(description="From this chance on an open answer points to a group.")
    points_to_mixture: Annotated[float, Field(ge=0.5, le=1)] = Field(
        description="From this chance on an open answer says where it is rich or lean."
    )
    workshop_minutes: Number
    ask_return: Annotated[Number, Field(ge=1)]
    cheap_minutes: Number
    start_minutes: Number
    ask_minutes: Number
    answered_unvisited: Probability = Field(
        description="Of questions about a place nothing was told of, those that can be answered."
    )
    hazard_minutes: dict[Id, Number]
    most_of_kind: dict[Literal["check", "question", "finding", "context"], int]


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
    outcome_sharpness: Number = Field(
        ge=1, description="Power of the chances of a check that reads causes, made whole again; no question has it."
    )
    unlisted: UnlistedScale
    pairs: PairScale
    unknown_fact: Probability
    several: SeveralScale
    trials: TrialScale
    decision: DecisionScale
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


class Place(Frozen):
    """A steady throttle opening (band) or a situation that is not one (state)."""

    id: Id
    kind: Literal["band", "state"]
    name: Text
    opening: tuple[Probability, Probability, Probability] | None = None
    lambda_wanted: Number | None = None
    running: bool = False
    in_chart: bool = True
    drivers: dict[Id, Probability] = {}
    implies_visited: tuple[Id, ...] = ()

    @model_validator(mode="after")
    def _kind_fits(self) -> Self:
        if (self.kind == "band") != (self.opening is not None and self.lambda_wanted is not None):
            raise ValueError("a band has an opening and a lambda_wanted, a state has drivers")
        return self


class Group(Frozen):
    """A group of causes; every cause has exactly one."""

    id: Id
    name: Text
    what: Text
    unlisted: bool = Field(
        default=True, description="Whether a fault of this kind that nobody wrote down is reckoned with."
    )


#: When the commands that size parts (resize, correct, sweep) give a caution.
SizingOccasion = Literal["correction", "several_changes", "lean_wide_open", "methanol", "other_air", "always"]


class Caution(Frozen):
    """A safety caution, shown beside every step that names it."""

    id: Id
    name: Text
    text: Text
    short: Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)] = Field(
        description="The caution in one short sentence that stands alone, for a chat message."
    )
    sizing: tuple[SizingOccasion, ...] = Field(
        default=(), description="When an answer that sizes parts gives it, beside the cautions of the part."
    )
    sources: tuple[Citation, ...] = Field(min_length=1)


class Applies(Frozen):
    """On which machines a record makes sense; a key left out does not restrict.

    `circuits` (has at least one of them) and `without_circuits` (has none of them) are spelled out as `families` when
    the knowledge is loaded, so that a new family is covered without naming it anywhere.
    """

    families: tuple[Id, ...] = ()
    circuits: tuple[Id, ...] = ()
    without_circuits: tuple[Id, ...] = ()
    uses: tuple[Id, ...] = ()
    not_uses: tuple[Id, ...] = ()
    not_with: dict[Id, tuple[Id, ...]] = Field(
        default={},
        description="By use, circuits: not on a machine of that use whose carburetor has one of them. A saw, unlike a "
        "mower, has no battery.",
    )
    strokes: tuple[Literal[2, 4], ...] = ()
    cylinders: Literal["several"] | None = None
    carburetors: Literal["several"] | None = None
    cooling: tuple[Literal["air", "liquid"], ...] = ()
    fuel_feed: tuple[Literal["gravity", "vacuum_tap", "pump"], ...] = ()
    oiling: tuple[Literal["premix", "injection", "sump"], ...] = ()


class Setting(Frozen):
    """One way to move a circuit's setting by one practical step."""

    do: Text
    action: Id


class PartSizes(Frozen):
    """How the sizes of a circuit's part are read.

    `per_step`: how much of the number makes one practical step; left out for jets, whose effect follows their area.
    `alone_from`: the least number that riders take for this part where they name none ("went from a 178 to a 168").
    """

    name: Text
    larger_is: Change
    per_step: Annotated[Number, Field(gt=0)] | None = None
    alone_from: Annotated[Number, Field(gt=0)] | None = None


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


class Deed(Frozen):
    """How riders name something done: kinds of verbs that the language lists, and the parts it was done to."""

    did: tuple[Id, ...] = Field(min_length=1)
    to: tuple[Phrase, ...] = Field(min_length=1)


class PastDeed(Deed):
    """A deed that is a circumstance: always, or only where the post says that it came before the trouble."""

    told: Literal["any", "before"] = "any"


class Found(Frozen):
    """How riders name what a look at a part gave: kinds of verdicts that the language lists, by outcome."""

    of: tuple[Phrase, ...] = Field(min_length=1)
    outcomes: dict[Id, tuple[Id, ...]] = Field(min_length=1)


#: By language.
Deeds = dict[LanguageCode, tuple[Deed, ...]]


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
    verify: Text
    put_back: Text
    phrases: PhrasesBy = {}
    deeds: dict[LanguageCode, dict[Id, tuple[Deed, ...]]] = {}
    cautions: tuple[Id, ...] = ()
    sources: tuple[Citation, ...] = Field(min_length=1)


class StrokeWeights(Frozen):
    """A weight for each stroke, and how many times as likely on a machine said to have several cylinders."""

    two_stroke: Probability
    four_stroke: Probability
    several_cylinders: Annotated[Number, Field(gt=0)] = 1.0


class Use(Frozen):
    """What a machine is used for: which carburetors it may have, what fails there, what must be said every time.

    `families` replaces the families' own weights where nobody said which it is; one left out is not considered.
    """

    id: Id
    name: Text
    what: Text
    families: dict[Id, StrokeWeights] = {}
    groups: dict[Id, ContextWord] = {}
    one_cylinder: bool = Field(
        default=False, description="Nearly all have one cylinder: nothing is asked of several unless they are stated."
    )
    kinds: tuple[Id, ...] = Field(
        default=(), description="Uses that this one is the general word for: where one of them is told too, it is that."
    )
    cautions: tuple[Id, ...] = ()
    phrases: Phrases = {}
    spoken: Spoken = {}
    sources: tuple[Citation, ...] = Field(min_length=1)


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
    dimensions: dict[Id, Number] = {}
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
    phrases: Phrases = {}
    spoken: Spoken = Field(
        default={}, description="Machines that have no other: they say so where no other kind of machine is named."
    )
    spoken_strokes: Literal[2, 4] | None = Field(
        default=None, description="The strokes of those machines, where nobody says which."
    )
    sources: tuple[Citation, ...] = Field(min_length=1)


_AMOUNT = re.compile(r"^(?P<size>[+-]\d+(?:\.\d+)?) (?P<unit>%|steps?)$")


class Amount(Frozen):
    """How far a circuit is off: percent of its flow, or practical steps of its setting; + is richer."""

    size: Number
    unit: Literal["percent", "steps"]

    @classmethod
    @lru_cache(maxsize=256)
    def parse(cls, text: str) -> Amount:
        """Read an amount as knowledge files write it.

        >>> Amount.parse("-25 %")
        Amount(size=-25.0, unit='percent')
        """
        match = _AMOUNT.match(text)
        if match is None:
            raise ValueError("an amount is like '-25 %' or '+1 step'")
        if match["unit"] == "%" and float(match["size"]) < -100:
            raise ValueError("an amount takes at most all of the flow (-100 %)")
        return cls(size=float(match["size"]), unit="percent" if match["unit"] == "%" else "steps")


def _is_an_amount(text: str) -> str:
    Amount.parse(text)
    return text


class Shift(Frozen):
    """A mixture shift past the metering, by place."""

    any: dict[Id, ShiftWord] | None = None
    two_stroke: dict[Id, ShiftWord] | None = None
    four_stroke: dict[Id, ShiftWord] | None = None


class MixtureEffect(Frozen):
    """How a cause moves the mixture: through a circuit by amounts, or past the metering by a shift."""

    circuit: Id | None = None
    amounts: dict[Annotated[str, AfterValidator(_is_an_amount)], ProbabilityWord] = {}
    shift: Shift | None = None
    sizes: dict[SizeWord, ProbabilityWord] = {}

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        if (self.circuit is None) == (self.shift is None):
            raise ValueError("give either circuit with amounts, or shift with sizes")
        if self.circuit is not None and (not self.amounts or self.sizes):
            raise ValueError("a circuit needs amounts, and no sizes")
        if self.shift is not None and (not self.sizes or self.amounts):
            raise ValueError("a shift needs sizes, and no amounts")
        return self

    @property
    def is_setting(self) -> bool:
        """Whether a setting is off, counted in practical steps, and not a passage blocked or a shift past it."""
        return any("step" in amount for amount in self.amounts)


class Shows(Frozen):
    """A sign that a cause shows directly; without `at`, at every place of the finding, and on both strokes."""

    finding: Id
    at: tuple[Id, ...] = ()
    strokes: tuple[Literal[2, 4], ...] = ()
    often: ProbabilityWord


class ShowsInCheck(Frozen):
    """What a check gives when this is the cause."""

    check: Id
    outcome: Id
    often: ProbabilityWord


class FixedBy(Frozen):
    """An action that cures a cause, and how reliably."""

    do: Id
    works: ProbabilityWord


class MistakenFor(Frozen):
    """A near rival and what separates the two."""

    cause: Id
    told_apart_by: Id


class Cause(Frozen):
    """A setting that is off, or a fault."""

    id: Id
    name: Text
    group: Id
    summary: Text
    applies: Applies = Applies()
    mixture: MixtureEffect | None = None
    prior: PriorWord
    contexts: dict[Id, ContextWord] = {}
    shows: tuple[Shows, ...] = ()
    checks: tuple[ShowsInCheck, ...] = Field(min_length=1)
    fixed_by: tuple[FixedBy, ...] = Field(min_length=1)
    workshop: Text | None = None
    reach: Literal["own", "shared", "either"]
    air: Literal["thinner", "denser"] | None = None
    compensates: tuple[Id, ...] = ()
    mistaken_for: tuple[MistakenFor, ...] = Field(min_length=1)
    verify: Text
    cautions: tuple[Id, ...] = ()
    sources: tuple[Citation, ...] = Field(min_length=1)


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
    stops_whole: bool = Field(default=False, description="The engine stops: one that \"nearly dies\" does not show it.")
    runs_right: bool = Field(default=False, description="It tells where it runs right, and is no fault by itself.")
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
        "it, and not this sign: fuel that runs out of a hose pulled off."
    )
    moot_after: tuple[Id, ...] = Field(
        default=(), description="Checks after which nobody asks it, whatever came of them."
    )
    moot_beside: tuple[Id, ...] = Field(
        default=(), description="Signs beside which nobody asks it: who tells one has as good as answered."
    )
    cluster: Id | None = None
    applies: Applies = Applies()
    asked_of: Applies = Field(
        default=Applies(),
        description="Of which of these machines it is asked; told of another, it counts all the same.",
    )
    phrases: Phrases = {}
    phrases_against: Phrases = {}
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


class Outcome(Frozen):
    """One outcome of a check and what it means."""

    means: Text
    mixture: ByLevel | None = None
    otherwise: ProbabilityWord | None = None


class MeasuredRange(Frozen):
    """The numbers that make an outcome; those between two outcomes say nothing."""

    at_least: Number = 0.0
    at_most: Number = 1e9


class Measured(Frozen):
    """A number that a post tells as the result of a check: its phrases, and which numbers make which outcome.

    Of several numbers, as of several cylinders, the outcome listed first counts.
    """

    outcomes: dict[Id, MeasuredRange] = Field(min_length=1)
    phrases: Phrases


#: How the number of the jet fitted stands to the one the book gives.
BesideBook = Literal["larger", "smaller", "same"]
_BESIDE_BOOK: Final = get_args(BesideBook)


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
        default=(), description="Signs beside which nobody asks it: who tells one has as good as answered."
    )
    between_cylinders: bool = Field(
        default=False, description="Parts change places between cylinders: no new part is fitted."
    )
    tools: tuple[Text, ...] = ()
    cautions: tuple[Id, ...] = ()
    applies: Applies = Applies()
    asked_of: Applies = Field(
        default=Applies(),
        description="Of which of these machines it is proposed; done of another, it counts all the same.",
    )
    at: tuple[Id, ...] = ()
    weak_at: tuple[Id, ...] = ()
    reads: Literal["mixture", "causes"]
    held_back_while: tuple[Id, ...] = ()
    outcomes: dict[Id, Outcome] = Field(min_length=2)
    groups: dict[Id, dict[Id, ProbabilityWord]] = {}
    phrases: PhrasesBy = {}
    found: dict[LanguageCode, tuple[Found, ...]] = {}
    measured: Measured | None = None
    beside_book: dict[BesideBook, Id] = Field(
        default={}, description="Outcome told by the number of a jet beside the one the book gives."
    )
    spoken: PhrasesBy = {}
    sources: tuple[Citation, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _outcomes_fit(self) -> Self:
        for name in self.measured.outcomes if self.measured else ():
            if name not in self.outcomes:
                raise ValueError(f"measured.outcomes.{name} is none of the outcomes: {', '.join(self.outcomes)}")
        if self.beside_book and len(self.beside_book) < len(_BESIDE_BOOK):
            raise ValueError(f"beside_book must give all of {', '.join(_BESIDE_BOOK)}")
        for way, name in self.beside_book.items():
            if name not in self.outcomes:
                raise ValueError(f"beside_book.{way} is none of the outcomes: {', '.join(self.outcomes)}")
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


class HoldCondition(Frozen):
    """When a hold is on: any of the keys given."""

    lean_at: tuple[Id, ...] = ()
    findings: tuple[Id, ...] = ()
    contexts: tuple[Id, ...] = ()
    uses: tuple[Id, ...] = ()
    outcomes: dict[Id, tuple[Id, ...]] = Field(
        default={}, description="By check: what came of it, the last time it was done."
    )
    causes: tuple[Id, ...] = ()
    more_than: Probability = 0.1


class Hold(Frozen):
    """A state of belief in which a check must not be proposed.

    `trials`: which changes of setting must not be proposed either; `wide`: those felt at wide openings; `leaner_wide`:
    leaner ones that reach wide openings.
    """

    id: Id
    name: Text
    why: Text
    when: HoldCondition
    trials: tuple[Literal["leaner", "leaner_wide", "wide", "all"], ...] = ()
    actions: tuple[Id, ...] = ()
    engine_off: bool = Field(default=False, description="Nothing that needs a running engine is proposed.")
    sources: tuple[Citation, ...] = Field(min_length=1)


class Action(Frozen):
    """A repair, a cleaning or a change of setting."""

    id: Id
    name: Text
    circuits: tuple[Id, ...] = Field(
        default=(), description="Only on carburetors that have one of these circuits; left out, on any."
    )
    steps: tuple[Text, ...] = Field(min_length=1)
    minutes: Annotated[Number, Field(gt=0)]
    tools: tuple[Text, ...] = ()
    cautions: tuple[Id, ...] = ()
    verify: Text
    put_back: Text
    reversible: bool
    phrases: Phrases = {}
    deeds: Deeds = {}
    sources: tuple[Citation, ...] = Field(min_length=1)


class Context(Frozen):
    """A circumstance that moves priors."""

    id: Id
    name: Text
    ask: Text
    often: ProbabilityWord
    settled_by: tuple[Id, ...] = Field(
        default=(), description="Circumstances that answer this one when they hold, so that it is not asked."
    )
    told_by: tuple[Id, ...] = Field(
        default=(), description="Settings, repairs and checks that tell this one: one tried or answered answers it, "
        "so that it is not asked; a setting whose move brought the trouble on says that it holds."
    )
    moot_beside: tuple[Id, ...] = Field(
        default=(), description="Circumstances beside which nobody asks it, as they tell how the trouble began."
    )
    void_beside: tuple[Id, ...] = Field(
        default=(), description="Circumstances beside which it says nothing, as it was told of the time before them."
    )
    told_by_move: dict[Id, Change] = Field(
        default={}, description="Settings moved that way, with nothing said of what it did, tell this one."
    )
    told_by_air: bool = Field(
        default=False, description="A case that states the air it was set for and the air now has answered it."
    )
    of_signs: bool = Field(
        default=False, description="It tells how the signs came: of signs that are over it says nothing now."
    )
    set_up: bool = Field(
        default=False, description="It changes what the engine needs, so that a setting moved beside it may only "
        "answer it: the trouble that follows is not put down to the setting."
    )
    groups: dict[Id, ContextWord] = {}
    phrases: Phrases = {}
    phrases_against: Phrases = {}
    deeds: dict[LanguageCode, tuple[PastDeed, ...]] = {}
    spoken: Spoken = {}
    weather: Literal["colder", "hotter"] | None = Field(
        default=None, description="Which way the weather turned, where the circumstance is that it did."
    )
    moved: Literal["up", "down"] | None = Field(
        default=None, description="It is a move to another height: of two heights in a post it tells which is now."
    )
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


# ---------------------------------------------------------------------------------------------------------
# The case: what goes in


def _one_or_many(value: object) -> object:
    return (value,) if isinstance(value, str) else value


Places = Annotated[tuple[Id, ...], BeforeValidator(_one_or_many)]
ShortText = Annotated[str, StringConstraints(max_length=4000)]


class Jet(Frozen):
    """A jet by its number: bore in 1/100 mm, or flow in cc/min; the two are never compared."""

    number: Annotated[Number, Field(gt=0, le=1500)]
    numbering: Literal["bore", "flow"]


class FittedParts(Frozen):
    """The parts in the carburetor; what is left out is taken as typical, and then answers are relative."""

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
    """What is known of the machine; leave out what is not."""

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
    """A finding as reported; `at` left out means nobody said where, several places mean somewhere there."""

    finding: Id
    at: Places = ()
    status: Status = Status.PRESENT
    certainty: Certainty = Certainty.SURE
    cylinders: Literal["one", "all"] | None = None
    asked: bool = Field(
        default=False, description="Given in answer to a question, so nothing left unsaid beside it means anything."
    )


class CheckResult(Frozen):
    """What a check gave."""

    check: Id
    outcome: Id
    at: Id | None = None
    certainty: Certainty = Certainty.SURE
    asked: bool = Field(default=False, description="Done in answer to a step of a walk.")


class Trial(Frozen):
    """A change already made and its effect.

    Exactly one of `do` (a repair), `change` (a setting moved) and `tried` (a change for a moment, then undone). A
    setting says its `direction`, or the sizes it went `from_size` and `to_size`.
    """

    do: Id | None = None
    how: RepairHow | None = Field(default=None, description="How a repair was done; left out, as the action says.")
    change: Id | None = None
    direction: Change | None = None
    steps: Annotated[Number, Field(gt=0, le=20)] = 1.0
    from_size: Annotated[Number, Field(ge=0, le=1500)] | None = None
    to_size: Annotated[Number, Field(ge=0, le=1500)] | None = None
    numbering: Literal["bore", "flow"] | None = Field(
        default=None, description="How the jets are numbered; left out, as the machine's fitted jet."
    )
    tried: Id | None = None
    at: Id | None = None
    effect: Effect
    put_back: bool = False

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
    """A measured lambda (air-fuel ratio divided by the chemical one) at a place."""

    model_config = ConfigDict(populate_by_name=True)  # no keyword argument can be called lambda

    lambda_: Annotated[Number, Field(alias="lambda", ge=0.5, le=1.8)]
    at: Id
    protocol: Literal["steady_load", "no_load"] = "steady_load"


class ContextReport(Frozen):
    """A circumstance as told."""

    context: Id
    status: Status = Status.PRESENT
    asked: bool = Field(default=False, description="Given in answer to a step of a walk.")


class Unanswered(Frozen):
    """A step that was asked and could not be told or done: no evidence, and not asked again."""

    kind: Literal["check", "question", "finding", "context", "repair", "trial", "machine"]
    id: Id
    at: Id | None = None
    direction: Change | None = None


def _context_short(value: object) -> object:
    return {"context": value} if isinstance(value, str) else value


class Epoch(Frozen):
    """What was observed, and the changes then made."""

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
    into `epochs`, oldest first, instead.
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
    reporting: Literal["volunteered", "interview"] = "volunteered"
    visited: Places = ()
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


class WorkedCase(Case):
    """A case of our own with its answer: a test of the knowledge, an example, and stock for quizzes."""

    leads: Id = Field(description="The cause that must lead the diagnosis.")
    twin_of: Id | None = Field(
        default=None, description="The cause whose own case this one nearly is, until `turned_by` turns it."
    )
    turned_by: Text | None = None
    source: Literal["invented"]

    @model_validator(mode="after")
    def _twin_is_whole(self) -> Self:
        if (self.twin_of is None) != (self.turned_by is None):
            raise ValueError("a near-twin says both twin_of and turned_by")
        if self.twin_of == self.leads:
            raise ValueError("a near-twin is led by another cause than the one it is a twin of")
        return self

    @property
    def of(self) -> str:
        """The cause whose file it stands in."""
        return self.twin_of or self.leads


# ---------------------------------------------------------------------------------------------------------
# The diagnosis: what comes out


class CautionText(Frozen):
    """A caution with its text, so that no renderer has to look it up."""

    id: Id
    text: Text
    short: Text | None = Field(default=None, description="The same in one short sentence.")


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
    """A likely cause with reasons and correction."""

    id: Id
    group: Id
    name: Text
    summary: Text
    probability: Probability
    words: Text
    circuit: Id | None = None
    direction: Direction | None = None
    because: tuple[Reason, ...] = ()
    against: tuple[Reason, ...] = ()
    would_change: tuple[WouldLower, ...] = Field(
        default=(), description="What would change one's mind: the open observations that would lower it most."
    )
    rival: Id | None = None
    told_apart_by: Text | None = None
    separator: Id | None = Field(default=None, description="The check or finding that tells it from the rival.")
    correction: Correction
    verify: Text
    workshop: Text | None = None
    sources: tuple[Citation, ...]
    cautions: tuple[CautionText, ...] = ()


class GroupBelief(Frozen):
    """Probability that at least one cause of a group is at work."""

    group: Id
    name: Text
    probability: Probability


class BandMixture(Frozen):
    """What the mixture is doing at one band."""

    place: Id
    name: Text
    levels: dict[Level, Probability]
    verdict: Text
    circuits: tuple[Id, ...]


class OffMixture(Frozen):
    """Where it probably runs rich or lean, whichever part does it: neighboring bands, and the chance at the surest."""

    direction: Direction
    places: tuple[Id, ...] = Field(min_length=1, description="From the smallest opening to the widest.")
    probability: Probability


class OutcomeMeaning(Frozen):
    """One possible outcome of a step, how likely it is now, and what it would mean."""

    outcome: Text
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
    gain_bits: Number
    gain_per_minute: Number
    why: Text
    cautions: tuple[CautionText, ...] = ()


class HoldNow(Frozen):
    """A hold that is on: what must not be done in the present belief, and why."""

    id: Id
    name: Text
    why: Text
    chance: Probability = Field(description="How likely its reason is now; 1 where it was observed.")


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
    """The answer to a case."""

    edition: Text
    case_id: str
    title: str = ""
    machine: Machine = Machine()
    air: AirChange | None = None
    told: tuple[Statement, ...] = Field(default=(), description="What counted as evidence, in the order told.")
    answer: Literal["likely", "open", "ask_first", "unexplained"]
    area: Id | None = Field(
        default=None, description="The group that the answer names, where it is far likelier than any one cause."
    )
    off: OffMixture | None = Field(
        default=None, description="What an open answer says of the mixture, where that is surer than any part."
    )
    summary: Text
    understood: tuple[Text, ...]
    causes: tuple[CauseBelief, ...]
    order: tuple[Id, ...] = Field(description="The causes in the order in which to put things right.")
    groups: tuple[GroupBelief, ...]
    nothing_wrong: Probability
    unlisted: UnlistedBelief
    mixture: tuple[BandMixture, ...]
    next_steps: tuple[NextStep, ...]
    unexplained: Unexplained
    holds: tuple[HoldNow, ...] = Field(
        default=(), description="What makes some checks unsafe just now; they are not proposed."
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
    cautions: tuple[CautionText, ...] = ()
    of_machine: tuple[Id, ...] = Field(
        default=(), description="Which of the cautions the kind of machine asks for, whatever is done to it."
    )
    meaning: Text

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


class BandRow(Frozen):
    """For one place and sign: the circuit in control, rich or lean, and the correction."""

    place: Id
    finding: Id
    sign: Text
    direction: Direction
    circuit: Id
    share: Number
    others: tuple[Id, ...]
    part: Text
    correction: Text
    verify: Text
    put_back: Text
    cautions: tuple[Id, ...] = Field(default=(), description="Ids of `cautions` of the table.")
    sources: tuple[Id, ...] = ()


class BandTable(Frozen):
    """The explicit view of one family: throttle band and sign to circuit, direction and correction."""

    edition: Text
    family: Id
    strokes: Literal[2, 4]
    name: Text
    rows: tuple[BandRow, ...]
    cautions: tuple[CautionText, ...] = Field(default=(), description="The cautions of all rows, each once.")
    note: Text


Json = dict[str, Any]
