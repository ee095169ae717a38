"""How right the chances are that a place runs rich, right or lean, which bar or free a leaner step.

    python benchmarks/levels.py [--riders N] [--asks N]

Riders of `simulated_world.py`, matched, whose machines have a residual of their own at every place. For the bands of
which something was told, and for the others: the log loss of the level, how often lean was said and was so, and the
same where it was said with at most the chance that bars nothing (`lean_is_possible`). Once by what the causes make of
a place (`mixture_levels`, printed), once with what was said there as well (`levels_at`, what bars steps).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence

import numpy as np

from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import likeliest
from carbdiag.casework.levels import levels_at, mixture_levels

try:
    from benchmarks.calibration import interview
    from benchmarks.simulated_ways import curable_rider, knowledge
    from benchmarks.simulated_world import Rider
except ModuleNotFoundError:  # run as a script
    from calibration import interview
    from simulated_ways import curable_rider, knowledge
    from simulated_world import Rider

Told = tuple[float, float, bool]  # log loss of the level, P(lean) said, lean in truth


def one(n: int, asks: int) -> dict[tuple[str, str], list[Told]]:
    """What is said of every band of one rider's machine, and what is so."""
    k = knowledge()
    here, seed, _ = curable_rider(1.0, n)
    rider = Rider(here, seed, anything=True)
    case = interview(k, rider, rider.complaint(), asks)
    belief = likeliest(assess(k, case))
    bands, lattice = tuple(belief.model.residuals), belief.network.lattice
    out: dict[tuple[str, str], list[Told]] = {}
    for by, levels in (("causes", mixture_levels(belief)), ("causes and what was said", levels_at(belief, *bands))):
        for band, of in zip(bands, levels / levels.sum(axis=1, keepdims=True), strict=True):
            so = int(lattice.level_weights()[:, rider.mixture(band)].argmax())
            where = "told of" if band in belief.seen else "not told of"
            out.setdefault((where, by), []).append((-float(np.log(max(of[so], 1e-9))), float(of[3:].sum()), so >= 3))
    return out


def main(arguments: Sequence[str] | None = None) -> None:
    """Draw riders, ask, compare."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--riders", type=int, default=500, help="riders (500)")
    parser.add_argument("--asks", type=int, default=0, help="asks before it is judged (0)")
    options = parser.parse_args(arguments)
    found: dict[tuple[str, str], list[Told]] = {}
    for n in range(options.riders):
        for key, told in one(n, options.asks).items():
            found.setdefault(key, []).extend(told)
    least = knowledge().scales.decision.lean_is_possible
    for (where, by), told in sorted(found.items()):
        loss, said, so = np.array(told, dtype=float).T
        low = said <= least
        error = loss.std() / max(len(loss) - 1, 1) ** 0.5
        print(f"{where:11} by {by:24} {len(told):6} bands: log loss {loss.mean():.3f} ± {error:.3f}, lean said"
              f" {said.mean():.3f} was {so.mean():.3f}; said at most {least:g}: {low.sum()} bands, said"
              f" {said[low].mean():.3f} was {so[low].mean():.3f}")  # fmt: skip


if __name__ == "__main__":
    main()
