"""Every link between the pages leads somewhere, to the heading it names too, and no table is broken."""

from __future__ import annotations

import ast
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
#: A module, a name in one, or a script, as pages name them in code.
DOTTED = re.compile(r"`([a-z_]+(?:\.[A-Za-z_]+)+)(?:\([^`]*\))?`")
#: Fields of records and variables of examples that are written alike.
NO_MODULE = {"k.memo", "np.einsum", "reading.told_within", "trials.how"}
EXAMPLES = ("d.", "now.")


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


@cache
def modules() -> dict[str, frozenset[str]]:
    """What each module of the packages defines, by its name and by its dotted name; a folder defines its modules."""
    out: dict[str, set[str]] = {}
    for root in (ROOT / "carbdiag", ROOT / "api" / "carbdiag_api"):
        for file in root.rglob("*.py"):
            path = file.relative_to(root.parent).with_suffix("")
            parts = path.parts[:-1] if path.name == "__init__" else path.parts
            tree = ast.walk(ast.parse(file.read_text(encoding="utf-8")))
            defined = {n.id for n in tree if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
            tree = ast.walk(ast.parse(file.read_text(encoding="utf-8")))
            defined |= {n.name for n in tree if isinstance(n, ast.ClassDef | ast.FunctionDef)}
            if path.name == "__init__":
                defined |= {f.stem for f in file.parent.iterdir()}
            for start in range(len(parts)):
                out.setdefault(".".join(parts[start:]), set()).update(defined)
    return {name: frozenset(defined) for name, defined in out.items()}


@cache
def files() -> frozenset[str]:
    """The names of all files of the repository, and of nothing that is built or installed into it."""
    folders = (ROOT / name for name in ("carbdiag", "api", "knowledge", "tests", "benchmarks", "docs"))
    return frozenset(f.name for found in (ROOT.glob("*.*"), *(d.rglob("*.*") for d in folders)) for f in found)


def stands(name: str) -> bool:
    """Whether a dotted name is a module, a name that one defines, a method of it, or a file."""
    owner, _, last = name.rpartition(".")
    if name in modules() or name in NO_MODULE or name.startswith(EXAMPLES):
        return True
    if last in {"py", "yaml", "toml", "txt", "json"}:
        return name == "my_case.yaml" or name in files()
    return any(last in modules().get(of, ()) for of in (owner, owner.rpartition(".")[0], owner.lower()))


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_modules_and_names_of_code_that_a_page_names_exist(page: Path) -> None:
    assert [name for name in DOTTED.findall(prose(page)) if not stands(name)] == []


def test_the_modules_that_the_tour_of_the_code_names_exist() -> None:
    page = prose(ROOT / "DEVELOPERS.md")
    tour = page[page.index("How files become records") : page.index("Words: a mechanic")]
    named = re.findall(r"`([a-z_]+)`", tour)
    assert len(named) > 30
    assert [name for name in named if name not in modules()] == []


def test_a_name_that_is_gone_is_noticed() -> None:
    assert stands("records.quiz.ItemKind")
    assert stands("mixture_shifts.flow_shift")
    for gone in ("quiz_records.ItemKind", "model.flow_shift", "carbdiag.walk", "nowhere.py"):
        assert not stands(gone)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_row_of_a_table_is_read_as_one(page: Path) -> None:
    """A table without an empty line before it is none, and a row with a cell too many loses it in silence."""
    tables = re.findall(r"(?:^ *\|.*\|\n)+", prose(page), re.MULTILINE)
    rows = sum(table.count("\n") - 1 for table in tables)  # the line under the head is no row
    assert MarkdownIt("commonmark").enable("table").render(prose(page)).count("<tr>") == rows
    for table in tables:
        cells = {re.sub(r"`[^`]*`", "", line).count("|") for line in table.splitlines()}
        assert len(cells) == 1, table.splitlines()[0]
