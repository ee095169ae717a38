"""What one practical step of a circuit changes, and how much fuel it gives."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from carbdiag.metering.geometry import Geometry
from carbdiag.metering.limits import refuse
from carbdiag.metering.shares import log_fuel

STEPS: Final = (
    "mixture_screw", "pilot", "cutaway", "needle", "main_jet", "needle_diameter", "float_level",
    "air_correction",
)  # fmt: skip
"""One practical step richer: half a turn, pilot +0.025 mm, cutaway -0.5, one groove up, main +0.025 mm,
needle -0.01 mm, level +1 mm, main air jet -0.05 mm."""


def changed_by_steps(  # noqa: PLR0911  (one return a circuit)
    geometry: Geometry, circuit: str, steps: float
) -> Geometry:
    """`geometry` after `steps` practical steps on one circuit (see STEPS); positive is richer.

    The clip may land between grooves (the physics does not mind); a whole-groove limit is the business of
    `sizes`. Valid range: until a part leaves its own range. Source: usual part steps, from memory.

    >>> changed_by_steps(Geometry(), "main_jet", 2.0).main_jet_mm
    1.65
    """
    if circuit == "mixture_screw":
        way = 1.0 if geometry.screw == "fuel_screw" else -1.0
        return replace(geometry, screw_turns=geometry.screw_turns + way * 0.5 * steps)
    if circuit == "pilot":
        return replace(geometry, pilot_jet_mm=geometry.pilot_jet_mm + 0.025 * steps)
    if circuit == "cutaway":
        return replace(geometry, cutaway_mm=geometry.cutaway_mm - 0.5 * steps)
    if circuit == "needle":
        # hanging the needle one step higher equals starting its tapers one step lower
        up = geometry.clip_step_mm / geometry.bore_mm * steps
        return replace(
            geometry,
            taper_start=geometry.taper_start - up,
            second_taper_start=geometry.second_taper_start - up,
            needle_tip=geometry.needle_tip - up,
        )
    if circuit == "main_jet":
        return replace(geometry, main_jet_mm=geometry.main_jet_mm + 0.025 * steps)
    if circuit == "needle_diameter":
        return replace(geometry, needle_straight_mm=geometry.needle_straight_mm - 0.01 * steps)
    if circuit == "float_level":
        return replace(geometry, float_head_mm=geometry.float_head_mm - 1.0 * steps)
    if circuit == "air_correction":
        return replace(geometry, main_air_mm=geometry.main_air_mm - 0.05 * steps)
    raise refuse("circuit", "no practical step is known for it", circuit, STEPS)


def step_percent(geometry: Geometry, circuit: str, opening: float, steps: float = 1.0) -> float:
    """Percent fuel that `steps` practical steps (see STEPS; positive richer) give at an opening (0 to 1).

    Solved, not linear. Valid range: opening 0 to 1. Screw steps mean something near closed throttle only.
    Source: module text.

    >>> step_percent(Geometry(), "main_jet", 1.0)
    2.2
    """
    after = changed_by_steps(geometry, circuit, steps)
    return 100.0 * (math.exp(log_fuel(after, opening) - log_fuel(geometry, opening)) - 1.0)
