"""A post as a case file to put right by hand: the words beside each statement, and it reads back as the case."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag import case_of, load_case, read_text
from carbdiag.answers.case_sheet import case_sheet
from carbdiag.cli import main
from carbdiag.knowledge import shipped_knowledge
from tests.reading.benchmark_script import benchmark

POST = (
    "125 two stroke. It bogs at half throttle, no black smoke. Cleaned the carb, no difference. "
    "Then I leaned the air screw out and now it stalls at idle. The wombat hums."
)


def test_each_statement_stands_in_one_line_with_its_words() -> None:
    sheet = case_sheet(read_text(POST, shipped_knowledge())).splitlines()
    parts = ("finding: bogs", "clean_carburetor", "black_smoke")
    line = {part: next((s for s in sheet if part in s), "") for part in parts}
    assert line["finding: bogs"].endswith("# “bogs”")
    assert "status: denied" in line["black_smoke"]
    assert "# “" in line["clean_carburetor"]
    assert any(s.startswith("# not understood: ") and "wombat" in s for s in sheet)


def test_it_reads_back_as_the_case_of_the_post() -> None:
    k = shipped_knowledge()
    for post in benchmark.labels("development_2"):
        reading = read_text(benchmark.texts()[post], k)
        assert load_case(case_sheet(reading)) == case_of(reading)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(["It bogs", "\x85", "\u2028", "\x07", "# x", "”", "'", '"', "{", "at half.", "\n"])))
def test_nothing_a_poster_writes_becomes_part_of_the_case(parts: list[str]) -> None:
    reading = read_text(" ".join(["Wont start.", *parts]), shipped_knowledge())
    assert load_case(case_sheet(reading)) == case_of(reading)


def test_the_command_prints_it_or_the_case_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    post = tmp_path / "post.txt"
    post.write_text(POST, encoding="utf-8")
    want = case_of(read_text(POST, shipped_knowledge()))
    for arguments in (["--case"], ["--case", "--json"]):
        assert main(["read", str(post), *arguments]) == 0
        assert load_case(capsys.readouterr().out) == want
