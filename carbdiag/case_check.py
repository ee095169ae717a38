"""Whether a case makes sense with the knowledge: every problem at once, nothing guessed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice

from carbdiag import schema
from carbdiag.errors import CaseError, OutOfRangeError, Problem, nearest
from carbdiag.family_metering import fitted_parts
from carbdiag.knowledge import Knowledge
from carbdiag.model import fit_weight
from carbdiag.terms import UNKNOWN_FAMILY, Status

#: Problems reported at once; finding the nearest word to each takes time, and nobody reads more.
_MOST_PROBLEMS = 50


def check_case(k: Knowledge, case: schema.Case) -> None:
    """Raise one CaseError that lists the problems of the case, the first fifty if there are more.

    Raises:
        CaseError: unknown ids, places or outcomes; things impossible on this machine; contradictory statements.
    """
    problems = tuple(islice(_problems(k, case), _MOST_PROBLEMS))
    if problems:
        raise CaseError(problems)


def _problems(k: Knowledge, case: schema.Case) -> Iterator[Problem]:
    yield from _machine(k, case.machine)
    yield from _contexts(k, case)
    head = "" if not case.epochs else "epochs[{}]."
    for n, epoch in enumerate(case.history()):
        at = head.format(n)
        yield from _findings(k, case.machine, epoch, at)
        yield from _checks(k, case.machine, epoch, at)
        yield from _trials_and_readings(k, case.machine, epoch, at)
    for n, place in enumerate(case.visited):
        yield from _known(f"visited[{n}]", place, k.places, "place")


def _known(field: str, value: str, allowed: Iterable[str], what: str) -> Iterator[Problem]:
    names = tuple(allowed)
    if value not in names:
        yield Problem(field, f"unknown {what} {value!r}", value, names, nearest(value, names))


def _machine(k: Knowledge, machine: schema.Machine) -> Iterator[Problem]:
    if machine.family == UNKNOWN_FAMILY:
        return
    found = list(_known("machine.family", machine.family, [*k.families, UNKNOWN_FAMILY], "family"))
    yield from found
    if not found and machine.strokes is not None:
        family = k.families[machine.family]
        if machine.strokes not in family.strokes:
            yield Problem(
                "machine.strokes",
                f"a {family.name.lower()} is not known on a {machine.strokes}-stroke here",
                str(machine.strokes),
                tuple(str(s) for s in family.strokes),
            )
    if not found and machine.parts is not None:
        yield from _parts(k.families[machine.family], machine.parts)


def _parts(family: schema.Family, parts: schema.FittedParts) -> Iterator[Problem]:
    try:
        fitted_parts(family, parts)
    except OutOfRangeError as error:
        yield Problem("machine.parts", str(error), f"{error.value:g}")
    except CaseError as error:
        for problem in error.problems:
            yield Problem(
                f"machine.parts.{problem.field}", problem.message, problem.value, problem.allowed, problem.nearest
            )


def _contexts(k: Knowledge, case: schema.Case) -> Iterator[Problem]:
    seen: dict[str, Status] = {}
    for n, told in enumerate(case.contexts):
        yield from _known(f"contexts[{n}].context", told.context, k.contexts, "context")
        before = seen.setdefault(told.context, told.status)
        if {before, told.status} == {Status.PRESENT, Status.DENIED}:
            yield Problem(f"contexts[{n}].status", f"{told.context} is said to be so and not so", told.status)


def _impossible(machine: schema.Machine, applies: schema.Applies, k: Knowledge) -> str:
    """Why a record cannot apply to this machine, or an empty string."""
    if machine.family in k.families and applies.families and machine.family not in applies.families:
        return f"is not possible on a {k.families[machine.family].name.lower()}"
    if machine.strokes is not None and applies.strokes and machine.strokes not in applies.strokes:
        return f"is not possible on a {machine.strokes}-stroke"
    if fit_weight(applies, machine, 1.0) == 0:
        return "is not possible on the machine described"
    return ""


def _findings(k: Knowledge, machine: schema.Machine, epoch: schema.Epoch, at: str) -> Iterator[Problem]:
    seen: dict[tuple[str, str], Status] = {}
    for n, report in enumerate(epoch.findings):
        field = f"{at}findings[{n}]"
        found = list(_known(f"{field}.finding", report.finding, k.findings, "finding"))
        yield from found
        if found:
            continue
        record = k.findings[report.finding]
        why = _impossible(machine, record.applies, k)
        if why:
            yield Problem(f"{field}.finding", f"{report.finding} {why}", report.finding)
        for place in report.at:
            yield from _known(f"{field}.at", place, record.at, f"place of {report.finding}")
        if report.cylinders and machine.cylinders == 1:
            yield Problem(f"{field}.cylinders", "the machine has one cylinder", report.cylinders)
        if report.status is Status.UNKNOWN:
            continue
        for place in report.at if len(report.at) == 1 else ("",) if not report.at else ():
            before = seen.setdefault((report.finding, place), report.status)
            if before is not report.status:
                where = f" at {place}" if place else ""
                yield Problem(
                    f"{field}.status", f"{report.finding}{where} is said to be present and denied", report.status
                )


def _checks(k: Knowledge, machine: schema.Machine, epoch: schema.Epoch, at: str) -> Iterator[Problem]:
    seen: dict[tuple[str, str | None], str] = {}
    for n, result in enumerate(epoch.checks):
        field = f"{at}checks[{n}]"
        found = list(_known(f"{field}.check", result.check, k.checks, "check"))
        yield from found
        if found:
            continue
        record = k.checks[result.check]
        yield from _known(f"{field}.outcome", result.outcome, record.outcomes, f"outcome of {result.check}")
        why = _impossible(machine, record.applies, k)
        if why:
            yield Problem(f"{field}.check", f"{result.check} {why}", result.check)
        if result.at is not None:
            if record.reads == "causes":
                yield Problem(f"{field}.at", f"{result.check} is not tied to an opening", result.at)
            else:
                yield from _known(
                    f"{field}.at", result.at, [*record.at, *record.weak_at], f"place of {result.check}"
                )
        before = seen.setdefault((result.check, result.at), result.outcome)
        if before != result.outcome:
            yield Problem(
                f"{field}.outcome", f"{result.check} is said to give {before} and {result.outcome}", result.outcome
            )


def _trials_and_readings(
    k: Knowledge, machine: schema.Machine, epoch: schema.Epoch, at: str
) -> Iterator[Problem]:
    circuits = k.families[machine.family].circuits if machine.family in k.families else tuple(k.circuits)
    for n, trial in enumerate(epoch.trials):
        field = f"{at}trials[{n}]"
        if trial.do is not None:
            yield from _known(f"{field}.do", trial.do, k.actions, "action")
        if trial.change is not None:
            if trial.change in k.circuits and trial.change not in circuits:
                yield Problem(
                    f"{field}.change",
                    f"a {k.families[machine.family].name.lower()} has no {k.circuits[trial.change].name.lower()}",
                    trial.change,
                    circuits,
                )
            else:
                yield from _known(f"{field}.change", trial.change, circuits, "circuit")
        if trial.at is not None:
            yield from _known(f"{field}.at", trial.at, k.places, "place")
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    for n, reading in enumerate(epoch.readings):
        yield from _known(f"{at}readings[{n}].at", reading.at, bands, "band")
