"""Two temperatures alone tell the air it was set for and the air now, in the scale that asks for more fuel if in doubt.

From a post: "Its -30. jets are for -10. ... 8000 rpm lake runs" was asked about its air filter.
"""

from __future__ import annotations

import pytest

from carbdiag import diagnose, read_text
from carbdiag.knowledge import shipped_knowledge
from carbdiag.reading.casing import case_of

K = shipped_knowledge()


@pytest.mark.parametrize(
    ("text", "was", "now"),
    [
        ("Its -30. jets are for -10.", -10, -30),
        ("jetted for 20 degrees, now its -10", 20, -10),
        ("ran perfect at 20C, now its 0 and it hangs", 20, 0),
        ("it was -5 this morning, jetted at 25", 25, -5),
        ("set up at 75 degrees, now its 98", 23.9, 36.7),  # hotter: Fahrenheit, in which they lie closer together
    ],
)
def test_degrees_of_then_and_of_now_are_read_as_air(text: str, was: float, now: float) -> None:
    air = read_text(text, K).air
    assert air is not None
    assert (air.set.temperature_c, air.now.temperature_c) == (was, now)


@pytest.mark.parametrize(
    "text", ["engine gets to 90 degrees and dies", "its 30 degrees out", "timing is 22 degrees, was 18"]
)
def test_other_degrees_are_no_change_of_air(text: str) -> None:
    assert read_text(text, K).air is None


def test_who_rides_in_the_cold_on_jets_for_warmer_air_is_told_jets_first() -> None:
    diagnosis = diagnose(case_of(read_text("My sled bogs. Its -30. jets are for -10.", K)), K)
    assert diagnosis.causes[0].id == "air_denser"
    assert diagnosis.do_now == "air_denser"


def test_a_number_before_a_colon_is_no_jet() -> None:
    case = case_of(read_text("after jetting for the pipe on the 450: main 170, pilot 45. It bogs.", K))
    assert case.machine.parts is not None
    assert case.machine.parts.main_jet_marked == 170
