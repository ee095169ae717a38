"""A machine with a fault, drawn from the model or from one whose likelihoods are off: complains, answers, is repaired.

Not part of the library: it plays the rider for `simulation.py`.
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from carbdiag import Knowledge
from carbdiag.applies import fit_weight
from carbdiag.case_schema import Case, ContextReport, FindingReport, Machine
from carbdiag.casework.effects import effect_table
from carbdiag.fixes import CURED_BY
from carbdiag.model import CheckOutcome, Model, compile_model, machine_fit, yes_chance
from carbdiag.scales import probability
from carbdiag.terms import Change, Effect

#: The machines of the study: what is said of each is enough to leave no cause half-possible.
MACHINES = (
    {
        "family": "round_slide", "strokes": 4, "cylinders": 1, "carburetors": 1,
        "cooling": "air", "fuel_feed": "gravity", "oiling": "sump",
    },
    {
        "family": "flat_slide", "strokes": 2, "cylinders": 1, "carburetors": 1,
        "cooling": "liquid", "fuel_feed": "gravity", "oiling": "premix",
    },
)  # fmt: skip
#: How many riders tell 1, 2, ... signs: those of the 54 reports in tests/cases.
SIGNS_TOLD = (19, 20, 11, 3, 1)


_ONE, _PAIR, _UNLISTED, _BACKGROUND = range(4)  # what may be wrong; a last one is nothing at all


@dataclass(frozen=True, eq=False)
class World:
    """A kind of machine, and by what factor the odds of everything seen on it are off, by cause."""

    model: Model
    machine: Machine
    odds: np.ndarray  # (S,) prior odds of the listed causes on this machine
    unlisted: np.ndarray  # (S,) prior odds of faults nobody wrote down
    background: float  # prior odds of what is nothing like anything known
    sign_off: np.ndarray  # (R, C) added to the log-odds of a sign
    outcome_off: dict[str, np.ndarray]  # check -> (outcomes, C) added to the log-likelihood of an outcome
    context_off: dict[str, np.ndarray]  # context -> (C,)
    works_off: dict[str, np.ndarray]  # action -> (C,)
    alone: bool = False  # whether a cause never comes with a second one

    @classmethod
    def make(cls, k: Knowledge, machine: dict[str, object], off: float, rng: np.random.Generator) -> World:
        """A world in which every likelihood is off by up to the factor `off` in its odds."""
        described = Machine.model_validate(machine)
        assert described.strokes is not None
        model = compile_model(k, described.family, described.strokes)
        causes = len(model.cause_ids) + 1

        def draw(*shape: int) -> np.ndarray:
            return rng.uniform(-1, 1, (*shape, causes)) * math.log(off)

        listed = np.array([s.cause is not None for s in model.states])
        odds = model.network.odds * machine_fit(model, described)
        return cls(
            model,
            described,
            np.where(listed, odds, 0.0),
            np.where(listed | (np.arange(len(listed)) == 0), 0.0, odds),
            k.scales.unlisted.share_of_background * float(model.network.odds[1:].sum()),
            draw(len(model.row_keys)),
            {c: draw(len(k.checks[c].outcomes)) for c in k.checks},
            {c: draw() for c in k.contexts},
            {a: draw() for a in k.actions},
        )


    @cached_property
    def pairs(self) -> float:
        """Prior odds of two causes together."""
        network = self.model.network
        some, first, second = self.odds[network.listed], *(self.odds[states] for states in network.tied)
        return 0.0 if self.alone else float(some.sum() ** 2 + (first * second) @ (network.ties - 1)) / 2

    def draw_pair(self, rng: np.random.Generator) -> tuple[int, int]:
        """Two states of different causes, a setting and a fault that it hides oftener than others."""
        network = self.model.network
        p = self.odds / self.odds.sum()
        while True:
            first, second = (int(s) for s in rng.choice(len(p), 2, p=p))
            tie = network.ties[(network.tied[0] == first) & (network.tied[1] == second)]
            if rng.random() * max(network.ties.max(), 1.0) < (tie[0] if len(tie) else 1.0):
                return first, second


@dataclass
class Rider:
    """One faulty machine with its rider.

    Every question has one answer and every repair one luck, whatever was asked or done before, so that ways of going
    about it are compared on the same machine.
    """

    world: World
    seed: tuple[int, ...]
    anything: bool = False  # whether the fault may be one that nobody wrote down
    background: bool = field(default=False, init=False)  # whether it is nothing like anything known
    rng: np.random.Generator = field(init=False)
    truth: tuple[int, ...] = ()  # states at work, the repaired ones gone
    at_first: tuple[int, ...] = ()  # states at work before any repair
    moves: dict[str, np.ndarray] = field(default_factory=dict)  # circuit -> lattice steps by which it was moved
    residual: np.ndarray = field(default_factory=lambda: np.zeros(0))
    said: dict[tuple[object, ...], str] = field(default_factory=dict)
    trials: int = 0

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.seed)
        self._draw_machine()

    def _draw_machine(self) -> None:
        world, model, rng = self.world, self.world.model, self.rng
        nothing = float(model.network.odds[0])
        beyond = (world.unlisted.sum(), world.background, nothing) if self.anything else (0.0, 0.0, 0.0)
        odds = np.array([world.odds.sum(), world.pairs, *beyond])
        kind = int(rng.choice(len(odds), p=odds / odds.sum()))
        self.background = kind == _BACKGROUND
        if kind == _PAIR:
            self.truth = world.draw_pair(rng)
        elif kind in (_ONE, _UNLISTED):
            of = world.odds if kind == _ONE else world.unlisted
            self.truth = (int(rng.choice(len(of), p=of / of.sum())),)
        else:
            self.truth = ()
        self.at_first = self.truth
        sigma = np.array([model.tables.sigma[q] for q in model.places])
        self.residual = np.rint(rng.normal(0, sigma) / model.network.lattice.step).astype(int)
        self.moves = {}

    # -- what is so

    @property
    def moved(self) -> np.ndarray:
        """Lattice steps by which all settings together were moved, at every place."""
        return np.sum([np.zeros(len(self.residual), dtype=int), *self.moves.values()], axis=0)

    @property
    def causes(self) -> set[str]:
        """The causes at work."""
        return {c for s in self.truth if (c := self.world.model.states[s].cause)}

    def _number(self, of: tuple[int, ...] | None = None) -> int:
        """Which column of the tables of errors: that of the first cause; the last one where there is none."""
        network, of = self.world.model.network, self.truth if of is None else of
        return int(network.cause[of[0]]) if of else -1

    def mixture(self, place: int) -> int:
        """Lattice index of the mixture at a place, by number, as it is now."""
        network = self.world.model.network
        x = sum(int(network.x[place, s]) for s in self.truth) + int(self.moved[place]) + int(self.residual[place])
        return int(network.lattice.clip(np.array(x + network.lattice.center)))

    def shows(self, row: int) -> float:
        """P(this sign shows) on this machine."""
        model = self.world.model
        if self.background:
            return float(model.unknown_rate[row])
        signs = model.network.signs
        silent = float(signs.silent_base[row, self.mixture(int(signs.place[row]))])
        for s in self.truth:
            silent *= float(signs.silent_links[row, s])
        return _nudged(1 - silent, float(self.world.sign_off[row, self._number()]))

    # -- what is told

    def complaint(self) -> Case:
        """What the rider says unasked: some of the signs that strike him, of paraphrases only the one that he uses."""
        k, model = self.world.model.knowledge, self.world.model
        while True:
            found = []
            order = self.rng.permutation(len(model.row_keys))
            for row, (finding, at) in enumerate(model.row_keys):
                record = k.findings[finding]
                possible = fit_weight(record.applies, self.world.machine, 1.0) > 0
                his_word = order[row] == min(order[r] for r in model.kin[finding, at])
                if not (possible and his_word) or self.rng.random() > probability(k, record.noticed_unasked):
                    continue
                if self.answer("finding", finding, at) == "yes":
                    found.append(row)
            told = 1 + int(self.rng.choice(len(SIGNS_TOLD), p=np.array(SIGNS_TOLD) / sum(SIGNS_TOLD)))
            rows = self.rng.permutation(found)[:told]
            if found and self._asks_about(rows):
                break
            self.said.clear()  # nothing to complain of: another rider
            self.seed = (*self.seed, 1)
            self.__post_init__()
        return Case(
            machine=self.world.machine,
            contexts=tuple(
                ContextReport(context=c)
                for c in k.contexts
                if self.rng.random() < k.scales.reporting.circumstance_told and self.answer("context", c, None) == "yes"
            ),
            findings=tuple(
                FindingReport(finding=model.row_keys[r][0], at=(model.row_keys[r][1],)) for r in rows
            ),
        )

    def _asks_about(self, rows: np.ndarray) -> bool:
        """Whether these signs make him ask: seldom, where the fault has no part in any of them."""
        model = self.world.model
        if not self.truth and not self.background:
            return True  # nothing is wrong, and still he asks
        sound = 1 - model.network.single_silent[rows, 0]
        seen = np.maximum([self.shows(int(row)) for row in rows], sound)
        by_fault = (seen - sound) / ((1 - sound) * seen)
        least = model.knowledge.scales.reporting.complains_of_everyday
        return bool((self.rng.random(len(rows)) < by_fault).any() or self.rng.random() < least)

    def answer(self, kind: str, record: str, at: str | None) -> str:
        """The answer to a question or check, of the machine as it is now; a sign goes on unless its cause is gone."""
        key = (kind, record, at)
        now = (*key, self.truth, tuple(self.moved))
        if now not in self.said:
            names, chances = self._chances(kind, record, at)
            self.said[now] = names[int(self._luck(*key).choice(len(names), p=chances / chances.sum()))]
        return self.said[now]

    def _luck(self, *key: str | None) -> np.random.Generator:
        """Chance that hangs on the machine and on what is asked or done, not on what came before."""
        return np.random.default_rng([*self.seed, zlib.crc32(repr(key).encode())])

    def _chances(self, kind: str, record: str, at: str | None) -> tuple[tuple[str, ...], np.ndarray]:
        model, n = self.world.model, self._number()
        k = model.knowledge
        if kind == "finding":
            p = self.shows(model.rows[record, at or ""])
            return ("yes", "no"), np.array([p, 1 - p])
        if kind == "context":
            told = model.told[record]
            p = yes_chance(k, k.contexts[record], float(told.max()))
            for s in self.at_first:  # what was so before stays so
                p *= float(told[s])
            off = float(self.world.context_off[record][self._number(self.at_first)])
            p = _nudged(min(p, k.scales.context_most), off)
            return ("yes", "no"), np.array([p, 1 - p])
        outcomes = tuple(k.checks[record].outcomes)
        tables = [model.outcomes[record, o] for o in outcomes]
        if self.background:
            typical = model.network.typical
            blurred = [self._by_state(t, at) for t in tables]
            p_of = np.array([float(typical @ b) for b in blurred])
        elif tables[0].table is not None:
            x = self.mixture(model.place(at or ""))
            p_of = np.array([float(t.table[x]) for t in tables if t.table is not None])
        else:
            speaking = [s for s in self.truth if tables[0].speaks[s]]
            p_of = np.array(
                [np.mean([t.values[s] for s in speaking]) if speaking else t.otherwise for t in tables]
            )
        return outcomes, p_of * np.exp(self.world.outcome_off[record][:, n])

    def _by_state(self, outcome: CheckOutcome, at: str | None) -> np.ndarray:
        """P(outcome | one state alone), for all states."""
        network = self.world.model.network
        if outcome.table is None:
            return np.where(outcome.speaks > 0, outcome.values, outcome.otherwise)
        place = self.world.model.place(at or "")
        index = network.lattice.clip(network.x[place] + network.lattice.center)
        return network.blur(outcome.table, place)[index]

    # -- what is done

    def remedies(self) -> list[str]:
        """The repairs of what is wrong in truth, the surest per minute of each fault first."""
        k, model = self.world.model.knowledge, self.world.model
        out = []
        for state in self.truth:
            fixes = k.causes[model.states[state].cause or ""].fixed_by
            rate = {f.do: probability(k, f.works) / k.actions[f.do].minutes for f in fixes}
            out += sorted(rate, key=lambda a: -rate[a])
        return list(dict.fromkeys(out))

    def repair(self, action: str) -> Effect:
        """Do a repair; the rider can tell whether it cured."""
        model = self.world.model
        works = model.works[action]
        off = self.world.works_off[action][self._number()]
        luck = self._luck("repair", action)
        left = tuple(s for s in self.truth if not works[s] or luck.random() > _nudged(float(works[s]), float(off)))
        partly = len(left) < len(self.truth)
        self.truth = left
        if not left:
            return Effect.CURED
        table = model.knowledge.scales.trials.repair
        chances = table.partly if partly else table.not_fixed
        return _draw(luck, {e: p for e, p in chances.items() if e not in (Effect.CURED, Effect.CAME_BACK)})

    def curable(self) -> bool:
        """Whether for every fault at work some repair would be done right on this machine."""
        k, model = self.world.model.knowledge, self.world.model
        for state in self.truth:
            cause = k.causes[model.states[state].cause or ""]
            again = (replace(self, seed=self.seed) for _ in cause.fixed_by)
            if not any(self._mends(rider, fix.do, state) for rider, fix in zip(again, cause.fixed_by, strict=True)):
                return False
        return True

    def _mends(self, again: Rider, action: str, state: int) -> bool:
        again.truth = self.truth
        again.repair(action)
        return state not in again.truth

    def trial(self, circuit: str, way: Change, steps: float, at: str, stays: bool = False) -> Effect:
        """Move a setting; put back unless it was better, or changed nothing and stays."""
        model = self.world.model
        network, place = model.network, model.place(at)
        sign = 1 if way is Change.RICHER else -1
        moved = network.lattice.steps(model.step_x[circuit] * sign * steps)
        tables = effect_table(model.knowledge, network, int(moved[place]))
        table = {e: float(t[self.mixture(place)]) for e, t in tables.items()}
        self.trials += 1
        luck_of_move = self._luck("trial", circuit, way.value, str(self.trials))
        effect = _draw(luck_of_move, table)
        felt = luck_of_move.random() > model.knowledge.scales.trials.effect_noise
        mine = {s for s in self.truth if self._is_setting(s, circuit, way)}
        gone = {s for s in self.truth if self._is_made_up_for(s, circuit, way)}
        if felt:
            gone |= {s for s in mine if self._is_right(network.x[:, s] + self.moves.get(circuit, 0) + moved)}
            wrong = network.x[:, list(self.truth)].sum(axis=1) + self.moved
            if self._only_metering() and self._is_right(wrong + moved):
                gone = set(self.truth)
        if effect in (Effect.CURED, Effect.CAME_BACK):
            gone |= mine
        if gone:
            self.truth = tuple(s for s in self.truth if s not in gone)
            self.moves.pop(circuit, None)  # what the setting was off by is made up for
            return Effect.BETTER if self.truth else Effect.CURED
        if effect in (Effect.CURED, Effect.CAME_BACK):
            effect = Effect.BETTER
        if effect is Effect.BETTER or (stays and effect is Effect.NO_CHANGE):
            self.moves[circuit] = self.moves.get(circuit, 0) + moved
        return effect

    def _only_metering(self) -> bool:
        causes = self.world.model.knowledge.causes
        return all((m := causes[c].mixture) is not None and m.circuit is not None for c in self.causes)

    def _is_right(self, wrong: np.ndarray) -> bool:
        """Whether a shift, in lattice steps, is too small to matter at every steady opening.

        What each place of an engine differs by is no fault: a repair need not mend it, and neither need a setting.
        """
        model = self.world.model
        k = model.knowledge
        bands = [n for n, p in enumerate(model.places) if k.places[p].kind == "band"]
        worst = max(abs(int(wrong[n])) for n in bands) * model.network.lattice.step
        return worst <= k.scales.mixture.right_within + k.scales.trials.noticeable

    def _is_made_up_for(self, state: int, circuit: str, way: Change) -> bool:
        """Whether a setting is the record's remedy for something else, and is done right (a jet for another filter)."""
        model = self.world.model
        action = getattr(model.knowledge.circuits[circuit], way.value).action
        cause = model.states[state].cause or ""
        works = float(model.works[action][state])
        if self._is_setting(state, circuit, way) or not works or model.directions[cause] is not CURED_BY[way]:
            return False
        off = float(self.world.works_off[action][self._number()])
        return self._luck("repair", action).random() <= _nudged(works, off)

    def _is_setting(self, state: int, circuit: str, way: Change) -> bool:
        model = self.world.model
        cause = model.knowledge.causes[model.states[state].cause or ""]
        return (
            cause.mixture is not None
            and cause.mixture.circuit == circuit
            and cause.mixture.is_setting
            and model.directions[cause.id] is CURED_BY[way]
        )


def _draw(luck: np.random.Generator, chances: dict[Effect, float]) -> Effect:
    p = np.array(list(chances.values()))
    return list(chances)[int(luck.choice(len(p), p=p / p.sum()))]


def _nudged(p: float, by: float) -> float:
    """A probability whose log-odds are off by `by`."""
    p = min(max(p, 1e-6), 1 - 1e-6)
    return 1 / (1 + math.exp(-(math.log(p / (1 - p)) + by)))
