"""A post over HTTP: what it is read as, and the case to go on with."""

from __future__ import annotations

import pytest

from carbdiag import Case, Knowledge, case_of, read_text
from carbdiag.reading_schema import TextReading
from tests.api.service import InProcess

POST = "My two stroke single bogs at half throttle since I fitted a freer exhaust. I cleaned the carb, no difference."


def test_the_answer_is_the_reading_of_the_library_and_the_case_it_makes(
    service: InProcess, k: Knowledge
) -> None:
    answer = service.post("/v1/readings", {"text": POST})
    assert answer.status == 200
    reading = read_text(POST, k)
    said = answer.json
    case = said.pop("case")
    assert TextReading.model_validate(said) == reading
    assert Case.model_validate(case) == case_of(reading)


@pytest.mark.parametrize(
    ("language", "says"), [("EN", "must be a code of two or three small letters"), ("fr", "unknown language 'fr'")]
)
def test_a_language_that_is_none_is_told_in_words(service: InProcess, language: str, says: str) -> None:
    (problem,) = service.post("/v1/readings", {"text": POST, "language": language}).json["problems"]
    assert (problem["field"], problem["message"]) == ("language", says)


def test_the_case_of_a_post_can_be_diagnosed_and_walked_as_it_is(service: InProcess) -> None:
    case = service.post("/v1/readings", {"text": POST}).json["case"]
    by_case = service.post("/v1/diagnoses", case).json
    by_text = service.post("/v1/diagnoses", {"text": POST}).json
    assert [c["id"] for c in by_case["causes"]] == [c["id"] for c in by_text["causes"]]
    walked = service.post("/v1/walks", {"case": case})
    assert walked.status == 200
    assert walked.json["steps"]


def test_a_text_that_does_not_say_its_language_is_read_in_that_of_the_answer(service: InProcess) -> None:
    """A forum in Spanish sends Spanish posts: it used to be told that nothing was observed."""
    post = {"text": "La moto se ahoga a medio gas y la bujía sale blanca."}

    def read(query: str, body: dict[str, str]) -> set[str]:
        found = service.post(f"/v1/diagnoses{query}", body).json["reading"]["findings"]
        return {f["finding"] for f in found}

    assert read("?language=es", post) == {"bogs", "plug_white"}
    assert read("", post | {"language": "es"}) == {"bogs", "plug_white"}
    assert read("?language=en", post | {"language": "es"}) == {"bogs", "plug_white"}
    assert read("", post) == set()
