"""What each address answers."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from carbdiag_api import catalogue
from carbdiag_api.app import create_app
from carbdiag_api.openapi import examples

from carbdiag import BandTable, Case, Diagnosis, Knowledge, band_table, diagnose
from tests.api.service import JSON, InProcess

DEMO = examples()["diagnose_case"]["request"]


def test_a_diagnosis_is_the_one_the_library_gives(service: InProcess, k: Knowledge) -> None:
    answer = service.post("/v1/diagnoses?steps=3", DEMO)
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["cache-control"] == "no-store"
    expected = diagnose(Case.model_validate(DEMO), k, steps=3)
    assert Diagnosis.model_validate_json(answer.body) == Diagnosis.model_validate(expected.model_dump())


def test_the_same_case_gets_the_same_bytes(service: InProcess) -> None:
    assert service.post("/v1/diagnoses", DEMO).body == service.post("/v1/diagnoses", DEMO).body


def test_another_process_state_gives_the_same_bytes(service: InProcess, k: Knowledge) -> None:
    fresh = InProcess(create_app(Knowledge.load()))
    try:
        assert fresh.post("/v1/diagnoses", DEMO).body == service.post("/v1/diagnoses", DEMO).body
    finally:
        fresh.close()


@pytest.mark.parametrize("steps", [0, 1, 20])
def test_as_many_next_steps_as_asked_for(service: InProcess, steps: int) -> None:
    found = service.post(f"/v1/diagnoses?steps={steps}", DEMO).json["next_steps"]
    assert len(found) == steps if steps < 20 else 5 < len(found) <= 20


def test_five_next_steps_without_asking(service: InProcess) -> None:
    assert len(service.post("/v1/diagnoses", DEMO).json["next_steps"]) == 5


def test_an_empty_case_is_a_question_not_an_error(service: InProcess) -> None:
    answer = service.post("/v1/diagnoses", {})
    assert (answer.status, answer.json["answer"]) == (200, "ask_first")


def test_short_forms_of_a_case_are_taken(service: InProcess) -> None:
    short = {"contexts": ["exhaust_changed"], "findings": [{"finding": "bogs", "at": "half"}]}
    full = {
        "contexts": [{"context": "exhaust_changed", "status": "present"}],
        "findings": [{"finding": "bogs", "at": ["half"], "status": "present", "certainty": "sure"}],
    }
    assert service.post("/v1/diagnoses", short).body == service.post("/v1/diagnoses", full).body


@pytest.mark.parametrize("media_type", ["application/json", "Application/JSON; charset=UTF-8"])
def test_json_in_utf8_is_taken_however_it_is_announced(service: InProcess, media_type: str) -> None:
    body = json.dumps({"note": "läuft"}, ensure_ascii=False).encode()
    assert service.ask("POST", "/v1/diagnoses", body, {"content-type": media_type}).status == 200


def test_a_band_table_is_the_one_the_library_computes(service: InProcess, k: Knowledge) -> None:
    for family, record in k.families.items():
        for strokes in record.strokes:
            answer = service.get(f"/v1/bands/{family}?strokes={strokes}")
            expected = band_table(family, strokes, k).model_dump()
            assert BandTable.model_validate_json(answer.body) == BandTable.model_validate(expected)
        assert service.get(f"/v1/bands/{family}").json["strokes"] == record.strokes[0]


def test_the_overview_counts_every_kind(service: InProcess, k: Knowledge) -> None:
    answer = service.get("/v1/knowledge").json
    assert answer["edition"] == k.edition
    assert answer["kinds"] == list(catalogue.KINDS)
    assert answer["counts"] == {kind: len(getattr(k, kind)) for kind in catalogue.KINDS}


@pytest.mark.parametrize("kind", catalogue.KINDS)
def test_every_record_of_a_kind_is_listed_and_can_be_read(service: InProcess, k: Knowledge, kind: str) -> None:
    listed = service.get(f"/v1/knowledge/{kind}").json
    assert [r["id"] for r in listed["records"]] == list(getattr(k, kind))
    assert all(r["name"] for r in listed["records"])
    for identity, record in getattr(k, kind).items():
        page = service.get(f"/v1/knowledge/{kind}/{identity}")
        assert page.status == 200
        assert page.json == {
            "edition": k.edition,
            "kind": kind,
            "record": json.loads(record.model_dump_json(by_alias=True)),
        }


def test_health_is_good_once_the_knowledge_is_loaded(service: InProcess, k: Knowledge) -> None:
    answer = service.get("/health")
    assert answer.status == 200
    assert (answer.json["healthy"], answer.json["edition"]) == (True, k.edition)


@pytest.mark.parametrize("address", ["/health", "/v1/knowledge", "/v1/bands/round_slide"])
def test_before_the_knowledge_is_loaded_every_answer_is_not_ready(k: Knowledge, address: str) -> None:
    starting = InProcess(create_app(k), started=False)
    answer = starting.get(address)
    starting.close()
    assert (answer.status, answer.headers["retry-after"]) == (503, "1")
    assert answer.json["type"] == "/v1/problems/not-ready"


def test_after_shutdown_health_is_no_longer_good(k: Knowledge) -> None:
    app = create_app(k)
    InProcess(app).close()
    stopped = InProcess(app, started=False)
    assert stopped.get("/health").status == 503
    stopped.close()


GETS = ["/health", "/v1/knowledge", "/v1/knowledge/causes", "/v1/bands/round_slide", "/v1/problems/not-found"]


@pytest.mark.parametrize("address", GETS)
def test_head_is_get_without_the_body(service: InProcess, address: str) -> None:
    whole, head = service.get(address), service.ask("HEAD", address)
    assert (head.status, head.headers, head.body) == (200, whole.headers, b"")


@pytest.mark.parametrize("address", [*GETS, "/v1/diagnoses", "/docs", "/", "/openapi.json"])
def test_options_names_the_methods(service: InProcess, address: str) -> None:
    answer = service.ask("OPTIONS", address)
    expected = "OPTIONS, POST" if address == "/v1/diagnoses" else "GET, HEAD, OPTIONS"
    assert (answer.status, answer.headers["allow"], answer.body) == (204, expected, b"")


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "TRACE", "BREW"])
def test_other_methods_are_told_which_are_allowed(service: InProcess, method: str) -> None:
    read = "GET, HEAD, OPTIONS"
    for address, allow in (("/v1/diagnoses", "OPTIONS, POST"), ("/health", read), ("/docs", read)):
        answer = service.ask(method, address)
        assert (answer.status, answer.headers["allow"]) == (405, allow)
    assert service.get("/v1/diagnoses").status == 405


def test_a_folder_named_by_the_environment_is_used(monkeypatch: pytest.MonkeyPatch, toy_folder: Path) -> None:
    monkeypatch.setenv("CARBDIAG_KNOWLEDGE", str(toy_folder))
    toy = InProcess(create_app())
    try:
        assert toy.get("/health").json["edition"] == Knowledge.load(toy_folder).edition
    finally:
        toy.close()


def test_the_library_does_not_import_the_service() -> None:
    script = "import sys, carbdiag; sys.exit(any(m.startswith(('carbdiag_api', 'fastapi')) for m in sys.modules))"
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0


def test_a_body_sent_with_get_is_ignored(service: InProcess) -> None:
    assert service.ask("GET", "/health", b"{" * 100_000, JSON).status == 200
