"""Errors as RFC 9457 problem details: what kinds there are, how one is written, and never an echo of the input.

A kind's `type` is a path of this service where the kind is explained. Values are repeated only when they are short
and printable, so that no request can make an answer large or impossible to encode.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from fastapi import Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from carbdiag import CarbdiagError, CaseError, OutOfRangeError
from carbdiag.errors import Problem, nearest
from carbdiag.field_problems import field_problems

MEDIA_TYPE: Final = "application/problem+json"
PATH: Final = "/v1/problems/"
MOST_PROBLEMS: Final = 20
MOST_BYTES: Final = 7_500
_MOST_ALLOWED = 12
_MOST_VALUE, _MOST_FIELD, _MOST_MESSAGE = 80, 120, 300


class ProblemKind(BaseModel):
    """A kind of error: what it means and what to do about it."""

    type: str = Field(description="The URI that errors of this kind carry, relative to the service.")
    title: str
    status: int
    meaning: str
    remedy: str


class FieldProblem(BaseModel):
    """One problem of the request."""

    field: str = Field(description="Where: a path like `findings[0].at`, a parameter, or empty for the whole.")
    message: str
    value: str | None = Field(default=None, description="What was given, only when it is short and printable.")
    allowed: list[str] = Field(default=[], description="What would be right: the first twelve.")
    more_allowed: int = Field(default=0, description="How many right values are not listed in `allowed`.")
    nearest: str | None = Field(default=None, description="The right value most like the one given.")


class ProblemDetails(BaseModel):
    """An error (RFC 9457). `problems` lists what is wrong, at most twenty entries."""

    type: str
    title: str
    status: int
    detail: str
    problems: list[FieldProblem] = []


def _kind(slug: str, status: int, title: str, meaning: str, remedy: str) -> ProblemKind:
    return ProblemKind(type=PATH + slug, title=title, status=status, meaning=meaning, remedy=remedy)


NOT_JSON: Final = _kind(
    "not-json",
    400,
    "The body is not one plain JSON document",
    "The body is empty, is not UTF-8, starts with a byte order mark, is not valid JSON, names a key twice in one"
    " object, or nests deeper than 32 levels.",
    "Send one JSON object as UTF-8, each key once.",
)
NOT_FOUND: Final = _kind(
    "not-found",
    404,
    "There is nothing at this address",
    "The path is not one of this service, or names a record that this edition of the knowledge does not have.",
    "See /openapi.json for the paths and GET /v1/knowledge/{kind} for the ids.",
)
METHOD_NOT_ALLOWED: Final = _kind(
    "method-not-allowed",
    405,
    "This address does not take that method",
    "The path exists, the method does not go with it.",
    "Use one of the methods in the Allow header.",
)
TOO_SLOW: Final = _kind(
    "too-slow",
    408,
    "The body took too long to arrive",
    "The whole body must arrive within ten seconds.",
    "Send the request again in one go.",
)
BODY_TOO_LARGE: Final = _kind(
    "body-too-large",
    413,
    "The body is too large",
    "A body may have at most 64 KiB; a full case history needs a few.",
    "Shorten the notes, or send the observations that matter.",
)
UNSUPPORTED_MEDIA_TYPE: Final = _kind(
    "unsupported-media-type",
    415,
    "Only plain JSON is taken",
    "The Content-Type is not application/json in UTF-8, or the body is compressed.",
    "Send Content-Type: application/json and no Content-Encoding.",
)
INVALID_INPUT: Final = _kind(
    "invalid-input",
    422,
    "The request cannot be answered as it stands",
    "A field or parameter is unknown, missing, out of range, contradicts another, or names something that this"
    " edition of the knowledge does not have.",
    "Put right each entry of `problems`; GET /v1/knowledge/{kind} lists the ids.",
)
HEADERS_TOO_LARGE: Final = _kind(
    "headers-too-large",
    431,
    "The headers are too many or too large",
    "A request may have at most 100 headers and 16 KiB of them.",
    "Send fewer headers.",
)
INTERNAL_ERROR: Final = _kind(
    "internal-error",
    500,
    "This is a fault of the service",
    "Something went wrong that is not the fault of the request.",
    "Report it with the request that caused it.",
)
NOT_SET_UP: Final = _kind(
    "not-set-up",
    501,
    "This service is not set up for that",
    "Graded quizzes need a secret, and whoever runs this service has given it none.",
    "Ask for a quiz for open use, or set CARBDIAG_QUIZ_SECRET to at least 32 random characters and start anew.",
)
NOT_READY: Final = _kind(
    "not-ready",
    503,
    "The knowledge is not loaded yet",
    "The service is starting or stopping.",
    "Try again after the seconds in Retry-After.",
)
KINDS: Final[Mapping[str, ProblemKind]] = {
    kind.type.removeprefix(PATH): kind
    for kind in (
        NOT_JSON,
        NOT_FOUND,
        METHOD_NOT_ALLOWED,
        TOO_SLOW,
        BODY_TOO_LARGE,
        UNSUPPORTED_MEDIA_TYPE,
        INVALID_INPUT,
        HEADERS_TOO_LARGE,
        INTERNAL_ERROR,
        NOT_SET_UP,
        NOT_READY,
    )
}
_BY_STATUS: Final = {kind.status: kind for kind in KINDS.values()}


@dataclass(eq=False)
class RefusedError(CarbdiagError):
    """A request that is not answered, with the kind of problem and all that is wrong with it."""

    kind: ProblemKind
    detail: str
    problems: Sequence[Problem] = ()
    headers: Mapping[str, str] | None = None

    def __str__(self) -> str:
        return self.detail


def find(word: str, among: Iterable[str], field: str, what: str) -> None:
    """Refuse a word of the path that is not among the known ones, with the nearest.

    Raises:
        RefusedError: 404.
    """
    known = tuple(among)
    if word not in known:
        raise RefusedError(
            NOT_FOUND,
            f"There is no such {what}.",
            [Problem(field, f"unknown {what}", word, known, nearest(word[:_MOST_VALUE], known))],
        )


def explain(slug: str) -> ProblemKind:
    """The kind of problem of this name.

    Raises:
        RefusedError: 404.
    """
    find(slug, KINDS, "slug", "kind of problem")
    return KINDS[slug]


# ---------------------------------------------------------------------------------------------------------
# Writing one


def _printable(text: str, most: int) -> str:
    cut = text if len(text) <= most else text[: most - 1] + "…"
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in cut)


def _value(text: str) -> str | None:
    return text if text and len(text) <= _MOST_VALUE and text.isprintable() else None


def _entry(problem: Problem) -> FieldProblem:
    return FieldProblem(
        field=_printable(problem.field, _MOST_FIELD),
        message=_printable(problem.message, _MOST_MESSAGE),
        value=_value(str(problem.value)),
        allowed=[_printable(word, _MOST_VALUE) for word in problem.allowed[:_MOST_ALLOWED]],
        more_allowed=max(len(problem.allowed) - _MOST_ALLOWED, 0),
        nearest=problem.nearest or None,
    )


def refusals(*kinds: ProblemKind) -> dict[int | str, dict[str, Any]]:
    """The refusals of an address as OpenAPI describes them; those that any address may give are added."""
    return {
        kind.status: {
            "description": f"{kind.title}. {kind.meaning}",
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemDetails"}}},
        }
        for kind in (*kinds, HEADERS_TOO_LARGE, INTERNAL_ERROR, NOT_READY)
    }


#: What an address that takes a body may refuse.
BODY_REFUSALS: Final = (NOT_JSON, TOO_SLOW, BODY_TOO_LARGE, UNSUPPORTED_MEDIA_TYPE, INVALID_INPUT)


def details(kind: ProblemKind, detail: str, problems: Sequence[Problem] = ()) -> bytes:
    """One problem document, at most 20 entries and 7,500 bytes."""
    entries = [_entry(p) for p in problems[:MOST_PROBLEMS]]
    while True:
        missing = len(problems) - len(entries)
        told = f"{detail} {missing} more problems are not listed." if missing else detail
        document = ProblemDetails(type=kind.type, title=kind.title, status=kind.status, detail=told, problems=entries)
        content = document.model_dump_json(exclude_none=True).encode()
        if len(content) <= MOST_BYTES:
            return content
        entries = entries[: len(entries) * 3 // 4]


def response(
    kind: ProblemKind,
    detail: str,
    problems: Sequence[Problem] = (),
    headers: Mapping[str, str] | None = None,
) -> Response:
    """A problem document as an answer."""
    return Response(
        details(kind, detail, problems),
        kind.status,
        {"Cache-Control": "no-store", **(headers or {})},
        MEDIA_TYPE,
    )


# ---------------------------------------------------------------------------------------------------------
# What the application does with each error


async def answer_refused(request: Request, error: Exception) -> Response:
    """A refusal of our own."""
    assert isinstance(error, RefusedError)
    return response(error.kind, error.detail, error.problems, error.headers)


async def answer_case_error(request: Request, error: Exception) -> Response:
    """A case that the library cannot take."""
    assert isinstance(error, CaseError)
    return response(INVALID_INPUT, "It does not fit what is known here.", error.problems)


async def answer_out_of_range(request: Request, error: Exception) -> Response:
    """A quantity outside the range of its formula."""
    assert isinstance(error, OutOfRangeError)
    problem = Problem(error.quantity, str(error), f"{error.value:g}")
    return response(INVALID_INPUT, "A quantity is out of range.", [problem])


async def answer_invalid_parameters(request: Request, error: Exception) -> Response:
    """Parameters that FastAPI refuses."""
    assert isinstance(error, RequestValidationError)
    details = [{**detail, "loc": detail["loc"][1:]} for detail in error.errors()]  # without where it stood: the query
    return response(INVALID_INPUT, "A parameter cannot be used.", field_problems(details, parameters_of(request)))


def parameters_of(request: Request) -> type[BaseModel] | None:
    """The model of the parameters that an address takes."""
    route = request.scope.get("route")
    models = [p.field_info.annotation for p in route.dependant.query_params] if isinstance(route, APIRoute) else []
    return next((m for m in models if isinstance(m, type) and issubclass(m, BaseModel)), None)


async def answer_http_exception(request: Request, error: Exception) -> Response:
    """What the router itself refuses: unknown paths and methods."""
    assert isinstance(error, HTTPException)
    kind = _BY_STATUS.get(error.status_code, INTERNAL_ERROR if error.status_code >= 500 else NOT_FOUND)
    found = [_unknown_address(request)] if kind is NOT_FOUND else []
    return response(kind, kind.remedy, found, headers=error.headers)


def _unknown_address(request: Request) -> Problem:
    addresses = tuple(request.app.openapi()["paths"])
    asked = request.url.path
    return Problem("path", "unknown address", asked, addresses, nearest(asked[:_MOST_VALUE], addresses))


async def answer_fault(request: Request, error: Exception) -> Response:
    """Anything else is our fault; the log has it, the answer does not."""
    return response(INTERNAL_ERROR, INTERNAL_ERROR.remedy)


HANDLERS: Final[dict[int | type[Exception], Callable[[Request, Any], Coroutine[Any, Any, Response]]]] = {
    RefusedError: answer_refused,
    CaseError: answer_case_error,
    OutOfRangeError: answer_out_of_range,
    RequestValidationError: answer_invalid_parameters,
    HTTPException: answer_http_exception,
    Exception: answer_fault,
}
