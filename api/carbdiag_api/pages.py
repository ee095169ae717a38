"""What goes out: answers to one request, and pages, which are written once, tagged by content, not sent twice."""

from __future__ import annotations

import gzip
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


#: Pages from this size on are also kept compressed; the table of a family shrinks to a twentieth.
_WORTH_COMPRESSING: Final = 1024


@dataclass(frozen=True)
class Page:
    """The bytes of an answer and their strong entity tag; `encoding` says how they are compressed, if they are."""

    content: bytes
    etag: str
    encoding: str | None = None

    @classmethod
    def of(cls, model: BaseModel) -> tuple[Page, Page]:
        """Write a model down: plain, and compressed where that is worth it. Each form has a tag of its own."""
        content = to_json(model)
        digest = hashlib.sha256(content).hexdigest()[:32]
        plain = cls(content, f'"{digest}"')
        if len(content) < _WORTH_COMPRESSING:
            return plain, plain
        return plain, cls(gzip.compress(content, mtime=0), f'"{digest}-gzip"', "gzip")


@dataclass
class Shelf:
    """The knowledge loaded, and the pages written from it so far."""

    knowledge: Knowledge
    pages: dict[Hashable, tuple[Page, Page]] = field(default_factory=dict)

    def page(self, key: Hashable, write: Callable[[], BaseModel]) -> tuple[Page, Page]:
        """The page under a key, plain and compressed, written on first use; a refusal is not kept."""
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


def takes_gzip(accepted: str) -> bool:
    """Whether an Accept-Encoding allows gzip (RFC 9110, section 12.5.3): named or `*`, and not with weight 0.

    >>> takes_gzip("gzip, br"), takes_gzip("br;q=1, *;q=0.1"), takes_gzip("gzip;q=0, *"), takes_gzip("")
    (True, True, False, False)
    """
    weights: dict[str, str] = {}
    for part in accepted.lower().split(","):
        name, _, weight = part.partition(";")
        weights[name.strip()] = weight.replace(" ", "")
    weight = weights.get("gzip", weights.get("x-gzip", weights.get("*", "q=0")))
    return weight.removeprefix("q=").strip("0.") != "" or not weight


IfNoneMatch = Annotated[
    str | SkipJsonSchema[None],
    Header(description="Entity tags already held; when one still fits, the answer is 304 without a body."),
]


class Sender:
    """Sends a page, compressed to clients that take it so, or 304 when the client holds it already."""

    def __init__(self, request: Request, if_none_match: IfNoneMatch = None) -> None:
        self.request, self.held = request, if_none_match or ""
        self.form = int(takes_gzip(request.headers.get("accept-encoding", "")))

    def send(self, key: Hashable, write: Callable[[Knowledge], BaseModel]) -> Response:
        """Answer with the page under a key."""
        shelf = loaded_shelf(self.request)
        page = shelf.page(key, lambda: write(shelf.knowledge))[self.form]
        headers = {"ETag": page.etag, "Cache-Control": CACHE, "Vary": "Accept-Encoding"}
        if self._holds(page.etag):
            return Response(status_code=304, headers=headers)
        if page.encoding is not None:
            headers["Content-Encoding"] = page.encoding
        return Response(page.content, headers=headers, media_type="application/json")

    def _holds(self, etag: str) -> bool:
        tags = {tag.strip().removeprefix("W/") for tag in self.held.split(",")}
        return etag in tags or self.held.strip() == "*"
