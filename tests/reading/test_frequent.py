"""The labels most frequent in real posts, as many riders say them, and sentences that come near them."""

from __future__ import annotations

import importlib.util
from collections import Counter
from pathlib import Path

import pytest

from carbdiag import Knowledge
from carbdiag.terms import Effect

SCRIPT = Path(__file__).parents[2] / "benchmarks" / "frequent.py"
_SPEC = importlib.util.spec_from_file_location("frequent_benchmark", SCRIPT)
assert _SPEC is not None
assert _SPEC.loader is not None
frequent = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(frequent)


@pytest.mark.parametrize("number", frequent.ROUNDS)
def test_a_round_tells_each_label_twelve_ways_and_five_near_misses(k: Knowledge, number: int) -> None:
    told = list(frequent.sentences(number))
    assert len({t.text for t in told if t.states}) == sum(t.states for t in told)
    for label in {t.label for t in told}:
        assert Counter(t.states for t in told if t.label == label) == {True: 12, False: 5}, label
        record, _, more = label.partition(" ")
        known = record in k.checks and more in k.checks[record].outcomes
        tried = record in k.actions and more in {e.value for e in Effect}
        assert known or tried or (not more and (record in k.findings or record in k.contexts)), label


@pytest.mark.parametrize(
    ("number", "recall", "false_alarms"),
    [
        (1, 0.94, 0.11),
        (2, 0.89, 0.1),
        (3, 0.95, 0.09),
        (4, 0.89, 0.15),
    ],
)
def test_sentences_are_read_as_well_as_measured(
    k: Knowledge, number: int, recall: float, false_alarms: float
) -> None:
    share = frequent.share(number, frequent.mistakes(k, number))
    assert share.recall >= recall
    assert share.false_alarms <= false_alarms
