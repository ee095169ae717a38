"""Trials with their effects and settings as riders tell them, and near misses: plans, questions, the wrong way.

`told_trials.yaml` holds sentences, `told_effects.yaml` whole posts.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.knowledge import parse_yaml
from carbdiag.terms import Status

FOLDER = Path(__file__).parent


def table(name: str) -> list[dict[str, Any]]:
    return cast(list[dict[str, Any]], parse_yaml((FOLDER / name).read_text(encoding="utf-8")))


TOLD = [*table("told_trials.yaml"), *table("told_effects.yaml")]


def tried(reading: TextReading) -> set[str]:
    """The trials with their effects, under the names the table uses."""
    return {f"{t.do or f'{t.change} {t.direction}'} {t.effect}" for t in reading.trials}


def stated(reading: TextReading) -> set[str]:
    """Everything stated, under the names the table uses."""
    sizes = {f"{t.change} {t.from_size:g}>{t.to_size:g}" for t in reading.trials if t.from_size and t.to_size}
    return sizes | {
        *(f.finding for f in reading.findings if f.status is Status.PRESENT),
        *(c.context for c in reading.contexts if c.status is Status.PRESENT),
        *(f"{c.check} {c.outcome}" for c in reading.checks),
        *tried(reading),
        *(f"{f.fact}={f.value:g}" for f in reading.facts if isinstance(f.value, float)),
    }


@pytest.mark.parametrize("wording", TOLD, ids=lambda w: w["say"][:60])
def test_a_wording_says_this_and_not_that(k: Knowledge, wording: dict[str, Any]) -> None:
    reading = read_text(wording["say"], k)
    read = stated(reading)
    assert set(wording.get("read", ())) <= read
    assert "trials" not in wording or tried(reading) <= set(wording["trials"])
    for name in wording.get("not", ()):
        assert not [r for r in read if r == name or r.startswith((f"{name} ", f"{name}="))]


def test_every_name_in_the_table_is_one_of_the_knowledge(k: Knowledge) -> None:
    names = {name.split()[0] for w in TOLD for name in (*w.get("read", ()), *w.get("not", ()), *w.get("trials", ()))}
    facts = {"main_jet", "pilot_jet", "screw_turns", "clip_groove"}
    known = {*k.findings, *k.contexts, *k.checks, *k.actions, *k.circuits, *facts}
    assert {name.partition("=")[0] for name in names} <= known


def test_the_table_asks_of_each_wording_something_that_can_fail() -> None:
    assert all(w.get("read") or w.get("not") or "trials" in w for w in TOLD)
