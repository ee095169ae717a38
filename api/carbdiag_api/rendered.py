"""A diagnosis sent for people: which markup, form and language are wanted, and the answer in it.

`as` decides; without it the `Accept` header does, and JSON is sent where it names nothing better. RFC 9110 (sections
12.4.1 and 15.5.7) leaves it to the server whether a header that names nothing there is gets 406 or a default; the
default is labeled, and helps a client that is picky by mistake.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from fastapi import Request, Response
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from carbdiag import Diagnosis
from carbdiag.answers import languages, render
from carbdiag.answers.forms import Form, Markup
from carbdiag.diagnosis import MOST_STEPS
from carbdiag_api.pages import answer

#: Media types by markup. BBCode has none of its own: it is plain text, and sent only where `as` asks for it.
MEDIA_TYPES: Final[dict[Markup, str]] = {
    "text": "text/plain",
    "markdown": "text/markdown",
    "bbcode": "text/plain",
    "html": "text/html",
}
_JSON: Final = "application/json"
_NEGOTIATED: Final[dict[str, Markup | None]] = {
    _JSON: None,
    "text/markdown": "markdown",
    "text/html": "html",
    "text/plain": "text",
}


def _known(language: str) -> str:
    if language not in languages():
        raise PydanticCustomError("enum", "unknown language", {"expected": " or ".join(languages())})
    return language


class DiagnosisChoices(BaseModel):
    """How to answer a case."""

    model_config = ConfigDict(extra="forbid")

    steps: int = Field(default=5, ge=0, le=MOST_STEPS, description="How many next steps to rank.")
    markup: Literal["json", "text", "markdown", "bbcode", "html"] | None = Field(
        default=None,
        alias="as",
        description="How the answer is written; without it, the `Accept` header decides among JSON, `text/plain`,"
        " `text/markdown` and `text/html`, and JSON is sent where it names none of these.",
    )
    form: Form = Field(default="full", description="`short` fits a chat message: at most 900 characters.")
    language: Annotated[str, AfterValidator(_known), WithJsonSchema({"type": "string", "enum": list(languages())})] = (
        Field(default="en", description="Language of an answer that is not JSON; a `text` without one is read in it.")
    )


#: What the OpenAPI document says of the answers that are not JSON.
DESCRIBED: Final[dict[int | str, dict[str, Any]]] = {
    200: {
        "description": "The diagnosis.",
        "content": {
            media_type: {"schema": {"type": "string"}} for media_type in dict.fromkeys(MEDIA_TYPES.values())
        },
    }
}


def send(diagnosis: Diagnosis, chosen: DiagnosisChoices, request: Request) -> Response:
    """The diagnosis as it was asked for: sent, never stored."""
    markup = wanted(request.headers.get("accept", "")) if chosen.markup is None else chosen.markup
    if markup is None or markup == "json":
        response = answer(diagnosis)
    else:
        text = render(diagnosis, markup, chosen.form, chosen.language)
        response = Response(text, media_type=MEDIA_TYPES[markup], headers={"Cache-Control": "no-store"})
        response.headers["Content-Language"] = chosen.language
        response.headers["Content-Security-Policy"] = "default-src 'none'"
        response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Vary"] = "Accept"
    return response


def wanted(accept: str) -> Markup | None:
    """The markup that an `Accept` header likes best; None is JSON, which wins where nothing named is better."""
    best, liked = None, 0.0
    for name, markup in _NEGOTIATED.items():
        quality = _quality(accept, name)
        if quality > liked:
            best, liked = markup, quality
    return best


def _quality(accept: str, media_type: str) -> float:
    """How much a media type is liked, by the most specific range that fits it."""
    kind = media_type.partition("/")[0]
    found = {0: 0.0}
    for part in accept.split(","):
        name, *parameters = (p.strip().lower() for p in part.split(";"))
        rank = {media_type: 3, f"{kind}/*": 2, "*/*": 1}.get(name)
        if rank is not None:
            found[rank] = next((_number(p[2:]) for p in parameters if p.startswith("q=")), 1.0)
    return found[max(found)]


def _number(text: str) -> float:
    """A quality from 0 to 1; what is none counts as 0."""
    return float(text) if text[:1] in "01" and len(text) <= 5 and text.replace(".", "", 1).isdecimal() else 0.0
