"""What a family's carburetor meters where: shares and steps from its geometry, or as its file states them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from carbdiag.case_schema import FittedParts, Jet
from carbdiag.errors import CaseError, OutOfRangeError, Problem
from carbdiag.knowledge import Knowledge
from carbdiag.metering.geometry import Geometry, typical, with_parts
from carbdiag.metering.jet_series import JetSeries, JetSize
from carbdiag.metering.needle import NeedleLengths, taper_lowered_mm, tip_leaves_at
from carbdiag.metering.plausible import share_spans
from carbdiag.metering.shares import log_fuel, shares_at, transfer_share
from carbdiag.metering.sizes import Parts, parts_of
from carbdiag.metering.steps import changed_by_steps
from carbdiag.metering_fields import in_field
from carbdiag.records.circuits import Circuit
from carbdiag.records.families import Family

ByPlace = Mapping[str, Mapping[str, float]]

#: How the lower, typical and upper opening of a band are weighed.
_WITHIN_BAND = (0.25, 0.5, 0.25)
_SHARED = ("pilot", "needle", "main_jet", "cutaway")
_STEPPED = ("mixture_screw", "pilot", "cutaway", "needle", "main_jet", "air_correction", "float_level")
_LEAST_SHARE = 0.05
_DOES_SOMETHING_PERCENT = 0.5
_TENTH_TO_NINETIETH = 2 * 1.2816  # standard deviations between the two


@dataclass(frozen=True, eq=False)
class FamilyTables:
    """shares and steps: circuit -> place -> share of the fuel, percent fuel a step; sigma: place -> spread of x.

    reach: circuit -> band -> part of the band in which a step of its setting does anything (1 where not given).
    drivers: place -> bands that set its mixture, and how much (none for a band).
    """

    shares: ByPlace
    steps: ByPlace
    reach: ByPlace
    sigma: Mapping[str, float]
    drivers: ByPlace


def family_geometry(family: Family) -> Geometry | None:
    """The typical geometry of a family, or None where its file states shares and steps instead."""
    if family.geometry is None:
        return None
    return _geometry(family.geometry.kind, tuple(family.geometry.dimensions.items()))


@lru_cache(maxsize=64)
def _geometry(kind: str, dimensions: tuple[tuple[str, float], ...]) -> Geometry:
    return with_parts(typical(kind), **dict(dimensions))


def family_tables(k: Knowledge, family: Family) -> FamilyTables:
    """Compute the tables of a family, or return what was computed before (it depends on the knowledge alone).

    Each band averages its lower, typical and upper opening; what the file states of a circuit replaces what is
    computed of it. The residual of a place is widened by the 10-90 % interval of its leading circuit's share over
    plausible geometries, for a deviation as large as the limit of `lean`.
    """
    key = ("tables", family.id)
    found = k.memo.get(key)
    if not isinstance(found, FamilyTables):
        found = _tables(k, family)
        k.memo[key] = found
    return found


def _tables(k: Knowledge, family: Family) -> FamilyTables:
    geometry = family_geometry(family)
    shares = {c: dict(by) for c, by in family.shares.items()}
    steps = {c: dict(by) for c, by in family.steps.items()}
    reach: dict[str, dict[str, float]] = {}
    bands = [p for p in k.places.values() if p.opening is not None]
    drivers = {p.id: family.drivers.get(p.id, p.drivers) for p in k.places.values()}
    sigma = dict.fromkeys((p.id for p in bands), k.scales.mixture.residual_sigma)
    if geometry is not None:
        circuits = [k.circuits[c] for c in family.circuits]
        richer = {c.id: _one_step_richer(geometry, c) for c in circuits if c.id not in family.steps}
        for place in bands:
            assert place.opening is not None
            for circuit in circuits:
                found = [_share(geometry, circuit, opening) for opening in place.opening]
                if circuit.id not in family.shares and None not in found:
                    share = sum(w * (v or 0.0) for w, v in zip(_WITHIN_BAND, found, strict=True))
                    shares.setdefault(circuit.id, {}).setdefault(place.id, round(share, 4))
                if circuit.id in family.steps:
                    continue
                worth = [_step(geometry, circuit, richer[circuit.id], opening) for opening in place.opening]
                if None in worth:
                    continue
                percent = sum(w * (v or 0.0) for w, v in zip(_WITHIN_BAND, worth, strict=True))
                steps.setdefault(circuit.id, {}).setdefault(place.id, round(percent, 3))
                felt = sum(
                    w for w, v in zip(_WITHIN_BAND, worth, strict=True) if (v or 0.0) >= _DOES_SOMETHING_PERCENT
                )
                reach.setdefault(circuit.id, {})[place.id] = felt
            sigma[place.id] = _spread(k, geometry, place.opening[1])
    for state, by_band in drivers.items():
        if state not in sigma:
            weight = sum(by_band.values())
            sigma[state] = (
                sum(w * sigma[b] for b, w in by_band.items()) / weight if weight else k.scales.mixture.residual_sigma
            )
    return FamilyTables(shares, steps, reach, sigma, drivers)


def _share(geometry: Geometry, circuit: Circuit, opening: float) -> float | None:
    """The circuit's share of the fuel, or None where the geometry does not tell."""
    part = circuit.meters_as.part if circuit.meters_as else circuit.id
    if part == "transfer":
        return transfer_share(geometry, opening)
    return float(getattr(shares_at(geometry, opening), part)) if part in _SHARED else None


def _one_step_richer(geometry: Geometry, circuit: Circuit) -> Geometry | None:
    """The geometry after one step richer, or None where neither the model nor the circuit tells what a step moves."""
    how = circuit.meters_as
    if how is None:
        return changed_by_steps(geometry, circuit.id, 1.0) if circuit.id in _STEPPED else None
    if how.dimension is not None and how.by is not None:
        return with_parts(geometry, **{how.dimension: getattr(geometry, how.dimension) + how.by})
    return None


def _step(geometry: Geometry, circuit: Circuit, richer: Geometry | None, opening: float) -> float | None:
    """Percent more fuel for one step richer, or None where neither the model nor the circuit tells."""
    if richer is not None:
        return 100 * math.expm1(log_fuel(richer, opening) - log_fuel(geometry, opening))
    how, share = circuit.meters_as, _share(geometry, circuit, opening)
    return None if how is None or how.step_percent is None or share is None else share * how.step_percent


def in_control(tables: FamilyTables, place: str) -> list[tuple[str, float]]:
    """Circuits whose setting controls a place, strongest first, with that part of the fuel.

    A state takes its bands' shares and its own. A circuit counts only for the part of a band that its setting reaches:
    the needle's straight part feeds one-eighth throttle, but the clip does next to nothing there.
    """
    out: dict[str, float] = {}
    for circuit, by_place in tables.shares.items():
        reach = tables.reach.get(circuit, {})
        share = (
            by_place[place] * reach.get(place, 1.0)
            if place in by_place
            else sum(w * by_place.get(b, 0.0) * reach.get(b, 1.0) for b, w in tables.drivers[place].items())
        )
        if share >= _LEAST_SHARE:
            out[circuit] = share
    return sorted(out.items(), key=lambda i: (-i[1], i[0]))


def _spread(k: Knowledge, geometry: Geometry, opening: float) -> float:
    spans = share_spans(geometry, opening)
    leading = max(("pilot", "needle", "main_jet"), key=lambda c: spans.of(c).middle)
    span = spans.of(leading)
    relative = (span.high - span.low) / _TENTH_TO_NINETIETH / max(span.middle, 0.1)
    m = k.scales.mixture
    return math.hypot(m.residual_sigma, m.lean_within * relative)


#: Field of `FittedParts` -> field of `Geometry`.
DIMENSIONS: Final = {
    "bore_mm": "bore_mm",
    "clip_groove": "groove",
    "grooves": "grooves",
    "needle_straight_mm": "needle_straight_mm",
    "needle_jet_mm": "needle_jet_mm",
    "cutaway_mm": "cutaway_mm",
    "screw_turns": "screw_turns",
    "clip_pitch_mm": "clip_step_mm",
    "power_jet_mm": "power_jet_mm",
}


#: Field of `FittedParts` -> circuit that a family must have to have such a part.
_PART_OF = {
    "main_jet": "main_jet",
    "main_jets_at_hand": "main_jet",
    "pilot_jet": "pilot",
    "pilot_jets_at_hand": "pilot",
    "clip_groove": "needle",
    "grooves": "needle",
    "needle_straight_mm": "needle",
    "needle_jet_mm": "needle",
    "clip_pitch_mm": "needle",
    "first_groove_mm": "needle",
    "needle_taper_mm": "needle",
    "needle_length_mm": "needle",
    "cutaway_mm": "cutaway",
}


def circuits_of(fitted: FittedParts) -> frozenset[str]:
    """The circuits that a carburetor with these parts has."""
    return frozenset(circuit for field, circuit in _PART_OF.items() if getattr(fitted, field) not in (None, ()))


def fitted_parts(family: Family, fitted: FittedParts | None) -> Parts | None:
    """The family's typical geometry with the parts that were named; None where the family has no geometry.

    With only one of needle and needle jet named, the other keeps the typical clearance.

    Raises:
        OutOfRangeError: a dimension is outside what the metering holds for.
        CaseError: a jet that cannot be, parts that this family does not have, or that contradict each other, such as
            a needle thicker than its jet or mixed jet numberings.
    """
    geometry = family_geometry(family)
    if geometry is None:
        return None
    if fitted is None:
        return parts_of(geometry)
    foreign = [
        Problem(field, f"a {family.name.lower()} carburetor has no such part", str(getattr(fitted, field)))
        for field, circuit in _PART_OF.items()
        if getattr(fitted, field) not in (None, ()) and circuit not in family.circuits
    ]
    if foreign:
        raise CaseError(foreign)
    grooves = fitted.grooves or family.grooves
    if fitted.clip_groove is not None and fitted.clip_groove > grooves:
        raise OutOfRangeError("clip groove", fitted.clip_groove, 1, grooves, "")
    named = {
        to: value for name, to in DIMENSIONS.items() if (value := getattr(fitted, name)) is not None
    }
    needle, jet = fitted.needle_straight_mm, fitted.needle_jet_mm
    clearance = geometry.needle_jet_mm - geometry.needle_straight_mm
    if needle is None and jet is not None:
        named["needle_straight_mm"] = round(jet - clearance, 3)
    if jet is None and needle is not None:
        named["needle_jet_mm"] = round(needle + clearance, 3)
    named.setdefault("grooves", grooves)
    named.setdefault("groove", min(geometry.groove, grooves))
    return parts_of(
        with_added_parts(with_parts(geometry, **named), fitted),
        main=_jet("main_jet", fitted.main_jet),
        pilot=_jet("pilot_jet", fitted.pilot_jet),
        main_series=_series(fitted.main_jet, fitted.main_jets_at_hand),
        pilot_series=_series(fitted.pilot_jet, fitted.pilot_jets_at_hand),
    )


def with_added_parts(geometry: Geometry, fitted: FittedParts) -> Geometry:
    """A geometry with the needle's tip where its lengths put it, and the enrichener open if it is on.

    Raises:
        OutOfRangeError: a length of the needle contradicts another.
        CaseError: the enrichener is on, but its jet is not listed.
    """
    lengths = needle_lengths(geometry, fitted)
    tip = geometry.needle_tip
    if lengths is not None and fitted.needle_length_mm is not None:
        tip = tip_leaves_at(geometry.taper_start, lengths, geometry.bore_mm)
    if fitted.enrichener_open and fitted.enrichener_jet_mm is None:
        raise CaseError([Problem("enrichener_jet_mm", "is missing: how large is the jet of the open enrichener?")])
    enrichener = (fitted.enrichener_jet_mm or 0.0) if fitted.enrichener_open else 0.0
    return with_parts(geometry, needle_tip=tip, enrichener_jet_mm=enrichener)


def needle_lengths(geometry: Geometry, fitted: FittedParts) -> NeedleLengths | None:
    """The lengths of the fitted needle; None where it is not said at least where the taper begins.

    Raises:
        OutOfRangeError: a length contradicts another.
        CaseError: a length is listed that says nothing without the start of the taper.
    """
    if fitted.needle_taper_mm is None:
        alone = [f for f in ("needle_length_mm", "first_groove_mm") if getattr(fitted, f) is not None]
        if alone:
            raise CaseError(Problem(f, "says nothing without needle_taper_mm") for f in alone)
        return None
    whole = {} if fitted.needle_length_mm is None else {"length_mm": fitted.needle_length_mm}
    first = _FIRST_GROOVE_MM if fitted.first_groove_mm is None else fitted.first_groove_mm
    return NeedleLengths(first, geometry.clip_step_mm, geometry.grooves, fitted.needle_taper_mm, **whole)


#: Where nobody measured it: the first groove this far from the blunt end; a comparison of two needles cancels it.
_FIRST_GROOVE_MM = 2.0


def with_other_needle(geometry: Geometry, was: FittedParts, now: FittedParts) -> Geometry:
    """A geometry (its clip pitch the new one) whose tapers hang where those of another needle do.

    Raises:
        OutOfRangeError: a length contradicts another, or the taper leaves what the metering holds for.
    """
    pitch = was.clip_pitch_mm or geometry.clip_step_mm
    before = needle_lengths(with_parts(geometry, clip_step_mm=pitch), was)
    after = needle_lengths(geometry, now)
    if before is None or after is None or before == after:
        return geometry
    lower = taper_lowered_mm(before, after) / geometry.bore_mm
    return with_parts(
        geometry,
        taper_start=geometry.taper_start + lower,
        second_taper_start=geometry.second_taper_start + lower,
    )


def _jet(field: str, jet: Jet | None) -> JetSize | None:
    with in_field(field):
        return None if jet is None else JetSize(jet.number, jet.numbering)


def _series(jet: Jet | None, numbers: tuple[float, ...]) -> JetSeries | None:
    if jet is None or not numbers:
        return None
    return JetSeries(jet.numbering, tuple(sorted({*numbers, jet.number})))
