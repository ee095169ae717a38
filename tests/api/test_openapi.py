"""The OpenAPI document: valid, complete, current, and every example real."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from carbdiag_api import problems
from carbdiag_api.app import create_app
from carbdiag_api.openapi import examples, pages
from openapi_spec_validator import OpenAPIV31SpecValidator

from carbdiag import Case, Knowledge, load_case
from tests.api.service import JSON, InProcess

ROOT = Path(__file__).parents[2]
OPERATIONS = [name for name in examples() if name != "problems"]


@pytest.fixture(scope="module")
def document(service: InProcess) -> dict[str, Any]:
    return dict(service.app.openapi())


def operations(document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for path in document["paths"].values():
        yield from path.values()


def test_the_document_is_valid_openapi_3_1(document: dict[str, Any]) -> None:
    assert document["openapi"].startswith("3.1")
    OpenAPIV31SpecValidator(document).validate()


def test_the_committed_files_are_current() -> None:
    for file, text in pages().items():
        told = f"{file.relative_to(ROOT)} is old: run python -m carbdiag_api.openapi"
        assert file.read_text(encoding="utf-8") == text, told


def test_the_service_sends_the_committed_document(service: InProcess) -> None:
    committed = json.loads((ROOT / "docs" / "openapi.json").read_text(encoding="utf-8"))
    assert service.get("/openapi.json").json == committed


def test_every_operation_says_what_it_is(document: dict[str, Any]) -> None:
    ids = [o["operationId"] for o in operations(document)]
    assert sorted(ids) == sorted(OPERATIONS)
    tags = {tag["name"] for tag in document["tags"]}
    for operation in operations(document):
        assert operation["summary"]
        assert operation["description"]
        assert set(operation["tags"]) <= tags
        assert operation["operationId"].isidentifier()
        for parameter in operation.get("parameters", []):
            assert parameter["description"]


def test_errors_are_problem_documents_and_nothing_else(document: dict[str, Any]) -> None:
    for operation in operations(document):
        for status, answer in operation["responses"].items():
            if status >= "400":
                assert list(answer["content"]) == ["application/problem+json"]
    assert "HTTPValidationError" not in document["components"]["schemas"]


def test_every_answer_has_an_example_that_its_schema_takes(document: dict[str, Any]) -> None:
    for operation in operations(document):
        bodies = [answer for answer in operation["responses"].values() if "content" in answer]
        for body in [*bodies, *([operation["requestBody"]] if "requestBody" in operation else [])]:
            for content in body["content"].values():
                (example,) = content["examples"].values()
                schema = {**content["schema"], "components": document["components"]}
                jsonschema.Draft202012Validator(schema).validate(example["value"])


def test_limits_have_their_json_schema_names(document: dict[str, Any]) -> None:
    text = json.dumps(document)
    assert not [word for word in ("ge", "gt", "le", "lt") if f'"{word}": ' in text]
    temperature = document["components"]["schemas"]["Air"]["properties"]["temperature_c"]["anyOf"][0]
    assert (temperature["minimum"], temperature["maximum"]) == (-45, 55)


@pytest.mark.parametrize("name", OPERATIONS)
def test_an_example_replayed_gives_its_documented_answer(service: InProcess, name: str) -> None:
    example = examples()[name]
    body = json.dumps(example["request"]).encode() if "request" in example else b""
    answer = service.ask("POST" if body else "GET", example["path"], body, JSON)
    assert answer.status == 200
    expected = example["response"]
    for field, value in answer.json.items():
        shortened = field in ("rows", "records")
        assert expected[field] == (value[:3] if shortened else value)
    assert expected.keys() == answer.json.keys()


def test_the_request_example_is_the_invented_demonstration_case() -> None:
    demo = load_case((ROOT / "knowledge" / "cases" / "demo.yaml").read_text(encoding="utf-8"))
    assert Case.model_validate(examples()["diagnose_case"]["request"]) == demo
    assert "invented" in examples()["diagnose_case"]["summary"]


def test_the_example_of_a_refusal_is_real(service: InProcess) -> None:
    refused = service.post("/v1/diagnoses", {"findings": [{"finding": "bogss", "at": "half"}]})
    assert refused.json == examples()["problems"]["422"]
    assert examples()["problems"].keys() == {str(kind.status) for kind in problems.KINDS.values()}


def test_a_knowledge_without_the_demonstration_is_documented_all_the_same(toy_folder: Path) -> None:
    toy = InProcess(create_app(Knowledge.load(toy_folder)))
    assert toy.get("/openapi.json").status == 200
    toy.close()
