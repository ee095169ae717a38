"""What messy posts tell that is not so now: hearsay, purposes, trouble that is over; with near misses that are so."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from tests.reading.told_script import stated

TABLE = cast(
    dict[str, list[dict[str, Any]]],
    parse_yaml((Path(__file__).parent / "told_messy_road.yaml").read_text(encoding="utf-8")),
)


@pytest.fixture(scope="module")
def k() -> Knowledge:
    return Knowledge.load()


@pytest.mark.parametrize("kind", TABLE)
def test_each_is_read_as_it_must_be_and_as_nothing_it_must_not(k: Knowledge, kind: str) -> None:
    for told in TABLE[kind]:
        says = told["say"]
        got = stated(read_text(says, k))
        wanted = {*told.get("read", ())}
        assert wanted <= got, says
        assert not {*told.get("not", ())} & got, says
        if told.get("only"):
            assert got == wanted, says
