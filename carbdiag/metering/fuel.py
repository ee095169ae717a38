"""Fuels: density, stoichiometry, oil in the mix, temperature, and the fuel-area factor a change of fuel
asks for.

Densities, expansion coefficients and the oil density are from memory; the air-fuel ratios agree with
published figures to their rounding (14.6 to 14.7 petrol, 9.0 ethanol, 6.4 methanol; E10 about 14.1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from carbdiag.metering.limits import refuse, within

REFERENCE_TEMPERATURE_C: Final = 15.0
OIL_DENSITY_KG_M3: Final = 870.0
FUEL_TEMPERATURE_RANGE_C: Final = (-30.0, 60.0)


@dataclass(frozen=True)
class Fuel:
    """A fuel: density at 15 C (kg/m3), stoichiometric air-fuel mass ratio, expansion (1/K), burnable mass
    share.

    Valid range: density 600 to 1000 kg/m3, ratio 5 to 16, expansion 0 to 0.002 1/K, share 0.8 to 1. Source:
    see the module text.

    >>> PETROL.density_kg_m3(15.0)
    740.0
    """

    name: str
    density_15c_kg_m3: float
    stoichiometric_ratio: float
    expansion_per_k: float
    burnable_mass_share: float = 1.0

    def __post_init__(self) -> None:
        within("fuel density", self.density_15c_kg_m3, 600.0, 1000.0, "kg/m3")
        within("stoichiometric ratio", self.stoichiometric_ratio, 5.0, 16.0, "")
        within("fuel expansion", self.expansion_per_k, 0.0, 0.002, "1/K")
        within("burnable share", self.burnable_mass_share, 0.8, 1.0, "")

    def density_kg_m3(self, temperature_c: float) -> float:
        """Density (kg/m3) at `temperature_c` (C).

        Valid range: -30 to 60 C. Source: linear expansion, coefficient from memory.

        >>> PETROL.density_kg_m3(35.0)
        725.9
        """
        t = within("fuel temperature", temperature_c, *FUEL_TEMPERATURE_RANGE_C, "C")
        return self.density_15c_kg_m3 * (1.0 - self.expansion_per_k * (t - REFERENCE_TEMPERATURE_C))


PETROL: Final = Fuel("petrol", 740.0, 14.7, 0.00095)
ETHANOL: Final = Fuel("ethanol", 789.0, 9.0, 0.0011)
METHANOL: Final = Fuel("methanol", 792.0, 6.46, 0.0012)


def ethanol_blend(ethanol_volume_share: float) -> Fuel:
    """Petrol with `ethanol_volume_share` (0 to 1 by volume) of ethanol.

    Valid range: 0 to 1. Source: mass-weighted mixing of the two pure fuels.

    >>> ethanol_blend(0.10).stoichiometric_ratio
    14.1
    """
    v = within("ethanol share", ethanol_volume_share, 0.0, 1.0, "")
    ethanol, petrol = v * ETHANOL.density_15c_kg_m3, (1.0 - v) * PETROL.density_15c_kg_m3
    mass = ethanol + petrol
    ratio = (ethanol * ETHANOL.stoichiometric_ratio + petrol * PETROL.stoichiometric_ratio) / mass
    expansion = v * ETHANOL.expansion_per_k + (1.0 - v) * PETROL.expansion_per_k
    return Fuel(f"E{round(100 * v)}", mass, ratio, expansion)


E5: Final = ethanol_blend(0.05)
E10: Final = ethanol_blend(0.10)
E85: Final = ethanol_blend(0.85)
FUELS: Final[dict[str, Fuel]] = {
    "petrol": PETROL, "e5": E5, "e10": E10, "e85": E85, "ethanol": ETHANOL, "methanol": METHANOL,
}  # fmt: skip


def fuel_named(name: str) -> Fuel:
    """The fuel of that id: petrol, e5, e10, e85, ethanol or methanol (unitless id).

    Valid range: those six ids, in any case. Source: this module.

    >>> fuel_named("E85").name
    'E85'
    """
    try:
        return FUELS[name.lower()]
    except KeyError:
        raise refuse("fuel", "unknown fuel", name, tuple(FUELS)) from None


def premix(fuel: Fuel, ratio: float) -> Fuel:
    """`fuel` with two-stroke oil, `ratio` parts of fuel to one of oil by volume (32 means 32:1).

    Oil is counted as not burning, so more oil runs leaner. Valid range: 8 to 200. Source: volume mixing; oil
    density from memory.

    >>> area_factor(PETROL, premix(PETROL, 32.0))
    1.034
    """
    r = within("premix ratio", ratio, 8.0, 200.0, "parts of fuel to one of oil")
    burnable = fuel.density_15c_kg_m3 * r
    total = burnable + OIL_DENSITY_KG_M3
    return Fuel(
        f"{fuel.name} {r:g}:1", total / (r + 1.0), fuel.stoichiometric_ratio, fuel.expansion_per_k,
        burnable / total * fuel.burnable_mass_share,
    )  # fmt: skip


def area_factor(
    fuel_set: Fuel, fuel_now: Fuel, temperature_set_c: float = 15.0, temperature_now_c: float = 15.0
) -> float:
    """Factor on the total fuel area (unitless) that keeps the mixture when the fuel changes.

    Fuel mass through a jet goes as area times the root of density. Valid range: fuel at -30 to 60 C. Source:
    incompressible orifice law; viscosity is ignored, so thick premix in a small pilot jet is not covered.

    >>> area_factor(PETROL, METHANOL)
    2.20
    """

    def burnable_per_area(f: Fuel, t: float) -> float:
        return math.sqrt(f.density_kg_m3(t)) * f.burnable_mass_share * f.stoichiometric_ratio

    return burnable_per_area(fuel_set, temperature_set_c) / burnable_per_area(fuel_now, temperature_now_c)


def fuel_shift_x(
    fuel_set: Fuel, fuel_now: Fuel, temperature_set_c: float = 15.0, temperature_now_c: float = 15.0
) -> float:
    """Mixture deviation x = ln(lambda ratio) of a change of fuel with nothing else changed; positive is lean.

    Valid range: fuel at -30 to 60 C. Source: ln of `area_factor`.

    >>> fuel_shift_x(PETROL, E10)
    0.039
    """
    return math.log(area_factor(fuel_set, fuel_now, temperature_set_c, temperature_now_c))
