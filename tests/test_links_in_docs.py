"""Every link between the pages leads somewhere, to the heading it names too, and no table is broken."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

ROOT = Path(__file__).parents[1]
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").glob("*.md")])
#: A file or folder that a page names in code, with a slash, as it stands in the repository.
NAMED = re.compile(r"`((?:carbdiag|api|knowledge|tests|benchmarks|docs|\.ci)/[\w./-]+)`")
#: What only a build writes.
BUILT = {"carbdiag/_knowledge", "knowledge/prepared.json"}


def prose(page: Path) -> str:
    """A page without its code blocks."""
    return re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)


@cache
def anchors(page: Path) -> frozenset[str]:
    """The anchors of a page's headings, as forges make them: a second one of a name gets a number."""
    found: list[str] = []
    for heading in re.findall(r"^#+ (.*)$", prose(page), re.MULTILINE):
        text = re.sub(r"\[([^\]]*)\]\([^)]*\)|[`*]", lambda m: m.group(1) or "", heading).strip().lower()
        slug = re.sub(r"[^\w\- ]", "", text).replace(" ", "-")
        again = found.count(slug)
        found.append(f"{slug}-{again}" if again else slug)
    return frozenset(found)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_links_of_a_page_lead_somewhere(page: Path) -> None:
    for link in re.findall(r"\]\(([^)\s]+)\)", prose(page)):
        if re.match(r"<?[a-z]+:", link):
            continue
        file, _, anchor = link.partition("#")
        target = (page.parent / file).resolve() if file else page
        assert target.exists(), link
        assert not anchor or anchor in anchors(target), link


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_files_that_a_page_names_exist(page: Path) -> None:
    for name in NAMED.findall(prose(page)):
        assert name in BUILT or (ROOT / name).exists(), name


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_row_of_a_table_is_read_as_one(page: Path) -> None:
    """A table without an empty line before it is none, and a row with a cell too many loses it in silence."""
    tables = re.findall(r"(?:^ *\|.*\|\n)+", prose(page), re.MULTILINE)
    rows = sum(table.count("\n") - 1 for table in tables)  # the line under the head is no row
    assert MarkdownIt("commonmark").enable("table").render(prose(page)).count("<tr>") == rows
    for table in tables:
        cells = {re.sub(r"`[^`]*`", "", line).count("|") for line in table.splitlines()}
        assert len(cells) == 1, table.splitlines()[0]
