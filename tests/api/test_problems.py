"""Every error is a problem document that says what is wrong, where, and what would be right."""

from __future__ import annotations

import json
from typing import Any

import pytest
from carbdiag_api import problems, routes
from carbdiag_api.app import create_app

from carbdiag import CaseError, Knowledge, load_case
from carbdiag.errors import Problem
from tests.api.service import JSON, Answer, InProcess


def refused(answer: Answer, status: int) -> list[dict[str, Any]]:
    """Check the form of a problem document and give its entries."""
    assert answer.status == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert len(answer.body) <= 8000
    document = problems.ProblemDetails.model_validate_json(answer.body)
    assert document.status == status
    assert document.title
    assert document.detail
    assert document.type.removeprefix(problems.PATH) in problems.KINDS
    entries: list[dict[str, Any]] = answer.json["problems"]
    return entries


def test_every_type_leads_to_its_page(service: InProcess) -> None:
    for slug, kind in problems.KINDS.items():
        page = service.get(kind.type)
        assert page.status == 200
        assert page.json == kind.model_dump()
        assert kind.type == f"/v1/problems/{slug}"


def test_every_kind_has_its_own_status() -> None:
    assert len({kind.status for kind in problems.KINDS.values()}) == len(problems.KINDS)


def test_an_unknown_finding_is_answered_with_the_nearest(service: InProcess) -> None:
    (entry,) = refused(service.post("/v1/diagnoses", {"findings": [{"finding": "bogss"}]}), 422)
    assert (entry["field"], entry["value"], entry["nearest"]) == ("findings[0].finding", "bogss", "bogs")
    assert entry["message"] == "unknown finding 'bogss'"


def test_all_that_is_wrong_comes_at_once(service: InProcess) -> None:
    case = {
        "machne": {},
        "findings": [{"finding": "bogs", "certainty": "certain"}, {}],
        "air": {"set": {"temperature_c": 99}, "now": {"temperature_c": 5}},
    }
    entries = {e["field"]: e for e in refused(service.post("/v1/diagnoses", case), 422)}
    assert entries["machne"]["nearest"] == "machine"
    assert entries["findings[0].certainty"]["allowed"] == ["sure", "probably", "maybe"]
    assert entries["findings[1].finding"]["message"] == "is missing"
    assert entries["air.set.temperature_c"]["value"] == "99"


def test_a_misspelled_field_deep_down_is_told_its_neighbors(service: InProcess) -> None:
    case = {"epochs": [{"findings": [{"finding": "bogs", "certanty": "sure"}]}]}
    (entry,) = refused(service.post("/v1/diagnoses", case), 422)
    assert (entry["field"], entry["nearest"]) == ("epochs[0].findings[0].certanty", "certainty")


def test_a_contradiction_is_told(service: InProcess) -> None:
    both = [{"finding": "bogs", "at": "half"}, {"finding": "bogs", "at": "half", "status": "denied"}]
    answer = service.post("/v1/diagnoses", {"findings": both})
    assert answer.status == 200
    assert any("contradict" in note for note in answer.json["notes"])


@pytest.mark.parametrize(
    ("address", "field", "nearest"),
    [
        ("/v1/knowledge/cause", "kind", "causes"),
        ("/v1/knowledge/causes/pilot_jet_to_small", "id", "pilot_jet_too_small"),
        ("/v1/bands/round_slid", "family", "round_slide"),
        ("/v1/problems/not_found", "slug", "not-found"),
    ],
)
def test_a_name_not_found_is_answered_with_the_nearest(
    service: InProcess, address: str, field: str, nearest: str
) -> None:
    (entry,) = refused(service.get(address), 404)
    assert (entry["field"], entry["nearest"]) == (field, nearest)


@pytest.mark.parametrize(
    ("address", "field", "allowed", "nearest"),
    [
        ("/v1/bands/round_slide?strokes=3", "strokes", "2", None),
        ("/v1/bands/round_slide?strokes=two", "strokes", "4", None),
        ("/v1/bands/round_slide?stroke=2", "stroke", "strokes", "strokes"),
        ("/v1/diagnoses?format=markdown", "format", "as", "form"),
        ("/v1/diagnoses?as=pdf", "as", "bbcode", None),
        ("/v1/diagnoses?language=fr", "language", "es", None),
    ],
)
def test_a_wrong_parameter_is_named_with_what_is_allowed(
    service: InProcess, address: str, field: str, allowed: str, nearest: str | None
) -> None:
    answer = service.post(address, {}) if "diagnoses" in address else service.get(address)
    (entry,) = refused(answer, 422)
    assert (entry["field"], entry.get("nearest")) == (field, nearest)
    assert allowed in entry["allowed"]


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("/v1/readings?language=es", "unknown parameter; it belongs in the body"),
        ("/v1/walks?steps=2", "unknown parameter; it belongs in the body"),
        ("/v1/resizes?units=mm", "unknown parameter"),
    ],
)
def test_a_parameter_where_none_is_taken_is_not_passed_over(service: InProcess, address: str, says: str) -> None:
    (entry,) = refused(service.post(address, {}), 422)
    assert (f"?{entry['field']}=" in address, entry["message"]) == (True, says)


@pytest.mark.parametrize("address", ["/v1/bands/round_slide?strokes=2&strokes=4", "/v1/diagnoses?as=text&as=html"])
def test_a_parameter_given_twice_is_refused_as_a_key_named_twice_is(service: InProcess, address: str) -> None:
    answer = service.post(address, {}) if "diagnoses" in address else service.get(address)
    (entry,) = refused(answer, 422)
    assert (f"?{entry['field']}=" in address, entry["message"]) == (True, "is given twice")


def test_an_address_that_is_none_is_answered_with_the_nearest(service: InProcess) -> None:
    (entry,) = refused(service.post("/v1/diagnosis", {}), 404)
    assert (entry["value"], entry["nearest"]) == ("/v1/diagnosis", "/v1/diagnoses")
    assert "/v1/bands/{family}" in entry["allowed"]


def test_the_command_and_the_service_say_the_same_of_a_case(service: InProcess) -> None:
    case = {
        "machine": {"elevation_m": 2000, "cylinders": 0, "parts": {"main_jet": 160}},
        "findings": ["bogs", {"finding": "bogs", "status": "no"}],
    }
    with pytest.raises(CaseError) as caught:
        load_case(json.dumps(case))
    entries = refused(service.post("/v1/diagnoses", case), 422)
    assert [(e["field"], e["message"], e.get("value", "")) for e in entries] == [
        (p.field, p.message, p.value) for p in caught.value.problems
    ]


@pytest.mark.parametrize("steps", ["-1", "21", "", "five", "1e3", "1.5", "99999999999999999999"])
def test_steps_out_of_range_are_refused(service: InProcess, steps: str) -> None:
    (entry,) = refused(service.post(f"/v1/diagnoses?steps={steps}", {}), 422)
    assert entry["field"] == "steps"


def test_a_long_list_of_allowed_words_is_cut_and_counted(service: InProcess, k: Knowledge) -> None:
    (entry,) = refused(service.post("/v1/diagnoses", {"findings": [{"finding": "zzz"}]}), 422)
    assert len(entry["allowed"]) + entry["more_allowed"] == len(k.findings)
    assert len(entry["allowed"]) == 12


def test_at_most_twenty_problems_are_listed_and_the_rest_counted(service: InProcess) -> None:
    answer = service.post("/v1/diagnoses", {"visited": [f"nowhere_{n}" for n in range(25)]})
    listed = refused(answer, 422)
    assert 0 < len(listed) <= 20
    assert f"{25 - len(listed)} more problems are not listed" in answer.json["detail"]


@pytest.mark.parametrize("value", ["x" * 81, "\x07bell", "\ud800", "line\nbreak", "\u202egnol"])
def test_a_value_that_is_long_or_not_printable_is_not_repeated(value: str) -> None:
    written = problems.details(problems.INVALID_INPUT, "No.", [Problem("field", "is wrong", value)])
    assert "value" not in json.loads(written)["problems"][0]


def test_a_field_and_a_message_are_cut_and_made_printable() -> None:
    written = problems.details(
        problems.INVALID_INPUT, "No.", [Problem("f\ud800" * 500, "\x1b" * 5000, allowed=("\udfff",))]
    )
    (entry,) = json.loads(written)["problems"]
    assert len(entry["field"]) == 120
    assert len(entry["message"]) == 300
    assert (entry["field"] + entry["message"] + entry["allowed"][0]).replace("…", "").isprintable()


def test_a_document_never_grows_past_its_limit() -> None:
    wide = Problem("\N{GRINNING FACE}" * 120, "\N{GRINNING FACE}" * 300, allowed=("\N{GRINNING FACE}" * 80,) * 12)
    written = problems.details(problems.INVALID_INPUT, "No.", [wide] * 1000)
    assert len(written) <= problems.MOST_BYTES
    assert "more problems are not listed" in json.loads(written)["detail"]


def test_our_own_fault_is_told_without_its_cause(k: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("secret")

    monkeypatch.setattr(routes, "diagnose_posted", broken)
    service = InProcess(create_app(k))
    answer = service.ask("POST", "/v1/diagnoses", b"{}", JSON)
    service.close()
    assert refused(answer, 500) == []
    assert b"secret" not in answer.body


def test_a_body_that_never_arrives_is_given_up(service: InProcess, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("carbdiag_api.intake.LONGEST_S", 0.01)
    answer = service.ask("POST", "/v1/diagnoses", None, JSON)
    assert refused(answer, 408) == []
    assert answer.headers["connection"] == "close"
