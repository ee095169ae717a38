"""A machine set in one air and ridden in another: jets, clip and screw to start with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from carbdiag import tuning_schema as t
from carbdiag.errors import must_be
from carbdiag.family_metering import family_tables, in_control
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.metering import air as metering_air
from carbdiag.metering import relocation
from carbdiag.metering_fields import in_field
from carbdiag.records.actions import Action
from carbdiag.records.circuits import Circuit
from carbdiag.records.families import Family
from carbdiag.terms import Change
from carbdiag.tuning.air import air_answer, air_of
from carbdiag.tuning.machine import Fitted, adjustable, fitted, turn_words, unit_of
from carbdiag.tuning.mixtures import mixture_span, steady_bands

RESIZE_HONESTY: Final = (
    "Relative to a set-up that ran right in the first air. Good to the nearest main jet either way, about 3 % of fuel,"
    " and to half a groove; the screw by direction only. Published charts disagree among themselves (jet area as"
    " density to the power 0.3 to 1.4); the range shown spans 0.5 to 1.0. For idle and quick throttle movements nothing"
    " is promised."
)
_MOVED: Final = "rejet_for_air"
_SAID_IN_HONESTY: Final = ("Relative to", "Accuracy:")


def resize(request: t.ResizeRequest, knowledge: Knowledge | None = None) -> t.ResizeAnswer:
    """What to change when a machine that ran right in one air is ridden in another.

    Args:
        request: the machine with its fitted parts, the air it was set in (`set`), and the air it will be ridden in.
        knowledge: the records to reason with; without it, the shipped ones.

    Returns:
        `moves` in the order of doing them, and in `bands` what each opening does if nothing is changed. Sizes are
        numbers only where the fitted part was listed; else `amount` says it in words.

    Raises:
        CaseError: the family is not known, or a part or an air is out of range or contradicts another.

    Examples:
        >>> from carbdiag import AirInput, Machine
        >>> high = t.ResizeRequest(
        ...     machine=Machine(family="round_slide", strokes=2),
        ...     set=AirInput(elevation_m=300, temperature_c=25),
        ...     now=AirInput(elevation_m=2400, temperature_c=5),
        ... )
        >>> resize(high).direction
        'leaner'
    """
    must_be(request, t.ResizeRequest)
    k = the_knowledge(knowledge)
    machine = fitted(k, request.machine)
    air_set, air_now = air_of(request.set, "set"), air_of(request.now, "now")
    with in_field(""):
        found = relocation.relocate(air_set, air_now, machine.parts)
    bands = tuple(_untouched(k, machine, air_set, air_now))
    moves = () if found.direction == "leave" else tuple(_moves(k, machine, found))
    action = _moved_by(k, machine.family) if moves else None
    notes = list(machine.assumed)
    if moves and found.clip_start == 0 and machine.parts.geometry.has_needle:
        notes.insert(0, "Leave the needle clip: with the new main jet, half throttle wants less than a groove.")
    return t.ResizeAnswer(
        edition=k.edition,
        family=machine.family.id,
        family_name=machine.family.name,
        set=air_answer(request.set, air_set),
        now=air_answer(request.now, air_now),
        density_ratio=round(found.density_ratio, 4),
        direction=found.direction,
        summary=_moved_summary(found.density_ratio, bands, moves),
        bands=bands,
        moves=moves,
        steps=action.steps if action else (),
        verify=action.verify if action else None,
        put_back=action.put_back if action else None,
        warnings=tuple(w for w in found.warnings if not w.startswith(_SAID_IN_HONESTY)),
        notes=tuple(notes),
        cautions=k.cautions_for(
            (*(action.cautions if action else k.cautions_when("always")), *(c.id for m in moves for c in m.cautions))
        ),
        honesty=RESIZE_HONESTY,
    )


def _untouched(
    k: Knowledge, machine: Fitted, air_set: metering_air.AirState, air_now: metering_air.AirState
) -> Iterator[t.UntouchedBand]:
    """What each opening does if nothing is changed."""
    tables = family_tables(k, machine.family)
    for place, opening in steady_bands(k):
        x = metering_air.air_shift_x(air_set, air_now, opening)
        yield t.UntouchedBand(
            place=place.id,
            name=place.name,
            opening=opening,
            mixture=mixture_span(x.low, x.middle, x.high),
            circuits=tuple(c for c, _ in in_control(tables, place.id)[:3]),
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


def _moved_by(k: Knowledge, family: Family) -> Action | None:
    """How the settings are moved to other air: by jets, or by the needles that stand in for them."""
    needle = adjustable(k, family, "main_jet")
    return k.actions.get(_MOVED if needle is None else needle.leaner.action or _MOVED)


def _needle_move(k: Knowledge, needle: Circuit, way: Change, factor: metering_air.Span) -> t.PartMove:
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


def _moves(k: Knowledge, machine: Fitted, found: relocation.Relocation) -> Iterator[t.PartMove]:
    way = Change(found.direction)
    for part, factor, jet in (
        ("main_jet", found.main_area_factor, found.main),
        ("pilot", found.pilot_area_factor, found.pilot),
    ):
        if part == "pilot" and found.clip_start:
            yield _clip_move(k, machine, found)
        needle = adjustable(k, machine.family, part)
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
            inside = min(jet.first, jet.last) <= jet.start_with <= max(jet.first, jet.last)
            where = "; the range is" if inside else ", on the rich side of the range"
            amount = f"{start} {jet.start_with:g} first{where} {span} ({ends[0]} to {ends[1]} % {word} jet area)"
        yield _part_move(
            k,
            part,
            way,
            unit=unit_of(machine.parts, part),
            present=jet.present if jet else None,
            start_with=jet.start_with if jet else None,
            least=jet.first if jet else None,
            most=jet.last if jet else None,
            amount=amount,
        )
    if "mixture_screw" not in machine.family.circuits:
        return
    turn = turn_words(machine.parts.geometry.screw, way)
    yield _part_move(
        k,
        "mixture_screw",
        way,
        unit="turns",
        amount=f"only if idle or the first touch of throttle is off: {turn}; no size is promised",
        do=turn[:1].upper() + turn[1:] + ".",
    )


def _clip_move(k: Knowledge, machine: Fitted, found: relocation.Relocation) -> t.PartMove:
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
