"""The tuning commands: options or a request file in, text, JSON, CSV or a picture out, refusals under option names."""

from __future__ import annotations

import csv
import importlib
import io
import json
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import get_args

import pytest
from pydantic import BaseModel

from carbdiag import tuning
from carbdiag.answers.tuning_text import tuning_text
from carbdiag.cli import main
from carbdiag.command_tools import BAD_INPUT, FINE
from carbdiag.strict_yaml import parse_yaml
from carbdiag.tuning_options import GROUPS, options
from carbdiag.tuning_schema import (
    AirAnswer,
    AirInput,
    CorrectionAnswer,
    CorrectionRequest,
    ResizeAnswer,
    ResizeRequest,
    SweepAnswer,
    SweepRequest,
)

EXAMPLES = Path(__file__).parents[1] / "docs" / "examples"
MACHINE = ("--family", "round_slide", "--strokes", "2")
JETS = ("--main-jet", "160", "--pilot-jet", "45", "--jet-numbering", "bore", "--clip-groove", "3")
FROM_LOW = ("--set-elevation-m", "300", "--set-temperature-c", "25")
TO_HIGH = ("--elevation-m", "2400", "--temperature-c", "5")

#: The options that say the same as docs/examples.
AS_OPTIONS = {
    "resize": (*MACHINE, *JETS, "--grooves", "5", *FROM_LOW, *TO_HIGH),
    "correct": (*MACHINE, *JETS, "--at", "full", "--mixture", "lean"),
    "sweep": (
        *MACHINE, *JETS, "--elevation-m", "300", "--temperature-c", "25",
        "--before-elevation-m", "2400", "--before-temperature-c", "5", "--after-main-jet", "155",
    ),
}  # fmt: skip
ANSWERS = {"resize": ResizeAnswer, "correct": CorrectionAnswer, "sweep": SweepAnswer}


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """Standard output of a command that must succeed without a word on standard error."""
    assert main(arguments) == FINE
    out, err = capsys.readouterr()
    assert err == ""
    return out


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """Standard error of a command that must refuse its input."""
    assert main(arguments) == BAD_INPUT
    out, err = capsys.readouterr()
    assert out == ""
    return err


@pytest.mark.parametrize("command", list(AS_OPTIONS))
def test_options_and_the_same_request_file_give_the_same_answer(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    from_file = said(capsys, command, str(EXAMPLES / f"{command}.yaml"))
    assert said(capsys, command, *AS_OPTIONS[command]) == from_file


@pytest.mark.parametrize("command", list(AS_OPTIONS))
def test_json_is_the_whole_answer_in_plain_ascii(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, command, *AS_OPTIONS[command], "--json")
    assert out.isascii()
    answer = ANSWERS[command].model_validate_json(out)
    assert tuning_text(answer) == said(capsys, command, *AS_OPTIONS[command])  # type: ignore[arg-type]


def test_the_command_says_what_the_library_says(capsys: pytest.CaptureFixture[str]) -> None:
    request = ResizeRequest.model_validate(parse_yaml((EXAMPLES / "resize.yaml").read_text(encoding="utf-8")))
    assert said(capsys, "resize", *AS_OPTIONS["resize"]) == tuning_text(tuning.resize(request))


def test_air_says_which_pressure_it_took(capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "air", "--qnh-hpa", "1021", "--elevation-m", "600", "--temperature-c", "-12")
    assert "QNH 1021 hPa brought back up to 600 m" in out
    assert "density altitude" in out
    read = said(capsys, "air", "--station-hpa", "941", "--temperature-c", "9", "--json")
    assert AirAnswer.model_validate_json(read).pressure_from == "station"


@pytest.mark.parametrize("as_json", [False, True])
def test_a_request_comes_from_standard_input_as_yaml_or_json(
    as_json: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (EXAMPLES / "correct.yaml").read_text(encoding="utf-8")
    sent = json.dumps(parse_yaml(text)) if as_json else text
    source = io.TextIOWrapper(io.BytesIO(sent.encode()))
    monkeypatch.setattr(sys, "stdin", source)
    assert said(capsys, "correct", "-") == said(capsys, "correct", *AS_OPTIONS["correct"])


def test_csv_holds_every_row(capsys: pytest.CaptureFixture[str]) -> None:
    rows = list(csv.DictReader(io.StringIO(said(capsys, "sweep", *AS_OPTIONS["sweep"], "--points", "5", "--csv"))))
    assert [r["opening"] for r in rows] == ["0.0000", "0.2500", "0.5000", "0.7500", "1.0000"]
    assert float(rows[-1]["before_x"]) < float(rows[-1]["after_x"]) < 0


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_a_plot_is_drawn_beside_the_answer(ending: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / f"plan.{ending}"
    assert main(["sweep", *AS_OPTIONS["sweep"], "--plot", str(file)]) == FINE
    out, err = capsys.readouterr()
    assert out.startswith("Round slide")
    assert str(file) in err
    assert file.stat().st_size > 10_000


def test_without_matplotlib_the_plot_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def missing(name: str) -> object:
        if name.startswith("matplotlib"):
            raise ModuleNotFoundError(name=name)
        return importlib.import_module(name)

    plot = importlib.import_module("carbdiag.answers.sweep_plot")
    monkeypatch.setattr(plot, "importlib", SimpleNamespace(import_module=missing))
    assert "pip install 'carbdiag[plots]'" in refused(
        capsys, "sweep", *AS_OPTIONS["sweep"], "--plot", str(tmp_path / "x.svg")
    )
    assert not list(tmp_path.iterdir())


def test_the_command_starts_without_matplotlib() -> None:
    script = (
        "import sys; from carbdiag.cli import main; end = main(['sweep', '--family', 'round_slide', '--points', '5']);"
        "sys.exit(end or any(m.startswith('matplotlib') for m in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", script], stdout=subprocess.DEVNULL, check=False).returncode == 0


REFUSALS = {
    "ambient of 90 C": (("air", "--temperature-c", "90", "--elevation-m", "0"), "--temperature-c: must be from -45"),
    "humidity of 1.2": (
        ("air", "--temperature-c", "9", "--elevation-m", "0", "--humidity-percent", "1.2"),
        "--humidity-percent: must be in percent (50, not 0.5)",
    ),
    "negative pressure": (("air", "--temperature-c", "9", "--station-hpa", "-1"), "--station-hpa: must be from 400"),
    "no number": (("air", "--temperature-c", "warm"), "argument --temperature-c: must be a number, got 'warm'"),
    "not finite": (("air", "--temperature-c", "nan"), "argument --temperature-c: must be a number, got 'nan'"),
    "jets of no numbering": (("sweep", *MACHINE, "--main-jet", "160"), "--main-jet: say how the jets are numbered"),
    "groove 0": (("sweep", *MACHINE, "--clip-groove", "0"), "--clip-groove: must be from 1 to 12, got '0'"),
    "groove beyond the needle": (("sweep", *MACHINE, "--clip-groove", "6"), "--clip-groove: clip groove must be"),
    "needle thicker than its jet": (
        ("sweep", *MACHINE, "--needle-straight-mm", "2.8", "--needle-jet-mm", "2.7"),
        "--needle-straight-mm: needle straight diameter must be from 0.5 to 2.7 mm, got 2.8 mm",
    ),
    "a jet beside none": (
        ("sweep", *MACHINE, "--after-main-jet", "155", "--jet-numbering", "bore"),
        "--after-main-jet: cannot be compared",
    ),
    "unknown family": (("sweep", "--family", "round_slid"), "--family: unknown family 'round_slid'; did you mean"),
    "no opening": (("correct", *MACHINE, "--mixture", "lean"), "--at: is missing"),
    "file and options": (("sweep", "plan.yaml", *MACHINE), "either a request file or options"),
    "no such file": (("resize", "nowhere.yaml"), "nowhere.yaml: there is no such file"),
    "plot of another kind": (("sweep", *MACHINE, "--plot", "x.pdf"), "--plot: the file must end in .svg or .png"),
    "plot nowhere": (("sweep", *MACHINE, "--plot", "no/such/x.svg"), "cannot be written"),
    "csv and json": (("sweep", *MACHINE, "--csv", "--json"), "either --json or --csv"),
}  # fmt: skip


@pytest.mark.parametrize("name", list(REFUSALS))
def test_what_cannot_be_used_is_refused_under_its_option(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    arguments, says = REFUSALS[name]
    err = refused(capsys, *arguments)
    assert says in err
    assert "Traceback" not in err


def test_a_wrong_field_of_a_file_keeps_its_path(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "plan.yaml"
    file.write_text("machine: {family: round_slide, part: 3}\n", encoding="utf-8")
    assert "machine.part: unknown field; did you mean parts?" in refused(capsys, "sweep", str(file))


def test_mixed_numberings_in_a_file_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "plan.yaml"
    file.write_text(
        "machine: {family: round_slide, parts: {main_jet: {number: 300, numbering: flow}}}\n"
        "after: {parts: {main_jet: {number: 160, numbering: bore}}}\n",
        encoding="utf-8",
    )
    assert "after.parts.main_jet: bore numbers and flow numbers" in refused(capsys, "sweep", str(file))


@pytest.mark.parametrize("command", list(GROUPS))
def test_no_options_and_no_file_show_the_help_with_examples(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    err = refused(capsys, command)
    assert err.startswith("Examples:\n")
    assert all(f"--{o.name}" in err for o in options(command))


MODELS: dict[str, type[BaseModel]] = {
    "air": AirInput,
    "resize": ResizeRequest,
    "correct": CorrectionRequest,
    "sweep": SweepRequest,
}


def models_in(annotation: object) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [m for inner in get_args(annotation) for m in models_in(inner)]


@pytest.mark.parametrize("command", list(GROUPS))
def test_every_option_fills_a_field_of_its_request(command: str) -> None:
    for option in options(command):
        model = MODELS[command]
        for n, step in enumerate(option.path):
            fields = {f.alias or name: f for name, f in model.model_fields.items()}
            assert step in fields, f"--{option.name}"
            if n < len(option.path) - 1:
                (model,) = models_in(fields[step].annotation)
