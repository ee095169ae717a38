"""Answers for people over HTTP: the same as the library renders, negotiated or asked for by name."""

from __future__ import annotations

import json

import pytest
from carbdiag_api.openapi import examples
from carbdiag_api.rendered import MEDIA_TYPES, wanted

from carbdiag import Case, diagnose
from carbdiag.answers import FORMS, MARKUPS, languages, render
from carbdiag.answers.forms import Form, Markup
from carbdiag.knowledge import shipped_knowledge
from tests.api.service import JSON, InProcess

CASE = {"machine": {"family": "round_slide", "strokes": 2}, "findings": [{"finding": "bogs", "at": "half"}]}


def rendered(markup: Markup, form: Form = "full", language: str = "en") -> str:
    return render(diagnose(Case.model_validate(CASE), shipped_knowledge()), markup, form, language)


def ask(service: InProcess, query: str = "", accept: str | None = None):  # type: ignore[no-untyped-def]
    headers = JSON if accept is None else {**JSON, "accept": accept}
    return service.ask("POST", f"/v1/diagnoses{query}", json.dumps(CASE).encode(), headers)


@pytest.mark.parametrize("markup", MARKUPS)
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("language", languages())
def test_an_answer_is_what_the_library_renders(
    service: InProcess, markup: Markup, form: Form, language: str
) -> None:
    answer = ask(service, f"?as={markup}&form={form}&language={language}")
    assert answer.status == 200
    assert answer.body.decode() == rendered(markup, form, language)
    assert answer.headers["content-type"] == f"{MEDIA_TYPES[markup]}; charset=utf-8"
    assert answer.headers["content-language"] == language
    assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    ("accept", "markup"),
    [
        ("", None),
        ("*/*", None),
        ("application/json", None),
        ("application/xml", None),  # no 406: JSON is the default, as RFC 9110 allows
        ("image/png", None),
        ("application/json;q=0", None),
        ("text/markdown", "markdown"),
        ("text/html, */*;q=0.8", "html"),
        ("text/plain", "text"),
        ("text/*", "markdown"),
        ("text/plain;q=0.5, text/markdown;q=0.9", "markdown"),
        ("application/json;q=0.1, text/plain;q=0.2", "text"),
        ("text/html;q=0", None),
        ("text/html;q=NaN, text/plain;q=1e9", None),
        ("TEXT/HTML ; q=1.0", "html"),
        (";;q=,,", None),
    ],
)
def test_the_accept_header_chooses_where_nothing_is_asked_by_name(
    service: InProcess, accept: str, markup: Markup | None
) -> None:
    assert wanted(accept) == markup
    answer = ask(service, accept=accept)
    assert answer.headers["vary"] == "Accept"
    assert answer.headers["content-type"].partition(";")[0] == (MEDIA_TYPES[markup] if markup else "application/json")


def test_what_is_asked_by_name_wins_over_the_accept_header(service: InProcess) -> None:
    assert ask(service, "?as=json", "text/html").json["answer"]
    assert ask(service, "?as=bbcode", "application/json").body.decode() == rendered("bbcode")


@pytest.mark.parametrize(
    ("query", "field"),
    [("?as=pdf", "as"), ("?form=tiny", "form"), ("?language=fr", "language"), ("?markup=html", "markup")],
)
def test_what_there_is_not_is_refused_by_its_name(service: InProcess, query: str, field: str) -> None:
    answer = ask(service, query)
    assert answer.status == 422
    (problem,) = answer.json["problems"]
    assert problem["field"] == field


def test_the_documented_pages_are_real(service: InProcess) -> None:
    example = examples()["diagnose_case"]
    body = json.dumps(example["request"]).encode()
    for media_type, text in example["pages"].items():
        answer = service.ask("POST", example["path"], body, {**JSON, "accept": media_type})
        assert answer.body.decode() == text
