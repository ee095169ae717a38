"""What only a kind of machine suggests of its strokes and its carburetor, and where it says nothing."""

from __future__ import annotations

import pytest

from carbdiag import read_text
from tests.reading.told_script import facts_of

_SAW = {"fact family diaphragm", "fact strokes 2.0"}


@pytest.mark.parametrize(
    "text",
    ["My saw bogs.", "Old saw, idles up.", "My 50cc saw bogs.", "My weedeater wont idle.", "My backpack blower dies."],
)
def test_a_saw_or_trimmer_is_a_two_stroke_with_a_diaphragm(text: str) -> None:
    assert facts_of(read_text(text)) >= {*_SAW, "fact use garden_machine"}


@pytest.mark.parametrize("text", ["I saw that it bogs.", "All I saw was smoke.", "We saw it die at full throttle."])
def test_who_saw_something_owns_no_saw(text: str) -> None:
    assert not {f for f in facts_of(read_text(text)) if f.startswith(("fact family", "fact use"))}


def test_several_saws_are_garden_machines_too() -> None:
    assert "fact use garden_machine" in facts_of(read_text("Took the saws up to the lease. Mine fades."))


def test_what_is_said_outright_counts() -> None:
    assert facts_of(read_text("My trimmer is a four stroke and it bogs.")) >= {"fact strokes 4.0"}


def test_two_kinds_of_machine_suggest_nothing() -> None:
    facts = facts_of(read_text("My mower surges on old gas. My saw does the same."))
    assert not {f for f in facts if f.startswith(("fact family", "fact strokes"))}


@pytest.mark.parametrize("text", ["The generator surges.", "1950 tractor, it spits.", "Old sedan, six cyl, stalls."])
def test_governed_engines_and_old_cars_are_four_strokes(text: str) -> None:
    assert "fact strokes 4.0" in facts_of(read_text(text))
