"""How a quiz and its items worked in a class: facility, discrimination, use of distractors, reliability.

Formulas are the usual ones of classical test theory: Cronbach's alpha and its case for right-or-wrong items, KR-20
(tests/quiz/test_item_analysis.py checks them on a published worked example); discrimination as the correlation of an
item with the rest of the quiz, and as the upper less the lower 27 percent of the class.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from carbdiag.belief.lattice import Floats
from carbdiag.errors import CaseError, Problem
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.quiz.blueprint import rules_of
from carbdiag.quiz.grading import credits_of, sheet_problems
from carbdiag.quiz_schema import AnswerSheet, ItemStatistics, OptionUse, Quiz, QuizStatistics

#: The part of the class taken as its upper and its lower group.
TAIL = 0.27
#: A wrong option chosen by less than this share does no work.
_IDLE = 0.05
_FEW_SHEETS = 30


def analyze_sheets(quiz: Quiz, sheets: Sequence[AnswerSheet], knowledge: Knowledge | None = None) -> QuizStatistics:
    """Statistics of a quiz over all sheets of a class.

    Raises:
        CaseError: fewer than two sheets, or answers that do not fit the quiz.
    """
    k = the_knowledge(knowledge)
    rules = rules_of(k)
    if len(sheets) < 2:
        raise CaseError([Problem("sheets", "an item analysis needs at least two sheets", str(len(sheets)))])
    problems = [
        p for n, s in enumerate(sheets) for p in sheet_problems(quiz, s, f"sheets[{n}].answers", k, rules)
    ]
    if problems:
        raise CaseError(problems[:50])
    scores = np.array([credits_of(quiz, s, k) for s in sheets])
    totals = scores.sum(axis=1)
    upper, lower = tails(totals)
    alpha = cronbach_alpha(scores)
    spread = float(totals.std(ddof=1))
    by_item = tuple(_item(quiz, n, sheets, scores, upper, lower) for n in range(scores.shape[1]))
    note = "Facility and discrimination describe this class, not the item for all classes."
    if len(sheets) < _FEW_SHEETS:
        note += f" With {len(sheets)} sheets they are rough: read them as hints."
    return QuizStatistics(
        quiz_id=quiz.quiz_id,
        sheets=len(sheets),
        items=scores.shape[1],
        mean_share=round(float(totals.mean() / scores.shape[1]), 4),
        sd_points=round(spread, 4),
        alpha=_rounded(alpha),
        kr20=_rounded(kr20(scores)) if np.isin(scores, (0.0, 1.0)).all() else None,
        standard_error_points=_rounded(spread * math.sqrt(1 - alpha)) if alpha is not None and alpha <= 1 else None,
        by_item=by_item,
        note=note,
    )


def cronbach_alpha(scores: Floats) -> float | None:
    """Cronbach's alpha of scores (sheets, items); None where it is not defined.

    >>> round(cronbach_alpha(np.array([[1.0, 1.0], [0.0, 0.0], [1.0, 0.0]])), 4)
    0.6667
    """
    items = scores.shape[1]
    total = float(scores.sum(axis=1).var())
    if items < 2 or total <= 0:
        return None
    return float(items / (items - 1) * (1 - scores.var(axis=0).sum() / total))


def kr20(scores: Floats) -> float | None:
    """Kuder and Richardson's formula 20 for scores of 0 and 1: sum of p q over the variance of totals."""
    items = scores.shape[1]
    total = float(scores.sum(axis=1).var())
    if items < 2 or total <= 0:
        return None
    p = scores.mean(axis=0)
    return float(items / (items - 1) * (1 - (p * (1 - p)).sum() / total))


def tails(totals: Floats) -> tuple[Sequence[int], Sequence[int]]:
    """Sheets of the upper and of the lower group; ties keep the order in which sheets were given."""
    size = max(1, round(TAIL * len(totals)))
    order = np.argsort(-totals, kind="stable").tolist()
    return order[:size], order[-size:]


def item_rest_correlation(scores: Floats, item: int) -> float | None:
    """Correlation of an item with the sum of the others; None where either does not vary."""
    mine = scores[:, item]
    rest = scores.sum(axis=1) - mine
    if mine.std() < 1e-12 or rest.std() < 1e-12:
        return None
    return float(np.corrcoef(mine, rest)[0, 1])


def _item(
    quiz: Quiz, n: int, sheets: Sequence[AnswerSheet], scores: Floats, upper: Sequence[int], lower: Sequence[int]
) -> ItemStatistics:
    view, key = quiz.items[n], quiz.keys[n]
    facility = float(scores[:, n].mean())
    discrimination = item_rest_correlation(scores, n)
    options: list[OptionUse] = []
    if view.answer_form == "choice":
        given = [_given(s, view.id) for s in sheets]
        for option in view.options:
            chosen = [g == option.label for g in given]
            right = option.label in key.answer
            share = sum(chosen) / len(chosen)
            options.append(
                OptionUse(
                    label=option.label,
                    right=right,
                    chosen=sum(chosen),
                    share=round(share, 4),
                    upper_share=round(sum(chosen[i] for i in upper) / len(upper), 4),
                    lower_share=round(sum(chosen[i] for i in lower) / len(lower), 4),
                    idle=not right and share < _IDLE,
                )
            )
    return ItemStatistics(
        id=view.id,
        kind=view.kind,
        facility=round(facility, 4),
        expected_difficulty=key.difficulty,
        discrimination=_rounded(discrimination),
        upper_lower=round(float(scores[upper, n].mean() - scores[lower, n].mean()), 4),
        options=tuple(options),
        remarks=tuple(_remarks(facility, discrimination, options)),
    )


def _given(sheet: AnswerSheet, item: str) -> str | None:
    answer = sheet.answers.get(item)
    if isinstance(answer, tuple):
        answer = answer[0] if answer else None
    return answer.strip().upper() if isinstance(answer, str) else None


def _remarks(facility: float, discrimination: float | None, options: Sequence[OptionUse]) -> list[str]:
    out = []
    if discrimination is not None and discrimination < 0:
        out.append("The stronger students miss it more often: read it again, or discuss it in class.")
    if facility in (0.0, 1.0):
        out.append("Everybody was right." if facility else "Nobody was right.")
    liked = [o.label for o in options if not o.right and o.upper_share > o.lower_share and o.upper_share > 0.3]
    if liked:
        out.append(f"The upper group likes wrong answer {', '.join(liked)}.")
    idle = [o.label for o in options if o.idle]
    if idle:
        out.append(f"Almost nobody chose {', '.join(idle)}.")
    return out


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)
