"""What README and docs show is what happens: every Python block runs, every command of theirs ends well."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from carbdiag.cli import main

ROOT = Path(__file__).parents[1]
PAGES = ("README.md", "docs/metering.md", "docs/quizzes.md")
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


@pytest.mark.parametrize("page", ["README.md", "docs/quizzes.md"])
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
