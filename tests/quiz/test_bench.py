"""The chances that items are made from, beside those that lint judges separation by."""

from __future__ import annotations

import numpy as np
import pytest

from carbdiag import Knowledge
from carbdiag.model import compile_model
from carbdiag.quiz.bench import Fact, bench, outcomes_of, two_way_bits
from carbdiag.separation import tabulate


def row_name(fact: Fact) -> str:
    if fact.kind == "finding":
        return f"{'' if fact.value == 'present' else 'no '}{fact.record} at {fact.at}"
    return f"{fact.record} at {fact.at}: {fact.value}" if fact.at else f"{fact.record}: {fact.value}"


def test_every_chance_is_the_one_that_lint_uses(k: Knowledge) -> None:
    for family in k.families.values():
        for strokes in family.strokes:
            b = bench(k, family.id, strokes)
            other = tabulate(compile_model(k, family.id, strokes))
            mine = {row_name(f): n for n, f in enumerate(b.facts)}
            assert set(mine) == set(other.rows)
            order = [mine[name] for name in other.rows]
            assert b.chance[order] == pytest.approx(np.exp(other.log_p))


def test_outcomes_of_a_check_sum_to_one(k: Knowledge) -> None:
    family = next(iter(k.families.values()))
    b = bench(k, family.id, family.strokes[0])
    for check in b.checks:
        assert b.chance[outcomes_of(b, check)].sum(axis=0) == pytest.approx(np.ones(len(b.model.cause_ids)), abs=0.05)


def test_bits_between_two_causes_are_the_mutual_information(k: Knowledge) -> None:
    """By the definition, with the joint table written out."""
    family = next(iter(k.families.values()))
    b = bench(k, family.id, family.strokes[0])
    bits = two_way_bits(b, 0, 1)
    for n in range(0, len(b.checks), 7):
        p = b.chance[outcomes_of(b, b.checks[n])][:, :2]
        joint = p / p.sum(axis=0) / 2
        independent = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
        assert bits[n] == pytest.approx(float((joint * np.log2(joint / independent)).sum()))
        assert 0 <= bits[n] <= 1
