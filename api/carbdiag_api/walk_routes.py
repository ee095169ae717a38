"""The address of the walk: a case and an answer in, the next steps and the diagnosis out. Nothing is stored."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Response

from carbdiag import Knowledge
from carbdiag.frozen import Frozen
from carbdiag.posted_walk_schema import PostedWalk, ReadWalk
from carbdiag.walk_in_words import walk_posted
from carbdiag_api import problems
from carbdiag_api.intake import described, reader
from carbdiag_api.pages import answer, loaded_knowledge

router = APIRouter()
REQUESTS: Final[tuple[type[Frozen], ...]] = (PostedWalk,)


@router.post(
    "/v1/walks",
    tags=["diagnosis"],
    summary="Walk one step toward the cure",
    description="Takes a case and, if there is one, the answer to a step; says what to do next, what each outcome would"
    " mean for the leading causes, why this one now, and when to stop. The answer holds the case with what was"
    " answered: send it back with the next answer. What the machine does now may be told in words too. Nothing is"
    " stored.",
    response_model=ReadWalk,
    response_description="The next steps and the diagnosis so far, with the reading where a text was sent.",
    responses=problems.refusals(*problems.BODY_REFUSALS),
    openapi_extra=described(PostedWalk, "A case, the answer to one step, and what it does now in words."),
)
async def walk_on(
    asked: Annotated[PostedWalk, Depends(reader(PostedWalk, "request for a step"))],
    knowledge: Annotated[Knowledge, Depends(loaded_knowledge)],
) -> Response:
    return answer(walk_posted(asked, knowledge))
