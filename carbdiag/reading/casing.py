"""A reading as a case, alone or beside what a case already states."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice
from typing import TypeVar

from carbdiag import schema
from carbdiag.reading.reader import known_machine
from carbdiag.reading_schema import TextReading

_T = TypeVar("_T")
#: The most of each kind that a case takes from a post, so that all of them fit beside each other.
_MOST = {"contexts": 60, "findings": 150, "checks": 80, "trials": 40}


def case_of(reading: TextReading) -> schema.Case:
    """The statements of a reading as a case."""
    return beside(reading, schema.Case(id="post"))


def beside(reading: TextReading, stated: schema.Case) -> schema.Case:
    """A case with the statements of a post added; what the case states itself is never overruled.

    They join the last epoch of a case that has several.
    """
    machine = known_machine(stated.machine, reading.facts)
    last = stated.history()[-1]
    contexts = {c.context for c in stated.contexts}
    findings = {f.finding for f in last.findings}
    checks = {c.check for c in last.checks}
    trials = {(t.do, t.change) for t in last.trials}
    one = machine.cylinders == 1
    epoch = last.model_copy(
        update={
            "findings": _joined(
                "findings",
                last.findings,
                (
                    schema.FindingReport(
                        finding=f.finding,
                        at=f.at,
                        status=f.status,
                        certainty=f.certainty,
                        cylinders=None if one else f.cylinders,
                    )
                    for f in reading.findings
                    if f.finding not in findings
                ),
            ),
            "checks": _joined(
                "checks",
                last.checks,
                (
                    schema.CheckResult(check=c.check, outcome=c.outcome, at=c.at, certainty=c.certainty)
                    for c in reading.checks
                    if c.check not in checks
                ),
            ),
            "trials": _joined(
                "trials",
                last.trials,
                (
                    schema.Trial(do=t.do, change=t.change, direction=t.direction, effect=t.effect)
                    for t in reading.trials
                    if (t.do, t.change) not in trials
                ),
            ),
        }
    )
    told = _joined(
        "contexts",
        stated.contexts,
        (
            schema.ContextReport(context=c.context, status=c.status)
            for c in reading.contexts
            if c.context not in contexts
        ),
    )
    changed = {"machine": machine, "contexts": told, "air": stated.air or reading.air}
    if stated.epochs:
        return stated.model_copy(update={**changed, "epochs": (*stated.epochs[:-1], epoch)})
    parts = {n: getattr(epoch, n) for n in ("findings", "checks", "trials")}
    return stated.model_copy(update={**changed, **parts})


def _joined(kind: str, stated: tuple[_T, ...], read: Iterable[_T]) -> tuple[_T, ...]:
    room = max(_MOST[kind] - len(stated), 0)
    return (*stated, *islice(read, room))
