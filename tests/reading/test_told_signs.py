"""What riders tell: tables of wordings that must state a sign, of decoys, and of sentences that state none."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge
from carbdiag.strict_yaml import parse_yaml
from tests.reading.told_script import read_as, signs_of


def table(name: str) -> dict[str, Any]:
    return cast(dict[str, Any], parse_yaml((Path(__file__).parent / name).read_text(encoding="utf-8")))


RUNNING, OTHER = table("told_running.yaml"), table("told_other.yaml")
TOLD = [(sign, says) for t in (RUNNING, OTHER) for sign, says in t["told"].items()]
RUNNING_SIGNS = signs_of("running", "pulling_details", "several_cylinders", "more_families")
OTHER_SIGNS = signs_of(
    "starting", "starting_details", "idle", "idle_details", "noise_smoke_and_leaks", "sound_smoke_and_smell_details",
    "plug_details", "fuel_details", "mechanical_details", "electrical_details",
)  # fmt: skip


@pytest.mark.parametrize(("sign", "wordings"), TOLD, ids=[sign for sign, _ in TOLD])
def test_each_wording_states_its_sign(k: Knowledge, sign: str, wordings: list[str]) -> None:
    for says in wordings:
        assert sign in read_as(k, says), says


@pytest.mark.parametrize(
    ("sentences", "signs"),
    [(RUNNING["not_told"], RUNNING_SIGNS), (OTHER["not_told"], OTHER_SIGNS)],
    ids=["running", "other"],
)
def test_sentences_that_state_no_sign_give_none(k: Knowledge, sentences: list[str], signs: set[str]) -> None:
    for says in sentences:
        assert not {read.split()[0].split("@")[0] for read in read_as(k, says)} & signs, says


def test_sentences_do_not_state_what_they_only_seem_to(k: Knowledge) -> None:
    for row in RUNNING["not_read"]:
        assert not read_as(k, row["says"]) & set(row["not"]), row["says"]


def test_the_tables_name_every_sign_of_a_running_engine_and_most_others(k: Knowledge) -> None:
    running, other = ({sign.split()[0].split("@")[0] for sign in t["told"]} for t in (RUNNING, OTHER))
    assert running >= RUNNING_SIGNS
    assert running <= set(k.findings)
    assert other <= OTHER_SIGNS
    assert len(OTHER_SIGNS - other) <= 5
