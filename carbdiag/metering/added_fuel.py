"""Fuel that joins beside pilot and main: enrichener, power jet; and what a leak jet takes from a pump.

Each is one orifice in closed form. Effective areas as in `fuel_path`.
"""

from __future__ import annotations

import math
from typing import Final

from carbdiag.metering.fuel_path import float_head_pa, jet_area_mm2, orifice_flow_kg_s
from carbdiag.metering.limits import within

#: Effective share of a drilled jet's area; from memory, as for the other jets.
_DISCHARGE: Final = 0.72


def enrichener_kg_s(
    jet_mm: float, engine_side_pa: float, head_mm: float = 15.0, fuel_density_kg_m3: float = 740.0
) -> float:
    """Fuel (kg/s) of an open enrichener: a jet (mm) into the engine side of the throttle, under its depression (Pa).

    Its share is largest near closed throttle, where that depression is largest and all other fuel least; at wide
    openings it does little. Without the air that joins it on the way (`shares` counts it). Valid range: jet 0 to
    3 mm, depression 0 to 50 000 Pa. Source: orifice law.

    >>> enrichener_kg_s(0.6, 5000.0)
    0.00055
    >>> enrichener_kg_s(0.6, 50.0)
    0.0
    """
    within("enrichener jet", jet_mm, 0.0, 3.0, "mm")
    return _lifted(jet_mm, engine_side_pa, head_mm, fuel_density_kg_m3)


def power_jet_kg_s(
    jet_mm: float, inlet_pa: float, head_mm: float = 40.0, fuel_density_kg_m3: float = 740.0
) -> float:
    """Fuel (kg/s) of a power jet: a jet (mm) whose spout stands `head_mm` above the fuel in the inlet of the bore.

    It draws on the speed of the air ahead of the slide (Pa), so it starts with much flow only; the spout stands at the
    top of the inlet, so a slide must be well up before air moves there (`Geometry.power_jet_from`). Valid range: jet 0
    to 2 mm, depression 0 to 50 000 Pa, head 5 to 60 mm. Source: orifice law.

    >>> power_jet_kg_s(0.5, 250.0), power_jet_kg_s(0.5, 900.0)
    (0.0, 0.00013)
    """
    within("power jet", jet_mm, 0.0, 2.0, "mm")
    within("spout height", head_mm, 5.0, 60.0, "mm")
    return _lifted(jet_mm, inlet_pa, head_mm, fuel_density_kg_m3)


def _lifted(jet_mm: float, depression_pa: float, head_mm: float, density_kg_m3: float) -> float:
    within("depression", depression_pa, 0.0, 50_000.0, "Pa")
    drive = depression_pa - float_head_pa(head_mm, density_kg_m3)
    if jet_mm == 0.0 or drive <= 0.0:
        return 0.0
    return orifice_flow_kg_s(jet_area_mm2(jet_mm, _DISCHARGE), density_kg_m3, drive)


def power_jet_starts_at(head_mm: float = 40.0, full_flow_pa: float = 950.0, fuel_density_kg_m3: float = 740.0) -> float:
    """Air flow, as a share of that which makes `full_flow_pa` (Pa), at which a power jet begins to flow.

    Depression goes with the square of the flow. Valid range: head 5 to 60 mm, 300 to 5000 Pa. Source: hydrostatics.

    >>> power_jet_starts_at(40.0, 950.0)
    0.553
    """
    within("spout height", head_mm, 5.0, 60.0, "mm")
    within("depression at full flow", full_flow_pa, 300.0, 5000.0, "Pa")
    return math.sqrt(float_head_pa(head_mm, fuel_density_kg_m3) / full_flow_pa)


def pump_share(nozzle_mm: float, leak_mm: float) -> float:
    """Share of an accelerator pump's stroke that leaves the nozzle, the rest going back through the leak jet.

    Two holes under one pressure: their areas decide, while the pump moves fast. A slow stroke stays below the
    pressure that opens the nozzle, and nearly all of it leaks away. Valid range: nozzle 0.1 to 2 mm, leak jet 0
    (plugged) to 2 mm. Source: orifice law in parallel.

    >>> pump_share(0.5, 0.5), pump_share(0.5, 0.0)
    (0.5, 1.0)
    """
    within("pump nozzle", nozzle_mm, 0.1, 2.0, "mm")
    within("leak jet", leak_mm, 0.0, 2.0, "mm")
    return nozzle_mm**2 / (nozzle_mm**2 + leak_mm**2)


def squirt_change_percent(nozzle_mm: float, was_leak_mm: float, now_leak_mm: float) -> float:
    """Change of the squirt (percent; + is more) when a leak jet is changed on a fast opening.

    Valid range: as `pump_share`. Source: `pump_share`.

    >>> squirt_change_percent(0.5, 0.5, 0.4)
    22.0
    """
    return 100.0 * (pump_share(nozzle_mm, now_leak_mm) / pump_share(nozzle_mm, was_leak_mm) - 1.0)
