"""Parts swapped between cylinders: whether the fault went with them, and that no new part was fitted."""

from __future__ import annotations

import pytest

from carbdiag import TextReading, read_text


def swaps(reading: TextReading) -> set[tuple[str, str]]:
    return {(c.check, c.outcome) for c in reading.checks if c.check.startswith("swap_")}


@pytest.mark.parametrize(
    ("check", "text"),
    [
        ("swap_plugs", "Swapped plugs between 1 and 2 and the dead one stayed at 2."),
        ("swap_plugs", "swapped plugs 1 and 2 and its still cylinder 2 that is dead"),
        ("swap_plugs", "Swapped the plugs around, still number 3 thats cold"),
        ("swap_plugs", "I swapped plugs from the good cylinder to the bad one, no change, same cylinder misses"),
        ("swap_coils", "swapped coils left to right and the dead cylinder stayed on the left"),
        ("swap_coils", "Switched the coils, still number 2 not firing"),
        ("swap_coils", "Tried swapping the coils from side to side, the problem stayed with the left cylinder"),
        ("swap_carb_parts", "swapped slides left to right, still the left cylinder"),
        ("swap_coils", "Swapped the coils side to side, still the left."),
        ("swap_carb_parts", "switched the slides between carbs and the left one still lags"),
        ("swap_carb_parts", "swapped carbs side to side and the white followed the cylinder not the carb"),
        ("swap_plugs", "swapped the plugs left to right and the misfire stayed with the left cylinder"),
        ("swap_coils", "swapped the HT leads over, carbs are in balance: no better. Now the odd bit."),
    ],
)
def test_the_fault_stayed_where_it_was(check: str, text: str) -> None:
    reading = read_text(text)
    assert swaps(reading) == {(check, "fault_stays")}
    assert not reading.trials  # nothing new was fitted


@pytest.mark.parametrize(
    ("check", "text"),
    [
        ("swap_plugs", "swapped plugs between 1 and 2 and now number 1 is dead"),
        ("swap_plugs", "swapped the plugs over and now the other cylinder is dead"),
        ("swap_plugs", "swapped plugs 3 and 4, now 4 misses instead of 3"),
        ("swap_plugs", "moved the plug from the dead cylinder to the good one and the problem went with it"),
        ("swap_coils", "swapped the coils over and now 1 and 4 are dead"),
        ("swap_carb_parts", "swapped the pilot jets between 2 and 3 and the dead one moved to 3"),
        ("swap_plugs", "plugs swapped left to right, fault follows the plug"),
        ("swap_coils", "Coils switched around, now the other cylinder misses"),
        ("swap_carb_parts", "carbs swapped left to right, the dead side moved with it"),
    ],
)
def test_the_fault_went_with_the_part(check: str, text: str) -> None:
    reading = read_text(text)
    assert swaps(reading) == {(check, "fault_moves")}
    assert not reading.trials


@pytest.mark.parametrize(
    "text",
    [
        "swapped the plugs over to iridium, no change",
        "swapped plugs around 500 miles ago",
        "swapped the coil for a new one, still dead",
        "Swapped the plug with a new one, still the same",
        "should I try swapping plugs between cylinders to see if the miss moves?",
        "Going to swap plugs side to side tomorrow",
        "swapped the plugs over. Now the bike is out of the shed.",
    ],
)
def test_a_new_part_a_question_and_a_plan_are_no_swap(text: str) -> None:
    assert not swaps(read_text(text))
