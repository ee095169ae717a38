"""A repair of which nobody told what it did: "it seized, I put a new piston in, what jet now?".

It says nothing of what was wrong, mends as surely as such work does, and the look at what was renewed is spared. What
made it seize is still to be found: a new piston seizes like the old one (common practice).
"""

from __future__ import annotations

import pytest

from carbdiag import Case, diagnose, read_text
from carbdiag.case_schema import CheckResult, Epoch, FindingReport, Machine, Trial
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.knowledge import shipped_knowledge
from carbdiag.reading.casing import case_of
from carbdiag.terms import Effect

K = shipped_knowledge()
SEIZED = FindingReport(finding="tightened_then_freed")
SCORED = CheckResult(check="piston_through_port", outcome="scored")
REBUILT = Trial(do="rebuild_top_end", effect=Effect.NOT_TOLD)


def answered(*epochs: Epoch) -> Diagnosis:
    return diagnose(Case(machine=Machine(family="round_slide", strokes=2, cylinders=1), epochs=epochs), K)


def held(diagnosis: Diagnosis) -> set[str]:
    return {hold.id for hold in diagnosis.holds}


def test_it_says_nothing_of_what_was_wrong() -> None:
    before = answered(Epoch(findings=(SEIZED,), checks=(SCORED,)))
    after = answered(Epoch(findings=(SEIZED,), checks=(SCORED,), trials=(REBUILT,)))
    assert [(c.id, c.probability) for c in after.causes] == [(c.id, c.probability) for c in before.causes]


def test_what_was_renewed_is_put_right_and_not_looked_at_again() -> None:
    after = answered(Epoch(findings=(SEIZED,), checks=(SCORED,), trials=(REBUILT,)))
    piston = next(c for c in after.causes if c.id == "piston_damaged")
    assert piston.is_put_right
    assert "may_be_damaged" not in held(after)
    assert "may_be_damaged" not in {hold.id for hold in after.may_use.because}
    assert not {"piston_crown_look", "piston_through_port"} & {s.id for s in after.next_steps}


def test_why_it_seized_is_still_to_be_found() -> None:
    after = answered(Epoch(findings=(SEIZED,), trials=(REBUILT,)))
    assert "seized_reason_open" in held(after)
    assert after.next_steps[0].id == "oil_ratio_asked"
    assert "seized_reason_open" not in held(answered(Epoch(findings=(SEIZED,))))


def test_what_seized_again_after_it_may_be_damaged_again() -> None:
    again = answered(Epoch(findings=(SEIZED,), trials=(REBUILT,)), Epoch(findings=(SEIZED,)))
    assert "may_be_damaged" in held(again)
    assert again.may_use.how == "not_at_all"


def test_another_repair_lifts_nothing() -> None:
    other = Trial(do="clean_carburetor", effect=Effect.NOT_TOLD)
    assert "may_be_damaged" in held(answered(Epoch(findings=(SEIZED,), trials=(other,))))


@pytest.mark.parametrize(
    "told",
    [
        "It seized on me yesterday. I put in a new piston and rings. Main 155.",
        "Locked up at the end of the straight, piston scored. Replaced the piston and rings. Havent started it.",
        "It seized. Put a new piston and rings in.",
        "It seized. I replaced the piston. Now it bogs at half throttle.",
        "It seized. Had it bored and fitted a new piston.",
    ],
)
def test_a_rebuild_told_behind_a_seizure_is_read_as_such(told: str) -> None:
    case = case_of(read_text(told))
    [first, *later] = case.history()
    assert [f.finding for f in first.findings] == ["tightened_then_freed"]
    assert [(t.do, t.effect) for t in first.trials] == [("rebuild_top_end", Effect.NOT_TOLD)]
    assert [f.finding for e in later for f in e.findings] == (["bogs"] if "bogs" in told else [])


@pytest.mark.parametrize(
    "told",
    [
        "I replaced the piston last year. Yesterday it seized.",
        "It seized, needs a new piston. What jet?",
        "It seized last sunday and I still need to replace the piston.",
        "It seized. Do I replace the piston?",
        "It seized. Ordering new piston and rings.",
        "It seized. Got a new piston and rings in the garage.",
        "It seized. Shop says new piston and bore.",
    ],
)
def test_an_engine_that_was_not_rebuilt_since_stays_off(told: str) -> None:
    diagnosis = diagnose(case_of(read_text(told)), K)
    assert diagnosis.may_use.how == "not_at_all"
