"""What a known change of air does to the mixture, and so to the causes that are the air."""

from __future__ import annotations

import math

import numpy as np

from carbdiag.belief.lattice import Floats
from carbdiag.belief.network import Network
from carbdiag.case_schema import Air, AirChange
from carbdiag.knowledge import Knowledge
from carbdiag.metering.air import KELVIN, AirState, air_state, standard_temperature_k
from carbdiag.model import AIR_SIGN, Model
from carbdiag.records.families import Family


def dry_air(air: Air) -> AirState:
    """Dry air at standard pressure, and where no temperature is known at the standard one, of an elevation."""
    celsius = air.temperature_c
    if celsius is None:
        celsius = standard_temperature_k(air.elevation_m) - KELVIN
    return air_state(temperature_c=celsius, elevation_m=air.elevation_m, relative_humidity=0.0)


def air_shift(k: Knowledge, family: Family, air: AirChange) -> dict[str, float]:
    """Mixture shift by place when the air has changed since the carburetor was set; thinner air is richer.

    x = exponent(band) * ln(density now / density set), dry air (the family's exponent is weaker near idle).
    """
    ratio = dry_air(air.now).dry_density_kg_m3 / dry_air(air.set).dry_density_kg_m3
    by_band = {band: exponent * math.log(ratio) for band, exponent in family.air_exponent.items()}
    return {
        p.id: by_band.get(p.id, sum(w * by_band.get(b, 0.0) for b, w in family.drivers.get(p.id, p.drivers).items()))
        for p in k.places.values()
    }


def with_air(model: Model, network: Network, shift: dict[str, float], odds: Floats) -> Network:
    """Make the matching air cause as large as computed, and the other impossible; changes `odds` in place.

    A change too small to trouble an engine is so much less likely to be behind its trouble.
    """
    k = model.knowledge
    decision = k.scales.decision
    largest = max(shift.values(), key=abs)
    known = decision.known_air_odds * min(abs(largest) / decision.known_air_troubles, 1.0)
    x = network.x.copy()
    for cause in (c for c in k.causes.values() if c.air is not None and c.id in model.cause_ids):
        assert cause.air is not None
        sign = AIR_SIGN[cause.air]
        states = [n for n, s in enumerate(model.states) if s.cause == cause.id]
        matches = abs(largest) >= k.scales.mixture.lattice_step and math.copysign(1, largest) == sign
        for n in states:
            odds[n] = known / len(states) if matches else 0.0
            if matches:
                x[:, n] = network.lattice.steps(np.array([shift[p] for p in model.places]))
    return network.moved(x)
