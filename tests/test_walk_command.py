"""`carbdiag walk` in a real terminal: keyboard only, resumable, the case file whole at every moment."""

from __future__ import annotations

import json
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

import pytest

from carbdiag import Case, load_case
from carbdiag.case_file import case_text, heading_of, write_whole
from carbdiag.cli import main
from carbdiag.knowledge import shipped_knowledge
from carbdiag.walk_answer import asked_so_far

START = """\
# My notes stay where they are.
machine: {family: round_slide, strokes: 2, cylinders: 1}
findings:
  - {finding: bogs, at: half}
"""
PATIENCE_S = 60
_GRACE_S = 10
"""In which even a busy machine ends after an interrupt."""


#: A suite that runs in the background may have interrupts switched off, and hands that on.
BEGIN = (
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from carbdiag.cli import main; sys.exit(main(sys.argv[1:]))"
)


class Terminal:
    """`carbdiag walk` on a pseudo-terminal, as a rider at a keyboard has it."""

    def __init__(self, *arguments: str) -> None:
        self.master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-c", BEGIN, "walk", *arguments],
            stdin=slave, stdout=slave, stderr=slave, close_fds=True, start_new_session=True,
        )  # fmt: skip
        os.close(slave)
        self.seen = ""

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        os.close(self.master)

    def until(self, words: str) -> str:
        """Read until these words are on the screen."""
        start = len(self.seen)
        while words not in self.seen[start:]:
            ready, _, _ = select.select([self.master], [], [], PATIENCE_S)
            assert ready, f"waited for {words!r}, saw {self.seen[start:]!r}"
            try:
                data = os.read(self.master, 65536)
            except OSError:
                data = b""
            assert data, f"it ended before {words!r}; saw {self.seen[start:]!r}"
            self.seen += data.decode("utf-8", "replace")
        return self.seen[start:]

    def type(self, line: str) -> None:
        os.write(self.master, (line + "\n").encode())

    def interrupt(self) -> int:
        """Ctrl-C, and again only where nothing came of it: one just before the keyboard is read shows with the next."""
        for _ in range(PATIENCE_S // _GRACE_S):
            os.killpg(self.process.pid, signal.SIGINT)
            patience = time.monotonic() + _GRACE_S
            while self.process.poll() is None and time.monotonic() < patience:
                time.sleep(0.05)
            if self.process.poll() is not None:
                return self.end()
        raise AssertionError(f"still running; saw {self.seen!r}")

    def end(self) -> int:
        """Wait for it to end."""
        while True:
            try:
                data = os.read(self.master, 65536)
            except OSError:
                break
            if not data:
                break
            self.seen += data.decode("utf-8", "replace")
        return self.process.wait(PATIENCE_S)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.yaml"
    path.write_text(START, encoding="utf-8")
    return path


PROMPT = "Answer (? for help): "


def test_a_walk_at_the_keyboard_is_saved_stopped_and_gone_on_with(file: Path) -> None:
    with Terminal(str(file)) as t:
        shown = t.until(PROMPT)
        assert "Question 1 of at most 10" in shown
        assert "don't know, or can't" in shown
        t.type("1")
        t.until(PROMPT)
        assert asked_so_far(load_case(file.read_text(encoding="utf-8"))) == 1  # written before the next question
        t.type("0")
        t.until(PROMPT)
        t.type("2?")
        t.until(PROMPT)
        t.type("q")
        assert t.end() == 0
        assert f"To go on: carbdiag walk {file}" in t.seen
    text = file.read_text(encoding="utf-8")
    assert text.startswith("# My notes stay where they are.\n")
    case = load_case(text)
    assert asked_so_far(case) == 3
    assert len(case.unanswered) == 1
    with Terminal(str(file)) as t:
        assert "Question 4 of at most 10" in t.until(PROMPT)


def test_back_takes_the_last_answer_out_of_the_file(file: Path) -> None:
    with Terminal(str(file)) as t:
        t.until(PROMPT)
        before = load_case(file.read_text(encoding="utf-8"))
        t.type("1")
        t.until(PROMPT)
        assert load_case(file.read_text(encoding="utf-8")) != before
        t.type("b")
        assert "Question 1 of at most 10" in t.until(PROMPT)
        assert load_case(file.read_text(encoding="utf-8")) == before
        t.type("b")
        t.until("nothing to take back")


def test_what_makes_no_sense_is_asked_again(file: Path) -> None:
    with Terminal(str(file)) as t:
        t.until(PROMPT)
        for line in ("99", "1????", "-1", "x"):
            t.type(line)
            assert "is none of these" in t.until(PROMPT)
        t.type("yes please")
        assert "Nothing of that was understood" in t.until(PROMPT)
        assert file.read_text(encoding="utf-8") == START


def test_words_are_read_shown_and_taken_back(file: Path) -> None:
    with Terminal(str(file)) as t:
        t.until(PROMPT)
        t.type("idles fine but it surges at full throttle")
        shown = t.until(PROMPT)
        assert "Surges at a steady opening (full throttle)" in shown
        told = {(f.finding, *f.at) for f in load_case(file.read_text(encoding="utf-8")).findings}
        assert {("bogs", "half"), ("surges", "full")} <= told
        t.type("b")
        t.until(PROMPT)
        assert file.read_text(encoding="utf-8") == case_text(load_case(START), as_json=False, heading=heading_of(START))


def test_an_outcome_may_be_typed_out(file: Path) -> None:
    with Terminal(str(file)) as t:
        shown = re.search(r"^  1  (\S+(?: \S+)*)  ", t.until(PROMPT), re.MULTILINE)
        assert shown is not None
        t.type(f"{shown[1].upper()}?")
        t.until(PROMPT)
        assert asked_so_far(load_case(file.read_text(encoding="utf-8"))) == 1


def test_help_causes_and_other_steps_are_one_key_away(file: Path) -> None:
    file.write_text(START + "  - {finding: surges, at: half}\n", encoding="utf-8")
    with Terminal(str(file)) as t:
        t.until(PROMPT)
        t.type("?")
        helped = t.until(PROMPT)
        assert "take the last answer back" in re.sub(r"\s+", " ", helped)
        assert "none of these" not in helped
        t.type("c")
        shown = t.until(PROMPT)
        assert re.search("(for|against) it, beside", shown)
        assert "what would change my mind" in shown
        t.type("o")
        t.until("Which one?")
        t.type("1")
        t.until(PROMPT)
        t.type("0")
        t.until(PROMPT)
        assert load_case(file.read_text(encoding="utf-8")).unanswered


def test_end_of_input_is_a_way_to_stop(file: Path) -> None:
    with Terminal(str(file)) as t:
        t.until(PROMPT)
        os.write(t.master, b"\x04")
        assert t.end() == 0
        assert "The case is in" in t.seen


def test_an_interrupt_leaves_a_whole_case(file: Path) -> None:
    with Terminal(str(file)) as t:
        t.until(PROMPT)
        t.type("1")
        t.until(PROMPT)
        assert t.interrupt() == 130
        assert f"To go on: carbdiag walk {file}" in t.seen.splitlines()[-1]
    assert asked_so_far(load_case(file.read_text(encoding="utf-8"))) == 1


def test_a_new_case_begins_with_the_machine_and_what_it_does(tmp_path: Path) -> None:
    file = tmp_path / "new.yaml"
    with Terminal(str(file)) as t:
        t.until("Two-stroke or four-stroke?")
        t.type("1")
        assert "What is it used for?" in t.until("Number: ")
        t.type("11")
        kinds = t.until("Number: ")
        assert kinds.index("Diaphragm") < kinds.index("Butterfly") < kinds.index("Flat slide")
        t.type("1")
        t.until("How many cylinders?")
        t.type("1")
        t.until("What does it do?")
        t.type("nothing like this at all")
        t.until("What does it do?")
        t.type("bogs")
        t.until("Which one?")
        t.type("1")
        t.until("Number (Enter if you can't say)")
        t.type("2")
        t.until("What does it do?")
        t.type("")
        t.until("What was changed")
        t.type("")
        t.until(PROMPT)
        t.type("q")
        assert t.end() == 0
    case = load_case(file.read_text(encoding="utf-8"))
    assert (case.machine.strokes, case.machine.use, case.machine.family) == (2, "garden_machine", "diaphragm")
    assert case.findings


# ---------------------------------------------------------------------------------------------------------
# Without a terminal


def test_json_gives_one_step_and_writes_nothing(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["walk", str(file), "--json"]) == 0
    now = json.loads(capsys.readouterr().out)
    assert now["steps"]
    assert file.read_text(encoding="utf-8") == START


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["walk", "-"], "writes its answers into the case file"),
        (["walk", "CASE", "--asks", "99"], "from 0 to 50"),
        (["walk", "/nowhere/at/all.yaml"], "cannot be written (there is no such folder)"),
        (["walk", "WRONG"], "\nfindings[0].finding: unknown finding 'bog'"),
        (["walk", "WRONG", "--json"], "\nfindings[0].finding: unknown finding 'bog'"),
    ],
)
def test_what_cannot_be_walked_says_why(
    file: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    says: str,
) -> None:
    wrong = file.with_name("wrong.yaml")
    wrong.write_text("findings: [{finding: bog}]\n", encoding="utf-8")
    monkeypatch.setattr("builtins.input", lambda _="": pytest.fail("nothing is to be asked"))
    assert main([{"CASE": str(file), "WRONG": str(wrong)}.get(a, a) for a in arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in "\n" + err


def test_a_keyboard_that_knows_only_ascii_is_no_fault(file: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", BEGIN, "walk", str(file)],
        input="l\u00e4uft\nq\n".encode(),
        env={**os.environ, "PYTHONIOENCODING": "ascii:strict"},
        capture_output=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"Nothing of that was understood" in done.stdout


def test_a_folder_that_takes_no_file_says_why(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answers: Iterator[str] = iter(["1", "1", "1", "", "", ""])
    monkeypatch.setattr("builtins.input", lambda _="": next(answers))
    assert main(["walk", "/proc/mine.yaml"]) == 2
    assert "/proc/mine.yaml: cannot be written" in capsys.readouterr().err


def test_a_file_is_replaced_whole_or_not_at_all(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise OSError("disk is full")

    monkeypatch.setattr(os, "replace", fails)
    with pytest.raises(OSError, match="disk is full"):
        write_whole(file, "something else\n")
    assert file.read_text(encoding="utf-8") == START
    assert [p.name for p in file.parent.iterdir()] == [file.name]


def test_a_file_keeps_its_rights_and_its_heading(file: Path) -> None:
    file.chmod(0o640)
    text = case_text(load_case(START), as_json=False, heading=heading_of(START))
    write_whole(file, text)
    assert file.stat().st_mode & 0o777 == 0o640
    assert text.startswith("# My notes")
    assert load_case(text) == load_case(START)
    assert json.loads(case_text(load_case(START), as_json=True))["machine"]["strokes"] == 2


@pytest.mark.parametrize("title", ["n", "Y", "1e3", "1.5e3", "a\x85b", "it's: so", "\u2028", "{}"])
def test_a_title_reads_back_as_it_was_whatever_yaml_makes_of_it(title: str) -> None:
    for as_json in (True, False):
        assert load_case(case_text(Case(title=title), as_json=as_json)).title == title


POST = "My 125 two stroke wont rev past half throttle, it bogs. Gas drips on the floor. Fitted a new plug, no change."


def test_a_walk_may_begin_with_a_post_and_has_it_in_the_file_before_the_first_question(tmp_path: Path) -> None:
    post, file = tmp_path / "post.txt", tmp_path / "mine.yaml"
    post.write_text(POST, encoding="utf-8")
    with Terminal(str(file), "--text", str(post)) as t:
        t.until(PROMPT)
        begun = load_case(file.read_text(encoding="utf-8"))
        assert {f.finding for f in begun.findings} >= {"bogs", "fuel_overflow"}
        assert [(trial.do, trial.effect) for trial in begun.trials] == [("replace_plug", "no_change")]
        t.type("q")
        assert t.end() == 0
    with Terminal(str(file), "--text", str(post)) as t:  # the same post again adds nothing
        t.until(PROMPT)
        t.type("q")
        t.end()
    assert load_case(file.read_text(encoding="utf-8")) == begun


def test_what_must_not_be_done_now_stands_above_every_question(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text(
        "findings: [{finding: fuel_overflow, at: parked}, {finding: tightened_then_freed, at: hard_running}]\n",
        encoding="utf-8",
    )
    with Terminal(str(file)) as t:
        for _ in range(2):
            shown = " ".join(t.until(PROMPT).split())
            assert "! Fuel is leaking: shut the tap, no flame near." in shown
            assert shown.index("! ") < shown.index("Likeliest so far")
            for hold in ("fuel_leaks", "may_be_damaged"):
                assert f"! {shipped_knowledge().holds[hold].name}." in shown
            t.type("0")
        t.until(PROMPT)
        t.type("q")
        t.end()


def test_a_setting_moved_for_the_worse_is_to_be_put_back_first(file: Path) -> None:
    trial = "trials:\n  - {change: mixture_screw, direction: leaner, effect: worse}\n"
    file.write_text(START + trial, encoding="utf-8")
    with Terminal(str(file)) as t:
        shown = " ".join(t.until(PROMPT).split())
        assert "Before anything else, put back what made it worse: mixture screw." in shown
        t.type("q")
        t.end()


CURED = START + "trials:\n  - {change: needle, direction: richer, effect: cured}\n"


def test_a_walk_that_is_done_can_be_gone_on_with_when_it_came_back(file: Path) -> None:
    file.write_text(CURED, encoding="utf-8")
    with Terminal(str(file)) as t:
        t.until("Enter to stop;")
        for line, then in (("a", "What else did you see?"), ("surges", "Which one?"), ("1", "Where?")):
            t.type(line)
            t.until(then)
        t.type("3")
        t.until(PROMPT)
        t.type("q")
        t.end()
    told = load_case(file.read_text(encoding="utf-8"))
    assert [f.finding for f in told.history()[-1].findings] == ["surges"]


def test_a_walk_that_is_done_ends_with_enter_and_asks_nothing(file: Path) -> None:
    file.write_text(CURED, encoding="utf-8")
    with Terminal(str(file)) as t:
        t.until("Enter to stop;")
        t.type("nonsense")
        t.until("Enter to stop;")
        t.type("b")
        t.until("last answer back:")
        t.type("")
        assert t.end() == 0
    assert "There is nothing to take back in this sitting." in t.seen
    assert PROMPT not in t.seen


def test_cured_by_a_slip_of_the_finger_is_taken_back(file: Path) -> None:
    before = START.replace("half", "full") + "checks: [{check: touch_of_choke, at: full, outcome: better}]\n"
    file.write_text(before, encoding="utf-8")
    with Terminal(str(file), "--asks", "0") as t:
        t.until(PROMPT)
        t.type("1")
        t.until("Two numbers")  # which sizes; a needle, a screw or a repair would ask for other things
        t.type("")
        t.until("Enter to stop;")
        t.type("b")
        assert "Taken back." in t.until(PROMPT)
        t.type("q")
        t.end()
    assert load_case(file.read_text(encoding="utf-8")) == load_case(before)


def test_letters_may_be_large_and_an_empty_line_shows_what_may_be_typed(file: Path) -> None:
    with Terminal(str(file)) as t:
        t.until(PROMPT)
        t.type("")
        assert "A number answers;" in t.until(PROMPT)
        t.type("C")
        assert "what would change my mind" in t.until(PROMPT)
        t.type("Q")
        assert t.end() == 0


def test_what_could_not_be_told_is_noted_in_plain_words(file: Path) -> None:
    with Terminal(str(file)) as t:
        t.until(PROMPT)
        t.type("0")
        t.until(": don't know, or can't.")
        t.type("q")
        t.end()
