"""Many ways of saying each sign, sentences that say nothing, and what phrases of signs owe."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any, cast

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.knowledge import parse_yaml
from carbdiag.terms import Status

HERE = Path(__file__).parent


def table(name: str) -> Any:
    return parse_yaml((HERE / f"{name}.yaml").read_text(encoding="utf-8"))


WORDINGS = cast(dict[str, list[Any]], table("wordings"))
NOTHING = cast(dict[str, list[str]], table("nothing_said"))
STORIES = cast(list[dict[str, Any]], table("stories"))


@pytest.mark.parametrize("sign", WORDINGS)
def test_each_way_of_saying_a_sign_is_read_as_it_and_no_other(k: Knowledge, sign: str) -> None:
    for told in WORDINGS[sign]:
        row = told if isinstance(told, dict) else {"says": told}
        found = {f.finding: f for f in read_text(row["says"], k).findings if f.status is Status.PRESENT}
        assert set(found) == {sign, *row.get("also", ())}, row["says"]
        if "at" in row:
            assert set(found[sign].at) == set(row["at"]), row["says"]


def test_the_table_has_wordings_for_nearly_every_sign(k: Knowledge) -> None:
    assert len(set(k.findings) - set(WORDINGS)) <= 25
    assert sum(map(len, WORDINGS.values())) >= 1000


@pytest.mark.parametrize("kind", NOTHING)
def test_sentences_that_state_no_sign_give_none(k: Knowledge, kind: str) -> None:
    for sentence in NOTHING[kind]:
        assert not read_text(sentence, k).findings, sentence


def test_stories_are_read_as_well_as_measured(k: Knowledge) -> None:
    total: Counter[str] = Counter()
    for story in STORIES:
        got = {
            f"{f.finding}{'' if f.status is Status.PRESENT else ' ' + f.status}"
            for f in read_text(story["text"], k).findings
        }
        wanted, free = set(story["findings"]), set(story.get("either", ()))
        total.update(right=len(got & wanted), wrong=len(got - wanted - free), missed=len(wanted - got))
    assert total["right"] / (total["right"] + total["wrong"]) >= 0.85
    assert total["right"] / (total["right"] + total["missed"]) >= 0.82


def test_labels_of_stories_name_signs(k: Knowledge) -> None:
    named = {name.split()[0] for s in STORIES for name in (*s["findings"], *s.get("either", ()))}
    assert named <= set(k.findings)


def test_no_two_signs_narrow_each_other(k: Knowledge) -> None:
    pairs = {(f.id, broader) for f in k.findings.values() for broader in f.narrows}
    assert {(a, b) for a, b in pairs if (b, a) in pairs} == set()
