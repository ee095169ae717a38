"""Which way a machine went from the height it was set for, told in either order and in many words."""

from __future__ import annotations

import pytest

from carbdiag import read_text


def ways(text: str) -> set[str]:
    """Every way that the reading tells, by its numbers, circumstances, checks and signs."""
    reading = read_text(text)
    told = {c.context.removeprefix("moved_") for c in reading.contexts if c.context in ("moved_up", "moved_down")}
    asked = {"higher_or_hotter": "up", "lower_or_colder": "down"}
    told |= {asked[c.outcome] for c in reading.checks if c.check == "air_since_jetting_asked" and c.outcome in asked}
    told |= {"up" for f in reading.findings if f.finding == "worse_higher_up" and f.status == "present"}
    if reading.air is not None and reading.air.set.elevation_m != reading.air.now.elevation_m:
        told.add("up" if reading.air.now.elevation_m > reading.air.set.elevation_m else "down")
    return told


@pytest.mark.parametrize(
    "text",
    [
        "Set up at 300 m, now riding at 2200 m and it bogs.",
        "Jetted at sea level. Took it to 2500m in the Andes and it loads up.",
        "Rides fine at home (200 m) but in the mountains at 1800 m it blubbers",
        "At 1800 m it blubbers, at home at 200 m it's fine",
        "we live at 100 m. On a trip to 2000 m it smoked black.",
        "went up from 300 to 2000 m",
        "trip from sea level up to about 3000 meters. Won't idle.",
        "Up at my cabin (7,500 ft) it is a pig, down here it flies",
        "It was tuned by a shop at 300 ft, I am at 5000 ft. Blubbers.",
        "my place is 900 ft, race is at 6200 ft this weekend, what jets?",
        "Riding a pass at 2,400 m it lost all power, below 1000 m fine",
        "sea level jets, 6000 feet now",
        "Came up from 1000 ft to 7000 ft yesterday and it smokes black",
        "live at 400 ft, ride at 7000 ft",
        "I ride at 7000 ft, live at 400 ft",
        "used to ride at 300 ft, now I'm up at 6500 ft",
        "Jetted at home at 800 ft, racing at 5200 ft on Saturday and it's rich",
        "base camp 1200 m, summit 3100 m, dies at the top",
        "set up for sea level and I moved to 1600 m",
    ],
)
def test_it_is_higher_than_where_it_was_set(text: str) -> None:
    assert ways(text) == {"up"}


@pytest.mark.parametrize(
    "text",
    [
        "Lived at 2600m in Bogota, moved to the coast, same jets, it pings.",
        "It's jetted for 1500m and I ride at 100m, flat on top",
        "came down from 2000 m to 300 m and now it runs hot",
        "it was tuned by a shop at 5000 ft elevation, I am at 300 ft. It is lean everywhere.",
        "6000 feet jets, sea level now",
        "dropped 4000 feet from where it was jetted",
        "Jets are for 8000 ft, I'm in Texas at 500 ft",
        "went down from 2200 m to 400 m",
        "moved here from about 5000 ft, I'm at 300 ft now",
        "I ride at 300 ft, the guy I got it from lives at 6500 ft",
        "used to ride at 6500 ft, now at 300 ft",
        "home is 6200 ft, I trailered it down to 900 ft for the race and now it detonates",
        "From our ranch at 7200 ft to the dunes at 200 ft",
        "set up for 1600 m and I moved to sea level",
    ],
)
def test_it_is_lower_than_where_it_was_set(text: str) -> None:
    assert ways(text) == {"down"}


@pytest.mark.parametrize(
    "text",
    [
        "jetted at 300 m, riding at 250 m so no change there",
        "I live at 1200 m. It bogs.",
        "Been riding between 300 and 900 m all week and it runs the same.",
    ],
)
def test_one_height_and_a_range_tell_no_change(text: str) -> None:
    assert not ways(text)


def test_what_it_is_jetted_for_is_no_trial_of_other_jets() -> None:
    for text in ("jetted at 300 m. swapped plug, no different.", "It is jetted for 4000 ft. New plug, no change."):
        assert {t.do for t in read_text(text).trials} == {"replace_plug"}, text
    assert {t.do for t in read_text("Rejetted it for 4000 ft, no change.").trials} == {"rejet_for_air"}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Jetted at 5000 ft and 85F, now at 500 ft and 45F it pings.", (1524, 29.4, 152, 7.2)),
        ("It was set up at sea level at 80F. Now riding at 6000 ft and 50F, it blubbers.", (0, 26.7, 1829, 10)),
        ("Set for 2000 m and 5C. Now at 300 m and 30C it bogs.", (2000, 5, 300, 30)),
        ("Jetted for 5000 ft at about 85f. Now racing at 500 ft, it pings.", (1524, 29.4, 152, None)),
        ("Jetted for 5000 ft. Now racing at 500 ft at 40F, it pings.", (1524, None, 152, 4.4)),
        ("Jetted at 300 m, now riding at 2200 m and it bogs. It was 25C today.", (300, None, 2200, 25)),
    ],
)
def test_a_temperature_goes_with_the_height_beside_it(text: str, told: tuple[float, float | None]) -> None:
    air = read_text(text).air
    assert air is not None
    read = (air.set.elevation_m, air.set.temperature_c, air.now.elevation_m, air.now.temperature_c)
    assert tuple(None if value is None else round(value, 1 if n % 2 else 0) for n, value in enumerate(read)) == told


@pytest.mark.parametrize(
    "told",
    [
        "The previous owner rode in 5000ft, im at 500.",
        "Was jetted for 6000 ft, I'm at 300.",
        "Came from 5000 ft, I live at 200.",
    ],
)
def test_a_height_without_its_unit_has_that_of_the_other(told: str) -> None:
    air = read_text(told).air
    assert air is not None
    assert air.set.elevation_m > 1500
    assert air.now.elevation_m < 200


@pytest.mark.parametrize("told", ["It was set up for 6000 ft. I'm at 45 psi.", "Cabin is at 1900 m. I'm at 165 main."])
def test_another_number_is_no_height(told: str) -> None:
    assert len([f for f in read_text(told).facts if f.fact == "elevation_m"]) == 1


def test_thousands_of_feet_are_no_revs() -> None:
    facts = {(f.fact, f.value) for f in read_text("Next week I ride at 10 thousand feet.").facts}
    assert facts == {("elevation_m", 3048.0)}


@pytest.mark.parametrize(
    ("text", "before", "after"),
    [
        ("Runs great here at 300ft with a 170 main. Heading to 9000ft next week, what main?", (91, None), (2743, None)),
        ("Next month I ride at 1600 m. It is perfect at sea level at 20 C.", (0, 20), (1600, None)),
        ("temp 10C altitude 200m, it is perfect. Going to ride at 2000m 20C next week.", (200, 10), (2000, 20)),
        ("It is spot on at 90F, racing next weekend and its going to be 40F.", (0, 32), (0, 4)),
    ],
)
def test_a_ride_to_come_is_the_air_to_set_it_for(
    text: str, before: tuple[float, float | None], after: tuple[float, float | None]
) -> None:
    reading = read_text(text)
    air = reading.air
    assert air is not None
    assert not reading.is_empty
    for told, (height, celsius) in ((air.set, before), (air.now, after)):
        assert told.elevation_m == pytest.approx(height, abs=1)
        assert (told.temperature_c is None) is (celsius is None)
        assert celsius is None or told.temperature_c == pytest.approx(celsius, abs=1)
