"""Open area of the throttle, by kind: round-bore slide, flat slide, butterfly, and the vacuum slide by air
demand.

A quarter throttle is 20 % of the area on a round slide and 11 % on a butterfly: bands are not
interchangeable.
"""

from __future__ import annotations

import math
from typing import Final

from carbdiag.metering.limits import within

CLOSED_ANGLE_DEG: Final = 8.0


def round_slide_open_fraction(lift_fraction: float) -> float:
    """Open share of a round bore (0 to 1) under a straight-edged slide lifted by `lift_fraction` of the bore.

    Valid range: 0 to 1. Source: area of a circular segment.

    >>> round_slide_open_fraction(0.25)
    0.196
    """
    lift = within("slide lift", lift_fraction, 0.0, 1.0, "of the bore")
    theta = math.acos(1.0 - 2.0 * lift)
    return (theta - math.sin(theta) * math.cos(theta)) / math.pi


def flat_slide_open_fraction(lift_fraction: float, height_over_width: float = 1.0) -> float:
    """Open share (0 to 1) of a flat slide's throat: half-circles above and below, straight sides between.

    `lift_fraction` is of the throat's height; at `height_over_width` 1 the throat is round. Valid range:
    lift 0 to 1, ratio 1 to 2. Source: own geometry (throat shape from memory).

    >>> flat_slide_open_fraction(0.5, 1.3)
    0.5
    """
    lift = within("slide lift", lift_fraction, 0.0, 1.0, "of the throat height")
    ratio = within("throat height over width", height_over_width, 1.0, 2.0, "")
    side = ratio - 1.0
    total = math.pi / 4.0 + side
    h = lift * ratio
    disc = round_slide_open_fraction(min(h, 0.5)) if h <= 0.5 else 0.5
    if h > 0.5 + side:
        disc = round_slide_open_fraction(min(h - side, 1.0))
    return (disc * math.pi / 4.0 + min(max(h - 0.5, 0.0), side)) / total


def butterfly_open_fraction(plate_opening: float, closed_angle_deg: float = CLOSED_ANGLE_DEG) -> float:
    """Open share of the bore (0 to 1) past a butterfly at `plate_opening` (0 to 1 of its travel to 90
    degrees).

    Valid range: opening 0 to 1, closed angle 0 to 30 degrees. Source: projected area of a tilted plate; shaft
    thickness ignored.

    >>> butterfly_open_fraction(0.25)
    0.113
    """
    p = within("plate opening", plate_opening, 0.0, 1.0, "")
    closed = math.radians(within("closed plate angle", closed_angle_deg, 0.0, 30.0, "degrees"))
    angle = closed + p * (math.pi / 2.0 - closed)
    return 1.0 - math.cos(angle) / math.cos(closed)


def butterfly_opening_for(open_fraction: float, closed_angle_deg: float = CLOSED_ANGLE_DEG) -> float:
    """Plate opening (0 to 1 of travel) that gives `open_fraction` (0 to 1) of the bore: inverse of the above.

    Valid range: 0 to 1, closed angle 0 to 30 degrees. Source: own rearrangement.

    >>> butterfly_opening_for(0.1127)
    0.250
    """
    share = within("open share", open_fraction, 0.0, 1.0, "")
    closed = math.radians(within("closed plate angle", closed_angle_deg, 0.0, 30.0, "degrees"))
    angle = math.acos((1.0 - share) * math.cos(closed))
    return (angle - closed) / (math.pi / 2.0 - closed)


def vacuum_slide_demand(lift_fraction: float, spring_rise: float = 1.05) -> float:
    """Air a vacuum slide passes at a lift (0 to 1), as a share of what it passes fully lifted.

    The slide hangs where its depression balances weight and spring: open area times the root of that
    depression. `spring_rise` is how much the depression grows over the whole lift, as a share of its start.
    Valid range: lift 0 to 1, rise 0 to 10. Source: own model; spring from memory.

    >>> vacuum_slide_demand(0.5)
    0.431
    """
    lift = within("slide lift", lift_fraction, 0.0, 1.0, "of the bore")
    rise = within("spring rise", spring_rise, 0.0, 10.0, "")
    return round_slide_open_fraction(lift) * math.sqrt((1.0 + rise * lift) / (1.0 + rise))


def vacuum_slide_lift(air_demand: float, spring_rise: float = 1.05) -> float:
    """Lift (0 to 1 of the bore) of a vacuum slide for an `air_demand` (0 to 1 of what it passes fully
    lifted).

    Bisection to 1e-6. Valid range: demand 0 to 1, rise 0 to 10. Source: inverse of `vacuum_slide_demand`.

    >>> vacuum_slide_lift(vacuum_slide_demand(0.6))
    0.6000
    """
    demand = within("air demand", air_demand, 0.0, 1.0, "of the slide's capacity")
    low, high = 0.0, 1.0
    for _ in range(21):
        middle = 0.5 * (low + high)
        if vacuum_slide_demand(middle, spring_rise) < demand:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
