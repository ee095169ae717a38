"""The ways of going about a fault that the study compares: the walk, a fixed interview, checklists, fixed orders.

Not part of the library: played by `simulation.py` and `compare_ways.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from types import MappingProxyType

import numpy as np

from carbdiag import CaseError, Knowledge
from carbdiag.case_schema import Case, Machine
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment, likeliest
from carbdiag.moves import Move
from carbdiag.outlook import Outlook, outlook
from carbdiag.plan import Strategy, plan
from carbdiag.safety import Safety, safety_of
from carbdiag.setting_trials import stays_in
from carbdiag.terms import Change, Effect
from carbdiag.walk_answer import with_answer
from carbdiag.walk_schema import StepAnswer

try:
    from benchmarks.simulated_world import MACHINES, Rider, World
except ModuleNotFoundError:  # run as a script
    from simulated_world import MACHINES, Rider, World

SEED = 20261126
MOST_STEPS = 150
ASKS = 10


@dataclass(frozen=True)
class Ended:
    """How it ended, and what the minutes went into."""

    cured: bool
    minutes: float
    asked: int
    done: int
    spent: Mapping[str, float] = field(default_factory=dict)
    #: minutes after which the walk first said that a workshop is the cheaper way; None where it never did
    given_up_after: float | None = None


@cache
def knowledge(without: str = "") -> Knowledge:
    """The shipped knowledge, or the same with one cause taken out."""
    if not without:
        return Knowledge.load()
    k = knowledge()
    causes = MappingProxyType({i: c for i, c in k.causes.items() if i != without})
    return replace(k, causes=causes, memo={})


@cache
def world(off: float, machine: int) -> World:
    """One of the machines, its likelihoods off by up to a factor."""
    return World.make(knowledge(), MACHINES[machine], off, np.random.default_rng([SEED, int(off), machine]))


def curable_rider(off: float, n: int) -> tuple[World, tuple[int, ...], int]:
    """World and seed of the n-th rider that some repair cures, and how many were passed over for him."""
    attempt = 0
    here = world(off, n % len(MACHINES))
    while not _curable(here, seed := (SEED, n, int(off), attempt)):
        attempt += 1
    return here, seed, attempt


def _curable(here: World, seed: tuple[int, ...]) -> bool:
    rider = Rider(here, seed)
    rider.complaint()
    return rider.curable()


def play(here: World, seed: tuple[int, ...], names: Sequence[str]) -> dict[str, Ended]:
    """Play one rider several ways; each sees the same machine and hears the same answers."""
    _LOOKED.clear()
    ended = {}
    for name in names:
        rider = Rider(here, seed)
        ended[name] = WAYS[name](rider, rider.complaint())
    return ended


#: What was made of the cases of one rider: ways that asked the same so far share it.
_LOOKED: dict[str, tuple[Assessment, Outlook | None, Safety]] = {}


def _looked(case: Case) -> tuple[Assessment, Outlook | None, Safety]:
    key = case.model_dump_json()
    if key not in _LOOKED:
        a = assess(knowledge(), case)
        _LOOKED[key] = a, outlook(likeliest(a)), safety_of(a)
    return _LOOKED[key]


# ---------------------------------------------------------------------------------------------------------
# Asking and doing


ASKING, TRIALS, CURING, IN_VAIN, LEFT = "asking", "trials", "the cure", "repairs in vain", "left over"


def walked(rider: Rider, case: Case, strategy: Strategy, asks: int | None) -> Ended:
    """Follow the plan until it is cured; when it has nothing more to propose, work through the repairs left over."""
    k = knowledge()
    spent = dict.fromkeys((ASKING, TRIALS, CURING, IN_VAIN, LEFT), 0.0)
    asked, done = 0, 0
    tried: set[str] = set()
    given_up: float | None = None
    for _ in range(MOST_STEPS):
        left = None if asks is None else asks - asked
        moves = plan(*_looked(case), 1, left, strategy).moves
        if given_up is None and not worth_doing(k, moves):
            given_up = sum(spent.values())
        if not moves:
            break
        move = moves[0]
        outcome = did(rider, case, move)
        cured = outcome == Effect.CURED
        if move.kind == "repair":
            tried.add(move.id)
        if move.kind in ("repair", "trial"):
            done, what = done + 1, CURING if cured else TRIALS if move.kind == "trial" else IN_VAIN
        else:
            asked, what = asked + 1, ASKING
        spent[what] += minutes_of(k, move) + k.scales.decision.start_minutes
        if cured:
            return Ended(True, sum(spent.values()), asked, done, spent, given_up)
        try:
            case = answered(k, case, move, outcome)
        except CaseError:  # a case holds no more
            break
    rest = worked_through(rider, [a for a, _ in _by_prior(rider.world, tuple(k.groups)) if a not in tried])
    spent[LEFT] = rest.minutes
    return Ended(rest.cured, sum(spent.values()), asked, done + rest.done, spent, given_up)


def worth_doing(k: Knowledge, moves: Sequence[Move]) -> bool:
    """Whether there is something to ask, or a deed that is expected to cost less than a workshop."""
    if not moves:
        return False
    return moves[0].kind not in ("repair", "trial") or moves[0].expected_minutes < k.scales.decision.workshop_minutes


def did(rider: Rider, case: Case, move: Move) -> str:
    """What came of a move on a rider's machine, of whom it is known what the case holds."""
    if move.kind == "repair":
        return rider.repair(move.id)
    if move.kind == "trial":
        way = move.direction or Change.RICHER
        stays = stays_in(rider.world.model.knowledge, case, move.id, way)
        return rider.trial(move.id, way, move.steps, move.at or "", stays)
    return rider.answer(move.kind, move.id, move.at)


def worked_through(rider: Rider, actions: Sequence[str]) -> Ended:
    """Do repairs in this order until one cures, else go to a workshop."""
    k = knowledge()
    minutes = 0.0
    for n, action in enumerate(actions, 1):
        minutes += _cost(k, action)
        if rider.repair(action) is Effect.CURED:
            return Ended(True, minutes, 0, n)
    return Ended(False, minutes + k.scales.decision.workshop_minutes, 0, len(actions))


def answered(k: Knowledge, case: Case, move: Move, outcome: str) -> Case:
    """The case with the outcome of a move in it."""
    answer = StepAnswer(
        kind=move.kind, id=move.id, at=move.at, direction=move.direction, steps=move.steps, outcome=outcome
    )
    return with_answer(k, case, answer)


def minutes_of(k: Knowledge, move: Move) -> float:
    """What a move takes, by its record."""
    if move.kind == "repair":
        return k.actions[move.id].minutes
    if move.kind == "trial":
        circuit = k.circuits[move.id]
        return k.actions[(circuit.richer if move.direction is Change.RICHER else circuit.leaner).action].minutes
    if move.kind in ("check", "question"):
        return k.checks[move.id].minutes
    return (k.findings[move.id].minutes if move.kind == "finding" else None) or k.scales.decision.ask_minutes


def interviewed(rider: Rider, case: Case) -> Ended:
    """Ten questions fixed beforehand, the same for everybody, then repairs by expected cost."""
    k = knowledge()
    minutes = 0.0
    for kind, record, at in _fixed_questions(rider.world.machine.model_dump_json()):
        move = Move(kind, record, at, None, 1.0, 0.0, 0.0, 0.0, 0.0, ())
        minutes += minutes_of(k, move) + k.scales.decision.start_minutes
        if kind == "context" and any(c.context == record for c in case.contexts):
            continue
        case = answered(k, case, move, rider.answer(kind, record, at))
    end = walked(rider, case, "repairs", 0)
    given_up = None if end.given_up_after is None else end.given_up_after + minutes
    spent = {**end.spent, ASKING: minutes}
    return replace(end, minutes=end.minutes + minutes, asked=ASKS, spent=spent, given_up_after=given_up)


@cache
def _fixed_questions(machine: str) -> tuple[tuple[str, str, str | None], ...]:
    """The ten that tell most per minute before anything is known, of ten different records."""
    case = Case(machine=Machine.model_validate_json(machine))
    a = assess(knowledge(), case)
    moves = plan(a, outlook(likeliest(a)), safety_of(a), 200, None, "information").moves
    return tuple((m.kind, m.id, m.at) for m in moves if not m.success and m.kind not in ("repair", "trial"))[:ASKS]


# -- orders that no answer changes

#: Stages of the published check-ups, each with its checks and the groups of causes it looks for. Which stage comes
#: first is what the sources disagree on: see facts cited in docs/simulation.md.
STAGES = {
    "fuel": (
        ("fuel_age_asked", "bowl_drain_sample", "fuel_flow_at_inlet", "loosen_fuel_cap"),
        ("fuel_starvation_tank", "fuel_stale_or_water"),
    ),
    "ignition": (
        ("was_plug_new", "spark_test"),
        ("spark_plug", "ignition_weak", "ignition_timing"),
    ),
    "carburetor": (
        ("air_filter_look", "choke_home", "pilot_jet_light", "main_jet_look"),
        (
            "air_filter_restricted", "air_filter_missing_or_free", "enrichener_stuck_on", "choke_other",
            "pilot_blocked", "main_blocked", "pilot_circuit_lean", "pilot_circuit_rich", "screw_setting",
            "needle_lean", "needle_rich",
            "main_lean", "main_rich", "cutaway", "float_high", "float_low", "float_valve_leak", "worn_needle_or_jet",
            "emulsion_tube", "accel_pump_weak", "accel_pump_other", "slide_sticking", "throttle_cable",
            "air_density_change", "carb_sync",
        ),
    ),
    "compression": (
        ("compression_gauge", "leak_spray"),
        (
            "low_compression", "valve_clearance", "air_leak_intake", "vacuum_hose", "reeds", "crank_seal",
            "exhaust_leak", "exhaust_blocked", "other",
        ),
    ),
}  # fmt: skip
ORDERS = {
    "fuel, ignition, compression": ("fuel", "carburetor", "ignition", "compression"),
    "ignition, carburetion, compression": ("ignition", "fuel", "carburetor", "compression"),
}


def checklist(rider: Rider, order: tuple[str, ...]) -> Ended:
    """Stage by stage: its checks, then what they point to; at the end every repair not done yet, in the same order."""
    k = knowledge()
    start = k.scales.decision.start_minutes
    minutes, asked, done = 0.0, 0, 0
    tried: set[str] = set()
    for only_pointed in (True, False):
        for stage in order:
            checks, groups = STAGES[stage]
            pointed: set[str] = set()
            for check in checks if only_pointed else ():
                minutes, asked = minutes + k.checks[check].minutes + start, asked + 1
                pointed |= _points_to(k, check, rider.answer("check", check, None))
            for action, causes in _by_prior(rider.world, groups):
                if action in tried or (only_pointed and not causes & pointed):
                    continue
                tried.add(action)
                minutes, done = minutes + _cost(k, action), done + 1
                if rider.repair(action) is Effect.CURED:
                    return Ended(True, minutes, asked, done)
    return Ended(False, minutes + k.scales.decision.workshop_minutes, asked, done)


def prior_order(rider: Rider) -> Ended:
    """Every repair by its prior chance of curing, per minute, whatever is observed."""
    return worked_through(rider, [a for a, _ in _by_prior(rider.world, tuple(knowledge().groups))])


def _cost(k: Knowledge, action: str) -> float:
    """Minutes of a repair; a setting is tried both ways."""
    settings = {s.action for c in k.circuits.values() for s in (c.richer, c.leaner)}
    return k.actions[action].minutes * (2 if action in settings else 1) + k.scales.decision.start_minutes


def _points_to(k: Knowledge, check: str, outcome: str) -> set[str]:
    """The causes that give this outcome more often than a sound machine does."""
    base = {o: k.scales.probability[v.otherwise] for o, v in k.checks[check].outcomes.items() if v.otherwise}
    usual = base[outcome] / sum(base.values())
    out = set()
    for cause in k.causes.values():
        words = {s.outcome: s.often for s in cause.checks if s.check == check}
        words = words or k.checks[check].groups.get(cause.group, {})
        if outcome in words and k.scales.probability[words[outcome]] > 2 * usual:
            out.add(cause.id)
    return out


def _by_prior(world: World, groups: tuple[str, ...]) -> list[tuple[str, set[str]]]:
    """Actions that cure causes of these groups, likeliest to cure per minute first, with those causes."""
    k, model = world.model.knowledge, world.model
    chance: dict[str, float] = {}
    cures: dict[str, set[str]] = {}
    for state, odds in zip(model.states, world.odds, strict=True):
        if state.cause is None or k.causes[state.cause].group not in groups:
            continue
        for fix in k.causes[state.cause].fixed_by:
            chance[fix.do] = chance.get(fix.do, 0.0) + float(odds) * k.scales.probability[fix.works]
            cures.setdefault(fix.do, set()).add(state.cause)
    return [(a, cures[a]) for a in sorted(chance, key=lambda a: (-chance[a] / _cost(k, a), a))]


WAYS: dict[str, Callable[[Rider, Case], Ended]] = {
    "this walk, ten asks": lambda r, c: walked(r, c, "ask_first", ASKS),
    "this walk, any number of asks": lambda r, c: walked(r, c, "ask_first", None),
    "one-step expected cost, ten asks": lambda r, c: walked(r, c, "cost", ASKS),
    "expected-cost greedy: repairs only": lambda r, c: walked(r, c, "repairs", 0),
    "fixed interview of ten, then repairs": interviewed,
    **{f"checklist: {name}": lambda r, c, o=order: checklist(r, o) for name, order in ORDERS.items()},  # type: ignore[misc]
    "prior order": lambda r, c: prior_order(r),
    "knowing the cause": lambda r, c: worked_through(r, r.remedies()),
}
