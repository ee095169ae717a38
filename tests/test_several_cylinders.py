"""What only an engine of several cylinders can answer is asked of those that are said to have several."""

from __future__ import annotations

import pytest

from carbdiag import Diagnosis, Knowledge, diagnose
from carbdiag.case_schema import Case, FindingReport, Machine


def of_several(k: Knowledge, d: Diagnosis) -> set[str]:
    """Ids of questions, checks and separating observations that need several cylinders."""
    named = {s.id for s in d.next_steps} | {c.separator for c in d.causes if c.separator}
    records = {**k.findings, **k.checks}
    return {n for n in named if n in records and records[n].applies.cylinders == "several"}


def misfiring(**machine: object) -> Case:
    signs = ({"finding": "misfires"}, {"finding": "plug_black_dry"})
    return Case(
        machine=Machine.model_validate(machine), findings=tuple(FindingReport.model_validate(s) for s in signs)
    )


@pytest.mark.parametrize("machine", [{}, {"use": "off_road"}, {"cylinders": 1, "strokes": 4}], ids=str)
def test_a_machine_of_which_nobody_said_so_is_not_asked(k: Knowledge, machine: dict[str, object]) -> None:
    assert not of_several(k, diagnose(misfiring(**machine), k))


def test_one_that_has_several_is_asked(k: Knowledge) -> None:
    assert of_several(k, diagnose(misfiring(cylinders=4, strokes=4, use="road"), k))
