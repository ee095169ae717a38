"""A rider who says that he went to another height is not asked whether the air has changed."""

from __future__ import annotations

import pytest

from carbdiag import Case, diagnose, read_text
from carbdiag.case_schema import ContextReport, FindingReport, Machine
from carbdiag.knowledge import shipped_knowledge

K = shipped_knowledge()
ASKED = "air_since_jetting_asked"


def proposed(*contexts: str) -> set[str]:
    case = Case(
        machine=Machine(family="round_slide", strokes=2, cylinders=1),
        contexts=tuple(ContextReport(context=c) for c in contexts),
        findings=(FindingReport(finding="blubbers"), FindingReport(finding="plug_fouls_repeatedly")),
    )
    return {s.id for s in diagnose(case, K, steps=20).next_steps}


def test_whether_the_air_has_changed_is_not_asked_of_who_told_a_move() -> None:
    assert K.checks[ASKED].told_by_air
    assert ASKED not in proposed("moved_up")
    assert ASKED not in proposed("exhaust_changed", "moved_up")


@pytest.mark.parametrize(
    ("said", "way"),
    [
        ("Moved from Houston to Denver with my carbed 1100. Down there it ran fine, up here it stinks of gas.", "up"),
        ("I moved from Denver to Houston. It pings.", "down"),
        ("The bike came from a guy in Houston. I'm at 6000 ft and it runs rich.", "up"),
        ("jetted for Denver, now in Houston and it surges", "down"),
        ("It ran fine in Houston, here in Denver it loads up", "up"),
        ("Spot on at home 500 ft / 20C: 168 main. The race is at 7500ft and about 5C in the morning.", "up"),
        ("Perfect at home (1000 m). The event is at 2500 m next month.", "up"),
    ],
)
def test_towns_tell_the_air_the_way_they_were_gone(said: str, way: str) -> None:
    """Thin air read as dense would lean a lean engine."""
    air = read_text(said).air
    assert air is not None
    assert air.set.elevation_m is not None
    assert air.now.elevation_m is not None
    assert ("up" if air.now.elevation_m > air.set.elevation_m else "down") == way
