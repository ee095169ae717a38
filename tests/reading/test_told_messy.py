"""What messy posts tell that is not so now: hearsay, plans, trouble that is over; and near misses that are so."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from tests.reading.told_script import stated


def _table(name: str) -> dict[str, list[dict[str, Any]]]:
    text = (Path(__file__).parent / f"told_messy_{name}.yaml").read_text(encoding="utf-8")
    return cast(dict[str, list[dict[str, Any]]], parse_yaml(text))


TABLES = ("dirt", "garden", "road", "small", "strokers", "four_strokes")
TOLD = {(name, kind): told for name in TABLES for kind, told in _table(name).items()}


@pytest.mark.parametrize(("name", "kind"), TOLD)
def test_each_is_read_as_it_must_be_and_as_nothing_it_must_not(k: Knowledge, name: str, kind: str) -> None:
    for told in TOLD[name, kind]:
        says = told["say"]
        got = stated(read_text(says, k))
        wanted = {*told.get("read", ())}
        assert wanted <= got, says
        assert not {*told.get("not", ())} & got, says
        if told.get("only"):
            assert got == wanted, says
