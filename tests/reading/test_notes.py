"""Notes: what helpers and workshops jot down, a line each, with labels, dashes and arrows."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from tests.reading.told_script import facts_of, places_of, stated

HERE = Path(__file__).parent
NOTES = [
    cast(dict[str, Any], note)
    for file in sorted(HERE.glob("notes_*.yaml"))
    for note in cast(list[Any], parse_yaml(file.read_text(encoding="utf-8")))
]


@pytest.mark.parametrize("note", NOTES, ids=lambda n: n["say"][:60])
def test_a_note_says_this_and_not_that(k: Knowledge, note: dict[str, Any]) -> None:
    reading = read_text(note["say"], k)
    read = stated(reading) | places_of(reading) | facts_of(reading)
    assert set(note.get("read", ())) <= read
    assert read.isdisjoint(note.get("not", ()))
