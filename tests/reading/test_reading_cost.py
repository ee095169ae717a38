"""Reading costs no more than in proportion to the text, counted in calls, which no busy machine changes."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import FrameType

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.reading.phrasebook import phrasebook
from tests.reading.benchmark_script import benchmark

K = Knowledge.load()
phrasebook(K, "en")


def calls(text: str) -> int:
    """Calls of Python functions that reading a text takes."""
    counted = 0

    def count(_frame: FrameType, event: str, _argument: object) -> None:
        nonlocal counted
        counted += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        read_text(text, K)
    finally:
        sys.setprofile(before)
    return counted


@pytest.mark.parametrize("name", benchmark.ADVERSE)
def test_four_times_the_text_takes_about_four_times_the_calls(name: str) -> None:
    part, whole = (calls(benchmark.adverse(name, length)) for length in (3_000, 12_000))
    assert whole <= 4.6 * part + 2_000


def test_reading_a_post_by_command_loads_nothing_of_diagnosis() -> None:
    post = Path(__file__).parents[2] / "docs" / "examples" / "post.txt"
    code = (
        f"import sys, carbdiag.cli; status = carbdiag.cli.main(['read', {str(post)!r}]);"
        "sys.exit(status or not {'numpy', 'carbdiag.diagnosis'}.isdisjoint(sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, capture_output=True).returncode == 0
