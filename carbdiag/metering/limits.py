"""Range checks shared by the metering modules: every refusal carries quantity, value, range and unit."""

from __future__ import annotations

import math

from carbdiag.errors import CaseError, OutOfRangeError, Problem


def within(quantity: str, value: float, low: float, high: float, unit: str) -> float:
    """Return `value` if it lies from `low` to `high` (same unit), else raise OutOfRangeError.

    Valid range: the one given; NaN is refused. Source: common practice.

    >>> within("relative humidity", 0.4, 0.0, 1.0, "")
    0.4
    >>> within("relative humidity", 1.2, 0.0, 1.0, "")
    Traceback (most recent call last):
    ...
    carbdiag.errors.OutOfRangeError: relative humidity must be from 0 to 1, got 1.2
    """
    if math.isnan(value) or not low <= value <= high:
        raise OutOfRangeError(quantity, value, low, high, unit)
    return value


def refuse(field: str, message: str, value: object = "", allowed: tuple[str, ...] = ()) -> CaseError:
    """Build the error for inputs that contradict each other (not a number out of range). Unitless.

    Valid range: any text. Source: common practice.

    >>> str(refuse("pressure", "give one of station pressure, QNH or elevation"))
    'pressure: give one of station pressure, QNH or elevation'
    """
    return CaseError([Problem(field, message, str(value), allowed)])
