"""Openings named by another one, and the numbers of a jet change, as riders tell them."""

from __future__ import annotations

import pytest

from carbdiag.case_schema import Air, FittedParts
from carbdiag.knowledge import Knowledge
from carbdiag.reading import case_of, read_text
from carbdiag.terms import Status


@pytest.mark.parametrize(
    ("told", "where"),
    [
        ("Above half throttle it surges. Below that it's fine.", {"eighth", "quarter", "half"}),
        ("It bogs at quarter throttle, everywhere else it is perfect.", {"eighth", "half", "three_quarter", "full"}),
        ("It surges at 3/4. The rest is fine.", {"eighth", "quarter", "half", "full"}),
    ],
)
def test_good_running_beside_an_opening_is_denied_trouble_there(k: Knowledge, told: str, where: set[str]) -> None:
    denied = [f for f in read_text(told, k).findings if f.finding == "bogs" and f.status is Status.DENIED]
    assert [set(f.at) for f in denied] == [where]


@pytest.mark.parametrize(
    ("told", "where"),
    [
        ("Runs fine up to half throttle, then it bogs.", {"half", "three_quarter", "full"}),
        ("It is clean until half and then it bogs.", {"half", "three_quarter", "full"}),
        ("Pulls fine till a third then bogs.", {"half", "three_quarter", "full"}),
        ("It revs clean until 3/4 and then it bogs.", {"three_quarter", "full"}),
        ("It bogs up to half throttle.", {"eighth", "quarter", "half"}),
        ("From just cracked to about half it bogs.", {"eighth", "quarter", "half"}),
        ("From barely open to half it bogs.", {"eighth", "quarter", "half"}),
        ("It bogs from a third to three quarters.", {"quarter", "half", "three_quarter"}),
    ],
)
def test_trouble_begins_where_good_running_ends(k: Knowledge, told: str, where: set[str]) -> None:
    assert [set(f.at) for f in read_text(told, k).findings if f.status is Status.PRESENT] == [where]


@pytest.mark.parametrize(
    "told", ["The rest is fine.", "It surges at half. See the video below.", "Above 6000 rpm it misses."]
)
def test_no_opening_is_made_up(k: Knowledge, told: str) -> None:
    """Without an opening named before, or before a number, such a word names none."""
    read = read_text(told, k)
    assert {p for f in read.findings for p in f.at} <= {"half"}


@pytest.mark.parametrize(
    ("told", "change", "sizes"),
    [
        ("Went from a 160 to a 175 main and now it blubbers at full throttle.", "main_jet", (160, 175)),
        ("Dropped the main from 180 to 172 and it runs better.", "main_jet", (180, 172)),
        ("Swapped the 40 pilot for a 45 and now it bogs off idle.", "pilot", (40, 45)),
        ("Replaced the 110 main jet with a 120, no change.", "main_jet", (110, 120)),
    ],
)
def test_the_numbers_of_a_jet_change_are_read(
    k: Knowledge, told: str, change: str, sizes: tuple[float, float]
) -> None:
    read = read_text(told, k)
    (trial,) = [t for t in read.trials if t.change == change]
    assert (trial.from_size, trial.to_size) == sizes
    fitted = "main_jet" if change == "main_jet" else "pilot_jet"
    assert [f.value for f in read.facts if f.fact == fitted] == [sizes[1]]
    (kept,) = [t for e in case_of(read).history() for t in e.trials if t.change == change]
    assert (kept.from_size, kept.to_size) == sizes


@pytest.mark.parametrize(
    "told",
    [
        "Raised the main from 160 to 1600, no change.",  # no jet is changed for one ten times as large
        "Went up on the main, no change.",
        "Went up 2 sizes on the 160 main, no change.",
    ],
)
def test_numbers_that_are_no_two_sizes_are_none(k: Knowledge, told: str) -> None:
    assert all(t.from_size is None for t in read_text(told, k).trials)


def test_changes_that_do_not_follow_each_other_are_taken_without_their_numbers(k: Knowledge) -> None:
    """A case would be refused in which the second change begins with another jet than the first ended with."""
    told = "Went from a 160 to a 170 main, no change. Swapped the main from 150 to 140, it runs worse."
    read = read_text(told, k)
    assert [t.from_size for t in read.trials if t.change == "main_jet"] == [160, 150]
    assert all(t.from_size is None for e in case_of(read).history() for t in e.trials)


def test_a_jet_moved_beside_another_filter_is_not_blamed(k: Knowledge) -> None:
    """It may only answer the filter; what is wrong now may be either."""
    alone = read_text("Went up 2 sizes on the main. Now it surges at full throttle.", k)
    beside = read_text("Went up 2 sizes on the main after putting a foam filter on. Now it surges at full throttle.", k)
    assert [t.effect for t in alone.trials] == ["worse"]
    assert not beside.trials
    assert {"filter_changed", "main_made_larger"} <= {c.context for c in beside.contexts}


@pytest.mark.parametrize(
    ("told", "sizes", "effect"),
    [
        ("Main jet was 160, I put a 150 in. Now it surges at full throttle.", (160, 150), "worse"),
        ("Stock 172 main. Dropped to 168 and it runs better.", (172, 168), "better"),
        ("The main was a 160, at wot it was four stroking so I went down to 152 and now it is crisp but held wide open "
         "it pings.", (160, 152), "overshot"),
    ],
)  # fmt: skip
def test_a_jet_is_changed_by_its_number_alone(
    k: Knowledge, told: str, sizes: tuple[float, float], effect: str
) -> None:
    (trial,) = read_text(told, k).trials
    assert (trial.change, trial.from_size, trial.to_size, trial.effect) == ("main_jet", *sizes, effect)


@pytest.mark.parametrize(
    "told",
    [
        "The main is a 160. I went down to 30 mph and it bogs.",
        "The main is a 160. Then I went to a 16 and it bogs.",
        "The pilot is a 40 and I rode 45 miles.",
        "Clip is on the 3rd. I went to 152 once.",
    ],
)
def test_another_number_is_no_jet(k: Knowledge, told: str) -> None:
    assert not read_text(told, k).trials


def test_a_setting_told_both_ways_by_the_same_words_is_none(k: Knowledge) -> None:
    """One clip up raises the clip, which is leaner, or the needle, which is richer: nobody can tell."""
    read = read_text("Went up one clip on the needle and the surge got better.", k)
    assert not read.trials
    assert ("needle", "contradicted") in {(a.record, a.why) for a in read.set_aside}


def test_the_jet_that_is_in_it_is_the_one_it_was_changed_to_whatever_that_did(k: Knowledge) -> None:
    facts = read_text("Went up on the main from 175 to 180 with a new pipe. On top it won't clean out.", k).facts
    assert [f.value for f in facts if f.fact == "main_jet"] == [180]


@pytest.mark.parametrize(
    "said",
    [
        "Currently 138 main and 40 pilot.",
        "Main 138 pilot 40.",
        "138 main 40 pilot",
        "Jetting is 40 pilot 138 main needle 2nd clip.",
        "I have the 40 pilot with the 138 main in it.",
        "#138 main #40 pilot",
    ],
)
def test_jets_told_side_by_side_keep_their_own_numbers(k: Knowledge, said: str) -> None:
    reading = read_text(said, k)
    jets = {f.fact: f.value for f in reading.facts if f.fact in ("main_jet", "pilot_jet")}
    assert jets == {"main_jet": 138, "pilot_jet": 40}
    assert "rejetted" not in {c.context for c in reading.contexts}, "what is in it was not changed"


def test_a_number_behind_and_belongs_to_the_next_jet(k: Knowledge) -> None:
    facts = read_text("Went up from 105 to 120 on the mains and 38 to 42 pilot. Now it bogs wide open.", k).facts
    assert {f.fact: f.value for f in facts if f.fact.endswith("_jet")}.get("main_jet") in (None, 120)


@pytest.mark.parametrize(
    ("said", "celsius"),
    [
        ("We ride at 5200 feet, 85 degrees.", [29.4]),
        ("Jetted at 60 degrees, now it's 90 degrees out.", [15.6, 32.2]),
        ("Set at 20 degrees C.", [20.0]),
        ("Timing is at 62 degrees.", []),
        ("There is a 90 degree elbow in the fuel line.", []),
        ("Water temp gets to 120 degrees.", []),
    ],
)
def test_degrees_no_weather_has_in_one_scale_are_in_the_other(k: Knowledge, said: str, celsius: list[float]) -> None:
    told = [f.value for f in read_text(said, k).facts if f.fact == "temperature_c"]
    assert told == pytest.approx(celsius, abs=0.1)


def test_the_air_now_may_stand_in_the_next_sentence(k: Knowledge) -> None:
    air = read_text("Everything jetted last winter around 40F. Now its 95F and it blubbers.", k).air
    assert air is not None
    assert (air.set.temperature_c, air.now.temperature_c) == pytest.approx((4.4, 35.0), abs=0.1)
    assert read_text("Rode at 40F. The next day it was 95F.", k).air is None


@pytest.mark.parametrize("said", ["It surges unless I have the choke half on.", "Just bogs unless choke is half on."])
def test_a_choke_that_is_needed_is_not_one_that_sticks(k: Knowledge, said: str) -> None:
    reading = read_text(said, k)
    assert "runs_only_on_choke" in {f.finding for f in reading.findings}
    assert not reading.checks


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        ("Main is 130, stock is 140.", "smaller"),
        ("Main 130 (stock 140).", "smaller"),
        ("Main is 155, stock is 140.", "larger"),
        ("The main is 172 stock, I have a 180 in it.", "larger"),
    ],
)
def test_a_number_is_the_books_by_the_words_before_it_if_there_are_any(k: Knowledge, said: str, outcome: str) -> None:
    assert [(c.check, c.outcome) for c in read_text(said, k).checks] == [("read_jet_numbers", outcome)]


@pytest.mark.parametrize(
    "said", ["Pilot is 42, stock is 45.", "Pilot 42 (stock 45).", "Main 178 (stock 172), pilot 42 (stock 45)."]
)
def test_a_pilot_smaller_than_the_books_is_told_of_the_pilot_alone(k: Knowledge, said: str) -> None:
    reading = read_text(said, k)
    assert "pilot_made_smaller" in {c.context for c in reading.contexts}
    assert not reading.checks  # whose outcome would tell as much of a small main


@pytest.mark.parametrize("said", ["It dies every time I come to a stop.", "I come to a stop and it stalls."])
def test_what_the_rider_does_may_say_when_the_engine_dies(k: Knowledge, said: str) -> None:
    assert [f.finding for f in read_text(said, k).findings] == ["stalls_at_stop"]
    assert not read_text("I stopped at the lights.", k).findings


def test_months_in_the_shed_are_no_short_rest(k: Knowledge) -> None:
    reading = read_text("After sitting 5 months the bike starts fine but surges at steady cruise.", k)
    assert "recovers_after_rest" not in {f.finding for f in reading.findings}
    assert "stood_for_months" in {c.context for c in reading.contexts}
    rested = read_text("After sitting ten minutes it starts again.", k)
    assert "recovers_after_rest" in {f.finding for f in rested.findings}


def test_a_screw_that_does_nothing_is_told_of_an_air_screw_too(k: Knowledge) -> None:
    checks = [(c.check, c.outcome) for c in read_text("The air screw makes no difference.", k).checks]
    assert checks == [("screw_response", "no_response")]


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        ("Clip 4th, stock is 3rd.", "richer_groove"),
        ("The clip is in the second groove, the book says third.", "leaner_groove"),
        ("Clip on 2nd from the top (stock 3rd).", "leaner_groove"),
        ("Clip on 4th from top. Stock exhaust.", None),
    ],
)
def test_a_groove_is_laid_beside_that_of_the_book(k: Knowledge, said: str, outcome: str | None) -> None:
    told = [c.outcome for c in read_text(said, k).checks if c.check == "clip_groove_look"]
    assert told == ([] if outcome is None else [outcome])


@pytest.mark.parametrize("said", ["It runs great wide open.", "Pulls fine at full throttle.", "Wide open it is great."])
def test_running_well_at_an_opening_is_told_in_either_order(k: Knowledge, said: str) -> None:
    told = [(f.finding, f.at, f.status.value) for f in read_text(said, k).findings]
    assert ("bogs", ("full",), "denied") in told


def test_a_case_takes_whatever_may_be_a_fact(k: Knowledge) -> None:
    within = k.scales.reading.told_within
    for elevation, temperature in zip(within.elevation_m, within.temperature_c, strict=True):
        Air(elevation_m=elevation, temperature_c=temperature)
    for jet, turns, groove in zip(within.main_jet, within.screw_turns, within.clip_groove, strict=True):
        FittedParts.model_validate({"main_jet_marked": jet, "screw_turns": turns, "clip_groove": groove})


def test_a_number_out_of_bounds_is_no_fact(k: Knowledge) -> None:
    def elevations(text: str) -> list[object]:
        return [f.value for f in read_text(text, k).facts if f.fact == "elevation_m"]

    _, highest = k.scales.reading.told_within.elevation_m
    assert elevations(f"It bogs at half throttle, riding at {highest:.0f} m above sea level.") == [highest]
    assert elevations(f"It bogs at half throttle, riding at {highest + 100:.0f} m above sea level.") == []


def test_flat_from_a_crack_of_throttle_to_a_third_keeps_its_openings(k: Knowledge) -> None:
    reading = read_text("From a crack of throttle to maybe a third its flat and kinda dry sounding.", k)
    assert {(f.finding, f.at) for f in reading.findings} == {("flat_spot", ("eighth", "quarter"))}
