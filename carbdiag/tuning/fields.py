"""The field of a request that the metering refuses: its quantities by the names requests have."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Final

from carbdiag import schema
from carbdiag.errors import CaseError, OutOfRangeError, Problem

#: Quantity as the metering names it -> field of the request.
_FIELD_OF_QUANTITY: Final = {
    "bore": "bore_mm",
    "clip groove": "clip_groove",
    "grooves": "grooves",
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
        where = path or ("machine.parts" if not name or name in schema.FittedParts.model_fields else "")
        told = error
        if error.unit == "Pa":  # requests speak of hPa
            told = OutOfRangeError(error.quantity, error.value / 100, error.low / 100, error.high / 100, "hPa")
        raise CaseError([Problem(f"{where}.{name}".strip("."), str(told), f"{told.value:g}")]) from error
    except CaseError as error:
        named = [replace(p, field=path or p.field) if "." not in p.field else p for p in error.problems]
        raise CaseError(named) from error
