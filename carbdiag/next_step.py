"""Which check, question or observation to do next: expected gain per minute, hazards counted as minutes."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from carbdiag.applies import as_asked, can_be_asked
from carbdiag.belief.information import Grouped, Shares, p_log_p
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import leading
from carbdiag.case_schema import Case, Machine
from carbdiag.casework.believed import Belief
from carbdiag.casework.still_at_work import not_cured, shows_again
from carbdiag.diagnosis_schema import HoldNow, NextStep, OutcomeMeaning
from carbdiag.knowledge import Knowledge
from carbdiag.model import MOST_MEMO, Model, facts_of, yes_chance
from carbdiag.records.contexts import Context
from carbdiag.records.findings import Finding
from carbdiag.scales import probability
from carbdiag.terms import Certainty, Effect, Status

#: How many leading hypotheses the ranking looks at one by one; of the rest, every cause by itself.
_HYPOTHESES = 160


@dataclass(frozen=True, eq=False)
class Candidates:
    """Everything that could be asked or done on one kind of machine, stacked: one row an outcome."""

    kind: tuple[Literal["check", "question", "finding", "context"], ...]  # (T,)
    ids: tuple[tuple[str, str | None], ...]  # (T,) record, place
    start: Ints  # first outcome row of each check
    minutes: Floats  # (T,) with hazards
    cluster: tuple[str, ...]  # (T,) of near-duplicates only one is proposed
    # State by state, so that what a hypothesis needs lies side by side.
    # Checks that read causes, then checks that read the mixture: one column an outcome
    speaks: NDArray[np.int8]  # (S, C)
    values: Shares  # (S, C)
    otherwise: Shares  # (C,)
    tables: Shares  # (M, N)
    table_place: Ints  # (M,)
    # then contexts and findings: one column of yes each
    context_yes: Shares  # (S, X)
    silent: Shares  # (R, N)
    mixed: Ints  # signs that the mixture touches
    links: Shares  # (S, R)
    noticed: Shares  # (R,) how often a rider who saw the sign tells it unasked, as far as silence counts
    most_told: float
    error: float

    @cached_property
    def answers(self) -> tuple[Ints, Ints]:
        """Candidate and number of every answer: the outcomes of checks, then every yes, then every no."""
        checks, others = len(self.start), len(self.kind) - len(self.start)
        sizes = np.diff(np.append(self.start, self.of_checks))
        of_others = np.arange(others) + checks
        candidate = np.concatenate([np.repeat(np.arange(checks), sizes), of_others, of_others])
        within = np.arange(sizes.sum()) - np.repeat(self.start, sizes)
        return candidate, np.concatenate([within, np.zeros(others, np.intp), np.ones(others, np.intp)])

    @property
    def of_checks(self) -> int:
        """Outcome rows of all checks; a row of yes for every other candidate follows."""
        return len(self.otherwise) + len(self.tables)

    def yes_of(self, finding: str, place: str) -> int:
        """The row of yes to a sign at a place."""
        return self.of_checks + self.number[finding, place] - len(self.start)

    @cached_property
    def number(self) -> dict[tuple[str, str | None], int]:
        """The number of each sign at a place."""
        return {of: t for t, (kind, of) in enumerate(zip(self.kind, self.ids, strict=True)) if kind == "finding"}

    def by_candidate(self, rows: Shares, of_no: Shares) -> Shares:
        """What every outcome counts, added up: (..., rows) and (..., contexts + findings) to (..., T)."""
        of_checks = np.add.reduceat(rows[..., : self.of_checks], self.start, axis=-1)
        return np.concatenate([of_checks, rows[..., self.of_checks :] + of_no], axis=-1)

    @cached_property
    def places(self) -> tuple[tuple[str | None, ...], Ints]:
        """Where something is asked, each place once, and the number of each candidate's."""
        number = {place: n for n, place in enumerate(dict.fromkeys(at for _, at in self.ids))}
        return tuple(number), np.array([number[at] for _, at in self.ids], dtype=np.intp)

    @cached_property
    def always_silent(self) -> Shares:
        """(R,) how often a sign is silent for another reason than the mixture; 1 where the mixture touches it."""
        always = self.silent[:, 0].copy()
        always[self.mixed] = 1.0
        return always

    @cached_property
    def read_from(self) -> tuple[Ints, Ints]:
        """Where the rows of `tables`, and of `silent` for `mixed`, begin when they are flattened."""
        size = self.silent.shape[1]
        return np.arange(len(self.tables)) * size, self.mixed * size


def candidates(model: Model) -> Candidates:
    """Stack every candidate of a model, or return what was stacked before."""
    key = ("candidates", model.family.id, model.strokes)
    found = model.knowledge.memo.get(key)
    if not isinstance(found, Candidates):
        found = _stack(model)
        model.knowledge.memo[key] = found
    return found


def hazard_minutes(k: Knowledge, cautions: tuple[str, ...]) -> float:
    """The dread of the hazards that cautions name, as minutes."""
    dread = k.scales.decision.hazard_minutes
    return float(sum(dread.get(c, 0.0) for c in cautions))


def _stack(model: Model) -> Candidates:
    k, network = model.knowledge, model.network
    decision = k.scales.decision
    kind: list[Literal["check", "question", "finding", "context"]] = []
    ids: list[tuple[str, str | None]] = []
    sizes: list[int] = []
    minutes: list[float] = []
    cluster: list[str] = []
    speaks, values, otherwise, tables, table_place = [], [], [], [], []
    size = network.lattice.size

    def add(
        what: Literal["check", "question", "finding", "context"],
        record: str,
        place: str | None,
        outcomes: int,
        cost: float,
        group: str,
    ) -> None:
        kind.append(what)
        ids.append((record, place))
        sizes.append(outcomes)
        minutes.append(cost + decision.start_minutes)
        cluster.append(group)

    checks = list(k.checks.values())
    for check in (c for c in checks if c.reads == "causes"):
        cost = check.minutes + hazard_minutes(k, check.cautions)
        add(check.kind, check.id, None, len(check.outcomes), cost, check.id)
        for o in check.outcomes:
            outcome = model.outcomes[check.id, o]
            speaks.append(outcome.speaks)
            values.append(outcome.values)
            otherwise.append(outcome.otherwise)
    for check in (c for c in checks if c.reads == "mixture"):
        cost = check.minutes + hazard_minutes(k, check.cautions)
        for place in check.at:
            add(check.kind, check.id, place, len(check.outcomes), cost, check.id)
            for o in check.outcomes:
                table = model.outcomes[check.id, o].table
                assert table is not None
                tables.append(network.blur(table, model.place(place)))
                table_place.append(model.place(place))
    start = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.intp)
    contexts = []
    for context in k.contexts.values():
        add("context", context.id, None, 2, decision.ask_minutes, context.id)
        told = model.told[context.id]
        contexts.append(yes_chance(k, context, float(told.max())) * told)
    for finding, place in model.row_keys:
        record = k.findings[finding]
        add("finding", finding, place, 2, decision.ask_minutes, record.cluster or finding)
        if record.answerable is not None:  # what few can tell costs its minutes again and again until one can
            minutes[-1] /= probability(k, record.answerable)
    return Candidates(
        kind=tuple(kind),
        ids=tuple(ids),
        start=start,
        minutes=np.array(minutes),
        cluster=tuple(cluster),
        speaks=_by_state(speaks, model, np.int8),
        values=_by_state(values, model, np.float32),
        otherwise=np.array(otherwise, dtype=np.float32),
        tables=np.array(tables, dtype=np.float32).reshape(len(tables), size),
        table_place=np.array(table_place, dtype=np.intp),
        context_yes=_by_state(contexts, model, np.float32),
        silent=network.base_mean.astype(np.float32),
        mixed=np.flatnonzero(network.signs.has_mixture),
        links=_by_state(network.signs.silent_links, model, np.float32),
        noticed=_noticed(k, model),
        most_told=k.scales.context_most,
        error=k.scales.certainty[Certainty.SURE],
    )


def _noticed(k: Knowledge, model: Model) -> Shares:
    """How often a sign that shows is told unasked, as far as its silence counts in the belief."""
    told = np.array([probability(k, k.findings[f].noticed_unasked) for f, _ in model.row_keys])
    return np.asarray(1 - (1 - told) ** k.scales.reporting.silence_weight, dtype=np.float32)


def _by_state(rows: Sequence[Floats] | Floats, model: Model, kind: type) -> NDArray[Any]:
    """Rows over states as an array (S, rows), each state's numbers side by side."""
    return np.ascontiguousarray(np.array(rows, dtype=kind).reshape(len(rows), len(model.states)).T)


@dataclass(frozen=True, eq=False)
class Alone:
    """What every candidate would show of single states, for one kind of machine."""

    rows: Shares  # (S, rows) P(outcome | state) for every outcome of the checks, then P(yes | state) for the rest
    certain: Shares  # (S, T) sum of p log2 p over the outcomes of each candidate
    certain_unspoken: Shares  # (S, R) the same of each sign that the rider might have told unasked, and did not


def alone(model: Model) -> Alone:
    """The single states, or what was worked out of them before."""
    key = ("alone", model.family.id, model.strokes)
    found = model.knowledge.memo.get(key)
    if not isinstance(found, Alone):
        c, states = candidates(model), np.arange(len(model.states))
        rows = _rows(model.network, c, states, np.zeros_like(states))
        unspoken = _unspoken(rows[:, -len(c.noticed) :], c.noticed)
        found = Alone(
            rows,
            c.by_candidate(p_log_p(rows), p_log_p(1 - rows[:, c.of_checks :])),
            p_log_p(unspoken) + p_log_p(1 - unspoken),
        )
        model.knowledge.memo[key] = found
    return found


def _unspoken(shown: Shares, noticed: Shares) -> Shares:
    """P(yes) to signs that the rider was in a position to see and did not tell: who sees much tells it unasked."""
    return shown * (1 - noticed) / (1 - shown * noticed)


def _rows(network: Network, c: Candidates, first: Ints, second: Ints, steps: Ints | int = 0) -> Shares:
    """P(outcome | hypothesis) for every outcome of the checks, then P(yes | hypothesis) for the rest, (K, rows).

    A hypothesis is its first and second state; `steps` (P,) is how far settings have moved the mixture since.
    """
    spoken = c.speaks.take(first, axis=0)
    spoken += c.speaks.take(second, axis=0)
    by_cause = c.values.take(first, axis=0)
    by_cause += c.values.take(second, axis=0)
    by_cause /= np.maximum(spoken, 1)
    by_cause += (spoken == 0) * c.otherwise
    shifts = network.x.T
    x = shifts.take(first, axis=0) + shifts.take(second, axis=0) + (network.lattice.center + steps)
    x = network.lattice.clip(x)
    of_tables, of_signs = c.read_from
    by_mixture = c.tables.take(x.take(c.table_place, axis=1) + of_tables)
    told = c.context_yes.take(first, axis=0) * c.context_yes.take(second, axis=0)
    told /= c.context_yes[0]
    np.minimum(told, c.most_told, out=told)
    silent = c.links.take(first, axis=0)
    silent *= c.links.take(second, axis=0)
    silent *= c.always_silent
    silent[:, c.mixed] *= c.silent.take(x.take(network.signs.place[c.mixed], axis=1) + of_signs)
    silent *= 2 * c.error - 1
    silent += 1 - c.error
    return np.concatenate([by_cause, by_mixture, told, silent], axis=1)


@dataclass(frozen=True)
class Asked:
    """What a case has answered already, or cannot be asked."""

    checks: frozenset[tuple[str, str | None]]
    findings: frozenset[tuple[str, str | None]]
    contexts: frozenset[str]
    held: frozenset[str]  # contexts that hold
    tried: frozenset[str]  # settings moved, repairs made and checks answered

    @classmethod
    def of(cls, case: Case) -> Asked:
        """Read a case; a check or sign told without a place counts as answered everywhere."""
        checks: set[tuple[str, str | None]] = set()
        findings: set[tuple[str, str | None]] = set()
        for epoch in case.history():
            checks |= {(r.check, r.at) for r in epoch.checks}
            for report in epoch.findings:
                findings |= {(report.finding, p) for p in report.at} or {(report.finding, None)}
        skipped = {kind: {(s.id, s.at) for s in case.unanswered if s.kind == kind} for kind in ("finding", "context")}
        checks |= {(s.id, s.at) for s in case.unanswered if s.kind in ("check", "question")}
        return cls(
            frozenset(checks), frozenset(findings | skipped["finding"]),
            frozenset({c.context for c in case.contexts} | {i for i, _ in skipped["context"]}),
            frozenset(c.context for c in case.contexts if c.status is Status.PRESENT),
            frozenset(t.change or t.do or "" for e in case.history() for t in e.trials) | {c for c, _ in checks},
        )

    def covers(self, kind: str, record: str, place: str | None, context: Context | None) -> bool:
        """Whether this was answered already; a sign once told is not asked again place by place."""
        if context is not None:
            told = not (self.held.isdisjoint(context.settled_by) and self.tried.isdisjoint(context.told_by))
            return told or record in self.contexts
        if kind == "finding":
            return any(r == record for r, _ in self.findings)
        return (record, place) in self.checks or (record, None) in self.checks or (
            place is None and any(r == record for r, _ in self.checks)
        )


def holds_on(
    k: Knowledge, case: Case, lean: dict[str, float], causes: dict[str, float]
) -> tuple[HoldNow, ...]:
    """The holds that are on, given P(lean) by place and P(cause).

    A sign that holds something back does so until a later epoch tells that it is gone: a repair alone lifts nothing.
    """
    present: set[str] = set()
    for epoch in case.history():
        present -= {f.finding for f in epoch.findings if f.status is Status.DENIED}
        present |= {f.finding for f in epoch.findings if f.status is Status.PRESENT}
    holding = {c.context for c in case.contexts if c.status is Status.PRESENT}
    came = {c.check: c.outcome for epoch in case.history() for c in epoch.checks}
    use = case.machine.use
    out = []
    for hold in k.holds.values():
        when = hold.when
        told = not present.isdisjoint(when.findings) or not holding.isdisjoint(when.contexts)
        seen = told or use in when.uses or any(came.get(c) in outcomes for c, outcomes in when.outcomes.items())
        chances = [lean.get(p, 0.0) for p in when.lean_at] + [causes.get(c, 0.0) for c in when.causes]
        chance = 1.0 if seen else max(chances, default=0.0)
        if chance > when.more_than:
            out.append(HoldNow.trusted(id=hold.id, name=hold.name, why=hold.why, chance=round(chance, 4)))
    return tuple(out)


@dataclass(frozen=True, eq=False)
class Outlook:
    """What every candidate would show, for the leading hypotheses merged by the causes they name (M of them)."""

    model: Model
    candidates: Candidates
    members: Ints  # (K,) hypotheses looked at, group by group
    groups: Grouped
    first: Ints  # (M,) states of a member of each merged hypothesis
    second: Ints  # (M,)
    rows: Shares  # (M, rows) as `Alone` has them
    gain: Shares  # (T,) bits about the cause

    def given(self, t: int) -> Shares:
        """P(outcome | merged hypothesis) of one candidate, shape (outcomes, M)."""
        start, of_checks = self.candidates.start, self.candidates.of_checks
        if t >= len(start):
            p = self.rows[:, of_checks + t - len(start)]
            return np.stack([p, 1 - p])
        end = int(start[t + 1]) if t + 1 < len(start) else of_checks
        return np.ascontiguousarray(self.rows[:, int(start[t]) : end].T)

    def outcomes(self, t: int) -> int:
        """How many outcomes a candidate has."""
        start = self.candidates.start
        if t >= len(start):
            return 2
        return int(start[t + 1] if t + 1 < len(start) else self.candidates.of_checks) - int(start[t])

    def most_raised(self, given: Shares, marginal: float) -> str | None:
        """The cause whose probability an outcome raises most; None where that is nothing wrong."""
        at, cause = self._named
        rise = np.bincount(cause, (self.groups.weights * (given / max(marginal, 1e-12) - 1)).take(at))
        return (None, *self.model.cause_ids)[int(np.argmax(rise))]

    @cached_property
    def _named(self) -> tuple[Ints, Ints]:
        """Merged hypotheses and what they name, one by one: 0 for nothing, 1 for the first cause; pairs twice."""
        cause, pairs = self.model.network.cause, np.flatnonzero(self.second)
        at = np.append(np.arange(len(self.first)), pairs)
        return at, np.append(cause[self.first], cause[self.second[pairs]]) + 1


def outlook(belief: Belief) -> Outlook | None:
    """Look ahead over every candidate; None when nothing is believed but faults nobody wrote down.

    Whoever asks on is not cured: what was repaired is out, and what settings have moved is read as it is now.
    """
    model, network = belief.model, belief.network
    c = candidates(model)
    told = belief
    if belief.repaired.alone.any():
        belief = replace(belief, posterior=not_cured(belief))
    some = leading(network, belief.posterior, _HYPOTHESES)
    first, second = network.members(some)
    weights = belief.posterior.weights[some]
    # a fault nobody wrote down has no check of its own, so nothing can be learned about it by choosing checks
    kept = ((network.cause[first] >= 0) | (first == 0)) & (weights > 1e-30)
    if not kept.any():
        return None
    single, pair = kept & (second == 0), np.flatnonzero(kept & (second > 0))
    by_state = _left_out(belief, first[kept], second[kept], weights[kept])
    by_state += np.bincount(first[single], weights[single], network.states)
    # the single states lie cause by cause; the pairs are sorted to
    states = np.flatnonzero(by_state)
    one, other = network.cause[first[pair]], network.cause[second[pair]]
    of_pair = np.minimum(one, other) * network.causes + np.maximum(one, other)
    order = np.argsort(of_pair, kind="stable")
    pair = pair[order]
    first, second = np.append(states, first[pair]), np.append(np.zeros_like(states), second[pair])
    weights = np.append(by_state[states], weights[pair])
    keys = np.append(network.cause[states], network.causes + of_pair[order])
    groups = Grouped.of((weights / weights.sum()).astype(np.float32), keys)
    members = np.append(states, some[pair])
    fresh = second > 0  # what is not known of the machine
    if network.x is not model.network.x:
        fresh |= (network.x != model.network.x).any(axis=0)[first]
    known = alone(model)
    table = known.rows.take(first, axis=0)
    if belief.again or belief.steps.any():
        fresh[:] = True
    table[fresh] = _rows(network, c, first[fresh], second[fresh], belief.steps)
    signs, silent = table.shape[1] - len(c.noticed), belief.unspoken
    table[:, signs + silent] = _unspoken(table[:, signs + silent], c.noticed[silent])
    for finding, place in belief.again:
        table[:, c.yes_of(finding, place)] = shows_again(told, finding, place).take(members)
    rows = groups.averaged(table)
    as_known = (groups.count == 1) & ~fresh[groups.start]
    alone_states = first[groups.start[as_known]]
    of_known = groups.weights[as_known] @ known.certain.take(alone_states, axis=0)
    of_silent = len(c.kind) - len(c.noticed) + silent
    of_known[of_silent] = groups.weights[as_known] @ known.certain_unspoken[np.ix_(alone_states, silent)]
    others, of_others = rows[~as_known], groups.weights[~as_known]
    comes = groups.weights @ rows
    inner = of_others @ p_log_p(others) - p_log_p(comes)
    inner_no = of_others @ p_log_p(1 - others[:, c.of_checks :]) - p_log_p(1 - comes[c.of_checks :])
    gain = np.maximum(of_known + c.by_candidate(inner, inner_no), 0)
    return Outlook(model, c, members, groups, first[groups.start], second[groups.start], rows, gain)


def _left_out(belief: Belief, first: Ints, second: Ints, weights: Floats) -> Floats:
    """What the hypotheses looked at leave out of each cause, at its likeliest severity, as single states (S,).

    A pair counts as half of each cause.
    """
    network = belief.network
    single = network.blocks(belief.posterior.weights)[0]
    left = (belief.posterior.by_state(network) + single) / 2
    halved = np.where(second > 0, weights / 2, weights)
    left -= np.bincount(first, halved, len(left)) + np.bincount(second, np.where(second > 0, halved, 0.0), len(left))
    of_listed = left[network.pairing]
    cause = network.cause[network.pairing]
    order = np.argsort(of_listed, kind="stable")
    state = np.zeros(network.causes, dtype=np.intp)
    state[cause[order]] = network.listed[order]  # the last one written is the heaviest
    rest = np.bincount(cause, np.maximum(of_listed, 0.0), network.causes)
    out = np.zeros(network.states)
    out[state] = np.where(rest > 1e-9, rest, 0.0)
    return out


def open_candidates(belief: Belief, case: Case, on: Collection[str]) -> Callable[[int], bool]:
    """Whether a candidate, by number, may be proposed.

    Never one already answered, impossible on this machine, or held back by a hold that is `on` (see `holds_on`).
    """
    model = belief.model
    k, c = model.knowledge, candidates(model)
    asked = Asked.of(case)
    clusters = {k.findings[f].cluster or f for f, _ in asked.findings}
    # nobody is sent to see whether it is still so on an engine that must not run
    again = set() if any(k.holds[h].engine_off for h in on) else set(belief.again)
    alive = engine_runs(k, case)
    told = {
        tag
        for epoch in case.history()
        for f in epoch.findings
        if f.status is Status.PRESENT
        for tag in k.findings[f.finding].tells
    }
    shown = {f.finding for e in case.history() for f in e.findings if f.status is Status.PRESENT}
    checked = {c.check for e in case.history() for c in e.checks}

    # who says he rode up to the lake is not asked whether the air has changed
    air_told = case.air is not None or any(k.contexts[c].told_by_air for c in asked.held)
    heat_told = case.air is not None and None not in (case.air.set.temperature_c, case.air.now.temperature_c)

    def is_open(t: int) -> bool:
        record, place = c.ids[t]
        kind = c.kind[t]
        context = k.contexts[record] if kind == "context" else None
        once_more = kind == "finding" and (record, place) in again
        return not (
            (not once_more and (c.cluster[t] in clusters or asked.covers(kind, record, place, context)))
            or (air_told and _told_by_air(k, kind, record, heat_told))
            or not _possible(k, model, case.machine, kind, record, on)
            or (context is not None and not asked.held.isdisjoint(context.moot_beside))
            or (kind == "finding" and not shown.isdisjoint(k.findings[record].moot_beside))
            or (kind in ("check", "question") and not shown.isdisjoint(k.checks[record].moot_beside))
            or (kind == "finding" and not checked.isdisjoint(k.findings[record].moot_after))
            or _presumed(k, kind, record) not in (None, *told)
            or (alive is False and _needs_running(k, kind, record, place))
            or (alive and kind == "finding" and _is_no_question(k.findings[record]))
        )

    return is_open


def rank_steps(
    belief: Belief, case: Case, on: Collection[str], most: int, look: Outlook | None
) -> tuple[NextStep, ...]:
    """The best next steps by expected bits about the cause, per minute, of those that are open."""
    if look is None:
        return ()
    k, c = belief.model.knowledge, look.candidates
    been, seldom = visited(k, case), k.scales.decision.answered_unvisited
    places, at = c.places
    answered = [seldom if p and p not in been and k.places[p].running else 1.0 for p in places]
    rate = look.gain / c.minutes * np.array(answered).take(at)
    is_open = open_candidates(belief, case, on)
    clusters: set[str] = set()
    chosen: list[int] = []
    kinds: dict[str, int] = {}
    limits = k.scales.decision.most_of_kind
    for t in np.argsort(-rate, kind="stable").tolist():
        if len(chosen) == most or rate[t] <= 1e-4:
            break
        if kinds.get(c.kind[t], 0) >= limits.get(c.kind[t], most):
            continue
        if c.cluster[t] in clusters or not is_open(t):
            continue
        clusters.add(c.cluster[t])
        kinds[c.kind[t]] = kinds.get(c.kind[t], 0) + 1
        chosen.append(t)
    return tuple(_step(k, look, t, float(rate[t])) for t in chosen)


def visited(k: Knowledge, case: Case) -> set[str]:
    """Places the rider has been at, as far as the case tells; those tied to no opening are everywhere."""
    told = {p for e in case.history() for f in e.findings for p in f.at} | set(case.visited)
    been = told.union(*(k.places[p].implies_visited for p in told))
    return been | {p.id for p in k.places.values() if not p.in_chart}


#: What a setting moved did that only a running engine shows.
_FELT = frozenset((Effect.BETTER, Effect.WORSE, Effect.OVERSHOT))


def engine_runs(k: Knowledge, case: Case) -> bool | None:
    """Whether the last that was told is of an engine that runs, or of one that hardly does; None if of neither."""
    last = next((e for e in reversed(case.history()) if e.findings), None)
    told = [f for f in last.findings if f.status is not Status.UNKNOWN] if last else []
    present = [k.findings[f.finding] for f in told if f.status is Status.PRESENT]
    under_way = {p.id for p in k.places.values() if p.running and p.in_chart}
    if any(not under_way.isdisjoint(f.at) for f in told if f.status is Status.PRESENT):
        return True
    if any(f.means_ride for f in present):
        return True
    if any(map(_hardly_runs, present)):
        return False
    # "misses" and "idles fine" are said of an engine that runs, and "starts first kick" of one that starts
    said = [(k.findings[f.finding], f.status is Status.DENIED) for f in told]
    if any(under_way.issuperset(f.at) or (denied and f.means_dead) for f, denied in said):
        return True
    # a setting that was moved and felt, or a check at an opening, was of one that ran
    felt = any(t.change and t.effect in _FELT for e in case.history() for t in e.trials)
    return True if felt or any(c.at in under_way for e in case.history() for c in e.checks) else None


def _hardly_runs(sign: Finding) -> bool:
    return sign.means_dead or sign.means_no_ride


def _is_no_question(sign: Finding) -> bool:
    """Whether a sign is none to ask for of an engine that runs."""
    return _hardly_runs(sign) or sign.told_if_ridden


def _told_by_air(k: Knowledge, kind: str, record: str, heat_told: bool) -> bool:
    """Whether a stated change of air answers a question; what the weather did, only where the heat was told."""
    if kind == "context":
        context = k.contexts[record]
        return context.told_by_air and (context.moved is not None or heat_told)
    return record in k.checks and k.checks[record].told_by_air


def _presumed(k: Knowledge, kind: str, record: str) -> str | None:
    """What must have been told for a step to make sense, such as that the engine stops by itself."""
    if kind == "context":
        return None
    return (k.findings if kind == "finding" else k.checks)[record].presumes


def _needs_running(k: Knowledge, kind: str, record: str, place: str | None) -> bool:
    if kind in ("check", "question"):
        return k.checks[record].needs_running
    if kind == "finding" and k.findings[record].needs_running:
        return True
    return place is not None and k.places[place].running and not k.findings[record].seen_standing


def _possible(
    k: Knowledge, model: Model, machine: Machine, kind: str, record: str, on: Collection[str]
) -> bool:
    if kind == "context":
        # nobody turned, or swapped, what such a carburetor has not got
        settings = [s for s in k.contexts[record].told_by if s in k.circuits]
        return not settings or any(s in model.family.circuits for s in settings)
    known = _known_askable(model, machine)
    askable = known.get((kind, record))
    if askable is None:
        sign_or_check = (k.findings if kind == "finding" else k.checks)[record]
        askable = can_be_asked(sign_or_check, as_asked(k.uses, machine), model.family, model.strokes)
        known[kind, record] = askable
    if kind == "finding":
        return askable and k.findings[record].worth_asking
    check = k.checks[record]
    return (
        askable
        and not any(h in on for h in check.held_back_while)
        and not (check.needs_running and any(k.holds[h].engine_off for h in on))
    )


def _known_askable(model: Model, machine: Machine) -> dict[tuple[str, str], bool]:
    """What is known already of such a machine: which signs and checks can be asked of it, by kind and id."""
    memo = model.knowledge.memo
    key = ("askable", model.family.id, model.strokes, facts_of(machine))
    found = memo.get(key)
    if not isinstance(found, dict):
        found = {}
        if len(memo) < MOST_MEMO:
            memo[key] = found
    return found


def _step(k: Knowledge, look: Outlook, t: int, rate: float) -> NextStep:
    c, given = look.candidates, look.given(t)
    record, place = c.ids[t]
    marginal = (given @ look.groups.weights).tolist()
    causes = [look.most_raised(row, p) for row, p in zip(given, marginal, strict=True)]
    raised = [k.causes[c].name.lower() if c else "nothing wrong" for c in causes]
    kind = c.kind[t]
    if kind in ("check", "question"):
        check = k.checks[record]
        names = [o.replace("_", " ") for o in check.outcomes]
        means = [o.means for o in check.outcomes.values()]
        name, do, minutes, tools = check.name, check.do, check.minutes, check.tools
        cautions = check.cautions
    else:
        names = ["yes", "no"]
        means = [f"speaks for {raised[0]}", f"speaks for {raised[1]}"]
        ask = k.findings[record] if kind == "finding" else k.contexts[record]
        name, do, minutes, tools, cautions = ask.name, ask.ask, k.scales.decision.ask_minutes, (), ()
    if place is not None:
        where = k.places[place].name
        name = f"{name} ({where})"
        if kind == "finding" and k.places[place].kind == "band":
            do = f"{where[0].upper()}{where[1:]}: {do}"
    likely = marginal.index(max(marginal))
    split = [name for n, name in enumerate(raised) if n != likely and name != raised[likely]]
    return NextStep.trusted(
        kind=kind,
        id=record,
        at=place,
        name=name,
        do=do,
        minutes=minutes,
        tools=tuple(x for x in tools if x != "none"),
        outcomes=tuple(
            OutcomeMeaning.trusted(outcome=o, means=m, probability=round(p, 4), raises=c)
            for o, m, p, c in zip(names, means, marginal, causes, strict=True)
        ),
        gain_bits=round(float(look.gain[t]), 4),
        gain_per_minute=round(rate, 4),
        why=f"It helps to tell {split[0]} from {raised[likely]}." if split else "It narrows the field.",
        cautions=k.cautions_for(cautions),
    )

