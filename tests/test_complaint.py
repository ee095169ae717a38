"""People ask because of the fault: what has no part in any sign that they tell unasked is less likely."""

from __future__ import annotations

from dataclasses import replace

import pytest

from carbdiag import Knowledge, diagnose
from carbdiag.case_schema import Case, FindingReport, Machine
from carbdiag.casework.assessing import assess
from carbdiag.errors import CaseError
from carbdiag.terms import Status

MACHINE = Machine(family="round_slide", strokes=4, cylinders=1)


@pytest.fixture(scope="module")
def unaware(k: Knowledge) -> Knowledge:
    """The same knowledge for riders who complain of everyday signs as readily as of a fault."""
    reporting = k.scales.reporting.model_copy(update={"complains_of_everyday": 1.0})
    return replace(k, scales=k.scales.model_copy(update={"reporting": reporting}), memo={})


def chances(k: Knowledge, case: Case) -> dict[str, float]:
    """P(cause) of a case about one kind of machine."""
    (belief,) = assess(k, case).beliefs
    by_state = belief.posterior.by_state(belief.network)
    found: dict[str, float] = {}
    for state, p in zip(belief.model.states, by_state, strict=True):
        if state.cause is not None:
            found[state.cause] = found.get(state.cause, 0.0) + float(p)
    return found


def overflow(**report: object) -> Case:
    return Case(machine=MACHINE, findings=(FindingReport.model_validate({"finding": "fuel_overflow", **report}),))


def test_what_shows_the_sign_gains_and_what_never_does_loses(k: Knowledge, unaware: Knowledge) -> None:
    now, before = chances(k, overflow()), chances(unaware, overflow())
    assert now["float_valve_leaking"] > 1.2 * before["float_valve_leaking"]
    assert now["plug_cap_or_lead_bad"] < 0.7 * before["plug_cap_or_lead_bad"]


@pytest.mark.parametrize("untouched", [{"asked": True}, {"status": Status.DENIED}], ids=["asked", "denied"])
def test_only_signs_told_unasked_are_why_somebody_asks(
    k: Knowledge, unaware: Knowledge, untouched: dict[str, object]
) -> None:
    assert chances(k, overflow(**untouched)) == chances(unaware, overflow(**untouched))


def test_an_interview_says_nothing_of_why_somebody_asks(k: Knowledge, unaware: Knowledge) -> None:
    case = overflow().model_copy(update={"reporting": "interview"})
    assert chances(k, case) == chances(unaware, case)


def test_one_sign_that_the_fault_shows_is_enough(k: Knowledge) -> None:
    """An everyday sign beside it takes nothing from what it explains."""
    alone = chances(k, overflow())
    everyday = FindingReport(finding="hesitates", at=("snap_open",))
    beside = chances(k, overflow().model_copy(update={"findings": (*overflow().findings, everyday)}))
    assert beside["float_valve_leaking"] > alone["float_valve_leaking"] / 2


@pytest.mark.parametrize("strokes", [2, 4])
def test_no_sign_goes_against_itself(k: Knowledge, strokes: int) -> None:
    """What is told alone may leave much open, but nothing in it speaks against the causes that show it."""
    machine = {"family": "round_slide", "strokes": strokes}
    possible = 0
    for sign in k.findings:
        try:
            found = diagnose(Case.model_validate({"machine": machine, "findings": [{"finding": sign}]}), k)
        except CaseError:
            continue  # not on this machine
        assert not found.unexplained.flag, sign
        possible += 1
    assert possible > 150


def test_signs_that_no_cause_shows_together_are_still_unexplained(k: Knowledge) -> None:
    signs = ["fuel_in_oil", "kill_switch_ineffective", "rattle_in_silencer"]
    case = Case(machine=MACHINE, findings=tuple(FindingReport(finding=s) for s in signs))
    assert diagnose(case, k).unexplained.flag
