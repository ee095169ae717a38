"""The computed pages of the manual are what knowledge says now, and say all of it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from carbdiag import Knowledge, band_table, diagnose, load_case
from carbdiag.reference import pages

DOCS = Path(__file__).parent.parent / "docs"


@pytest.fixture(scope="module")
def k() -> Knowledge:
    return Knowledge.load()


@pytest.fixture(scope="module")
def fresh() -> dict[str, str]:
    return pages()


def test_the_pages_in_docs_are_what_knowledge_gives(fresh: dict[str, str]) -> None:
    written = {f"bands/{f.name}" for f in (DOCS / "bands").glob("*.md")} | {"glossary.md", "coverage.md"}
    assert written == set(fresh), "run: python -m carbdiag.reference"
    for name, text in fresh.items():
        assert (DOCS / name).read_text(encoding="utf-8") == text, f"{name} is old; run: python -m carbdiag.reference"


def test_a_band_page_has_every_row_and_every_caution_of_the_table(k: Knowledge, fresh: dict[str, str]) -> None:
    for family in k.families:
        page = fresh[f"bands/{family}.md"]
        table = band_table(k, family)
        assert len(re.findall(r"^\| .*\| (?:rich|lean) \|", page, re.MULTILINE)) == len(table.rows)
        for row in table.rows:
            line = f"| {row.sign} (`{row.finding}`) | {row.direction.value} | {row.part} | {row.correction} |"
            assert line in page
            assert all(k.cautions[caution].text in page for caution in row.cautions)


def test_the_glossary_has_every_id_that_a_case_may_use(k: Knowledge, fresh: dict[str, str]) -> None:
    page = fresh["glossary.md"]
    for kind in (k.places, k.findings, k.checks, k.contexts, k.actions, k.circuits, k.families, k.causes):
        for identity in kind:
            assert re.search(rf"^- `{identity}`[ :]", page, re.MULTILINE), identity


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
