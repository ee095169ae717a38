"""The air of a request in numbers, and from which kind of pressure."""

from __future__ import annotations

from typing import Final, Literal

from carbdiag import tuning_schema as t
from carbdiag.metering import air as metering_air
from carbdiag.metering_fields import in_field

AIR_HONESTY: Final = (
    "Density is good to about 0.1 % for the pressure, temperature and humidity given; a thermometer that is 1 C off"
    " costs 0.3 %, an elevation without a barometer up to 3 %."
)


def air_state(request: t.AirInput) -> t.AirAnswer:
    """The air in numbers: pressure in hPa, densities in kg/m3, oxygen; and from which kind of pressure.

    Args:
        request: temperature in C, and the pressure one way of three: station pressure, QNH with elevation, or elevation
            in m alone. Values out of range, and two ways at once, are refused when it is built (pydantic's
            `ValidationError`). Without a humidity, half saturated air is taken; `notes` says so.

    Raises:
        CaseError: values that are each in range do not go together.

    Examples:
        >>> air_state(t.AirInput(elevation_m=0, temperature_c=15, humidity_percent=0)).moist_density_kg_m3
        1.225
        >>> air_state(t.AirInput(elevation_m=2000, temperature_c=15)).pressure_words
        'what the standard atmosphere has at 2000 m'
    """
    return air_answer(request, air_of(request, ""))


def air_of(request: t.AirInput, path: str) -> metering_air.AirState:
    """The air of a request.

    Raises:
        CaseError: at `path`, where a quantity is out of the range of its formula.
    """
    humidity = request.humidity_percent
    with in_field(path):
        return metering_air.air_state(
            temperature_c=request.temperature_c,
            station_pa=_pascal(request.station_hpa),
            qnh_pa=_pascal(request.qnh_hpa),
            elevation_m=request.elevation_m,
            relative_humidity=None if humidity is None else humidity / 100.0,
            dew_point_c=request.dew_point_c,
        )


def _pascal(hpa: float | None) -> float | None:
    return None if hpa is None else 100.0 * hpa


def air_answer(request: t.AirInput, state: metering_air.AirState) -> t.AirAnswer:
    """An air as it is told, with where its pressure came from."""
    route: Literal["station", "qnh", "elevation"]
    if request.station_hpa is not None:
        route, words = "station", "read from a barometer at the place (station pressure)"
    elif request.qnh_hpa is not None:
        route, words = "qnh", f"QNH {request.qnh_hpa:g} hPa brought back up to {request.elevation_m:g} m"
    else:
        route, words = "elevation", f"what the standard atmosphere has at {request.elevation_m:g} m"
    return t.AirAnswer(
        pressure_from=route,
        pressure_words=words,
        station_hpa=round(state.pressure_pa / 100.0, 1),
        temperature_c=state.temperature_c,
        humidity_percent=round(100.0 * state.relative_humidity, 1),
        vapor_hpa=round(state.vapor_pressure_pa / 100.0, 2),
        moist_density_kg_m3=round(state.moist_density_kg_m3, 4),
        dry_density_kg_m3=round(state.dry_density_kg_m3, 4),
        relative_density=round(metering_air.relative_density(state), 4),
        relative_oxygen=round(metering_air.relative_oxygen(state), 4),
        oxygen_percent=round(100.0 * state.oxygen_mole_fraction, 2),
        density_altitude_m=round(metering_air.density_altitude_m(state)),
        notes=state.notes,
        honesty=AIR_HONESTY,
    )
