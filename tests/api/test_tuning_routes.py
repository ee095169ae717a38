"""The addresses of the metering physics: the same answers as the library, refusals as problem documents."""

from __future__ import annotations

import json
from typing import Any

import pytest
from carbdiag_api.openapi import examples

from carbdiag import Knowledge, tuning
from carbdiag.tuning_schema import AirInput, CorrectionRequest, ResizeRequest, SweepRequest
from tests.api.service import JSON, InProcess

OPERATIONS = ("compute_air", "resize_machine", "size_correction", "sweep_throttle")
ADDRESSES = {name: examples()[name]["path"] for name in OPERATIONS}
REQUESTS: dict[str, Any] = {name: examples()[name]["request"] for name in OPERATIONS}


def test_the_addresses_are_the_four_of_the_design() -> None:
    assert list(ADDRESSES.values()) == ["/v1/air-states", "/v1/resizes", "/v1/corrections", "/v1/sweeps"]


def test_every_answer_is_the_one_the_library_gives(service: InProcess, k: Knowledge) -> None:
    asked = REQUESTS
    given = {
        "compute_air": tuning.air_state(AirInput.model_validate(asked["compute_air"])),
        "resize_machine": tuning.resize(ResizeRequest.model_validate(asked["resize_machine"]), k),
        "size_correction": tuning.correct(CorrectionRequest.model_validate(asked["size_correction"]), k),
        "sweep_throttle": tuning.sweep(SweepRequest.model_validate(asked["sweep_throttle"]), k),
    }
    for name, expected in given.items():
        answer = service.post(ADDRESSES[name], asked[name])
        assert (answer.status, answer.headers["cache-control"]) == (200, "no-store")
        assert answer.json == json.loads(expected.model_dump_json(by_alias=True))


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_answer_is_honest_about_what_it_is_worth(service: InProcess, name: str) -> None:
    answer = service.post(ADDRESSES[name], REQUESTS[name]).json
    assert len(answer["honesty"]) > 60
    if name != "compute_air":
        assert answer["cautions"]
        assert answer["edition"]


@pytest.mark.parametrize("name", OPERATIONS)
def test_they_take_post_and_nothing_else(service: InProcess, name: str) -> None:
    address = ADDRESSES[name]
    assert service.ask("OPTIONS", address).headers["allow"] == "OPTIONS, POST"
    assert service.get(address).status == 405
    assert service.ask("PUT", address).headers["allow"] == "OPTIONS, POST"


MACHINE = {"family": "round_slide", "parts": {"main_jet": {"number": 160, "numbering": "bore"}}}
AIR = {"elevation_m": 0, "temperature_c": 20}
REFUSED: dict[str, tuple[str, Any, str, str]] = {
    "ambient of 90 C": ("/v1/air-states", AIR | {"temperature_c": 90}, "temperature_c", "from -45 to 60 C"),
    "humidity of 1.2": ("/v1/air-states", AIR | {"humidity_percent": 1.2}, "humidity_percent", "50, not 0.5"),
    "negative pressure": (
        "/v1/air-states",
        {"temperature_c": 20, "station_hpa": -1},
        "station_hpa",
        "from 400 to 1100 hPa",
    ),
    "two pressures": ("/v1/air-states", AIR | {"station_hpa": 900, "qnh_hpa": 1000}, "", "not both"),
    "nested air": (
        "/v1/resizes",
        {"machine": MACHINE, "set": AIR, "now": AIR | {"elevation_m": 9000}},
        "now.elevation_m",
        "from -500 to 6000 m",
    ),
    "unknown field": ("/v1/resizes", {"machine": MACHINE, "set": AIR, "then": AIR}, "then", "unknown field"),
    "unknown family": (
        "/v1/resizes",
        {"machine": {"family": "round_slid"}, "set": AIR, "now": AIR},
        "machine.family",
        "unknown family",
    ),
    "groove beyond the needle": (
        "/v1/corrections",
        {"machine": {"family": "round_slide", "parts": {"clip_groove": 7}}, "at": "half", "mixture": "lean"},
        "machine.parts.clip_groove",
        "from 1 to 5",
    ),
    "not an opening": (
        "/v1/corrections",
        {"machine": MACHINE, "at": "parked", "mixture": "lean"},
        "at",
        "not a steady throttle opening",
    ),
    "a chance above one": (
        "/v1/corrections",
        {"machine": MACHINE, "at": "full", "mixture": "rich", "p_lean_full": 1.2},
        "p_lean_full",
        "must be from 0 to 1",
    ),
    "mixed numbering": (
        "/v1/sweeps",
        {"machine": MACHINE, "after": {"parts": {"main_jet": {"number": 300, "numbering": "flow"}}}},
        "after.parts.main_jet",
        "cannot be compared",
    ),
    "too many points": ("/v1/sweeps", {"machine": MACHINE, "points": 100_000}, "points", "to 201"),
}


@pytest.mark.parametrize("name", list(REFUSED))
def test_a_refusal_names_the_field_and_what_is_allowed(service: InProcess, name: str) -> None:
    address, body, field, says = REFUSED[name]
    answer = service.post(address, body)
    assert answer.status == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert any(p["field"] == field and says in p["message"] for p in answer.json["problems"])


@pytest.mark.parametrize("name", OPERATIONS)
@pytest.mark.parametrize("body", [b"[]", b"null", b"3", b'{"machine": [[[]]]}', b"{}"])
def test_what_is_no_request_is_refused_and_not_our_fault(service: InProcess, name: str, body: bytes) -> None:
    answer = service.ask("POST", ADDRESSES[name], body, JSON)
    assert answer.status == 422
    assert answer.json["problems"]


def test_a_rich_main_is_not_leaned_while_lean_is_possible(service: InProcess) -> None:
    asked = {"machine": MACHINE, "at": "full", "mixture": "rich"}
    unknown = service.post("/v1/corrections", asked).json
    known = service.post("/v1/corrections", asked | {"p_lean_full": 0.01, "p_lean_three_quarter": 0.01}).json
    assert unknown["direction"] == "none"
    assert unknown["proposed"] is None
    assert "lean already" in unknown["refused"]
    assert (known["direction"], known["refused"]) == ("leaner", None)
    assert known["proposed"] < 160
