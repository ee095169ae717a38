"""From a mixture deviation to a change of part with its size: jets, clip, needle, cutaway, float, screw
direction.

Jets are numbered in one of two ways that are never mixed: by **bore** (1/100 mm, area ~ n squared) or by
**flow** (cc/min, area ~ n). A change is chosen among sizes that exist, by expected loss over the whole
distribution of the deviation, with lean dearer than rich, and with the 10-90 % interval of the circuit's
share counted in.

Refused: over two grooves; main-jet changes of over 10 % fuel; anything that leans three-quarter or full
while lean there is a live possibility (unknown counts as live). What is promised: main jet nearest size
plus or minus one, clip plus or minus half a groove, screw direction only. A screw never gets a promised size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Final, Literal, NamedTuple

from carbdiag.metering.air import Span
from carbdiag.metering.deviation import LEAN_COST, Deviation, best_fuel_change, expected_loss
from carbdiag.metering.geometry import Geometry
from carbdiag.metering.jet_series import MAIN_BORE, MAIN_FLOW, PILOT_BORE, PILOT_FLOW, JetSeries, JetSize
from carbdiag.metering.limits import refuse, within
from carbdiag.metering.plausible import share_spans
from carbdiag.metering.shares import GRID, log_fuel, shares_at
from carbdiag.metering.steps import changed_by_steps

MAX_GROOVES: Final = 2
MAX_MAIN_LN: Final = math.log(1.10)
LEAN_LIMIT: Final = 0.10
NO_CHANGE: Final = Span(0.0, 0.0, 0.0)
NEGLIGIBLE_LN: Final = 0.005
"""A leaner side effect below 0.5 % at three-quarter or full (a pilot size) is under a third of any
main-jet step."""


@dataclass(frozen=True)
class Parts:
    """What is fitted: geometry plus jet sizes and the series they come from (None: owner did not say).

    Valid range: each jet in the numbering of its series; a bore-numbered jet must equal the bore in
    `geometry` (use `parts_of`). Source: the owner.

    >>> parts_of(Geometry(), main=JetSize(165, "bore")).geometry.main_jet_mm
    1.65
    """

    geometry: Geometry
    main: JetSize | None = None
    pilot: JetSize | None = None
    main_series: JetSeries = MAIN_BORE
    pilot_series: JetSeries = PILOT_BORE

    def __post_init__(self) -> None:
        for jet, series in ((self.main, self.main_series), (self.pilot, self.pilot_series)):
            if jet is not None and jet.numbering != series.numbering:
                raise refuse(
                    "numbering",
                    "jet and series are numbered differently",
                    f"{jet.numbering} in {series.numbering}",
                )


def parts_of(
    geometry: Geometry,
    main: JetSize | None = None,
    pilot: JetSize | None = None,
    main_series: JetSeries | None = None,
    pilot_series: JetSeries | None = None,
) -> Parts:
    """Parts with the geometry's bores set from bore-numbered jets and the usual series for each numbering.

    Flow-numbered jets keep the typical bore, because no fixed conversion exists; their *ratios* are exact.
    Valid range: as JetSize. Source: the owner; series from memory.

    >>> parts_of(Geometry(), main=JetSize(300, "flow")).main_series is MAIN_FLOW
    True
    """
    if main is not None and main.numbering == "bore":
        geometry = replace(geometry, main_jet_mm=main.number / 100.0)
    if pilot is not None and pilot.numbering == "bore":
        geometry = replace(geometry, pilot_jet_mm=pilot.number / 100.0)
    if main_series is None:
        main_series = MAIN_FLOW if main is not None and main.numbering == "flow" else MAIN_BORE
    if pilot_series is None:
        pilot_series = PILOT_FLOW if pilot is not None and pilot.numbering == "flow" else PILOT_BORE
    return Parts(geometry, main, pilot, main_series, pilot_series)


PARTS: Final = ("main_jet", "pilot", "needle", "needle_diameter", "cutaway", "float_level", "mixture_screw")
_SHARE_FIELD: Final = {
    "main_jet": "main_jet", "pilot": "pilot_jet", "needle": "needle", "needle_diameter": "needle",
    "cutaway": "cutaway", "float_level": "float_level", "mixture_screw": "mixture_screw",
}  # fmt: skip
_UNIT: Final = {
    "main_jet": "jet number", "pilot": "jet number", "needle": "groove", "needle_diameter": "mm",
    "cutaway": "mm", "float_level": "mm of fuel level", "mixture_screw": "turns",
}  # fmt: skip
SCREW_MAX_OPENING: Final = 0.1
_TOO_FAR: Final = {
    "needle": "It would take more than two grooves, or more than the needle has: the wrong part here.",
    "main_jet": "It would take more than 10 % fuel, or more than the series has: look for the fault first.",
}


def parts_for_opening(geometry: Geometry, opening: float) -> tuple[str, ...]:
    """Which parts are right for an opening (0 to 1), most suitable first; unitless ids of PARTS.

    Valid range: opening 0 to 1. Float level is never first: set it before any jet, for all openings at once.
    Source: shares of `shares`, common practice.

    >>> parts_for_opening(Geometry(), 0.5)
    ('needle', 'needle_diameter', 'main_jet')
    """
    within("throttle opening", opening, 0.0, 1.0, "")
    cut = ("cutaway",) if geometry.kind in {"round_slide", "flat_slide"} else ()
    table: tuple[tuple[float, tuple[str, ...]], ...] = (
        (0.03, ("mixture_screw", "pilot")),
        (SCREW_MAX_OPENING, ("pilot", *cut, "needle_diameter")),
        (0.19, ("needle_diameter", *cut, "pilot", "needle")),
        (0.37, ("needle", "needle_diameter", *cut)),
        (0.62, ("needle", "needle_diameter", "main_jet")),
        (1.0, ("main_jet",)),
    )
    if not geometry.has_needle:
        table = ((SCREW_MAX_OPENING, ("mixture_screw", "pilot")), (1.0, ("main_jet",)))
    return next(parts for end, parts in table if opening <= end)


@dataclass(frozen=True)
class SideEffect:
    """What a change does at another opening (0 to 1): percent more fuel; negative is leaner.

    Valid range: as `size_correction` returns it. Source: `shares`.

    >>> SideEffect(0.75, 2.0).percent
    2.0
    """

    opening: float
    percent: float


@dataclass(frozen=True)
class Correction:
    """A change of one part at one opening, or the reason why there is none.

    `present` and `proposed` are in `unit` (None: not stated, or screw); `percent` is fuel at the opening
    with its interval; `steps` practical steps, positive richer. Putting it back is going from `proposed` to
    `present`. Valid range: as `size_correction` returns it. Source: module text.

    >>> from carbdiag.metering.deviation import deviation_normal
    >>> fitted = parts_of(Geometry(), main=JetSize(160))
    >>> c = size_correction(fitted, "main_jet", 1.0, deviation_normal(0.05, 0.01))
    >>> c.direction, c.proposed
    ('richer', 165.0)
    """

    part: str
    opening: float
    direction: Literal["richer", "leaner", "none"]
    unit: str
    present: float | None = None
    proposed: float | None = None
    steps: float = 0.0
    wanted_percent: float = 0.0
    percent: Span = NO_CHANGE
    side_effects: tuple[SideEffect, ...] = ()
    loss_before: float = 0.0
    loss_after: float = 0.0
    refused: str = ""
    notes: tuple[str, ...] = field(default=())


@dataclass(frozen=True)
class _Option:
    steps: float
    present: float | None
    proposed: float | None
    geometry: Geometry


def _jet_options(parts: Parts, part: str, limit: float, way: float) -> list[_Option]:
    g = parts.geometry
    jet, series, name = (
        (parts.main, parts.main_series, "main_jet_mm")
        if part == "main_jet"
        else (parts.pilot, parts.pilot_series, "pilot_jet_mm")
    )
    mm = getattr(g, name)
    if jet is None:  # sizes unknown: relative amounts in steps of 0.025 mm of the typical jet
        steps = [s for s in range(-6, 7) if s * way > 0 and abs(2.0 * math.log1p(0.025 * s / mm)) <= limit]
        return [_Option(s, None, None, changed_by_steps(g, part, s)) for s in steps]
    found = []
    for n in series.numbers:
        if (n - jet.number) * way > 0.0 and jet.exponent * abs(math.log(n / jet.number)) <= limit:
            ratio = JetSize(n, series.numbering).area_over(jet)
            bore = mm * math.sqrt(ratio)
            changed = replace(g, **{name: bore})
            found.append(_Option((bore - mm) / 0.025, jet.number, n, changed))
    return found


@lru_cache(maxsize=256)
def _options(parts: Parts, part: str, towards: float) -> tuple[_Option, ...]:
    """What may be fitted instead: worked out once for a machine."""
    return tuple(_found_options(parts, part, towards))


def _found_options(parts: Parts, part: str, towards: float) -> list[_Option]:  # noqa: PLR0911  (one return a part)
    g = parts.geometry
    if part == "main_jet":
        return _jet_options(parts, part, 0.30, towards)
    if part == "pilot":
        return _jet_options(parts, part, 0.35, towards)
    if part == "needle":
        steps = [s for s in range(-MAX_GROOVES, MAX_GROOVES + 1) if s and 1 <= g.groove + s <= g.grooves]
        return [_Option(s, g.groove, g.groove + s, replace(g, groove=g.groove + s)) for s in steps]
    if part == "needle_diameter":
        d = g.needle_straight_mm
        steps = [s for s in range(-4, 5) if s and d - 0.01 * s < g.needle_jet_mm - 0.005]
        return [_Option(s, d, round(d - 0.01 * s, 3), changed_by_steps(g, part, s)) for s in steps]
    if part == "cutaway":
        c = g.cutaway_mm
        steps = [s for s in (-2, -1, 1, 2) if 0.5 <= c - 0.5 * s <= 8.0]
        return [_Option(s, c, c - 0.5 * s, changed_by_steps(g, part, s)) for s in steps]
    if part == "float_level":
        levels = [s for s in (-2.0, -1.0, -0.5, 0.5, 1.0, 2.0) if g.float_head_mm - s >= 2.0]
        return [_Option(s, 0.0, s, changed_by_steps(g, part, s)) for s in levels]
    if part == "mixture_screw":
        way = 1.0 if g.screw == "fuel_screw" else -1.0
        turns = [s for s in (-0.5, 0.5) if 0.25 <= g.screw_turns + 0.5 * way * s <= 4.0]
        return [_Option(s, None, None, changed_by_steps(g, part, s)) for s in turns]
    raise refuse("part", "no correction is known for this part", part, PARTS)


def _over_main_limit(g: Geometry, after: Geometry, opening: float) -> bool:
    return max(abs(log_fuel(after, o) - log_fuel(g, o)) for o in (opening, 1.0)) > MAX_MAIN_LN


def _unsuitable(g: Geometry, part: str, opening: float) -> str:
    """Why this part is no use here, or nothing."""
    reason = ""
    if part in {"needle", "needle_diameter"} and not g.has_needle:
        reason = "This kind of carburetor has no needle."
    elif part == "cutaway" and g.kind not in {"round_slide", "flat_slide"}:
        reason = "This kind of carburetor has no cutaway to change."
    elif part == "float_level" and g.kind == "diaphragm":
        reason = "This kind of carburetor has no float."
    elif part == "mixture_screw" and opening > SCREW_MAX_OPENING:
        reason = "The mixture screw does nothing useful at this opening."
    elif part != "float_level" and getattr(shares_at(g, opening), _SHARE_FIELD[part]) <= 0.02:
        reason = "This part has next to no say at this opening."
    return reason


def _notes(part: str, blocked: bool) -> tuple[str, ...]:
    said = {
        "mixture_screw": "Direction only: start with a quarter turn and listen; no size is promised.",
        "needle": "Good to half a groove either way.",
        "main_jet": "Nearest size, plus or minus one.",
    }
    found = [said[part]] if part in said else []
    if blocked:
        found.append("A larger step was left out because three-quarter or full may be lean.")
    return tuple(found)


@dataclass(frozen=True)
class LeanCare:
    """How lean is kept from the openings that it breaks: what is known of them, and what a lean error costs.

    `three_quarter` and `full` are the probabilities (0 to 1) that it is lean there now; not given counts as lean. Above
    `limit` (0 to 1) nothing is made leaner that leans them. A lean error costs `cost` times a rich one (1 to 20).

    >>> LeanCare(three_quarter=0.05).limit
    0.1
    """

    three_quarter: float = 1.0
    full: float = 1.0
    limit: float = LEAN_LIMIT
    cost: float = LEAN_COST

    def __post_init__(self) -> None:
        for name, p in (("P(lean) at three-quarter", self.three_quarter), ("P(lean) at full", self.full)):
            within(name, p, 0.0, 1.0, "")
        within("lean limit", self.limit, 0.0, 1.0, "")

    def forbids(self, g: Geometry, after: Geometry) -> bool:
        """Whether `after` is leaner than `g` where it may be lean already."""
        watched = ((0.75, self.three_quarter), (1.0, self.full))
        return any(p > self.limit and log_fuel(after, o) - log_fuel(g, o) < -NEGLIGIBLE_LN for o, p in watched)


def size_correction(
    parts: Parts, part: str, opening: float, deviation: Deviation, care: LeanCare | None = None
) -> Correction:
    """The existing size of `part` (id of PARTS) with the least expected loss at an `opening` (0 to 1).

    Without `care` three-quarter and full count as lean. Valid range: as `LeanCare`. Source: module text.

    >>> from carbdiag.metering.deviation import deviation_normal
    >>> lean = deviation_normal(0.05, 0.02)
    >>> c = size_correction(parts_of(Geometry()), "needle", 0.5, lean)
    >>> c.direction, c.present, c.proposed
    ('richer', 3, 4)
    >>> rich = deviation_normal(-0.06, 0.01)
    >>> size_correction(parts_of(Geometry()), "main_jet", 1.0, rich, LeanCare(full=0.3)).refused[:40]
    'Not made leaner: three-quarter or full m'
    """
    care = care or LeanCare()
    within("throttle opening", opening, 0.0, 1.0, "")
    if part not in PARTS:
        raise refuse("part", "no correction is known for this part", part, PARTS)
    wanted = best_fuel_change(deviation, care.cost)
    before = expected_loss(deviation, [(0.0, 1.0)], care.cost)
    base = Correction(
        part, opening, "none", _UNIT[part], wanted_percent=100.0 * math.expm1(wanted),
        loss_before=before, loss_after=before,
    )  # fmt: skip
    reason = _unsuitable(parts.geometry, part, opening)
    if reason:
        return replace(base, refused=reason)
    found = _search(parts, part, opening, 1.0 if wanted > 0.0 else -1.0, deviation, care)
    if part in {"needle", "main_jet"} and abs(wanted) > max(1.25 * found.reach, 0.01):
        return replace(base, refused=_TOO_FAR[part])
    if found.option is None:
        return replace(base, refused=_MAY_BE_LEAN if found.blocked else "No size of this part reaches that way.")
    if found.loss >= before:
        if found.blocked:
            return replace(base, refused=_MAY_BE_LEAN)
        return replace(base, notes=("The smallest step of this part would overshoot: leave it.",))
    return replace(
        base, direction="richer" if wanted > 0.0 else "leaner", present=found.option.present,
        proposed=found.option.proposed, steps=found.option.steps, percent=found.percent(),
        side_effects=_side_effects(parts.geometry, found.option.geometry, opening), loss_after=found.loss,
        notes=_notes(part, found.blocked),
    )  # fmt: skip


_MAY_BE_LEAN = "Not made leaner: three-quarter or full may be lean already."


class _Search(NamedTuple):
    """What came of trying every size of a part one way."""

    option: _Option | None
    """The one with the least loss."""
    effect: float
    """ln of the fuel with it over the fuel now."""
    loss: float
    spread: tuple[float, float]
    """How much less and more than computed a step may do on a plausible geometry, as shares of the effect."""
    reach: float
    """The largest effect of any size, either sign, in ln of fuel."""
    blocked: bool
    """Whether one was left out because three-quarter or full may be lean."""

    def percent(self) -> Span:
        low, _, high = sorted(100.0 * math.expm1(self.effect * f) for f in (self.spread[0], 1.0, self.spread[1]))
        return Span(low, 100.0 * math.expm1(self.effect), high)


def _search(
    parts: Parts,
    part: str,
    opening: float,
    way: float,
    deviation: Deviation,
    care: LeanCare,
) -> _Search:
    """Every size of a part one way (1 richer, -1 leaner), tried."""
    g = parts.geometry
    span = share_spans(g, opening).of(_SHARE_FIELD[part])
    low, high = (span.low / span.middle, span.high / span.middle) if span.middle > 0.0 else (1.0, 1.0)
    now = log_fuel(g, opening)
    best, best_effect, least = None, 0.0, math.inf
    reach, blocked = 0.0, False
    for option in _options(parts, part, way):
        if option.steps * way <= 0.0 or (part == "main_jet" and _over_main_limit(g, option.geometry, opening)):
            continue
        effect = log_fuel(option.geometry, opening) - now
        reach = max(reach, abs(effect))
        if way < 0.0 and care.forbids(g, option.geometry):
            blocked = True
            continue
        loss = expected_loss(deviation, ((effect * low, 0.3), (effect, 0.4), (effect * high, 0.3)), care.cost)
        if loss < least:
            best, best_effect, least = option, effect, loss
    return _Search(best, best_effect, least, (low, high), reach, blocked)


def _side_effects(g: Geometry, after: Geometry, opening: float) -> tuple[SideEffect, ...]:
    """Percent more fuel at the other openings."""
    return tuple(
        SideEffect(o, 100.0 * math.expm1(log_fuel(after, o) - log_fuel(g, o)))
        for o in GRID
        if abs(o - opening) > 1e-9
    )


def suggest_correction(
    parts: Parts, opening: float, deviation: Deviation, care: LeanCare | None = None
) -> Correction:
    """The first part of `parts_for_opening` (opening 0 to 1) that a correction is not refused for.

    When all are refused the first refusal is returned. One change only. Valid range: as `size_correction`.
    Source: common practice for the order.

    >>> from carbdiag.metering.deviation import deviation_normal
    >>> suggest_correction(parts_of(Geometry()), 0.25, deviation_normal(0.06, 0.02)).part
    'needle'
    """
    first: Correction | None = None
    for part in parts_for_opening(parts.geometry, opening):
        c = size_correction(parts, part, opening, deviation, care)
        if not c.refused and c.direction != "none":
            return c
        first = first or c
    assert first is not None  # parts_for_opening never returns an empty tuple
    return first
