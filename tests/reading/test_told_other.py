"""What riders tell of starting, idling, smoke, leaks and plugs: a table of wordings that must read, and of decoys."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge
from carbdiag.strict_yaml import parse_yaml
from tests.reading.told_script import read_as, signs_of

TABLE = cast(dict[str, Any], parse_yaml((Path(__file__).parent / "told_other.yaml").read_text(encoding="utf-8")))
TOLD = cast(dict[str, list[str]], TABLE["told"])
FILES = (
    "starting", "starting_details", "idle", "idle_details", "noise_smoke_and_leaks", "sound_smoke_and_smell_details",
    "plug_details", "fuel_details", "mechanical_details", "electrical_details",
)  # fmt: skip


@pytest.fixture(scope="module")
def signs() -> set[str]:
    return signs_of(*FILES)


@pytest.mark.parametrize("sign", TOLD)
def test_each_wording_states_its_sign(k: Knowledge, sign: str) -> None:
    for says in TOLD[sign]:
        assert sign in read_as(k, says), says


def test_sentences_that_state_none_of_these_signs_give_none(k: Knowledge, signs: set[str]) -> None:
    for says in TABLE["not_told"]:
        assert not {read.split()[0].split("@")[0] for read in read_as(k, says)} & signs, says


def test_the_table_names_most_signs(signs: set[str]) -> None:
    named = {sign.split()[0].split("@")[0] for sign in TOLD}
    assert named <= signs
    assert len(signs - named) <= 5
