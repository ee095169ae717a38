"""The fuel path: jets, air bleed, needle annulus and pilot circuit in series, in closed form.

Areas are **effective** areas (discharge coefficient times geometric area). Through a restriction that carries
fuel and air together the two flows add in root-of-pressure units (separated two-phase orifice rule), which
gives one equation without a mixture density:

    N sqrt(D - a) = J sqrt(a - H) + A sqrt(a)

with depression D at the discharge point, a in the jet well, float head H, and effective areas J (fuel jet),
A (air jet), N (annulus or exit). For H = 0 it is closed form. For H > 0 this library uses

    fuel = J N / sqrt(N^2 + s^2) * sqrt(D - H'),   s = J + A,   H' = H (1 + (A/N)^2)

which is exact for H = 0, exact for A = 0, has the exact depression at which fuel starts, and never turns a
bigger jet leaner. With head and bleed together it reads high: against a bisection of the full equation the
worst corner of jets 0.5 to 2, exits 0.3 to 4 and bleeds to 0.3 mm2 is 9 % from 16 times the start on, 17 %
from 8 times, 32 % from 4 times; a constant excess is absorbed by the fitted gain. (A form that
is right to first order in H is nearer there, but starts too late and turns a bigger jet leaner near the
start; it was tried and dropped.)

Not in here: laminar flow in small pilot jets, pulsation, transients. See `shares` for what may be promised.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from carbdiag.metering.limits import within

GRAVITY_M_S2 = 9.81


def jet_area_mm2(bore_mm: float, discharge_coefficient: float = 1.0) -> float:
    """Effective area (mm2) of a round hole of `bore_mm` (mm).

    Valid range: bore 0 to 6 mm, coefficient 0.3 to 1. Source: circle; coefficients near 0.72 are from memory.

    >>> jet_area_mm2(1.60, 0.72)
    1.448
    """
    d = within("bore", bore_mm, 0.0, 6.0, "mm")
    cd = within("discharge coefficient", discharge_coefficient, 0.3, 1.0, "")
    return cd * math.pi / 4.0 * d * d


def annulus_area_mm2(needle_jet_mm: float, needle_mm: float, discharge_coefficient: float = 1.0) -> float:
    """Effective area (mm2) between needle jet bore and needle (both diameters in mm).

    Valid range: needle jet 1 to 6 mm, needle from 0 to the jet, coefficient 0.3 to 1. Source: ring area.

    >>> annulus_area_mm2(2.70, 2.50)
    0.817
    >>> annulus_area_mm2(2.70, 2.75)
    Traceback (most recent call last):
    ...
    carbdiag.errors.OutOfRangeError: needle diameter must be from 0 to 2.7 mm, got 2.75 mm
    """
    within("needle jet bore", needle_jet_mm, 1.0, 6.0, "mm")
    within("needle diameter", needle_mm, 0.0, needle_jet_mm, "mm")
    cd = within("discharge coefficient", discharge_coefficient, 0.3, 1.0, "")
    return cd * math.pi / 4.0 * (needle_jet_mm**2 - needle_mm**2)


def float_head_pa(head_mm: float, fuel_density_kg_m3: float = 740.0) -> float:
    """Pressure (Pa) needed to lift fuel from the float level to the outlet, `head_mm` (mm) higher.

    Valid range: 0 to 60 mm, 600 to 1000 kg/m3. Source: hydrostatics.

    >>> float_head_pa(15.0)
    108.9
    """
    within("float head", head_mm, 0.0, 60.0, "mm")
    within("fuel density", fuel_density_kg_m3, 600.0, 1000.0, "kg/m3")
    return fuel_density_kg_m3 * GRAVITY_M_S2 * head_mm / 1000.0


def orifice_flow_kg_s(area_mm2: float, density_kg_m3: float, pressure_drop_pa: float) -> float:
    """Mass flow (kg/s) through an effective area (mm2), incompressible.

    Valid range: area 0 to 5000 mm2, density 0.3 to 1000 kg/m3, drop 0 to 50 000 Pa. Source: textbook
    orifice law.

    >>> orifice_flow_kg_s(1.448, 740.0, 2000.0)
    0.00249
    """
    within("area", area_mm2, 0.0, 5000.0, "mm2")
    within("density", density_kg_m3, 0.3, 1000.0, "kg/m3")
    within("pressure drop", pressure_drop_pa, 0.0, 50_000.0, "Pa")
    return area_mm2 * 1e-6 * math.sqrt(2.0 * density_kg_m3 * pressure_drop_pa)


@dataclass(frozen=True)
class SeriesPath:
    """What a jet, an air bleed and an exit in series pass, and who is in charge.

    `conductance_mm2` times sqrt(2 rho (D - start)) is the fuel flow; `start_pa` the depression (Pa) at which
    fuel starts; `s_jet + s_exit + s_air` = 1 (elasticities of conductance; `s_air` is negative). Valid range:
    as `series_path` returns it. Source: closed form of the equation in the module text.

    >>> series_path(1.0, 1.4142, 0.0).s_jet
    0.667
    """

    conductance_mm2: float
    start_pa: float
    s_jet: float
    s_exit: float
    s_air: float


def series_path(jet_mm2: float, exit_mm2: float, air_mm2: float, head_pa: float = 0.0) -> SeriesPath:
    """Series law of fuel jet J, exit N (needle annulus or pilot outlet) and air bleed A (effective mm2).

    S_J = 1 - J s/(N^2 + s^2), S_N = s^2/(N^2 + s^2), S_A = -A s/(N^2 + s^2), s = J + A. Valid range: each
    area above 0 (air may be 0) to 30 mm2, head 0 to 2000 Pa. Source: module text.

    >>> p = series_path(1.45, 2.9, 0.2)
    >>> round(p.s_jet, 3), round(p.s_exit, 3), round(p.s_air, 3)
    (0.785, 0.245, -0.03)
    """
    j = within("jet area", jet_mm2, 1e-6, 30.0, "mm2")
    n = within("exit area", exit_mm2, 1e-6, 30.0, "mm2")
    a = within("air jet area", air_mm2, 0.0, 30.0, "mm2")
    within("float head", head_pa, 0.0, 2000.0, "Pa")
    s = j + a
    q = n * n + s * s
    return SeriesPath(j * n / math.sqrt(q), head_pa * (1.0 + (a / n) ** 2), 1.0 - j * s / q, s * s / q, -a * s / q)
