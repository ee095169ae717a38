"""One kind of machine as quiz items need it: what each cause shows, and what a set of statements makes us believe."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from carbdiag.applies import asked_of_some, can_be_asked, fits
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.case_schema import Case, CheckResult, FindingReport, Machine
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Belief
from carbdiag.cause_tables import cause_tables
from carbdiag.knowledge import Knowledge
from carbdiag.model import Model, Strokes, compile_model, machine_fit
from carbdiag.records.causes import MistakenFor
from carbdiag.records.families import Family
from carbdiag.terms import Status


class Fact(NamedTuple):
    """One thing observed: a finding present or denied, or what a check gave."""

    kind: Literal["finding", "check"]
    record: str
    at: str | None
    value: str  # "present", "denied", or the outcome


@dataclass(frozen=True, eq=False)
class Bench:
    """A family and stroke with the chance of every fact under every cause."""

    k: Knowledge
    model: Model
    facts: tuple[Fact, ...]  # (O,)
    chance: Floats  # (O, C)
    usual: Floats  # (O,) chance of each fact when nobody knows the cause
    row_of: dict[Fact, int]
    signs: Ints  # rows of the findings that are present
    checks: tuple[tuple[str, str | None], ...]  # every check at every place
    check_of: Ints  # (O,) number of the check that a fact is an outcome of, -1 for findings

    @property
    def family(self) -> Family:
        """The family of carburetors."""
        return self.model.family

    @cached_property
    def limited(self) -> frozenset[tuple[str, str]]:
        """Findings and checks that only some machines of this kind can have, by kind and id."""
        findings = {("finding", f.id) for f in self.k.findings.values() if asked_of_some(f)}
        return frozenset(findings | {("check", c.id) for c in self.k.checks.values() if asked_of_some(c)})

    @cached_property
    def mistaken(self) -> tuple[tuple[str, MistakenFor], ...]:
        """Causes and what they are mistaken for, where both are known here and a check tells them apart."""
        checks = {c.id for c in self.k.checks.values() if c.kind == "check"}
        ids = frozenset(self.model.cause_ids)
        return tuple(
            (c, m)
            for c in self.model.cause_ids
            for m in self.k.causes[c].mistaken_for
            if m.cause in ids and m.told_apart_by in checks
        )

    def cause_number(self, cause: str) -> int:
        """Column of a cause."""
        return self.model.cause_ids.index(cause)


def bench(k: Knowledge, family: str, strokes: Strokes) -> Bench:
    """Tabulate one kind of machine, or return what was tabulated before."""
    key = ("quiz bench", family, strokes)
    found = k.memo.get(key)
    if not isinstance(found, Bench):
        found = _tabulate(compile_model(k, family, strokes))
        k.memo[key] = found
    return found


#: Chances are compared with each other and with round limits, so they are held to so many decimals: the last bits of a
#: sum differ from processor to processor, and a quiz must not.
_DECIMALS = 9


def _held(chances: NDArray[Any]) -> Floats:
    return np.asarray(np.round(chances, _DECIMALS), dtype=float)


def _tabulate(model: Model) -> Bench:
    k, network, part = model.knowledge, model.network, model.part
    prior = np.add.reduceat(network.odds.take(part.like.states), part.like.first)
    silent = part.like.by_cause(network.single_silent)
    of_causes = cause_tables(k).chances.take(part.causes, axis=1)
    rows = cause_tables(k).outcomes
    of_mixture = _mixture_outcomes(model)
    facts = [Fact("finding", f, at, said) for f, at in model.row_keys for said in ("present", "denied")]
    chances: list[Floats] = []
    for check in k.checks.values():
        if not fits(check.applies, model.family.id, model.strokes):
            continue
        for outcome in check.outcomes:
            places = (None,) if check.reads == "causes" else check.at
            facts += [Fact("check", check.id, at, outcome) for at in places]
            chances += [
                of_causes[rows[check.id, outcome]] if at is None else of_mixture[check.id, outcome, at]
                for at in places
            ]
    chance = np.empty((len(facts), len(prior)))
    of_findings = chance[: 2 * len(silent)]
    of_findings[::2], of_findings[1::2] = 1 - silent, silent
    if chances:
        np.stack(chances, out=chance[len(of_findings) :])
    chance = _held(chance)
    checks = tuple(dict.fromkeys((f.record, f.at) for f in facts if f.kind == "check"))
    number = {c: n for n, c in enumerate(checks)}
    return Bench(
        k=k,
        model=model,
        facts=tuple(facts),
        chance=chance,
        usual=average(chance, prior),
        row_of={f: n for n, f in enumerate(facts)},
        signs=np.arange(0, len(of_findings), 2),
        checks=checks,
        check_of=np.array([number[f.record, f.at] if f.kind == "check" else -1 for f in facts], dtype=np.intp),
    )


def _mixture_outcomes(model: Model) -> dict[tuple[str, str, str], Floats]:
    """Chance by cause of each outcome of the checks that read the mixture, by check, outcome and place."""
    network, every = model.network, cause_tables(model.knowledge).mixture
    out: dict[tuple[str, str, str], Floats] = {}
    for n, place in enumerate(model.places):
        here = [(c, o) for c, o in every if place in model.knowledge.checks[c].at]
        if here:
            read = network.blur(np.stack([every[key] for key in here]), n).take(network.single_cells[n], axis=1)
            out.update(((c, o, place), row) for (c, o), row in zip(here, model.part.like.by_cause(read), strict=True))
    return out


def average(chance: Floats, weights: Floats) -> Floats:
    """Chance of each fact (O, C) averaged over causes; `@` would wake threads for so little."""
    return _held(np.einsum("oc,c->o", chance, weights / weights.sum()))


def possible(b: Bench, machine: Machine, fact: Fact) -> bool:
    """Whether a fact can be observed on this very machine, of which a stem tells everything."""
    if (fact.kind, fact.record) not in b.limited:
        return True
    record = b.k.findings[fact.record] if fact.kind == "finding" else b.k.checks[fact.record]
    if machine.use is None and (record.applies.uses or record.asked_of.uses):
        return False
    return can_be_asked(record, machine, b.model.family, b.model.strokes)


def step_worth(b: Bench, circuit: str, place: str) -> float:
    """How far one step of a circuit's setting moves the mixture at an opening or situation, as ln(lambda)."""
    moved = b.model.step_x.get(circuit)
    return 0.0 if moved is None else abs(float(moved[b.model.place(place)]))


def outcomes_of(b: Bench, check: tuple[str, str | None]) -> list[int]:
    """Rows of the outcomes of a check at a place."""
    return [int(n) for n in np.flatnonzero(b.check_of == b.checks.index(check))]


def two_way_bits(b: Bench, one: int, two: int) -> Floats:
    """Bits that each check gives about which of two equally likely causes it is, shape (checks,).

    Mutual information of the outcome with a fair choice between the two causes: 0 tells nothing, 1 settles it.
    """
    rows = np.flatnonzero(b.check_of >= 0)
    number = b.check_of[rows]
    size = len(b.checks)
    p, q = (b.chance[rows, c] / np.bincount(number, b.chance[rows, c], size)[number] for c in (one, two))
    mean = (p + q) / 2
    bits = np.bincount(number, (p * np.log2(p / mean) + q * np.log2(q / mean)) / 2, size)
    return np.asarray(np.maximum(bits, 0.0), dtype=float)


def case_of(machine: Machine, facts: tuple[Fact, ...]) -> Case:
    """The facts as a case. Nothing unsaid counts, for a key must follow from what the stem says."""
    return Case.trusted(
        id="quiz",
        machine=machine,
        reporting="interview",
        findings=tuple(
            FindingReport.trusted(finding=f.record, at=(f.at,) if f.at else (), status=Status(f.value))
            for f in facts
            if f.kind == "finding"
        ),
        checks=tuple(
            CheckResult.trusted(check=f.record, outcome=f.value, at=f.at) for f in facts if f.kind == "check"
        ),
    )


def sketch(b: Bench, machine: Machine, facts: tuple[Fact, ...]) -> Floats:
    """Roughly the chance of each cause, (C,): as if one alone were at work, and its signs came one by one.

    It takes a fraction of the time of `believe`, and tells which cause is the rival to tell apart next.
    """
    network, like = b.model.network, b.model.part.like
    by_cause = np.add.reduceat((network.odds * machine_fit(b.model, machine)).take(like.states), like.first)
    by_cause *= np.prod(b.chance[[b.row_of[f] for f in facts]], axis=0)
    return _held(by_cause / by_cause.sum())


@dataclass(frozen=True, eq=False)
class Believed:
    """What a case makes us believe of one kind of machine."""

    belief: Belief
    by_state: Floats  # (S,)
    by_cause: Floats  # (C,) P(cause at work)


def believe(b: Bench, case: Case) -> Believed:
    """Weigh every cause of this kind of machine."""
    belief = assess(b.k, case).beliefs[0]
    network = belief.network
    by_state = belief.posterior.by_state(network)
    listed = network.cause >= 0
    by_cause = _held(np.bincount(network.cause[listed], by_state[listed], len(b.model.cause_ids)))
    return Believed(belief, by_state, by_cause)
