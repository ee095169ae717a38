"""`carbdiag quiz` as a trainer uses it."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest

from carbdiag.cli import main
from carbdiag.command_tools import BAD_INPUT, FINE
from carbdiag.quiz.exports.formats import STUDENT, TRAINER
from carbdiag.quiz_options import FORMATS
from carbdiag.quiz_schema import Quiz


def test_every_format_is_offered() -> None:
    assert set(FORMATS) == {"text", *STUDENT, *TRAINER}


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(["quiz", *arguments])
    out = capsys.readouterr()
    return status, out.out, out.err


def test_questions_come_without_the_key_and_the_key_on_request(capsys: pytest.CaptureFixture[str]) -> None:
    status, questions, err = run(capsys, "--items", "5", "--seed", "7")
    assert (status, err) == (FINE, "")
    assert all(f"q0{n}. " in questions for n in range(1, 6))
    status, key, _ = run(capsys, "--items", "5", "--seed", "7", "--key")
    assert status == FINE
    assert "Sources S" in key
    assert "Sources" not in questions
    assert max(len(line) for line in (questions + key).splitlines()) <= 88


def test_json_is_the_student_half_unless_the_key_is_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "--items", "2", "--json")
    assert set(json.loads(out)) == {"edition", "quiz_id", "items"}
    _, out, _ = run(capsys, "--items", "2", "--json", "--key")
    assert Quiz.model_validate_json(out).seed == "1"


def test_a_blueprint_in_options_or_in_a_file_is_the_same(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    options = ("--items", "6", "--strokes", "2", "--share", "50%:needle,main_jet", "--at-least", "2:safety")
    file = tmp_path / "wish.yaml"
    file.write_text(
        "items: 6\nstrokes: 2\nshares:\n  - {tags: [needle, main_jet], percent: 50}\n"
        "at_least:\n  - {tags: safety, items: 2}\n"
    )
    assert run(capsys, *options) == run(capsys, "--blueprint", str(file))


def test_formats_go_to_files_and_say_what_they_leave_out(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    wish = ("--items", "4", "--at-least", "1:kind:order_steps", "--at-least", "1:kind:scenario")
    file = tmp_path / "quiz.zip"
    status, out, err = run(capsys, *wish, "--as", "qti", "--out", str(file))
    assert (status, out) == (FINE, "")
    assert "keep the file from students" in err
    assert "left out" in err
    assert zipfile.ZipFile(io.BytesIO(file.read_bytes())).testzip() is None
    status, out, err = run(capsys, *wish, "--as", "gift")
    assert status == FINE
    assert out.startswith("// Quiz")


def test_a_zip_is_not_poured_into_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "--items", "2", "--as", "qti")
    assert (status, out) == (BAD_INPUT, "")
    assert "--out" in err


def test_a_class_is_graded_and_analyzed_from_csv(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    _, out, _ = run(capsys, "--items", "3", "--kind", "which_circuit", "--json", "--key")
    right = [key["answer"][0] for key in json.loads(out)["keys"]]
    sheets = tmp_path / "class.csv"
    sheets.write_text(f"student,q01,q02,q03\nAnn,{','.join(right)}\nBo,{right[0]},,\n")
    wish = ("--items", "3", "--kind", "which_circuit")
    status, out, _ = run(capsys, *wish, "--grade", str(sheets))
    assert status == FINE
    assert "Ann: 3 of 3 points (100%)" in out
    assert "Bo: 1 of 3 points (33%), 2 unanswered" in out
    status, out, _ = run(capsys, *wish, "--analyze", str(sheets))
    assert status == FINE
    assert "Reliability" in out
    status, out, _ = run(capsys, *wish, "--analyze", str(sheets), "--json")
    assert json.loads(out)["sheets"] == 2


def test_what_does_not_fit_is_told_with_whose_sheet_it_is(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    sheets = tmp_path / "class.csv"
    sheets.write_text("student,q01,q02\nAnn,A,B\nBo,Z,B\n,A,7\n")
    status, out, err = run(capsys, "--items", "2", "--kind", "which_circuit", "--grade", str(sheets))
    assert (status, out) == (BAD_INPUT, "")
    assert "Bo, answers.q01: must be one label" in err
    assert "sheet 3, answers.q02: must be one label" in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--items", "many"), "items"),
        (("--items", "0"), "items"),
        (("--share", "needle"), "--share"),
        (("--share", "40:neddle"), "did you mean needle?"),
        (("--share", "60:needle", "--share", "60:main_jet"), "Nearest possible: 100 percent"),
        (("--kind", "which_circit"), "did you mean which_circuit?"),
        (("--family", "round_slid"), "did you mean round_slide?"),
        (("--key", "--grade", "x"), "only one of"),
        (("--grade", "no_such_file.json"), "no such file"),
        (("--blueprint", "x.yaml", "--items", "3"), "not both"),
        (("--items", "200", "--kind", "unsafe_step"), "Nearest possible"),
    ],
)
def test_bad_input_is_refused_by_name(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], said: str
) -> None:
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (BAD_INPUT, "")
    assert said in err


def test_a_broken_sheet_is_refused_with_its_field(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.json"
    sheet.write_text('{"student": "Ann", "answers": {"q1": "A"}}')
    status, _, err = run(capsys, "--items", "2", "--grade", str(sheet))
    assert status == BAD_INPUT
    assert "answers" in err


def test_a_quiz_is_taken_at_the_terminal_with_each_answer_explained(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    wish = ("--items", "3", "--kind", "which_circuit")
    _, out, _ = run(capsys, *wish, "--json", "--key")
    right = [key["answer"][0] for key in json.loads(out)["keys"]]
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{right[0]}\nZ\n{right[1].lower()}\n\n"))
    status, out, _ = run(capsys, *wish, "--take")
    assert status == FINE
    assert "must be one label" in out, "what does not fit is asked again"
    assert "2 of 3 points (67%), 1 unanswered" in out


def test_a_scenario_is_walked_turn_by_turn_at_the_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("A\nA\nA\n"))
    status, out, _ = run(capsys, "--items", "1", "--kind", "scenario", "--take")
    assert status == FINE
    assert out.count("It shows:") >= 2
    assert "The fault was:" in out


def test_a_quiz_ends_where_the_answers_end(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    status, out, _ = run(capsys, "--items", "2", "--take")
    assert status == FINE
    assert "0 of 2 points (0%), 2 unanswered" in out
