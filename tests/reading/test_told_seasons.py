"""Other air, and settings moved with what it did, as riders tell them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.terms import Status

TOLD = yaml.safe_load((Path(__file__).parent / "told_seasons.yaml").read_text(encoding="utf-8"))


def stated(reading: TextReading) -> set[str]:
    """What the table names: circumstances, trials with their effect and opening, sizes, settings, the air."""
    trials = {(f"{t.do or f'{t.change} {t.direction}'} {t.effect}", t.at) for t in reading.trials}
    air = reading.air
    return {
        *(c.context for c in reading.contexts if c.status is Status.PRESENT),
        *(said for said, _ in trials),
        *(f"{said} @{at}" for said, at in trials),
        *(f"{t.change} {t.from_size:g}>{t.to_size:g}" for t in reading.trials if t.from_size and t.to_size),
        *(f"{f.fact}={f.value:g}" for f in reading.facts if isinstance(f.value, float)),
        *([f"air {air.set.elevation_m:.0f}>{air.now.elevation_m:.0f}"] if air else []),
    }


def missed(told: dict[str, Any], reading: TextReading) -> tuple[list[str], list[str]]:
    """What should have been read and was not, and what was read and should not have been."""
    read = stated(reading)
    wanted = ([f"{name.rpartition(' ')[0]} {way}" for way in name.rpartition(" ")[2].split("|")] if "|" in name
              else [name] for name in told.get("read", ()))  # fmt: skip
    lost = ["|".join(n) for n in wanted if not any(r == x or r.startswith(f"{x} ") for x in n for r in read)]
    wrong = [r for name in told.get("not", ()) for r in read if r == name or r.startswith((f"{name} ", f"{name}="))]
    return lost, wrong


#: Those marked `left` are not read right yet; one that is after all must lose its mark.
MARKED = [
    pytest.param(told, id=told["say"][:60], marks=pytest.mark.xfail(strict=True) if told.get("left") else ())
    for told in TOLD
]


@pytest.mark.parametrize("told", MARKED)
def test_a_post_tells_this_and_not_that(told: dict[str, Any], k: Knowledge) -> None:
    assert missed(told, read_text(told["say"], k)) == ([], [])


def test_the_table_asks_of_each_post_something_that_can_fail() -> None:
    assert all(told.get("read") or told.get("not") for told in TOLD)
