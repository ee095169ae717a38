"""Signs that hold steps back: invented wordings that tell them, and such as only sound like it."""

from __future__ import annotations

import pytest

from carbdiag import read_text
from carbdiag.knowledge import shipped_knowledge
from carbdiag.terms import Status

K = shipped_knowledge()

SAID = [
    ("Throttle snaps back fine, no sticking.", "throttle_sticks", False),
    ("throttle cable moves freely and snaps shut", "throttle_sticks", False),
    ("the throttle hangs wide open and wont come back", "throttle_sticks", True),
    ("throttle stuck at half when I let go", "throttle_sticks", True),
    ("it doesn't snap shut when I let go of the throttle", "throttle_sticks", True),
    ("It doesn't ping any more.", "knocks", False),
    ("no pinging or knocking", "knocks", False),
    ("it pings going up hill", "knocks", True),
    ("hear a rattle like marbles under load", "knocks", True),
    ("detonating at WOT", "knocks", True),
    ("from half up it kinda rattles and feels weak", "knocks", True),
    ("the heat shield rattles at idle", "knocks", False),
    ("carb used to leak gas but I fixed it. Now it bogs.", "fuel_overflow", False),
    ("gas is running out of the carb onto the engine", "fuel_overflow", True),
    ("fuel pissing out on the ground", "fuel_overflow", True),
    ("oil smells like gas and is overfull", "fuel_in_oil", True),
    ("crankcase is full of gas", "fuel_in_oil", True),
    ("oil looks clean and does not smell of gas", "fuel_in_oil", False),
    ("it overheats in traffic", "runs_hot", True),
    ("it seized for a second then let go", "tightened_then_freed", True),
    ("engine locked up at full throttle then freed itself", "tightened_then_freed", True),
    ("it seized on me halfway through the second lap. Freed after 10 mins, kicks over", "tightened_then_freed", True),
    ("Took it out this weekend, 4C, it seized.", "tightened_then_freed", True),
    ("put a new piston in it two weeks ago, now it seized again", "tightened_then_freed", True),
    ("rebuilt the top end after it seized", "tightened_then_freed", False),
    ("it seized last summer and was rebuilt", "tightened_then_freed", False),
    ("pops like popcorn on engine braking", "tightened_then_freed", False),
    ("slowed like someone hit the brakes", "tightened_then_freed", True),
    ("scared it will seize", "tightened_then_freed", False),
    ("the bowl screws are seized", "tightened_then_freed", False),
    ("before the rebuild it idled but leaked gas", "fuel_overflow", False),
    ("it started and went straight to full revs, couldn't shut it off", "revs_run_away", True),
    ("it revved to the moon by itself and I had to choke it to stop it", "revs_run_away", True),
    ("revs forever when I start it, had to yank the plug wire", "revs_run_away", True),
    ("pulled the plug wire, no difference", "revs_run_away", False),
    ("thumb throttle on the atv freezes up at speed in cold snow", "throttle_sticks", True),
    ("kill switch doesn't stop it", "kill_switch_ineffective", True),
    ("can't turn it off with the key", "kill_switch_ineffective", True),
    ("there's a knocking noise when I give it full gas", "knocks", True),
    ("exhaust is popping on decel", "knocks", False),
    ("plug is white as a ghost", "plug_white", True),
    ("when I twist it goes to full revs and pulls well", "revs_run_away", False),
    ("it knocked the mirror off at full throttle", "knocks", False),
]
#: What stopped is no sign, and an engine that stopped is one.
STOPPED = [
    ("New pilot and it stopped popping.", "backfires", False),
    ("It quit popping on decel.", "pops_on_overrun", False),
    ("It quit popping on decel.", "will_not_idle", False),
    ("It stopped bogging when I raised the clip.", "bogs", False),
    ("It won't stop popping.", "backfires", True),
    ("It never stopped bogging.", "bogs", True),
    ("It quit idling.", "stalls_at_stop", True),
    ("It stopped running at the lights.", "stops_while_riding", True),
]


@pytest.mark.parametrize(("text", "sign", "shows"), [*SAID, *STOPPED])
def test_a_sign_is_read_where_it_is_told_and_nowhere_else(text: str, sign: str, shows: bool) -> None:
    present = {f.finding for f in read_text(text, K).findings if f.status is Status.PRESENT}
    assert (sign in present) is shows


def test_every_sign_here_holds_something_back() -> None:
    holding = {f for hold in K.holds.values() for f in hold.when.findings}
    assert {sign for _, sign, _ in SAID} <= holding | {"plug_white"}


@pytest.mark.parametrize(
    "text", ["It coughs and nearly dies, then picks up.", "It sputters and almost stalls at lights."]
)
def test_an_engine_that_nearly_stops_does_not_stop(text: str) -> None:
    """Stopping for good speaks for the fuel supply; catching itself does not."""
    present = {f.finding for f in read_text(text, K).findings if f.status is Status.PRESENT}
    assert not {s for s in present if K.findings[s].stops_whole}


def test_a_diaphragm_under_the_cap_makes_no_diaphragm_carburetor() -> None:
    reading = read_text("Four stroke single. The diaphragm in the carb top looked fine. It bogs.", K)
    assert "family" not in {f.fact for f in reading.facts}


@pytest.mark.parametrize(
    ("text", "outcome"),
    [
        ("sled lost 10mph, compression 95 and 120", "low"),
        ("compression is 130/100", "low"),
        ("compression is 120 and 118", "normal"),
        ("compression 150/148", "normal"),
    ],
)
def test_cylinders_that_differ_have_low_compression(text: str, outcome: str) -> None:
    assert [c.outcome for c in read_text(text, K).checks if c.check == "compression_gauge"] == [outcome]


def test_who_got_dizzy_in_the_shop_is_told_of_exhaust_gas() -> None:
    told = read_text("got dizzy working on the bike in the shop w door open, trying to sync the carbs", K)
    assert "run_indoors" in [c.context for c in told.contexts]
