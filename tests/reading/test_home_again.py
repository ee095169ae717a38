"""A stay on another height that is over: what counts is how it runs at home, with the setting it has now."""

from __future__ import annotations

import pytest

from carbdiag import diagnose, read_text
from carbdiag.reading.casing import case_of

WENT_LEANER = (
    "Took the bike up to 9000 feet for the weekend, jetted for 500 ft. It was pig rich up there, blubbering, no power."
    " Dropped from 172 to 165 main and it cleaned right up. Now I'm back home and it is pinging on the top end."
)


def circumstances(text: str) -> set[str]:
    return {c.context for c in read_text(text).contexts}


def test_a_lean_setting_brought_home_is_met_by_denser_air() -> None:
    reading = read_text(WENT_LEANER)
    assert {f.finding for f in reading.findings} == {"knocks"}  # nothing of how it ran up there
    assert {"moved_down", "main_made_smaller"} <= circumstances(WENT_LEANER)
    assert "moved_up" not in circumstances(WENT_LEANER)
    assert reading.air is not None
    assert reading.air.set.elevation_m == pytest.approx(9000 * 0.3048)
    assert reading.air.now.elevation_m == pytest.approx(500 * 0.3048)


def test_nobody_is_sent_leaner_who_came_home_with_a_lean_setting() -> None:
    answer = diagnose(case_of(read_text(WENT_LEANER)))
    for band in answer.mixture:
        chances = {side: sum(p for level, p in band.levels.items() if side in level) for side in ("lean", "rich")}
        assert chances["lean"] > chances["rich"]
    assert answer.causes[0].id != "air_thinner"


@pytest.mark.parametrize(
    "text",
    [
        "Took it up to 9000 ft for the week and it blubbers. Back home it runs great.",
        "Took it up to 9000 ft, it bogs and smokes black up there. When I get back home it is fine again.",
        "Should I put the jets back when I get back home? Up at 9000 ft it runs rich and fouls plugs.",
        "I live at sea level, took the bike up to 6000 ft and it bogs.",
        "Took it up to 9000 ft. Back home it was fine but up there it bogs.",
        "Back from a week at 9500 ft (we live at 600). Up there it was blubbering wide open. Now home it's fine again.",
    ],
)
def test_a_fault_of_the_other_height_stays_one(text: str) -> None:
    assert "moved_up" in circumstances(text)
    assert "moved_down" not in circumstances(text)


@pytest.mark.parametrize(
    "text",
    [
        "Came back from a week in the mountains (around 8000 ft) where my mate helped me drop the main from 130 to 122"
        " because it was blowing black smoke. Home again at 300 ft and flat out it rattles like marbles.",
        "Just got back from the mountains, went down two mains up there. Now it pings on the highway.",
    ],
)
def test_a_stay_told_only_by_its_end_is_one_too(text: str) -> None:
    reading = read_text(text)
    assert circumstances(text) & {"moved_up", "moved_down"} == {"moved_down"}
    assert not reading.trials
    assert {f.finding for f in reading.findings} == {"knocks"}


def test_a_stay_without_another_setting_leaves_nothing_behind() -> None:
    text = "We went up to the mountains last weekend and it ran rich. Now back home it still bogs at half throttle."
    assert circumstances(text).isdisjoint({"moved_up", "moved_down"})
    assert {f.finding for f in read_text(text).findings} == {"bogs"}


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("Last weekend it was 28 degrees C, this weekend 6 degrees. Now it pings at full throttle.", (28.0, 6.0)),
        ("It was 80 degrees F when I set it up, today it is 41 degrees and it bogs.", (26.7, 5.0)),
    ],
)
def test_a_temperature_without_its_unit_has_that_of_the_other(text: str, celsius: tuple[float, float]) -> None:
    air = read_text(text).air
    assert air is not None
    assert (air.set.temperature_c, air.now.temperature_c) == pytest.approx(celsius, abs=0.06)


def test_degrees_alone_are_no_temperature() -> None:
    assert not [f for f in read_text("I turned the screw 45 degrees and it bogs.").facts if f.fact == "temperature_c"]


@pytest.mark.parametrize(
    ("text", "set_for", "now"),
    [
        ("It is 5C today and I jetted it at 30C. Pings at full throttle.", 30.0, 5.0),
        ("It's 5C this morning. Jetted back in July at 30C. Bogs.", 30.0, 5.0),
        ("Today it was 5C, it was set up at 30C, and it hesitates.", 30.0, 5.0),
        ("I set it up in July at 30C and this morning at 5C it bogs.", 30.0, 5.0),
        ("It's 30C here today, when I jetted it it was 5C. Blubbers.", 5.0, 30.0),
    ],
)
def test_which_temperature_it_was_set_for_is_told_by_its_own_clause(text: str, set_for: float, now: float) -> None:
    """Whichever is told first: the wrong way round the answer would send a lean engine leaner."""
    air = read_text(text).air
    assert air is not None
    assert (air.set.temperature_c, air.now.temperature_c) == (set_for, now)


def test_jets_for_another_height_are_what_it_was_set_for() -> None:
    air = read_text("I'm at 500 ft now but the jets are for 8000 ft. It pings.").air
    assert air is not None
    assert air.set.elevation_m > air.now.elevation_m


def test_two_temperatures_without_an_order_are_none() -> None:
    assert read_text("It ran great at 30F but at 85F it blubbers.").air is None


#: What changes the air, and what each sentence tells of it.
_AIR = {"moved_up", "moved_down", "colder_weather", "hotter_weather"}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Jetted in winter, it's summer now and it blubbers.", "hotter_weather"),
        ("Jetted in summer, it's winter now and it bogs.", "colder_weather"),
        ("It's summer now, I jetted it in the winter. It blubbers.", "hotter_weather"),
        ("It's freezing now, was jetted in the heat of summer. Bogs.", "colder_weather"),
        ("Was perfect in August, since the cold weather came it hesitates.", "colder_weather"),
        ("Ran perfect all winter but since it got hot it loads up.", "hotter_weather"),
        ("bogs on cold mornings, it was jetted on a hot day", "colder_weather"),
        ("set up on a cold day, on hot days it now runs rich", "hotter_weather"),
        ("worse when hot", None),
        ("Live in the mountains now, bike was jetted at the coast. bogs.", "moved_up"),
        ("Live at the coast now, bike was jetted in the mountains. pings.", "moved_down"),
        ("Bought the bike from a guy in Denver, I'm in Florida. It pings.", "moved_down"),
        ("Bought it in Florida, I live in Denver. It blubbers.", "moved_up"),
        ("previous owner lived at 7000 ft and I'm at sea level, feels lean", "moved_down"),
        ("previous owner lived at sea level and I'm at 7000 ft, feels rich", "moved_up"),
        ("I jetted it for the mountains where I live. It bogs.", None),
        ("I tuned it on a hot day. It bogs.", None),
        ("It is set up for sea level. It bogs.", None),
        ("Weather has got colder and it bogs, jetted it last month", "colder_weather"),
    ],
)
def test_the_air_it_was_set_for_is_not_taken_for_the_air_now(text: str, told: str | None) -> None:
    assert circumstances(text) & _AIR == ({told} if told else set())
