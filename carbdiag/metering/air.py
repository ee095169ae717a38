"""The air an engine breathes: pressure, humidity, the two densities that matter, and what they do to the
mixture.

Two densities, not one: **moist** density sets the depression at the jets (how much fuel is drawn),
**dry-air** density is proportional to the oxygen (how much fuel is wanted). In dry weather they are the same.

Accuracy measured against outside references (tests/metering/test_air.py): standard pressure 1e-6, saturation
pressure 5e-4, moist density 1e-3. A thermometer that is 1 C off costs 3e-3, so nothing finer is worth having.

Never take the pressure of a weather forecast for station pressure: forecasts print it reduced to sea level.
At 1000 m that makes the density about 13 % too high, more than any other mistake made here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from carbdiag.metering.limits import refuse, within

GAS_CONSTANT_DRY_AIR: Final = 287.05
"""J/(kg K)."""
EARTH_RADIUS_M: Final = 6_356_766.0
STANDARD_TEMPERATURE_K: Final = 288.15
STANDARD_PRESSURE_PA: Final = 101_325.0
LAPSE_K_PER_M: Final = 0.0065
PRESSURE_EXPONENT: Final = 5.25588
QNH_EXPONENT: Final = 0.190263
KELVIN: Final = 273.15
OXYGEN_MOLE_FRACTION_DRY: Final = 0.20946
ASSUMED_HUMIDITY: Final = 0.5

ELEVATION_RANGE_M: Final = (-500.0, 6000.0)
TEMPERATURE_RANGE_C: Final = (-45.0, 60.0)
PRESSURE_RANGE_PA: Final = (40_000.0, 110_000.0)
QNH_RANGE_PA: Final = (87_000.0, 109_000.0)

EXPONENT_OPENINGS: Final = (0.0625, 0.25, 1.0)
EXPONENT_LOW: Final = (0.21, 0.38, 0.44)
EXPONENT_MIDDLE: Final = (0.22, 0.44, 0.48)
EXPONENT_HIGH: Final = (0.35, 0.46, 0.50)


def _temperature(temperature_c: float) -> float:
    return within("temperature", temperature_c, *TEMPERATURE_RANGE_C, "C")


def _elevation(elevation_m: float) -> float:
    return within("elevation", elevation_m, *ELEVATION_RANGE_M, "m")


def saturation_pressure_pa(temperature_c: float) -> float:
    """Vapor pressure (Pa) of saturated moist air over water at `temperature_c` (C).

    Valid range: -45 to 60 C. Source: Buck 1996; within 5e-4 of reference equations for water from 0 to 45 C.

    >>> saturation_pressure_pa(20.0)
    2338.3
    """
    t = _temperature(temperature_c)
    return 611.21 * math.exp((18.678 - t / 234.5) * t / (257.14 + t))


def geopotential_height_m(elevation_m: float) -> float:
    """Geopotential height (m) of a geometric `elevation_m` (m).

    Valid range: -500 to 6000 m. Source: ISO 2533 standard atmosphere.

    >>> geopotential_height_m(3000.0)
    2998.6
    """
    z = _elevation(elevation_m)
    return EARTH_RADIUS_M * z / (EARTH_RADIUS_M + z)


def standard_temperature_k(elevation_m: float) -> float:
    """Temperature (K) of the standard atmosphere at `elevation_m` (m, geometric).

    Valid range: -500 to 6000 m. Source: ISO 2533 standard atmosphere.

    >>> standard_temperature_k(1000.0)
    281.651
    """
    return STANDARD_TEMPERATURE_K - LAPSE_K_PER_M * geopotential_height_m(elevation_m)


def standard_pressure_pa(elevation_m: float) -> float:
    """Pressure (Pa) of the standard atmosphere at `elevation_m` (m, geometric).

    Valid range: -500 to 6000 m. Source: ISO 2533 standard atmosphere; within 1e-6 of two libraries.

    >>> standard_pressure_pa(1000.0)
    89876.3
    """
    fall = LAPSE_K_PER_M * geopotential_height_m(elevation_m) / STANDARD_TEMPERATURE_K
    return float(STANDARD_PRESSURE_PA * (1.0 - fall) ** PRESSURE_EXPONENT)


def station_pressure_pa(qnh_pa: float, elevation_m: float) -> float:
    """Pressure at the place itself (Pa) from an airport QNH (Pa) and the elevation (m).

    Valid range: QNH 87 000 to 109 000 Pa, -500 to 6000 m. Source: standard-atmosphere altimeter relation.

    >>> station_pressure_pa(101_325.0, 1000.0)
    89875.
    """
    qnh = within("QNH", qnh_pa, *QNH_RANGE_PA, "Pa")
    z = _elevation(elevation_m)
    n = QNH_EXPONENT
    fall = STANDARD_PRESSURE_PA**n * LAPSE_K_PER_M * z / STANDARD_TEMPERATURE_K
    return float((qnh**n - fall) ** (1.0 / n))


def qnh_pa(station_pa: float, elevation_m: float) -> float:
    """QNH (Pa) from a barometer read at the place (Pa) and its elevation (m): the inverse of the above.

    Valid range: 40 000 to 110 000 Pa, -500 to 6000 m. Source: standard-atmosphere altimeter relation.

    >>> qnh_pa(89_874.557, 1000.0)
    101325.0
    """
    p = within("station pressure", station_pa, *PRESSURE_RANGE_PA, "Pa")
    z = _elevation(elevation_m)
    n = QNH_EXPONENT
    rise = STANDARD_PRESSURE_PA**n * LAPSE_K_PER_M * z / STANDARD_TEMPERATURE_K
    return float((p**n + rise) ** (1.0 / n))


def relative_humidity_from_dew_point(temperature_c: float, dew_point_c: float) -> float:
    """Relative humidity (0 to 1) from air temperature and dew point (both C).

    Valid range: -45 to 60 C, dew point not above the temperature. Source: Buck 1996.

    >>> relative_humidity_from_dew_point(25.0, 15.0)
    0.538
    """
    dew = within("dew point", dew_point_c, TEMPERATURE_RANGE_C[0], _temperature(temperature_c), "C")
    return saturation_pressure_pa(dew) / saturation_pressure_pa(temperature_c)


@dataclass(frozen=True)
class AirState:
    """Air at the place itself: station pressure (Pa), temperature (C), relative humidity (0 to 1).

    Valid range: 40 000 to 110 000 Pa, -45 to 60 C, humidity 0 to 1. Source: ideal moist gas, within 1e-3 of a
    reference humid-air equation. `notes` lists what was assumed or looks odd.

    >>> AirState(101_325.0, 20.0, 0.5).moist_density_kg_m3
    1.1989
    """

    pressure_pa: float
    temperature_c: float
    relative_humidity: float = ASSUMED_HUMIDITY
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        within("station pressure", self.pressure_pa, *PRESSURE_RANGE_PA, "Pa")
        _temperature(self.temperature_c)
        within("relative humidity", self.relative_humidity, 0.0, 1.0, "")

    @property
    def vapor_pressure_pa(self) -> float:
        """Partial pressure of water (Pa)."""
        return self.relative_humidity * saturation_pressure_pa(self.temperature_c)

    @property
    def moist_density_kg_m3(self) -> float:
        """Density of the air with its water (kg/m3): sets how much fuel is drawn."""
        kelvin = self.temperature_c + KELVIN
        return (self.pressure_pa - 0.378 * self.vapor_pressure_pa) / (GAS_CONSTANT_DRY_AIR * kelvin)

    @property
    def dry_density_kg_m3(self) -> float:
        """Density of the dry part (kg/m3): proportional to oxygen, sets how much fuel is wanted."""
        kelvin = self.temperature_c + KELVIN
        return (self.pressure_pa - self.vapor_pressure_pa) / (GAS_CONSTANT_DRY_AIR * kelvin)

    @property
    def oxygen_mole_fraction(self) -> float:
        """Share of oxygen molecules (0 to 1) in the moist air."""
        return OXYGEN_MOLE_FRACTION_DRY * (1.0 - self.vapor_pressure_pa / self.pressure_pa)


STANDARD_AIR: Final = AirState(STANDARD_PRESSURE_PA, 15.0, 0.0)
"""Dry sea-level standard air: the reference for relative density unless another is stated."""


def air_state(
    *,
    temperature_c: float,
    station_pa: float | None = None,
    qnh_pa: float | None = None,
    elevation_m: float | None = None,
    relative_humidity: float | None = None,
    dew_point_c: float | None = None,
) -> AirState:
    """Build an AirState from what a person has: a barometer here, or QNH and elevation, or elevation alone.

    Units: C, Pa, m, humidity 0 to 1. Valid range: see each argument's own function; give one pressure route
    and at most one of humidity and dew point. With elevation alone the standard atmosphere's pressure is
    taken and noted. Source: the functions above.

    >>> air_state(elevation_m=1500.0, temperature_c=25.0, relative_humidity=0.3).pressure_pa
    84559.7
    """
    notes: list[str] = []
    if station_pa is not None and qnh_pa is not None:
        raise refuse("pressure", "give either a barometer reading at the place or a QNH, not both")
    if station_pa is not None:
        pressure = within("station pressure", station_pa, *PRESSURE_RANGE_PA, "Pa")
        if elevation_m is not None and abs(pressure / standard_pressure_pa(elevation_m) - 1.0) > 0.06:
            notes.append("This pressure does not fit the elevation. Is it a forecast pressure (QNH)?")
    elif qnh_pa is not None:
        if elevation_m is None:
            raise refuse("elevation_m", "a QNH needs the elevation of the place")
        pressure = station_pressure_pa(qnh_pa, elevation_m)
    elif elevation_m is not None:
        pressure = standard_pressure_pa(elevation_m)
        notes.append("Pressure taken from the standard atmosphere; weather moves it by up to 3 %.")
    else:
        raise refuse("pressure", "give a barometer reading, a QNH with elevation, or an elevation")
    if relative_humidity is not None and dew_point_c is not None:
        raise refuse("humidity", "give either relative humidity or dew point, not both")
    if dew_point_c is not None:
        humidity = relative_humidity_from_dew_point(temperature_c, dew_point_c)
    elif relative_humidity is not None:
        humidity = relative_humidity
    else:
        humidity = ASSUMED_HUMIDITY
        notes.append("Humidity not given; half saturated assumed.")
    return AirState(pressure, temperature_c, humidity, tuple(notes))


def relative_density(air: AirState, reference: AirState = STANDARD_AIR) -> float:
    """Moist density of `air` over that of `reference` (unitless).

    Valid range: any two AirStates. Source: ideal moist gas.

    >>> relative_density(air_state(elevation_m=2000.0, temperature_c=20.0, relative_humidity=0.0))
    0.771
    """
    return air.moist_density_kg_m3 / reference.moist_density_kg_m3


def relative_oxygen(air: AirState, reference: AirState = STANDARD_AIR) -> float:
    """Oxygen per volume of `air` over that of `reference` (unitless).

    Valid range: any two AirStates. Source: dry-air density of an ideal moist gas.

    >>> relative_oxygen(AirState(101_325.0, 40.0, 1.0), AirState(101_325.0, 40.0, 0.0))
    0.927
    """
    return air.dry_density_kg_m3 / reference.dry_density_kg_m3


def density_altitude_m(air: AirState) -> float:
    """Elevation (m, geometric) at which the standard atmosphere has the moist density of `air`.

    Valid range: any AirState; the answer may lie below sea level. Source: ISO 2533, inverted.

    >>> density_altitude_m(air_state(elevation_m=1500.0, temperature_c=30.0, relative_humidity=0.3))
    2405.
    """
    reference = STANDARD_PRESSURE_PA / (GAS_CONSTANT_DRY_AIR * STANDARD_TEMPERATURE_K)
    ratio = air.moist_density_kg_m3 / reference
    h = STANDARD_TEMPERATURE_K / LAPSE_K_PER_M * (1.0 - ratio ** (1.0 / (PRESSURE_EXPONENT - 1.0)))
    return float(EARTH_RADIUS_M * h / (EARTH_RADIUS_M - h))


def mixture_ratio(air_set: AirState, air_now: AirState) -> float:
    """Fuel-air ratio now over fuel-air ratio when set, phi2/phi1 (unitless), carburetor untouched.

    Above 1 is richer. Equal volume flow, float head ignored: sqrt(moist ratio) over dry ratio. Valid range:
    any two AirStates. Source: square-root law of textbooks on simple carburetors, with oxygen told from
    moisture.

    >>> mixture_ratio(AirState(101_325.0, 20.0, 0.0), AirState(75_000.0, 20.0, 0.0))
    1.1623
    """
    drawn = math.sqrt(air_now.moist_density_kg_m3 / air_set.moist_density_kg_m3)
    return drawn * air_set.dry_density_kg_m3 / air_now.dry_density_kg_m3


def metering_density_ratio(air_set: AirState, air_now: AirState) -> float:
    """The density ratio now/set (unitless) that a jet rule should use: mixture_ratio to the power -2.

    Equals the plain density ratio in dry weather and counts moisture as lost oxygen otherwise. Valid range:
    any two AirStates. Source: own rearrangement of `mixture_ratio`.

    >>> metering_density_ratio(AirState(101_325.0, 20.0, 0.0), AirState(75_000.0, 20.0, 0.0))
    0.7402
    """
    return float(mixture_ratio(air_set, air_now) ** -2.0)


@dataclass(frozen=True)
class Span:
    """A number with the lowest and highest that are credible, all in the same unit.

    Valid range: low <= middle <= high. Source: each use states its own.

    >>> Span(0.5, 0.65, 1.0).middle
    0.65
    """

    low: float
    middle: float
    high: float


def mixture_exponent(opening: float) -> Span:
    """How strongly air density moves the mixture at a steady `opening` (0 to 1): x = exponent * ln(ratio).

    Below 1/16 the value at 1/16 is held: idle mixture is not predictable. Valid range: opening 0 to 1.
    Source: own metering model of three engines (two-stroke, four-stroke, small two-stroke): 0.35/0.22/0.21
    at 1/16, 0.46/0.38/0.44 at 1/4, 0.48/0.44/0.48 at full; the upper end at full is the textbook 0.5.

    >>> mixture_exponent(1.0)
    Span(low=0.44, middle=0.48, high=0.5)
    """
    within("throttle opening", opening, 0.0, 1.0, "")
    points = EXPONENT_OPENINGS
    if opening <= points[0]:
        return Span(EXPONENT_LOW[0], EXPONENT_MIDDLE[0], EXPONENT_HIGH[0])
    i = 0 if opening < points[1] else 1
    w = math.log(opening / points[i]) / math.log(points[i + 1] / points[i])
    low, middle, high = (t[i] + w * (t[i + 1] - t[i]) for t in (EXPONENT_LOW, EXPONENT_MIDDLE, EXPONENT_HIGH))
    return Span(low, middle, high)


def air_shift_x(air_set: AirState, air_now: AirState, opening: float) -> Span:
    """Mixture deviation x = ln(lambda/lambda target) caused by the change of air, carburetor untouched.

    Negative is richer, positive leaner; unitless; `low` <= `high` numerically. Valid range: opening 0 to 1.
    Source: `mixture_ratio` with the exponents of `mixture_exponent`.

    >>> air_shift_x(AirState(101_325.0, 20.0, 0.0), AirState(75_000.0, 20.0, 0.0), 1.0).middle
    -0.144
    """
    log_ratio = math.log(metering_density_ratio(air_set, air_now))
    e = mixture_exponent(opening)
    ends = sorted((e.low * log_ratio, e.high * log_ratio))
    return Span(ends[0], e.middle * log_ratio, ends[1])
