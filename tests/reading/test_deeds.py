"""What was done, found and told of: a table of wordings that must read, and one of sentences that state no deed."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.answers.reading_text import reading_text
from carbdiag.knowledge import parse_yaml

HERE = Path(__file__).parent
DEEDS = cast(list[dict[str, Any]], parse_yaml((HERE / "deeds.yaml").read_text(encoding="utf-8")))
NOTHING = cast(list[str], parse_yaml((HERE / "nothing_done.yaml").read_text(encoding="utf-8")))


def told(reading: TextReading) -> dict[str, set[str]]:
    return {
        "trials": {f"{t.do or f'{t.change} {t.direction}'} {t.effect}" for t in reading.trials},
        "checks": {f"{c.check} {c.outcome}" for c in reading.checks},
        "contexts": {c.context if c.status == "present" else f"{c.context} {c.status}" for c in reading.contexts},
    }


@pytest.mark.parametrize("wording", DEEDS, ids=lambda w: w["say"][:60])
def test_a_wording_is_read_as_what_it_says_and_nothing_else(k: Knowledge, wording: dict[str, Any]) -> None:
    read = told(read_text(wording["say"], k))
    for kind in ("trials", "checks", "contexts"):
        if kind in wording:
            assert read[kind] == set(wording[kind])


@pytest.mark.parametrize("sentence", NOTHING)
def test_plans_advice_and_questions_are_no_deeds(k: Knowledge, sentence: str) -> None:
    assert told(read_text(sentence, k)) == {"trials": set(), "checks": set(), "contexts": set()}


# ---------------------------------------------------------------------------------------------------------
# Effects


def trials(k: Knowledge, text: str) -> dict[str, tuple[str, bool]]:
    return {t.do or str(t.change): (t.effect.value, t.unsaid) for t in read_text(text, k).trials}


def test_an_effect_at_the_end_of_a_list_is_that_of_each(k: Knowledge) -> None:
    found = trials(k, "New plug, cleaned carb, new coil, nothing.")
    assert found == {
        "replace_plug": ("no_change", False),
        "clean_carburetor": ("no_change", False),
        "replace_coil": ("no_change", False),
    }


def test_an_unsaid_effect_is_taken_as_none_only_after_the_trouble_was_told(k: Knowledge) -> None:
    after = "It bogs at half throttle. I cleaned the carb."
    assert trials(k, after) == {"clean_carburetor": ("no_change", True)}
    before = "I cleaned the carb. It bogs at half throttle."
    assert trials(k, before) == {}
    assert "carb_just_cleaned" in {c.context for c in read_text(before, k).contexts}


def test_a_change_of_set_up_is_never_taken_as_tried_in_vain(k: Knowledge) -> None:
    text = "It bogs at half throttle. I fitted a bigger main jet."
    assert trials(k, text) == {}
    assert "rejetted" in {c.context for c in read_text(text, k).contexts}


def test_what_was_taken_so_is_shown_as_taken_so(k: Knowledge) -> None:
    said = reading_text(read_text("It bogs. I cleaned the carb, no change.", k), k)
    taken = reading_text(read_text("It bogs. I cleaned the carb.", k), k)
    assert "not said" not in said
    assert "not said" in taken


def test_a_deed_follows_a_pronoun_to_the_part_named_last(k: Knowledge) -> None:
    found = trials(k, "It bogs. The fuel pump looked tired so I rebuilt it. No change.")
    assert found["repair_fuel_pump"] == ("no_change", False)


def test_two_sizes_say_which_way_a_jet_was_changed(k: Knowledge) -> None:
    reading = read_text("Went from a 120 to a 130 main and it got better.", k)
    assert [(t.change, t.direction, t.effect) for t in reading.trials] == [("main_jet", "richer", "better")]


# ---------------------------------------------------------------------------------------------------------
# The machine


@pytest.mark.parametrize(
    ("text", "number"),
    [("twin carbs, bogs", 2), ("a single carb", 1), ("a pair of carbs on it", 2), ("four carbs to sync", 4)],
)
def test_the_number_of_carburetors_is_read(k: Knowledge, text: str, number: int) -> None:
    assert [f.value for f in read_text(text, k).facts if f.fact == "carburetors"] == [number]


@pytest.mark.parametrize(
    ("text", "use"),
    [
        ("My scooter bogs", "scooter"),
        ("old moped, no power", "moped"),
        ("Road bike that misfires", "road"),
        ("a street bike", "road"),
        ("my trail bike won't idle", "trail"),
        ("the quad surges", "atv"),
        ("my sled bogs", "snowmobile"),
        ("the saw won't start", "garden_machine"),
        ("the mower hunts", "garden_machine"),
        ("our genny surges", "generator"),
        ("the kart bogs", "kart"),
        ("an outboard that stalls", "outboard"),
        ("it bogs on the road", None),
    ],
)
def test_what_the_machine_is_for_is_read_though_its_name_is_an_everyday_word(
    k: Knowledge, text: str, use: str | None
) -> None:
    assert next((f.value for f in read_text(text, k).facts if f.fact == "use"), None) == use


def test_a_setting_named_over_the_end_of_a_clause_is_read_all_the_same(k: Knowledge) -> None:
    # its clause was looked for behind the end of the text: an IndexError
    assert not read_text("L and screws touch.\n", k).trials
