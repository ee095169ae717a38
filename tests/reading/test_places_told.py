"""Each trouble is read where it is told, and nowhere where it is told to run right."""

from __future__ import annotations

import itertools
import random
from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Status

TOLD = cast(list[Any], parse_yaml((Path(__file__).parent / "told_places.yaml").read_text(encoding="utf-8")))


OPENINGS = {
    "full": ("pinned", "wide open", "wot", "full throttle", "flat out"),
    "half": ("half throttle", "1/2 throttle", "1/2"),
    "eighth": ("off idle", "1/8", "just off idle"),
    "quarter": ("quarter throttle", "1/4"),
    "three_quarter": ("3/4", "3/4 throttle", "three quarter throttle"),
}
TROUBLES = {"bogs": ("bogs",), "blubbers": ("blubbers", "burbles"), "misfires": ("stutters", "misses")}
RIGHT = ("great", "perfect", "crisp", "clean", "mint", "spot on", "fine", "smooth", "ok", "flawless", "bang on")
#: {p} and what is told of it, then {q} and what is told of it.
BESIDE = (
    "{p} is {g}, {q} it {b}", "{p} it's {g}, {q} it {b}", "{q} it {b}, {p} is {g}", "{q} it {b} but {p} it's {g}",
    "{p}: {g}. {q}: it {b}", "{p} = {g}, {q} it {b}", "{g} at {p}, it {b} at {q}", "Its {g} {p} and it {b} {q}",
    "{p} feels {g}. At {q} it {b}", "it {b} at {q}, {p} feels {g}",
)  # fmt: skip
TWICE = (
    "it {b} at {p} and {c} at {q}", "at {p} it {b}, at {q} it {c}", "{p}: {b}. {q}: {c}", "it {b} at {p}, {c} at {q}",
    "{p} = {b}, {q} = {c}", "{p} - {b}\n{q} - {c}", "it {b} at {p} & it {c} at {q}", "{b} at {p}. At {q} it {c}",
)  # fmt: skip


def at_places(k: Knowledge, text: str) -> set[str]:
    out = set()
    for read in read_text(text, k).findings:
        denied = " denied" if read.status is Status.DENIED else ""
        out |= {f"{read.finding}@{place}{denied}" for place in read.at} or {read.finding + denied}
    return out


@pytest.mark.parametrize("told", TOLD, ids=lambda t: t["say"][:60])
def test_a_sentence_tells_where(k: Knowledge, told: dict[str, Any]) -> None:
    read = at_places(k, told["say"])
    assert set(told["read"]) <= read
    of = {sign.split("@")[0] for sign in told["read"]} | {"bogs", *told.get("not_read", ())}
    assert {r for r in read if r.removesuffix(" denied").split("@")[0] in of} <= set(told["read"])


def drawn(number: int) -> list[tuple[str, str, str, str]]:
    """Openings and troubles by chance, of a fixed seed: two openings, a trouble and another."""
    chance = random.Random(number)
    pairs = [*itertools.permutations(OPENINGS, 2)]
    return [(*chance.choice(pairs), *chance.sample([*TROUBLES], 2)) for _ in range(12)]


@pytest.mark.parametrize("form", BESIDE)
def test_no_trouble_is_read_where_it_runs_right(k: Knowledge, form: str) -> None:
    chance = random.Random(form)
    for right, wrong, sign, _ in drawn(BESIDE.index(form)):
        said = {"p": chance.choice(OPENINGS[right]), "q": chance.choice(OPENINGS[wrong]), "g": chance.choice(RIGHT)}
        text = form.format(b=chance.choice(TROUBLES[sign]), **said)
        read = at_places(k, text)
        assert f"{sign}@{wrong}" in read, text
        assert any(r.endswith(f"@{right} denied") for r in read), text
        assert not {f"{s}@{right}" for s in TROUBLES} & read, text


@pytest.mark.parametrize("form", TWICE)
def test_each_of_two_troubles_is_read_at_its_own_opening(k: Knowledge, form: str) -> None:
    chance = random.Random(form)
    for one, other, sign, second in drawn(TWICE.index(form)):
        places = {"p": chance.choice(OPENINGS[one]), "q": chance.choice(OPENINGS[other])}
        text = form.format(b=chance.choice(TROUBLES[sign]), c=chance.choice(TROUBLES[second]), **places)
        assert at_places(k, text) == {f"{sign}@{one}", f"{second}@{other}"}, text


FELT = (
    "{d}, {e} at {p}", "{d} and it's {e} at {p}", "{d}: {e} at {p}", "{d}, {p} is {e}", "{d}, now it is {e} at {p}",
)  # fmt: skip
MOVED = {
    "went up two on the main": ("main_jet", "richer"), "raised the needle a notch": ("needle", "richer"),
    "pilot from 42 to 45": ("pilot", "richer"), "went down one on the main": ("main_jet", "leaner"),
}  # fmt: skip
EFFECTS = {"better": "better", "much better": "better", "worse": "worse", "no difference": "no_change"}


@pytest.mark.parametrize("form", FELT)
@pytest.mark.parametrize("deed", MOVED)
def test_an_effect_is_felt_at_the_opening_beside_it(k: Knowledge, deed: str, form: str) -> None:
    chance = random.Random(form + deed)
    for effect, (place, words) in itertools.product(EFFECTS, OPENINGS.items()):
        text = "It bogs. " + form.format(d=deed, e=effect, p=chance.choice(words))
        told = [(t.change, t.direction, t.effect, t.at) for t in read_text(text, k).trials]
        assert told == [(*MOVED[deed], EFFECTS[effect], place)], text
