"""The address that reads a post. Nothing is stored."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Response

from carbdiag import Knowledge, TextReading, case_of, read_text
from carbdiag.frozen import Frozen
from carbdiag.posted_schema import PostedText, ReadingWithCase
from carbdiag_api import problems
from carbdiag_api.intake import described, reader
from carbdiag_api.pages import answer, loaded_knowledge

router = APIRouter()
REQUESTS: Final[tuple[type[Frozen], ...]] = (PostedText,)

Loaded = Annotated[Knowledge, Depends(loaded_knowledge)]


@router.post(
    "/v1/readings",
    tags=["diagnosis"],
    summary="Read a post",
    description="Free text to findings, circumstances, checks, trials and facts, each with the words it came from, what"
    " was left aside and why, what was not understood, and the case that it makes: send that, put right, to a diagnosis"
    " or a walk. A diagnosis takes the same text too.",
    response_model=ReadingWithCase,
    response_description="The reading.",
    responses=problems.refusals(*problems.BODY_REFUSALS),
    openapi_extra=described(PostedText, "A post as it was written."),
)
async def read_post(posted: Annotated[PostedText, Depends(reader(PostedText, "post"))], knowledge: Loaded) -> Response:
    return answer(read_with_case(posted.text, knowledge, posted.language))


def read_with_case(text: str, knowledge: Knowledge, language: str = "en") -> ReadingWithCase:
    """What a post is read as, and the case that makes."""
    reading = read_text(text, knowledge, language)
    read = {name: getattr(reading, name) for name in TextReading.model_fields}
    return ReadingWithCase.trusted(**read, case=case_of(reading))
