"""Moving the machine: set in one air, riding in another.

The main jet owns only part of the fuel, so its area goes as the density ratio to the power 0.65, shown as
0.5 to 1.0 (published rules span 0.3 to 1.4, and an additive chart is right at one size only). Colder or
lower starts from the richest end of that range; hotter or higher takes away the least. All of it is
relative to a set-up that worked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal

from carbdiag.metering.air import AirState, Span, air_shift_x, metering_density_ratio, mixture_exponent
from carbdiag.metering.geometry import Geometry
from carbdiag.metering.jet_series import JetSeries, JetSize, round_toward
from carbdiag.metering.limits import within
from carbdiag.metering.shares import GRID, log_fuel, shares_at
from carbdiag.metering.sizes import MAX_GROOVES, Parts, parts_of

MAIN_AREA_EXPONENT: Final = Span(0.5, 0.65, 1.0)
STARTING_ERROR_PERCENT: Final = 3.0


Way = Literal["richer", "leaner", "leave"]


@dataclass(frozen=True)
class JetMove:
    """A jet for the new air: present, least and most change, middle, and where to start, all as jet numbers.

    `first` and `last` are the ends at exponents 0.5 and 1.0, rounded to sizes that exist. Valid range: as
    `relocate` returns it. Source: module text.

    >>> JetMove(160, 155, 152, 148, 155).start_with
    155
    """

    present: float
    first: float
    middle: float
    last: float
    start_with: float


@dataclass(frozen=True)
class UntouchedMixture:
    """Mixture at an opening (0 to 1) if nothing is changed: x = ln(lambda ratio), negative rich; with
    interval.

    Valid range: as `relocate` returns it. Source: `air_shift_x`.

    >>> UntouchedMixture(1.0, Span(-0.1, -0.08, -0.07)).x.middle
    -0.08
    """

    opening: float
    x: Span


@dataclass(frozen=True)
class Relocation:
    """What to change for the new air, and what happens if nothing is changed.

    `density_ratio` is now over set; `main` and `pilot` are None when the owner's jets are unknown; factors
    are on jet *area*. `clip_grooves` counts richer positive. `screw` is a direction: `richer`, `leaner` or
    `leave`. Valid range: as `relocate` returns it. Source: module text.

    >>> relocate(AirState(97_773.0, 25.0, 0.5), AirState(75_626.0, 5.0, 0.5), Geometry()).direction
    'leaner'
    """

    density_ratio: float
    direction: Way
    main_area_factor: Span
    main: JetMove | None
    pilot_area_factor: Span
    pilot: JetMove | None
    clip_grooves: Span
    clip_start: int
    screw: Way
    untouched: tuple[UntouchedMixture, ...]
    warnings: tuple[str, ...]


def main_area_factor(density_ratio: float) -> Span:
    """Factor on the main-jet area for a density ratio now/set (unitless): power 0.65, shown 0.5 to 1.0.

    Ordered low to high in value. Valid range: ratio 0.4 to 2.5. Source: own metering model (0.57 to 0.66),
    widened to what published rules imply.

    >>> main_area_factor(0.8)
    Span(low=0.8, middle=0.865, high=0.894)
    """
    r = within("density ratio", density_ratio, 0.4, 2.5, "")
    values = sorted(r**e for e in (MAIN_AREA_EXPONENT.low, MAIN_AREA_EXPONENT.middle, MAIN_AREA_EXPONENT.high))
    return Span(*values)


def _move(present: JetSize, series: JetSeries, ratio: float, exponents: Span) -> JetMove | None:
    """None where the fitted jet lies outside the series: its nearest end might be the wrong way."""
    if not series.holds(present):
        return None
    ends = series.numbers[0], series.numbers[-1]
    sizes = [
        JetSize(min(max(present.number_at(ratio**e), ends[0]), ends[1]), present.numbering)
        for e in (exponents.low, exponents.middle, exponents.high)
    ]
    first, middle, last = (round_toward(series, present, s) for s in sizes)
    # leaner: the least that may be taken away, rounded up; richer: the most, rounded up
    start = series.at_least(sizes[0] if ratio < 1.0 else sizes[2])
    if ratio < 1.0 and start.number > present.number:
        start = present
    return JetMove(present.number, first.number, middle.number, last.number, start.number)


def relocate(air_set: AirState, air_now: AirState, fitted: Geometry | Parts) -> Relocation:
    """New main, pilot, clip and screw direction for a machine set in `air_set` and ridden in `air_now`.

    Valid range: density ratio 0.4 to 2.5. Assumes the present set-up was right in `air_set`. Source: module
    text.

    >>> high, low = AirState(75_626.0, 5.0, 0.5), AirState(97_773.0, 25.0, 0.5)
    >>> parts = parts_of(Geometry(), main=JetSize(160, "bore"))
    >>> move = relocate(low, high, parts).main
    >>> (move.first, move.middle, move.last, move.start_with) if move else None
    (152.0, 152.0, 148.0, 155.0)
    """
    parts = fitted if isinstance(fitted, Parts) else parts_of(fitted)
    g = parts.geometry
    ratio = within("density ratio", metering_density_ratio(air_set, air_now), 0.4, 2.5, "")
    log_ratio = math.log(ratio)
    richer = log_ratio > 0.0
    still = abs(log_ratio) < 0.01
    direction: Way = "leave" if still else ("richer" if richer else "leaner")

    idle = mixture_exponent(0.0)
    pilot_exponents = Span(idle.low, idle.high, 0.5)
    pilot_values = sorted(ratio**e for e in (pilot_exponents.low, pilot_exponents.middle, pilot_exponents.high))
    main = _move(parts.main, parts.main_series, ratio, MAIN_AREA_EXPONENT) if parts.main else None
    pilot = _move(parts.pilot, parts.pilot_series, ratio, pilot_exponents) if parts.pilot else None

    clip, start = _clip(g, ratio)
    untouched = tuple(UntouchedMixture(o, air_shift_x(air_set, air_now, o)) for o in GRID)
    return Relocation(
        ratio, direction, main_area_factor(ratio), main, Span(*pilot_values), pilot, clip, start,
        "leave" if still else direction, untouched, _warnings(log_ratio, main, _beyond(parts, ratio)),
    )  # fmt: skip


def _beyond(parts: Parts, ratio: float) -> bool:
    """Whether the main-jet series ends before the far end of the range, or before the fitted jet."""
    if parts.main is None:
        return False
    if not parts.main_series.holds(parts.main):
        return True
    wanted = parts.main.number_at(ratio**MAIN_AREA_EXPONENT.high)
    return not parts.main_series.numbers[0] <= wanted <= parts.main_series.numbers[-1]


def _clip(g: Geometry, ratio: float) -> tuple[Span, int]:
    """Grooves (richer positive) that half throttle still wants once the main jet has been changed."""
    if not g.has_needle:
        return Span(0.0, 0.0, 0.0), 0
    log_ratio = math.log(ratio)
    share = shares_at(g, 0.5).main_jet
    up = replace(g, groove=g.groove + 1) if g.groove < g.grooves else g
    down = replace(g, groove=g.groove - 1) if g.groove > 1 else g
    if up is down:
        return Span(0.0, 0.0, 0.0), 0
    per_groove = (log_fuel(up, 0.5) - log_fuel(down, 0.5)) / (up.groove - down.groove)
    if per_groove == 0.0:  # a needle so short that it has left its jet by half throttle
        return Span(0.0, 0.0, 0.0), 0
    e = mixture_exponent(0.5)
    wants = sorted(
        log_ratio * (x - share * m) / per_groove
        for x, m in ((e.low, 1.0), (e.middle, MAIN_AREA_EXPONENT.middle), (e.high, MAIN_AREA_EXPONENT.low))
    )
    # leaner takes away the least, richer starts from the most; only whole grooves that are on the needle
    start = min(MAX_GROOVES, round(wants[2])) if log_ratio > 0 else max(-MAX_GROOVES, -int(abs(wants[2])))
    start = max(1 - g.groove, min(g.grooves - g.groove, start))
    return Span(*wants), start


def _warnings(log_ratio: float, main: JetMove | None, beyond: bool) -> tuple[str, ...]:
    if abs(log_ratio) < 0.01:
        return ("The air is the same within 1 %: change nothing.",)
    percent = 100.0 * math.expm1(abs(log_ratio) * 0.5)
    found = []
    if beyond and main is None:
        found.append("The fitted main jet is not of the usual series: only how much its area changes is shown.")
    elif beyond:
        found.append("The series of jets ends before the wanted size: the nearest end is shown.")
    found += [
        "Relative to a set-up that was right in the first air; a wrong one is carried along.",
        f"Accuracy: main jet plus or minus one size, and about {STARTING_ERROR_PERCENT:g} % of fuel.",
    ]
    if log_ratio < 0.0:
        found.append(
            f"On the way back to denser air the leaner set-up runs up to about {percent:.0f} % lean at "
            "full throttle: put the old settings back before running it there."
        )
        found.append("Take away the least first, and only if the machine shows it is rich.")
    else:
        found.append(
            f"Unchanged, full throttle runs about {percent:.0f} % lean in this denser air: fit the "
            "richest end before any hard riding, then come down one size at a time."
        )
    if main is not None and main.start_with == main.present:
        found.append("The nearest existing main jet is the one fitted.")
    return tuple(found)
