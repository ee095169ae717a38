"""The posterior equals a slow enumeration in plain Python: on random networks, and from the records up."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import numpy as np
import pytest

from carbdiag import Knowledge, load_case
from carbdiag.belief.evidence import Place, PlaceTerm, SignPart, said_absent, said_present
from carbdiag.belief.lattice import Lattice
from carbdiag.belief.network import Network, Signs, build
from carbdiag.belief.posterior import Column, Evidence, Posterior, posterior
from carbdiag.casework.assessing import assess
from tests.belief.plain_model import FIVE_POINTS, Hypothesis, PlainModel

STEP, LIMIT = 0.005, 0.4
LATTICE = Lattice(step=STEP, limit=LIMIT, right_within=0.03, lean_within=0.10)
CELLS = round(LIMIT / STEP)


@dataclass(frozen=True)
class RandomWorld:
    """A random network as plain lists, and the same as arrays for the library."""

    cause: list[int]
    odds: list[float]
    x: list[list[int]]  # place, state
    place: list[int]  # of each sign
    silent: list[list[float]]  # sign, lattice cell
    silent_link: list[list[float]]  # sign, state
    compensates: frozenset[tuple[int, int]]
    opposed: frozenset[tuple[int, int]]
    network: Network


def random_world(seed: int) -> RandomWorld:
    """Three to five causes of one to three sizes, two unlisted states, two or three places, six signs."""
    rng = random.Random(seed)
    causes = rng.randint(3, 5)
    cause = [-1] + [c for c in range(causes) for _ in range(rng.randint(1, 3))] + [-1, -1]
    odds = [0.02] + [rng.uniform(0.001, 0.05) for _ in cause[1:]]
    places = rng.randint(2, 3)
    # some sums leave the lattice on purpose: x is held at its ends
    x = [[0] + [rng.choice([0, rng.randint(-50, 50)]) for _ in cause[1:]] for _ in range(places)]
    place = [n % places for n in range(6)]
    silent, links = [], []
    for n in range(6):
        everyday = rng.uniform(0.01, 0.2)
        if n == 5:
            silent.append([1 - everyday] * (2 * CELLS + 1))
        else:
            level = [rng.uniform(0.01, 0.95) for _ in range(5)]
            points = [-0.2, -0.065, 0.0, 0.065, 0.2]
            silent.append(
                [1 - max(float(np.interp((i - CELLS) * STEP, points, level)), everyday) for i in range(2 * CELLS + 1)]
            )
        links.append([1.0] + [rng.choice([1.0, rng.uniform(0.05, 0.95)]) if c >= 0 else 1.0 for c in cause[1:]])
    links[0] = [1.0] * len(cause)  # a sign of the mixture alone
    compensates, opposed = frozenset({(0, 1), (2, 0)}), frozenset({(1, 2)})
    signs = Signs(
        place=np.array(place, dtype=np.intp),
        silent_base=np.array(silent),
        silent_links=np.array(links),
        has_mixture=tuple(max(s) > min(s) for s in silent),
        has_links=tuple(min(row) < 1 for row in links),
    )
    network = build(
        LATTICE,
        np.array(cause, dtype=np.intp),
        np.array(cause, dtype=np.intp),
        np.array(odds),
        np.array(x, dtype=np.intp),
        signs,
        np.full(len(x), 0.03),
        compensates,
        4.0,
        opposed,
    )
    return RandomWorld(cause, odds, x, place, silent, links, compensates, opposed, network)


@dataclass(frozen=True)
class Said:
    """One statement: signs at one place (paraphrases of each other), or a table over x (a check)."""

    place: int
    rows: tuple[int, ...]
    present: bool
    error: float
    steps: int
    table: list[float] | None


def random_statements(world: RandomWorld, seed: int, most: int) -> list[Said]:
    """Statements of all kinds, several at one place."""
    rng = random.Random(seed)
    out = []
    for _ in range(rng.randint(1, most)):
        place = rng.randrange(len(world.x))
        if rng.random() < 0.2:
            table = [rng.uniform(0.1, 0.9)] * (2 * CELLS + 1)
            slope = rng.uniform(-0.3, 0.3)
            table = [min(max(t + slope * math.tanh((i - CELLS) * STEP / 0.1), 0.02), 0.98) for i, t in enumerate(table)]
            out.append(Said(place, (), True, 0.0, 0, table))
            continue
        here = [n for n, p in enumerate(world.place) if p == place]
        rows = tuple(rng.sample(here, rng.randint(1, len(here))))
        out.append(
            Said(place, rows, rng.random() < 0.6, rng.choice([0.02, 0.15, 0.35]), rng.choice([0, 0, -7, 12]), None)
        )
    return out


def hypotheses(world: RandomWorld) -> list[tuple[int, ...]]:
    """Nothing, every state, every pair of states of two listed causes that are not opposed."""
    states = range(1, len(world.cause))
    pairs = [
        (a, b)
        for a in states
        for b in states
        if a < b and world.cause[a] >= 0 and world.cause[b] >= 0 and world.cause[a] != world.cause[b]
        and world.opposed.isdisjoint({(world.cause[a], world.cause[b]), (world.cause[b], world.cause[a])})
    ]
    return [(), *((s,) for s in states), *pairs]


def held(cell: int) -> int:
    """A lattice cell held inside the lattice."""
    return min(max(cell, 0), 2 * CELLS)


def slow_weight(
    world: RandomWorld,
    h: tuple[int, ...],
    said: list[Said],
    state_factor: list[float],
    columns: list[dict[tuple[int, ...], float]],
) -> float:
    """Prior odds times likelihood of one hypothesis."""
    weight = math.prod(world.odds[s] for s in h) if h else world.odds[0]
    if len(h) == 2:
        a, b = (world.cause[s] for s in h)
        if (a, b) in world.compensates or (b, a) in world.compensates:
            weight *= 4.0
    weight *= state_factor[0] * math.prod(state_factor[s] / state_factor[0] for s in h)
    for place in range(len(world.x)):
        here = [s for s in said if s.place == place]
        center = held(sum(world.x[place][s] for s in h) + CELLS)
        total = 0.0
        for node, share in FIVE_POINTS:
            offset = round(node * 0.03 / STEP)
            product = share
            for s in here:
                if s.table is not None:
                    product *= s.table[held(center + offset)]
                    continue
                factor = 0.0
                for row in s.rows:
                    silent = world.silent[row][held(held(center + s.steps) + offset)]
                    p = 1 - silent * math.prod(world.silent_link[row][state] for state in h)
                    p = p if s.present else 1 - p
                    factor += ((1 - s.error) * p + s.error * (1 - p)) / len(s.rows)
                product *= factor
            total += product
        weight *= total
    return weight * math.prod(c[h] for c in columns)


def as_evidence(
    world: RandomWorld, said: list[Said], state_factor: list[float], columns: list[dict[tuple[int, ...], float]]
) -> Evidence:
    """The same statements for the library."""
    by_place: dict[int, list[PlaceTerm]] = {}
    for s in said:
        if s.table is not None:
            by_place.setdefault(s.place, []).append(PlaceTerm(1.0, table=np.array(s.table)))
            continue
        constant, weight = said_present(s.error) if s.present else said_absent(s.error)
        parts = tuple(SignPart(row, weight / len(s.rows), s.steps) for row in s.rows)
        by_place.setdefault(s.place, []).append(PlaceTerm(constant, parts))
    names = named(world)
    return Evidence(
        odds=np.array(world.odds),
        state_factor=np.array(state_factor),
        places=tuple(Place.of(world.network, p, tuple(t)) for p, t in sorted(by_place.items())),
        columns=tuple(given_outright([c.get(h, 1.0) for h in names]) for c in columns),
    )


def given_outright(values: list[float]) -> Column:
    """A factor that is known for every hypothesis."""
    return lambda _: np.array(values)


def named(world: RandomWorld) -> list[tuple[int, ...]]:
    """The library's hypotheses, in its order, by the states in them; cells that are none have the fit 0."""
    first, second = world.network.first, world.network.second
    return [tuple(sorted(s for s in (int(a), int(b)) if s > 0)) for a, b in zip(first, second, strict=True)]


def real(world: RandomWorld, found: Posterior) -> list[tuple[tuple[int, ...], float]]:
    """Hypotheses with their weights, without the cells that are none; those weigh nothing."""
    there = world.network.prior(np.ones(len(world.cause))) > 0
    assert not found.weights[~there].any()
    return [(h, float(w)) for h, w, t in zip(named(world), found.weights, there, strict=True) if t]


def test_every_hypothesis_is_enumerated_once() -> None:
    for seed in range(20):
        world = random_world(seed)
        there = world.network.prior(np.ones(len(world.cause))) > 0
        assert sorted(h for h, is_one in zip(named(world), there, strict=True) if is_one) == sorted(hypotheses(world))


@pytest.mark.parametrize("seed", range(40))
def test_posterior_equals_slow_enumeration_on_random_networks(seed: int) -> None:
    world = random_world(seed)
    # up to twelve statements: enough at one place that the library has to integrate point by point
    said = random_statements(world, seed, 4 if seed % 2 else 12)
    rng = random.Random(seed)
    state_factor = [rng.uniform(0.3, 1.0) for _ in world.cause]
    columns = [{h: rng.uniform(0.05, 1.0) for h in hypotheses(world)} for _ in range(seed % 3)]

    slow = {h: slow_weight(world, h, said, state_factor, columns) for h in hypotheses(world)}
    total = math.fsum(slow.values())
    found = posterior(world.network, as_evidence(world, said, state_factor, columns))

    for h, weight in real(world, found):
        assert weight == pytest.approx(slow[h] / total, rel=1e-9, abs=1e-12)
    assert len(real(world, found)) == len(slow)
    assert found.scale_log == pytest.approx(math.log(total), abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_state_marginals_are_sums_over_the_hypotheses_that_hold_the_state(seed: int) -> None:
    world = random_world(seed)
    said = random_statements(world, seed + 100, 5)
    found = posterior(world.network, as_evidence(world, said, [1.0] * len(world.cause), []))
    by_state = found.by_state(world.network)
    for state in range(1, len(world.cause)):
        holding = math.fsum(float(w) for h, w in zip(named(world), found.weights, strict=True) if state in h)
        assert float(by_state[state]) == pytest.approx(holding, abs=1e-12)
    nothing = found.weights[named(world).index(())]
    assert float(by_state[0]) == pytest.approx(float(nothing), abs=1e-15)


def test_a_thousand_statements_do_not_underflow() -> None:
    world = random_world(3)
    said = [Said(0, (0, 3), True, 0.02, 0, None)] * 400 + [Said(1, (1,), False, 0.02, 0, None)] * 600
    found = posterior(world.network, as_evidence(world, said, [1.0] * len(world.cause), []))
    assert np.isfinite(found.weights).all()
    assert float(found.weights.sum()) == pytest.approx(1.0)
    slow = {h: slow_weight(world, h, said, [1.0] * len(world.cause), []) for h in hypotheses(world)}
    best = max(slow, key=lambda h: slow[h])
    assert named(world)[int(np.argmax(found.weights))] == best


# ---------------------------------------------------------------------------------------------------------
# From the records up


TOY_CASES = {
    "nothing said": "reporting: interview",
    "one sign": "findings: [{finding: thick_note, at: full}]",
    "one sign asked": "reporting: interview\nfindings: [{finding: thick_note, at: full}]",
    "two signs share a residual": "reporting: interview\nfindings: [{finding: sharp_note, at: half},"
    " {finding: bogs, at: half}]",
    "paraphrases": "reporting: interview\nfindings: [{finding: thick_note, at: half},"
    " {finding: heavy_feel, at: half, certainty: maybe}]",
    "denied and unsure": "findings: [{finding: bogs, at: idle, status: denied},"
    " {finding: misfires, at: full, certainty: probably}]",
    "somewhere": "findings: [{finding: bogs}, {finding: misfires, at: [idle, full], status: denied}]",
    "unknown": "findings: [{finding: bogs, at: half, status: unknown}, {finding: smells}]",
    "contexts": "contexts: [moved_up, {context: stood_wet, status: denied}]\nfindings: [{finding: thick_note}]",
    "opposed contexts": "reporting: interview\ncontexts: [moved_down, {context: moved_up, status: denied}]",
    "checks": "checks: [{check: more_fuel, at: half, outcome: better}, {check: part_look, outcome: odd},"
    " {check: spark_look, outcome: none, certainty: probably}]",
    "weak check": "reporting: interview\nchecks: [{check: more_fuel, at: full, outcome: worse, certainty: maybe}]",
    "readings": "readings: [{lambda: 1.12, at: full}, {lambda: 0.95, at: idle, protocol: no_load}]",
    "a trial": "trials: [{change: main_jet, direction: richer, steps: 2, at: full, effect: better}]",
    "two trials": "findings: [{finding: bogs, at: full}]\ntrials: [{change: main_jet, direction: leaner, at: full,"
    " effect: worse, put_back: true}, {change: pilot, direction: richer, steps: 2, effect: no_change},"
    " {change: pilot, direction: richer, effect: cured}]",
    "much": "contexts: [moved_up]\nfindings: [{finding: thick_note, at: full}, {finding: heavy_feel, at: full},"
    " {finding: bogs, at: full}, {finding: misfires, at: full, status: denied}, {finding: light_feel, at: half, status:"
    " denied}, {finding: smells}, {finding: bogs, at: snap_open}, {finding: sharp_note, at: idle, certainty: maybe}]\n"
    "checks: [{check: more_fuel, at: idle, outcome: no_change}]\nreadings: [{lambda: 0.86, at: full}]",
}


def library_log_odds(k: Knowledge, text: str, head: str) -> dict[frozenset[object], float]:
    """Log odds of every hypothesis against nothing wrong, by what is in it."""
    (belief,) = assess(k, load_case(f"{head}\n{text}")).beliefs
    names = [
        (s.cause, s.severity, s.circuit, s.direction.value if s.direction else None, None if s.cause else s.group)
        for s in belief.model.states
    ]
    weights = belief.posterior.weights
    out: dict[frozenset[object], float] = {}
    for a, b, w in zip(belief.network.first, belief.network.second, weights, strict=True):
        key = frozenset(names[int(s)] for s in (a, b) if s > 0)
        if w == 0:
            continue  # a cell that is no pair of its own
        assert key not in out, key
        out[key] = math.log(float(w)) - math.log(float(weights[0]))
    return out


def plain_log_odds(model: PlainModel, text: str, head: str, some: list[Hypothesis]) -> dict[frozenset[object], float]:
    """The same, slowly."""
    case = load_case(f"{head}\n{text}")
    none = math.log(model.prior((), case.contexts) * model.likelihood(case, ()))
    return {
        frozenset[object](s.key for s in h): math.log(model.prior(h, case.contexts) * model.likelihood(case, h)) - none
        for h in some
    }


@pytest.mark.parametrize("name", TOY_CASES)
def test_toy_case_is_weighed_as_the_plain_model_says(toy: Knowledge, name: str) -> None:
    head = "machine: {family: toy_slide, strokes: 2}"
    model = PlainModel(toy, "toy_slide", 2)
    plain = plain_log_odds(model, TOY_CASES[name], head, [*model.hypotheses()])
    library = library_log_odds(toy, TOY_CASES[name], head)
    assert library.keys() == plain.keys()
    for h, value in plain.items():
        assert library[h] == pytest.approx(value, abs=1e-9), h


SHIPPED_CASES = {
    "round_slide, 2": "findings: [{finding: surges, at: half}, {finding: bogs, at: half},"
    " {finding: misfires, at: full}, {finding: low_power}, {finding: knocks, status: denied}]\n"
    "checks: [{check: touch_of_choke, at: half, outcome: better}]",
    "flat_slide, 4": "contexts: [stood_for_months, {context: carb_just_cleaned, status: denied}]\nfindings:"
    " [{finding: dies_on_opening, at: quarter, certainty: probably}, {finding: pops_on_overrun}]\n"
    "checks: [{check: leak_spray, outcome: no_change}]",
    "flat_slide_pump, 4": "reporting: interview\nfindings: [{finding: snap_only, at: snap_open},"
    " {finding: hesitates, at: snap_open},"
    " {finding: bogs, at: snap_open}]\nchecks: [{check: slow_roll_on, outcome: clean}]\n"
    "trials: [{change: main_jet, direction: richer, steps: 2, at: full, effect: worse}]",
}


@pytest.mark.parametrize("machine", SHIPPED_CASES)
def test_shipped_knowledge_is_weighed_as_the_plain_model_says(complete: Knowledge, machine: str) -> None:
    """All single causes, and a few hundred pairs drawn at random."""
    family, strokes = machine.split(", ")
    # every fact is given, so that no cause is weighed down for a part that nobody said is there
    model = PlainModel(complete, family, int(strokes))
    every = [*model.hypotheses()]
    singles = [h for h in every if len(h) < 2]
    some = singles + random.Random(5).sample([h for h in every if len(h) == 2], 300)
    head = f"machine: {{family: {family}, strokes: {strokes}}}"
    library = library_log_odds(complete, SHIPPED_CASES[machine], head)
    plain = plain_log_odds(model, SHIPPED_CASES[machine], head, some)
    assert len(library) == len(every)
    untold: dict[object, float] = {s.key: model.untold(s) for s in model.states}
    for h, value in plain.items():
        fit = math.prod(untold[key] for key in h)
        assert library[h] == pytest.approx(value + math.log(fit), abs=1e-9), h
