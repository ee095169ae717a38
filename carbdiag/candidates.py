"""Everything that could be asked or done on one kind of machine, stacked, with what each answer tells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.information import Shares
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.knowledge import Knowledge
from carbdiag.model import CheckOutcome, Model, yes_chance
from carbdiag.scales import probability
from carbdiag.terms import Certainty

Kind = Literal["check", "question", "finding", "context"]


@dataclass(frozen=True, eq=False)
class Candidates:
    """Everything that could be asked or done on one kind of machine, stacked: one row an outcome."""

    kind: tuple[Kind, ...]  # (T,)
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


class _Pile:
    """The candidates put on top of each other so far."""

    def __init__(self, start_minutes: float) -> None:
        self.start_minutes = start_minutes
        self.kind: list[Kind] = []
        self.ids: list[tuple[str, str | None]] = []
        self.sizes: list[int] = []
        self.minutes: list[float] = []
        self.cluster: list[str] = []

    def add(self, kind: Kind, record: str, place: str | None, outcomes: int, minutes: float, cluster: str) -> None:
        """Put one more on top."""
        self.kind.append(kind)
        self.ids.append((record, place))
        self.sizes.append(outcomes)
        self.minutes.append(minutes + self.start_minutes)
        self.cluster.append(cluster)


def _of_causes(model: Model, pile: _Pile) -> list[CheckOutcome]:
    """Put the checks that read causes on the pile; their outcomes."""
    k, outcomes = model.knowledge, []
    for check in (c for c in k.checks.values() if c.reads == "causes"):
        cost = check.minutes + hazard_minutes(k, check.cautions)
        pile.add(check.kind, check.id, None, len(check.outcomes), cost, check.id)
        outcomes += [model.outcomes[check.id, o] for o in check.outcomes]
    return outcomes


def _of_mixture(model: Model, pile: _Pile) -> list[tuple[int, Floats]]:
    """Put the checks that read the mixture on the pile, by place; the place and table of each outcome."""
    k, tables = model.knowledge, []
    for check in (c for c in k.checks.values() if c.reads == "mixture"):
        cost = check.minutes + hazard_minutes(k, check.cautions)
        for place in check.at:
            pile.add(check.kind, check.id, place, len(check.outcomes), cost, check.id)
            for o in check.outcomes:
                table = model.outcomes[check.id, o].table
                assert table is not None
                tables.append((model.place(place), model.network.blur(table, model.place(place))))
    return tables


def _stack(model: Model) -> Candidates:
    k, network = model.knowledge, model.network
    decision = k.scales.decision
    pile = _Pile(decision.start_minutes)
    outcomes, tables = _of_causes(model, pile), _of_mixture(model, pile)
    start = np.concatenate([[0], np.cumsum(pile.sizes)[:-1]]).astype(np.intp)
    contexts = []
    for context in k.contexts.values():
        pile.add("context", context.id, None, 2, decision.ask_minutes, context.id)
        told = model.told[context.id]
        contexts.append(yes_chance(k, context, float(told.max())) * told)
    for finding, place in model.row_keys:
        record = k.findings[finding]
        cost = (record.minutes or decision.ask_minutes) + hazard_minutes(k, record.cautions)
        pile.add("finding", finding, place, 2, cost, record.cluster or finding)
        if record.answerable is not None:  # what few can tell costs its minutes again and again until one can
            pile.minutes[-1] /= probability(k, record.answerable)
    return Candidates(
        kind=tuple(pile.kind),
        ids=tuple(pile.ids),
        start=start,
        minutes=np.array(pile.minutes),
        cluster=tuple(pile.cluster),
        speaks=_by_state([o.speaks for o in outcomes], model, np.int8),
        values=_by_state([o.values for o in outcomes], model, np.float32),
        otherwise=np.array([o.otherwise for o in outcomes], dtype=np.float32),
        tables=np.array([t for _, t in tables], dtype=np.float32).reshape(len(tables), network.lattice.size),
        table_place=np.array([place for place, _ in tables], dtype=np.intp),
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
