"""A large bank of items, made once."""

from __future__ import annotations

import pytest

from carbdiag import Knowledge, make_quiz
from carbdiag.quiz_schema import Blueprint, ItemKey, ItemView, Quiz
from carbdiag.records.quiz import QuizRules

Pair = tuple[ItemView, ItemKey]


@pytest.fixture(scope="session")
def rules(k: Knowledge) -> QuizRules:
    assert k.quiz is not None
    return k.quiz


@pytest.fixture(scope="session")
def quizzes(k: Knowledge) -> list[Quiz]:
    """Twelve quizzes of fifty items."""
    return [make_quiz(Blueprint(items=50), seed, k) for seed in range(100, 112)]


@pytest.fixture(scope="session")
def bank(quizzes: list[Quiz]) -> list[Pair]:
    """All their items with their keys."""
    return [pair for q in quizzes for pair in zip(q.items, q.keys, strict=True)]
