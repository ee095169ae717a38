"""The address that reads a post. Nothing is stored."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Response

from carbdiag import Knowledge, TextReading, read_text
from carbdiag.reading_schema import PostedText
from carbdiag.schema import Frozen
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
    " was left aside and why, and what was not understood. A diagnosis takes the same text.",
    response_model=TextReading,
    response_description="The reading.",
    responses=problems.refusals(*problems.BODY_REFUSALS),
    openapi_extra=described(PostedText, "A post as it was written."),
)
async def read_post(posted: Annotated[PostedText, Depends(reader(PostedText, "post"))], knowledge: Loaded) -> Response:
    return answer(read_text(posted.text, knowledge, posted.language))
