"""How hard an item is expected to be: from how near the best wrong answer comes and how rare the evidence is.

A judgment before anybody answered; `item_analysis` measures what really happened.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from carbdiag.quiz_schema import DifficultyWord
from carbdiag.records.quiz import QuizDifficulty


def nearness(rules: QuizDifficulty, support: float, least: float) -> float:
    """1 where the key is just well enough supported, falling to 0 where nothing comes near it."""
    return math.exp(-max(math.log(support / least), 0.0) / rules.margin_scale)


def rarity(rules: QuizDifficulty, usual: Sequence[float]) -> float:
    """From the usual chance of each fact, when nobody knows the cause: 0 everyday, 1 wholly rare."""
    if not usual:
        return 0.0
    mean = sum(-math.log(max(p, 1e-6)) for p in usual) / len(usual)
    return min(mean / rules.rarity_scale, 1.0)


def difficulty(rules: QuizDifficulty, base: float, near: float, rare: float) -> tuple[float, DifficultyWord]:
    """The expected difficulty from 0 to 1, and in a word."""
    value = round(rules.base_weight * base + rules.margin_weight * near + rules.rarity_weight * rare, 3)
    word: DifficultyWord = "easy" if value < rules.easy_below else "hard" if value >= rules.hard_from else "medium"
    return value, word
