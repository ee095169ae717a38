"""The computed pages of the manual are what knowledge says now, and say all of it."""

from __future__ import annotations

import json
import os
import re
from collections import Counter
from pathlib import Path

import pytest

from carbdiag import Knowledge, band_table, diagnose, load_case
from carbdiag.priors_page import OutcomeCounts
from carbdiag.reference import pages
from carbdiag.strict_yaml import parse_yaml

DOCS = Path(__file__).parent.parent / "docs"


@pytest.fixture(scope="module")
def fresh() -> dict[str, str]:
    return pages()


def test_the_pages_in_docs_are_what_knowledge_gives(fresh: dict[str, str]) -> None:
    folders = (DOCS / "bands", DOCS / "reference")
    written = {str(f.relative_to(DOCS)) for folder in folders for f in folder.rglob("*.md")}
    written |= {"glossary.md", "coverage.md", "priors.md"}
    assert written == set(fresh), "run: python -m carbdiag.reference"
    for name, text in fresh.items():
        assert (DOCS / name).read_text(encoding="utf-8") == text, f"{name} is old; run: python -m carbdiag.reference"


def test_a_band_page_has_every_row_and_every_caution_of_the_table(k: Knowledge, fresh: dict[str, str]) -> None:
    for family in k.families:
        page = fresh[f"bands/{family}.md"]
        tables = [band_table(family, strokes, k) for strokes in k.families[family].strokes]
        if all(table.rows == tables[0].rows for table in tables):
            tables = tables[:1]
        rows = [row for table in tables for row in table.rows]
        assert len(re.findall(r"^\| .*\| (?:rich|lean) \|", page, re.MULTILINE)) == len(rows)
        for row in rows:
            line = f"| {row.sign} (`{row.finding}`) | {row.direction.value} | {row.part} | {row.correction} |"
            assert line in page
            assert all(k.cautions[caution].text in page for caution in row.cautions)


def test_the_glossary_has_every_id_that_a_case_may_use(k: Knowledge, fresh: dict[str, str]) -> None:
    page = fresh["glossary.md"]
    machine = (k.places, k.circuits, k.families, k.uses)
    for kind in (*machine, k.findings, k.checks, k.contexts, k.actions, k.temporary_trials, k.causes):
        for identity in kind:
            assert re.search(rf"^- `{identity}`[ :]", page, re.MULTILINE), identity


def test_the_case_that_the_glossary_starts_with_can_be_diagnosed(fresh: dict[str, str]) -> None:
    found = re.search(r"```yaml\n(.*?)```", fresh["glossary.md"], re.DOTALL)
    assert found
    case = load_case(found.group(1))
    assert diagnose(case, steps=0).case_id == case.id


def test_the_glossary_asks_what_each_finding_and_context_asks(k: Knowledge, fresh: dict[str, str]) -> None:
    asked = [(f.id, f.name, f.ask) for f in k.findings.values()]
    asked += [(c.id, c.name, c.ask) for c in k.contexts.values()]
    for identity, name, ask in asked:
        assert f"- `{identity}` **{name}.** {ask}" in fresh["glossary.md"]


def test_the_glossary_keeps_the_text_of_every_caution(k: Knowledge, fresh: dict[str, str]) -> None:
    assert all(caution.text in fresh["glossary.md"] for caution in k.cautions.values())


def test_every_outcome_of_a_check_can_be_looked_up(k: Knowledge, fresh: dict[str, str]) -> None:
    entries = re.split(r"^- ", fresh["glossary.md"], flags=re.MULTILINE)
    for check in k.checks.values():
        (entry,) = (e for e in entries if e.startswith(f"`{check.id}` **{check.name}"))
        assert all(f"- `{outcome}`: " in entry for outcome in check.outcomes)


def test_every_link_inside_the_glossary_leads_to_a_heading(fresh: dict[str, str]) -> None:
    page = fresh["glossary.md"]
    headings = {h.lower().replace(" ", "-") for h in re.findall(r"^#+ (.+)$", page, re.MULTILINE)}
    assert set(re.findall(r"\(#([a-z-]+)\)", page)) <= headings


def test_the_case_to_start_from_is_one_that_can_be_answered(k: Knowledge, fresh: dict[str, str]) -> None:
    found = re.search(r"```yaml\n(.*?)```", fresh["glossary.md"], re.DOTALL)
    assert found is not None
    assert diagnose(load_case(found[1]), k).causes


# The page of each record ---------------------------------------------------------------------------------


def test_every_cause_check_circuit_and_family_has_a_page_that_the_index_leads_to(
    k: Knowledge, fresh: dict[str, str]
) -> None:
    records = {"causes": k.causes, "checks": k.checks, "circuits": k.circuits, "families": k.families}
    wanted = {f"{kind}/{identity}.md" for kind, of_kind in records.items() for identity in of_kind}
    assert {n.removeprefix("reference/") for n in fresh if n.startswith("reference/")} == wanted | {"README.md"}
    assert wanted <= set(re.findall(r"\]\(([^)#]+)\)", fresh["reference/README.md"]))


def test_every_link_between_pages_leads_to_a_page(fresh: dict[str, str]) -> None:
    known = {str(Path(name)) for name in fresh} | {"bands", "reference"}
    for name, text in fresh.items():
        for target in re.findall(r"\]\(([^)<#]+?)\)", text):
            assert os.path.normpath(Path(name).parent / target) in known, f"{name} -> {target}"


def test_a_cause_page_says_what_to_do_what_to_beware_of_and_where_it_comes_from(
    k: Knowledge, fresh: dict[str, str]
) -> None:
    for cause in k.causes.values():
        page = fresh[f"reference/causes/{cause.id}.md"]
        assert cause.summary in page
        assert cause.verify in page
        assert all(k.cautions[c].text in page for c in cause.cautions), cause.id
        assert all(f"](../checks/{line.check}.md)" in page for line in cause.checks)
        assert all(f"]({rival.cause}.md)" in page for rival in cause.mistaken_for)
        assert all(k.sources[c.source].title in page for c in cause.sources)


def test_the_steps_of_a_cure_never_stand_on_a_page_without_their_cautions(k: Knowledge, fresh: dict[str, str]) -> None:
    for cause in k.causes.values():
        page = fresh[f"reference/causes/{cause.id}.md"]
        for action in (k.actions[fix.do] for fix in cause.fixed_by):
            if f"**{action.name}** cures it" in page:
                assert all(k.cautions[c].text in page for c in action.cautions), (cause.id, action.id)


def test_a_check_page_has_its_outcomes_its_cautions_and_when_not_to_do_it(k: Knowledge, fresh: dict[str, str]) -> None:
    for check in k.checks.values():
        page = fresh[f"reference/checks/{check.id}.md"]
        assert check.do in page
        assert all(outcome.means.rstrip(".") in page for outcome in check.outcomes.values())
        assert all(k.cautions[c].text in page for c in check.cautions)
        assert all(k.holds[h].why in page for h in check.held_back_while)


def test_no_page_shows_a_tool_by_its_id(k: Knowledge, fresh: dict[str, str]) -> None:
    told = [line for page in fresh.values() for line in page.splitlines() if "Tools: " in line]
    assert told
    assert not [line for line in told if "_" in line.split("Tools: ")[1].split(".")[0]]


def test_a_circuit_page_says_how_to_go_richer_and_leaner_and_back(k: Knowledge, fresh: dict[str, str]) -> None:
    for circuit in k.circuits.values():
        page = fresh[f"reference/circuits/{circuit.id}.md"]
        assert all(text in page for text in (circuit.richer.do, circuit.leaner.do, circuit.put_back, circuit.verify))
        assert all(k.cautions[c].text in page for c in circuit.cautions)


# The priors beside the counts ----------------------------------------------------------------------------


def test_the_priors_page_has_every_group_with_its_count_and_says_how_the_sample_is_crooked(
    k: Knowledge, fresh: dict[str, str]
) -> None:
    page = fresh["priors.md"]
    counts = OutcomeCounts.model_validate(parse_yaml((DOCS / "outcome_counts.yaml").read_text(encoding="utf-8")))
    assert {c.group for c in counts.counts} <= set(k.groups)
    assert all(text in page for text in counts.bias)
    for group in k.groups.values():
        (row,) = re.findall(rf"^\| {re.escape(group.name)} \(`{group.id}`\) \| (\d+)", page, re.MULTILINE)
        assert int(row) == sum(c.confirmed + c.probable for c in counts.counts if c.group == group.id)


def test_right_after_a_change_of_jets_settings_are_likelier_than_before(k: Knowledge, fresh: dict[str, str]) -> None:
    for group in ("main_lean", "main_rich", "needle_rich", "pilot_circuit_lean", "screw_setting"):
        (row,) = re.findall(rf"^.*\(`{group}`\).*$", fresh["priors.md"], re.MULTILINE)
        plain, rejetted = [float(cell.strip(" %")) for cell in row.split("|")[4:6]]
        assert rejetted > 2 * plain, group


def test_the_counts_are_those_of_the_reported_outcomes() -> None:
    outcomes = DOCS.parent.parent / "shared" / "cases" / "outcomes.jsonl"
    if not outcomes.exists():
        pytest.skip("the reported outcomes are not beside this checkout")
    lines = [json.loads(line) for line in outcomes.read_text(encoding="utf-8").splitlines() if line]
    found = Counter((line["cause_kind"], line["confidence"]) for line in lines)
    counts = OutcomeCounts.model_validate(parse_yaml((DOCS / "outcome_counts.yaml").read_text(encoding="utf-8")))
    for count in counts.counts:
        assert (count.confirmed, count.probable) == (found[count.group, "confirmed"], found[count.group, "probable"])
    assert sum(found.values()) == sum(c.confirmed + c.probable for c in counts.counts)
