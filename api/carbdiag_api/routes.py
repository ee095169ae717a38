"""The addresses of the service. Each names its input, asks one function, and sends what it says."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from fastapi.routing import APIRoute
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema
from starlette.routing import BaseRoute, Route

from carbdiag import BandTable, Knowledge, __version__
from carbdiag.posted_schema import PostedCase, ReadDiagnosis
from carbdiag.reading import diagnose_posted
from carbdiag_api import catalogue, problems, quiz_routes, reading_routes, rendered, tuning_routes, walk_routes
from carbdiag_api.intake import described, reader
from carbdiag_api.pages import Sender, answer, loaded_knowledge
from carbdiag_api.problems import KINDS, ProblemKind

router = APIRouter()


class Health(BaseModel):
    """Whether the service can answer; one that cannot answers 503."""

    healthy: bool
    edition: str = Field(description="Edition of the knowledge loaded.")
    version: str = Field(description="Version of carbdiag.")


def _whole(value: object) -> object:
    return int(value) if isinstance(value, str) and value in ("2", "4") else value


class BandChoices(BaseModel):
    """Which table of a family."""

    model_config = ConfigDict(extra="forbid")

    strokes: Annotated[
        Literal[2, 4] | None,
        BeforeValidator(_whole),
        WithJsonSchema({"type": "integer", "enum": [2, 4]}),
    ] = Field(default=None, description="2 or 4; without it, the first the family knows.")


KindName = Annotated[
    str,
    Path(description="Kind of record.", json_schema_extra={"enum": list(catalogue.KINDS)}, examples=["circuits"]),
]
RecordId = Annotated[str, Path(description="Id of a record.", examples=["main_jet"])]
FamilyId = Annotated[str, Path(description="Id of a family of carburetors.", examples=["round_slide"])]
Slug = Annotated[
    str,
    Path(description="Last part of a `type`.", json_schema_extra={"enum": list(KINDS)}, examples=["invalid-input"]),
]
Loaded = Annotated[Knowledge, Depends(loaded_knowledge)]
Page = Annotated[Sender, Depends()]

_PAGE_HEADERS: Final[dict[str, Any]] = {
    "ETag": {"description": "Strong tag of the content.", "schema": {"type": "string"}},
    "Cache-Control": {"description": "How long the answer may be kept.", "schema": {"type": "string"}},
    "Vary": {"description": "Clients that accept gzip get it.", "schema": {"type": "string"}},
}
_UNCHANGED: Final[dict[int | str, dict[str, Any]]] = {
    200: {"description": "The page.", "headers": _PAGE_HEADERS},
    304: {"description": "What the client holds is still right.", "headers": _PAGE_HEADERS},
}


@router.post(
    "/v1/diagnoses",
    tags=["diagnosis"],
    summary="Diagnose a case",
    description="Likely causes with reasons for and against, what the mixture does at each opening, the next best"
    " checks, and sized corrections with how to verify them and put them back; as JSON, or written for people as"
    " text, CommonMark, BBCode or HTML. Nothing is stored.",
    response_model=ReadDiagnosis,
    response_description="The diagnosis, with the reading where a text was sent.",
    responses=rendered.DESCRIBED | problems.refusals(*problems.BODY_REFUSALS),
    openapi_extra=described(PostedCase, "Everything known of one machine: stated, told in a text, or both."),
)
async def diagnose_case(
    case: Annotated[PostedCase, Depends(reader(PostedCase, "case"))],
    chosen: Annotated[rendered.DiagnosisChoices, Query()],
    knowledge: Loaded,
    request: Request,
) -> Response:
    if "language" not in case.model_fields_set:  # whoever wants a Spanish answer sends a Spanish post
        case = case.model_copy(update={"language": chosen.language})
    return rendered.send(diagnose_posted(case, knowledge, chosen.steps), chosen, request)


@router.get(
    "/v1/bands/{family}",
    tags=["knowledge"],
    summary="Show the bands of a family",
    description="For each throttle band and sign of one kind of carburetor: the circuit in control, rich or lean,"
    " and the correction.",
    response_model=BandTable,
    responses=_UNCHANGED | problems.refusals(problems.NOT_FOUND, problems.INVALID_INPUT),
)
async def show_bands(family: FamilyId, chosen: Annotated[BandChoices, Query()], page: Page) -> Response:
    key = ("bands", family, chosen.strokes)
    return page.send(key, lambda knowledge: catalogue.bands(knowledge, family, chosen.strokes))


@router.get(
    "/v1/knowledge",
    tags=["knowledge"],
    summary="Show which knowledge answers",
    description="The edition that every diagnosis carries, and how many records of each kind it has.",
    response_model=catalogue.KnowledgeOverview,
    responses=_UNCHANGED | problems.refusals(),
)
async def show_knowledge(page: Page) -> Response:
    return page.send("knowledge", catalogue.overview)


@router.get(
    "/v1/knowledge/{kind}",
    tags=["knowledge"],
    summary="List the records of a kind",
    description="Ids and names, in the order of the knowledge. A case is written with these ids.",
    response_model=catalogue.RecordList,
    responses=_UNCHANGED | problems.refusals(problems.NOT_FOUND),
)
async def list_records(kind: KindName, page: Page) -> Response:
    return page.send(("knowledge", kind), lambda knowledge: catalogue.records(knowledge, kind))


@router.get(
    "/v1/knowledge/{kind}/{id}",
    tags=["knowledge"],
    summary="Show one record",
    description="A record as the knowledge has it, with its sources.",
    response_model=catalogue.RecordPage,
    responses=_UNCHANGED | problems.refusals(problems.NOT_FOUND),
)
async def show_record(kind: KindName, id: RecordId, page: Page) -> Response:
    return page.send(("knowledge", kind, id), lambda knowledge: catalogue.record(knowledge, kind, id))


@router.get(
    "/v1/problems/{slug}",
    tags=["service"],
    summary="Explain a kind of problem",
    description="What the `type` of an error means and what to do about it.",
    response_model=ProblemKind,
    responses=_UNCHANGED | problems.refusals(problems.NOT_FOUND),
)
async def explain_problem(slug: Slug, page: Page) -> Response:
    return page.send(("problems", slug), lambda knowledge: problems.explain(slug))


@router.get(
    "/health",
    tags=["service"],
    summary="Say whether the service can answer",
    description="200 once the knowledge is loaded and has answered a first case, 503 before.",
    response_model=Health,
    response_description="The service answers.",
    responses=problems.refusals(),
)
async def check_health(knowledge: Loaded) -> Response:
    return answer(Health(healthy=True, edition=knowledge.edition, version=__version__))


def methods_of(path: str, others: Iterable[BaseRoute]) -> list[str]:
    """The methods that an address takes, among these and the other routes; none when there is no such address."""
    routers = (router, tuning_routes.router, walk_routes.router, quiz_routes.router, reading_routes.router)
    found = {
        method
        for route in (*(route for each in routers for route in each.routes), *others)
        if isinstance(route, Route | APIRoute) and route.path_regex.match(path)
        for method in route.methods or ()
    }
    return sorted(found | {"OPTIONS"} | ({"HEAD"} if "GET" in found else set())) if found else []
