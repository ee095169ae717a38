"""The mixture from closed to full, before and after a change, relative to the owner's own working set-up.

x = ln(lambda / lambda of the working set-up): 0 everywhere for that set-up, negative richer. Never an
absolute promise. The interval counts plausible geometries (24 variants) and the range of the air exponent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from carbdiag.metering.air import STANDARD_AIR, AirState, Span, air_shift_x
from carbdiag.metering.fuel import PETROL, Fuel, fuel_shift_x
from carbdiag.metering.geometry import Geometry
from carbdiag.metering.limits import refuse, within
from carbdiag.metering.plausible import interval_of, variants
from carbdiag.metering.shares import CircuitShares, mixture_changes, shares_at

COARSE: Final = (0.0, 0.03, 1 / 16, 1 / 8, 3 / 16, 1 / 4, 3 / 8, 1 / 2, 5 / 8, 3 / 4, 7 / 8, 1.0)
HONESTY: Final = (
    "Relative to your own working set-up. Direction and order of size only; below 1/16 opening and "
    "while the throttle moves nothing is promised."
)


@dataclass(frozen=True)
class SetUp:
    """A geometry with the air and the fuel it runs in. Valid range: as its members. Source: the owner.

    >>> SetUp(Geometry()).fuel.name
    'petrol'
    """

    geometry: Geometry
    air: AirState = STANDARD_AIR
    fuel: Fuel = PETROL


@dataclass(frozen=True)
class SweepRow:
    """One opening (0 to 1): mixture before and after as x with interval, and circuit shares after (unitless).

    Valid range: as `sweep` returns it. Source: module text.

    >>> sweep(SetUp(Geometry()), openings=(0.5,)).rows[0].before.middle
    0.0
    """

    opening: float
    before: Span
    after: Span
    shares: CircuitShares


@dataclass(frozen=True)
class Sweep:
    """Rows over the opening axis of a kind, with the sentence that says what it is worth.

    Valid range: as `sweep` returns it. Source: module text.

    >>> len(sweep(SetUp(Geometry())).rows)
    50
    """

    kind: str
    axis: str
    rows: tuple[SweepRow, ...]
    honesty: str = HONESTY


_AXES: Final = {
    "round_slide": "slide opening", "flat_slide": "slide opening", "vacuum_slide": "slide lift",
    "butterfly": "plate opening", "diaphragm": "plate opening",
}  # fmt: skip
EVEN: Final = tuple(i / 49.0 for i in range(50))


@lru_cache(maxsize=256)
def _fuel_change(working: Geometry, other: Geometry) -> tuple[Span, ...]:
    """d ln(fuel per air) from `working` to `other` at COARSE, with interval over variants."""
    if working == other:
        return (Span(0.0, 0.0, 0.0),) * len(COARSE)
    varied = [mixture_changes(a, b, COARSE) for a, b in zip(variants(working), variants(other), strict=True)]
    own = mixture_changes(working, other, COARSE)
    return tuple(interval_of(list(at), middle) for *at, middle in zip(*varied, own, strict=True))


def _mixture(working: SetUp, other: SetUp, openings: Sequence[float]) -> list[Span]:
    """x of `other` relative to `working` at each opening; the middle exact, the interval's width
    interpolated."""
    coarse = _fuel_change(working.geometry, other.geometry)
    fuel = fuel_shift_x(working.fuel, other.fuel)
    still = working.air == other.air
    same = working.geometry == other.geometry
    changes = [0.0] * len(openings) if same else mixture_changes(working.geometry, other.geometry, openings)
    found = []
    for o, change in zip(openings, changes, strict=True):
        air = Span(0.0, 0.0, 0.0) if still else air_shift_x(working.air, other.air, o)
        i = min(sum(c <= o for c in COARSE) - 1, len(COARSE) - 2)
        w = (o - COARSE[i]) / (COARSE[i + 1] - COARSE[i])
        a, b = coarse[i], coarse[i + 1]
        more = (1.0 - w) * (a.high - a.middle) + w * (b.high - b.middle)
        less = (1.0 - w) * (a.middle - a.low) + w * (b.middle - b.low)
        middle = fuel + air.middle - change
        # more fuel is a lower x; the two uncertainties are independent, so their squares add
        down = math.hypot(more, air.middle - air.low)
        up = math.hypot(less, air.high - air.middle)
        found.append(Span(middle - down, middle, middle + up))
    return found


def sweep(
    working: SetUp, before: SetUp | None = None, after: SetUp | None = None, openings: Sequence[float] = EVEN
) -> Sweep:
    """Mixture over the opening (each 0 to 1) of two set-ups, relative to the `working` one.

    `working` is what ran right, `before` what is fitted now (default: the working one), `after` what is
    planned (default: as before). Valid range: openings 0 to 1, one kind of carburetor. Source: `shares`,
    `air`, `fuel`.

    >>> row = sweep(SetUp(Geometry()), after=SetUp(Geometry(main_jet_mm=1.65)), openings=(1.0,)).rows[0]
    >>> round(row.after.middle, 3)
    -0.044
    """
    before = before or working
    after = after or before
    kinds = {working.geometry.kind, before.geometry.kind, after.geometry.kind}
    if len(kinds) != 1:
        raise refuse("kind", "a sweep compares set-ups of one kind of carburetor", sorted(kinds))
    for o in openings:
        within("throttle opening", o, 0.0, 1.0, "")
    first = _mixture(working, before, openings)
    second = first if after == before else _mixture(working, after, openings)
    rows = tuple(
        SweepRow(o, a, b, shares_at(after.geometry, o)) for o, a, b in zip(openings, first, second, strict=True)
    )
    kind = working.geometry.kind
    return Sweep(kind, _AXES[kind], rows)
