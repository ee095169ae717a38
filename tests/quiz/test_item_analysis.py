"""Item analysis beside a published worked example and beside scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from carbdiag import CaseError, Knowledge, make_quiz
from carbdiag.quiz.item_analysis import analyze_sheets, cronbach_alpha, item_rest_correlation, kr20, tails
from carbdiag.quiz_schema import AnswerSheet, Blueprint

#: Ten students, ten items, with the p of every item and the variance of totals as printed there:
#: K. L. Wuensch, East Carolina University, "The Kuder-Richardson 20",
#: https://core.ecu.edu/wuenschk/StatHelp/KR20.txt
PUBLISHED = np.array(
    [
        [1, 1, 1, 1, 1, 1, 0, 1, 1, 0],
        [1, 0, 1, 1, 0, 1, 1, 1, 0, 1],
        [1, 1, 1, 1, 0, 1, 1, 0, 0, 1],
        [0, 0, 1, 0, 0, 0, 1, 0, 0, 0],
        [0, 0, 0, 0, 0, 1, 0, 0, 1, 0],
        [1, 1, 1, 0, 1, 1, 1, 1, 1, 1],
        [1, 1, 0, 1, 1, 1, 0, 1, 1, 1],
        [1, 1, 1, 1, 1, 1, 1, 1, 0, 1],
        [0, 1, 0, 1, 1, 1, 1, 1, 0, 1],
        [1, 1, 0, 1, 1, 0, 1, 1, 1, 0],
    ],
    dtype=float,
)
PUBLISHED_TOTALS = [8, 7, 7, 2, 2, 9, 8, 9, 7, 7]
PUBLISHED_P = [0.7, 0.7, 0.6, 0.7, 0.6, 0.8, 0.7, 0.7, 0.5, 0.6]
PUBLISHED_PQ = [0.21, 0.21, 0.24, 0.21, 0.24, 0.16, 0.21, 0.21, 0.25, 0.24]
PUBLISHED_VARIANCE = 5.84


def test_the_published_example_is_copied_right() -> None:
    assert PUBLISHED.sum(axis=1).tolist() == PUBLISHED_TOTALS
    assert PUBLISHED.mean(axis=0).tolist() == pytest.approx(PUBLISHED_P)
    assert PUBLISHED.var(axis=0).tolist() == pytest.approx(PUBLISHED_PQ)
    assert PUBLISHED.sum(axis=1).var() == pytest.approx(PUBLISHED_VARIANCE)


def test_kr20_of_the_published_example() -> None:
    """From its printed numbers: 10/9 (1 - sum pq / variance)."""
    expected = 10 / 9 * (1 - sum(PUBLISHED_PQ) / PUBLISHED_VARIANCE)
    assert kr20(PUBLISHED) == pytest.approx(expected, abs=1e-12)
    assert kr20(PUBLISHED) == pytest.approx(cronbach_alpha(PUBLISHED)), "as the page says: alpha of 0s and 1s"


def test_alpha_of_parallel_items_is_what_spearman_and_brown_give() -> None:
    """Standardized items with one common correlation r: alpha = k r / (1 + (k - 1) r)."""
    draw = np.random.default_rng(5)
    cov = np.full((4, 4), 0.5) + 0.5 * np.eye(4)
    scores = draw.multivariate_normal(np.zeros(4), cov, 500)
    scores = (scores - scores.mean(axis=0)) @ np.linalg.inv(np.linalg.cholesky(np.cov(scores.T))).T
    scores = scores @ np.linalg.cholesky(cov).T
    assert cronbach_alpha(scores) == pytest.approx(4 * 0.5 / (1 + 3 * 0.5))


@given(st.integers(0, 10**6))
def test_discrimination_is_the_point_biserial_of_scipy(seed: int) -> None:
    scores = (np.random.default_rng(seed).random((25, 6)) < 0.6).astype(float)
    rest = scores.sum(axis=1) - scores[:, 2]
    found = item_rest_correlation(scores, 2)
    if found is not None:
        assert found == pytest.approx(stats.pointbiserialr(scores[:, 2], rest).statistic)


def test_what_does_not_vary_has_no_reliability() -> None:
    same = np.ones((5, 3))
    assert cronbach_alpha(same) is None
    assert kr20(same) is None
    assert item_rest_correlation(same, 0) is None


def test_the_tails_are_27_percent_each() -> None:
    upper, lower = tails(np.arange(100.0))
    assert len(upper) == len(lower) == 27
    assert min(upper) == 73
    assert max(lower) == 26


def test_a_class_is_described_item_by_item(k: Knowledge) -> None:
    quiz = make_quiz(Blueprint(items=3, kinds=("which_circuit",)), 1, k)
    keys = {key.id: key.answer[0] for key in quiz.keys}
    wrong = {key.id: next(o.label for o in key.options if o.credit == 0) for key in quiz.keys}
    strong = [AnswerSheet(student=f"s{n}", answers=keys) for n in range(5)]
    weak = [AnswerSheet(student=f"w{n}", answers={**keys, "q01": wrong["q01"], "q02": wrong["q02"]}) for n in range(5)]
    found = analyze_sheets(quiz, [*strong, *weak], k)
    one = found.by_item[0]
    assert one.facility == 0.5
    assert one.discrimination == pytest.approx(1.0)
    assert one.upper_lower == 1.0
    used = {o.label: o.chosen for o in one.options}
    assert used[keys["q01"]] == 5
    assert used[wrong["q01"]] == 5
    assert sum(used.values()) == 10
    assert "Everybody was right." in found.by_item[2].remarks
    assert found.kr20 is not None
    assert "10 sheets they are rough" in found.note


def test_an_item_that_the_strong_miss_is_remarked(k: Knowledge) -> None:
    quiz = make_quiz(Blueprint(items=4, kinds=("which_circuit",)), 1, k)
    keys = {key.id: key.answer[0] for key in quiz.keys}
    wrong = {key.id: next(o.label for o in key.options if o.credit == 0) for key in quiz.keys}
    strong = AnswerSheet(answers={**keys, "q01": wrong["q01"]})
    weak = AnswerSheet(answers={**wrong, "q01": keys["q01"]})
    found = analyze_sheets(quiz, [strong] * 5 + [weak] * 5, k)
    assert any("stronger students miss it" in r for r in found.by_item[0].remarks)


def test_one_sheet_is_no_class(k: Knowledge) -> None:
    with pytest.raises(CaseError, match="at least two"):
        analyze_sheets(make_quiz(Blueprint(items=2), 1, k), [AnswerSheet(answers={})], k)
