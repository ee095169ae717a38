"""A machine as the metering takes it: its parts, what was taken as typical, and how its settings are named."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from carbdiag.case_schema import FittedParts, Machine
from carbdiag.errors import CaseError, Problem
from carbdiag.family_metering import family_geometry, fitted_parts
from carbdiag.knowledge import Knowledge, family_id, nearest_family
from carbdiag.metering import sizes
from carbdiag.metering_fields import in_field
from carbdiag.records.circuits import Circuit
from carbdiag.records.families import Family
from carbdiag.terms import UNKNOWN_FAMILY, Change


class Fitted(NamedTuple):
    """A machine as the metering takes it; `assumed` says what was taken as typical."""

    family: Family
    parts: sizes.Parts
    listed: FittedParts
    assumed: tuple[str, ...]


def fitted(k: Knowledge, machine: Machine) -> Fitted:
    """The machine as the metering takes it: what is fitted, and the dimensions of its family for the rest.

    Raises:
        CaseError: the family has no dimensions, or a part does not fit it.
    """
    family = _family(k, machine)
    listed = machine.parts or FittedParts()
    if family_geometry(family) is None:
        raise CaseError(
            [Problem("machine.family", f"no dimensions are known here for a {family.name.lower()}", family.id)]
        )
    with in_field("machine.parts"):
        parts = fitted_parts(family, listed)
    assert parts is not None  # the family has a geometry
    screw = machine.mixture_screw or (
        family.mixture_screw.two_stroke if _strokes(machine, family) == 2 else family.mixture_screw.four_stroke
    )
    parts = replace(parts, geometry=replace(parts.geometry, screw=screw))
    return Fitted(family, parts, listed, tuple(_assumed(listed, family)))


def _family(k: Knowledge, machine: Machine) -> Family:
    known = tuple(k.families)
    if machine.family == UNKNOWN_FAMILY:
        raise CaseError([Problem("machine.family", "name the kind of carburetor", machine.family, known)])
    name = family_id(k, machine.family)
    if name not in k.families:
        message = f"unknown family {machine.family!r}"
        raise CaseError(
            [Problem("machine.family", message, machine.family, known, nearest_family(k, machine.family))]
        )
    family = k.families[name]
    if machine.strokes is not None and machine.strokes not in family.strokes:
        allowed = tuple(str(s) for s in family.strokes)
        message = f"a {family.name.lower()} is not known on a {machine.strokes}-stroke here"
        raise CaseError([Problem("machine.strokes", message, str(machine.strokes), allowed)])
    return family


def _strokes(machine: Machine, family: Family) -> int:
    return machine.strokes or family.strokes[0]


def _assumed(listed: FittedParts, family: Family) -> Iterator[str]:
    if "main_jet" not in family.circuits:
        yield "What its needles and nozzle measure is taken as typical."
        return
    words = {
        "main_jet": "main jet",
        "pilot_jet": "pilot jet",
        "clip_groove": "clip groove",
        "needle_straight_mm": "needle diameter",
        "needle_jet_mm": "needle jet",
        "cutaway_mm": "cutaway",
        "bore_mm": "bore",
    }
    missing = [word for field, word in words.items() if getattr(listed, field) is None]
    if missing:
        yield f"Not listed, so taken as typical: {', '.join(missing)}. Needle tapers are always the typical ones."
    for name, jet in (("main", listed.main_jet), ("pilot", listed.pilot_jet)):
        if jet is not None and jet.numbering == "flow":
            yield (
                f"The {name} jet is numbered by flow: changes of it are exact, but how much fuel it carries is taken"
                " from a typical jet."
            )


def adjustable(k: Knowledge, family: Family, part: str) -> Circuit | None:
    """The needle of a family that takes the place of a jet, such as the high-speed needle of the main jet."""
    if part in family.circuits:
        return None
    mine = (k.circuits[c] for c in family.circuits)
    return next((c for c in mine if c.meters_as and c.meters_as.part == part and c.meters_as.step_percent), None)


def unit_of(parts: sizes.Parts, part: str) -> str:
    """In what a size of a part is counted."""
    if part in ("main_jet", "pilot"):
        jet = parts.main if part == "main_jet" else parts.pilot
        if jet is None:
            return "jet area"
        return "bore number (1/100 mm)" if jet.numbering == "bore" else "flow number (cc/min)"
    return {
        "needle": "groove from the top",
        "needle_diameter": "mm",
        "cutaway": "mm",
        "float_level": "mm of fuel level",
    }.get(part, "turns")


def turn_words(screw: str, way: Change) -> str:
    """Which way a mixture screw is turned, in words."""
    out = (screw == "fuel_screw") == (way is Change.RICHER)
    side = "fuel screw (engine side)" if screw == "fuel_screw" else "air screw (filter side)"
    return f"turn the {side} a quarter turn {'OUT' if out else 'IN, never past a light touch of its seat'}"
