"""A correction at one opening: the part, the way and the existing size with the least expected loss."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from carbdiag import tuning_schema as t
from carbdiag.errors import CaseError, Problem, must_be, nearest
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.metering import sizes
from carbdiag.metering.deviation import deviation_normal
from carbdiag.metering_fields import in_field
from carbdiag.records.bands import Place
from carbdiag.records.circuits import Circuit
from carbdiag.terms import Change, Level
from carbdiag.tuning.machine import Fitted, fitted, turn_words, unit_of
from carbdiag.tuning.mixtures import percent_of, side_words, steady_bands

CORRECTION_HONESTY: Final = (
    "A size to try, not a promise: good to the nearest jet size either way and to half a groove, the screw by direction"
    " only. The next size is chosen on the rich side when in doubt. What the engine shows afterwards decides."
)
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


def correct(request: t.CorrectionRequest, knowledge: Knowledge | None = None) -> t.CorrectionAnswer:
    """Which part, which way and to which existing size, for a mixture that is off at one opening.

    Never leaner at three-quarter or full throttle unless both chances of lean are given and below the limit of the
    scales file.

    Args:
        request: the machine with its fitted parts, the opening, and how far off it is: a level in words, or a measured
            lambda (air-fuel ratio divided by the chemically right one).
        knowledge: the records to reason with; without it, the shipped ones.

    Returns:
        The part, the direction, and the size to fit (`first`, `proposed`); or in `refused` why none is proposed.

    Raises:
        CaseError: the family or the opening is not known, or a part is out of range or contradicts another.
    """
    must_be(request, t.CorrectionRequest)
    k = the_knowledge(knowledge)
    machine = fitted(k, request.machine)
    place, opening = _band(k, request.at)
    told, mean, spread = _told(k, request, place)
    found = _sized(k, request, machine.parts, opening, mean, spread)
    circuit = k.circuits[_CIRCUIT.get(found.part, found.part)]
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
        direction=found.direction,
        amount=_amount(found, place.name),
        fuel_percent_low=round(found.percent.low, 2),
        fuel_percent=round(found.percent.middle, 2),
        fuel_percent_high=round(found.percent.high, 2),
        unit=unit_of(machine.parts, found.part),
        refused=found.refused or None,
        suitable=sizes.parts_for_opening(machine.parts.geometry, opening),
        before_this=tuple(_before(k, circuit.id)),
        notes=(*_notes(request, found, mean), *machine.assumed),
        cautions=k.cautions_for(k.cautions_when("correction", "always")),
        honesty=CORRECTION_HONESTY,
    )
    return answer if found.direction == "none" else _spelled_out(k, machine, found, circuit, answer)


def _band(k: Knowledge, at: str) -> tuple[Place, float]:
    bands = {p.id: (p, opening) for p, opening in steady_bands(k)}
    if at not in bands:
        message = f"{at!r} is not a steady throttle opening"
        raise CaseError([Problem("at", message, at, tuple(bands), nearest(at, bands))])
    return bands[at]


def _told(k: Knowledge, request: t.CorrectionRequest, place: Place) -> tuple[str, float, float]:
    """What was told, in words, and as mean and standard deviation of x."""
    m = k.scales.mixture
    if request.lambda_ is not None:
        assert place.lambda_wanted is not None
        x = math.log(request.lambda_ / place.lambda_wanted)
        spread = getattr(m.lambda_sigma, request.protocol)
        off = side_words(percent_of(x))
        for compared, plain in (("leaner", "lean"), ("richer", "rich"), ("unchanged", "right")):
            off = off.replace(compared, plain)
        return f"lambda {request.lambda_:g} where about {place.lambda_wanted:g} is wanted: {off}", x, spread
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
        far = f"{abs(percent_of(mean)):.0f} % is more than a setting explains: look for the fault first."
        return sizes.Correction(first, opening, "none", "", wanted_percent=percent_of(mean), refused=far)
    if request.mixture is Level.RIGHT:
        return sizes.Correction(first, opening, "none", "", notes=("The mixture is right here: leave it.",))
    limits = k.scales.decision
    care = sizes.LeanCare(
        three_quarter=1.0 if request.p_lean_three_quarter is None else request.p_lean_three_quarter,
        full=1.0 if request.p_lean_full is None else request.p_lean_full,
        limit=limits.lean_is_possible,
        cost=limits.lean_cost,
    )
    deviation = deviation_normal(mean, spread)
    with in_field(""):
        if request.part is None:
            return sizes.suggest_correction(parts, opening, deviation, care)
        return sizes.size_correction(parts, request.part, opening, deviation, care)


def _notes(request: t.CorrectionRequest, found: sizes.Correction, mean: float) -> Iterator[str]:
    if found.refused and mean < 0 and None in (request.p_lean_three_quarter, request.p_lean_full):
        yield (
            "The chances of lean at three-quarter and full throttle were not given, so both count as lean. A diagnosis"
            " states them; give p_lean_three_quarter and p_lean_full."
        )
    yield from found.notes
    if request.lambda_ is not None:
        yield "Lambda reads falsely lean with a misfire, an exhaust leak or on a two-stroke: rule those out first."


def _amount(found: sizes.Correction, where: str) -> str:
    if found.direction == "none":
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
    k: Knowledge, machine: Fitted, found: sizes.Correction, circuit: Circuit, answer: t.CorrectionAnswer
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
        turn = turn_words(machine.parts.geometry.screw, way)
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


def _shown(machine: Fitted, found: sizes.Correction) -> tuple[float | None, float | None]:
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
    for place, opening in steady_bands(k):
        if opening in percent:
            value = percent[opening]
            words = "hardly changed" if abs(value) < 0.5 else side_words(-value)
            yield t.SideEffect(
                place=place.id, name=place.name, opening=opening, percent=round(value, 2), words=words
            )
