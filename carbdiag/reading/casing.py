"""A reading as a case, alone or beside what a case already states."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice
from typing import TypeVar

from carbdiag.case_schema import (
    Case,
    CheckResult,
    ContextReport,
    Epoch,
    FindingReport,
    Machine,
    Reading,
    Trial,
    Unanswered,
)
from carbdiag.reading.facts import known_machine
from carbdiag.reading_schema import CheckRead, FindingRead, GaugeRead, TextReading, TrialRead

_T = TypeVar("_T")
_Read = TypeVar("_Read", FindingRead, CheckRead, GaugeRead, TrialRead)
#: The most of each kind that a case takes from a post, so that all of them fit beside each other.
_MOST = {"contexts": 60, "findings": 150, "checks": 80, "readings": 20, "trials": 40}
#: The most epochs of a case.
_MOST_EPOCHS = 40


def case_of(reading: TextReading) -> Case:
    """The statements of a reading as a case, to diagnose, or to put right by hand first.

    Where the post tells stretches of time apart they become epochs. What was set aside (`set_aside`) is left out.
    """
    return beside(reading, Case(id="post"))


def beside(reading: TextReading, stated: Case) -> Case:
    """A case with the statements of a post added; what the case states itself is never overruled.

    They join the last epoch of a case that has several. What the post puts in order in time becomes epochs of its own
    before that one.
    """
    machine = known_machine(stated.machine, reading.facts)
    *earlier, last = (_epoch(reading, n, machine) for n in range(reading.epochs))
    *told, now = stated.history()
    epoch = _both(now, last)
    contexts = {c.context for c in stated.contexts}
    read = (
        ContextReport(context=c.context, status=c.status)
        for c in reading.contexts
        if c.context not in contexts
    )
    circumstances = _joined("contexts", stated.contexts, read)
    skipped = {s.id for s in stated.unanswered}
    spared = (Unanswered(kind="check", id=c, asked=False) for c in reading.told_as_numbers if c not in skipped)
    changed = {
        "machine": machine,
        "contexts": circumstances,
        "air": stated.air or reading.air,
        "unanswered": (*stated.unanswered, *spared),
    }
    if stated.epochs or earlier:
        nothing: dict[str, object] = dict.fromkeys(("findings", "checks", "readings", "trials"), ())
        room = max(_MOST_EPOCHS - len(told) - 1, 0)
        epochs = (*told, *earlier[max(len(earlier) - room, 0) :], epoch)
        return stated.model_copy(update={**changed, **nothing, "epochs": epochs})
    parts = {n: getattr(epoch, n) for n in ("findings", "checks", "readings", "trials")}
    return stated.model_copy(update={**changed, **parts})


def _epoch(reading: TextReading, number: int, machine: Machine) -> Epoch:
    """What a post tells of one stretch of time."""
    one = machine.cylinders == 1
    sized = _told_in_sizes(reading.trials)
    return Epoch(
        findings=tuple(
            FindingReport(
                finding=f.finding,
                at=f.at,
                status=f.status,
                certainty=f.certainty,
                cylinders=None if one else f.cylinders,
            )
            for f in _of(number, reading.findings, "findings", reading.epochs)
        ),
        checks=tuple(
            CheckResult(check=c.check, outcome=c.outcome, at=c.at, certainty=c.certainty)
            for c in _of(number, reading.checks, "checks", reading.epochs)
        ),
        readings=tuple(
            Reading.model_validate({"lambda": g.value, "at": g.at, "protocol": g.protocol})
            for g in _of(number, reading.gauges, "readings", reading.epochs)
        ),
        trials=tuple(
            Trial(
                do=t.do, change=t.change, direction=t.direction, at=t.at, effect=t.effect, put_back=t.put_back,
                steps=1.0 if t.steps is None else t.steps,
                from_size=t.from_size if t.change in sized else None,
                to_size=t.to_size if t.change in sized else None,
            )
            for t in _of(number, reading.trials, "trials", reading.epochs)
        ),
    )


def _told_in_sizes(trials: Iterable[TrialRead]) -> frozenset[str]:
    """The jets whose sizes make one story: each change begins with the size at which the one before left it."""
    left: dict[str, float | None] = {}
    broken: set[str] = set()
    for t in (t for t in trials if t.change is not None):
        assert t.change is not None
        if t.from_size is None or left.get(t.change, t.from_size) != t.from_size:
            broken.add(t.change)
        left[t.change] = t.from_size if t.put_back else t.to_size
    return frozenset(left) - broken


def _of(number: int, read: Iterable[_Read], kind: str, epochs: int) -> Iterable[_Read]:
    """What was read of one stretch of time, at most its share of what a case takes."""
    return islice((r for r in read if r.epoch == number), _MOST[kind] // min(epochs, _MOST[kind]))


def _both(stated: Epoch, read: Epoch) -> Epoch:
    """An epoch as stated, with what was read of the same time and is not stated."""
    findings = {f.finding for f in stated.findings}
    checks = {c.check for c in stated.checks}
    trials = {(t.do, t.change) for t in stated.trials}
    measured = {r.at for r in stated.readings}
    return stated.model_copy(
        update={
            "findings": _joined("findings", stated.findings, (f for f in read.findings if f.finding not in findings)),
            "checks": _joined("checks", stated.checks, (c for c in read.checks if c.check not in checks)),
            "readings": _joined("readings", stated.readings, (r for r in read.readings if r.at not in measured)),
            "trials": _joined("trials", stated.trials, (t for t in read.trials if (t.do, t.change) not in trials)),
        }
    )


def _joined(kind: str, stated: tuple[_T, ...], read: Iterable[_T]) -> tuple[_T, ...]:
    room = max(_MOST[kind] - len(stated), 0)
    return (*stated, *islice(read, room))
