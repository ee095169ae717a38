"""Every worked case is led by the cause it says; the linter checks the rest."""

from __future__ import annotations

import pytest

from carbdiag import Knowledge, KnowledgeError, diagnose
from carbdiag.errors import Mistake
from carbdiag.knowledge import load_worked_cases
from carbdiag.lint import lint
from carbdiag.records.cases import WorkedCase
from tests.knowledge.copies import Copy

WORKED = load_worked_cases()
CASE = """
- id: weak_spark
  leads: spark_weak
  title: Misses at every opening
  source: invented
  machine: {family: toy_slide, strokes: 2}
  findings: [{finding: misfires, at: idle}, {finding: misfires, at: half}]
  checks: [{check: spark_look, outcome: weak}]
"""


@pytest.mark.parametrize("case", WORKED, ids=lambda c: c.id)
def test_the_cause_that_must_lead_does(case: WorkedCase) -> None:
    led = [(c.id, round(c.probability, 3)) for c in diagnose(case, steps=0, sizes=False).causes]
    assert led[0][0] == case.leads, led


def test_every_cause_has_a_case_of_its_own_and_a_near_twin_that_another_leads() -> None:
    causes = set(Knowledge.load().causes)
    assert {c.leads for c in WORKED if c.twin_of is None} == causes
    assert {c.twin_of for c in WORKED if c.twin_of} == causes


def test_a_near_twin_shares_most_of_its_story_with_the_case_it_is_a_twin_of() -> None:
    own = {c.leads: c for c in WORKED if c.twin_of is None}
    for twin in (c for c in WORKED if c.twin_of):
        shared = told(twin) & told(own[twin.of])
        assert len(shared) >= len(told(own[twin.of])) / 2, twin.id


def told(case: WorkedCase) -> set[str]:
    """What a case says, one item for each statement whatever its answer."""
    out = {f"family {case.machine.family}", f"strokes {case.machine.strokes}"}
    out |= {f"context {c.context}" for c in case.contexts}
    for epoch in case.history():
        out |= {f"finding {f.finding} {f.at}" for f in epoch.findings}
        out |= {f"check {c.check} {c.at}" for c in epoch.checks}
        out |= {f"trial {t.do} {t.change} {t.direction}" for t in epoch.trials}
    return out


def test_titles_are_plain_words_and_no_two_are_alike() -> None:
    k = Knowledge.load()
    titles = [c.title for c in WORKED]
    assert len(set(titles)) == len(titles)
    assert all(20 <= len(t) <= 140 for t in titles), [t for t in titles if not 20 <= len(t) <= 140]
    named = [c.id for c in WORKED if k.causes[c.leads].name.lower() in c.title.lower()]
    assert not named, "the title gives the answer away"


# What the linter says ------------------------------------------------------------------------------------


def found(copy: Copy, text: str, name: str = "spark_weak") -> list[Mistake]:
    (copy.folder / "cases").mkdir(exist_ok=True)
    copy.write(f"cases/{name}.yaml", text)
    before = {str(m) for m in lint(copy.folder).mistakes if not m.file.startswith("cases/")}
    return [m for m in lint(copy.folder).mistakes if str(m) not in before and "first line" not in m.rule]


def test_a_sound_case_passes(copy: Copy) -> None:
    assert found(copy, CASE) == []


@pytest.mark.parametrize(
    ("old", "new", "field", "rule"),
    [
        ("leads: spark_weak", "leads: spark_weka", "leads", "unknown cause"),
        ("finding: misfires, at: half", "finding: misfire, at: half", "findings[1].finding", "unknown finding"),
        (", {finding: misfires, at: half}", "", "findings", "3 to 7 observations"),
        ("outcome: weak", "outcome: feeble", "checks[0].outcome", "unknown outcome"),
        ("source: invented", "source: a friend", "source", "unknown value"),
        ("  source: invented\n", "", "source", "is missing"),
        ("leads: spark_weak", "leads: high_lean\n  twin_of: spark_weak", "weak_spark", "both twin_of and turned_by"),
    ],
)
def test_a_mistake_in_a_case_is_named(copy: Copy, old: str, new: str, field: str, rule: str) -> None:
    assert CASE.count(old) == 1
    (mistake,) = found(copy, CASE.replace(old, new))
    assert mistake.file == "cases/spark_weak.yaml"
    assert mistake.field.endswith(field)
    assert rule in mistake.rule or rule in mistake.found


def test_a_case_in_the_file_of_another_cause_is_named(copy: Copy) -> None:
    (mistake,) = found(copy, CASE, "high_lean")
    assert (mistake.file, mistake.found) == ("cases/high_lean.yaml", "spark_weak")
    assert mistake.field.endswith("leads")
    assert mistake.rule == "a case in this file is about high_lean; one about spark_weak stands in spark_weak.yaml"


def test_loading_raises_every_mistake_of_every_file(copy: Copy) -> None:
    (copy.folder / "cases").mkdir()
    copy.write("cases/a.yaml", CASE.replace("leads", "lead"))
    copy.write("cases/b.yaml", "no list\n")
    with pytest.raises(KnowledgeError) as error:
        load_worked_cases(copy.folder)
    assert {m.file for m in error.value.mistakes} == {"cases/a.yaml", "cases/b.yaml"}


def test_a_folder_without_worked_cases_has_none(copy: Copy) -> None:
    assert load_worked_cases(copy.folder) == ()
