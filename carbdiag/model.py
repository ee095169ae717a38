"""Knowledge compiled for one kind of machine (family and strokes) into the arrays that belief works on."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from carbdiag import schema
from carbdiag.belief.lattice import Floats, Lattice
from carbdiag.belief.network import Network, Signs, build
from carbdiag.family_metering import ByPlace, FamilyTables, family_tables, in_control
from carbdiag.knowledge import Knowledge
from carbdiag.terms import LEVELS, Direction, ProbabilityWord

Strokes = Literal[2, 4]

#: Sign of x of a cause that stands for a change of air.
AIR_SIGN = {"thinner": -1, "denser": 1}


@dataclass(frozen=True)
class State:
    """A cause at one severity, or a fault nobody wrote down (`cause` is None)."""

    cause: str | None
    severity: str
    circuit: str | None
    direction: Direction | None


@dataclass(frozen=True, eq=False)
class CheckOutcome:
    """How likely one outcome of a check is: by state for checks that read causes, on the lattice otherwise."""

    speaks: Floats  # (S,) 1 where the state decides the outcome
    values: Floats  # (S,) its chance there, 0 elsewhere
    otherwise: float
    table: Floats | None  # (N,)


@dataclass(frozen=True, eq=False)
class Model:
    """Everything a diagnosis needs for one kind of machine."""

    knowledge: Knowledge
    family: schema.Family
    tables: FamilyTables
    strokes: Strokes
    places: tuple[str, ...]
    states: tuple[State, ...]
    cause_ids: tuple[str, ...]
    group_ids: tuple[str, ...]
    network: Network  # single states; a case adds the pairs it looks at
    rows: Mapping[tuple[str, str], int]
    row_keys: tuple[tuple[str, str], ...]
    everyday_silent: Mapping[str, float]
    silence: Floats  # (R, S) log-likelihood of not mentioning
    outcomes: Mapping[tuple[str, str], CheckOutcome]
    works: Mapping[str, Floats]  # action -> (S,)
    step_x: Mapping[str, Floats]  # circuit -> (P,) shift of one step richer
    on_one: Floats  # (S,) chance that it shows on one cylinder of several
    told: Mapping[str, Floats]  # context -> (S,) factor on the odds when it holds
    denied: Mapping[str, Floats]  # context -> (S,) factor when it does not
    unknown_rate: Floats  # (R,) how often a sign shows when the cause is something unknown
    kin: Mapping[tuple[str, str], tuple[int, ...]]  # (finding, place) -> rows of its paraphrases there
    directions: Mapping[str, Direction | None]  # cause -> rich, lean or neither
    in_control: Mapping[str, list[tuple[str, float]]]  # band -> circuits and shares, strongest first
    level_tables: Mapping[int, Floats]  # place of each band -> (5, N) P(level) on the lattice
    place_silence: Floats  # (P, S) silence of every sign of a place together

    def place(self, name: str) -> int:
        """Index of a place."""
        return self.places.index(name)


def probability(k: Knowledge, word: ProbabilityWord) -> float:
    """A likelihood word as a number, held off 0 and 1 by the floor."""
    floor = k.scales.floor
    return min(max(k.scales.probability[word], floor), 1 - floor)


def compile_model(k: Knowledge, family: str, strokes: Strokes) -> Model:
    """Compile, or return what was compiled before (it depends on the knowledge alone)."""
    key = (family, strokes)
    found = k.memo.get(key)
    if not isinstance(found, Model):
        found = _compile(k, k.families[family], strokes)
        k.memo[key] = found
    return found


def lattice_of(k: Knowledge) -> Lattice:
    """The mixture axis that the scales ask for."""
    m = k.scales.mixture
    return Lattice(m.lattice_step, m.lattice_limit, m.right_within, m.lean_within)


def fits(applies: schema.Applies, family: str, strokes: int) -> bool:
    """Whether a record applies to a family and stroke at all."""
    return (not applies.families or family in applies.families) and (
        not applies.strokes or strokes in applies.strokes
    )


def _through_drivers(k: Knowledge, by_place: Mapping[str, float]) -> dict[str, float]:
    """Complete shifts given for some places: states that are not named inherit from their bands."""
    out = {}
    for place in k.places.values():
        if place.id in by_place:
            out[place.id] = by_place[place.id]
        else:
            out[place.id] = sum(weight * by_place.get(band, 0.0) for band, weight in place.drivers.items())
    return out


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


def area_shift(model: Model, circuit: str, change: float) -> Floats:
    """Mixture shift at every place, shape (P,), when a circuit's area changes by the share `change` (+: more)."""
    shares = model.tables.shares
    at = {p: flow_shift(shares, circuit, p, change) for p in shares.get(circuit, {})}
    by_place = _through_drivers(model.knowledge, at)
    return np.array([by_place[p] for p in model.places])


def step_shift(steps: ByPlace, circuit: str, place: str) -> float:
    """Mixture shift at a place for one practical step richer (negative: richer)."""
    return -math.log1p(steps.get(circuit, {}).get(place, 0.0) / 100)


def _severities(
    k: Knowledge, tables: FamilyTables, strokes: int, effect: schema.MixtureEffect
) -> list[tuple[str, float, dict[str, float]]]:
    """(label, how often, shift by place) of each severity."""
    out: list[tuple[str, float, dict[str, float]]] = []
    if effect.circuit is not None:
        for text, word in effect.amounts.items():
            amount = schema.Amount.parse(text)
            named = {*tables.shares.get(effect.circuit, {}), *tables.steps.get(effect.circuit, {})}
            if amount.unit == "percent":
                x = {p: flow_shift(tables.shares, effect.circuit, p, amount.size / 100) for p in named}
            else:
                x = {p: amount.size * step_shift(tables.steps, effect.circuit, p) for p in named}
            out.append((text, probability(k, word), _through_drivers(k, x)))
    else:
        assert effect.shift is not None
        words = {
            **(effect.shift.any or {}),
            **((effect.shift.two_stroke if strokes == 2 else effect.shift.four_stroke) or {}),
        }
        base = _through_drivers(k, {p: k.scales.shift[w] for p, w in words.items()})
        for size, word in effect.sizes.items():
            factor = k.scales.size[size]
            out.append((size.value, probability(k, word), {p: factor * x for p, x in base.items()}))
    total = sum(often for _, often, _ in out)
    return [(label, often / total, x) for label, often, x in out]


def _direction(
    effect: schema.MixtureEffect, shifts: list[dict[str, float]], bands: list[str]
) -> Direction | None:
    if effect.circuit is not None:
        signs = {math.copysign(1, schema.Amount.parse(t).size) for t in effect.amounts}
        if len(signs) > 1:
            return None
        return Direction.RICH if signs == {1.0} else Direction.LEAN
    strongest = max((v for x in shifts for p, v in x.items() if p in bands), key=abs, default=0.0)
    if strongest == 0.0:
        strongest = max((v for x in shifts for v in x.values()), key=abs, default=0.0)
    if strongest == 0.0:
        return None
    return Direction.LEAN if strongest > 0 else Direction.RICH


def _compile(k: Knowledge, family: schema.Family, strokes: Strokes) -> Model:
    lattice = lattice_of(k)
    tables = family_tables(k, family)
    places = tuple(k.places)
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    causes = [
        c
        for c in k.causes.values()
        if fits(c.applies, family.id, strokes)
        and not (c.mixture and c.mixture.circuit and c.mixture.circuit not in family.circuits)
    ]
    cause_ids = tuple(c.id for c in causes)
    group_ids = tuple(k.groups)

    states = [State(None, "", None, None)]
    odds = [k.scales.nothing_wrong]
    shifts: list[dict[str, float]] = [{}]
    number = [-1]
    for n, cause in enumerate(causes):
        prior = k.scales.prior[cause.prior]
        severities = (
            _severities(k, tables, strokes, cause.mixture) if cause.mixture else [("", 1.0, dict[str, float]())]
        )
        direction = _direction(cause.mixture, [s[2] for s in severities], bands) if cause.mixture else None
        for label, often, x in severities:
            circuit = cause.mixture.circuit if cause.mixture else None
            states.append(State(cause.id, label, circuit, direction))
            odds.append(prior * often)
            shifts.append(x)
            number.append(n)
    _add_unlisted(k, family, tables, states, odds, shifts, number)

    cause_number = np.array(number, dtype=np.intp)
    group_number = np.array(
        [group_ids.index(causes[n].group) if n >= 0 else -1 for n in number], dtype=np.intp
    )
    x_steps = lattice.steps(np.array([[s.get(p, 0.0) for s in shifts] for p in places]))
    signs, row_keys, rows = _signs(k, family, strokes, lattice, places, causes, cause_number)
    index = {c: n for n, c in enumerate(cause_ids)}
    network = build(
        lattice,
        cause_number,
        group_number,
        np.array(odds),
        x_steps,
        signs,
        np.array([tables.sigma[p] for p in places]),
        frozenset(
            (index[c.id], index[hidden]) for c in causes for hidden in c.compensates if hidden in index
        ),
        k.scales.pairs.compensation,
    ).alone()
    everyday_silent = {f.id: 1 - probability(k, f.everyday) for f in k.findings.values()}
    silence = _silence(k, network, row_keys)
    place_silence = np.zeros((len(places), len(states)))
    np.add.at(place_silence, signs.place, silence)
    told, denied = _contexts(k, causes, cause_number)
    return Model(
        knowledge=k,
        family=family,
        tables=tables,
        strokes=strokes,
        places=places,
        states=tuple(states),
        cause_ids=cause_ids,
        group_ids=group_ids,
        network=network,
        rows=rows,
        row_keys=row_keys,
        everyday_silent=everyday_silent,
        silence=silence,
        outcomes=_outcomes(k, lattice, causes, cause_number),
        works=_works(k, causes, cause_number),
        step_x={
            c: np.array(
                [
                    _through_drivers(k, {p: step_shift(tables.steps, c, p) for p in tables.steps.get(c, {})})[p]
                    for p in places
                ]
            )
            for c in family.circuits
            if c in tables.steps
        },
        on_one=_on_one(k, causes, cause_number),
        told=told,
        denied=denied,
        unknown_rate=_unknown_rate(k, network),
        kin=_kin(k, row_keys),
        directions={s.cause: s.direction for s in states if s.cause},
        in_control={b: in_control(k, tables, b) for b in bands},
        level_tables=_level_tables(k, network),
        place_silence=place_silence,
    )


def _add_unlisted(
    k: Knowledge,
    family: schema.Family,
    tables: FamilyTables,
    states: list[State],
    odds: list[float],
    shifts: list[dict[str, float]],
    number: list[int],
) -> None:
    """A fault nobody wrote down in every circuit and direction, as strong as a clear shift of that circuit."""
    typical = k.scales.shift
    moving = [c for c in family.circuits if tables.shares.get(c)]
    each = k.scales.unlisted.share_of_circuits * sum(odds[1:]) / (2 * len(moving))
    for circuit in moving:
        largest = max(tables.shares[circuit].values())
        for direction in Direction:
            size = max(v for v in typical.values()) / 2 * (1 if direction is Direction.LEAN else -1)
            x = {p: size * s / largest for p, s in tables.shares[circuit].items()}
            states.append(State(None, "unlisted", circuit, direction))
            odds.append(each)
            shifts.append(_through_drivers(k, x))
            number.append(-1)


def _signs(
    k: Knowledge,
    family: schema.Family,
    strokes: int,
    lattice: Lattice,
    places: tuple[str, ...],
    causes: list[schema.Cause],
    cause_number: np.ndarray,
) -> tuple[Signs, tuple[tuple[str, str], ...], dict[tuple[str, str], int]]:
    keys = [
        (f.id, at) for f in k.findings.values() if fits(f.applies, family.id, strokes) for at in f.at
    ]
    rows = {key: n for n, key in enumerate(keys)}
    base = np.empty((len(keys), lattice.size))
    links = np.ones((len(keys), len(cause_number)))
    for row, (finding_id, at) in enumerate(keys):
        finding = k.findings[finding_id]
        everyday = probability(k, finding.everyday)
        shown = np.full(lattice.size, everyday)
        if finding.mixture is not None and at != "parked":
            by_level = np.array([probability(k, finding.mixture[level]) for level in LEVELS])
            shown = np.maximum(lattice.response(by_level), everyday)
        base[row] = 1 - shown
    of_cause = [np.flatnonzero(cause_number == n) for n in range(len(causes))]
    for n, cause in enumerate(causes):
        for shows in cause.shows:
            if shows.strokes and strokes not in shows.strokes:
                continue
            silent = 1 - probability(k, shows.often)
            for at in shows.at or k.findings[shows.finding].at:
                found_row = rows.get((shows.finding, at))
                if found_row is not None:
                    links[found_row, of_cause[n]] = np.minimum(links[found_row, of_cause[n]], silent)
    signs = Signs(
        place=np.array([places.index(at) for _, at in keys], dtype=np.intp),
        silent_base=base,
        silent_links=links,
        has_mixture=tuple(bool(np.ptp(base[r]) > 0) for r in range(len(keys))),
        has_links=tuple(bool(links[r].min() < 1) for r in range(len(keys))),
    )
    return signs, tuple(keys), rows


def _silence(k: Knowledge, network: Network, row_keys: tuple[tuple[str, str], ...]) -> Floats:
    """log P(not mentioned | state) for every sign, at the power of the scales; shape (R, S).

    Silence speaks about each cause on its own: a pair takes the sum, and "nothing" is the zero of the scale.
    """
    mentioned_if_absent = k.scales.reporting.false_mention
    out = np.empty((len(row_keys), network.states))
    for row, (finding, _) in enumerate(row_keys):
        mentioned = probability(k, k.findings[finding].noticed_unasked)
        silent = network.single_silent[row]
        out[row] = np.log((1 - silent) * (1 - mentioned) + silent * (1 - mentioned_if_absent))
    out -= out[:, :1]
    return out * k.scales.reporting.silence_weight


def _spread(lines: Mapping[str, float], otherwise: Mapping[str, float]) -> dict[str, float]:
    """Complete a distribution over outcomes: what the lines leave is shared out as `otherwise` is."""
    given = sum(lines.values())
    rest = {o: p for o, p in otherwise.items() if o not in lines}
    if not rest or given >= 1:
        return {o: lines.get(o, 0.0) / given for o in otherwise}
    scale = (1 - given) / sum(rest.values())
    return {o: lines.get(o, rest.get(o, 0.0) * scale) for o in otherwise}


def _outcomes(
    k: Knowledge, lattice: Lattice, causes: list[schema.Cause], cause_number: np.ndarray
) -> dict[tuple[str, str], CheckOutcome]:
    out: dict[tuple[str, str], CheckOutcome] = {}
    size = len(cause_number)
    floor = k.scales.floor
    named: dict[str, dict[int, dict[str, float]]] = {}  # check -> cause -> outcome -> how often
    for n, cause in enumerate(causes):
        for s in cause.checks:
            named.setdefault(s.check, {}).setdefault(n, {})[s.outcome] = probability(k, s.often)
    for check in k.checks.values():
        if check.reads == "mixture":
            levels = np.array(
                [
                    [probability(k, o.mixture[level]) for level in LEVELS]
                    for o in check.outcomes.values()
                    if o.mixture is not None
                ]
            )
            levels /= levels.sum(axis=0)
            for name, row in zip(check.outcomes, levels, strict=True):
                out[check.id, name] = CheckOutcome(
                    np.zeros(size), np.zeros(size), 0.0, lattice.response(np.clip(row, floor, 1 - floor))
                )
            continue
        base = {o: probability(k, v.otherwise) for o, v in check.outcomes.items() if v.otherwise}
        total = sum(base.values())
        base = {o: p / total for o, p in base.items()}
        speaks = np.zeros(size)
        values = {o: np.zeros(size) for o in base}
        usual = max(base, key=lambda o: base[o])
        by_cause = named.get(check.id, {})
        for n, cause in enumerate(causes):
            lines = dict(by_cause.get(n, {}))
            if not lines and cause.group in check.groups:
                lines = {o: probability(k, w) for o, w in check.groups[cause.group].items()}
            if set(lines) == {usual}:
                # a cause that names the usual outcome alone means "nothing to see here", not "a little odd"
                lines[usual] = max(lines[usual], base[usual])
            if lines:
                mine = cause_number == n
                speaks[mine] = 1.0
                for o, p in _spread(lines, base).items():
                    values[o][mine] = min(max(p, floor), 1 - floor)
        for o in base:
            out[check.id, o] = CheckOutcome(speaks, values[o], base[o], None)
    return out


def _works(k: Knowledge, causes: list[schema.Cause], cause_number: np.ndarray) -> dict[str, Floats]:
    out = {a: np.zeros(len(cause_number)) for a in k.actions}
    for n, cause in enumerate(causes):
        for fix in cause.fixed_by:
            out[fix.do][cause_number == n] = probability(k, fix.works)
    return out


def _on_one(k: Knowledge, causes: list[schema.Cause], cause_number: np.ndarray) -> Floats:
    s = k.scales.several
    by_reach = {
        "own": s.own_shows_on_one,
        "shared": s.shared_shows_on_one,
        "either": (s.own_shows_on_one + s.shared_shows_on_one) / 2,
    }
    return np.array([by_reach[causes[n].reach] if n >= 0 else by_reach["either"] for n in cause_number])


def _level_tables(k: Knowledge, network: Network) -> dict[int, Floats]:
    """P(level) at every band on the lattice, before evidence has moved the residual."""
    levels = network.lattice.level_weights()
    return {n: network.blur(levels, n) for n, p in enumerate(k.places.values()) if p.kind == "band"}


def _contexts(
    k: Knowledge, causes: list[schema.Cause], cause_number: np.ndarray
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Factor of every circumstance on the odds of every state: when it holds, and when it does not.

    P(yes | state) = chance * multiplier, the chance lowered so that no state goes above the scales' limit; a yes is
    the multiplier itself, a no is what is left.
    """
    told, denied = {}, {}
    for context in k.contexts.values():
        words = [c.contexts.get(context.id) or context.groups.get(c.group) for c in causes]
        by_cause = np.array([k.scales.context[w] if w else 1.0 for w in words])
        factor = np.where(cause_number >= 0, by_cause[cause_number], 1.0)
        chance = yes_chance(k, context, float(by_cause.max()))
        told[context.id] = factor
        denied[context.id] = (1 - chance * factor) / (1 - chance)
    return told, denied


def yes_chance(k: Knowledge, context: schema.Context, largest: float) -> float:
    """P(yes) for a cause that a circumstance does not touch."""
    return min(probability(k, context.often), k.scales.context_most / max(largest, 1.0))


def _unknown_rate(k: Knowledge, network: Network) -> Floats:
    unlisted = k.scales.unlisted
    shown = 1 - network.single_silent
    mean = shown @ network.typical
    return np.asarray((1 - unlisted.background_mix) * mean + unlisted.background_mix * unlisted.background_rate)


def _kin(
    k: Knowledge, row_keys: tuple[tuple[str, str], ...]
) -> dict[tuple[str, str], tuple[int, ...]]:
    together: dict[tuple[str, str], list[int]] = {}
    for row, (finding, place) in enumerate(row_keys):
        together.setdefault((k.findings[finding].cluster or finding, place), []).append(row)
    return {(f, p): tuple(together[k.findings[f].cluster or f, p]) for f, p in row_keys}


def machine_fit(model: Model, machine: schema.Machine) -> Floats:
    """Weight of each state on this machine, shape (S,): 0 where it cannot be, less where a fact is unknown."""
    facts = (
        machine.cylinders, machine.carburetors, machine.cooling, machine.fuel_feed, machine.oiling, machine.use
    )
    key = ("fit", model.family.id, model.strokes, facts)
    found = model.knowledge.memo.get(key)
    if not isinstance(found, np.ndarray):
        found = _machine_fit(model, machine)
        if len(model.knowledge.memo) < _MOST_MEMO:
            model.knowledge.memo[key] = found
    return found


#: Machines remembered; the facts that matter allow a few hundred combinations, cylinder counts a few more.
_MOST_MEMO = 2000


def _machine_fit(model: Model, machine: schema.Machine) -> Floats:
    k = model.knowledge
    out = np.ones(len(model.states))
    by_cause = {c: fit_weight(k.causes[c].applies, machine, k.scales.unknown_fact) for c in model.cause_ids}
    if machine.use is not None:
        commoner = k.uses[machine.use].groups
        for c in model.cause_ids:
            word = commoner.get(k.causes[c].group)
            by_cause[c] *= k.scales.context[word] if word else 1.0
    for n, state in enumerate(model.states):
        if state.cause is not None:
            out[n] = by_cause[state.cause]
    return out


def fit_weight(applies: schema.Applies, machine: schema.Machine, unknown: float) -> float:
    """1 where a record applies to the machine, 0 where it does not, `unknown` a fact that nobody gave."""
    weight = 1.0
    facts: tuple[tuple[object, bool | None], ...] = (
        (applies.cylinders, None if machine.cylinders is None else machine.cylinders > 1),
        (applies.carburetors, _several_carburetors(machine)),
        (applies.cooling, None if machine.cooling is None else machine.cooling in applies.cooling),
        (applies.fuel_feed, None if machine.fuel_feed is None else machine.fuel_feed in applies.fuel_feed),
        (applies.oiling, None if machine.oiling is None else machine.oiling in applies.oiling),
        (applies.uses, None if machine.use is None else machine.use in applies.uses),
    )
    if machine.use is not None and machine.use in applies.not_uses:
        return 0.0
    for wanted, holds in facts:
        if wanted:
            weight *= unknown if holds is None else float(holds)
    return weight


def _several_carburetors(machine: schema.Machine) -> bool | None:
    if machine.carburetors is not None:
        return machine.carburetors > 1
    if machine.cylinders == 1:
        return False
    return None
