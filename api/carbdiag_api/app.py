"""The application: `app` for a server, `create_app` for tests and for a knowledge of one's own."""

from __future__ import annotations

import gc
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import Depends, FastAPI, Request, Response

from carbdiag import Case, Knowledge, __version__, diagnose, read_text
from carbdiag_api import (
    docs_page,
    openapi,
    problems,
    quiz_routes,
    reading_routes,
    routes,
    tuning_routes,
    walk_routes,
)
from carbdiag_api.intake import Gate, refuse_repeated
from carbdiag_api.pages import Shelf


def create_app(knowledge: Knowledge | None = None) -> FastAPI:
    """Build the service.

    Args:
        knowledge: the records to answer from; without it, the folder that the environment names in
            CARBDIAG_KNOWLEDGE, or else the knowledge that carbdiag ships. It is loaded when the service starts.
    """

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        loaded = knowledge or Knowledge.load()
        diagnose(Case(), loaded)  # builds the tables, so that the first rider does not wait for them
        for language in loaded.reading:
            read_text("", loaded, language)  # and the phrases
        app.state.shelf = Shelf(loaded)
        gc.collect()
        gc.freeze()  # what was loaded stays; searching it for garbage again and again would cost every answer
        yield
        app.state.shelf = None

    app = FastAPI(
        title=openapi.TITLE,
        summary=openapi.SUMMARY,
        description=openapi.DESCRIPTION,
        version=__version__,
        license_info={"name": "MIT", "identifier": "MIT"},
        openapi_tags=openapi.TAGS,
        servers=[{"url": "/", "description": "This service."}],
        generate_unique_id_function=lambda route: route.name,
        dependencies=[Depends(refuse_repeated)],
        redirect_slashes=False,
        docs_url=None,  # the usual page loads scripts from elsewhere
        redoc_url=None,
        lifespan=lifespan,
        exception_handlers={**problems.HANDLERS, 405: _answer_method_not_allowed},
    )
    app.include_router(routes.router)
    app.include_router(tuning_routes.router)
    app.include_router(walk_routes.router)
    app.include_router(reading_routes.router)
    app.include_router(quiz_routes.router)
    app.state.quiz_secret = os.environ.get(quiz_routes.SECRET_SETTING, "")
    app.add_api_route("/", docs_page.lead_to_docs, methods=["GET"], include_in_schema=False)
    app.add_api_route("/docs", docs_page.show_docs, methods=["GET"], include_in_schema=False)
    app.add_middleware(Gate, methods_of=lambda path: routes.methods_of(path, app.routes))
    document: dict[str, Any] = {}

    def documented() -> dict[str, Any]:
        if not document:
            document.update(openapi.document(app, openapi.examples()))
        return document

    app.openapi = documented  # type: ignore[method-assign]
    return app


async def _answer_method_not_allowed(request: Request, error: Exception) -> Response:
    allow = ", ".join(routes.methods_of(request.url.path, request.app.routes)) or "GET"
    kind = problems.METHOD_NOT_ALLOWED
    return problems.response(kind, kind.remedy, headers={"Allow": allow})


app = create_app()
