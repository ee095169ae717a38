"""What a post says: signs with their places, how they are meant, and the words they came from."""

from __future__ import annotations

from pathlib import Path

import pytest

from carbdiag import CaseError, Knowledge, TextReading, case_of, diagnose, load_case, read_text
from carbdiag.case_schema import Air, AirChange, Case
from carbdiag.posted_schema import PostedCase, ReadDiagnosis
from carbdiag.reading import diagnose_posted
from carbdiag.reading.casing import beside
from carbdiag.reading_schema import FactRead, FindingRead
from carbdiag.terms import Certainty, Effect, Status


def finding(reading: TextReading, name: str) -> FindingRead:
    found = [f for f in reading.findings if f.finding == name]
    assert found, f"{name} is not among {[f.finding for f in reading.findings]}"
    return found[0]


def status(reading: TextReading, name: str) -> Status | None:
    return next((f.status for f in reading.findings if f.finding == name), None)


def fact(reading: TextReading, name: str) -> FactRead:
    return next(f for f in reading.facts if f.fact == name)


# ---------------------------------------------------------------------------------------------------------
# Signs and where they were seen


@pytest.mark.parametrize(
    ("post", "name", "at"),
    [
        ("It bogs at half throttle.", "bogs", ("half",)),
        ("It bogs at 1/2 throttle.", "bogs", ("half",)),
        ("Just off idle it hesitates", "hesitates", ("eighth",)),
        ("hesitates when i crack the throttle open", "hesitates", ("eighth",)),
        ("Surges at a quarter throttle, then it clears.", "surges", ("quarter",)),
        ("At 3/4 throttle it starts to misfire", "misfires", ("three_quarter",)),
        ("Misfires at wide open throttle", "misfires", ("full",)),
        ("it wont idle", "will_not_idle", ("idle",)),
        ("pops when I let off the gas", "pops_on_overrun", ("overrun",)),
        ("It's hard to start when cold", "hard_to_start", ("cold_start",)),
        ("no power uphill", "low_power", ("under_load",)),
        ("It only runs on choke", "runs_only_on_choke", ()),
        ("It bogs.", "bogs", ()),
    ],
)
def test_a_sign_is_read_where_it_was_seen(k: Knowledge, post: str, name: str, at: tuple[str, ...]) -> None:
    read = finding(read_text(post, k), name)
    assert (read.status, read.at) == (Status.PRESENT, at)


@pytest.mark.parametrize(
    "post",
    [
        "bogs around 3000 rpm",
        "it bogs in the midrange",
        "it bogs low down",
        "it bogs at high revs",
        "it bogs while cruising",
    ],
)
def test_words_of_engine_speed_and_load_never_become_an_opening(k: Knowledge, post: str) -> None:
    reading = read_text(post, k)
    assert finding(reading, "bogs").at == ()
    assert {f.fact for f in reading.facts} & {"engine_speed", "load"}


@pytest.mark.parametrize(
    ("post", "name"),
    [
        ("It dies when I give it gas", "dies_on_opening"),
        ("stalls as soon as I touch the throttle", "dies_on_opening"),
        ("whenever I crack the throttle it just dies", "dies_on_opening"),
        ("it conks out if you open it up", "dies_on_opening"),
        ("won't go past half", "no_gain_past_half"),
        ("acts like it ran out of gas", "fades_like_out_of_fuel"),
        ("it falls flat on its face", "bogs"),
        ("the revs hang when I shut the throttle", "revs_hang"),
        ("takes 3-5 seconds to come down", "revs_hang"),
        ("fires and dies", "starts_then_dies"),
        ("gas pours out of the overflow", "fuel_overflow"),
        ("like somebody turned the key off", "stops_abruptly"),
        ("runs fine for ten minutes then dies", "dies_after_minutes"),
        ("I have to rev it to keep it from stalling", "will_not_idle"),
        ("you have to keep throttle on it or it quits", "will_not_idle"),
        ("there is oil build up on the plug", "plug_oily"),
        ("it back fires through the carb", "spits_back"),
        ("the idle is all wrong", "idle_rough"),
        ("it will not get past a fast idle", "rev_ceiling"),
        ("of the two downpipes one is much hotter than the other", "one_pipe_hotter"),
        ("it would run only if I kept the throttle a third open", "lives_only_on_part_throttle"),
    ],
)
def test_everyday_wordings_are_read(k: Knowledge, post: str, name: str) -> None:
    assert finding(read_text(post, k), name).status is Status.PRESENT


# ---------------------------------------------------------------------------------------------------------
# How it is meant


@pytest.mark.parametrize(
    ("post", "name", "expected"),
    [
        ("There is no black smoke.", "black_smoke", Status.DENIED),
        ("It doesn't pop on decel", "pops_on_overrun", Status.DENIED),
        ("It does not bog, but it surges at half throttle", "bogs", Status.DENIED),
        ("It does not bog, but it surges at half throttle", "surges", Status.PRESENT),
        ("It never bogged until I fitted a pipe", "bogs", Status.PRESENT),
        ("It no longer bogs", "bogs", Status.DENIED),
        ("the bog is gone", "bogs", Status.DENIED),
        ("It won't start and it bogs when it does", "bogs", Status.PRESENT),
        ("I don't know if it bogs", "bogs", Status.UNKNOWN),
        ("It used to bog", "bogs", None),
        ("Would it bog?", "bogs", None),
        ("Could it be rich?", "judged_rich", None),
        ("Why does it bog at half throttle?", "bogs", Status.PRESENT),
        ("My forum friends, people say it runs rich", "judged_rich", None),
        ("It idles fine", "will_not_idle", Status.DENIED),
        ("It starts first kick every time", "hard_to_start", Status.DENIED),
    ],
)
def test_denials_questions_and_the_past_are_told_from_statements(
    k: Knowledge, post: str, name: str, expected: Status | None
) -> None:
    assert status(read_text(post, k), name) is expected


def test_hedges_lower_the_certainty(k: Knowledge) -> None:
    assert finding(read_text("maybe it bogs a bit", k), "bogs").certainty is Certainty.MAYBE
    assert finding(read_text("it seems to bog", k), "bogs").certainty is Certainty.PROBABLY
    assert finding(read_text("it bogs", k), "bogs").certainty is Certainty.SURE


def test_quoted_words_are_somebody_elses(k: Knowledge) -> None:
    for post in ("> it bogs\n\nThanks, mine surges.", "[quote=a]it bogs[/quote] Mine surges."):
        reading = read_text(post, k)
        assert status(reading, "bogs") is None
        assert status(reading, "surges") is Status.PRESENT
        assert [a.why for a in reading.set_aside if a.record == "bogs"] == ["quoted"]


def test_what_is_said_to_be_so_and_not_so_is_neither(k: Knowledge) -> None:
    reading = read_text("It bogs. It does not bog.", k)
    assert status(reading, "bogs") is None
    assert [a.why for a in reading.set_aside] == ["contradicted", "contradicted"]


@pytest.mark.parametrize("slip", ["carburator", "carburettor", "carberator", "carburetter"])
def test_misspellings_are_mended(k: Knowledge, slip: str) -> None:
    reading = read_text(f"I cleaned the {slip}, no difference. It hesitats when I open the thorttle.", k)
    assert [(t.do, t.effect) for t in reading.trials] == [("clean_carburetor", Effect.NO_CHANGE)]
    assert status(reading, "hesitates") is Status.PRESENT


# ---------------------------------------------------------------------------------------------------------
# Circumstances, checks, trials, facts


def test_circumstances_are_read(k: Knowledge) -> None:
    reading = read_text("It sat all winter. Since I fitted pod filters it bogs. I bought it used.", k)
    told = {c.context: c.status for c in reading.contexts}
    assert told["stood_for_months"] is told["filter_changed"] is Status.PRESENT


def test_checks_are_read_with_their_outcome(k: Knowledge) -> None:
    reading = read_text("Spark is good. Compression is 120 psi. The air filter is filthy.", k)
    assert {(c.check, c.outcome) for c in reading.checks} >= {
        ("spark_test", "strong"),
        ("air_filter_look", "dirty_or_soaked"),
    }
    assert ("spark_test", "none") in {(c.check, c.outcome) for c in read_text("I have no spark.", k).checks}


def test_trials_are_read_with_their_effect(k: Knowledge) -> None:
    reading = read_text("Cleaned the carb twice, no difference. New plug fixed it for a day, then the same again.", k)
    assert ("clean_carburetor", Effect.NO_CHANGE) in {(t.do, t.effect) for t in reading.trials}
    reading = read_text("I raised the needle one notch and it got better.", k)
    assert {(t.change, t.direction, t.effect) for t in reading.trials} == {("needle", "richer", Effect.BETTER)}
    assert all(len(t.said) == 2 for t in reading.trials)


def test_a_plan_is_no_trial(k: Knowledge) -> None:
    reading = read_text("I am going to clean the carb. No difference so far.", k)
    assert reading.trials == ()


def test_facts_are_read_with_their_units(k: Knowledge) -> None:
    reading = read_text(
        "250cc two stroke single at 5,000 ft, 95 °F. Main jet 140, 38 pilot, air screw 1 1/2 turns out, clip in the"
        " 3rd groove.",
        k,
    )
    assert fact(reading, "displacement_cc").value == 250
    assert fact(reading, "strokes").value == 2
    assert fact(reading, "cylinders").value == 1
    assert fact(reading, "elevation_m").value == pytest.approx(1524)
    assert fact(reading, "temperature_c").value == pytest.approx(35)
    assert fact(reading, "main_jet").value == 140
    assert fact(reading, "pilot_jet").value == 38
    assert fact(reading, "screw_turns").value == 1.5
    assert fact(reading, "clip_groove").value == 3
    metric = read_text("We live at 1200 m above sea level and it is 12 °C", k)
    assert fact(metric, "elevation_m").value == 1200
    assert fact(metric, "temperature_c").value == 12


def test_heights_in_meters_are_read_without_a_word_for_them(k: Knowledge) -> None:
    moved = read_text("Gone from 1500 ft to the Alps (2100 m) for a week. Now it blubbers.", k).air
    assert moved is not None
    assert (moved.set.elevation_m, moved.now.elevation_m) == (pytest.approx(457.2), 2100)
    assert fact(read_text("at 1800m it bogs", k), "elevation_m").value == 1800
    assert not [f for f in read_text("cuts out after 200 m", k).facts if f.fact == "elevation_m"]  # a way, no height


def test_one_carburetor_of_several_counts_none(k: Knowledge) -> None:
    for text in ("one carb is leaking and the other is dry", "only one carb leaks", "one carb holds the other up"):
        assert not [f for f in read_text(text, k).facts if f.fact == "carburetors"], text
    assert fact(read_text("a twin with one carb", k), "carburetors").value == 1


def test_what_is_not_understood_is_told(k: Knowledge) -> None:
    reading = read_text("It bogs at half. My aunt knits green elephants on Tuesdays.", k)
    assert [s.words for s in reading.not_understood] == ["aunt knits green elephants on Tuesdays"]


# ---------------------------------------------------------------------------------------------------------
# From a post to a case and a diagnosis


def test_a_reading_is_a_case_that_can_be_diagnosed(k: Knowledge) -> None:
    post = (Path(__file__).parents[2] / "docs" / "examples" / "post.txt").read_text(encoding="utf-8")
    case = case_of(read_text(post, k))
    assert case.machine.strokes == 2
    assert diagnose(case, k).causes


def test_what_a_case_states_counts_before_what_a_post_says(k: Knowledge) -> None:
    stated = load_case("machine: {strokes: 4}\nfindings:\n  - {finding: bogs, status: denied}\n")
    both = beside(read_text("My two stroke bogs. It surges.", k, machine=stated.machine), stated)
    assert both.machine.strokes == 4
    assert [(f.finding, f.status) for f in both.findings] == [("bogs", Status.DENIED), ("surges", Status.PRESENT)]


def test_the_answer_to_a_post_holds_its_reading(k: Knowledge) -> None:
    answer = diagnose_posted(PostedCase(text="It surges at idle."), k)
    assert isinstance(answer, ReadDiagnosis)
    assert answer.reading == read_text("It surges at idle.", k)
    assert "reading" not in diagnose_posted(PostedCase(), k).model_dump()


# ---------------------------------------------------------------------------------------------------------
# Bad input


@pytest.mark.parametrize("post", ["", "   \n\n", "zzz qqq", "<p></p>", "\x00\x01\x02", "שלום עולם", "🏍️🏍️"])
def test_a_post_that_says_nothing_says_so_and_asks(k: Knowledge, post: str) -> None:
    reading = read_text(post, k)
    assert reading.is_empty
    assert any("What does the engine do wrong" in asked for asked in reading.please_say)


def test_an_unknown_language_lists_the_known(k: Knowledge) -> None:
    with pytest.raises(CaseError, match="Allowed: en") as caught:
        read_text("bogs", k, "eng")
    assert caught.value.problems[0].field == "language"


def test_a_post_over_the_limit_is_refused(k: Knowledge) -> None:
    assert read_text("bogs " * 9830, k).findings
    with pytest.raises(CaseError, match="at most 48 kB"):
        read_text("bogs " * 9831, k)


def test_half_a_surrogate_pair_is_refused(k: Knowledge) -> None:
    with pytest.raises(CaseError, match="half of a surrogate pair at character 5"):
        read_text("bogs \ud800", k)


def test_markup_is_plain_text(k: Knowledge) -> None:
    reading = read_text("<b>It bogs</b> at <script>half</script> throttle &amp; <br>surges [b]badly[/b]", k)
    assert finding(reading, "bogs").at == ("half",)
    assert status(reading, "surges") is Status.PRESENT


def test_the_missing_extra_is_told(k: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib.util  # noqa: PLC0415

    from carbdiag.reading import ReadingMissingError  # noqa: PLC0415

    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(ReadingMissingError, match=r"pip install 'carbdiag\[reading\]'"):
        read_text("bogs", k)


def test_two_heights_and_the_way_between_them_make_the_air_of_the_case(k: Knowledge) -> None:
    told = "Jetted at sea level, then we went up to the mountains at 9000 ft and it blubbers and smokes black."
    up = case_of(read_text(told, k))
    assert up.air is not None
    assert up.air.now.temperature_c is None
    assert (up.air.set.elevation_m, up.air.now.elevation_m) == (0, pytest.approx(2743.2))
    down = case_of(read_text("Came down from 2400 m to sea level and now it surges at half throttle.", k))
    assert down.air is not None
    assert (down.air.set.elevation_m, down.air.now.elevation_m) == (2400, 0)


@pytest.mark.parametrize(
    "told",
    [
        "Moved from sea level to our place in the hills at about 7,500 ft and it is doggy.",
        "Jetted at sea level, now at 7500 feet, it blubbers.",
        "It was set up at sea level and here we are at 2286 m altitude.",
    ],
)
def test_words_that_lead_from_one_height_to_the_other_are_a_way(k: Knowledge, told: str) -> None:
    air = read_text(told, k).air
    assert air is not None
    assert (air.set.elevation_m, air.now.elevation_m) == (0, pytest.approx(2286))


@pytest.mark.parametrize(
    ("told", "before", "now"),
    [
        ("It was 80F when we jetted it, now 30F mornings, it surges.", 26.7, -1.1),
        ("Ran great last weekend at -20C, this weekend it was +5C and it four strokes.", -20, 5),
    ],
)
def test_two_temperatures_and_which_came_first_make_the_air_of_the_case(
    k: Knowledge, told: str, before: float, now: float
) -> None:
    air = read_text(told, k).air
    assert air is not None
    assert (air.set.temperature_c, air.now.temperature_c) == (before, now)
    assert air.set.elevation_m == air.now.elevation_m


@pytest.mark.parametrize(
    ("told", "before", "now"),
    [
        ("Took a trip from Denver to the coast, main jet 152, plug is tan.", 1600, 0),
        ("Jetted at sea level, now in Flagstaff and it blubbers.", 0, 2100),
        ("Runs perfect at home at 500 ft. Trailered to the mountains at 9000 ft and it blubbers.", 152.4, 2743.2),
    ],
)
def test_a_height_may_be_a_name_or_a_low_one_that_is_a_place(
    k: Knowledge, told: str, before: float, now: float
) -> None:
    air = read_text(told, k).air
    assert air is not None
    assert (air.set.elevation_m, air.now.elevation_m) == (pytest.approx(before), pytest.approx(now))


@pytest.mark.parametrize("told", ["I ride from 40F to 60F and it bogs.", "Temps of 30F and 50F, it bogs."])
def test_a_range_of_temperatures_is_no_change_of_air(k: Knowledge, told: str) -> None:
    assert read_text(told, k).air is None


def test_the_number_of_a_jet_is_counted_both_ways_where_nobody_says_which(k: Knowledge) -> None:
    told = "Two stroke, moved from sea level to 7500 ft, main jet 140, it blubbers at full throttle."
    sized = diagnose(case_of(read_text(told, k)), k).causes[0].correction.sized
    assert sized is not None
    # by area: a hole counts with its square, a flow as it is; a leaner jet takes away the least first
    assert sized.present == "main jet 140"
    assert sized.proposed is not None
    assert "main jet 135 first (on the rich side of 132 to 125) if numbered by hole" in sized.proposed
    assert "127.5 first (on the rich side of 125 to 112.5) if by flow" in sized.proposed
    odd = diagnose(case_of(read_text(told.replace("140", "1200"), k)), k).causes[0].correction.sized
    assert odd is not None
    assert odd.proposed is None


@pytest.mark.parametrize(
    "told",
    [
        "It bogs at 9000 ft.",  # one height: where it was set is not said
        "It bogs at sea level and at 9000 ft.",  # two, and no way between them
        "We went up from 500 m to 900 m and on to 2400 m and it blubbers.",  # three: which is now?
        "I live at 2500 ft and ride at 900 ft, it bogs.",  # two, and neither said to come first
        "We drove it up to the lake at 6000 ft, home is at 800 ft, it bogs.",  # told in the other order
        "We went to the beach. It ran 500 ft and died.",  # 500 ft is how far
    ],
)
def test_no_air_is_guessed(k: Knowledge, told: str) -> None:
    assert read_text(told, k).air is None


@pytest.mark.parametrize(
    "told",
    [
        "I live in Denver, it was jetted at sea level.",
        "Bought it off a guy who jetted it for sea level. I'm at 5250 ft and it blubbers.",
        "Guy said he jetted it for the lowlands at 0 m above sea level. I ride at 1600 m.",
        "It was set up at sea level, our cabin is at 1600 m and it loads up.",
    ],
)
def test_the_height_it_was_jetted_for_is_the_one_before(k: Knowledge, told: str) -> None:
    air = read_text(told, k).air
    assert air is not None
    assert (air.set.elevation_m, air.now.elevation_m) == (0, pytest.approx(1600, abs=1))


def test_a_way_between_two_heights_asks_for_jets_without_any_complaint(k: Knowledge) -> None:
    read = read_text("Trip from 500 ft to 8500 ft next week at -10F, 155 mains now. What should I jet to?", k)
    assert read.air is not None
    assert (read.air.set.elevation_m, read.air.now.elevation_m) == (pytest.approx(152.4), pytest.approx(2590.8))
    assert read.air.now.temperature_c == pytest.approx(-23.3)
    answer = diagnose(case_of(read), k)
    assert answer.causes[0].id == "air_thinner"
    assert answer.causes[0].correction.sized is not None


@pytest.mark.parametrize(
    ("told", "celsius"), [("it was -10F", -23.3), ("at -5 C", -5), ("from 5-10C", 10), ("about 75F", 23.9)]
)
def test_a_minus_belongs_to_a_temperature(k: Knowledge, told: str, celsius: float) -> None:
    read = read_text(f"It bogs at half throttle, {told}.", k)
    assert fact(read, "temperature_c").value == pytest.approx(celsius, abs=0.1)


def test_a_stated_air_is_not_overruled(k: Knowledge) -> None:
    stated = AirChange(set=Air(elevation_m=300, temperature_c=20), now=Air(elevation_m=1500, temperature_c=10))
    read = read_text("Jetted at sea level, went up to the mountains at 9000 ft, it blubbers.", k)
    assert beside(read, Case(air=stated)).air == stated


def test_a_dirt_bike_has_no_dirt_in_its_carburetor(k: Knowledge) -> None:
    assert not read_text("Messed with the float tang on my dirt bike carb.", k).checks
    assert not read_text("Cleaned my dirt bike tank and it bogs.", k).checks
    assert [c.outcome for c in read_text("There was dirt in the carb.", k).checks] == ["dirt_or_rust"]


def test_an_effect_does_not_run_over_a_comma(k: Knowledge) -> None:
    read = read_text("Turned the mixture screw 1/2 turn out. Dies coming to a stop, pops.", k)
    assert not [t for t in read.trials if t.effect == "cured"]


@pytest.mark.parametrize("told", ["At the top it runs like a four stroke.", "At half it starts to four stroke."])
def test_a_two_stroke_that_sounds_like_a_four_stroke_is_none(k: Knowledge, told: str) -> None:
    reading = read_text(told, k)
    assert [f.finding for f in reading.findings] == ["blubbers"]
    assert case_of(reading).machine.strokes is None


@pytest.mark.parametrize(
    ("post", "use"),
    [
        ("My dirt bike bogs.", "off_road"),
        ("450 mx dirt bike, bogs.", "motocross"),  # the general word gives way
        ("A kids dirt bike, really a trail bike.", "trail"),
        ("My quad bogs and my dirt bike does not.", None),  # two machines
    ],
)
def test_a_general_word_for_a_machine_gives_way_to_what_it_is(k: Knowledge, post: str, use: str | None) -> None:
    assert [f.value for f in read_text(post, k).facts if f.fact == "use"] == ([use] if use else [])
