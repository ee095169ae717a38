"""The metering physics for a rider: the air, a machine moved to other air, a correction with its size, a sweep.

Everything is relative to a set-up that ran right, goes richer when in doubt, and says what it is worth.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, Final, Literal, NamedTuple

from carbdiag import schema
from carbdiag import tuning_schema as t
from carbdiag.errors import CaseError, OutOfRangeError, Problem, nearest
from carbdiag.family_metering import (
    family_geometry,
    family_tables,
    fitted_parts,
    in_control,
    with_added_parts,
    with_other_needle,
)
from carbdiag.knowledge import Knowledge, family_id, nearest_family, shipped_knowledge
from carbdiag.metering import air as metering_air
from carbdiag.metering import relocation, sizes
from carbdiag.metering.added_fuel import squirt_change_percent
from carbdiag.metering.fuel import Fuel, fuel_named, premix
from carbdiag.metering.geometry import Geometry, with_parts
from carbdiag.metering.shares import CircuitShares
from carbdiag.metering.sweep import SetUp
from carbdiag.metering.sweep import sweep as metering_sweep
from carbdiag.terms import UNKNOWN_FAMILY, Change, Level

AIR_HONESTY: Final = (
    "Density is good to about 0.1 % for the pressure, temperature and humidity given; a thermometer that is 1 C off"
    " costs 0.3 %, an elevation without a barometer up to 3 %."
)
RESIZE_HONESTY: Final = (
    "Relative to a set-up that ran right in the first air. Good to the nearest main jet either way, about 3 % of fuel,"
    " and to half a groove; the screw by direction only. Published charts disagree among themselves (jet area as"
    " density to the power 0.3 to 1.4); the range shown spans 0.5 to 1.0. For idle and quick throttle movements nothing"
    " is promised."
)
CORRECTION_HONESTY: Final = (
    "A size to try, not a promise: good to the nearest jet size either way and to half a groove, the screw by direction"
    " only. The next size is chosen on the rich side when in doubt. What the engine shows afterwards decides."
)
SWEEP_HONESTY: Final = (
    "Relative to your own working set-up, never an absolute mixture. Trust the direction and the order of size;"
    " circuits near the edge of a band share it with their neighbors. Below 1/16 opening and while the throttle moves"
    " nothing is promised."
)

_WIDE: Final = ("three_quarter", "full")
_MOVED: Final = "rejet_for_air"
_SAID_IN_HONESTY: Final = ("Relative to", "Accuracy:")
#: A change that gives this many times what is wanted is told apart.
_OVERSHOOTS: Final = 1.3
#: Part -> circuit that the knowledge keeps its words under.
_CIRCUIT: Final = {"needle_diameter": "needle"}
_PART_NAME: Final = {"needle_diameter": "Jet needle (diameter of its straight part)"}
_FIELD_OF_PART: Final = {
    "main_jet": "main_jet",
    "pilot": "pilot_jet",
    "needle": "clip_groove",
    "needle_diameter": "needle_straight_mm",
    "cutaway": "cutaway_mm",
}
_CIRCUIT_OF_FIELD: Final = {
    "main_jet": "main_jet",
    "pilot_jet": "pilot",
    "clip_groove": "needle",
    "needle_straight_mm": "needle",
    "needle_jet_mm": "needle",
    "cutaway_mm": "cutaway",
    "screw_turns": "mixture_screw",
}
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
_GEOMETRY_OF_FIELD: Final = {
    "clip_groove": "groove",
    "needle_straight_mm": "needle_straight_mm",
    "needle_jet_mm": "needle_jet_mm",
    "cutaway_mm": "cutaway_mm",
    "screw_turns": "screw_turns",
    "clip_pitch_mm": "clip_step_mm",
    "power_jet_mm": "power_jet_mm",
}


@contextmanager
def _in_field(path: str) -> Iterator[None]:
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


# ---------------------------------------------------------------------------------------------------------
# Air


def air_state(request: t.AirInput) -> t.AirAnswer:
    """The air in numbers, and from which kind of pressure.

    Raises:
        CaseError: a value is out of range.
    """
    return _air_answer(request, _air(request, ""))


def _air(request: t.AirInput, path: str) -> metering_air.AirState:
    humidity = request.humidity_percent
    with _in_field(path):
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


def _air_answer(request: t.AirInput, state: metering_air.AirState) -> t.AirAnswer:
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


# ---------------------------------------------------------------------------------------------------------
# The machine


class _Fitted(NamedTuple):
    """A machine as the metering takes it; `assumed` says what was taken as typical."""

    family: schema.Family
    parts: sizes.Parts
    listed: schema.FittedParts
    assumed: tuple[str, ...]


def _fitted(k: Knowledge, machine: schema.Machine) -> _Fitted:
    family = _family(k, machine)
    listed = machine.parts or schema.FittedParts()
    geometry = family_geometry(family)
    if geometry is None:
        raise CaseError(
            [Problem("machine.family", f"no dimensions are known here for a {family.name.lower()}", family.id)]
        )
    where = "machine.parts"
    for name, jet in (("main_jet", listed.main_jet), ("pilot_jet", listed.pilot_jet)):
        if jet is not None:
            with _in_field(f"{where}.{name}"):
                sizes.JetSize(jet.number, jet.numbering)
    with _in_field(where):
        parts = fitted_parts(family, _with_clearance(listed, geometry))
    assert parts is not None  # the family has a geometry
    screw = machine.mixture_screw or (
        family.mixture_screw.two_stroke if _strokes(machine, family) == 2 else family.mixture_screw.four_stroke
    )
    parts = replace(parts, geometry=replace(parts.geometry, screw=screw))
    return _Fitted(family, parts, listed, tuple(_assumed(listed, family)))


def _family(k: Knowledge, machine: schema.Machine) -> schema.Family:
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


def _strokes(machine: schema.Machine, family: schema.Family) -> int:
    return machine.strokes or family.strokes[0]


def _with_clearance(listed: schema.FittedParts, typical: Geometry) -> schema.FittedParts:
    """With only one of needle and needle jet listed, the other keeps the typical clearance."""
    clearance = typical.needle_jet_mm - typical.needle_straight_mm
    needle, jet = listed.needle_straight_mm, listed.needle_jet_mm
    if needle is None and jet is not None:
        return listed.model_copy(update={"needle_straight_mm": round(jet - clearance, 3)})
    if jet is None and needle is not None:
        return listed.model_copy(update={"needle_jet_mm": round(needle + clearance, 3)})
    return listed


def _assumed(listed: schema.FittedParts, family: schema.Family) -> Iterator[str]:
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


# ---------------------------------------------------------------------------------------------------------
# Words for mixtures


def _percent(x: float) -> float:
    """A deviation as a rider's percent: + lean, - rich."""
    return 100.0 * (math.expm1(x) if x > 0 else -math.expm1(-x))


def _side(percent: float) -> str:
    whole = round(abs(percent))
    return "unchanged" if whole == 0 else f"{whole} % {'leaner' if percent > 0 else 'richer'}"


def mixture_span(low: float, middle: float, high: float) -> t.MixtureSpan:
    """A mixture with its interval, in numbers and words.

    >>> mixture_span(-0.09, -0.07, -0.06).words
    '7 % richer (6 to 9 %)'
    >>> mixture_span(-0.02, 0.01, 0.04).words
    '1 % leaner (from 2 % richer to 4 % leaner)'
    """
    a, m, b = (_percent(v) for v in (low, middle, high))
    ends = sorted((round(abs(a)), round(abs(b))))
    if round(a) == round(b):
        words = _side(m)
    elif (a < -0.5) and (b > 0.5):
        words = f"{_side(m)} (from {_side(a)} to {_side(b)})"
    else:
        words = f"{_side(m)} ({ends[0]} to {ends[1]} %)"
        if round(m) == 0:
            words = f"hardly changed (up to {ends[1]} % {'leaner' if b > -a else 'richer'})"
    return t.MixtureSpan.trusted(low=round(low, 4), middle=round(middle, 4), high=round(high, 4), words=words)


def _bands(k: Knowledge) -> list[tuple[schema.Place, float]]:
    return [(p, p.opening[1]) for p in k.places.values() if p.opening is not None]


def _when(k: Knowledge, *occasions: schema.SizingOccasion) -> Iterator[str]:
    """The cautions that belong to these occasions, in their order."""
    for occasion in occasions:
        yield from (c.id for c in k.cautions.values() if occasion in c.sizing)


# ---------------------------------------------------------------------------------------------------------
# Moving the machine


def resize(request: t.ResizeRequest, knowledge: Knowledge | None = None) -> t.ResizeAnswer:
    """What to change when a machine set in one air is ridden in another.

    Raises:
        CaseError: the family is not known, or a part or an air is out of range or contradicts another.
    """
    k = knowledge or shipped_knowledge()
    machine = _fitted(k, request.machine)
    air_set, air_now = _air(request.set, "set"), _air(request.now, "now")
    with _in_field(""):
        found = relocation.relocate(air_set, air_now, machine.parts)
    direction: Literal["richer", "leaner", "leave"] = (
        "leave" if found.direction == "leave" else "richer" if found.direction == "richer" else "leaner"
    )
    tables = family_tables(k, machine.family)
    bands = []
    for place, opening in _bands(k):
        x = metering_air.air_shift_x(air_set, air_now, opening)
        circuits = tuple(c for c, _ in in_control(k, tables, place.id)[:3])
        bands.append(
            t.UntouchedBand(
                place=place.id,
                name=place.name,
                opening=opening,
                mixture=mixture_span(x.low, x.middle, x.high),
                circuits=circuits,
            )
        )
    moves = () if direction == "leave" else tuple(_moves(k, machine, found))
    action = _moved_by(k, machine.family) if moves else None
    notes = list(machine.assumed)
    if moves and found.clip_start == 0 and machine.parts.geometry.has_needle:
        notes.insert(0, "Leave the needle clip: with the new main jet, half throttle wants less than a groove.")
    return t.ResizeAnswer(
        edition=k.edition,
        family=machine.family.id,
        family_name=machine.family.name,
        set=_air_answer(request.set, air_set),
        now=_air_answer(request.now, air_now),
        density_ratio=round(found.density_ratio, 4),
        direction=direction,
        summary=_moved_summary(found.density_ratio, bands, moves),
        bands=tuple(bands),
        moves=moves,
        steps=action.steps if action else (),
        verify=action.verify if action else None,
        put_back=action.put_back if action else None,
        warnings=tuple(w for w in found.warnings if not w.startswith(_SAID_IN_HONESTY)),
        notes=tuple(notes),
        cautions=k.cautions_for(
            (*(action.cautions if action else _when(k, "always")), *(c.id for m in moves for c in m.cautions))
        ),
        honesty=RESIZE_HONESTY,
    )


def _moved_summary(ratio: float, bands: Sequence[t.UntouchedBand], moves: Sequence[t.PartMove]) -> str:
    if not moves:
        return "The air is the same within 1 % for the jets: change nothing."
    thinner = "thinner" if ratio < 1 else "denser"
    full = bands[-1]
    text = (
        f"For the jets the air is {abs(100 * (ratio - 1)):.0f} % {thinner} than the one it was set for. Left as it is,"
        f" {full.name} runs {full.mixture.words}."
    )
    first = moves[0]
    if first.present is not None and first.start_with is not None:
        keep = first.present == first.start_with
        number = f"{first.start_with:g}"
        text += f" Keep the main jet {number} at first." if keep else f" Start with main jet {number}."
    return text


def _adjustable(k: Knowledge, family: schema.Family, part: str) -> schema.Circuit | None:
    """The needle of a family that takes the place of a jet, such as the high-speed needle of the main jet."""
    if part in family.circuits:
        return None
    mine = (k.circuits[c] for c in family.circuits)
    return next((c for c in mine if c.meters_as and c.meters_as.part == part and c.meters_as.step_percent), None)


def _moved_by(k: Knowledge, family: schema.Family) -> schema.Action | None:
    """How the settings are moved to other air: by jets, or by the needles that stand in for them."""
    needle = _adjustable(k, family, "main_jet")
    return k.actions.get(_MOVED if needle is None else needle.leaner.action or _MOVED)


def _needle_move(k: Knowledge, needle: schema.Circuit, way: Change, factor: metering_air.Span) -> t.PartMove:
    assert needle.meters_as is not None
    assert needle.meters_as.step_percent is not None
    ends = sorted(abs(100.0 * (f - 1.0)) for f in (factor.low, factor.high))
    few = [f"{e / needle.meters_as.step_percent:.1f}" for e in ends]
    word = "more" if way is Change.RICHER else "less"
    return _part_move(
        k,
        needle.id,
        way,
        unit="turns",
        amount=f"{ends[0]:.0f} to {ends[1]:.0f} % {word}, roughly {few[0]} to {few[1]} times {needle.step};"
        " go by sound and tachometer, no size is promised",
    )


def _moves(k: Knowledge, machine: _Fitted, found: relocation.Relocation) -> Iterator[t.PartMove]:
    way = Change(found.direction)
    for part, factor, jet in (
        ("main_jet", found.main_area_factor, found.main),
        ("pilot", found.pilot_area_factor, found.pilot),
    ):
        if part == "pilot" and found.clip_start:
            yield _clip_move(k, machine, found)
        needle = _adjustable(k, machine.family, part)
        if needle is not None:
            yield _needle_move(k, needle, way, factor)
            continue
        ends = sorted(round(abs(100.0 * (f - 1.0))) for f in (factor.low, factor.high))
        word = "more" if way is Change.RICHER else "less"
        if jet is None:
            sure = ends[-1] if way is Change.RICHER else ends[0]
            amount = f"{ends[0]} to {ends[1]} % {word} jet area; start with {sure} %"
        else:
            span = f"{jet.first:g} to {jet.last:g}" if jet.first != jet.last else f"{jet.first:g}"
            start = "keep" if jet.start_with == jet.present else "fit"
            amount = f"{start} {jet.start_with:g} first; the range is {span} ({ends[0]} to {ends[1]} % {word} jet area)"
        yield _part_move(
            k,
            part,
            way,
            unit=_unit(machine.parts, part),
            present=jet.present if jet else None,
            start_with=jet.start_with if jet else None,
            least=jet.first if jet else None,
            most=jet.last if jet else None,
            amount=amount,
        )
    if "mixture_screw" not in machine.family.circuits:
        return
    turn = _turn(machine.parts.geometry.screw, way)
    yield _part_move(
        k,
        "mixture_screw",
        way,
        unit="turns",
        amount=f"only if idle or the first touch of throttle is off: {turn}; no size is promised",
        do=turn[:1].upper() + turn[1:] + ".",
    )


def _clip_move(k: Knowledge, machine: _Fitted, found: relocation.Relocation) -> t.PartMove:
    start, present = found.clip_start, machine.listed.clip_groove
    way = Change.RICHER if start > 0 else Change.LEANER
    count = f"{abs(start)} groove{'s' if abs(start) > 1 else ''} {way.value}"
    wants = sorted(abs(v) for v in (found.clip_grooves.low, found.clip_grooves.high))
    return _part_move(
        k,
        "needle",
        way,
        unit="groove from the top",
        present=present,
        start_with=None if present is None else present + start,
        amount=f"{count}, only after the main jet and only if half throttle is still off"
        f" (wanted {wants[0]:.1f} to {wants[1]:.1f} grooves)",
    )


def _part_move(k: Knowledge, part: str, way: Change, **values: Any) -> t.PartMove:
    circuit = k.circuits[part]
    setting = circuit.richer if way is Change.RICHER else circuit.leaner
    own = {"do": setting.do} | values
    return t.PartMove(
        part=part,
        name=circuit.name,
        direction=way,
        verify=circuit.verify,
        put_back=circuit.put_back,
        cautions=k.cautions_for(circuit.cautions),
        **own,
    )


def _turn(screw: str, way: Change) -> str:
    out = (screw == "fuel_screw") == (way is Change.RICHER)
    side = "fuel screw (engine side)" if screw == "fuel_screw" else "air screw (filter side)"
    return f"turn the {side} a quarter turn {'OUT' if out else 'IN, never past a light touch of its seat'}"


def _unit(parts: sizes.Parts, part: str) -> str:
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


# ---------------------------------------------------------------------------------------------------------
# A correction


def correct(request: t.CorrectionRequest, knowledge: Knowledge | None = None) -> t.CorrectionAnswer:
    """Which part, which way and to which existing size, for a mixture that is off at one opening.

    Never leaner at three-quarter or full throttle unless both chances of lean are given and below the limit of the
    scales file.

    Raises:
        CaseError: the family or the opening is not known, or a part is out of range or contradicts another.
    """
    k = knowledge or shipped_knowledge()
    machine = _fitted(k, request.machine)
    place, opening = _band(k, request.at)
    told, mean, spread = _told(k, request, place)
    suitable = sizes.parts_for_opening(machine.parts.geometry, opening)
    found = _sized(k, request, machine.parts, opening, mean, spread)
    circuit = k.circuits[_CIRCUIT.get(found.part, found.part)]
    direction: Literal["richer", "leaner", "none"] = (
        "richer" if found.direction == "richer" else "leaner" if found.direction == "leaner" else "none"
    )
    notes = [*found.notes, *_lambda_notes(request), *machine.assumed]
    refused = found.refused or None
    if refused and mean < 0 and None in (request.p_lean_three_quarter, request.p_lean_full):
        notes.insert(
            0,
            "The chances of lean at three-quarter and full throttle were not given, so both count as lean. A diagnosis"
            " states them; give p_lean_three_quarter and p_lean_full.",
        )
    answer = t.CorrectionAnswer(
        edition=k.edition,
        family=machine.family.id,
        family_name=machine.family.name,
        at=place.id,
        at_name=place.name,
        opening=opening,
        told=told,
        part=found.part,
        name=_PART_NAME.get(found.part, circuit.name),
        circuit=circuit.id,
        direction=direction,
        amount=_amount(found, place.name, direction),
        fuel_percent_low=round(found.percent.low, 2),
        fuel_percent=round(found.percent.middle, 2),
        fuel_percent_high=round(found.percent.high, 2),
        unit=_unit(machine.parts, found.part),
        refused=refused,
        suitable=suitable,
        before_this=tuple(_before(k, circuit.id)),
        notes=tuple(notes),
        cautions=k.cautions_for(_when(k, "correction", "always")),
        honesty=CORRECTION_HONESTY,
    )
    return answer if direction == "none" else _spelled_out(k, machine, found, circuit, answer)


def _band(k: Knowledge, at: str) -> tuple[schema.Place, float]:
    bands = {p.id: (p, opening) for p, opening in _bands(k)}
    if at not in bands:
        message = f"{at!r} is not a steady throttle opening"
        raise CaseError([Problem("at", message, at, tuple(bands), nearest(at, bands))])
    return bands[at]


def _told(k: Knowledge, request: t.CorrectionRequest, place: schema.Place) -> tuple[str, float, float]:
    """What was told, in words, and as mean and standard deviation of x."""
    m = k.scales.mixture
    if request.lambda_ is not None:
        assert place.lambda_wanted is not None
        x = math.log(request.lambda_ / place.lambda_wanted)
        spread = getattr(m.lambda_sigma, request.protocol)
        off = _side(_percent(x)).replace("leaner", "lean").replace("richer", "rich").replace("unchanged", "right")
        return (
            f"lambda {request.lambda_:g} where about {place.lambda_wanted:g} is wanted: {off}",
            x,
            min(spread, 0.2),
        )
    level = request.mixture
    assert level is not None
    if level is Level.RIGHT:
        return f"right (within {100 * m.right_within:.0f} %)", 0.0, m.right_within / 2
    sign = 1.0 if level in (Level.LEAN, Level.VERY_LEAN) else -1.0
    side = "lean" if sign > 0 else "rich"
    if level in (Level.VERY_LEAN, Level.VERY_RICH):
        d = k.scales.decision
        return f"very {side} (more than {100 * m.lean_within:.0f} %)", sign * d.very_deviation, d.very_spread
    middle, half = (m.right_within + m.lean_within) / 2, (m.lean_within - m.right_within) / 2
    span = f"{100 * m.right_within:.0f} to {100 * m.lean_within:.0f} %"
    return f"{side} ({span})", sign * middle, half / math.sqrt(3)


def _sized(
    k: Knowledge,
    request: t.CorrectionRequest,
    parts: sizes.Parts,
    opening: float,
    mean: float,
    spread: float,
) -> sizes.Correction:
    first = request.part or sizes.parts_for_opening(parts.geometry, opening)[0]
    if abs(mean) > k.scales.decision.most_deviation:
        far = f"{abs(_percent(mean)):.0f} % is more than a setting explains: look for the fault first."
        return sizes.Correction(first, opening, "none", "", wanted_percent=_percent(mean), refused=far)
    if request.mixture is Level.RIGHT:
        return sizes.Correction(first, opening, "none", "", notes=("The mixture is right here: leave it.",))
    limits = k.scales.decision
    chances = {
        "p_lean_three_quarter": 1.0 if request.p_lean_three_quarter is None else request.p_lean_three_quarter,
        "p_lean_full": 1.0 if request.p_lean_full is None else request.p_lean_full,
        "lean_cost": limits.lean_cost,
        "lean_limit": limits.lean_is_possible,
    }
    deviation = sizes.deviation_normal(mean, spread)
    with _in_field(""):
        if request.part is None:
            return sizes.suggest_correction(parts, opening, deviation, **chances)
        return sizes.size_correction(parts, request.part, opening, deviation, **chances)


def _lambda_notes(request: t.CorrectionRequest) -> Iterator[str]:
    if request.lambda_ is not None:
        yield "Lambda reads falsely lean with a misfire, an exhaust leak or on a two-stroke: rule those out first."


def _amount(found: sizes.Correction, where: str, direction: str) -> str:
    if direction == "none":
        return "no change"
    word = "more" if found.percent.middle > 0 else "less"
    ends = sorted(round(abs(v)) for v in (found.percent.low, found.percent.high))
    gives = f"{ends[0]} to {ends[1]} %" if ends[0] != ends[1] else f"{ends[0]} %"
    wanted = f"about {abs(found.wanted_percent):.0f} % {word} fuel is wanted at {where}"
    if found.part == "mixture_screw":
        return f"{wanted}; the screw gives the direction only"
    return f"{wanted}; this change gives {gives}"


def _before(k: Knowledge, circuit: str) -> Iterator[str]:
    rank = next((s.rank for s in k.tuning_order.values() if circuit in s.circuits), 0)
    for stage in k.tuning_order.values():
        if stage.rank < rank:
            yield f"{stage.name}: {stage.why}"


def _spelled_out(
    k: Knowledge, machine: _Fitted, found: sizes.Correction, circuit: schema.Circuit, answer: t.CorrectionAnswer
) -> t.CorrectionAnswer:
    """The answer with sizes, side effects, steps and cautions."""
    way = Change(found.direction)
    setting = circuit.richer if way is Change.RICHER else circuit.leaner
    diameter = found.part == "needle_diameter"
    action = k.actions["change_needle" if diameter and "change_needle" in k.actions else setting.action]
    do = setting.do
    if diameter:
        do = f"Fit a needle with a {'thinner' if way is Change.RICHER else 'thicker'} straight part."
    elif found.part == "mixture_screw":
        turn = _turn(machine.parts.geometry.screw, way)
        do = f"{turn[:1].upper()}{turn[1:]}, then listen."
    present, proposed = _shown(machine, found)
    notes = list(answer.notes)
    if proposed is None and found.part != "mixture_screw":
        steps = abs(found.steps)
        notes.insert(0, f"Your part is not listed: on a typical carburetor this is about {steps:.1g} step(s).")
    if abs(found.percent.middle) > _OVERSHOOTS * abs(found.wanted_percent) and found.part != "mixture_screw":
        side = "rich" if way is Change.RICHER else "lean"
        notes.insert(0, f"The smallest step gives more than is wanted: feel for a {side} side afterwards.")
    return answer.model_copy(
        update={
            "present": present,
            "first": _first(machine.parts, found) if proposed is not None else None,
            "proposed": proposed,
            "side_effects": tuple(_side_effects(k, found)),
            "do": do,
            "steps": action.steps,
            "minutes": action.minutes,
            "tools": action.tools,
            "verify": action.verify if diameter else circuit.verify,
            "put_back": action.put_back if diameter else circuit.put_back,
            "notes": tuple(notes),
            "cautions": k.cautions_for((*circuit.cautions, *action.cautions, *(c.id for c in answer.cautions))),
        }
    )


def _shown(machine: _Fitted, found: sizes.Correction) -> tuple[float | None, float | None]:
    """Present and proposed size, where the fitted part is listed."""
    if found.part == "float_level":
        return 0.0, found.proposed
    field = _FIELD_OF_PART.get(found.part)
    if field is None or getattr(machine.listed, field) is None:
        return None, None
    return found.present, found.proposed


def _first(parts: sizes.Parts, found: sizes.Correction) -> float | None:
    """The size to fit first: the whole way when richer, one existing size when leaner."""
    if found.direction == "richer" or found.present is None or found.proposed is None:
        return found.proposed
    if found.part in ("main_jet", "pilot"):
        series = parts.main_series if found.part == "main_jet" else parts.pilot_series
        between = [n for n in series.numbers if found.proposed <= n < found.present]
        return max(between, default=found.proposed)
    step = {"needle": 1.0, "needle_diameter": 0.01, "cutaway": 0.5, "float_level": 1.0}[found.part]
    gap = found.proposed - found.present
    return round(found.present + math.copysign(min(step, abs(gap)), gap), 3)


def _side_effects(k: Knowledge, found: sizes.Correction) -> Iterator[t.SideEffect]:
    percent = {s.opening: s.percent for s in found.side_effects}
    for place, opening in _bands(k):
        if opening in percent:
            value = percent[opening]
            words = "hardly changed" if abs(value) < 0.5 else _side(-value)
            yield t.SideEffect(
                place=place.id, name=place.name, opening=opening, percent=round(value, 2), words=words
            )


# ---------------------------------------------------------------------------------------------------------
# A sweep


@dataclass(frozen=True)
class _State:
    """A set-up on its way through the changes: as the metering takes it, and as the rider wrote it."""

    set_up: SetUp
    parts: schema.FittedParts
    air: t.AirInput | None
    fuel: str
    premix_ratio: float | None


def sweep(request: t.SweepRequest, knowledge: Knowledge | None = None) -> t.SweepAnswer:
    """The mixture from closed to full throttle, before and after a change, and which circuit feeds what.

    Raises:
        CaseError: the family is not known, or parts, airs or fuels are out of range or cannot be compared.
    """
    k = knowledge or shipped_knowledge()
    machine = _fitted(k, request.machine)
    start = _working(machine, request.working)
    before = _changed(start, request.before, "before")
    after = _changed(before, request.after, "after")
    places = _bands(k)
    n = request.points
    openings = [opening for _, opening in places] + [i / (n - 1) for i in range(n)]
    found = metering_sweep(start.set_up, before.set_up, after.set_up, openings)
    points = [
        t.SweepPoint.trusted(
            opening=round(r.opening, 4),
            before=mixture_span(r.before.low, r.before.middle, r.before.high),
            after=mixture_span(r.after.low, r.after.middle, r.after.high),
            shares=_shares(r.shares),
        )
        for r in found.rows
    ]
    bands = [
        t.SweepBand.trusted(
            place=place.id,
            name=place.name,
            opening=opening,
            before=point.before,
            after=point.after,
            shares=point.shares,
        )
        for (place, opening), point in zip(places, points, strict=False)
    ]
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


def _fed_by(k: Knowledge, family: schema.Family, part: str) -> str:
    needle = _adjustable(k, family, part)
    return needle.id.replace("_", " ") if needle else part.replace("_", " ")


def _squirt(start: _State, after: _State) -> Iterator[str]:
    """What another leak jet does to the pump, which no steady opening shows."""
    was, now = start.parts, after.parts
    if was.leak_jet_mm is None or now.leak_jet_mm is None or was.leak_jet_mm == now.leak_jet_mm:
        return
    if now.pump_nozzle_mm is None:
        yield "The leak jet acts on the pump only; list pump_nozzle_mm to see by how much the squirt changes."
        return
    with _in_field("after.parts.leak_jet_mm"):
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


def _working(machine: _Fitted, given: t.Conditions) -> _State:
    air = None if given.air is None else _air(given.air, "working.air")
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
            with _in_field(f"{path}.parts.{field}"):
                now, then = (sizes.JetSize(j.number, j.numbering) for j in (given[field], getattr(parts, field)))
                ratio = now.area_over(then)
            with _in_field(f"{path}.parts"):
                geometry = with_parts(geometry, **{name: getattr(geometry, name) * math.sqrt(ratio)})
    measures = {_GEOMETRY_OF_FIELD[f]: v for f, v in given.items() if f in _GEOMETRY_OF_FIELD}
    with _in_field(f"{path}.parts"):
        geometry = with_parts(geometry, **measures)
        now_fitted = parts.model_copy(update=given)
        geometry = with_added_parts(with_other_needle(geometry, parts, now_fitted), now_fitted)
    air = state.set_up.air
    if change.air is not None:
        if state.air is None:
            message = "is missing: another air can only be compared with the air in which it ran right"
            raise CaseError([Problem("working.air", message)])
        air = _air(change.air, f"{path}.air")
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
            if isinstance(old, schema.Jet) and isinstance(new, schema.Jet):
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
    wide = [b for b in bands if b.place in _WIDE]
    if any(m.high > k.scales.mixture.right_within for b in wide for m in (b.before, b.after)):
        yield from _when(k, "lean_wide_open")
    if "methanol" in (before.fuel, after.fuel):
        yield from _when(k, "methanol")
    if len(changed) > 1:
        yield from _when(k, "several_changes")
    for field in changed:
        circuit = k.circuits.get(_CIRCUIT_OF_FIELD.get(field, ""))
        yield from circuit.cautions if circuit else ()
    if "air" in changed or before.air != after.air or any(b.before.middle < -0.01 for b in wide):
        yield from _when(k, "other_air")
    yield from _when(k, "always")
