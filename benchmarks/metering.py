"""Median times of the metering library on this machine: python benchmarks/metering.py"""

from __future__ import annotations

import statistics
import time
import timeit
from collections.abc import Callable

from carbdiag.metering.air import AirState, air_state
from carbdiag.metering.deviation import deviation_normal
from carbdiag.metering.geometry import Geometry
from carbdiag.metering.jet_series import JetSize
from carbdiag.metering.plausible import share_spans, variants
from carbdiag.metering.relocation import relocate
from carbdiag.metering.shares import shares_at
from carbdiag.metering.sizes import parts_of, size_correction
from carbdiag.metering.sweep import SetUp, sweep


def median_us(work: Callable[[], object], number: int) -> float:
    """Median of 15 runs, microseconds of processor time a call."""
    return statistics.median(timeit.repeat(work, timer=time.process_time, number=number, repeat=15)) / number * 1e6


def fresh_bores() -> Callable[[], float]:
    """A bore never seen before at each call, so that nothing is cached."""
    state = {"bore": 1.55}

    def following() -> float:
        state["bore"] += 1e-6
        return state["bore"]

    return following


def main() -> None:
    """Print each median beside its budget."""
    g, air, bore = Geometry(), AirState(95_000.0, 20.0, 0.5), fresh_bores()
    parts = parts_of(g, main=JetSize(160), pilot=JetSize(45))
    lean = deviation_normal(0.05, 0.02)
    working, after = SetUp(g, air), SetUp(Geometry(main_jet_mm=1.65), air)
    rows = [
        ("moist density", lambda: air.moist_density_kg_m3, 5000, None),
        ("air state from elevation", lambda: air_state(elevation_m=900.0, temperature_c=20.0), 2000, None),
        ("shares at one opening", lambda: shares_at(g, 0.4), 5000, 5.0),
        ("24 variants, cold", lambda: variants(Geometry(main_jet_mm=bore())), 5, None),
        ("share intervals, cold", lambda: share_spans(Geometry(main_jet_mm=bore()), 0.5), 5, None),
        ("correction, warm", lambda: size_correction(parts, "main_jet", 1.0, lean), 50, 2000.0),
        (
            "correction, cold",
            lambda: size_correction(parts_of(Geometry(taper_deg=bore())), "needle", 0.5, lean),
            5, 2000.0,
        ),
        ("relocation", lambda: relocate(air, AirState(80_000.0, 5.0), parts), 50, None),
        ("sweep of 50 openings, warm", lambda: sweep(working, working, after), 10, 5000.0),
        (
            "sweep of 50 openings, cold",
            lambda: sweep(working, after=SetUp(Geometry(main_jet_mm=bore()))),
            5, 5000.0,
        ),
    ]  # fmt: skip
    for name, work, number, budget in rows:
        limit = f"  budget {budget:g} us" if budget else ""
        print(f"{name:32} {median_us(work, number):10.1f} us{limit}")


if __name__ == "__main__":
    main()
