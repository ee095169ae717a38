"""The coverage report counts what is there and names every hole. Each test digs one hole and sees it named."""

from __future__ import annotations

import json

import pytest

from carbdiag import Knowledge
from carbdiag.cli import main
from carbdiag.command_tools import BAD_INPUT, FINE
from carbdiag.coverage import Coverage, coverage
from carbdiag.knowledge import load_worked_cases
from tests.knowledge.copies import Copy

SPARK = "causes/spark_weak.yaml"
OWN = """
- id: weak_spark
  leads: spark_weak
  title: Misses at every opening
  source: invented
  machine: {family: toy_slide, strokes: 2}
  findings:
    - {finding: misfires, at: idle}
    - {finding: misfires, at: half}
  checks:
    - {check: spark_look, outcome: weak}
"""
LEAN = """
- id: lean_not_spark
  leads: %s
  twin_of: spark_weak
  turned_by: It was lean.
  title: Sharp at full throttle
  source: invented
  machine: {family: toy_slide, strokes: 2}
  findings:
    - {finding: sharp_note, at: full}
    - {finding: light_feel, at: full}
    - {finding: misfires, at: full}
  checks:
    - {check: spark_look, outcome: strong}
    - {check: part_look, outcome: odd}
"""


def report(copy: Copy) -> Coverage:
    return coverage(Knowledge.load(copy.folder), load_worked_cases(copy.folder))


def missing(copy: Copy, what: str) -> tuple[str, ...]:
    (share,) = (s for s in (*report(copy).causes, report(copy).signs) if what in s.what)
    return share.missing


def test_a_sign_that_no_cause_produces_is_named(copy: Copy) -> None:
    entry = "id: rattles, name: Rattles, ask: Does it?, at: [half], everyday: rarely, noticed_unasked: often"
    copy.append("findings/all.yaml", f"- {{{entry}, sources: [{{source: from_memory, supports: everyday}}]}}\n")
    assert "rattles at half" in missing(copy, "signs at places")
    copy.edit(SPARK, "shows:\n", "shows:\n  - {finding: rattles, often: often}\n")
    assert "rattles at half" not in missing(copy, "signs at places")


def test_a_sign_that_a_cause_hardly_raises_above_everyday_is_not_produced(copy: Copy) -> None:
    entry = "id: rattles, name: Rattles, ask: Does it?, at: [half], everyday: seldom, noticed_unasked: often"
    copy.append("findings/all.yaml", f"- {{{entry}, sources: [{{source: from_memory, supports: everyday}}]}}\n")
    copy.edit(SPARK, "shows:\n", "shows:\n  - {finding: rattles, often: seldom}\n")
    assert "rattles at half" in missing(copy, "signs at places")


def test_a_cause_without_a_check_that_speaks_for_it_is_named(copy: Copy) -> None:
    assert "spark_weak" not in missing(copy, "a check that speaks")
    copy.edit(SPARK, "outcome: weak", "outcome: strong")
    assert "spark_weak" in missing(copy, "a check that speaks")


def test_a_cause_that_nothing_cures_needs_the_reason_for_a_workshop(copy: Copy) -> None:
    copy.edit(SPARK, "works: usually", "works: rarely")
    assert "spark_weak" in missing(copy, "a cure")
    copy.append(SPARK, "workshop: The magnet needs a press.\n")
    assert "spark_weak" not in missing(copy, "a cure")


def test_a_cause_is_reached_when_its_worked_cases_are_led_by_the_right_cause(copy: Copy) -> None:
    assert "spark_weak" in missing(copy, "worked case of their own")
    (copy.folder / "cases").mkdir()
    copy.write("cases/spark_weak.yaml", OWN + LEAN % "high_lean")
    for what in ("worked case of their own", "a near-twin", "reached"):
        assert "spark_weak" not in missing(copy, what)


def test_a_worked_case_that_another_cause_leads_leaves_its_cause_unreached(copy: Copy) -> None:
    (copy.folder / "cases").mkdir()
    copy.write("cases/spark_weak.yaml", OWN + LEAN % "low_lean")
    assert "spark_weak" not in missing(copy, "worked case of their own")
    assert "spark_weak" in missing(copy, "reached")


def test_a_circuit_in_control_that_no_cause_can_be_is_named(copy: Copy) -> None:
    def holes() -> tuple[str, ...]:
        return report(copy).named[0].missing

    assert not [hole for hole in holes() if hole.startswith("pilot lean")]
    copy.edit("causes/low_lean.yaml", "circuit: pilot", "circuit: main_jet")
    assert "pilot lean at idle" in holes()


def test_a_group_without_a_cause_is_named_with_the_family(copy: Copy) -> None:
    copy.append("groups.yaml", "- {id: brakes, name: Brakes, what: They drag.}\n")
    assert ("brakes", "toy_slide") in report(copy).empty_groups


def test_links_are_counted_by_what_stands_behind_them(copy: Copy) -> None:
    before = report(copy).all_links
    assert before.counts[0] == 0
    copy.append("sources.yaml", "- {id: a_book, kind: published, title: 'A book never written, page 1'}\n")
    copy.edit(SPARK, "{source: from_memory, supports: prior}", "{source: a_book, supports: 'prior, shows'}")
    after = report(copy)
    assert after.all_links.counts[0] == 2
    assert after.all_links.total == before.total
    assert after.links_without_weights.counts[0] == 1


def test_the_command_prints_the_holes_and_says_the_same_in_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", "--coverage"]) == FINE
    text = capsys.readouterr().out
    assert main(["lint", "--coverage", "--json"]) == FINE
    found = json.loads(capsys.readouterr().out)
    for share in (*found["charts"], *found["named"], found["signs"], *found["causes"]):
        assert f"{share['what']}: {share['of'] - len(share['missing'])} of {share['of']}" in text
        assert all(name in text for name in share["missing"])


def test_a_folder_that_does_not_load_is_bad_input(copy: Copy, capsys: pytest.CaptureFixture[str]) -> None:
    copy.append(SPARK, "workshop: yes\n")
    assert main(["lint", "--coverage", str(copy.folder)]) == BAD_INPUT
    assert "spark_weak.yaml" in capsys.readouterr().err


def test_every_entry_of_the_charts_has_a_circuit_and_a_correction() -> None:
    found = coverage(Knowledge.load(), load_worked_cases())
    assert not [hole for share in found.charts for hole in share.missing]
    assert not [hole for share in found.causes[:2] for hole in share.missing]
