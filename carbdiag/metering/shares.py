"""Who meters the fuel at an opening: circuit shares in closed form.

S_k(opening) = d ln(fuel) / d ln(effective area of circuit k). Pilot, needle and main jet add up to about 1
(the air bleed is the small negative rest); cutaway and float level act on top.

**The chain**, each link closed form: engine and throttle area give the depression behind the throttle (one
quadratic); a gain, a small-lift loss and a wake factor give the depression at the discharge; the series law
of `fuel_path` gives main and pilot flow and the elasticities.

**What this may be used for.** Ranking circuits and giving the direction at an opening; main jet to the
nearest size plus or minus one; clip to plus or minus half a groove and never over two; screw: direction
only, near closed throttle only. Idle mixture, transients and absolute mixture: nothing is promised.

**How much the agreement means.** The default's constants were *chosen* so that its shares fall inside the
table below and its mixture is flat to about 4 %; agreement with that table is by construction. The table
itself comes from an own metering model whose form was changed with the published bands in view, so the
bands are a consistency check, not independent proof. Many sets of constants give an equally flat mixture
and different shares: hence the intervals. They are spread over a fixed set of 24 variants of what an owner
cannot measure (`plausible`), and are still too narrow, because the form of the equations is never varied. No published
chart of overlapping percentages was found to test against.

**Disagreements with published bands (slides), kept on purpose:**
- cutaway: published strongest at 1/8 to 1/4; here its share peaks below 1/16 and still has about 0.3 at 1/4;
- taper: published to start at 1/4; a flat mixture needs it near 1/8, otherwise 1/8 is rich;
- needle: published from 1/4; the annulus leads from about 1/16 on, but the *clip* acts only from the
taper's start;
- end of the pilot band: published 1/8, 15-20 %, 1/4 and 3/8, which cannot all be right; here its share
passes one
  quarter near 0.18 and one tenth near 0.38;
- one groove at 1/8 gives about 12 % here against 8 % in the table of steps, because the taper starts just
there.

**Vacuum slide:** fixed in slide lift, not in plate opening; see `vacuum_slide_lift_at`. **Butterfly:**
shape only; an air corrector is not sized. **Diaphragm:** its 350 Pa spring is assumed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Final, NamedTuple

from carbdiag.metering.air import STANDARD_PRESSURE_PA
from carbdiag.metering.fuel_path import GRAVITY_M_S2, float_head_pa, jet_area_mm2, series_path
from carbdiag.metering.geometry import Geometry
from carbdiag.metering.limits import refuse, within
from carbdiag.metering.openings import (
    butterfly_open_fraction,
    butterfly_opening_for,
    flat_slide_open_fraction,
    vacuum_slide_demand,
    vacuum_slide_lift,
)

GRID: Final = (0.0, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 3 / 4, 1.0)
"""Openings of the tables."""


class CircuitShares(NamedTuple):
    """Elasticities d ln(fuel)/d ln(area) at one opening, unitless; `float_level` per mm of higher level.

    `added` is the share of an open enrichener and a power jet together.
    `pilot` is the share of the fuel that the whole pilot circuit carries, `pilot_jet` and `mixture_screw`
    (richer counted positive) what their own areas command; `cutaway` is per ln of a *lower* cutaway;
    `air_correction` is negative. An immutable tuple, because it is made a million times. Valid range: as
    `shares_at` returns it. Source: module text.

    >>> shares_at(Geometry(), 1.0).main_jet > 0.6
    True
    """

    pilot: float
    needle: float
    main_jet: float
    cutaway: float
    air_correction: float
    float_level: float
    pilot_jet: float
    mixture_screw: float
    added: float = 0.0


_Throttle = Callable[[float], tuple[float, float, float, float, float]]
"""Opening -> engine-side depression (Pa), discharge depression (Pa), cutaway slope, uncovered bypass, air
flow."""


def _vacuum_throttle(g: Geometry) -> _Throttle:
    p0, cap, k, idle, gain = STANDARD_PRESSURE_PA, g.capacity, g.suction_limit, g.idle_stop, g.signal_gain
    reach, start, rise, speed, span = (
        g.slide_capacity, g.spring_start_pa, g.spring_rise, g.speed_fraction, g.bypass_span
    )  # fmt: skip

    def vacuum(opening: float) -> tuple[float, float, float, float, float]:
        lift = idle + (1.0 - idle) * opening
        q = reach * vacuum_slide_demand(lift, rise)
        y = max((1.0 - q / speed) / k, (q / cap) ** 2)
        plate = butterfly_opening_for(min(q / math.sqrt(y) / cap, 1.0))
        on_stop = min(1.0, 0.1 + opening / 0.06)  # below this lift the slide rests on its stop
        return y * p0, gain * start * on_stop * (1.0 + rise * lift), 0.0, min(1.0, plate / span), q

    return vacuum


def _plate_throttle(g: Geometry) -> _Throttle:
    p0, cap, k, idle, gain = STANDARD_PRESSURE_PA, g.capacity, g.suction_limit, g.idle_stop, g.signal_gain
    span, beside = g.bypass_span, g.capacity * g.beside

    def plate(opening: float) -> tuple[float, float, float, float, float]:
        a = cap * (idle + (1.0 - idle) * butterfly_open_fraction(opening)) + beside
        u = (math.sqrt(a * a + 4.0 * k) - a) / (2.0 * k)
        q = a * u
        return u * u * p0, gain * 1000.0 * q * q, 0.0, min(1.0, opening / span), q

    return plate


def _slide_throttle(g: Geometry) -> _Throttle:
    acos, sqrt, pi = math.acos, math.sqrt, math.pi
    cap, idle, live, per_span = g.capacity, g.idle_stop, 1.0 - g.idle_stop, 1.0 / g.bypass_span
    four_k, per_2k = 4.0 * g.suction_limit, 0.5 / g.suction_limit
    p0, gain = STANDARD_PRESSURE_PA, g.signal_gain * STANDARD_PRESSURE_PA
    c = g.cutaway_mm / g.bore_mm
    turn_2 = (g.turning_cutaway * c + g.turning_bore) ** 2
    cut_share = g.turning_cutaway * c / (g.turning_cutaway * c + g.turning_bore) if turn_2 else 0.0
    reach = g.wake * c
    edge_factor = 4.0 * reach / pi
    ratio = g.throat_height_over_width
    beside = cap * g.beside

    def straight_sided(opening: float) -> tuple[float, float, float, float, float]:
        lift = idle + live * opening
        area, far = flat_slide_open_fraction(min(lift, 1.0), ratio), min(lift + reach, 1.0)
        wide = flat_slide_open_fraction(far, ratio)
        step = 1e-4
        edge = (wide - flat_slide_open_fraction(far - step, ratio)) / step * reach / wide if far < 1.0 else 0.0
        a = cap * area + beside
        u = (sqrt(a * a + four_k) - a) * per_2k
        w2 = turn_2 / (lift * lift)
        f = opening * per_span
        drop = gain * u * u * (area / wide) ** 2 / (1.0 + w2)
        return u * u * p0, drop, w2 / (1.0 + w2) * cut_share + edge, min(f, 1.0), a * u

    def round_bore(opening: float) -> tuple[float, float, float, float, float]:
        lift = idle + live * opening
        if lift < 1.0:
            z = 1.0 - 2.0 * lift
            area = (acos(z) - z * sqrt(1.0 - z * z)) / pi
        else:
            area = 1.0
        far = lift + reach
        if far < 1.0:
            z = 1.0 - 2.0 * far
            half_chord = sqrt(1.0 - z * z)
            wide = (acos(z) - z * half_chord) / pi
            edge = edge_factor * half_chord / wide
            r = area / wide
        else:
            edge, r = 0.0, area
        a = cap * area + beside
        u = (sqrt(a * a + four_k) - a) * per_2k
        y = u * u
        w2 = turn_2 / (lift * lift)
        part = 1.0 / (1.0 + w2)
        f = opening * per_span
        return y * p0, gain * y * r * r * part, w2 * part * cut_share + edge, f if f < 1.0 else 1.0, a * u

    return round_bore if ratio == 1.0 or g.kind == "round_slide" else straight_sided


class _Compiled(NamedTuple):
    """A geometry turned into two functions of the opening: (fuel, air) in own units, and the shares."""

    flows: Callable[[float], tuple[float, float]]
    shares: Callable[[float], CircuitShares]


class _Chain(NamedTuple):
    """What the two functions of a geometry take from it; conductances in mm² times the discharge coefficient."""

    throttle: _Throttle
    annulus2: Callable[[float], float] | None
    """Opening -> squared conductance of the ring between needle and jet; None without a needle."""
    added: Callable[[float, float, float], float] | None
    """Engine-side depression (Pa), air flow, opening -> fuel of an open enrichener and a power jet, where fitted."""
    jet: float
    air: float
    pilot_jet: float
    pilot_air: float
    outlet: float
    bypass: float
    head: float
    """Pa that lifting the fuel from the float takes."""
    head_per_mm: float
    """Pa that a float level a millimeter higher saves, halved as an elasticity is."""
    air_screw: bool


def _annulus(g: Geometry) -> Callable[[float], float]:
    base = g.idle_stop + (g.groove - (g.grooves + 1) / 2) * g.clip_step_mm / g.bore_mm
    live, tip = 1.0 - g.idle_stop, g.needle_tip
    d0, t1, t2 = g.needle_straight_mm, g.taper_start, g.second_taper_start
    slope1 = 2.0 * math.tan(math.radians(g.taper_deg / 2.0)) * g.bore_mm
    slope2 = 2.0 * math.tan(math.radians(g.second_taper_deg / 2.0)) * g.bore_mm
    nj2, n_cd = g.needle_jet_mm**2, g.annulus_discharge * math.pi / 4.0
    open_jet2 = (n_cd * nj2) ** 2

    def annulus2(opening: float) -> float:
        x = base + live * opening
        if x >= tip:
            return open_jet2
        d = d0
        if x > t1:
            d -= slope1 * ((x if x < t2 else t2) - t1)
            if x > t2:
                d -= slope2 * (x - t2)
        n = n_cd * (nj2 - d * d)
        return n * n

    return annulus2


def _starter_mm2(g: Geometry) -> float:
    """Conductance of an open enrichener: its jet, air bled in and exit in series; the passage is as wide all along."""
    if not g.enrichener_jet_mm:
        return 0.0
    passage = jet_area_mm2(g.enrichener_air_mm, g.discharge)
    return series_path(jet_area_mm2(g.enrichener_jet_mm, g.discharge), passage, passage).conductance_mm2


def _added(g: Geometry) -> Callable[[float, float, float], float] | None:
    starter, power = _starter_mm2(g), g.discharge * math.pi / 4.0 * g.power_jet_mm**2
    if starter <= 0.0 and power <= 0.0:
        return None
    sqrt, head, bared_from = math.sqrt, g.head_pa, g.power_jet_from
    spout = float_head_pa(g.power_jet_head_mm, g.fuel_density_kg_m3)
    inlet_pa = STANDARD_PRESSURE_PA / g.capacity**2

    def added(engine_side_pa: float, air: float, opening: float) -> float:
        # see added_fuel: the one draws on the engine side of the throttle, the other on the speed in the inlet
        bared = min(max(4.0 * (opening - bared_from), 0.0), 1.0)
        lift, rise = engine_side_pa - head, inlet_pa * (air * bared) ** 2 - spout
        return (starter * sqrt(lift) if lift > 0.0 else 0.0) + (power * sqrt(rise) if rise > 0.0 else 0.0)

    return added


def _chain(g: Geometry) -> _Chain:
    throttle = {
        "vacuum_slide": _vacuum_throttle, "butterfly": _plate_throttle, "diaphragm": _plate_throttle
    }.get(g.kind, _slide_throttle)(g)  # fmt: skip
    circle, air_screw = g.discharge * math.pi / 4.0, g.screw == "air_screw"
    return _Chain(
        throttle=throttle,
        annulus2=_annulus(g) if g.has_needle else None,
        added=_added(g),
        jet=circle * g.main_jet_mm**2,
        air=circle * g.main_air_mm**2,
        pilot_jet=circle * g.pilot_jet_mm**2,
        pilot_air=circle * g.pilot_air_mm**2 * (g.screw_factor if air_screw else 1.0),
        outlet=circle * g.pilot_outlet_mm**2 * (1.0 if air_screw else g.screw_factor),
        bypass=circle * g.bypass_mm**2,
        head=g.head_pa,
        head_per_mm=0.0 if g.kind == "diaphragm" else 0.0005 * g.fuel_density_kg_m3 * GRAVITY_M_S2,
        air_screw=air_screw,
    )


def _flows(c: _Chain) -> Callable[[float], tuple[float, float]]:
    throttle, annulus2, added, jet, air, pj, pa, po, by, head, *_ = c
    sqrt, s2, air2 = math.sqrt, (jet + air) * (jet + air), air * air

    def flows(opening: float) -> tuple[float, float]:
        y, d_pa, _, f, q = throttle(opening)
        if annulus2 is not None:
            n2 = annulus2(opening)
            drive, through = d_pa - head * (1.0 + air2 / n2), jet * sqrt(n2 / (n2 + s2))
        else:
            drive, through = d_pa - head, jet
        fuel = through * sqrt(drive) if drive > 0.0 else 0.0
        e = po + f * by
        bleed = pa + by - f * by
        drive = y - head * (1.0 + (bleed / e) ** 2)
        if drive > 0.0:
            fuel += pj * e * sqrt(drive / (e * e + (pj + bleed) ** 2))
        return (fuel if added is None else fuel + added(y, q, opening)), q

    return flows


def _shares(c: _Chain) -> Callable[[float], CircuitShares]:  # noqa: PLR0915  (calls cost more than the physics)
    throttle, annulus2, added, jet, air, pj, pa, po, by, head, per_mm, air_screw = c
    sqrt, make, s = math.sqrt, tuple.__new__, jet + air
    s2, jet_s, air_s, air2 = s * s, jet * s, air * s, air * air

    def shares(opening: float) -> CircuitShares:
        y, d_pa, slope, f, q = throttle(opening)
        e = po + f * by
        bleed = pa + by - f * by
        ps = pj + bleed
        e2 = e * e
        lift = bleed * bleed / e2
        pdrive = y - head * (1.0 + lift)
        pboth = e2 + ps * ps
        pilot = pj * e * sqrt(pdrive / pboth) if pdrive > 0.0 else 0.0
        needle = bled = cut = level = 0.0
        other = 0.0 if added is None else added(y, q, opening)
        if annulus2 is not None:
            n2 = annulus2(opening)
            ring = air2 / n2
            drive = d_pa - head * (1.0 + ring)
            if drive > 0.0:
                both = n2 + s2
                main = jet * sqrt(drive * n2 / both)
                w = main / (main + pilot + other)
                back = head * ring / drive
                needle = w * (s2 / both + back)
                jet_share = w * (1.0 - jet_s / both)
                bled = -w * (air_s / both + back)
                cut = w * slope * d_pa / drive
                level = w * per_mm * (1.0 + ring) / drive
            else:
                main = w = jet_share = 0.0
        else:
            drive = d_pa - head
            main = jet * sqrt(drive) if drive > 0.0 else 0.0
            w = jet_share = main / (main + pilot + other) if drive > 0.0 else 0.0
            level = w * per_mm / drive if drive > 0.0 else 0.0
        if pilot > 0.0:
            extra = other / (main + pilot + other)
            p = 1.0 - w - extra
            pilot_jet = p * (1.0 - pj * ps / pboth)
            level += p * per_mm * (1.0 + lift) / pdrive
            up = head * lift / pdrive
            if air_screw:
                screw = p * pa * (ps / pboth + up / bleed) if bleed else 0.0
            else:
                screw = p * po / e * (ps * ps / pboth + up)
        else:
            p = pilot_jet = screw = 0.0
            extra = other / (main + other) if other else 0.0
            if main <= 0.0:
                raise refuse("geometry", f"no fuel flows at opening {opening:g}: check float head and pilot outlet")
        return make(CircuitShares, (p, needle, jet_share, cut, bled, level, pilot_jet, screw, extra))

    return shares


@lru_cache(maxsize=4096)
def _compiled(g: Geometry) -> _Compiled:
    chain = _chain(g)
    return _Compiled(_flows(chain), _shares(chain))


def shares_at(geometry: Geometry, opening: float) -> CircuitShares:
    """Circuit shares of `geometry` at an `opening` (0 to 1 of lift or plate travel); unitless.

    Valid range: opening 0 to 1. Below 1/16 the split is poorly known. Source: module text.

    >>> s = shares_at(Geometry(), 0.5)
    >>> s.needle > s.main_jet > s.pilot
    True
    """
    if not 0.0 <= opening <= 1.0:
        within("throttle opening", opening, 0.0, 1.0, "")
    return _compiled(geometry).shares(opening)


def transfer_share(geometry: Geometry, opening: float) -> float:
    """Share of the fuel (0 to 1) that leaves through the transfer holes the plate or slide has uncovered.

    The pilot's share times the uncovered hole area over all pilot exits; part of `pilot`, not beside it. Valid
    range: opening 0 to 1. Source: areas of the pilot's two exits.

    >>> transfer_share(Geometry(), 0.0), round(transfer_share(Geometry(kind="butterfly", screw="fuel_screw"), 0.06), 2)
    (0.0, 0.54)
    """
    within("throttle opening", opening, 0.0, 1.0, "")
    uncovered = min(1.0, opening / geometry.bypass_span)
    outlet = geometry.pilot_outlet_mm**2 * (1.0 if geometry.screw == "air_screw" else geometry.screw_factor)
    holes = uncovered * geometry.bypass_mm**2
    return shares_at(geometry, opening).pilot * holes / (holes + outlet)


@lru_cache(maxsize=8192)
def log_fuel(geometry: Geometry, opening: float) -> float:
    """ln of the fuel flow at an opening (0 to 1), in units that only make sense as a difference.

    Valid range: opening 0 to 1. Source: module text.

    >>> round(log_fuel(Geometry(main_jet_mm=1.65), 1.0) - log_fuel(Geometry(), 1.0), 3)
    0.044
    """
    within("throttle opening", opening, 0.0, 1.0, "")
    return math.log(max(_compiled(geometry).flows(opening)[0], 1e-12))


def relative_mixture(geometry: Geometry, opening: float) -> float:
    """ln of fuel per air at an opening (0 to 1), in units that only make sense as a difference between
    openings.

    Says how flat a geometry is over the opening, nothing absolute. Valid range: opening 0 to 1. Source:
    module text.

    >>> abs(relative_mixture(Geometry(), 0.5) - relative_mixture(Geometry(), 0.75)) < 0.08
    True
    """
    within("throttle opening", opening, 0.0, 1.0, "")
    fuel, air = _compiled(geometry).flows(opening)
    return math.log(max(fuel, 1e-12) / air)


def mixture_changes(before: Geometry, after: Geometry, openings: Iterable[float]) -> list[float]:
    """d ln(fuel per air) from one geometry to another at each opening (0 to 1); unitless.

    Valid range: openings 0 to 1. Source: `relative_mixture`, many at once.

    >>> round(mixture_changes(Geometry(), Geometry(main_jet_mm=1.65), [1.0])[0], 3)
    0.044
    """
    was, now, log = _compiled(before).flows, _compiled(after).flows, math.log
    out = []
    for o in openings:
        (fuel, air), (other, its_air) = was(o), now(o)
        out.append(log(max(other, 1e-12) * air / (max(fuel, 1e-12) * its_air)))
    return out


def vacuum_slide_lift_at(geometry: Geometry, plate_opening: float, speed_fraction: float) -> float:
    """Slide lift (0 to 1) of a vacuum slide at a plate opening (0 to 1) and a share of rated speed (0.1 to
    1.2).

    The same grip holds the needle at different heights at different speeds: bands are fixed in lift. Valid
    range: kind `vacuum_slide`. Source: own model; full plate lifts 0.33, 0.52, 0.70, 0.89 at 25, 50, 75,
    100 %.

    >>> vacuum_slide_lift_at(Geometry(kind="vacuum_slide"), 1.0, 0.5)
    0.52
    """
    if geometry.kind != "vacuum_slide":
        raise refuse("kind", "only a vacuum slide lifts by itself", geometry.kind, ("vacuum_slide",))
    speed = within("speed", speed_fraction, 0.1, 1.2, "of rated speed")
    a = geometry.capacity * (0.005 + 0.995 * butterfly_open_fraction(plate_opening))
    k = speed * geometry.suction_limit
    u = (math.sqrt(a * a + 4.0 * k * speed) - a) / (2.0 * k)
    return vacuum_slide_lift(min(a * u / geometry.slide_capacity, 1.0), geometry.spring_rise)
