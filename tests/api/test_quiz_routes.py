"""The addresses of quizzes: students get no key, a pass grades without anything stored, refusals name the field."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from carbdiag_api.app import create_app
from carbdiag_api.quiz_routes import SECRET_SETTING, QuizAnswer

from carbdiag import Knowledge, make_quiz
from carbdiag.quiz_schema import Blueprint
from tests.api.service import InProcess

SECRET = "a secret of the tests, long enough to be one"
WISH = {"items": 4, "strokes": 2}


@pytest.fixture(scope="module")
def graded(k: Knowledge) -> Iterator[InProcess]:
    """A service with a secret."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(SECRET_SETTING, SECRET)
        running = InProcess(create_app(k))
    yield running
    running.close()


def test_an_open_quiz_is_the_one_the_library_makes(service: InProcess, k: Knowledge) -> None:
    made = service.post("/v1/quizzes", {"blueprint": WISH, "seed": 7})
    assert (made.status, made.headers["cache-control"]) == (200, "no-store")
    quiz = make_quiz(Blueprint.model_validate(WISH), 7, k)
    assert made.json["quiz"] == json.loads(quiz.student_view().model_dump_json())
    assert made.json["seed"] == 7
    assert made.json["keys"] is None


def test_a_student_answer_holds_nothing_of_the_key(service: InProcess, k: Knowledge) -> None:
    body = service.post("/v1/quizzes", {"blueprint": WISH, "seed": 7}).body.decode()
    for key in make_quiz(Blueprint.model_validate(WISH), 7, k).keys:
        assert key.explanation not in body
        assert all(o.feedback not in body for o in key.options)
    for word in ("credit", "feedback", "explanation", "difficulty", "tags", '"answer"'):
        assert word not in body


def test_the_trainer_may_ask_for_the_key(service: InProcess) -> None:
    made = service.post("/v1/quizzes", {"blueprint": WISH, "seed": 7, "with_key": True})
    assert QuizAnswer.model_validate_json(made.body).keys is not None


def test_without_a_seed_one_is_drawn_and_told(service: InProcess) -> None:
    made = service.post("/v1/quizzes", {"blueprint": WISH}).json
    again = service.post("/v1/quizzes", {"blueprint": WISH, "seed": made["seed"]}).json
    assert again["quiz"] == made["quiz"]


def test_open_answers_are_graded_by_blueprint_and_seed(service: InProcess) -> None:
    made = service.post("/v1/quizzes", {"blueprint": WISH, "seed": 7, "with_key": True}).json
    choices = {x["id"]: x["answer"][0] for x in made["keys"] if len(x["answer"]) == 1}
    asked = {"blueprint": WISH, "seed": 7, "quiz_id": made["quiz"]["quiz_id"]}
    sheets = [{"student": "Ann", "answers": choices}, {"student": "Bo", "answers": {}}]
    found = service.post("/v1/quizzes/grade", {**asked, "sheets": sheets, "analyze": True})
    assert found.status == 200
    ann, bo = found.json["grades"]
    assert {g["id"] for g in ann["by_item"] if g["credit"] == 1} >= {
        x["id"] for x in made["keys"] if x["id"] in choices and not x["hidden"]
    }
    assert bo["points"] == 0
    assert found.json["statistics"]["sheets"] == 2


def test_a_graded_quiz_is_graded_by_its_pass_alone(graded: InProcess) -> None:
    made = graded.post("/v1/quizzes", {"blueprint": WISH, "graded": True, "with_key": True}).json
    assert made["seed"] is None
    key = next(x for x in made["keys"] if len(x["answer"]) == 1 and not x["hidden"])
    sheet = {"answers": {key["id"]: key["answer"][0]}}
    found = graded.post("/v1/quizzes/grade", {"grading_pass": made["grading_pass"], "sheets": [sheet]})
    assert found.status == 200
    assert found.json["quiz_id"] == made["quiz"]["quiz_id"]
    assert found.json["grades"][0]["points"] == 1


def test_two_graded_quizzes_of_one_blueprint_differ(graded: InProcess) -> None:
    ids = {graded.post("/v1/quizzes", {"blueprint": WISH, "graded": True}).json["quiz"]["quiz_id"] for _ in range(3)}
    assert len(ids) == 3


def test_how_much_of_the_key_comes_back_is_the_clients_choice(graded: InProcess) -> None:
    made = graded.post("/v1/quizzes", {"blueprint": WISH, "graded": True, "with_key": True}).json
    key = next(x for x in made["keys"] if len(x["answer"]) == 1 and not x["hidden"])
    asked = {"grading_pass": made["grading_pass"], "sheets": [{"answers": {key["id"]: key["answer"][0]}}]}
    for tell, told in (("all", len(made["keys"])), ("answered", 1), ("points", 0)):
        found = graded.post("/v1/quizzes/grade", {**asked, "tell": tell}).body.decode()
        assert sum(json.dumps(x["explanation"], ensure_ascii=False)[1:-1] in found for x in made["keys"]) == told


def test_without_a_secret_graded_use_is_refused_with_the_setting_named(service: InProcess) -> None:
    for address, body in (
        ("/v1/quizzes", {"blueprint": WISH, "graded": True}),
        ("/v1/quizzes/grade", {"grading_pass": "x", "sheets": [{"answers": {}}]}),
    ):
        refused = service.post(address, body)
        assert refused.status == 501
        assert SECRET_SETTING in refused.json["detail"]
        assert "32 characters" in refused.json["detail"]


@pytest.mark.parametrize(
    ("address", "body", "field", "says"),
    [
        ("/v1/quizzes", {"blueprint": {"items": 51}}, "blueprint.items", "at most 50"),
        ("/v1/quizzes", {"blueprint": {"items": 0}}, "blueprint.items", "must be from 1 to"),
        ("/v1/quizzes", {"graded": True, "seed": 3}, "", "takes no seed"),
        ("/v1/quizzes", {"blueprint": {"items": 50, "kinds": ["unsafe_step"]}}, "blueprint.items", "Nearest possible"),
        (
            "/v1/quizzes",
            {"blueprint": {"at_least": [{"tags": ["saftey"], "items": 1}]}},
            "blueprint.at_least[0].tags[0]",
            "unknown tag",
        ),
        ("/v1/quizzes", {"blueprint": {"families": ["round_slid"]}}, "blueprint.families[0]", "unknown family"),
        ("/v1/quizzes/grade", {"sheets": [{"answers": {}}]}, "", "either grading_pass, or blueprint and seed"),
        ("/v1/quizzes/grade", {"blueprint": WISH, "seed": 7, "sheets": []}, "sheets", "at least 1"),
        (
            "/v1/quizzes/grade",
            {"blueprint": WISH, "seed": 7, "sheets": [{"answers": {"q99": "A"}}]},
            "sheets[0].answers.q99",
            "no such item",
        ),
        (
            "/v1/quizzes/grade",
            {"blueprint": WISH, "seed": 7, "quiz_id": "old", "sheets": [{"answers": {}}]},
            "edition",
            "has changed since",
        ),
    ],
)
def test_a_refusal_names_the_field(service: InProcess, address: str, body: object, field: str, says: str) -> None:
    refused = service.post(address, body)
    assert refused.status == 422
    assert any(p["field"] == field and says in p["message"] for p in refused.json["problems"]), refused.json


def test_a_forged_pass_is_refused(graded: InProcess) -> None:
    refused = graded.post("/v1/quizzes/grade", {"grading_pass": "e30.e30", "sheets": [{"answers": {}}]})
    assert refused.status == 422
    assert "not one that this service issued" in refused.json["problems"][0]["message"]


@pytest.mark.parametrize("address", ["/v1/quizzes", "/v1/quizzes/grade"])
def test_they_take_post_and_nothing_else(service: InProcess, address: str) -> None:
    assert service.ask("OPTIONS", address).headers["allow"] == "OPTIONS, POST"
    assert service.get(address).status == 405
