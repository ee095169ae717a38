"""What a family's carburetor meters where: shares and steps from its geometry, or as its file states them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from carbdiag import schema
from carbdiag.knowledge import Knowledge
from carbdiag.metering.geometry import Geometry, typical, with_parts
from carbdiag.metering.shares import share_spans, shares_at, step_percent

ByPlace = Mapping[str, Mapping[str, float]]

#: How the lower, typical and upper opening of a band are weighed.
_WITHIN_BAND = (0.25, 0.5, 0.25)
_SHARED = ("pilot", "needle", "main_jet", "cutaway")
_STEPPED = ("mixture_screw", "pilot", "cutaway", "needle", "main_jet", "air_correction", "float_level")
_TENTH_TO_NINETIETH = 2 * 1.2816  # standard deviations between the two


@dataclass(frozen=True, eq=False)
class FamilyTables:
    """shares and steps: circuit -> place -> share of the fuel, percent fuel a step; sigma: place -> spread of x."""

    shares: ByPlace
    steps: ByPlace
    sigma: Mapping[str, float]


def family_geometry(family: schema.Family) -> Geometry | None:
    """The typical geometry of a family, or None where its file states shares and steps instead."""
    if family.geometry is None:
        return None
    return with_parts(typical(family.geometry.kind), **family.geometry.dimensions)


def family_tables(k: Knowledge, family: schema.Family) -> FamilyTables:
    """Compute the tables of a family, or return what was computed before (it depends on the knowledge alone).

    Each band averages its lower, typical and upper opening; what the file states wins over what is computed. The
    residual of a place is widened by the 10-90 % interval of its leading circuit's share over plausible geometries,
    for a deviation as large as the limit of `lean`.
    """
    key = ("tables", family.id)
    found = k.memo.get(key)
    if not isinstance(found, FamilyTables):
        found = _tables(k, family)
        k.memo[key] = found
    return found


def _tables(k: Knowledge, family: schema.Family) -> FamilyTables:
    geometry = family_geometry(family)
    shares = {c: dict(by) for c, by in family.shares.items()}
    steps = {c: dict(by) for c, by in family.steps.items()}
    bands = [p for p in k.places.values() if p.opening is not None]
    sigma = dict.fromkeys((p.id for p in bands), k.scales.mixture.residual_sigma)
    if geometry is not None:
        for place in bands:
            assert place.opening is not None
            at = [shares_at(geometry, opening) for opening in place.opening]
            for circuit in (c for c in _SHARED if c in family.circuits):
                share = sum(w * getattr(s, circuit) for w, s in zip(_WITHIN_BAND, at, strict=True))
                shares.setdefault(circuit, {}).setdefault(place.id, round(share, 4))
            for circuit in (c for c in _STEPPED if c in family.circuits):
                percent = sum(
                    w * step_percent(geometry, circuit, opening)
                    for w, opening in zip(_WITHIN_BAND, place.opening, strict=True)
                )
                steps.setdefault(circuit, {}).setdefault(place.id, round(percent, 3))
            sigma[place.id] = _spread(k, geometry, place.opening[1])
    for place in k.places.values():
        if place.id not in sigma:
            weight = sum(place.drivers.values())
            sigma[place.id] = (
                sum(w * sigma[b] for b, w in place.drivers.items()) / weight
                if weight
                else k.scales.mixture.residual_sigma
            )
    return FamilyTables(shares, steps, sigma)


def _spread(k: Knowledge, geometry: Geometry, opening: float) -> float:
    spans = share_spans(geometry, opening)
    leading = max(("pilot", "needle", "main_jet"), key=lambda c: spans.of(c).middle)
    span = spans.of(leading)
    relative = (span.high - span.low) / _TENTH_TO_NINETIETH / max(span.middle, 0.1)
    m = k.scales.mixture
    return math.hypot(m.residual_sigma, m.lean_within * relative)
