"""How far a circuit, or a cause, moves the mixture at each place of one family of carburetors."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from carbdiag.belief.lattice import Floats
from carbdiag.family_metering import ByPlace, FamilyTables
from carbdiag.knowledge import Knowledge
from carbdiag.records.causes import Amount, MixtureEffect
from carbdiag.scales import probability
from carbdiag.terms import Direction


def through_drivers(drivers: ByPlace, by_place: Mapping[str, float]) -> dict[str, float]:
    """Complete shifts given for some places: states that are not named inherit from their bands."""
    return {
        place: by_place[place] if place in by_place else sum(w * by_place.get(b, 0.0) for b, w in by_band.items())
        for place, by_band in drivers.items()
    }


def completed(drivers: ByPlace, shifts: Sequence[Mapping[str, float]]) -> Floats:
    """The same for many at once, as an array (places, shifts)."""
    row = {p: n for n, p in enumerate(drivers)}
    given = [(row[p], n, x) for n, by_place in enumerate(shifts) for p, x in by_place.items()]
    at, of = np.array([(r, n) for r, n, _ in given], dtype=np.intp).reshape(-1, 2).T
    out, named = np.zeros((len(row), len(shifts))), np.zeros((len(row), len(shifts)), dtype=bool)
    out[at, of], named[at, of] = [x for *_, x in given], True
    inherited = np.zeros_like(out)
    for place, by_band in drivers.items():
        for band, weight in by_band.items():
            inherited[row[place]] += weight * out[row[band]]
    return np.where(named, out, inherited)


def flow_shift(shares: ByPlace, circuit: str, place: str, lost: float) -> float:
    """Mixture shift at a place when a circuit's area changes by the share `lost` (negative: lost).

    Main jet and needle lie in series, the pilot beside them: fuel = pilot + rest / sqrt(s / r^2 + 1 - s) with r the
    remaining area and s the circuit's share of what is not pilot. Other circuits act in parallel: 1 + share * lost.
    """
    share = shares.get(circuit, {}).get(place, 0.0)
    if share == 0.0:
        return 0.0
    if circuit in ("main_jet", "needle"):
        pilot = shares.get("pilot", {}).get(place, 0.0)
        s = min(share / max(1 - pilot, 1e-6), 1.0)
        remaining = max(1 + lost, 0.02)
        fuel = pilot + (1 - pilot) / math.sqrt(s / remaining**2 + 1 - s)
    else:
        fuel = max(1 + share * lost, 0.02)
    return -math.log(fuel)


def step_shift(steps: ByPlace, circuit: str, place: str) -> float:
    """Mixture shift at a place for one practical step richer (negative: richer)."""
    return -math.log1p(steps.get(circuit, {}).get(place, 0.0) / 100)


def severities_of(
    k: Knowledge, tables: FamilyTables, strokes: int, effect: MixtureEffect
) -> list[tuple[str, float, dict[str, float], float]]:
    """(label, how often, shift by place named, how many times that shift) of each severity."""
    out: list[tuple[str, float, dict[str, float], float]] = []
    if effect.circuit is not None:
        named = {*tables.shares.get(effect.circuit, {}), *tables.steps.get(effect.circuit, {})}
        step = {p: step_shift(tables.steps, effect.circuit, p) for p in named}
        for text, word in effect.amounts.items():
            amount = Amount.parse(text)
            if amount.unit == "percent":
                x = {p: flow_shift(tables.shares, effect.circuit, p, amount.size / 100) for p in named}
            else:
                x = {p: amount.size * one for p, one in step.items()}
            out.append((text, probability(k, word), x, 1.0))
    else:
        assert effect.shift is not None
        words = {
            **(effect.shift.any or {}),
            **((effect.shift.two_stroke if strokes == 2 else effect.shift.four_stroke) or {}),
        }
        base = {p: k.scales.shift[w] for p, w in words.items()}
        for size, word in effect.sizes.items():
            out.append((size.value, probability(k, word), base, k.scales.size[size]))
    total = sum(often for _, often, *_ in out)
    return [(label, often / total, x, times) for label, often, x, times in out]


def way_of(
    effect: MixtureEffect, shifts: list[dict[str, float]], bands: list[str]
) -> Direction | None:
    if effect.circuit is not None:
        signs = {math.copysign(1, Amount.parse(t).size) for t in effect.amounts}
        if len(signs) > 1:
            return None
        return Direction.RICH if signs == {1.0} else Direction.LEAN
    strongest = max((v for x in shifts for p, v in x.items() if p in bands), key=abs, default=0.0)
    if strongest == 0.0:
        strongest = max((v for x in shifts for v in x.values()), key=abs, default=0.0)
    if strongest == 0.0:
        return None
    return Direction.LEAN if strongest > 0 else Direction.RICH
