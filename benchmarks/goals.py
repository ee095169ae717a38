"""Goals that were set for a study, and whether what was measured meets them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple


class Goal(NamedTuple):
    """What was wanted, what was measured, and whether that is enough."""

    what: str
    measured: str
    met: bool


def world_name(off: float) -> str:
    """How a page names a world whose likelihoods are off by up to a factor."""
    return "matched" if off == 1 else f"×{off:g}"


def goals_section(goals: Iterable[Goal]) -> list[str]:
    """The goals as a section of a page."""
    rows = (f"| {g.what} | {g.measured} | {'yes' if g.met else '**no**'} |" for g in goals)
    return ["## The goals, met or not", "", "| goal | measured | met |", "|---|---|---|", *rows, ""]


def tell(goals: Iterable[Goal]) -> None:
    """Print the goals, one a line."""
    for goal in goals:
        print(f"{'met    ' if goal.met else 'NOT met'}  {goal.measured:>24}  {goal.what}")
