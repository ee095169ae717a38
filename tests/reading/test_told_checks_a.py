"""What came of a check, told in many ways, and the same words as a plan, advice or a question."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.knowledge import parse_yaml

TABLE = parse_yaml((Path(__file__).parent / "told_checks_a.yaml").read_text(encoding="utf-8"))
TOLD = cast(dict[str, list[str]], cast(dict[str, object], TABLE)["told"])
NOTHING = cast(list[str], cast(dict[str, object], TABLE)["nothing"])


def checks(said: str, k: Knowledge) -> set[str]:
    return {f"{c.check} {c.outcome}" for c in read_text(said, k).checks}


@pytest.mark.parametrize("outcome", TOLD)
def test_each_way_of_telling_an_outcome_is_read_as_it_and_no_other(k: Knowledge, outcome: str) -> None:
    assert outcome.split(maxsplit=1)[0] in k.checks
    for said in TOLD[outcome]:
        assert checks(said, k) == {outcome}, said


@pytest.mark.parametrize("said", NOTHING)
def test_plans_advice_and_questions_tell_no_outcome(k: Knowledge, said: str) -> None:
    assert not checks(said, k)
