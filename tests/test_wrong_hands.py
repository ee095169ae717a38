"""What a newcomer passes by mistake is answered with what to pass instead."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import carbdiag
from carbdiag import CaseError, Knowledge, KnowledgeError, Machine, load_case
from carbdiag.cli import main
from carbdiag.walking import walk

DATA = {"machine": {"strokes": 2}, "findings": [{"finding": "bogs", "at": "half"}]}


@pytest.mark.parametrize(
    ("call", "model"),
    [
        (carbdiag.diagnose, "Case"),
        (walk, "WalkRequest"),
        (carbdiag.walk_posted, "PostedWalk"),
        (carbdiag.resize, "ResizeRequest"),
        (carbdiag.correct, "CorrectionRequest"),
        (carbdiag.sweep, "SweepRequest"),
    ],
)
def test_a_dict_in_place_of_a_model(call: Callable[[Any], object], model: str) -> None:
    with pytest.raises(TypeError, match=rf"{model}.model_validate\(data\) .* a dict; this is a dict"):
        call(DATA)


def test_the_name_of_a_folder_in_place_of_a_knowledge() -> None:
    knowledge: Any = "my_knowledge"
    with pytest.raises(TypeError, match=r"Knowledge.load\(folder\) reads one; this is a str"):
        carbdiag.diagnose(load_case("{}"), knowledge)


def test_a_file_in_place_of_its_text() -> None:
    path: Any = Path("my_case.yaml")
    with pytest.raises(TypeError, match=r"Path\(name\).read_text\(\) reads one"):
        load_case(path)


@pytest.mark.parametrize("name", ["my_case.yaml", "cases/old.yml", "C:\\cases\\mine.json", "/tmp/x.yaml\n"])
def test_the_name_of_a_file_in_place_of_its_text(name: str) -> None:
    with pytest.raises(CaseError, match=r"is the name of a file: pass its text, Path\(name\).read_text\(\)"):
        load_case(name)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="there is no such folder"):
        Knowledge.load(tmp_path / "none")
    with pytest.raises(KnowledgeError, match="holds no YAML files"):
        Knowledge.load(tmp_path)


@pytest.mark.parametrize(("told", "said"), [('"2"', "must be a number, without quotes"), ("two", "must be a number")])
def test_a_number_in_quotes(told: str, said: str) -> None:
    """It used to say: unknown value, got '2'. Allowed: 2, 4."""
    with pytest.raises(CaseError) as refused:
        load_case(f"machine: {{strokes: {told}}}")
    (problem,) = refused.value.problems
    assert (problem.field, problem.message) == ("machine.strokes", said)
    assert problem.allowed == ("2", "4")


def test_a_walk_goes_on_with_names_from_the_top_alone() -> None:
    case = carbdiag.Case(machine=Machine(family="round_slide", strokes=2))
    case = case.model_copy(update={"findings": (carbdiag.FindingReport(finding="bogs", at="half"),)})
    now = carbdiag.walk_posted(carbdiag.PostedWalk(case=case))
    step = now.steps[0]
    told = carbdiag.StepAnswer(kind=step.kind, id=step.id, at=step.at, direction=step.direction, outcome="unknown")
    after = carbdiag.walk_posted(carbdiag.PostedWalk(case=now.case, answer=told))
    assert after.steps[0].id != step.id


@pytest.mark.parametrize(
    ("what", "word", "first", "never"),
    [
        ("causes", "drag", "brakes_drag", "pulse_line_leaks"),  # diaphragm
        ("findings", "bog", "bogs", None),
        ("findings", "smoke", "black_smoke", None),
        ("contexts", "altitude", "moved_up", None),  # no name says it, but riders do
        ("contexts", "pipe", "exhaust_changed", None),
    ],
)
def test_a_word_is_looked_up_from_its_beginning(
    what: str, word: str, first: str, never: str | None, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["list", what, word]) == 0
    listed = {line.split()[0] for line in capsys.readouterr().out.splitlines() if not line.startswith(" ")}
    assert first in listed
    assert never not in listed


def test_a_part_of_a_word_is_looked_up_where_no_word_begins_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list", "causes", "iaphragm"]) == 0
    assert "slide_diaphragm_torn" in capsys.readouterr().out
