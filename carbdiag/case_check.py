"""Whether a case makes sense with the knowledge: every problem at once, nothing guessed."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import islice

from carbdiag.applies import fit_weight
from carbdiag.case_schema import Case, Epoch, FittedParts, Machine, Trial, Unanswered
from carbdiag.errors import CaseError, Problem, nearest
from carbdiag.family_metering import circuits_of, fitted_parts
from carbdiag.knowledge import Knowledge, nearest_family
from carbdiag.metering_fields import in_field
from carbdiag.records.applies import Applies
from carbdiag.records.circuits import Circuit
from carbdiag.records.families import Family
from carbdiag.terms import REPAIR_EFFECTS, SETTING_EFFECTS, UNKNOWN_FAMILY, Change, Effect
from carbdiag.trials import direction_by_size

#: Problems reported at once; finding the nearest word to each takes time, and nobody reads more.
_MOST_PROBLEMS = 50


def check_case(k: Knowledge, case: Case) -> None:
    """Raise one CaseError that lists the problems of the case, the first fifty if there are more.

    Raises:
        CaseError: unknown ids, places or outcomes; things impossible on this machine; impossible effects.
    """
    problems = tuple(islice(_problems(k, case), _MOST_PROBLEMS))
    if problems:
        raise CaseError(problems)


def _problems(k: Knowledge, case: Case) -> Iterator[Problem]:
    yield from _machine(k, case.machine)
    yield from _contexts(k, case)
    head = "" if not case.epochs else "epochs[{}]."
    for n, epoch in enumerate(case.history()):
        at = head.format(n)
        yield from _findings(k, case.machine, epoch, at)
        yield from _checks(k, case.machine, epoch, at)
        yield from _trials_and_readings(k, case.machine, epoch, at)
    yield from _sizes_follow(case, head)
    for n, skipped in enumerate(case.unanswered):
        yield from _unanswered(k, skipped, f"unanswered[{n}]")
    for n, place in enumerate(case.visited):
        yield from _known(f"visited[{n}]", place, k.places, "place")


def _known(field: str, value: str, allowed: Collection[str], what: str) -> Iterator[Problem]:
    if value not in allowed:
        names = tuple(allowed)
        said = {i: r.name for i, r in allowed.items() if hasattr(r, "name")} if isinstance(allowed, Mapping) else None
        yield Problem(field, f"unknown {what} {value!r}", value, names, nearest(value, names, said))


def _machine(k: Knowledge, machine: Machine) -> Iterator[Problem]:
    if machine.use is not None:
        yield from _known("machine.use", machine.use, k.uses, "use")
    if machine.family == UNKNOWN_FAMILY:
        if machine.parts is not None:
            yield from _parts_of_any(k, machine.parts)
        return
    found = [
        replace(problem, nearest=nearest_family(k, machine.family))
        for problem in _known("machine.family", machine.family, [*k.families, UNKNOWN_FAMILY], "family")
    ]
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


def _parts(family: Family, parts: FittedParts) -> Iterator[Problem]:
    try:
        with in_field("machine.parts"):
            fitted_parts(family, parts)
    except CaseError as error:
        yield from error.problems


def _parts_of_any(k: Knowledge, parts: FittedParts) -> Iterator[Problem]:
    """What the first family that has such parts refuses, where none takes them."""
    having = [f for f in k.families.values() if circuits_of(parts) <= {*f.circuits}]
    refused = [tuple(_parts(f, parts)) for f in having or k.families.values()]
    if all(refused):
        yield from refused[0]


def _contexts(k: Knowledge, case: Case) -> Iterator[Problem]:
    for n, told in enumerate(case.contexts):
        yield from _known(f"contexts[{n}].context", told.context, k.contexts, "context")


def impossible(machine: Machine, applies: Applies, k: Knowledge) -> str:
    """Why a record cannot apply to this machine, or an empty string."""
    if machine.family in k.families and applies.families and machine.family not in applies.families:
        return f"is not possible on a {k.families[machine.family].name.lower()}"
    if machine.strokes is not None and applies.strokes and machine.strokes not in applies.strokes:
        return f"is not possible on a {machine.strokes}-stroke"
    circuits = k.families[machine.family].circuits if machine.family in k.families else ()
    if fit_weight(applies, machine, 1.0, circuits) == 0:
        return "is not possible on the machine described"
    return ""


def _findings(k: Knowledge, machine: Machine, epoch: Epoch, at: str) -> Iterator[Problem]:
    for n, report in enumerate(epoch.findings):
        field = f"{at}findings[{n}]"
        found = list(_known(f"{field}.finding", report.finding, k.findings, "finding"))
        yield from found
        if found:
            continue
        record = k.findings[report.finding]
        why = impossible(machine, record.applies, k)
        if why:
            yield Problem(f"{field}.finding", f"{report.finding} {why}", report.finding)
        for place in report.at:
            yield from _known(f"{field}.at", place, record.at, f"place of {report.finding}")
        if report.cylinders and machine.cylinders == 1:
            yield Problem(f"{field}.cylinders", "the machine has one cylinder", report.cylinders)


def _checks(k: Knowledge, machine: Machine, epoch: Epoch, at: str) -> Iterator[Problem]:
    for n, result in enumerate(epoch.checks):
        field = f"{at}checks[{n}]"
        found = list(_known(f"{field}.check", result.check, k.checks, "check"))
        yield from found
        if found:
            continue
        record = k.checks[result.check]
        yield from _known(f"{field}.outcome", result.outcome, record.outcomes, f"outcome of {result.check}")
        why = impossible(machine, record.applies, k)
        if why:
            yield Problem(f"{field}.check", f"{result.check} {why}", result.check)
        if result.at is not None:
            if record.reads == "causes":
                yield Problem(f"{field}.at", f"{result.check} is not tied to an opening", result.at)
            else:
                yield from _known(
                    f"{field}.at", result.at, [*record.at, *record.weak_at], f"place of {result.check}"
                )


def _trials_and_readings(
    k: Knowledge, machine: Machine, epoch: Epoch, at: str
) -> Iterator[Problem]:
    circuits = k.families[machine.family].circuits if machine.family in k.families else tuple(k.circuits)
    for n, trial in enumerate(epoch.trials):
        field = f"{at}trials[{n}]"
        if trial.do is not None:
            yield from _known(f"{field}.do", trial.do, k.actions, "action")
            if trial.effect not in REPAIR_EFFECTS:
                yield _impossible_effect(field, trial, "a repair", REPAIR_EFFECTS)
        if trial.tried is not None:
            yield from _tried(k, machine, trial, field)
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
            if trial.effect not in SETTING_EFFECTS:
                yield _impossible_effect(field, trial, "a change of setting", SETTING_EFFECTS)
            if trial.change in k.circuits:
                yield from _sizes(k.circuits[trial.change], trial, field)
        if trial.at is not None:
            yield from _known(f"{field}.at", trial.at, k.places, "place")
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    for n, reading in enumerate(epoch.readings):
        yield from _known(f"{at}readings[{n}].at", reading.at, bands, "band")


def _impossible_effect(field: str, trial: Trial, what: str, allowed: Iterable[Effect]) -> Problem:
    return Problem(f"{field}.effect", f"{what} cannot be said to give {trial.effect}", trial.effect, tuple(allowed))


def _tried(k: Knowledge, machine: Machine, trial: Trial, field: str) -> Iterator[Problem]:
    found = list(_known(f"{field}.tried", trial.tried or "", k.temporary_trials, "temporary trial"))
    yield from found
    if found:
        return
    record = k.temporary_trials[trial.tried or ""]
    check = k.checks[record.check]
    why = impossible(machine, check.applies, k)
    if why:
        yield Problem(f"{field}.tried", f"{record.id} {why}", record.id)
    if trial.effect not in record.effects:
        yield _impossible_effect(field, trial, record.name, record.effects)
    if trial.at is not None and check.reads == "causes":
        yield Problem(f"{field}.at", f"{record.id} is not tied to an opening", trial.at)
    elif trial.at is not None:
        yield from _known(f"{field}.at", trial.at, [*check.at, *check.weak_at], f"place of {record.id}")


def _sizes(circuit: Circuit, trial: Trial, field: str) -> Iterator[Problem]:
    """Sizes that say another direction than the trial, or a part whose sizes nobody can read."""
    if trial.from_size is None or trial.to_size is None:
        return
    by_size = direction_by_size(circuit, trial)
    sizes = f"{trial.from_size:g} to {trial.to_size:g}"
    if by_size is None and trial.direction is None:
        message = f"the sizes of {circuit.name.lower()} do not say which way it went: give direction"
        yield Problem(f"{field}.direction", message, sizes, tuple(Change))
    elif by_size is not None and trial.direction is not None and by_size is not trial.direction:
        yield Problem(f"{field}.direction", f"{sizes} is {by_size}, not {trial.direction}", trial.direction, (by_size,))


def _sizes_follow(case: Case, head: str) -> Iterator[Problem]:
    """A part goes on from the size at which it was left."""
    fitted: dict[str, float] = {}
    for e, epoch in enumerate(case.history()):
        for n, trial in enumerate(epoch.trials):
            if trial.change is None or trial.from_size is None or trial.to_size is None:
                continue
            left = fitted.get(trial.change, trial.from_size)
            if left != trial.from_size:
                yield Problem(
                    f"{head.format(e)}trials[{n}].from_size",
                    f"the trial before left the {trial.change.replace('_', ' ')} at {left:g}",
                    f"{trial.from_size:g}",
                    (f"{left:g}",),
                )
            fitted[trial.change] = trial.from_size if trial.put_back else trial.to_size


def steps_of_kind(k: Knowledge, kind: str) -> Collection[str]:
    """The ids that a step of a walk may have, by its kind."""
    by_kind: Mapping[str, Collection[str]] = {
        "check": k.checks,
        "question": k.checks,
        "finding": k.findings,
        "context": k.contexts,
        "repair": k.actions,
        "trial": k.circuits,
        "machine": ("family", "strokes"),
    }
    return by_kind[kind]


def _unanswered(k: Knowledge, skipped: Unanswered, field: str) -> Iterator[Problem]:
    yield from _known(f"{field}.id", skipped.id, steps_of_kind(k, skipped.kind), skipped.kind)
    if skipped.at is not None:
        yield from _known(f"{field}.at", skipped.at, k.places, "place")
