"""The addresses of the metering physics: air, a moved machine, a correction, a sweep. Nothing is stored."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Response

from carbdiag import Knowledge, tuning
from carbdiag.frozen import Frozen
from carbdiag.tuning_schema import (
    AirAnswer,
    AirInput,
    CorrectionAnswer,
    CorrectionRequest,
    ResizeAnswer,
    ResizeRequest,
    SweepAnswer,
    SweepRequest,
)
from carbdiag_api import problems
from carbdiag_api.intake import described, reader
from carbdiag_api.pages import answer, loaded_knowledge

router = APIRouter()
REQUESTS: Final[tuple[type[Frozen], ...]] = (AirInput, ResizeRequest, CorrectionRequest, SweepRequest)

Loaded = Annotated[Knowledge, Depends(loaded_knowledge)]


@router.post(
    "/v1/air-states",
    tags=["tuning"],
    summary="Compute the air",
    description="Density, oxygen and density altitude from elevation, QNH with elevation, or a barometer at the place;"
    " says which kind of pressure it took.",
    response_model=AirAnswer,
    response_description="The air in numbers.",
    responses=problems.refusals(*problems.BODY_REFUSALS),
    openapi_extra=described(AirInput, "The air at one place and time."),
)
async def compute_air(air: Annotated[AirInput, Depends(reader(AirInput, "description of the air"))]) -> Response:
    return answer(tuning.air_state(air))


@router.post(
    "/v1/resizes",
    tags=["tuning"],
    summary="Move a machine to other air",
    description="For a machine that ran right in one air: jets, clip and screw to start with in another, with their"
    " range, what each opening does if nothing is changed, and a warning for the way back.",
    response_model=ResizeAnswer,
    response_description="What to change, in order.",
    responses=problems.refusals(*problems.BODY_REFUSALS),
    openapi_extra=described(ResizeRequest, "The machine, the air it was set for, and the air now."),
)
async def resize_machine(
    asked: Annotated[ResizeRequest, Depends(reader(ResizeRequest, "request for a resize"))], knowledge: Loaded
) -> Response:
    return answer(tuning.resize(asked, knowledge))


@router.post(
    "/v1/corrections",
    tags=["tuning"],
    summary="Size a correction",
    description="For a mixture that is off at one opening: the part, the direction, the nearest existing size, what it"
    " does at the other openings, and how to verify it and put it back. Never leaner at three-quarter or full throttle"
    " unless the chances of lean there are given and small.",
    response_model=CorrectionAnswer,
    response_description="The correction, or why there is none.",
    responses=problems.refusals(*problems.BODY_REFUSALS),
    openapi_extra=described(CorrectionRequest, "The machine, the opening, and how far off it is."),
)
async def size_correction(
    asked: Annotated[CorrectionRequest, Depends(reader(CorrectionRequest, "request for a correction"))],
    knowledge: Loaded,
) -> Response:
    return answer(tuning.correct(asked, knowledge))


@router.post(
    "/v1/sweeps",
    tags=["tuning"],
    summary="Sweep the throttle",
    description="The mixture from closed to full throttle, before and after a change, beside the set-up that ran right:"
    " a table by band, then rows by opening, with the shares of the circuits.",
    response_model=SweepAnswer,
    response_description="The table and the rows.",
    responses=problems.refusals(*problems.BODY_REFUSALS),
    openapi_extra=described(SweepRequest, "The set-up that ran right, what is different now, and what is planned."),
)
async def sweep_throttle(
    asked: Annotated[SweepRequest, Depends(reader(SweepRequest, "request for a sweep"))], knowledge: Loaded
) -> Response:
    return answer(tuning.sweep(asked, knowledge))
