"""A case made ready to be read: what was tried for a moment becomes a check; contradictions are softened, and told.

A circumstance that a trial tells is told too. Statements of one epoch that contradict each other are both kept, each
one word less certain, and the notice says which two they are. The same statement told twice counts once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from carbdiag.case_schema import Case, CheckResult, ContextReport, Epoch, FindingReport
from carbdiag.knowledge import Knowledge
from carbdiag.terms import Certainty, Status
from carbdiag.trials import direction_of, moved_into_trouble

_Told = TypeVar("_Told", FindingReport, CheckResult)
Key = tuple[str, str]  # what a statement is about: record and place
_LESS = {Certainty.SURE: Certainty.PROBABLY, Certainty.PROBABLY: Certainty.MAYBE, Certainty.MAYBE: Certainty.MAYBE}


@dataclass(frozen=True)
class Settled:
    """A case without contradictions beyond those its notices name, and without temporary trials."""

    case: Case
    notices: tuple[str, ...]


def settle(k: Knowledge, case: Case) -> Settled:
    """Make a checked case ready to be read; one that needs nothing is returned as it is."""
    notices: list[str] = list(_contexts(k, case.contexts))
    implied = tuple(_told_by_trials(k, case))
    if implied:
        case = case.model_copy(update={"contexts": (*case.contexts, *implied)})
    epochs: list[Epoch] = []
    changed = False
    for epoch in case.history():
        for part in _without_temporary(k, epoch):
            findings, of_findings = _soften(part.findings, _finding_key, lambda r: r.status.value)
            checks, of_checks = _soften(part.checks, lambda r: (r.check, r.at or ""), lambda r: r.outcome)
            notices += [_notice(k, record, place, says) for (record, place), says in (*of_findings, *of_checks)]
            same = part is epoch and findings == part.findings and checks == part.checks
            changed = changed or not same
            epochs.append(part if same else part.model_copy(update={"findings": findings, "checks": checks}))
    if changed:
        nothing: dict[str, object] = dict.fromkeys(("findings", "checks", "readings", "trials"), ())
        case = case.model_copy(update={**nothing, "epochs": tuple(epochs)})
    return Settled(case, tuple(notices))


def _told_by_trials(k: Knowledge, case: Case) -> Iterator[ContextReport]:
    """The circumstances that a setting moved into the trouble tells, where nothing is said of them."""
    moved = {t.change: direction_of(k.circuits[t.change], t) for t in moved_into_trouble(case)[-1:] if t.change}
    if not moved:
        return
    said = {c.context for c in case.contexts}
    for context in k.contexts.values():
        tells = moved.keys() & {*context.told_by}
        if context.told_by_move:  # a main made larger is none made smaller
            tells &= {c for c, way in moved.items() if way is not None and context.told_by_move.get(c) == way}
        if context.id not in said and tells:
            yield ContextReport.trusted(context=context.id)


def _without_temporary(k: Knowledge, epoch: Epoch) -> Iterator[Epoch]:
    """The epoch, cut before every trial that lasted for a moment only; such a trial is an observation."""
    start = 0
    now = epoch
    for n, trial in enumerate(epoch.trials):
        if trial.tried is None:
            continue
        kept = epoch.trials[start:n]
        record = k.temporary_trials[trial.tried]
        result = CheckResult.trusted(check=record.check, outcome=record.effects[trial.effect], at=trial.at)
        if kept:
            yield now.model_copy(update={"trials": kept})
            now = Epoch()
        now = now.model_copy(update={"checks": (*now.checks, result)})
        start = n + 1
    yield now if now is epoch else now.model_copy(update={"trials": epoch.trials[start:]})


def _finding_key(report: FindingReport) -> tuple[str, str]:
    """What must agree: a sign at one place, or told without any; several places may differ."""
    if report.status is Status.UNKNOWN or len(report.at) > 1:
        return "", ""
    return report.finding, report.at[0] if report.at else ""


def _soften(
    told: Sequence[_Told], key_of: Callable[[_Told], Key], says_of: Callable[[_Told], str]
) -> tuple[tuple[_Told, ...], list[tuple[Key, tuple[str, ...]]]]:
    """The statements, each told once, those that contradict each other less certain; and which those are."""
    says: dict[Key, list[str]] = {}
    kept = [t for n, t in enumerate(told) if t not in told[:n]]
    for t in kept:
        if (key := key_of(t))[0]:
            says.setdefault(key, []).append(says_of(t))
    against = {key: tuple(dict.fromkeys(words)) for key, words in says.items() if len(set(words)) > 1}
    softened = tuple(
        t.model_copy(update={"certainty": _LESS[t.certainty]}) if key_of(t) in against else t for t in kept
    )
    return softened, list(against.items())


def _notice(k: Knowledge, record: str, place: str, says: tuple[str, ...]) -> str:
    name = k.findings[record].name if record in k.findings else k.checks[record].name
    where = f" ({k.places[place].name})" if place else ""
    both = " and ".join(w.replace("_", " ") for w in says)
    return f"Two answers contradict each other: {name}{where} is told as {both}. Both are kept, each less certain."


def _contexts(k: Knowledge, told: Iterable[ContextReport]) -> Iterator[str]:
    for context, says in context_statuses(told).items():
        if len(says) > 1:
            yield _notice_of_context(k, context)


def context_statuses(told: Iterable[ContextReport]) -> dict[str, tuple[Status, ...]]:
    """What was said of each circumstance, each word once; two words are a contradiction."""
    out: dict[str, tuple[Status, ...]] = {}
    for report in told:
        if report.status is not Status.UNKNOWN:
            out[report.context] = tuple(dict.fromkeys((*out.get(report.context, ()), report.status)))
    return out


def _notice_of_context(k: Knowledge, context: str) -> str:
    name = k.contexts[context].name
    return f"Two answers contradict each other: {name} is told as so and as not so. Both are kept, each less certain."
