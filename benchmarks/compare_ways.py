"""Two ways, or one way in two versions of the code, on the same riders: ratios and differences with paired errors.

    python benchmarks/compare_ways.py [--riders N] [--off 1 2] [--ways NAME ...] [--save FILE] [--beside FILE]

Riders, answers and luck are those of `simulation.py` (common random numbers), so most of the chance cancels between two
ways; a difference within twice its error decides nothing. `--save` keeps every rider's minutes; `--beside` compares
with what another version of the code saved.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

try:
    from benchmarks.simulated_ways import WAYS, Ended, curable_rider, play
except ModuleNotFoundError:  # run as a script
    from simulated_ways import WAYS, Ended, curable_rider, play

USUAL = ("fixed interview of ten, then repairs", "this walk, ten asks", "knowing the cause")
Minutes = dict[str, dict[str, float]]  # rider -> way -> minutes


def one(ways: Sequence[str], job: tuple[float, int]) -> tuple[str, dict[str, Ended]]:
    """One rider played every way; riders are named by world and number."""
    off, n = job
    here, seed, _ = curable_rider(off, n)
    return f"{off:g}/{n}", play(here, seed, ways)


def error(values: np.ndarray) -> float:
    """Standard error of the mean."""
    return float(values.std() / np.sqrt(max(len(values) - 1, 1)))


def report(off: float, played: dict[str, dict[str, Ended]], before: Minutes) -> None:
    """Print a line a way: beside the first way, and beside the same way as saved before."""
    riders = [r for r in played if r.startswith(f"{off:g}/")]
    ways = list(next(iter(played.values())))
    minutes = {w: np.array([played[r][w].minutes for r in riders]) for w in ways}
    first = minutes[ways[0]]
    print(f"off by up to {off:g}: {len(riders)} riders; ratios beside: {ways[0]}")
    for way, mine in minutes.items():
        ratio = mine.mean() / first.mean()
        line = f"  {way:38} {mine.mean():6.0f} min, {ratio:.3f} ± {error(mine - ratio * first) / first.mean():.3f}"
        shared = [n for n, r in enumerate(riders) if way in before.get(r, {})]
        if shared:
            change = mine[shared] - [before[riders[n]][way] for n in shared]
            line += f"; against what was saved {change.mean():+.0f} ± {error(change):.0f} ({len(shared)} riders)"
        print(line)
        kinds = dict.fromkeys(kind for r in riders for kind in played[r][way].spent)
        spent = {kind: np.mean([played[r][way].spent.get(kind, 0.0) for r in riders]) for kind in kinds}
        if spent:
            print("      " + ", ".join(f"{kind} {m:.0f}" for kind, m in spent.items()))


def main(arguments: Sequence[str] | None = None) -> None:
    """Play, compare, save."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--riders", type=int, default=200, help="riders in each world (200)")
    parser.add_argument("--first", type=int, default=0, help="number of the first one (0)")
    parser.add_argument("--off", type=float, nargs="+", default=[1.0, 2.0], help="worlds: how far they are off (1 2)")
    parser.add_argument("--ways", nargs="+", choices=tuple(WAYS), default=list(USUAL), metavar="NAME", help="ways")
    parser.add_argument("--jobs", type=int, default=2, help="processes (2)")
    parser.add_argument("--save", type=Path, help="keep every rider's minutes in this file")
    parser.add_argument("--beside", type=Path, help="compare with minutes saved before")
    options = parser.parse_args(arguments)
    before: Minutes = json.loads(options.beside.read_text(encoding="utf-8")) if options.beside else {}
    jobs = [(off, n) for n in range(options.first, options.first + options.riders) for off in options.off]
    with ProcessPoolExecutor(options.jobs) as pool:
        played = dict(pool.map(partial(one, tuple(options.ways)), jobs, chunksize=4))
    for off in options.off:
        report(off, played, before)
    if options.save:
        kept = {r: {way: end.minutes for way, end in ended.items()} for r, ended in played.items()}
        options.save.write_text(json.dumps(kept), encoding="utf-8")


if __name__ == "__main__":
    main()
