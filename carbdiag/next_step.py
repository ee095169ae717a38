"""Which check, question or observation to do next: expected gain per minute, hazards counted as minutes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from carbdiag import schema
from carbdiag.belief.information import merge
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import leading
from carbdiag.casework import Belief
from carbdiag.knowledge import Knowledge
from carbdiag.model import Model, fit_weight, yes_chance
from carbdiag.terms import Certainty, Status

#: How many leading hypotheses the ranking looks at; the rest changes the order of steps by less than its noise.
_HYPOTHESES = 160
#: Minutes every step costs before it starts: reading it, walking to the machine.
_START_MINUTES = 0.5
_ASK_MINUTES = 0.5


@dataclass(frozen=True, eq=False)
class Candidates:
    """Everything that could be asked or done on one kind of machine, stacked: one row an outcome."""

    kind: tuple[Literal["check", "question", "finding", "context"], ...]  # (T,)
    ids: tuple[tuple[str, str | None], ...]  # (T,) record, place
    start: Ints  # (T,) first outcome row of each candidate
    minutes: Floats  # (T,) with hazards
    cluster: tuple[str, ...]  # (T,) of near-duplicates only one is proposed
    # outcome rows
    speaks: Floats  # (C, S) for checks that read causes
    values: Floats  # (C, S)
    otherwise: Floats  # (C,)
    tables: Floats  # (M, N) for checks that read the mixture
    table_place: Ints  # (M,)
    context_yes: Floats  # (X, S)
    finding_rows: Ints  # (F,)


def candidates(model: Model) -> Candidates:
    """Stack every candidate of a model, or return what was stacked before."""
    key = ("candidates", model.family.id, model.strokes)
    found = model.knowledge.memo.get(key)
    if not isinstance(found, Candidates):
        found = _stack(model)
        model.knowledge.memo[key] = found
    return found


def _hazard_minutes(k: Knowledge, cautions: tuple[str, ...]) -> float:
    dread = k.scales.decision.hazard_minutes
    return float(sum(dread.get(c, 0.0) for c in cautions))


def _stack(model: Model) -> Candidates:
    k, network = model.knowledge, model.network
    kind: list[Literal["check", "question", "finding", "context"]] = []
    ids: list[tuple[str, str | None]] = []
    sizes: list[int] = []
    minutes: list[float] = []
    cluster: list[str] = []
    speaks, values, otherwise, tables, table_place = [], [], [], [], []

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
        minutes.append(cost + _START_MINUTES)
        cluster.append(group)

    checks = list(k.checks.values())
    for check in (c for c in checks if c.reads == "causes"):
        cost = check.minutes + _hazard_minutes(k, check.cautions)
        add(check.kind, check.id, None, len(check.outcomes), cost, check.id)
        for o in check.outcomes:
            outcome = model.outcomes[check.id, o]
            speaks.append(outcome.speaks)
            values.append(outcome.values)
            otherwise.append(outcome.otherwise)
    for check in (c for c in checks if c.reads == "mixture"):
        cost = check.minutes + _hazard_minutes(k, check.cautions)
        for place in check.at:
            add(check.kind, check.id, place, len(check.outcomes), cost, check.id)
            for o in check.outcomes:
                table = model.outcomes[check.id, o].table
                assert table is not None
                tables.append(network.blur(table))
                table_place.append(model.place(place))
    contexts = []
    for context in k.contexts.values():
        add("context", context.id, None, 2, _ASK_MINUTES, context.id)
        told = model.told[context.id]
        contexts.append(yes_chance(k, context, float(told.max())) * told)
    rows = []
    for (finding, place), row in model.rows.items():
        add("finding", finding, place, 2, _ASK_MINUTES, k.findings[finding].cluster or finding)
        rows.append(row)
    start = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.intp)
    return Candidates(
        kind=tuple(kind),
        ids=tuple(ids),
        start=start,
        minutes=np.array(minutes),
        cluster=tuple(cluster),
        speaks=np.array(speaks),
        values=np.array(values),
        otherwise=np.array(otherwise),
        tables=np.array(tables).reshape(len(tables), network.lattice.size),
        table_place=np.array(table_place, dtype=np.intp),
        context_yes=np.array(contexts).reshape(len(contexts), len(model.states)),
        finding_rows=np.array(rows, dtype=np.intp),
    )


def _outcome_table(belief: Belief, c: Candidates, some: Ints) -> Floats:
    """P(outcome | hypothesis) for every outcome row, shape (rows, K)."""
    network = belief.network
    first, second = network.first[some], network.second[some]
    spoken = c.speaks[:, first] + c.speaks[:, second]
    by_cause = np.where(
        spoken > 0,
        (c.values[:, first] + c.values[:, second]) / np.maximum(spoken, 1.0),
        c.otherwise[:, None],
    )
    x = network.x_index[:, some]
    by_mixture = np.take_along_axis(c.tables, x[c.table_place], axis=1)
    yes = np.minimum(c.context_yes[:, first] * c.context_yes[:, second] / c.context_yes[:, :1], 0.95)
    rows = c.finding_rows
    silent = np.take_along_axis(network.base_mean[rows], x[network.signs.place[rows]], axis=1)
    silent = silent * network.signs.silent_links[rows][:, first] * network.signs.silent_links[rows][:, second]
    error = belief.model.knowledge.scales.certainty[Certainty.SURE]
    said = error + (1 - 2 * error) * (1 - silent)
    return np.concatenate([by_cause, by_mixture, _paired(yes), _paired(said)])


def _paired(yes: Floats) -> Floats:
    """Rows yes, no, yes, no, ... from rows of yes."""
    return np.stack([yes, 1 - yes], axis=1).reshape(2 * len(yes), yes.shape[1])


@dataclass(frozen=True)
class Asked:
    """What a case has answered already, or cannot be asked."""

    checks: frozenset[tuple[str, str | None]]
    findings: frozenset[tuple[str, str | None]]
    contexts: frozenset[str]

    @classmethod
    def of(cls, case: schema.Case) -> Asked:
        """Read a case; a check or sign told without a place counts as answered everywhere."""
        checks: set[tuple[str, str | None]] = set()
        findings: set[tuple[str, str | None]] = set()
        for epoch in case.history():
            checks |= {(r.check, r.at) for r in epoch.checks}
            for report in epoch.findings:
                findings |= {(report.finding, p) for p in report.at} or {(report.finding, None)}
        return cls(
            frozenset(checks), frozenset(findings), frozenset(c.context for c in case.contexts)
        )

    def covers(self, kind: str, record: str, place: str | None) -> bool:
        """Whether this was answered already."""
        if kind == "context":
            return record in self.contexts
        said = self.findings if kind == "finding" else self.checks
        return (record, place) in said or (record, None) in said or (place is None and any(r == record for r, _ in said))


def holds_on(k: Knowledge, case: schema.Case, lean: dict[str, float], causes: dict[str, float]) -> dict[str, str]:
    """The holds that are on in the present belief, with the reason."""
    present = {
        f.finding for e in case.history() for f in e.findings if f.status is Status.PRESENT
    }
    out = {}
    for hold in k.holds.values():
        when = hold.when
        if (
            any(lean.get(p, 0.0) > when.more_than for p in when.lean_at)
            or any(f in present for f in when.findings)
            or any(causes.get(c, 0.0) > when.more_than for c in when.causes)
        ):
            out[hold.id] = hold.why
    return out


def rank_steps(
    belief: Belief,
    case: schema.Case,
    lean: dict[str, float],
    cause_probability: dict[str, float],
    most: int,
) -> tuple[schema.NextStep, ...]:
    """The best next steps by expected bits about the cause, per minute.

    Never one already answered, impossible on this machine, or held back in the present belief.
    """
    model, network = belief.model, belief.network
    k = model.knowledge
    c = candidates(model)
    some = leading(belief.posterior, _HYPOTHESES)
    weights = belief.posterior.weights[some]
    weights = weights / weights.sum()
    a, b = network.cause[network.first[some]], network.cause[network.second[some]]
    b = np.where(network.second[some] > 0, b, -1)
    # unlisted faults are told apart by their state, so that learning where they sit counts
    a = np.where(a < 0, -1 - network.first[some], a)
    keys = a * 100_000 + b
    table = _outcome_table(belief, c, some)
    merged, given = merge(weights, keys, table)
    marginal = given @ merged
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = np.where(given > 0, given * np.log2(given), 0.0) @ merged
        outer = np.where(marginal > 0, marginal * np.log2(marginal), 0.0)
    gain = np.maximum(np.add.reduceat(inner - outer, c.start), 0.0)
    rate = gain / c.minutes
    asked = Asked.of(case)
    on = holds_on(k, case, lean, cause_probability)
    chosen: list[int] = []
    clusters: set[str] = set()
    for t in np.argsort(-rate, kind="stable"):
        record, place = c.ids[t]
        if len(chosen) == most or rate[t] <= 1e-4:
            break
        if c.cluster[t] in clusters or asked.covers(c.kind[t], record, place):
            continue
        if not _possible(k, model, case.machine, c.kind[t], record, on):
            continue
        clusters.add(c.cluster[t])
        chosen.append(int(t))
    index = _Named(model, network, some, keys)
    return tuple(_step(k, c, t, gain[t], rate[t], marginal, given, merged, index) for t in chosen)


def _possible(
    k: Knowledge, model: Model, machine: schema.Machine, kind: str, record: str, on: dict[str, str]
) -> bool:
    if kind == "context":
        return True
    if kind == "finding":
        return fit_weight(k.findings[record].applies, machine, 1.0) > 0
    check = k.checks[record]
    applies = check.applies
    return (
        (not applies.families or model.family.id in applies.families)
        and (not applies.strokes or model.strokes in applies.strokes)
        and fit_weight(applies, machine, 1.0) > 0
        and not any(h in on for h in check.held_back_while)
    )


class _Named:
    """Names of the merged hypotheses, for the sentence that says what a step tells apart."""

    def __init__(self, model: Model, network: Network, some: Ints, keys: Ints) -> None:
        _, where = np.unique(keys, return_index=True)
        self.model = model
        self.first = network.first[some[where]]

    def name(self, m: int) -> str:
        state = self.model.states[int(self.first[m])]
        if state.cause is not None:
            return self.model.knowledge.causes[state.cause].name.lower()
        if state.circuit is not None:
            return f"an unlisted fault of the {self.model.knowledge.circuits[state.circuit].name.lower()}"
        return "nothing wrong"


def _rows(c: Candidates, t: int, total: int) -> range:
    end = int(c.start[t + 1]) if t + 1 < len(c.start) else total
    return range(int(c.start[t]), end)


def _step(
    k: Knowledge,
    c: Candidates,
    t: int,
    gain: float,
    rate: float,
    marginal: Floats,
    given: Floats,
    merged: Floats,
    named: _Named,
) -> schema.NextStep:
    record, place = c.ids[t]
    rows = _rows(c, t, len(marginal))
    raised = [_most_raised(given[r], marginal[r], merged, named) for r in rows]
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
        name, do, minutes, tools, cautions = ask.name, ask.ask, _ASK_MINUTES, (), ()
    if place is not None:
        where = k.places[place].name
        name = f"{name} ({where})"
        if kind == "finding" and k.places[place].kind == "band":
            do = f"{do} ({where[0].upper()}{where[1:]}.)"
    likely = max(rows, key=lambda r: marginal[r])
    split = [raised[n] for n, r in enumerate(rows) if r != likely][:1] + [raised[rows.index(likely)]]
    return schema.NextStep.trusted(
        kind=kind,
        id=record,
        at=place,
        name=name,
        do=do,
        minutes=minutes,
        tools=tuple(x for x in tools if x != "none"),
        outcomes=tuple(
            schema.OutcomeMeaning.trusted(outcome=o, means=m, probability=round(float(marginal[r]), 4))
            for o, m, r in zip(names, means, rows, strict=True)
        ),
        gain_bits=round(float(gain), 4),
        gain_per_minute=round(float(rate), 4),
        why=f"It helps to tell {split[0]} from {split[-1]}." if split[0] != split[-1] else "It narrows the field.",
        cautions=k.cautions_for(cautions),
    )


def _most_raised(given: Floats, marginal: float, merged: Floats, named: _Named) -> str:
    """The hypothesis whose probability an outcome raises most."""
    return named.name(int(np.argmax(merged * (given / max(marginal, 1e-12) - 1))))

