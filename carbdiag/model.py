"""Knowledge compiled for one kind of machine (family and strokes) into the arrays that belief works on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np

from carbdiag.applies import asks_of_machine, fit_weight, fits
from carbdiag.belief.kindred import Likeness, likeness
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network, Signs, build
from carbdiag.belief.residual import Residual
from carbdiag.case_schema import Machine
from carbdiag.cause_tables import CauseTables, cause_tables, lattice_of
from carbdiag.family_metering import FamilyTables, family_tables, in_control
from carbdiag.knowledge import Knowledge
from carbdiag.mixture_shifts import completed, flow_shift, step_shift, through_drivers
from carbdiag.records.applies import Applies
from carbdiag.records.causes import Cause
from carbdiag.records.contexts import Context
from carbdiag.records.families import Family, Stroke
from carbdiag.scales import probability
from carbdiag.states import State, list_states
from carbdiag.terms import Direction

Strokes = Literal[2, 4]

#: Sign of x of a cause that stands for a change of air.
AIR_SIGN = {"thinner": -1, "denser": 1}


@dataclass(frozen=True, eq=False)
class CheckOutcome:
    """How likely one outcome of a check is: by state for checks that read causes, on the lattice otherwise."""

    speaks: Floats  # (S,) 1 where the state decides the outcome
    values: Floats  # (S,) its chance there, 0 elsewhere
    otherwise: float
    table: Floats | None  # (N,)


@dataclass(frozen=True, eq=False)
class Part:
    """The part of the tables of all causes that one kind of machine takes."""

    causes: Ints  # (C,) column of each of its causes
    columns: Ints  # (S,) column of the cause of each state, the last where it has none
    kind: Ints  # (S,) number of the kind of the unlisted fault that takes after each state, -1 for none
    like: Likeness

    def by_state(self, table: Floats) -> Floats:
        """A table by cause as one by state, (..., all causes + 1) to (..., S)."""
        out = table.take(self.columns, axis=-1)
        if len(self.like):
            out[..., -len(self.like) :] = self.like.of_causes(table.take(self.causes, axis=-1))
        return np.asarray(out)


@dataclass(frozen=True, eq=False)
class Outcomes:
    """How likely the outcomes of checks are on one kind of machine, looked up as `[check, outcome]`."""

    every: CauseTables
    part: Part

    def __getitem__(self, key: tuple[str, str]) -> CheckOutcome:
        """An outcome of a check."""
        table = self.every.mixture.get(key)
        if table is not None:
            nowhere = np.zeros(len(self.part.columns))
            return CheckOutcome(nowhere, nowhere, 0.0, table)
        row, (speaks, values) = self.every.outcomes[key], self._by_state
        return CheckOutcome(
            speaks[self.every.outcome_check[row]], values[row], float(self.every.otherwise[row]), None
        )

    @cached_property
    def _by_state(self) -> tuple[Floats, Floats]:
        """`speaks` and `values` of all causes, for the states here.

        A fault that nobody wrote down decides an outcome as its kin do, some of which the check does not touch.
        """
        every, part = self.every, self.part
        speaks, values = every.speaks.take(part.columns, axis=1), every.values.take(part.columns, axis=1)
        if len(part.like):
            kin = slice(-len(part.like), None)
            speaks[:, kin], values[:, kin] = 1.0, part.like.of_causes(every.chances.take(part.causes, axis=1))
        return speaks, values


@dataclass(frozen=True, eq=False)
class Unlisted:
    """Faults that nobody wrote down, U states at W different parts of the engine."""

    states: Ints  # (U,)
    where: Ints  # (U,) index into `parts`
    parts: tuple[tuple[str | None, str | None, Direction | None], ...]  # (W,) group, circuit, direction


@dataclass(frozen=True, eq=False)
class Model:
    """Everything a diagnosis needs for one kind of machine."""

    knowledge: Knowledge
    family: Family
    tables: FamilyTables
    strokes: Strokes
    places: tuple[str, ...]
    states: tuple[State, ...]
    cause_ids: tuple[str, ...]
    group_ids: tuple[str, ...]
    part: Part
    network: Network  # single states; a case adds the pairs it looks at
    rows: Mapping[tuple[str, str], int]
    row_keys: tuple[tuple[str, str], ...]
    everyday_silent: Mapping[str, float]
    noticed: Floats  # (R,) how often a sign is told unasked
    outcomes: Outcomes
    works: Mapping[str, Floats]  # action -> (S,)
    step_x: Mapping[str, Floats]  # circuit -> (P,) shift of one step richer
    on_one: Floats  # (S,) chance that it shows on one cylinder of several
    told: Mapping[str, Floats]  # context -> (S,) factor on the odds when it holds
    denied: Mapping[str, Floats]  # context -> (S,) factor when it does not
    kin: Mapping[tuple[str, str], tuple[int, ...]]  # (finding, place) -> rows of its paraphrases there
    directions: Mapping[str, Direction | None]  # cause -> rich, lean or neither
    in_control: Mapping[str, list[tuple[str, float]]]  # band -> circuits and shares, strongest first

    def silence(self, row: int) -> Floats:
        """Log-likelihood of not mentioning a sign, shape (S,)."""
        found = self._silences.get(row)
        if found is None:
            found = self._silences[row] = self._silence(np.array([row]))[0]
        return found

    @cached_property
    def _silences(self) -> dict[int, Floats]:
        return {}

    def _silence(self, rows: Ints) -> Floats:
        return _silence(self.knowledge, self.network.single_silent[rows], self.noticed[rows])

    @cached_property
    def limited(self) -> tuple[tuple[int, Applies], ...]:
        """The causes that only some machines of this kind can have, by number, with what they ask of a machine."""
        applies = [self.knowledge.causes[c].applies for c in self.cause_ids]
        return tuple((n, a) for n, a in enumerate(applies) if asks_of_machine(a))

    @cached_property
    def place_silence(self) -> Floats:
        """Silence of every sign of a place together, shape (P, S)."""
        at = self.network.signs.place
        return np.stack([self._silence(np.flatnonzero(at == p)).sum(axis=0) for p in range(len(self.places))])

    def silent_over_x(self, row: int) -> Floats:
        """log P(a sign is not mentioned) at every x, with no cause but the mixture, (N,)."""
        return np.asarray(self._over_x(np.array([row]))[0])

    def _over_x(self, rows: Ints) -> Floats:
        return _not_mentioned(self.knowledge, self.network.base_mean[rows], self.noticed[rows])

    @cached_property
    def silence_over_x(self) -> Floats:
        """The same of every sign of a place together, (P, N)."""
        at = self.network.signs.place
        return np.stack([self._over_x(np.flatnonzero(at == p)).sum(axis=0) for p in range(len(self.places))])

    @cached_property
    def unsaid(self) -> Floats:
        """Likelihood of not telling of each circumstance unasked, (C, S), relative to that of "nothing wrong"."""
        k = self.knowledge
        told = k.scales.reporting.circumstance_told
        yes = {c: yes_chance(k, k.contexts[c], float(of.max())) * of for c, of in self.told.items()}
        return np.array([(1 - told * p) / (1 - told * p[0]) for p in yes.values()])

    @cached_property
    def unknown_rate(self) -> Floats:
        """How often each sign shows when the cause is something unknown, shape (R,)."""
        return _unknown_rate(self.knowledge, self.network)

    @cached_property
    def residuals(self) -> Mapping[int, Residual]:
        """The residual of the place of each band."""
        bands = [(n, p) for n, p in enumerate(self.places) if self.knowledge.places[p].kind == "band"]
        return {n: Residual.of(self.network.lattice, self.tables.sigma[p]) for n, p in bands}

    def sound_lean(self, band: str) -> float:
        """P(lean) at a band of an engine with nothing wrong."""
        return float(self.residuals[self.place(band)].sound[3:].sum())

    @cached_property
    def cause_numbers(self) -> Mapping[str, int]:
        """The number of each cause."""
        return {c: n for n, c in enumerate(self.cause_ids)}

    @cached_property
    def settings(self) -> Mapping[tuple[str, Direction], int]:
        """The cause, by number, that each setting off one way is; of several, the likeliest before anything is told."""
        odds = np.bincount(self.network.cause + 1, self.network.odds)[1:]
        found: dict[tuple[str, Direction], int] = {}
        for n in np.argsort(-odds, kind="stable").tolist():
            circuit, way = self.knowledge.causes[self.cause_ids[n]].setting, self.directions[self.cause_ids[n]]
            if circuit is not None and way is not None:
                found.setdefault((circuit, way), n)
        return found

    @cached_property
    def unlisted(self) -> Unlisted:
        """The states of faults that nobody wrote down, by where they would sit."""
        states = np.flatnonzero(self.network.cause < 0)[1:]
        of = [self.states[n] for n in states.tolist()]
        keys = [(s.group if s.circuit is None else None, s.circuit, s.direction) for s in of]
        where = {key: n for n, key in enumerate(dict.fromkeys(keys))}
        return Unlisted(states, np.array([where[key] for key in keys], dtype=np.intp), tuple(where))

    @cached_property
    def controlling(self) -> Mapping[str, tuple[str, ...]]:
        """Band -> circuits that control it: those with a third of the strongest share or more."""
        return {
            band: tuple(c for c, share in ranked if share >= ranked[0][1] / 3)
            for band, ranked in self.in_control.items()
        }

    def place(self, name: str) -> int:
        """Index of a place."""
        return self.places.index(name)


def compile_model(k: Knowledge, family: str, strokes: Strokes) -> Model:
    """Compile, or return what was compiled before (it depends on the knowledge alone)."""
    key = (family, strokes)
    found = k.memo.get(key)
    if not isinstance(found, Model):
        found = _compile(k, k.families[family], strokes)
        k.memo[key] = found
    return found


def area_shift(model: Model, circuit: str, change: float) -> Floats:
    """Mixture shift at every place, shape (P,), when a circuit's area changes by the share `change` (+: more)."""
    shares = model.tables.shares
    at = {p: flow_shift(shares, circuit, p, change) for p in shares.get(circuit, {})}
    by_place = through_drivers(model.tables.drivers, at)
    return np.array([by_place[p] for p in model.places])


def _compile(k: Knowledge, family: Family, strokes: Strokes) -> Model:
    lattice = lattice_of(k)
    tables = family_tables(k, family)
    places = tuple(k.places)
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    causes = _causes_of(k, family, strokes)
    cause_ids, group_ids = tuple(c.id for c in causes), tuple(k.groups)
    listed, kind = list_states(k, family, tables, strokes, causes)
    states, cause_number = listed.states, np.array(listed.causes, dtype=np.intp)
    group_number = np.array([group_ids.index(s.group) if s.group else -1 for s in states], dtype=np.intp)
    like = likeness(kind, cause_number, np.array(listed.odds))
    x = completed(tables.drivers, listed.shifts) * np.array(listed.times)
    if len(like):
        x[:, -len(like) :] = like.of(x)
    every = cause_tables(k)
    of_causes = np.array([every.column[c] for c in cause_ids], dtype=np.intp)
    # -1 takes the last column: no listed cause
    part = Part(of_causes, np.append(of_causes, len(every.column))[cause_number], kind, like)
    signs, row_keys, rows, noticed = _signs(k, family, strokes, places, part)
    network = build(
        lattice,
        cause_number,
        group_number,
        np.array(listed.odds),
        lattice.steps(x),
        signs,
        np.array([tables.sigma[p] for p in places]),
        _compensating(causes),
        k.scales.pairs.compensation,
        _opposed(causes),
    ).alone()
    told, denied = _contexts(k, part)
    return Model(
        knowledge=k,
        family=family,
        tables=tables,
        strokes=strokes,
        places=places,
        states=tuple(states),
        cause_ids=cause_ids,
        group_ids=group_ids,
        part=part,
        network=network,
        rows=rows,
        row_keys=row_keys,
        everyday_silent=every.everyday_silent,
        noticed=noticed,
        outcomes=Outcomes(every, part),
        works=dict(zip(k.actions, part.by_state(every.works), strict=True)),
        step_x=_step_x(family, tables),
        on_one=part.by_state(every.on_one),
        told=told,
        denied=denied,
        kin=_kin(k, row_keys),
        directions={s.cause: s.direction for s in states if s.cause},
        in_control={b: in_control(tables, b) for b in bands},
    )


def _causes_of(k: Knowledge, family: Family, strokes: Strokes) -> list[Cause]:
    """The causes that such a machine can have: it must have the circuit that one works through."""
    return [
        c
        for c in k.causes.values()
        if fits(c.applies, family.id, strokes)
        and not (c.mixture and c.mixture.circuit and c.mixture.circuit not in family.circuits)
    ]


def _compensating(causes: Sequence[Cause]) -> frozenset[tuple[int, int]]:
    """Numbers of the settings that hide a fault, each with the fault."""
    index = {c.id: n for n, c in enumerate(causes)}
    return frozenset((index[c.id], index[hidden]) for c in causes for hidden in c.compensates if hidden in index)


def _opposed(causes: Sequence[Cause]) -> frozenset[tuple[int, int]]:
    """Numbers of the causes that are one setting off either way: a clip is not too high and too low at once."""
    each = [(n, c.setting) for n, c in enumerate(causes) if c.setting is not None]
    return frozenset((n, m) for n, circuit in each for m, other in each if n < m and circuit == other)


def _step_x(family: Family, tables: FamilyTables) -> dict[str, Floats]:
    circuits = [c for c in family.circuits if c in tables.steps]
    steps = [{p: step_shift(tables.steps, c, p) for p in tables.steps[c]} for c in circuits]
    return dict(zip(circuits, np.ascontiguousarray(completed(tables.drivers, steps).T), strict=True))


def _signs(
    k: Knowledge, family: Family, strokes: int, places: tuple[str, ...], part: Part
) -> tuple[Signs, tuple[tuple[str, str], ...], dict[tuple[str, str], int], Floats]:
    """The signs that this machine can show, their keys and rows, and how often each is told unasked."""
    every = cause_tables(k)
    fitting = {f.id for f in k.findings.values() if fits(f.applies, family.id, strokes)}
    some = np.array([n for n, (f, _) in enumerate(every.signs.keys) if f in fitting], dtype=np.intp)
    keys = tuple(every.signs.keys[n] for n in some)
    links = part.by_state(every.by_strokes[strokes].take(some, axis=0))
    index = {place: n for n, place in enumerate(places)}
    signs = Signs(
        place=np.array([index[at] for _, at in keys], dtype=np.intp),
        silent_base=every.signs.silent_base.take(some, axis=0),
        silent_links=links,
        has_mixture=tuple(every.signs.has_mixture[some].tolist()),
        has_links=tuple((links.min(axis=1, initial=1.0) < 1).tolist()),
    )
    return signs, keys, {key: n for n, key in enumerate(keys)}, every.signs.noticed[some]


def _silence(k: Knowledge, silent: Floats, noticed: Floats) -> Floats:
    """log P(not mentioned | state) for signs silent (R, S) so often, at the power of the scales; shape (R, S).

    Silence speaks about each cause on its own: a pair takes the sum, and "nothing" is the zero of the scale.
    """
    out = _not_mentioned(k, silent, noticed)
    return np.asarray(out - out[:, :1])


def _not_mentioned(k: Knowledge, silent: Floats, noticed: Floats) -> Floats:
    """log P(not mentioned) of signs that are silent so often (R, ...), at the power of the scales."""
    mentioned_if_absent = k.scales.reporting.false_mention
    out = np.log((1 - silent) * (1 - noticed[:, None]) + silent * (1 - mentioned_if_absent))
    return np.asarray(out * k.scales.reporting.silence_weight)


def _contexts(k: Knowledge, part: Part) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Factor of every circumstance on the odds of every state: when it holds, and when it does not.

    P(yes | state) = chance * multiplier, the chance lowered so that no state goes above the scales' limit; a yes is
    the multiplier itself, a no is what is left.
    """
    every = cause_tables(k).contexts
    told = part.by_state(every)
    largest = every.take(part.causes, axis=1).max(axis=1, initial=0.0)
    chance = np.array([yes_chance(k, c, float(m)) for c, m in zip(k.contexts.values(), largest, strict=True)])[:, None]
    denied = (1 - chance * told) / (1 - chance)
    return dict(zip(k.contexts, told, strict=True)), dict(zip(k.contexts, denied, strict=True))


def yes_chance(k: Knowledge, context: Context, largest: float) -> float:
    """P(yes) for a cause that a circumstance does not touch."""
    return min(probability(k, context.often), k.scales.context_most / max(largest, 1.0))


def _unknown_rate(k: Knowledge, network: Network) -> Floats:
    unlisted = k.scales.unlisted
    shown = 1 - network.single_silent
    mean = np.einsum("rs,s->r", shown, network.typical)  # `@` would wake threads for so little
    return np.asarray((1 - unlisted.background_mix) * mean + unlisted.background_mix * unlisted.background_rate)


def _kin(
    k: Knowledge, row_keys: tuple[tuple[str, str], ...]
) -> dict[tuple[str, str], tuple[int, ...]]:
    words = [(k.findings[finding].cluster or finding, place) for finding, place in row_keys]
    together: dict[tuple[str, str], list[int]] = {}
    for row, word in enumerate(words):
        together.setdefault(word, []).append(row)
    rows = {word: tuple(same) for word, same in together.items()}
    return {key: rows[word] for key, word in zip(row_keys, words, strict=True)}


def facts_of(machine: Machine) -> tuple[object, ...]:
    """What decides, with the kind of machine, which records apply to it."""
    return (machine.cylinders, machine.carburetors, machine.cooling, machine.fuel_feed, machine.oiling, machine.use)


def machine_fit(model: Model, machine: Machine) -> Floats:
    """Weight of each state on this machine, shape (S,): 0 where it cannot be, less where a fact is unknown."""
    key = ("fit", model.family.id, model.strokes, facts_of(machine))
    found = model.knowledge.memo.get(key)
    if not isinstance(found, np.ndarray):
        found = _machine_fit(model, machine)
        if len(model.knowledge.memo) < MOST_MEMO:
            model.knowledge.memo[key] = found
    return found


#: What the records of uses call the strokes.
_STROKE: Final[Mapping[int, Stroke]] = {2: "two_stroke", 4: "four_stroke"}
#: Machines remembered; the facts that matter allow a few hundred combinations, cylinder counts a few more.
MOST_MEMO = 2000


def _machine_fit(model: Model, machine: Machine) -> Floats:
    k, part = model.knowledge, model.part
    by_cause = np.ones(len(model.cause_ids))
    use = None if machine.use is None else k.uses[machine.use]
    mostly_one = use is not None and use.one_cylinder and machine.cylinders is None and machine.carburetors is None
    for n, applies in model.limited:
        by_cause[n] = fit_weight(applies, machine, k.scales.unknown_fact, model.family.circuits)
        if mostly_one and (applies.cylinders or applies.carburetors):
            by_cause[n] *= k.scales.several_unsaid
    if use is not None:
        commoner, stroke = use.groups, _STROKE[model.strokes]
        for n, c in enumerate(model.cause_ids):
            said = commoner.get(k.causes[c].group)
            word = said.get(stroke) if isinstance(said, dict) else said
            by_cause[n] *= k.scales.context[word] if word else 1.0
    out = np.append(by_cause, 1.0)[model.network.cause]  # -1 takes the last: no listed cause
    if len(part.like):
        # a fault that nobody wrote down is as likely on this machine as its kin are
        of_kin = np.flatnonzero(part.kind >= 0)
        kind, odds = part.kind[of_kin], model.network.odds[of_kin]
        out[-len(part.like) :] = np.bincount(kind, out[of_kin] * odds) / np.bincount(kind, odds)
    return out
