"""Worked cases that do not fit the knowledge, or tell too little or too much."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from carbdiag.case_check import check_case
from carbdiag.errors import CaseError, Mistake, nearest
from carbdiag.knowledge import Knowledge
from carbdiag.knowledge_files import WORKED_CASES
from carbdiag.lint.spots import Spots
from carbdiag.records.cases import WorkedCase

#: How much a worked case tells: enough to decide, no more than a rider would say.
OBSERVATIONS: Final = (3, 7)


def misfit_cases(k: Knowledge, worked: Iterable[WorkedCase], spot: Spots) -> Iterator[Mistake]:
    """What is wrong in worked cases: names, the file, how much they tell."""
    for case in worked:
        for field in ("leads", "twin_of"):
            cause = getattr(case, field)
            if cause is not None and cause not in k.causes:
                near = nearest(cause, k.causes)
                yield spot.mistake(WORKED_CASES, case.id, field, "unknown cause", cause, near=near, words=f"{field}:")
        file = spot.file(WORKED_CASES, case.id)
        if case.of in k.causes and file != f"{WORKED_CASES}/{case.of}.yaml":
            field = "leads" if case.twin_of is None else "twin_of"
            rule = f"a case in this file is about {Path(file).stem}; one about {case.of} stands in {case.of}.yaml"
            yield spot.mistake(WORKED_CASES, case.id, field, rule, case.of, words=f"{field}:")
        told = sum(len(e.findings) + len(e.checks) + len(e.readings) + len(e.trials) for e in case.history())
        if not OBSERVATIONS[0] <= told <= OBSERVATIONS[1]:
            rule = f"a worked case makes {OBSERVATIONS[0]} to {OBSERVATIONS[1]} observations"
            yield spot.mistake(WORKED_CASES, case.id, "findings", rule, str(told))
        try:
            check_case(k, case)
        except CaseError as error:
            for problem in error.problems:
                yield spot.mistake(
                    WORKED_CASES, case.id, problem.field, problem.message, near=problem.nearest, words=problem.value
                )
