"""What riders tell of an engine that runs: a table of wordings that must read, and of sentences that state no sign."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge
from carbdiag.strict_yaml import parse_yaml
from tests.reading.told_script import read_as, signs_of

TABLE = cast(dict[str, Any], parse_yaml((Path(__file__).parent / "told_running.yaml").read_text(encoding="utf-8")))
TOLD = cast(dict[str, list[str]], TABLE["told"])
FILES = ("running", "pulling_details", "several_cylinders", "more_families")


@pytest.fixture(scope="module")
def signs() -> set[str]:
    return signs_of(*FILES)


@pytest.mark.parametrize("sign", TOLD)
def test_each_wording_states_its_sign(k: Knowledge, sign: str) -> None:
    for says in TOLD[sign]:
        assert sign in read_as(k, says), says


def test_sentences_that_state_no_sign_of_a_running_engine_give_none(k: Knowledge, signs: set[str]) -> None:
    for says in TABLE["not_told"]:
        assert not read_as(k, says) & signs, says


def test_sentences_do_not_state_what_they_only_seem_to(k: Knowledge) -> None:
    for row in TABLE["not_read"]:
        assert not read_as(k, row["says"]) & set(row["not"]), row["says"]


def test_the_table_has_wordings_for_every_sign_of_a_running_engine(k: Knowledge, signs: set[str]) -> None:
    named = {sign.split()[0].split("@")[0] for sign in TOLD}
    assert signs <= named <= set(k.findings)
