"""What goes out: answers to one request, and pages, which are written once, tagged by content, not sent twice."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Annotated, Final

from fastapi import Header, Request, Response
from pydantic import BaseModel
from pydantic.json_schema import SkipJsonSchema

from carbdiag import Knowledge
from carbdiag_api.problems import NOT_READY, RefusedError

CACHE: Final = "public, max-age=300"


@dataclass(frozen=True)
class Page:
    """The bytes of an answer and their strong entity tag."""

    content: bytes
    etag: str

    @classmethod
    def of(cls, model: BaseModel) -> Page:
        """Write a model down."""
        content = to_json(model)
        return cls(content, f'"{hashlib.sha256(content).hexdigest()[:32]}"')


@dataclass
class Shelf:
    """The knowledge loaded, and the pages written from it so far."""

    knowledge: Knowledge
    pages: dict[Hashable, Page] = field(default_factory=dict)

    def page(self, key: Hashable, write: Callable[[], BaseModel]) -> Page:
        """The page under a key, written on first use; a refusal is not kept."""
        if key not in self.pages:
            self.pages[key] = Page.of(write())
        return self.pages[key]


def to_json(model: BaseModel) -> bytes:
    """A model as the service sends it."""
    return model.model_dump_json(by_alias=True).encode()


def answer(model: BaseModel) -> Response:
    """An answer to one case or request: sent, never stored."""
    return Response(to_json(model), headers={"Cache-Control": "no-store"}, media_type="application/json")


def loaded_shelf(request: Request) -> Shelf:
    """The shelf of this application.

    Raises:
        RefusedError: 503, the knowledge is not loaded yet.
    """
    shelf = getattr(request.app.state, "shelf", None)
    if not isinstance(shelf, Shelf):
        raise RefusedError(NOT_READY, NOT_READY.meaning, headers={"Retry-After": "1"})
    return shelf


def loaded_knowledge(request: Request) -> Knowledge:
    """The knowledge of this application, once it is loaded."""
    return loaded_shelf(request).knowledge


IfNoneMatch = Annotated[
    str | SkipJsonSchema[None],
    Header(description="Entity tags already held; when one still fits, the answer is 304 without a body."),
]


class Sender:
    """Sends a page, or 304 when the client holds it already."""

    def __init__(self, request: Request, if_none_match: IfNoneMatch = None) -> None:
        self.request, self.held = request, if_none_match or ""

    def send(self, key: Hashable, write: Callable[[Knowledge], BaseModel]) -> Response:
        """Answer with the page under a key."""
        shelf = loaded_shelf(self.request)
        page = shelf.page(key, lambda: write(shelf.knowledge))
        headers = {"ETag": page.etag, "Cache-Control": CACHE}
        if self._holds(page.etag):
            return Response(status_code=304, headers=headers)
        return Response(page.content, headers=headers, media_type="application/json")

    def _holds(self, etag: str) -> bool:
        tags = {tag.strip().removeprefix("W/") for tag in self.held.split(",")}
        return etag in tags or self.held.strip() == "*"
