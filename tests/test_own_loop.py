"""A program that runs its own loop of questions: what a next step offers goes back into the case as it stands."""

from __future__ import annotations

from carbdiag import Case, CheckResult, ContextReport, FindingReport, StepAnswer, WalkRequest, diagnose, load_case
from carbdiag.diagnosis_schema import NextStep
from carbdiag.knowledge import shipped_knowledge
from carbdiag.walking import walk

CASE = load_case("""
machine: {family: round_slide, strokes: 2}
findings: [{finding: bogs, at: half}]
checks: [{check: touch_of_choke, at: half, outcome: better}]
""")


def answered(case: Case, step: NextStep, outcome: str) -> Case:
    """The case with one answer more, as a bot would put it together."""
    if step.kind == "finding":
        status = "present" if outcome == "yes" else "denied"
        told = FindingReport.model_validate({"finding": step.id, "at": step.at or (), "status": status})
        return case.model_copy(update={"findings": (*case.findings, told)})
    if step.kind == "context":
        status = "present" if outcome == "yes" else "denied"
        happened = ContextReport.model_validate({"context": step.id, "status": status})
        return case.model_copy(update={"contexts": (*case.contexts, happened)})
    found = CheckResult(check=step.id, at=step.at, outcome=outcome)
    return case.model_copy(update={"checks": (*case.checks, found)})


def test_every_outcome_of_every_next_step_is_an_answer() -> None:
    steps = diagnose(CASE, steps=12).next_steps
    assert {s.kind for s in steps} >= {"check", "finding"}
    assert any("_" in o.outcome for s in steps for o in s.outcomes), "an outcome of several words must be among them"
    for step in steps:
        for outcome in step.outcomes:
            told = diagnose(answered(CASE, step, outcome.outcome)).told
            assert step.id in {i for statement in told for i in statement.ids}


def test_a_next_step_of_a_diagnosis_can_be_answered_in_a_walk() -> None:
    step = next(s for s in diagnose(CASE, steps=12).next_steps if any("_" in o.outcome for o in s.outcomes))
    outcome = next(o.outcome for o in step.outcomes if "_" in o.outcome)
    now = walk(WalkRequest(case=CASE, answer=StepAnswer(kind=step.kind, id=step.id, at=step.at, outcome=outcome)))
    assert outcome in {c.outcome for c in now.case.checks}


def test_outcomes_of_a_check_are_named_as_in_the_knowledge() -> None:
    checks = [s for s in diagnose(CASE, steps=12).next_steps if s.kind in ("check", "question")]
    assert checks
    for step in checks:
        assert [o.outcome for o in step.outcomes] == list(shipped_knowledge().checks[step.id].outcomes)
