"""What a post tells in order in time: signs before a setting was moved, and after."""

from __future__ import annotations

import pytest

from carbdiag import Knowledge, TextReading, read_text, to_text
from carbdiag.answers.reading_text import reading_text
from carbdiag.case_schema import Case
from carbdiag.posted_schema import PostedCase
from carbdiag.reading.casing import beside, case_of
from carbdiag.reading.diagnosing import diagnose_posted
from tests.reading.stories_script import stories


def told(reading: TextReading) -> list[set[str]]:
    """The signs of each stretch of time."""
    return [
        {f"{f.finding} {f.status}".removesuffix(" present") for f in reading.findings if f.epoch == n}
        for n in range(reading.epochs)
    ]


@pytest.mark.parametrize(
    ("text", "before", "now", "trial"),
    [
        (
            "It bogged off idle. I went up on the pilot, and now it also stalls at stops.",
            {"bogs"}, {"stalls_at_stop"}, "pilot richer worse",
        ),
        (
            "It bogged right off idle so I went up one on the pilot. Now it doesn't bog any more but stalls at stops.",
            {"bogs"}, {"bogs denied", "stalls_at_stop"}, "pilot richer cured",
        ),
        (
            "Leaned out the fuel screw and now it stalls at every light.",
            set(), {"stalls_at_stop"}, "mixture_screw leaner worse",
        ),
        (
            "Two stroke. Since I lowered the needle a notch it surges at quarter throttle.",
            set(), {"surges"}, "needle leaner worse",
        ),
        (
            "I backed the air screw out a turn. Since then it bogs off idle, which it never did before.",
            {"bogs denied"}, {"bogs"}, "mixture_screw leaner worse",
        ),
        (  # what heads the post is the complaint of today
            "Stalls at stops. Last week I turned the fuel screw in half a turn, now it stalls at stops.",
            set(), {"stalls_at_stop"}, "mixture_screw leaner worse",
        ),
        (  # its own sizes are no other jet tried
            "Went leaner on the main from 178 to 172 since it was blubbering on top, way better now but plug white.",
            {"thick_on_top"}, {"plug_white"}, "main_jet leaner overshot",
        ),
        (  # a setting told first to have made it worse, and then the signs of it
            "Put a bigger main in, 140 to 150, and it made it worse up top, won't clear out, black plug.",
            set(), {"blubbers", "plug_black_dry"}, "main_jet richer worse",
        ),
        (  # a thick note behind a richer needle is that of too rich: past what is right
            "It hesitated at half. Raised the needle a notch and the hesitation is gone but now it blubbers at half.",
            {"hesitates"}, {"hesitates denied", "blubbers"}, "needle richer overshot",
        ),
    ],
)  # fmt: skip
def test_what_the_words_order_is_put_in_order(
    k: Knowledge, text: str, before: set[str], now: set[str], trial: str
) -> None:
    reading = read_text(text, k)
    assert told(reading) == [before, now]
    assert [f"{t.change} {t.direction} {t.effect}" for t in reading.trials] == [trial]
    assert [t.epoch for t in reading.trials] == [0]


def test_how_it_ran_with_the_jet_that_came_out_puts_nothing_back(k: Knowledge) -> None:
    reading = read_text("Main 120 up to 130, made it worse up top, won't clear out. With the 120 it ran ok.", k)
    assert [(t.from_size, t.to_size, t.effect) for t in reading.trials] == [(120, 130, "worse")]
    assert [f.value for f in reading.facts if f.fact == "main_jet"] == [130]


def test_what_is_tried_on_a_complaint_told_before_is_put_back_as_a_rule(k: Knowledge) -> None:
    text = "It hesitates off idle. Turned the fuel screw out half a turn and it got worse. It also loads up at idle."
    assert told(read_text(text, k)) == [{"hesitates", "loads_up"}]


@pytest.mark.parametrize(
    "text",
    [
        "It bogs off idle. New plug, no change.",
        "Bogs at half throttle and surges at quarter. I went down on the main and it made no difference.",
        "It stalls at stops and pops on decel. I was going to lean the fuel screw out.",
        "Adjusted the valves. It starts easier now but still spits back through the carb.",
        "It never bogged when I bought it. Now it bogs.",
    ],
)
def test_what_nothing_orders_is_of_one_time(k: Knowledge, text: str) -> None:
    assert read_text(text, k).epochs == 1


def test_jets_changed_with_another_exhaust_or_filter_are_a_set_up_and_no_trial(k: Knowledge) -> None:
    reading = read_text(
        "I put a full exhaust and pod filters on my 650 twin. Went up two sizes on the mains, shimmed the needles 1mm."
        " Now it has a flat spot around 3500 rpm.",
        k,
    )
    assert not reading.trials
    assert {"needle_raised", "exhaust_changed"} <= {c.context for c in reading.contexts}


def test_an_effect_under_a_condition_is_no_deeds(k: Knowledge) -> None:
    assert not read_text("New plug, new air filter. If i pull the choke half it goes better", k).trials


def test_a_pilot_too_rich_leads_where_a_bigger_one_went_too_far(k: Knowledge) -> None:
    text = (
        "Two stroke. Fitted a bigger pilot because it was popping on decel. Popping is gone but now it stumbles just"
        " off idle and smells of gas, plug sooty black."
    )
    reading = read_text(text, k)
    assert [(t.change, t.effect) for t in reading.trials] == [("pilot", "overshot")]
    assert told(reading)[0] == {"pops_on_overrun"}
    assert diagnose_posted(PostedCase(text=text), k).causes[0].id == "pilot_jet_too_large"


def test_a_setting_put_back_is_none_of_what_is_wrong_now(k: Knowledge) -> None:
    moved = "Two stroke. Moved the clip from the second to the fourth groove which made it way worse"
    kept, undone = (read_text(f"{moved}{more}.", k).trials for more in ("", ", so I put it back in the second"))
    assert [t.put_back for t in kept] == [False]
    assert [t.put_back for t in undone] == [True]
    assert not diagnose_posted(PostedCase(text=f"{moved}, so I put it back in the second."), k).put_back_first


LEANED = "Four stroke. Leaned the screw out and now it stalls every time I come to a junction."


def test_a_setting_that_brought_it_on_leads(k: Knowledge) -> None:
    for text in (LEANED, "Leaned the screw out and now it stalls."):
        found = diagnose_posted(PostedCase(text=text), k)
        assert found.causes[0].id == "mixture_screw_lean"
        assert [p.circuit for p in found.put_back_first] == ["mixture_screw"]
        assert "idle_screws_turned" not in {s.id for s in found.next_steps}


@pytest.mark.parametrize(
    ("text", "trials"),
    [
        ("Replaced the intake gasket last week and now the idle is all over the place.", {"seal_intake worse"}),
        ("Changed the reeds and ever since it is hard to start.", {"replace_reeds worse"}),
        # told before as well: the work came afterwards
        ("It is hard to start. Changed the reeds and it is still hard to start.", {"replace_reeds no_change"}),
        # what a circumstance says already is not told twice
        ("Put new plugs in it yesterday and now it wont start.", set()),
        ("Did a top end rebuild and now it has no power.", set()),
        # a setting that was right elsewhere
        ("Rejetted it for sea level, now in Flagstaff and it blubbers at full throttle.", set()),
    ],
)
def test_work_that_trouble_follows_brought_it(k: Knowledge, text: str, trials: set[str]) -> None:
    reading = read_text(text, k)
    assert {f"{t.do} {t.effect}" for t in reading.trials} == trials
    assert trials or reading.contexts


def test_reading_and_answer_say_what_was_before_and_what_after(k: Knowledge) -> None:
    text = "Round slide two stroke. It bogged off idle. I went up on the pilot, and now it stalls at stops."
    found = diagnose_posted(PostedCase(text=text), k)
    assert [line for line in found.understood if line.startswith("At first: ")] == [
        "At first: Bogs (one-eighth throttle)"
    ]
    assert any(line.startswith("After that: Stalls at a stop") for line in found.understood)
    shown = [reading_text(read_text(text, k), k), to_text(found)]
    for page in shown:
        flat = " ".join(page.split())
        order = [flat.index(words) for words in ("At first:", "Bogs", "After that:", "Stalls at a stop")]
        assert order == sorted(order)


def test_a_case_takes_the_order_of_a_post(k: Knowledge) -> None:
    reading = read_text(LEANED, k)
    first, last = case_of(reading).history()
    assert [t.change for t in first.trials] == ["mixture_screw"]
    assert [f.finding for f in last.findings] == ["stalls_at_stop"]
    stated = Case(findings=({"finding": "revs_hang"},))  # type: ignore[arg-type]
    _, now = beside(reading, stated).history()
    assert [f.finding for f in now.findings] == ["revs_hang", "stalls_at_stop"]


def test_stories_are_read_no_worse_than_measured(k: Knowledge) -> None:
    for name, least in stories.LEAST.items():
        counted, _ = stories.measured(k, name)
        for kind, (precision, recall) in least.items():
            found = stories.rates(counted[kind])
            assert found[0] >= precision, (name, kind)
            assert found[1] >= recall, (name, kind)
