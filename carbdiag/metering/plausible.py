"""The carburetors that one may be, of which its owner cannot measure all, and the intervals that follow from them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from carbdiag.metering.air import Span
from carbdiag.metering.geometry import Geometry
from carbdiag.metering.limits import refuse
from carbdiag.metering.shares import CircuitShares, shares_at

_SPREAD: Final = (
    # field, factor at the low end, factor at the high end: what an owner cannot measure
    ("annulus_discharge", 0.72, 1.5),
    ("bypass_mm", 0.84, 1.14),
    ("pilot_outlet_mm", 0.84, 1.2),
    ("pilot_air_mm", 0.8, 1.25),
    ("turning_cutaway", 0.55, 1.3),
    ("turning_bore", 0.6, 1.4),
    ("wake", 0.5, 1.5),
    ("main_air_mm", 0.6, 1.4),
    ("signal_gain", 0.6, 1.7),
    ("capacity", 0.8, 1.25),
    ("bypass_span", 0.75, 1.5),
    ("idle_stop", 0.6, 1.4),
    ("suction_limit", 0.62, 1.0),
)


VARIANT_COUNT: Final = 24


def _low_discrepancy(count: int, dimensions: int) -> list[list[float]]:
    """Points in (0, 1) that fill the cube evenly: an additive recurrence, the same on every run."""
    root = 1.5
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1.0))
    return [[(0.5 + (i + 1) * root ** -(j + 1)) % 1.0 for j in range(dimensions)] for i in range(count)]


_POINTS: Final = _low_discrepancy(VARIANT_COUNT, len(_SPREAD))


def _varied(geometry: Geometry, point: list[float]) -> Geometry:
    changed: dict[str, float] = {}
    for (field, low, high), u in zip(_SPREAD, point, strict=True):
        value = getattr(geometry, field)
        # log scale through 1 at the middle, so that the default lies inside
        factor = low ** (1.0 - 2.0 * u) if u < 0.5 else high ** (2.0 * u - 1.0)
        changed[field] = value * factor
    changed["annulus_discharge"] = min(changed["annulus_discharge"], 1.3)
    return geometry.varied(changed)


@lru_cache(maxsize=256)
def variants(geometry: Geometry) -> tuple[Geometry, ...]:
    """The 24 plausible geometries around `geometry` (unitless multipliers on what cannot be measured).

    Annulus over main jet 1.4 to 2.7, bypass area about 0.7 to 1.3, small-lift loss 0.55 to 1.3, and so on.
    The owner's own bores, needle and clip are never varied. Valid range: any Geometry. Source: judgment,
    wider than the spread of the model table in the small-lift terms.

    >>> len(variants(Geometry()))
    24
    """
    return tuple(_varied(geometry, p) for p in _POINTS)


def _percentile(ordered: list[float], share: float) -> float:
    place = share * (len(ordered) - 1)
    i = min(int(place), len(ordered) - 2)
    return ordered[i] + (place - i) * (ordered[i + 1] - ordered[i])


def interval_of(values: list[float], middle: float) -> Span:
    """10 % and 90 % of `values` around a `middle` that always lies inside; unit of the values.

    Valid range: at least two values. Source: linear interpolation between ordered values.

    >>> interval_of([0.0, 1.0, 2.0, 3.0, 4.0], 2.0)
    Span(low=0.4, middle=2.0, high=3.6)
    """
    ordered = sorted(values)
    return Span(min(_percentile(ordered, 0.1), middle), middle, max(_percentile(ordered, 0.9), middle))


@dataclass(frozen=True)
class ShareSpan:
    """Shares at one opening (0 to 1) with their 10-90 % interval; unitless, `float_level` per mm.

    Valid range: as `share_spans` returns it. Source: module text.

    >>> share_spans(Geometry(), 0.25).of("needle").low > 0.4
    True
    """

    opening: float
    spans: tuple[tuple[str, Span], ...]

    def of(self, circuit: str) -> Span:
        """The interval of one circuit, by the field names of CircuitShares."""
        for name, span in self.spans:
            if name == circuit:
                return span
        raise refuse("circuit", "unknown circuit", circuit, CircuitShares._fields)


@lru_cache(maxsize=1024)
def share_spans(geometry: Geometry, opening: float) -> ShareSpan:
    """Shares at an opening (0 to 1) with their 10-90 % interval over plausible geometries; unitless.

    Valid range: opening 0 to 1. Source: module text.

    >>> span = share_spans(Geometry(), 1.0).of("main_jet")
    >>> 0.5 < span.low < span.high < 0.9
    True
    """
    own = shares_at(geometry, opening)
    columns = [list(c) for c in zip(*(shares_at(v, opening) for v in variants(geometry)), strict=True)]
    spans = tuple(
        (name, interval_of(c, value)) for name, value, c in zip(CircuitShares._fields, own, columns, strict=True)
    )
    return ShareSpan(opening, spans)
