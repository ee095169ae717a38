"""Riders who fitted another filter and exhaust and have several settings off at once: do they get it right everywhere?

    python benchmarks/setting_up.py [riders]      60 riders; about a minute each way for ten

Each machine has its main jet, needle and pilot jet off by whole steps, drawn with a fixed seed, and nothing else wrong.
The rider tells up to three signs, answers what the walk asks, moves what it proposes, puts back what is no better, and
goes on until every opening is right or 25 things were done. Beside it the printed order: main jet, needle, pilot jet,
screw, each richer while that is better, else leaner, twice over. It asks for no sign, and leans without looking.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from statistics import fmean

import numpy as np

from carbdiag import Knowledge
from carbdiag.applies import fit_weight
from carbdiag.case_schema import Case, ContextReport, FindingReport
from carbdiag.casework.effects import effect_table
from carbdiag.scales import probability
from carbdiag.setting_trials import stays_in
from carbdiag.terms import Change, Effect
from carbdiag.walk_answer import with_answer
from carbdiag.walk_schema import StepAnswer, WalkRequest, WalkStep
from carbdiag.walking import walk

try:
    from benchmarks.simulated_world import Rider, World, _draw
except ModuleNotFoundError:  # run as a script
    from simulated_world import Rider, World, _draw

SEED = 20261128
MACHINES = (
    {
        "family": "round_slide", "strokes": 2, "cylinders": 1, "carburetors": 1,
        "cooling": "liquid", "fuel_feed": "gravity", "oiling": "premix",
    },
    {
        "family": "constant_velocity", "strokes": 4, "cylinders": 1, "carburetors": 1,
        "cooling": "air", "fuel_feed": "gravity", "oiling": "sump",
    },
)  # fmt: skip
#: By how many steps richer each must go: a freer engine mostly wants more, and jets bought for it may be too large.
OFF = {"main_jet": (-1, 3), "needle": (-1, 1), "pilot": (-1, 1)}
ORDER = (("main_jet", "full"), ("needle", "quarter"), ("pilot", "idle"), ("mixture_screw", "idle"))
ASKS, MOST = 10, 25


@dataclass(frozen=True)
class Ended:
    """How one rider fared."""

    right: bool
    changes: int  # settings moved and repairs made
    asked: int
    leaned: int  # steps that left a wide opening lean, and leaner than before


class Tuner(Rider):
    """A machine with nothing wrong but its settings."""

    leaned = False  # whether the last move left a wide opening lean, and leaner than before

    def _draw_machine(self) -> None:
        model, rng = self.world.model, self.rng
        lattice = model.network.lattice
        sigma = np.array([model.tables.sigma[q] for q in model.places])
        self.residual = np.rint(rng.normal(0, sigma / 2) / lattice.step).astype(int)
        off = {c: int(rng.integers(low, high + 1)) for c, (low, high) in OFF.items()}
        self.moves = {f"{c} as found": -n * lattice.steps(model.step_x[c]) for c, n in off.items()}

    def off_at(self, place: str) -> float:
        """By how much the mixture is off at a place; more than 0 is lean."""
        model = self.world.model
        return float(self.moved[model.place(place)]) * model.network.lattice.step

    def is_right(self) -> bool:
        """Whether no steady opening is off by what a rider would feel."""
        return self._is_right(self.moved)

    def signs(self) -> tuple[FindingReport, ...]:
        """Up to three signs that strike him, at steady openings."""
        model, k = self.world.model, self.world.model.knowledge
        found = [
            FindingReport(finding=finding, at=(at,))
            for finding, at in model.row_keys
            if k.places[at].kind == "band"
            and fit_weight(k.findings[finding].applies, self.world.machine, 1.0) > 0
            and self.rng.random() < probability(k, k.findings[finding].noticed_unasked)
            and self.answer("finding", finding, at) == "yes"
        ]
        return tuple(found[int(n)] for n in self.rng.permutation(len(found))[:3])

    def move(self, circuit: str, way: Change, steps: float, at: str, stays: bool = False) -> Effect:
        """Move a setting and feel it; put back unless it was better, or changed nothing and stays."""
        model = self.world.model
        network, place = model.network, model.place(at)
        moved = network.lattice.steps(model.step_x[circuit] * (1 if way is Change.RICHER else -1) * steps)
        table = effect_table(model.knowledge, network, int(moved[place]))
        self.trials += 1
        luck = self._luck("trial", circuit, way.value, str(self.trials))
        effect = _draw(luck, {e: float(t[self.mixture(place)]) for e, t in table.items()})
        before = self.moves.get(circuit, np.zeros_like(moved))
        was = self.wide_open()
        self.moves[circuit] = before + moved
        self.leaned = self.wide_open() > max(self._felt(), was + 0.005)
        if self.is_right():
            return Effect.CURED
        if effect in (Effect.CURED, Effect.CAME_BACK):
            effect = Effect.BETTER
        if effect is not Effect.BETTER and not (stays and effect is Effect.NO_CHANGE):
            self.moves[circuit] = before
        return effect

    def wide_open(self) -> float:
        """By how much the leaner one of the wide openings is off."""
        return max(self.off_at("three_quarter"), self.off_at("full"))

    def _felt(self) -> float:
        scales = self.world.model.knowledge.scales
        return scales.mixture.right_within + scales.trials.noticeable


def tuner(k: Knowledge, number: int) -> tuple[Tuner, tuple[FindingReport, ...]]:
    """The rider of this number, and what he complains of."""
    world = World.make(k, MACHINES[number % len(MACHINES)], 1.0, np.random.default_rng([SEED, number]))
    attempt = 0
    while True:
        rider = Tuner(world, (SEED, number, attempt))
        told = rider.signs()
        if told and not rider.is_right():
            return rider, told
        attempt += 1


def walked(k: Knowledge, number: int) -> Ended:
    """Do what the walk says first, until it is right or the walk has nothing more."""
    rider, told = tuner(k, number)
    changed = tuple(ContextReport(context=c) for c in ("filter_changed", "exhaust_changed"))
    case = Case(machine=rider.world.machine, contexts=changed, findings=told)
    changes = asked = leaned = 0
    while changes < MOST:
        steps = walk(WalkRequest(case=case, asks=ASKS), k).steps
        if not steps:
            break
        outcome = _done(k, case, rider, steps[0])
        deed = steps[0].kind in ("trial", "repair")
        changes, asked = changes + deed, asked + (not deed)
        leaned += deed and rider.leaned
        if outcome == Effect.CURED:
            break
        step = steps[0]
        answer = StepAnswer(
            kind=step.kind, id=step.id, at=step.at, direction=step.direction, steps=step.by_steps, outcome=outcome
        )
        case = with_answer(k, case, answer)
    return Ended(rider.is_right(), changes, asked, leaned)


def _done(k: Knowledge, case: Case, rider: Tuner, step: WalkStep) -> str:
    if step.kind == "trial":
        way = step.direction or Change.RICHER
        return rider.move(step.id, way, step.by_steps, step.at or "", stays_in(k, case, step.id, way))
    if step.kind == "repair":
        rider.leaned = False
        return Effect.NO_CHANGE
    return rider.answer("check" if step.kind == "question" else step.kind, step.id, step.at)


def in_printed_order(k: Knowledge, number: int) -> Ended:
    """Main jet, needle, pilot jet, screw, each by feel alone, twice over."""
    rider, _ = tuner(k, number)
    changes = leaned = 0
    for circuit, at in ORDER * 2:
        for way in (Change.RICHER, Change.LEANER):
            better = False
            while changes < MOST:
                effect = rider.move(circuit, way, 1.0, at)
                changes, leaned = changes + 1, leaned + rider.leaned
                if effect is Effect.CURED:
                    return Ended(True, changes, 0, leaned)
                if effect is not Effect.BETTER:
                    break
                better = True
            if better:
                break
    return Ended(rider.is_right(), changes, 0, leaned)


WAYS: dict[str, Callable[[Knowledge, int], Ended]] = {"the walk": walked, "printed order, twice": in_printed_order}


def main() -> None:
    """Play every rider both ways, and print how they fared."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("riders", type=int, nargs="?", default=60)
    riders, k = parser.parse_args().riders, Knowledge.load()
    print(f"{riders} riders with several settings off\n")
    print(f"{'':22}{'right everywhere':>18}{'changes':>9}{'asked':>7}{'left wide open lean':>21}")
    for name, way in WAYS.items():
        ended = [way(k, n) for n in range(riders)]
        right, leaned = sum(e.right for e in ended), sum(e.leaned for e in ended)
        changes, asked = fmean(e.changes for e in ended), fmean(e.asked for e in ended)
        print(f"{name:22}{right:>18}{changes:>9.1f}{asked:>7.1f}{leaned:>21}")


if __name__ == "__main__":
    main()
