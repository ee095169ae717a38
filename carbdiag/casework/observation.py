"""One thing that a case says: how likely it is with every cause, and its words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from carbdiag.belief.lattice import Floats
from carbdiag.case_schema import FindingReport, Trial
from carbdiag.diagnosis_schema import Statement
from carbdiag.records.circuits import Circuit
from carbdiag.terms import Certainty, Status
from carbdiag.trials import direction_of


@dataclass(frozen=True, eq=False)
class Observation:
    """One statement, and its likelihood over single states."""

    statement: Statement
    likelihood: Floats  # (S,)
    background: float  # its likelihood when the cause is something unknown


def statement(kind: str, text: str, **facts: object) -> Statement:
    """A statement in words, with the facts that it states by id."""
    return Statement.trusted(kind=kind, text=text, **facts)


def finding_said(
    names: Sequence[str], place: str, status: Status, reports: Sequence[FindingReport], at: tuple[str, ...]
) -> Statement:
    """The statement of a sign, or of its paraphrases, at a place or somewhere among those of `at`."""
    denied = " or ".join(f"{name[0].lower()}{name[1:]}" for name in names)
    head = " / ".join(names) if status is Status.PRESENT else f"Not so: {denied}"
    where = f" ({place})" if place else ""
    certainty = next((r.certainty for r in reports if r.certainty is not Certainty.SURE), Certainty.SURE)
    unsure = "" if certainty is Certainty.SURE else f", {certainty}"
    ids = tuple(dict.fromkeys(r.finding for r in reports))
    return statement("finding", f"{head}{where}{unsure}", ids=ids, at=at, status=status, certainty=certainty)


def answered(name: str, outcome: str) -> str:
    """What a check gave: "Compression: low"; of one named as a question "Is there a good spark? Weak"."""
    return f"{name} {outcome[:1].upper()}{outcome[1:]}" if name.endswith("?") else f"{name}: {outcome}"


def moved_words(circuit: Circuit, trial: Trial) -> str:
    """How far a setting was moved and which way: "38 to 42 (richer)", "2 steps leaner"."""
    way = direction_of(circuit, trial)
    if trial.from_size is not None:
        return f"{trial.from_size:g} to {trial.to_size:g} ({way})"
    return f"{trial.steps:g} step{'s' if trial.steps != 1 else ''} {way}"


def sizes_told(trial: Trial) -> tuple[float, float] | None:
    """From and to which size, where a trial states both."""
    return None if trial.from_size is None or trial.to_size is None else (trial.from_size, trial.to_size)
