"""A rider who says that he went to another height is not asked whether the air has changed."""

from __future__ import annotations

from carbdiag import Case, Knowledge, diagnose
from carbdiag.schema import ContextReport, FindingReport, Machine

K = Knowledge.load()
ASKED = "air_since_jetting_asked"


def proposed(*contexts: str) -> set[str]:
    case = Case(
        machine=Machine(family="round_slide", strokes=2, cylinders=1),
        contexts=tuple(ContextReport(context=c) for c in contexts),
        findings=(FindingReport(finding="blubbers"), FindingReport(finding="plug_fouls_repeatedly")),
    )
    return {s.id for s in diagnose(case, K, steps=40).next_steps}


def test_whether_the_air_has_changed_is_not_asked_of_who_told_a_move() -> None:
    assert K.checks[ASKED].told_by_air
    assert ASKED not in proposed("moved_up")
    assert ASKED not in proposed("exhaust_changed", "moved_up")
