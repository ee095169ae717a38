"""The mixture from closed to full throttle, before and after a change of parts, air or fuel."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from carbdiag import tuning_schema as t
from carbdiag.case_schema import FittedParts, Jet
from carbdiag.errors import CaseError, Problem, must_be
from carbdiag.family_metering import (
    DIMENSIONS,
    with_added_parts,
    with_other_needle,
)
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.lean_risk import WIDE_OPEN
from carbdiag.metering import jet_series
from carbdiag.metering.added_fuel import squirt_change_percent
from carbdiag.metering.fuel import Fuel, fuel_named, premix
from carbdiag.metering.geometry import with_parts
from carbdiag.metering.shares import CircuitShares
from carbdiag.metering.sweep import SetUp, SweepRow
from carbdiag.metering.sweep import sweep as metering_sweep
from carbdiag.metering_fields import in_field
from carbdiag.records.bands import Place
from carbdiag.records.families import Family
from carbdiag.tuning.air import air_of
from carbdiag.tuning.machine import Fitted, adjustable, fitted
from carbdiag.tuning.mixtures import mixture_span, steady_bands

SWEEP_HONESTY: Final = (
    "Relative to your own working set-up, never an absolute mixture. Trust the direction and the order of size;"
    " circuits near the edge of a band share it with their neighbors. Below 1/16 opening and while the throttle moves"
    " nothing is promised."
)
_CIRCUIT_OF_FIELD: Final = {
    "main_jet": "main_jet",
    "pilot_jet": "pilot",
    "clip_groove": "needle",
    "needle_straight_mm": "needle",
    "needle_jet_mm": "needle",
    "cutaway_mm": "cutaway",
    "screw_turns": "mixture_screw",
}


@dataclass(frozen=True)
class _State:
    """A set-up on its way through the changes: as the metering takes it, and as the rider wrote it."""

    set_up: SetUp
    parts: FittedParts
    air: t.AirInput | None
    fuel: str
    premix_ratio: float | None


def sweep(request: t.SweepRequest, knowledge: Knowledge | None = None) -> t.SweepAnswer:
    """The mixture from closed to full throttle, before and after a change, and which circuit feeds what.

    Args:
        request: the set-up that ran right, what it is now, and what is planned: parts, air, fuel.
        knowledge: the records to reason with; without it, the shipped ones.

    Returns:
        `bands` by throttle opening, and `rows` from closed (0) to full (1). Mixture is ln(lambda / lambda of the set-up
        that ran right): negative is richer, 0.05 is about 5 % leaner.

    Raises:
        CaseError: the family is not known, or parts, airs or fuels are out of range or cannot be compared.
    """
    must_be(request, t.SweepRequest)
    k = the_knowledge(knowledge)
    machine = fitted(k, request.machine)
    start = _working(machine, request.working)
    before = _changed(start, request.before, "before")
    after = _changed(before, request.after, "after")
    places, n = steady_bands(k), request.points
    openings = [opening for _, opening in places] + [i / (n - 1) for i in range(n)]
    found = metering_sweep(start.set_up, before.set_up, after.set_up, openings)
    points = [_point(row) for row in found.rows]
    bands = [_band(*place, point) for place, point in zip(places, points[: len(places)], strict=True)]
    changed = before != after
    return t.SweepAnswer(
        edition=k.edition,
        family=machine.family.id,
        family_name=machine.family.name,
        axis=found.axis,
        fed_by=t.FedBy.trusted(**{part: _fed_by(k, machine.family, part) for part in t.FedBy.model_fields}),
        before_is=_differs(start, before) or "as it ran right",
        after_is=_differs(start, after) or "as it ran right",
        changed=changed,
        summary=_sweep_summary(bands, changed),
        bands=tuple(bands),
        rows=tuple(points[len(places) :]),
        notes=(*_corners(start, after), *_squirt(start, after), *_added(after, bands), *machine.assumed),
        cautions=k.cautions_for(_sweep_cautions(k, before, after, bands)),
        honesty=SWEEP_HONESTY,
    )


def _point(row: SweepRow) -> t.SweepPoint:
    return t.SweepPoint.trusted(
        opening=round(row.opening, 4),
        before=mixture_span(row.before.low, row.before.middle, row.before.high),
        after=mixture_span(row.after.low, row.after.middle, row.after.high),
        shares=_shares(row.shares),
    )


def _band(place: Place, opening: float, point: t.SweepPoint) -> t.SweepBand:
    return t.SweepBand.trusted(
        place=place.id, name=place.name, opening=opening, before=point.before, after=point.after, shares=point.shares
    )


def _fed_by(k: Knowledge, family: Family, part: str) -> str:
    needle = adjustable(k, family, part)
    return needle.id.replace("_", " ") if needle else part.replace("_", " ")


def _squirt(start: _State, after: _State) -> Iterator[str]:
    """What another leak jet does to the pump, which no steady opening shows."""
    was, now = start.parts, after.parts
    if was.leak_jet_mm is None or now.leak_jet_mm is None or was.leak_jet_mm == now.leak_jet_mm:
        return
    if now.pump_nozzle_mm is None:
        yield "The leak jet acts on the pump only; list pump_nozzle_mm to see by how much the squirt changes."
        return
    with in_field("after.parts.leak_jet_mm"):
        change = squirt_change_percent(now.pump_nozzle_mm, was.leak_jet_mm, now.leak_jet_mm)
    yield (
        f"The leak jet acts on the pump only: on a fast opening its squirt is about {abs(change):.0f} %"
        f" {'larger' if change > 0 else 'smaller'}; steady openings stay as they are."
    )


def _added(after: _State, bands: Iterable[t.SweepBand]) -> Iterator[str]:
    """What the reader must know of fuel that joins beside pilot and main."""
    geometry = after.set_up.geometry
    if geometry.enrichener_jet_mm > 0:
        yield "The enrichener's air passage is a typical one: near idle read only that it is much richer."
    fed = [f"{b.shares.added:.0%} at {b.name}" for b in bands if b.shares.added >= 0.01]
    if fed:
        yield f"Fuel from beside pilot, needle and main jet: {', '.join(fed)}."
    if geometry.power_jet_mm > 0:
        yield "The power jet is taken to start past half opening and half of full flow: its spout is a typical one."
    below_middle = (geometry.grooves + 1) / 2 - geometry.groove
    top = geometry.needle_tip + below_middle * geometry.clip_step_mm / geometry.bore_mm
    if geometry.has_needle and top <= 1.0:
        yield f"This needle is too short: its tip leaves the jet at {top:.0%} lift, and the main jet meters alone."


def _working(machine: Fitted, given: t.Conditions) -> _State:
    air = None if given.air is None else air_of(given.air, "working.air")
    fuel = _fuel(given.fuel, given.premix_ratio)
    geometry = machine.parts.geometry
    set_up = SetUp(geometry, air, fuel) if air is not None else SetUp(geometry, fuel=fuel)
    return _State(set_up, machine.listed, given.air, given.fuel, given.premix_ratio)


def _fuel(name: str, ratio: float | None) -> Fuel:
    fuel = fuel_named(name)
    return fuel if ratio is None else premix(fuel, ratio)


def _changed(state: _State, change: t.ChangedSetUp, path: str) -> _State:
    geometry, parts = state.set_up.geometry, state.parts
    given = {
        f: v for f in t.ChangedParts.model_fields if (v := getattr(change.parts, f)) is not None
    }
    unlisted = [f for f in given if getattr(parts, f) is None]
    if unlisted:
        message = "cannot be compared: machine.parts does not say what is fitted"
        raise CaseError(Problem(f"{path}.parts.{f}", message) for f in unlisted)
    for field, name in (("main_jet", "main_jet_mm"), ("pilot_jet", "pilot_jet_mm")):
        if field in given:
            with in_field(f"{path}.parts.{field}"):
                now, then = (jet_series.JetSize(j.number, j.numbering) for j in (given[field], getattr(parts, field)))
                ratio = now.area_over(then)
            with in_field(f"{path}.parts"):
                geometry = with_parts(geometry, **{name: getattr(geometry, name) * math.sqrt(ratio)})
    measures = {DIMENSIONS[f]: v for f, v in given.items() if f in DIMENSIONS}
    with in_field(f"{path}.parts"):
        geometry = with_parts(geometry, **measures)
        now_fitted = parts.model_copy(update=given)
        geometry = with_added_parts(with_other_needle(geometry, parts, now_fitted), now_fitted)
    air = state.set_up.air
    if change.air is not None:
        if state.air is None:
            message = "is missing: another air can only be compared with the air in which it ran right"
            raise CaseError([Problem("working.air", message)])
        air = air_of(change.air, f"{path}.air")
    name = change.fuel or state.fuel
    ratio_now = change.premix_ratio if change.premix_ratio is not None else state.premix_ratio
    return _State(
        SetUp(geometry, air, _fuel(name, ratio_now)),
        now_fitted,
        change.air or state.air,
        name,
        ratio_now,
    )


def _shares(found: CircuitShares) -> t.BandShares:
    return t.BandShares.trusted(
        pilot=round(found.pilot, 4),
        needle=round(found.needle, 4),
        main_jet=round(found.main_jet, 4),
        cutaway=round(found.cutaway, 4),
        added=round(found.added, 4),
    )


def _differences(first: _State, second: _State) -> Iterator[tuple[str, str]]:
    """Each thing that differs: field, and in words."""
    for field in t.ChangedParts.model_fields:
        old, new = getattr(first.parts, field), getattr(second.parts, field)
        if old != new:
            words = field.removesuffix("_mm").replace("_", " ")
            if isinstance(old, Jet) and isinstance(new, Jet):
                old, new = f"{old.number:g}", f"{new.number:g}"
            elif isinstance(new, bool):
                words, old, new = field.removesuffix("_open"), *("open" if v else "shut" for v in (old, new))
            yield field, f"{words} {old} to {new}" + (" mm" if field.endswith("_mm") else "")
    if second.air is not None and first.air != second.air:
        where = (
            f"{second.air.elevation_m:g} m" if second.air.elevation_m is not None else f"{second.air.station_hpa:g} hPa"
        )
        yield "air", f"air at {where}, {second.air.temperature_c:g} C"
    if first.fuel != second.fuel:
        yield "fuel", f"{first.fuel} to {second.fuel}"
    if first.premix_ratio != second.premix_ratio:
        old = "no oil" if first.premix_ratio is None else f"{first.premix_ratio:g}:1"
        yield "premix_ratio", f"premix {old} to {second.premix_ratio:g}:1"


def _differs(first: _State, second: _State) -> str:
    return "; ".join(words for _, words in _differences(first, second))


def _sweep_summary(bands: Sequence[t.SweepBand], changed: bool) -> str:
    def told(which: str) -> str:
        return "; ".join(f"{b.name} {getattr(b, which).words}" for b in (bands[0], bands[3], bands[-1]))

    if not changed and all(b.before.middle == 0 for b in bands):
        return "Nothing differs from the set-up that ran right; the shares say which circuit feeds which opening."
    text = f"Now: {told('before')}."
    return f"{text} After the change: {told('after')}." if changed else text


def _corners(start: _State, after: _State) -> Iterator[str]:
    needle = {"clip_groove", "needle_straight_mm", "needle_jet_mm"}
    if needle & {field for field, _ in _differences(start, after)}:
        yield (
            "Sharp steps of the mixture are where a taper of the typical needle begins; on your needle they lie"
            " elsewhere."
        )


def _sweep_cautions(k: Knowledge, before: _State, after: _State, bands: Sequence[t.SweepBand]) -> Iterator[str]:
    changed = [field for field, _ in _differences(before, after)]
    wide = [b for b in bands if b.place in WIDE_OPEN]
    if any(m.high > k.scales.mixture.right_within for b in wide for m in (b.before, b.after)):
        yield from k.cautions_when("lean_wide_open")
    if "methanol" in (before.fuel, after.fuel):
        yield from k.cautions_when("methanol")
    if len(changed) > 1:
        yield from k.cautions_when("several_changes")
    for field in changed:
        circuit = k.circuits.get(_CIRCUIT_OF_FIELD.get(field, ""))
        yield from circuit.cautions if circuit else ()
    if "air" in changed or before.air != after.air or any(b.before.middle < -0.01 for b in wide):
        yield from k.cautions_when("other_air")
    yield from k.cautions_when("always")
