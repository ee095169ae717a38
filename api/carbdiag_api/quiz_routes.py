"""The addresses of quizzes: make one, grade answers. Nothing is stored.

Open use: the client names a seed, and whoever knows blueprint and seed can make the quiz, and its key, again. Graded
use: the service draws the seed from its secret and hands out a pass with which it can grade later (see `passes`).
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from typing import Annotated, Final, Literal, Self, TypeVar

from fastapi import APIRouter, Depends, Request, Response
from pydantic import Field, StringConstraints, model_validator
from starlette.concurrency import run_in_threadpool

from carbdiag import CaseError, Knowledge, grade_quiz, make_quiz
from carbdiag.errors import Problem, inside
from carbdiag.field_types import Text, Whole
from carbdiag.frozen import Frozen
from carbdiag.quiz.grading import withheld
from carbdiag.quiz.item_analysis import analyze_sheets
from carbdiag.quiz.passes import LONGEST_VALID_S, PassMissingError, changed_since, issue_pass, open_pass
from carbdiag.quiz_schema import AnswerSheet, Blueprint, Grade, ItemKey, Quiz, QuizStatistics, StudentQuiz
from carbdiag_api import problems
from carbdiag_api.intake import described, reader
from carbdiag_api.pages import answer, loaded_knowledge

router = APIRouter()

SECRET_SETTING: Final = "CARBDIAG_QUIZ_SECRET"
MOST_ITEMS: Final = 50
MOST_SHEETS: Final = 100
_MOST_SEED: Final = 2**53

Loaded = Annotated[Knowledge, Depends(loaded_knowledge)]
Seed = Annotated[Whole, Field(ge=0, le=_MOST_SEED)]
_R = TypeVar("_R")


class QuizRequest(Frozen):
    """Which quiz to make, and for what use."""

    blueprint: Blueprint = Field(default=Blueprint(), description=f"At most {MOST_ITEMS} items.")
    seed: Seed | None = Field(
        default=None, description="Open use: the same seed gives the same quiz. Without it one is drawn, and told."
    )
    graded: bool = Field(default=False, description="Graded use: a secret seed, and a pass to grade with.")
    valid_minutes: Annotated[Whole, Field(ge=1, le=LONGEST_VALID_S // 60)] = Field(
        default=7 * 24 * 60, description="How long the pass of a graded quiz holds."
    )
    with_key: bool = Field(default=False, description="For the trainer: send the key too.")

    @model_validator(mode="after")
    def _one_use(self) -> Self:
        if self.graded and self.seed is not None:
            raise ValueError("a graded quiz takes no seed: whoever knows the seed knows the key")
        return self


class QuizAnswer(Frozen):
    """A quiz. Hand `quiz` to students; keep `seed`, `grading_pass` and `keys`."""

    quiz: StudentQuiz
    seed: Seed | None = Field(default=None, description="Of a quiz for open use.")
    grading_pass: Text | None = Field(default=None, description="Of a graded quiz: grade with it; keep it safe.")
    keys: tuple[ItemKey, ...] | None = Field(default=None, description="Only where the key was asked for.")


class GradeRequest(Frozen):
    """Answers, and the quiz they are to: its pass, or blueprint and seed."""

    grading_pass: Annotated[str, StringConstraints(max_length=8000)] | None = None
    blueprint: Blueprint | None = None
    seed: Seed | None = None
    quiz_id: Annotated[str, StringConstraints(max_length=64)] | None = Field(
        default=None, description="As the quiz said; refused when the quiz would be another one by now."
    )
    sheets: Annotated[tuple[AnswerSheet, ...], Field(min_length=1, max_length=MOST_SHEETS)]
    tell: Literal["all", "answered", "points"] = Field(
        default="all",
        description="How much of the key comes back: of all items, of those answered, or points alone.",
    )
    analyze: bool = Field(default=False, description="Add item statistics over all sheets, two at least.")

    @model_validator(mode="after")
    def _one_quiz(self) -> Self:
        open_use = self.blueprint is not None and self.seed is not None
        partly = self.blueprint is not None or self.seed is not None
        if (self.grading_pass is None) != open_use or (self.grading_pass is not None and partly):
            raise ValueError("give either grading_pass, or blueprint and seed")
        return self


class GradeAnswer(Frozen):
    """Grades, in the order of the sheets."""

    edition: Text
    quiz_id: Text
    grades: tuple[Grade, ...]
    statistics: QuizStatistics | None = None


REQUESTS: Final[tuple[type[Frozen], ...]] = (QuizRequest, GradeRequest)


def _secret(request: Request) -> str:
    """The key material of graded quizzes; empty where none is set."""
    return str(getattr(request.app.state, "quiz_secret", ""))


Secret = Annotated[str, Depends(_secret)]


@router.post(
    "/v1/quizzes",
    tags=["quizzes"],
    summary="Make a quiz",
    description="Items for students, by blueprint, without their key. Each item has one defensible answer; those that"
    " do not hold up are thrown away. Open use: by seed. Graded use: with a pass to grade by.",
    response_model=QuizAnswer,
    response_description="The quiz.",
    responses=problems.refusals(*problems.BODY_REFUSALS, problems.NOT_SET_UP),
    openapi_extra=described(QuizRequest, "The blueprint and the use."),
)
async def make_a_quiz(
    asked: Annotated[QuizRequest, Depends(reader(QuizRequest, "request for a quiz"))], knowledge: Loaded, secret: Secret
) -> Response:
    _check_size(asked.blueprint)
    if asked.graded:
        nonce = secrets.token_hex(16)
        valid_s = asked.valid_minutes * 60
        with inside("blueprint"):
            quiz, text = await _made(
                lambda: issue_pass(asked.blueprint, secret, time.time(), valid_s, nonce, knowledge)
            )
        return answer(_answered(quiz, asked, grading_pass=text))
    seed = secrets.randbelow(2**31) if asked.seed is None else asked.seed
    with inside("blueprint"):
        quiz = await _made(lambda: make_quiz(asked.blueprint, seed, knowledge))
    return answer(_answered(quiz, asked, seed=seed))


@router.post(
    "/v1/quizzes/grade",
    tags=["quizzes"],
    summary="Grade answers",
    description="Points with partial credit, feedback for each item, a profile by skill, what to study; on request"
    " the statistics of the items over a class. A case in several turns is walked by sending the answers so far.",
    response_model=GradeAnswer,
    response_description="The grades.",
    responses=problems.refusals(*problems.BODY_REFUSALS, problems.NOT_SET_UP),
    openapi_extra=described(GradeRequest, "Answers, and the quiz they are to."),
)
async def grade_a_quiz(
    asked: Annotated[GradeRequest, Depends(reader(GradeRequest, "request for grading"))],
    knowledge: Loaded,
    secret: Secret,
) -> Response:
    return answer(await _made(lambda: _graded(asked, knowledge, secret)))


def _graded(asked: GradeRequest, knowledge: Knowledge, secret: str) -> GradeAnswer:
    if asked.grading_pass is not None:
        quiz = open_pass(asked.grading_pass, secret, time.time(), knowledge)
    else:
        assert asked.blueprint is not None
        assert asked.seed is not None
        _check_size(asked.blueprint)
        with inside("blueprint"):
            quiz = make_quiz(asked.blueprint, asked.seed, knowledge)
    if asked.quiz_id not in (None, quiz.quiz_id):
        raise CaseError([changed_since(asked.quiz_id or "", knowledge)])
    grades = []
    for n, sheet in enumerate(asked.sheets):
        with inside(f"sheets[{n}]"):
            grades.append(withheld(grade_quiz(quiz, sheet, knowledge), asked.tell))
    found = analyze_sheets(quiz, asked.sheets, knowledge) if asked.analyze else None
    return GradeAnswer(edition=quiz.edition, quiz_id=quiz.quiz_id, grades=tuple(grades), statistics=found)


async def _made(work: Callable[[], _R]) -> _R:
    """The result of work that takes a while, done beside the requests of others."""
    try:
        return await run_in_threadpool(work)
    except PassMissingError as error:
        raise problems.RefusedError(problems.NOT_SET_UP, f"{error}. Set {SECRET_SETTING} for the service.") from None


def _answered(quiz: Quiz, asked: QuizRequest, seed: int | None = None, grading_pass: str | None = None) -> QuizAnswer:
    return QuizAnswer(
        quiz=quiz.student_view(), seed=seed, grading_pass=grading_pass, keys=quiz.keys if asked.with_key else None
    )


def _check_size(wish: Blueprint) -> None:
    if wish.items > MOST_ITEMS:
        told = f"the service makes at most {MOST_ITEMS} items at once; the library and the command make more"
        raise CaseError([Problem("blueprint.items", told, str(wish.items))])
