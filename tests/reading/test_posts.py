"""Whole posts, read and diagnosed: what is obvious to a mechanic must lead, and a question is no complaint."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, case_of, diagnose, read_text, to_bbcode, to_html, to_markdown, to_text
from carbdiag.posted_schema import PostedCase
from carbdiag.reading import diagnose_posted
from carbdiag.strict_yaml import parse_yaml

POSTS = Path(__file__).parent / "posts"


def posts(name: str) -> list[dict[str, Any]]:
    return cast(list[dict[str, Any]], parse_yaml((POSTS / f"{name}.yaml").read_text(encoding="utf-8")))


INVENTED = {p["id"]: p for p in posts("invented")}
#: Of the invented posts, those in which one group is so plain that no other may come first.
PLAIN = ["p03", "p04", "p05", "p09", "p11", "p12", "p17", "p19", "p23"]


@pytest.mark.parametrize("name", PLAIN)
def test_a_plain_post_leads_to_its_group(k: Knowledge, name: str) -> None:
    post = INVENTED[name]
    wanted = post["group"] if isinstance(post["group"], list) else [post["group"]]
    first = diagnose(case_of(read_text(post["text"], k)), k).causes[0]
    assert first.group in wanted


def test_a_question_without_a_complaint_is_asked_back(k: Knowledge) -> None:
    reading = read_text(INVENTED["p25"]["text"], k)
    assert reading.is_empty
    assert reading.please_say


def test_a_denial_reaches_over_or(k: Knowledge) -> None:
    reading = read_text("No misfire or bucking, but it bogs at half throttle.", k)
    found = {f.finding: f.status.value for f in reading.findings}
    assert found["misfires"] == "denied"
    assert found["bogs"] == "present"


def test_the_second_it_is_opened_is_no_running_time(k: Knowledge) -> None:
    text = "The second I open it a bit it coughs and wants to die, I have to slip the clutch to get away."
    found = {f.finding for f in read_text(text, k).findings}
    assert not found & {"dies_after_minutes", "clutch_slips", "revs_rise_speed_does_not"}
    assert "dies_on_opening" in found


@pytest.mark.parametrize("told", ["Reeds worn?", "Jets too big for the height?", "So what is it, seized?", "Bad gas?"])
def test_a_guess_with_a_question_mark_states_nothing(k: Knowledge, told: str) -> None:
    read = read_text(told, k)
    assert not [*read.checks, *read.contexts]


def test_half_choke_is_no_throttle_opening(k: Knowledge) -> None:
    assert [f.at for f in read_text("Pulling the choke half way stops the surging.", k).findings] == [()]


@pytest.mark.parametrize(
    ("told", "outcome"),
    [
        ("Did a compression test: 60 psi.", "low"),
        ("Compression is 150 psi.", "normal"),
        ("Compression 130/128.", "normal"),
        ("Compression is 120 and 60 psi.", "low"),  # one bad cylinder is enough
        ("Compression 150 on the left, 60 on the right.", "low"),
        ("Compression 150, jets 160 and 48.", "normal"),
        ("Compression is 100 psi.", None),  # the book of the machine must say
        ("Compression is 9.5:1 on this engine.", None),
    ],
)
def test_a_pressure_counts_where_it_is_plainly_good_or_bad(k: Knowledge, told: str, outcome: str | None) -> None:
    read = read_text(told, k)
    assert {(c.check, c.outcome) for c in read.checks} == ({("compression_gauge", outcome)} if outcome else set())


def test_signs_told_in_one_breath_share_their_place(k: Knowledge) -> None:
    read = read_text("From a quarter to half throttle it stutters and blubbers.", k)
    assert [(f.finding, f.at) for f in read.findings] == [(f, ("quarter", "half")) for f in ("misfires", "blubbers")]


@pytest.mark.parametrize("told", ["It doesn't pop or backfire.", "It never pops."])
def test_an_engine_that_does_not_pop_is_not_one_that_never_fires(k: Knowledge, told: str) -> None:
    assert [(f.finding, f.status) for f in read_text(told, k).findings] == [("backfires", "denied")]


def test_an_engine_that_races_and_ignores_its_switch_is_warned_of_first(k: Knowledge) -> None:
    told = "Two stroke. Sometimes it races off by itself and the kill button doesn't stop it."
    found = diagnose(case_of(read_text(told, k)), k)
    assert "runs_away" in [hold.id for hold in found.holds]
    for render in (to_text, to_markdown, to_bbcode, to_html):
        for form in ("full", "short"):
            assert "It may race: do not start it" in " ".join(render(found, form=form).split()), (render.__name__, form)


def test_nothing_is_asked_of_an_engine_that_will_not_run_that_only_a_running_one_shows(k: Knowledge) -> None:
    told = "It won't start. Gas dripping out of the carb. Oil looks too full and stinks of gas."
    read = read_text(told, k)
    assert [(c.check, c.outcome) for c in read.checks] == [("oil_on_dipstick", "high_or_smells_of_fuel")]
    asked = [s.id for s in diagnose(case_of(read), k, steps=20).next_steps]
    assert not any(k.findings[a].needs_running for a in asked if a in k.findings)


def test_a_ride_down_from_height_is_read(k: Knowledge) -> None:
    read = read_text("Came down from the cabin at 8000 ft to home and now it pops when I let off.", k)
    assert "moved_down" in [c.context for c in read.contexts]


def test_what_a_machine_is_used_for_is_read(k: Knowledge) -> None:
    assert case_of(read_text("My generator surges with no load.", k)).machine.use == "generator"
    assert case_of(read_text("It bogs on the road at half throttle.", k)).machine.use is None


@pytest.mark.parametrize("render", [to_text, to_markdown, to_bbcode, to_html])
def test_every_answer_to_a_post_shows_what_was_read(k: Knowledge, render: Callable[..., str]) -> None:
    text = "It bogs at half throttle, no smoke or backfire. The moon is full tonight."
    found = diagnose_posted(PostedCase(text=text), k)
    full = render(found)
    for words in ("What I understood", "Bogs", "Not understood", "moon is full"):
        assert words in full
    assert "I read:" in render(found, "short")
    assert "Bogs" in render(found, "short")
    assert "I read" not in render(diagnose(case_of(read_text(text, k)), k), "short")


def test_words_that_deny_stand_beside_what_they_deny(k: Knowledge) -> None:
    page = to_text(diagnose_posted(PostedCase(text="It bogs off the bottom but pulls hard up top."), k))
    denied = [line for line in page.splitlines() if line.strip().startswith("- Not so: bogs")]
    assert denied
    assert all("“bogs" not in line for line in denied)


def test_a_near_seizure_is_read_and_holds_back_wide_throttle(k: Knowledge) -> None:
    found = diagnose_posted(PostedCase(text=INVENTED["p27"]["text"]), k)
    assert "tightened_then_freed" in {i for s in found.told for i in s.ids}
    assert "exhaust_changed" in {i for s in found.told for i in s.ids}
    assert {h.id for h in found.holds} & {"lean_at_wide_throttle", "knock_or_heat"}


@pytest.mark.parametrize(
    ("told", "sign", "status"),
    [
        ("The plug ain't black.", "plug_black_dry", "denied"),
        ("The pipe's not glowing.", "pipe_glows_or_blues", "denied"),
        ("The plug is black, not tan.", "plug_black_dry", "present"),
    ],
)
def test_a_denial_between_a_part_and_its_state_denies_the_sign(
    k: Knowledge, told: str, sign: str, status: str
) -> None:
    assert {f.finding: f.status.value for f in read_text(told, k).findings}.get(sign) == status
