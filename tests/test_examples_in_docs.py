"""What README and docs show is what happens: every Python block runs, every command of theirs ends well.

What README shows of an answer is what is printed. When an answer has changed, write it there anew, and read it:
CARBDIAG_GOLDEN=write python -m pytest tests/test_examples_in_docs.py
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
from pathlib import Path

import pytest

from carbdiag.cli import main

ROOT = Path(__file__).parents[1]
PAGES = ("README.md", "docs/embedding.md", "docs/metering.md", "docs/quizzes.md")
#: Commands that wait for a person, or need what only the reader has.
NOT_RUN = ("serve", "walk", "--take", "--grade", "--analyze", "lint my_knowledge/", "--help", "--plot")


def blocks(page: str, language: str) -> list[str]:
    """The code blocks of a page in one language."""
    return re.findall(rf"```{language}\n(.*?)```", (ROOT / page).read_text(encoding="utf-8"), re.DOTALL)


def commands(page: str) -> list[str]:
    """Every line of a page that calls the command, without the remark behind it."""
    lines = "\n".join(blocks(page, "sh")).replace("\\\n", " ").splitlines()
    calls = [re.sub(r"\s+#.*", "", line) for line in lines if line.startswith("carbdiag ")]
    return [c.partition(" > ")[0] for c in calls if not any(word in c for word in NOT_RUN)]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the reader works: the case of README, a post, and the folder of docs."""
    (tmp_path / "my_case.yaml").write_text(blocks("README.md", "yaml")[0], encoding="utf-8")
    shutil.copytree(ROOT / "docs" / "examples", tmp_path / "docs" / "examples")
    shutil.copy(ROOT / "docs" / "examples" / "post.txt", tmp_path / "post.txt")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("page", ["README.md", "docs/embedding.md", "docs/quizzes.md"])
def test_the_python_of_a_page_runs_from_top_to_bottom(folder: Path, page: str) -> None:
    found = blocks(page, "python")
    assert found
    names: dict[str, object] = {}
    for block in found:
        exec(compile(block, page, "exec"), names)


@pytest.mark.parametrize("command", [c for page in PAGES for c in commands(page)])
def test_a_command_of_a_page_ends_well(folder: Path, capsys: pytest.CaptureFixture[str], command: str) -> None:
    assert main(shlex.split(command)[1:]) == 0
    said = capsys.readouterr()
    assert said.out or "Written to" in said.err


#: What README shows of the answer to its case: from which line on, and up to which.
SHOWN = ((None, "  Rule out first"), ("Likely causes", '  "Fits better"'))


def test_readme_shows_the_answer_that_is_printed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["diagnose", "my_case.yaml"]) == 0
    printed = capsys.readouterr().out.splitlines()
    fresh = []
    for first, end in SHOWN:
        start = 0 if first is None else printed.index(first)
        stop = next(n for n, line in enumerate(printed) if n > start and line.startswith(end))
        fresh.append("\n".join(printed[start:stop]).rstrip() + "\n")
    if os.environ.get("CARBDIAG_GOLDEN") == "write":
        readme = ROOT / "README.md"
        anew = iter(fresh)
        page = re.sub(
            r"```text\n.*?```",
            lambda _: f"```text\n{next(anew)}```",
            readme.read_text(encoding="utf-8"),
            flags=re.DOTALL,
        )
        readme.write_text(page, encoding="utf-8")
    assert blocks("README.md", "text") == fresh, "README shows another answer; see the top of this file"
