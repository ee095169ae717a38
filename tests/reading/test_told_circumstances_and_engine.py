"""Circumstances and the checks of engine, exhaust and ignition, as riders tell them, and near misses of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.knowledge import parse_yaml
from tests.reading.told_script import stated

TABLE = Path(__file__).parent / "told_circumstances_and_engine.yaml"
TOLD = cast(list[dict[str, Any]], parse_yaml(TABLE.read_text(encoding="utf-8")))


@pytest.mark.parametrize("wording", TOLD, ids=lambda w: w["say"][:60])
def test_a_wording_says_this_and_not_that(k: Knowledge, wording: dict[str, Any]) -> None:
    read = stated(read_text(wording["say"], k))
    assert set(wording.get("read", ())) <= read
    assert read.isdisjoint(wording.get("not", ()))


def test_every_name_in_the_table_is_one_of_the_knowledge(k: Knowledge) -> None:
    names = {name.split()[0] for w in TOLD for name in (*w.get("read", ()), *w.get("not", ()))}
    assert names <= {*k.findings, *k.contexts, *k.checks, *k.actions, *k.circuits}
    checks = {name for w in TOLD for name in (*w.get("read", ()), *w.get("not", ())) if name.split()[0] in k.checks}
    assert checks <= {f"{c.id} {o}" for c in k.checks.values() for o in c.outcomes}
