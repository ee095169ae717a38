"""Frozen models of what goes into and comes out of `carbdiag.tuning`: air, moving the machine, a correction, a sweep.

Mixture is given as x = ln(lambda / lambda wanted): negative is richer, positive leaner. Units are in the names.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, ConfigDict, Field, model_validator

from carbdiag.case_schema import Jet, Machine
from carbdiag.field_types import Id, Number, Probability, Text, Whole
from carbdiag.frozen import Frozen
from carbdiag.records.safety import CautionText
from carbdiag.terms import Change, FuelName, Level, PartName


def _from_to(low: float, high: float, unit: str) -> Callable[[float], float]:
    space = f" {unit}" if unit else ""

    def check(value: float) -> float:
        if not low <= value <= high:
            raise ValueError(f"must be from {low:g} to {high:g}{space}")
        return value

    return check


def _percent(value: float) -> float:
    if 0 < value < 2:
        raise ValueError("must be in percent (50, not 0.5), from 0 to 100; outdoor air is never this dry")
    return _from_to(0, 100, "%")(value)


def _range(low: float, high: float) -> dict[str, float]:
    return {"minimum": low, "maximum": high}


TemperatureC = Annotated[Number, AfterValidator(_from_to(-45, 60, "C")), Field(json_schema_extra=_range(-45, 60))]
ElevationM = Annotated[Number, AfterValidator(_from_to(-500, 6000, "m")), Field(json_schema_extra=_range(-500, 6000))]
QnhHpa = Annotated[Number, AfterValidator(_from_to(870, 1090, "hPa")), Field(json_schema_extra=_range(870, 1090))]
StationHpa = Annotated[Number, AfterValidator(_from_to(400, 1100, "hPa")), Field(json_schema_extra=_range(400, 1100))]
HumidityPercent = Annotated[Number, AfterValidator(_percent), Field(json_schema_extra=_range(0, 100))]
PremixRatio = Annotated[Number, AfterValidator(_from_to(8, 200, ":1")), Field(json_schema_extra=_range(8, 200))]
LambdaValue = Annotated[Number, AfterValidator(_from_to(0.5, 1.8, "")), Field(json_schema_extra=_range(0.5, 1.8))]
Points = Annotated[Whole, Field(ge=2, le=201)]


# ---------------------------------------------------------------------------------------------------------
# Air


class AirInput(Frozen):
    """The air at one place and time. Temperatures in C, elevation in m, pressures in hPa, humidity in percent.

    Pressure one way of three: a barometer reading at the place (`station_hpa`), a forecast or airport pressure reduced
    to sea level (`qnh_hpa`) with the elevation, or the elevation alone. Humidity one way of two, or not at all.
    """

    temperature_c: TemperatureC
    elevation_m: ElevationM | None = None
    qnh_hpa: QnhHpa | None = Field(default=None, description="Reduced to sea level, as forecasts print it.")
    station_hpa: StationHpa | None = Field(default=None, description="As a barometer at the place shows it.")
    humidity_percent: HumidityPercent | None = None
    dew_point_c: TemperatureC | None = None

    @model_validator(mode="after")
    def _one_way_each(self) -> Self:
        if self.station_hpa is not None and self.qnh_hpa is not None:
            raise ValueError("give either station_hpa (read at the place) or qnh_hpa (reduced to sea level), not both")
        if self.qnh_hpa is not None and self.elevation_m is None:
            raise ValueError("qnh_hpa is reduced to sea level, so it needs elevation_m too")
        if self.station_hpa is None and self.elevation_m is None:
            raise ValueError("give elevation_m, or qnh_hpa with elevation_m, or station_hpa")
        if self.humidity_percent is not None and self.dew_point_c is not None:
            raise ValueError("give either humidity_percent or dew_point_c, not both")
        if self.dew_point_c is not None and self.dew_point_c > self.temperature_c:
            raise ValueError(
                f"dew_point_c must not be above temperature_c ({self.temperature_c:g} C), got {self.dew_point_c:g} C"
            )
        return self


class AirAnswer(Frozen):
    """Air in numbers. Moist density draws the fuel; the density of its dry part is what the fuel must match."""

    pressure_from: Literal["station", "qnh", "elevation"]
    pressure_words: Text
    station_hpa: Number
    temperature_c: Number
    humidity_percent: Number
    vapor_hpa: Number
    moist_density_kg_m3: Number
    dry_density_kg_m3: Number
    relative_density: Number = Field(description="Moist density over that of dry standard air at sea level.")
    relative_oxygen: Number = Field(description="Oxygen in a liter over that of dry standard air at sea level.")
    oxygen_percent: Number = Field(description="Share of oxygen in this air, by volume.")
    density_altitude_m: Number
    notes: tuple[Text, ...] = ()
    honesty: Text


# ---------------------------------------------------------------------------------------------------------
# What the answers share


class MixtureSpan(Frozen):
    """A mixture, x = ln(lambda / lambda of the set-up that ran right), with its 10 to 90 % interval, and in words."""

    low: Number
    middle: Number
    high: Number
    words: Text


class BandShares(Frozen):
    """Which part of the fuel answers to which circuit: pilot to main jet and added make about 1, cutaway is on top."""

    pilot: Number
    needle: Number
    main_jet: Number
    cutaway: Number
    added: Number = Field(default=0.0, description="From an open enrichener and a power jet.")


# ---------------------------------------------------------------------------------------------------------
# Moving the machine


class ResizeRequest(Frozen):
    """A machine that ran right in one air (`set`), and the air it will be ridden in (`now`)."""

    machine: Machine = Field(description="As in a case. The family and the fitted parts count.")
    set: AirInput
    now: AirInput


class PartMove(Frozen):
    """One part for the new air: where to start, and the range from least to most change.

    Numbers are in `unit`; without the fitted size they are left out and only `amount` speaks.
    """

    part: Id
    name: Text
    direction: Change
    unit: Text
    present: Number | None = None
    start_with: Number | None = None
    least: Number | None = None
    most: Number | None = None
    amount: Text
    do: Text
    verify: Text
    put_back: Text
    cautions: tuple[CautionText, ...] = ()


class UntouchedBand(Frozen):
    """What a band does in the new air if nothing is changed, and which circuits feed it, strongest first."""

    place: Id
    name: Text
    opening: Probability
    mixture: MixtureSpan
    circuits: tuple[Id, ...]


class ResizeAnswer(Frozen):
    """What to change for the new air, in the order of doing it, and what happens if nothing is changed."""

    edition: Text
    family: Id
    family_name: Text
    set: AirAnswer
    now: AirAnswer
    density_ratio: Number = Field(description="Density that counts for jets, now over set; moisture as lost oxygen.")
    direction: Literal["richer", "leaner", "leave"]
    summary: Text
    bands: tuple[UntouchedBand, ...]
    moves: tuple[PartMove, ...]
    steps: tuple[Text, ...] = ()
    verify: Text | None = None
    put_back: Text | None = None
    warnings: tuple[Text, ...] = ()
    notes: tuple[Text, ...] = ()
    cautions: tuple[CautionText, ...] = ()
    honesty: Text


# ---------------------------------------------------------------------------------------------------------
# A correction


class CorrectionRequest(Frozen):
    """A mixture that is off at one throttle opening, and how far: a level in words, or a measured lambda.

    Without the two chances of lean, three-quarter and full throttle count as lean and nothing there is made leaner.
    """

    model_config = ConfigDict(populate_by_name=True)  # no keyword argument can be called lambda

    machine: Machine
    at: Id = Field(description="A throttle opening: idle, eighth, quarter, half, three_quarter or full.")
    mixture: Level | None = None
    lambda_: Annotated[LambdaValue | None, Field(alias="lambda")] = None
    protocol: Literal["steady_load", "no_load"] = "steady_load"
    part: PartName | None = Field(default=None, description="Without it, the part that suits the opening.")
    p_lean_three_quarter: Probability | None = None
    p_lean_full: Probability | None = None

    @model_validator(mode="after")
    def _one_measure(self) -> Self:
        if (self.mixture is None) == (self.lambda_ is None):
            raise ValueError("give either mixture (very_rich, rich, right, lean, very_lean) or lambda")
        return self


class SideEffect(Frozen):
    """What a change does at another opening, percent of fuel: + is richer."""

    place: Id
    name: Text
    opening: Probability
    percent: Number
    words: Text


class CorrectionAnswer(Frozen):
    """Which part, which way, to which size that exists, and all that goes with it; or why not.

    `present`, `first` and `proposed` are in `unit`; without the fitted size, or for a screw, they are left out.
    """

    edition: Text
    family: Id
    family_name: Text
    at: Id
    at_name: Text
    opening: Probability
    told: Text
    part: Id
    name: Text
    circuit: Id
    direction: Literal["richer", "leaner", "none"]
    amount: Text
    fuel_percent_low: Number
    fuel_percent: Number
    fuel_percent_high: Number
    unit: Text
    present: Number | None = None
    first: Number | None = Field(default=None, description="The size to fit first; one size at a time.")
    proposed: Number | None = None
    refused: Text | None = None
    suitable: tuple[Id, ...] = Field(description="Parts that suit this opening, most suitable first.")
    before_this: tuple[Text, ...] = Field(description="What must be right before this part is touched, in order.")
    side_effects: tuple[SideEffect, ...] = ()
    do: Text | None = None
    steps: tuple[Text, ...] = ()
    minutes: Number | None = None
    tools: tuple[Text, ...] = ()
    verify: Text | None = None
    put_back: Text | None = None
    notes: tuple[Text, ...] = ()
    cautions: tuple[CautionText, ...] = ()
    honesty: Text


# ---------------------------------------------------------------------------------------------------------
# A sweep


class Conditions(Frozen):
    """The air and the fuel in which the fitted set-up ran right. Gasoline (`petrol`) and any air unless given."""

    air: AirInput | None = None
    fuel: FuelName = "petrol"
    premix_ratio: PremixRatio | None = Field(default=None, description="Parts of fuel to one of oil.")


class ChangedParts(Frozen):
    """Parts that differ; what is left out stays. Each must be listed in the machine's parts too."""

    main_jet: Jet | None = None
    pilot_jet: Jet | None = None
    clip_groove: Annotated[Whole, Field(ge=1, le=12)] | None = None
    needle_straight_mm: Annotated[Number, Field(gt=0, le=10)] | None = None
    needle_jet_mm: Annotated[Number, Field(gt=0, le=10)] | None = None
    clip_pitch_mm: Annotated[Number, Field(gt=0, le=3)] | None = None
    first_groove_mm: Annotated[Number, Field(ge=0, le=30)] | None = None
    needle_taper_mm: Annotated[Number, Field(gt=0, le=90)] | None = None
    needle_length_mm: Annotated[Number, Field(gt=0, le=120)] | None = None
    power_jet_mm: Annotated[Number, Field(ge=0, le=2)] | None = None
    enrichener_jet_mm: Annotated[Number, Field(gt=0, le=3)] | None = None
    enrichener_open: bool | None = None
    pump_nozzle_mm: Annotated[Number, Field(gt=0, le=2)] | None = None
    leak_jet_mm: Annotated[Number, Field(ge=0, le=2)] | None = None
    cutaway_mm: Annotated[Number, Field(ge=0, le=10)] | None = None
    screw_turns: Annotated[Number, Field(ge=0, le=12)] | None = None


class ChangedSetUp(Frozen):
    """What differs from the set-up before it: parts, air, fuel. What is left out stays."""

    parts: ChangedParts = ChangedParts()
    air: AirInput | None = None
    fuel: FuelName | None = None
    premix_ratio: PremixRatio | None = None


class SweepRequest(Frozen):
    """The set-up that ran right (`machine`, `working`), what it is now (`before`), and what is planned (`after`)."""

    machine: Machine
    working: Conditions = Conditions()
    before: ChangedSetUp = ChangedSetUp()
    after: ChangedSetUp = ChangedSetUp()
    points: Points = Field(default=41, description="How many openings, evenly from closed to full.")


class SweepBand(Frozen):
    """One band of the table: mixture before and after, and who feeds it."""

    place: Id
    name: Text
    opening: Probability
    before: MixtureSpan
    after: MixtureSpan
    shares: BandShares


class SweepPoint(Frozen):
    """One opening: mixture before and after, and the shares after."""

    opening: Probability
    before: MixtureSpan
    after: MixtureSpan
    shares: BandShares


class FedBy(Frozen):
    """What the parts of a share are called on this kind of carburetor."""

    pilot: Text
    needle: Text
    main_jet: Text
    cutaway: Text


class SweepAnswer(Frozen):
    """The mixture from closed to full, before and after a change, relative to the set-up that ran right."""

    edition: Text
    family: Id
    family_name: Text
    axis: Text
    fed_by: FedBy
    before_is: Text
    after_is: Text
    changed: bool = Field(description="Whether `after` differs from `before`.")
    summary: Text
    bands: tuple[SweepBand, ...]
    rows: tuple[SweepPoint, ...]
    notes: tuple[Text, ...] = ()
    cautions: tuple[CautionText, ...] = ()
    honesty: Text
