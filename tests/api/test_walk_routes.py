"""The walk over HTTP is the walk of the library, byte for byte."""

from __future__ import annotations

from typing import Any

from carbdiag_api.openapi import examples

from carbdiag import Knowledge
from carbdiag.walk_schema import WalkRequest
from carbdiag.walking import walk
from tests.api.service import InProcess
from tests.api.test_problems import refused


def start() -> dict[str, Any]:
    request: dict[str, Any] = examples()["walk_on"]["request"]
    return {"case": request["case"]}


def test_a_whole_walk_over_http_equals_the_library_byte_for_byte(service: InProcess, k: Knowledge) -> None:
    """The client sends back what it got, with an answer; the service remembers nothing."""
    request = start()
    for n in range(14):
        answer = service.post("/v1/walks", request)
        assert answer.status == 200
        expected = walk(WalkRequest.model_validate(request), k)
        assert answer.body == expected.model_dump_json(by_alias=True).encode()
        now = answer.json
        if not now["steps"]:
            break
        step = now["steps"][0]
        outcomes = [o["outcome"] for o in step["outcomes"]]
        told = {key: step[key] for key in ("kind", "id", "at", "direction")}
        request = {"case": now["case"], "answer": {**told, "outcome": outcomes[(n + 1) % len(outcomes)]}}
    assert n > 3


def test_words_beside_a_case_are_read_and_shown(service: InProcess) -> None:
    answer = service.post("/v1/walks", {**start(), "text": "now it surges at full throttle"})
    assert answer.status == 200
    assert [f["finding"] for f in answer.json["reading"]["findings"]] == ["surges"]
    now = (answer.json["case"]["epochs"] or [answer.json["case"]])[-1]
    assert {"finding": "surges", "at": ["full"]}.items() <= now["findings"][-1].items()


def test_the_same_request_gives_the_same_bytes(service: InProcess) -> None:
    first, again = (service.post("/v1/walks", start()).body for _ in range(2))
    assert first == again


def test_an_empty_request_is_a_walk_that_begins(service: InProcess) -> None:
    answer = service.post("/v1/walks", {})
    assert answer.status == 200
    assert answer.json["advice"]["kind"] == "ask"


def test_a_case_that_does_not_fit_is_a_problem_with_its_field(service: InProcess) -> None:
    case = {"findings": [{"finding": "bog"}], "machine": {"family": "rund_slide"}}
    found = refused(service.post("/v1/walks", {"case": case}), 422)
    assert {e["field"]: e["nearest"] for e in found} == {
        "case.machine.family": "round_slide",
        "case.findings[0].finding": "bogs",
    }


def test_an_answer_that_does_not_fit_is_a_problem_with_its_field(service: InProcess) -> None:
    wrong = {"kind": "check", "id": "touch_of_chok", "outcome": "better"}
    (error,) = refused(service.post("/v1/walks", {**start(), "answer": wrong}), 422)
    assert (error["field"], error["nearest"]) == ("answer.id", "touch_of_choke")
