"""Which candidates may be proposed: not answered yet, possible on this machine, of use, and not held back."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from carbdiag.applies import as_asked, can_be_asked
from carbdiag.candidates import candidates
from carbdiag.case_schema import Case, Machine
from carbdiag.casework.believed import Belief
from carbdiag.engine_state import engine_runs, hardly_runs
from carbdiag.knowledge import Knowledge
from carbdiag.model import MOST_MEMO, Model, facts_of
from carbdiag.records.checks import Check
from carbdiag.records.contexts import Context
from carbdiag.records.findings import Finding
from carbdiag.terms import Status


@dataclass(frozen=True)
class Asked:
    """What a case has answered already, or cannot be asked."""

    checks: frozenset[tuple[str, str | None]]
    findings: frozenset[tuple[str, str | None]]
    contexts: frozenset[str]
    held: frozenset[str]  # contexts that hold, or that a deed told tells: "nothing touched" is answered by either
    tried: frozenset[str]  # settings moved, repairs made and checks answered

    @classmethod
    def of(cls, k: Knowledge, case: Case) -> Asked:
        """Read a case; a check or sign told without a place counts as answered everywhere."""
        checks: set[tuple[str, str | None]] = set()
        findings: set[tuple[str, str | None]] = set()
        for epoch in case.history():
            checks |= {(r.check, r.at) for r in epoch.checks}
            for report in epoch.findings:
                findings |= {(report.finding, p) for p in report.at} or {(report.finding, None)}
        skipped = {kind: {(s.id, s.at) for s in case.unanswered if s.kind == kind} for kind in ("finding", "context")}
        checks |= {(s.id, s.at) for s in case.unanswered if s.kind in ("check", "question")}
        done = {t.change or t.do or "" for e in case.history() for t in e.trials}
        told = {c.id for c in k.contexts.values() if not done.isdisjoint(c.told_by)}
        return cls(
            frozenset(checks), frozenset(findings | skipped["finding"]),
            frozenset({c.context for c in case.contexts} | {i for i, _ in skipped["context"]}),
            frozenset(told | {c.context for c in case.contexts if c.status is Status.PRESENT}),
            frozenset(done | {c for c, _ in checks}),
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


def open_candidates(belief: Belief, case: Case, on: Collection[str]) -> Callable[[int], bool]:
    """Whether a candidate, by number, may be proposed.

    Never one already answered, impossible on this machine, or held back by a hold that is `on` (see `holds_on`).
    """
    model = belief.model
    k, c = model.knowledge, candidates(model)
    asked = Asked.of(belief.model.knowledge, case)
    clusters = {k.findings[f].cluster or f for f, _ in asked.findings}
    # nobody is sent to see whether it is still so on an engine that must not run; a drip is seen standing
    off = any(k.holds[h].engine_off for h in on)
    again = {sign for sign in belief.again if not (off and _needs_running(k, "finding", *sign))}
    alive = engine_runs(k, case)
    present = [f for e in case.history() for f in e.findings if f.status is Status.PRESENT]
    shown = {f.finding for f in present}
    told = {tag for sign in shown for tag in k.findings[sign].tells}
    places = {p for f in present for p in f.at or k.findings[f.finding].at}
    beside = shown | asked.held
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
            or (context is not None and not asked.tried.isdisjoint(context.moot_after))
            or (kind == "finding" and not shown.isdisjoint(k.findings[record].moot_beside))
            or (kind in ("check", "question") and not beside.isdisjoint(k.checks[record].moot_beside))
            or (kind in ("check", "question") and _of_other_trouble(k.checks[record], places))
            or (kind == "finding" and not checked.isdisjoint(k.findings[record].moot_after))
            or _presumed(k, kind, record) not in (None, *told)
            or (alive is False and _needs_running(k, kind, record, place))
            or (alive and kind == "finding" and _is_no_question(k.findings[record]))
        )

    return is_open


def _of_other_trouble(check: Check, places: set[str]) -> bool:
    """Whether a check asks of trouble at places where none was told, and some was told elsewhere."""
    return bool(check.told_at and places) and not places & set(check.told_at)


def _is_no_question(sign: Finding) -> bool:
    """Whether a sign is none to ask for of an engine that runs."""
    return hardly_runs(sign) or sign.told_if_ridden


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


def cautions_of_asking(k: Knowledge, kind: str, record: str, place: str | None, on: Collection[str]) -> Iterator[str]:
    """The ids of the cautions with a question: nobody starts an engine that must stay off to find the answer."""
    if any(k.holds[h].engine_off for h in on) and _needs_running(k, kind, record, place):
        yield from (c.id for c in k.cautions.values() if c.asked_while_off)


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
