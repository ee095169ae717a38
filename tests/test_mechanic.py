"""What a mechanic would expect of invented cases: the kind of trouble, the first step and the cautions.

The expectations were written before any answer was seen, and knowledge and rules were mended with them in view. A case
that is still answered otherwise says so under `misses`, and fails here when it no longer is.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import diagnose
from carbdiag.case_schema import Case
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.knowledge import Knowledge
from carbdiag.strict_yaml import parse_yaml
from carbdiag.walk_schema import WalkRequest
from carbdiag.walking import walk

FILES = sorted((Path(__file__).parent / "mechanic").glob("invented*.yaml"))


@dataclass(frozen=True)
class Expected:
    """A case, and what a mechanic would accept as its answer."""

    name: str
    case: Case
    groups: frozenset[str]
    within: int
    steps: frozenset[str]
    cautions: frozenset[str]
    never: frozenset[str]
    hold: frozenset[str]
    use: str | None
    misses: frozenset[str]


def expected(data: dict[str, Any]) -> Expected:
    name, wants, misses = data.pop("case"), data.pop("expect"), data.pop("misses", ())
    return Expected(
        name,
        Case.model_validate(data),
        frozenset(wants["groups"]),
        wants["within"],
        frozenset(wants["steps"]),
        frozenset(wants.get("cautions", ())),
        frozenset(wants.get("never", ())),
        frozenset(wants.get("hold", ())),
        wants.get("use"),
        frozenset(misses),
    )


CASES = [
    expected(d) for file in FILES for d in cast(list[dict[str, Any]], parse_yaml(file.read_text(encoding="utf-8")))
]
each = pytest.mark.parametrize("want", CASES, ids=lambda want: want.name)


def first_step(d: Diagnosis) -> set[str]:
    """What comes first, by every name it has: the correction that leads, or the first of the next steps."""
    for cause in d.causes:
        if cause.id == d.do_now:
            fix = cause.correction
            return {fix.action, f"{fix.circuit}:{fix.direction}"}
    return {d.next_steps[0].id}


@each
def test_the_trouble_a_mechanic_expects_is_named(k: Knowledge, want: Expected) -> None:
    leading = {g.group for g in diagnose(want.case, k).groups[: want.within]}
    assert leading.isdisjoint(want.groups) is ("group" in want.misses), sorted(leading)


@each
def test_the_first_step_is_one_a_mechanic_would_tell(k: Knowledge, want: Expected) -> None:
    first = first_step(diagnose(want.case, k))
    assert first.isdisjoint(want.steps) is ("step" in want.misses), sorted(first)


@each
def test_a_walk_opens_with_such_a_step(k: Knowledge, want: Expected) -> None:
    step = next(s for s in walk(WalkRequest(case=want.case), k).steps if s.kind != "machine")
    first = {step.id, f"{step.id}:{step.direction}"}
    assert first.isdisjoint(want.steps) is ("walk" in want.misses), sorted(first)


@each
def test_the_cautions_it_needs_stand_there(k: Knowledge, want: Expected) -> None:
    assert want.cautions <= {c.id for c in diagnose(want.case, k).cautions}


@each
def test_what_must_not_lead_does_not(k: Knowledge, want: Expected) -> None:
    assert diagnose(want.case, k).groups[0].group not in want.never


@each
def test_what_is_dangerous_is_held_and_whether_it_may_be_used_is_said(k: Knowledge, want: Expected) -> None:
    d = diagnose(want.case, k)
    assert want.hold <= {h.id for h in d.holds}
    assert want.use in (None, d.may_use.how)


def test_every_name_expected_is_known(k: Knowledge) -> None:
    steps = {s for want in CASES for s in want.steps}
    settings = {f"{circuit}:{way}" for circuit in k.circuits for way in ("richer", "leaner")}
    assert steps <= {*k.checks, *k.findings, *k.actions, *settings}
    assert {g for want in CASES for g in want.groups | want.never} <= set(k.groups)
    assert {h for want in CASES for h in want.hold} <= set(k.holds)
    assert {c for want in CASES for c in want.cautions} <= set(k.cautions)
    assert {m for want in CASES for m in want.misses} <= {"group", "step", "walk"}
