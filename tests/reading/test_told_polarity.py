"""Statements that must not be read the wrong way round: denied for there, there for denied, the other outcome."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Status

TABLE = cast(
    dict[str, dict[str, list[str]]],
    parse_yaml((Path(__file__).parent / "told_polarity.yaml").read_text(encoding="utf-8")),
)
_STATUS = {Status.DENIED: "no", Status.PRESENT: "yes"}


def said_of(k: Knowledge, of: str, text: str, language: str = "en") -> set[str]:
    """What a text is read to say of one record: yes or no of a sign, outcomes of a check, effects of a deed."""
    reading = read_text(text, k, language)
    told: list[tuple[str, Any]] = [
        *((f.finding, _STATUS.get(f.status, "")) for f in reading.findings),
        *((c.context, _STATUS.get(c.status, "")) for c in reading.contexts),
        *((c.check, c.outcome) for c in reading.checks),
        *((t.do or f"{t.change}.{t.direction}", t.effect) for t in reading.trials),
    ]
    return {str(what) for record, what in told if record == of}


@pytest.mark.parametrize("statement", TABLE["read"])
def test_what_is_stated_is_read_and_never_its_opposite(k: Knowledge, statement: str) -> None:
    of, what = statement.rsplit(" ", 1)
    for says in TABLE["read"][statement]:
        assert said_of(k, of, says) == {what}, says


@pytest.mark.parametrize("statement", TABLE["not_turned"])
def test_what_is_not_read_is_not_read_as_the_opposite(k: Knowledge, statement: str) -> None:
    of, what = statement.rsplit(" ", 1)
    for says in TABLE["not_turned"][statement]:
        assert said_of(k, of, says) <= {what, "", "not_said"}, says


@pytest.mark.parametrize("statement", TABLE["read_in_spanish"])
def test_spanish_is_not_read_the_wrong_way_round_either(k: Knowledge, statement: str) -> None:
    of, what = statement.rsplit(" ", 1)
    for says in TABLE["read_in_spanish"][statement]:
        assert said_of(k, of, says, "es") == {what}, says
