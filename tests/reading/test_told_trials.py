"""Trials with their effects and settings as riders tell them, and near misses: plans, questions, the wrong way."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.knowledge import parse_yaml
from carbdiag.terms import Status

TABLE = Path(__file__).parent / "told_trials.yaml"
TOLD = cast(list[dict[str, Any]], parse_yaml(TABLE.read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def k() -> Knowledge:
    return Knowledge.load()


def stated(reading: TextReading) -> set[str]:
    """Everything stated, under the names the table uses."""
    sizes = {f"{t.change} {t.from_size:g}>{t.to_size:g}" for t in reading.trials if t.from_size and t.to_size}
    return sizes | {
        *(f.finding for f in reading.findings if f.status is Status.PRESENT),
        *(c.context for c in reading.contexts if c.status is Status.PRESENT),
        *(f"{c.check} {c.outcome}" for c in reading.checks),
        *(f"{t.do or f'{t.change} {t.direction}'} {t.effect}" for t in reading.trials),
        *(f"{f.fact}={f.value:g}" for f in reading.facts if isinstance(f.value, float)),
    }


@pytest.mark.parametrize("wording", TOLD, ids=lambda w: w["say"][:60])
def test_a_wording_says_this_and_not_that(k: Knowledge, wording: dict[str, Any]) -> None:
    read = stated(read_text(wording["say"], k))
    assert set(wording.get("read", ())) <= read
    for name in wording.get("not", ()):
        assert not [r for r in read if r == name or r.startswith((f"{name} ", f"{name}="))]


def test_every_name_in_the_table_is_one_of_the_knowledge(k: Knowledge) -> None:
    names = {name.split()[0] for w in TOLD for name in (*w.get("read", ()), *w.get("not", ()))}
    facts = {"main_jet", "pilot_jet", "screw_turns", "clip_groove"}
    known = {*k.findings, *k.contexts, *k.checks, *k.actions, *k.circuits, *facts}
    assert {name.partition("=")[0] for name in names} <= known


def test_the_table_asks_of_each_wording_something_that_can_fail() -> None:
    assert all(w.get("read") or w.get("not") for w in TOLD)
