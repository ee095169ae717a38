"""How far a setting was moved, as riders count it: sizes, grooves, turns. Invented wordings of our own.

A practical step of a screw is half a turn, of a diaphragm carburetor's needle an eighth of one.
"""

from __future__ import annotations

import pytest

from carbdiag import read_text
from carbdiag.knowledge import shipped_knowledge
from carbdiag.reading.casing import case_of

K = shipped_knowledge()


def trials(text: str) -> list[tuple[str, str, float]]:
    case = case_of(read_text(text, K))
    told = [t for epoch in case.history() for t in epoch.trials if t.change]
    return [(str(t.change), str(t.direction), t.steps) for t in told]


@pytest.mark.parametrize(
    ("text", "setting", "way", "steps"),
    [
        ("tried 3 sizes bigger mains - no difference at all", "main_jet", "richer", 3),
        ("tried three sizes bigger main, no difference", "main_jet", "richer", 3),
        ("went up a couple sizes on the pilot and it got better", "pilot", "richer", 2),
        ("went up two on the main, no change", "main_jet", "richer", 2),
        ("main two down, better", "main_jet", "leaner", 2),
        ("dropped the main 2 sizes and it bogs less", "main_jet", "leaner", 2),
        ("raised the needle two notches, better", "needle", "richer", 2),
        ("moved the clip down 2 grooves and it got worse", "needle", "richer", 2),
        ("needle up one notch, better", "needle", "richer", 1),
        ("raised the needle, better", "needle", "richer", 1),
        ("turned the air screw out half a turn, better", "mixture_screw", "leaner", 1),
        ("turned the fuel screw in 1 1/2 turns, worse", "mixture_screw", "leaner", 3),
        ("air screw out one and a half turns, no change", "mixture_screw", "leaner", 3),
        ("fuel screw out 1/4 turn, better", "mixture_screw", "richer", 0.5),
        ("opened the H screw an eighth of a turn, better", "high_needle", "richer", 1),
        ("opened the H screw a quarter turn, better", "high_needle", "richer", 2),
        ("float raised 2 mm, better", "float_level", "richer", 2),
    ],
)
def test_a_move_is_counted_in_its_own_steps(text: str, setting: str, way: str, steps: float) -> None:
    assert trials(text) == [(setting, way, steps)]


@pytest.mark.parametrize(
    "text",
    [
        "two days ago I raised the needle, better",
        "raised the needle 3 weeks ago and it got better",
        "went up on the main after 2 rides, no change",
        "raised the needle, better, and 2 sizes of plug washers",
    ],
)
def test_other_numbers_beside_a_move_do_not_count_it(text: str) -> None:
    assert [steps for _, _, steps in trials(text)] == [1]


def test_sizes_told_say_more_than_steps() -> None:
    [epoch] = case_of(read_text("went two sizes up on the main, 150 to 155, better", K)).history()
    [trial] = epoch.trials
    assert (trial.from_size, trial.to_size, trial.steps) == (150, 155, 1)
