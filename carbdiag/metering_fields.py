"""The field of a case or request that the metering refuses: its quantities by the names requests have."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Final

from carbdiag.case_schema import FittedParts
from carbdiag.errors import CaseError, OutOfRangeError, Problem

#: Quantity as the metering names it -> field of the request.
_FIELD_OF_QUANTITY: Final = {
    "bore": "bore_mm",
    "clip groove": "clip_groove",
    "grooves": "grooves",
    "clip step": "clip_pitch_mm",
    "start of the needle taper": "needle_taper_mm",
    "taper start": "needle_taper_mm",
    "needle length": "needle_length_mm",
    "needle tip": "needle_length_mm",
    "needle straight diameter": "needle_straight_mm",
    "needle straight": "needle_straight_mm",
    "needle taper": "needle_straight_mm",
    "needle jet": "needle_jet_mm",
    "cutaway": "cutaway_mm",
    "screw turns": "screw_turns",
    "main jet": "main_jet",
    "pilot jet": "pilot_jet",
    "temperature": "temperature_c",
    "dew point": "dew_point_c",
    "elevation": "elevation_m",
    "QNH": "qnh_hpa",
    "station pressure": "station_hpa",
    "relative humidity": "humidity_percent",
    "density ratio": "now",
    "premix ratio": "premix_ratio",
}


@contextmanager
def in_field(path: str) -> Iterator[None]:
    """Name the field of the request in what the metering refuses."""
    try:
        yield
    except OutOfRangeError as error:
        name = _FIELD_OF_QUANTITY.get(error.quantity, "")
        where = path or ("machine.parts" if not name or name in FittedParts.model_fields else "")
        told = error
        if error.unit == "Pa":  # requests speak of hPa
            told = OutOfRangeError(error.quantity, error.value / 100, error.low / 100, error.high / 100, "hPa")
        raise CaseError([Problem(f"{where}.{name}".strip("."), str(told), f"{told.value:g}")]) from error
    except CaseError as error:
        raise CaseError(replace(p, field=_whole(path, p.field)) for p in error.problems) from error


def _whole(path: str, field: str) -> str:
    """The path of a field that is named without it; what is no field of ours leaves the path alone."""
    if not path or "." in field:
        return field
    return f"{path}.{field}" if field in FittedParts.model_fields else path
