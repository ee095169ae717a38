"""Of what is told beside the trouble (cured since, guessed, planned), what is so now is read, and no more."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from tests.reading.told_script import stated

TABLE = cast(
    dict[str, list[dict[str, Any]]],
    parse_yaml((Path(__file__).parent / "told_messy_garden.yaml").read_text(encoding="utf-8")),
)


@pytest.fixture(scope="module")
def k() -> Knowledge:
    return Knowledge.load()


@pytest.mark.parametrize("kind", TABLE)
def test_only_what_is_so_now_is_read(k: Knowledge, kind: str) -> None:
    for row in TABLE[kind]:
        read = stated(read_text(row["says"], k))
        assert read >= {*row.get("told", ())}, (row["says"], read)
        assert read.isdisjoint(row.get("not_told", ())), (row["says"], read)
