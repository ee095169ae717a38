"""A web page of another origin: shut out as it stands, let in as docs/embedding.md says."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from carbdiag_api.app import create_app
from starlette.middleware.cors import CORSMiddleware

from carbdiag import Knowledge
from tests.api.service import JSON, InProcess

ORIGIN = {"origin": "https://forum.example"}
ASKS_FIRST = ORIGIN | {"access-control-request-method": "POST", "access-control-request-headers": "content-type"}
ALLOWED = "access-control-allow-origin"


@pytest.fixture(scope="module")
def open_service(k: Knowledge) -> Iterator[InProcess]:
    """The service with the middleware of the page."""
    app = create_app(k)
    app.add_middleware(
        CORSMiddleware, allow_origins=[ORIGIN["origin"]], allow_headers=["Content-Type"], allow_methods=["GET", "POST"]
    )
    service = InProcess(app)
    yield service
    service.close()


def test_no_other_origin_is_let_in_unless_somebody_says_so(service: InProcess) -> None:
    asked = service.ask("OPTIONS", "/v1/diagnoses", headers=ASKS_FIRST)
    answered = service.ask("POST", "/v1/diagnoses", b"{}", JSON | ORIGIN)
    assert (asked.status, answered.status) == (204, 200)
    assert not {ALLOWED} & (asked.headers.keys() | answered.headers.keys())


def test_an_origin_is_let_in_with_the_middleware_of_the_page(open_service: InProcess) -> None:
    asked = open_service.ask("OPTIONS", "/v1/diagnoses", headers=ASKS_FIRST)
    assert (asked.status, asked.headers[ALLOWED]) == (200, ORIGIN["origin"])
    for body, status in ((b"{}", 200), (b"[]", 422), (b"{", 400)):  # a page must be able to read what went wrong
        answered = open_service.ask("POST", "/v1/diagnoses", body, JSON | ORIGIN)
        assert (answered.status, answered.headers[ALLOWED]) == (status, ORIGIN["origin"])
    elsewhere = open_service.ask("POST", "/v1/diagnoses", b"{}", JSON | {"origin": "https://other.example"})
    assert elsewhere.status == 200
    assert ALLOWED not in elsewhere.headers
