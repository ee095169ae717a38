"""The command: answers on standard output, messages on standard error, and the exit status it promises."""

from __future__ import annotations

import io
import json
import re
import socket
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from carbdiag import Case, Diagnosis, Knowledge, __version__, cli, diagnose, lint_command, serve_command
from carbdiag.answers import to_text
from carbdiag.answers.language_check import Translated
from carbdiag.band_schema import BandTable
from carbdiag.cli import main
from carbdiag.command_tools import BAD_INPUT, FINE, OUR_FAULT
from carbdiag.errors import Mistake
from carbdiag.knowledge import default_folder, load_case, shipped_knowledge

CASE = "machine: {family: round_slide, strokes: 2}\nfindings:\n  - {finding: bogs, at: half}\n"


class StandardInput(io.TextIOWrapper):
    """Standard input that holds bytes, or a terminal where nobody types."""

    def __init__(self, raw: bytes, terminal: bool = False) -> None:
        super().__init__(io.BytesIO(raw), encoding="utf-8")
        self._terminal = terminal

    def isatty(self) -> bool:
        return self._terminal


@pytest.fixture
def case_file(tmp_path: Path) -> Path:
    file = tmp_path / "mine.yaml"
    file.write_text(CASE, encoding="utf-8")
    return file


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[str]:
    """Run a command that must refuse its input; its lines on standard error."""
    assert main(arguments) == BAD_INPUT
    out, err = capsys.readouterr()
    assert out == ""
    return err.splitlines()


# ---------------------------------------------------------------------------------------------------------
# diagnose


def test_a_case_file_gives_a_page(case_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["diagnose", str(case_file)]) == FINE
    out, err = capsys.readouterr()
    assert "What I understood (tell me what is wrong)\n  - Round slide, two-stroke\n" in out
    assert "Bogs (half throttle)" in out
    assert err == ""


def test_json_is_a_whole_diagnosis_and_plain_ascii(
    case_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["diagnose", str(case_file), "--json", "--steps", "7"]) == FINE
    out = capsys.readouterr().out
    assert out.isascii()
    answer = Diagnosis.model_validate_json(out)
    assert answer.edition == shipped_knowledge().edition
    assert len(answer.next_steps) == 7


def test_standard_input_is_a_dash(
    case_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["diagnose", str(case_file)])
    from_file = capsys.readouterr().out
    monkeypatch.setattr(sys, "stdin", StandardInput(CASE.encode()))
    assert main(["diagnose", "-"]) == FINE
    assert capsys.readouterr().out == from_file


def test_a_terminal_gets_help_instead_of_silence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", StandardInput(b"", terminal=True))
    assert "Examples:" in refused(capsys, "diagnose", "-")


def test_json_text_and_a_byte_order_mark_are_taken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.json"
    file.write_bytes(b"\xef\xbb\xbf" + json.dumps(load_case(CASE).model_dump(mode="json")).encode())
    assert main(["diagnose", str(file)]) == FINE
    assert "Bogs (half throttle)" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (None, "there is no such file"),
        (b"title: \xff", "is not UTF-8 text (byte 7)"),
        (b"#" * (64 * 1024 + 1), "is larger than 64 KiB"),
    ],
)
def test_a_file_that_cannot_be_used_is_bad_input(
    content: bytes | None, why: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.yaml"
    if content is not None:
        file.write_bytes(content)
    (line,) = refused(capsys, "diagnose", str(file))
    assert line.startswith(f"{file}: {why}")


def test_64_kib_are_still_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "case.yaml"
    file.write_bytes(CASE.encode() + b"#" * (64 * 1024 - len(CASE)))
    assert main(["diagnose", str(file)]) == FINE
    capsys.readouterr()


def test_a_folder_is_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert refused(capsys, "diagnose", str(tmp_path)) == [f"{tmp_path}: is a folder; give a case file"]


def test_a_name_no_file_can_have_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = refused(capsys, "diagnose", "a\0b")
    assert line.startswith("a\\x00b: cannot be read")


def test_broken_yaml_says_the_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "case.yaml"
    file.write_text("id: x\nfindings: [\n", encoding="utf-8")
    (line,) = refused(capsys, "diagnose", str(file))
    assert line.startswith("line 2: not valid YAML")  # there is no line 3 to look at


def test_every_wrong_field_is_listed_with_what_is_allowed_and_the_nearest(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.yaml"
    file.write_text(
        "machine: {strokes: 3, cylnders: 2}\n"
        "findngs: []\n"
        "contexts: [{context: exhaust_changed, status: presnt}]\n"
        "findings: [{finding: Big Bog}, {}, bogs]\n"
        "readings: [{lambda: 9, at: full}]\n"
        "trials: [{do: clean_carburetor, change: needle, effect: worse}]\n"
        "epochs: 4\n",
        encoding="utf-8",
    )
    lines = {line.split(": ")[0]: line for line in refused(capsys, "diagnose", str(file))}
    expected = {
        "machine.strokes": ["'3'", "Allowed: 2, 4."],
        "machine.cylnders": ["unknown field", "did you mean cylinders?", "Allowed: family, strokes"],
        "findngs": ["unknown field", "did you mean findings?"],
        "contexts[0].status": ["did you mean present?", "Allowed: present, denied, unknown."],
        "findings[0].finding": ["must be an id", "'Big Bog'"],
        "findings[1].finding": ["is missing"],
        "findings[2]": ["must be a set of fields", "Allowed: finding, at, status"],
        "readings[0].lambda": ["must be from 0.5 to 1.8", "'9'"],
        "trials[0]": ["one of do (a repair), change (a setting) or tried"],
        "epochs": ["must be a list"],
    }
    assert set(lines) == set(expected)
    for field, parts in expected.items():
        for part in parts:
            assert part in lines[field]


def test_every_unknown_id_is_listed_with_the_nearest_or_where_to_look(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.yaml"
    file.write_text(
        "machine: {family: round_slid}\n"
        "findings: [{finding: bog}, {finding: bogs, at: hlf}, {finding: xyzzy}]\n"
        "checks: [{check: touch_of_choke, at: half, outcome: beter}]\n",
        encoding="utf-8",
    )
    family, bog, place, nowhere, outcome = refused(capsys, "diagnose", str(file))
    assert "did you mean round_slide?" in family
    assert "did you mean bogs?" in bog
    assert "did you mean half?" in place
    assert nowhere.endswith("See: carbdiag list findings")
    assert "did you mean better?" in outcome


def test_an_empty_file_and_a_bare_word_are_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.yaml"
    for text in ("", "bogs"):
        file.write_text(text, encoding="utf-8")
        (line,) = refused(capsys, "diagnose", str(file))
        assert line.startswith("case: must be a set of fields")


def test_nothing_in_a_case_steers_the_terminal_through_a_message(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.yaml"
    file.write_text('findings: [{finding: "\\e[31m\\u202ebogs\\nmore"}]\n"\\e[2J": 1\n', encoding="utf-8")
    lines = refused(capsys, "diagnose", str(file))
    assert len(lines) == 2
    assert not re.search(r"[\x00-\x1f\x7f-\x9f\u202e]", "".join(lines))


@pytest.mark.parametrize("steps", ["21", "-1", "1.5", "three", "", "²"])
def test_steps_are_a_whole_number_from_0_to_20(steps: str, capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = refused(capsys, "demo", f"--steps={steps}")
    assert "must be a whole number from 0 to 20" in line


# ---------------------------------------------------------------------------------------------------------
# demo, bands, list


def test_the_demo_says_that_it_is_invented(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo"]) == FINE
    out, err = capsys.readouterr()
    assert "“Invented: " in out
    assert "This case is invented." in err
    assert "carbdiag demo --case" in err
    case = load_case((default_folder() / "cases" / "demo.yaml").read_text(encoding="utf-8"))
    assert case.source == "invented"
    assert out == to_text(diagnose(case))


def test_the_demo_case_can_be_taken_as_a_start(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["demo", "--json"])
    answer = capsys.readouterr().out
    main(["demo", "--case"])
    mine = tmp_path / "mine.yaml"
    mine.write_text(capsys.readouterr().out, encoding="utf-8")
    main(["diagnose", str(mine), "--json"])
    assert capsys.readouterr().out == answer


def test_bands_show_a_family(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bands", "round_slide", "--strokes", "4"]) == FINE
    assert capsys.readouterr().out.startswith("Round slide, 4-stroke: ")
    assert main(["bands", "round_slide", "--strokes", "4", "--json"]) == FINE
    assert BandTable.model_validate_json(capsys.readouterr().out).strokes == 4


def test_bands_refuse_an_unknown_family_and_a_stroke_it_does_not_have(
    capsys: pytest.CaptureFixture[str],
) -> None:
    (line,) = refused(capsys, "bands", "roundslide")
    assert "did you mean round_slide?" in line
    (line,) = refused(capsys, "bands", "CV carb")
    assert line.startswith("family: unknown family 'CV carb'; did you mean constant_velocity?")
    (line,) = refused(capsys, "bands", "flat_slide_pump", "--strokes", "2")
    assert line.startswith("strokes: ")
    (line,) = refused(capsys, "bands", "round_slide", "--strokes", "3")
    assert "2, 4" in line


@pytest.mark.parametrize("what", cli._LISTS)
def test_list_names_every_record(what: str, capsys: pytest.CaptureFixture[str]) -> None:
    records = getattr(shipped_knowledge(), what)
    assert main(["list", what, "--json"]) == FINE
    listed = json.loads(capsys.readouterr().out)
    assert {r["id"]: r["name"] for r in listed} == {i: r.name for i, r in records.items()}
    assert main(["list", what]) == FINE
    page = capsys.readouterr().out
    assert [line.split()[0] for line in page.splitlines() if not line.startswith(" ")] == list(records)


def test_list_gives_the_places_of_findings_and_the_outcomes_of_checks(
    capsys: pytest.CaptureFixture[str],
) -> None:
    k = shipped_knowledge()
    main(["list", "findings", "--json"])
    assert all(r["at"] == list(k.findings[r["id"]].at) for r in json.loads(capsys.readouterr().out))
    main(["list", "checks", "--json"])
    for record in json.loads(capsys.readouterr().out):
        check = k.checks[record["id"]]
        assert record["outcome"] == list(check.outcomes)
        assert record.get("at", []) == [*check.at, *check.weak_at]


def test_list_looks_for_a_word(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list", "checks", "CHOKE", "--json"]) == FINE
    found = {r["id"] for r in json.loads(capsys.readouterr().out)}
    assert {"touch_of_choke", "choke_home"} <= found < set(shipped_knowledge().checks)
    told = "nothing among the checks says 'xyzzy'; carbdiag list checks shows all of them"
    assert refused(capsys, "list", "checks", "xyzzy") == [told]


# ---------------------------------------------------------------------------------------------------------
# lint, serve


class Report:
    """What linting gives back, as far as the command uses it."""

    def __init__(self, *mistakes: Mistake) -> None:
        self.mistakes = mistakes
        self.warnings = (Mistake("cautions.yaml", "[0].text", "is long"),)
        self.translated = (Translated("es", 1, 2, ("cautions hot.text",)),)

    def __str__(self) -> str:
        return "\n".join(str(m) for m in (*self.mistakes, *self.warnings))


@pytest.mark.parametrize(
    ("mistakes", "status"), [((), FINE), ((Mistake("a.yaml", "id", "unknown\x1b[2J cause", "x"),), BAD_INPUT)]
)
def test_lint_shows_the_report_and_mistakes_are_bad_input(
    mistakes: tuple[Mistake, ...],
    status: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked: list[Path | None] = []

    def lint(folder: Path | None) -> Report:
        asked.append(folder)
        return Report(*mistakes)

    monkeypatch.setattr(lint_command, "lint", lint)
    assert main(["lint", str(tmp_path)]) == status
    out = capsys.readouterr().out
    assert len(out.splitlines()) == len(mistakes) + 1
    assert "\x1b" not in out
    assert main(["lint", "--json"]) == status
    told = json.loads(capsys.readouterr().out)
    assert [m["file"] for m in told["mistakes"]] == [m.file for m in mistakes]
    assert told["not_translated"] == {"es": ["cautions hot.text"]}
    assert asked == [tmp_path, None]


def test_lint_refuses_what_is_not_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    nowhere = tmp_path / "nowhere"
    assert refused(capsys, "lint", str(nowhere)) == [f"{nowhere}: is not a folder"]


def test_serve_runs_the_service_where_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[tuple[str, str, int]] = []
    server = SimpleNamespace(run=lambda app, host, port: ran.append((app.title, host, port)))
    monkeypatch.setitem(sys.modules, "uvicorn", server)
    assert main(["serve"]) == FINE
    assert main(["serve", "--host", "0.0.0.0", "--port", "8080"]) == FINE
    assert [r[1:] for r in ran] == [("127.0.0.1", 8000), ("0.0.0.0", 8080)]


def test_serve_says_in_a_line_what_keeps_it_from_serving(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        assert main(["serve", "--port", str(taken.getsockname()[1])]) == 2
    monkeypatch.setenv("CARBDIAG_KNOWLEDGE", str(tmp_path))
    capsys.readouterr()
    monkeypatch.setattr(serve_command, "shipped_knowledge", Knowledge.load)
    assert refused(capsys, "serve") == [
        f"{tmp_path}: folder: holds no YAML files",
        f"The knowledge in {tmp_path} cannot be used.",
    ]


@pytest.mark.parametrize("missing", ["uvicorn", "fastapi"])
def test_serve_says_what_to_install(
    missing: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, missing, None)
    (line,) = refused(capsys, "serve")
    assert "pip install 'carbdiag[service]'" in line


@pytest.mark.parametrize("port", ["0", "65536", "http"])
def test_serve_refuses_a_port_that_is_none(port: str, capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = refused(capsys, "serve", "--port", port)
    assert "must be a whole number from 1 to 65535" in line


# ---------------------------------------------------------------------------------------------------------
# The command as a whole


def test_help_begins_with_examples(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (
        ["--help"],
        *([c, "--help"] for c in ("diagnose", "bands", "list", "demo", "lint", "serve")),
    ):
        assert main(arguments) == FINE
        assert capsys.readouterr().out.startswith("Examples:\n  carbdiag ")


def test_every_example_in_the_help_is_understood(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--help"])
    examples = re.findall(r"^  carbdiag (.*?)(?:  .*| > .*)?$", capsys.readouterr().out, re.MULTILINE)
    assert len(examples) == 6
    for example in examples:
        assert callable(cli._parser().parse_args(example.split()).run)


def test_the_version_is_the_librarys(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == FINE
    assert capsys.readouterr().out == f"carbdiag {__version__}\n"


@pytest.mark.parametrize(
    "arguments", [[], ["diagnose"], ["nonsense"], ["list", "nonsense"], ["demo", "--stp=1"]]
)
def test_a_command_nobody_knows_is_bad_input(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert "carbdiag" in " ".join(refused(capsys, *arguments))


def test_a_fault_of_ours_is_said_to_be_ours(
    case_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(case: Case, steps: int) -> Diagnosis:
        raise ZeroDivisionError("\x1b[31m")

    monkeypatch.setattr("carbdiag.diagnose_command.diagnose", fail)
    assert main(["diagnose", str(case_file)]) == OUR_FAULT
    out, err = capsys.readouterr()
    assert out == ""
    assert "the fault is ours" in err.splitlines()[-1]
    assert "\x1b" not in err


def test_a_reader_who_leaves_early_is_no_error() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "carbdiag.cli", "bands", "round_slide", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait() == FINE


def test_a_full_disk_is_not_called_a_fault_of_ours() -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "carbdiag.cli", "list", "findings"], stdout=full, stderr=subprocess.PIPE, check=False
        )
    assert done.returncode == 2
    assert done.stderr.decode() == "the answer cannot be written (No space left on device)\n"



def test_a_terminal_that_knows_only_ascii_still_gets_its_page(case_file: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "carbdiag.cli", "diagnose", str(case_file)],
        env={"PYTHONIOENCODING": "ascii:strict", "PATH": ""},
        capture_output=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (FINE, b"")
    assert b"What I understood" in done.stdout


def test_no_color_code_is_ever_written(case_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (["demo"], ["bands", "round_slide"], ["list", "checks"], ["diagnose", str(case_file)]):
        main(arguments)
        assert "\x1b" not in "".join(capsys.readouterr())
