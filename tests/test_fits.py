"""Advice fits the machine: nobody is told to do, or asked about, what such a machine has not got.

A sentence may name a part the machine lacks where it leaves a way out: "any", "where there is one", "grip or lever".
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from carbdiag import Case, FindingReport, Machine, diagnose, load_case
from carbdiag.applies import as_asked, can_be_asked, fit_weight, fits
from carbdiag.correction import can_be_done
from carbdiag.knowledge import Knowledge
from carbdiag.records.applies import Applies
from carbdiag.records.checks import Check
from carbdiag.records.findings import Finding

SAW = Machine(family="diaphragm", strokes=2, use="garden_machine")
GENERATOR = Machine(family="butterfly", strokes=4, use="generator")
MOWER = Machine(family="butterfly", strokes=4, use="garden_machine")
OUTBOARD = Machine(family="butterfly", strokes=2, use="outboard")
DIRECT_KART = Machine(family="diaphragm", strokes=2, use="kart")
VACUUM_SLIDE = Machine(family="constant_velocity", strokes=4, use="scooter")
CAR = Machine(family="butterfly", strokes=4, use="car")
PARAMOTOR = Machine(family="diaphragm", strokes=2, use="paramotor", cylinders=1)

FLOAT_BOWL = r"floats?\b|bowl"
JETS = r"(main|pilot|starter|air) jets?\b|clip groove|needle clip|\bgroove\b"
SLIDE = r"\bslides?\b(?! gauges| the filter)|jet needle|clip groove|needle clip"
CUTAWAY = r"cutaway"
BATTERY = r"battery|charging|\blights\b"
RIDING = r"\b(rides?|ridden|riding|rider|rode)\b"
CLUTCH = r"clutch lever|in every gear|top gear|high gear|shift into"
BARS = r"handlebars|\bbars\b|twist the grip|kickstarter|\bkicks?\b(?![- ]back)"
#: What leaves a way out, or is said of a part only.
WAY_OUT = re.compile(
    r"\b(any|where|if|or|on a|which|has|had been)\b|brake is on|kick(s|ing)? (back|round|itself)|ping|flywheel", re.I
)


def askable(k: Knowledge, machine: Machine, record: Finding | Check) -> bool:
    assert machine.strokes is not None
    return can_be_asked(record, as_asked(k.uses, machine), k.families[machine.family], machine.strokes)


def possible(k: Knowledge, machine: Machine, applies: Applies) -> bool:
    assert machine.strokes is not None
    asked = as_asked(k.uses, machine)
    circuits = k.families[machine.family].circuits
    return fits(applies, machine.family, machine.strokes) and fit_weight(applies, asked, 1.0, circuits) > 0


def asked_of(k: Knowledge, machine: Machine) -> Iterator[tuple[str, str]]:
    """Every question and every check that can be proposed for a machine, in words."""
    for sign in k.findings.values():
        if sign.worth_asking and askable(k, machine, sign):
            yield f"finding {sign.id}", sign.ask
    for check in k.checks.values():
        if askable(k, machine, check):
            yield f"check {check.id}", f"{check.name}. {check.do}"


def done_to(k: Knowledge, machine: Machine) -> Iterator[tuple[str, str]]:
    """Every step of what can cure a cause that the machine can have, and how to know that it did."""
    family = k.families[machine.family]
    for cause in k.causes.values():
        part = cause.mixture.circuit if cause.mixture else None
        if not possible(k, machine, cause.applies) or (part is not None and part not in family.circuits):
            continue
        yield f"cause {cause.id}", f"{cause.name}. {cause.summary}"
        yield f"cause {cause.id} verify", cause.verify
        for action in (k.actions[f.do] for f in cause.fixed_by):
            if can_be_done(action, family):
                yield f"action {action.id}", " ".join((*action.steps, action.verify))


def misfits(texts: Iterator[tuple[str, str]], word: str) -> set[str]:
    """Where a sentence with that word leaves no way out."""
    found = re.compile(word, re.I)
    return {
        f"{where}: {sentence}"
        for where, text in texts
        for sentence in re.split(r"(?<=[.?;:])\s+", text)
        if found.search(sentence) and not WAY_OUT.search(sentence)
    }


HAS_NOT = {
    "no bowl and no jets": ((SAW, DIRECT_KART, PARAMOTOR), (FLOAT_BOWL, JETS)),
    "a plate is no slide": ((MOWER, GENERATOR), (SLIDE,)),
    "a vacuum slide has no cutaway": ((VACUUM_SLIDE,), (CUTAWAY,)),
    "no handlebars": ((CAR,), (BARS, r"clutch lever")),
    "not ridden": ((SAW, GENERATOR, MOWER, OUTBOARD, PARAMOTOR), (RIDING, CLUTCH, BARS)),
}
PAIRS = [(why, machine, word) for why, (machines, words) in HAS_NOT.items() for machine in machines for word in words]


@pytest.mark.parametrize(("why", "machine", "word"), PAIRS)
def test_nobody_is_told_of_what_the_machine_has_not(k: Knowledge, why: str, machine: Machine, word: str) -> None:
    assert misfits(done_to(k, machine), word) == set(), why
    assert misfits(asked_of(k, machine), word) == set(), why


def test_a_needle_with_one_groove_has_its_step_too(k: Knowledge) -> None:
    assert any("one groove only" in step and "washer" in step for step in k.actions["move_clip"].steps)


def test_what_is_not_asked_counts_where_it_is_told(k: Knowledge) -> None:
    """A hedge trimmer may have an electric start, and a kart a float bowl: who says so is believed."""
    for machine, sign in ((SAW, "starter_only_clicks"), (DIRECT_KART, "tapping_the_bowl_helps")):
        assert not askable(k, machine, k.findings[sign])
        told = diagnose(Case(machine=machine, findings=(FindingReport(finding=sign),)), k)
        silent = diagnose(Case(machine=machine), k)
        assert [(c.id, c.probability) for c in told.causes] != [(c.id, c.probability) for c in silent.causes]


@pytest.mark.parametrize("machine", [SAW, PARAMOTOR, MOWER], ids=lambda m: f"{m.use}_{m.family}")
def test_nobody_is_asked_whether_a_part_he_has_not_was_changed(k: Knowledge, machine: Machine) -> None:
    has = k.families[machine.family].circuits
    without = {
        c.id
        for c in k.contexts.values()
        if (settings := [s for s in c.told_by if s in k.circuits]) and not set(settings) & set(has)
    }
    assert "needle_raised" in without
    signs = [f.id for f in k.findings.values() if possible(k, machine, f.applies)]
    asked = {
        s.id
        for sign in signs
        for s in diagnose(Case(machine=machine, findings=(FindingReport(finding=sign),)), k, steps=20).next_steps
    }
    assert not asked & without


def test_a_saw_is_not_asked_about_a_battery_and_a_mower_may_be(k: Knowledge) -> None:
    assert misfits(asked_of(k, SAW), BATTERY) == set()
    assert askable(k, MOWER, k.checks["battery_voltage"])
    told = "machine: {%s, use: garden_machine}\nfindings: [{finding: will_not_start}]"
    saw, mower = (
        {s.id for s in diagnose(load_case(told % m), k, steps=20).next_steps}
        for m in ("family: diaphragm, strokes: 2", "family: butterfly, strokes: 4")
    )
    assert not saw & {"battery_voltage", "cranks_slowly", "starter_with_good_battery"}
    assert mower & {"battery_voltage", "cranks_slowly", "starter_with_good_battery"}
