"""Reading costs no more than in proportion to the text, counted in steps, which no busy machine changes."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import FrameType

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.reading.phrasebook import phrasebook
from tests.reading.benchmark_script import benchmark

#: Of its own: words that other tests have had read are known already, and cost nothing.
K = Knowledge.load()
phrasebook(K, "en")


def steps(text: str) -> int:
    """Lines of Python run, each turn of a loop within one too, and calls of C functions that reading a text takes."""
    counted = 0

    def line(_frame: FrameType, _event: str, _argument: object) -> object:
        nonlocal counted
        counted += 1
        return line

    def call(_frame: FrameType, event: str, _argument: object) -> None:
        nonlocal counted
        counted += event == "c_call"

    before = sys.getprofile(), sys.gettrace()
    sys.setprofile(call)
    sys.settrace(line)
    try:
        read_text(text, K)
    finally:
        sys.setprofile(before[0])
        sys.settrace(before[1])
    return counted


@pytest.mark.parametrize("name", benchmark.ADVERSE)
def test_four_times_the_text_takes_about_four_times_the_steps(name: str) -> None:
    part, whole = (steps(benchmark.adverse(name, length)) for length in (2_000, 8_000))
    assert whole <= 4.1 * part + 2_000


def test_reading_a_post_by_command_loads_nothing_of_diagnosis() -> None:
    post = Path(__file__).parents[2] / "docs" / "examples" / "post.txt"
    code = (
        f"import sys, carbdiag.cli; status = carbdiag.cli.main(['read', {str(post)!r}]);"
        "sys.exit(status or not {'numpy', 'carbdiag.diagnosis'}.isdisjoint(sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, capture_output=True).returncode == 0
