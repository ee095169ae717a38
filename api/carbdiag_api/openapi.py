"""The OpenAPI document, and the examples in it.

`python -m carbdiag_api.openapi` writes both anew: `examples.json` beside this file from the demonstration case, then
docs/openapi.json. CI compares them; run it after any change of the knowledge or of a model.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel

from carbdiag import (
    Case,
    CaseError,
    Knowledge,
    __version__,
    diagnose,
    grade_quiz,
    json_schema,
    load_case,
    make_quiz,
    tuning,
)
from carbdiag.answers import render
from carbdiag.posted_schema import PostedCase
from carbdiag.quiz_schema import AnswerSheet, Blueprint
from carbdiag.strict_yaml import parse_yaml
from carbdiag.tuning_schema import AirInput, CorrectionRequest, ResizeRequest, SweepRequest
from carbdiag.walk_schema import WalkRequest
from carbdiag.walking import walk
from carbdiag_api import catalogue, problems, quiz_routes, reading_routes, rendered, tuning_routes, walk_routes

TITLE: Final = "carbdiag"
SUMMARY: Final = "From what a carbureted engine does to likely causes, the next best check, and a correction."
DESCRIPTION: Final = (
    "State what the engine does at some throttle opening; the answer ranks the causes with reasons, names the cheapest"
    " check that tells them apart, and sizes the correction. Percentages are degrees of belief, not success rates."
    " Follow the machine's manual, the cautions and local law first.\n\nEvery error is a problem document (RFC 9457)."
    " Every path answers OPTIONS, and HEAD wherever it answers GET."
)
TAGS: Final[list[dict[str, Any]]] = [
    {"name": "diagnosis", "description": "From a case to causes, checks and corrections."},
    {
        "name": "tuning",
        "description": "The metering physics: air, jets for other air, a correction with its size, a sweep.",
    },
    {"name": "quizzes", "description": "Quizzes that teach, made from the knowledge, and their grading."},
    {"name": "knowledge", "description": "The records that answers come from; they change with the edition only."},
    {"name": "service", "description": "The service itself."},
]
_EXAMPLES: Final = Path(__file__).parent / "examples.json"
_CHECKOUT: Final = Path(__file__).parents[2]
_LISTED = 3
_REFERENCE = "#/components/schemas/"

Json = dict[str, Any]


def document(app: FastAPI, shown: Json) -> Json:
    """The OpenAPI document of the service, with these examples."""
    out = get_openapi(
        title=app.title,
        summary=app.summary,
        description=app.description,
        version=app.version,
        openapi_version=app.openapi_version,
        license_info=app.license_info,
        tags=app.openapi_tags,
        servers=app.servers,
        routes=app.routes,
    )
    out["security"] = []
    components = out["components"]["schemas"]
    own = (*tuning_routes.REQUESTS, *walk_routes.REQUESTS, *quiz_routes.REQUESTS, *reading_routes.REQUESTS)
    requests: tuple[type[BaseModel], ...] = (*own, PostedCase)
    for model in requests:
        components.update(_schemas(model))
    components.update(_case_schemas())
    components["ProblemDetails"] = _referring(problems.ProblemDetails.model_json_schema(mode="serialization"))
    components["FieldProblem"] = components["ProblemDetails"].pop("$defs")["FieldProblem"]
    for path in out["paths"].values():
        for operation in path.values():
            if "application/json" in operation["responses"].get("422", {}).get("content", {}):
                del operation["responses"]["422"]  # FastAPI's own, for a header that takes any text
            _add_examples(operation, shown)
    for unused in ("HTTPValidationError", "ValidationError"):
        components.pop(unused, None)
    named = json_schema.name_limits(out)
    return {**named, "components": {"schemas": dict(sorted(named["components"]["schemas"].items()))}}


def _case_schemas() -> Json:
    case = _referring(json_schema.schemas()["case.json"])
    case.pop("$schema")
    return {**case.pop("$defs"), "Case": case}


def _schemas(model: type[BaseModel]) -> Json:
    """The JSON Schemas of a request and of all that it holds, by name."""
    found = model.model_json_schema(ref_template=_REFERENCE + "{model}")
    return {**found.pop("$defs", {}), model.__name__: found}


def _referring(node: Any) -> Any:
    """A JSON Schema whose references point at the components of the document."""
    if isinstance(node, dict):
        return {
            key: value.replace("#/$defs/", _REFERENCE) if key == "$ref" else _referring(value)
            for key, value in node.items()
        }
    return [_referring(item) for item in node] if isinstance(node, list) else node


def _add_examples(operation: Json, shown: Json) -> None:
    real = shown[operation["operationId"]]
    if "request" in real:
        operation["requestBody"]["content"]["application/json"]["examples"] = {
            "invented": {"summary": real["summary"], "value": real["request"]}
        }
    for status, answer in operation["responses"].items():
        for media_type, content in answer.get("content", {}).items():
            if media_type == problems.MEDIA_TYPE:
                content["examples"] = {"problem": {"value": shown["problems"][status]}}
            else:
                value = real["response"] if media_type == "application/json" else real["pages"][media_type]
                content["examples"] = {"real": {"summary": real["summary"], "value": value}}


# ---------------------------------------------------------------------------------------------------------
# Examples


def examples() -> Json:
    """Operation id -> a request with its real answer; `problems`: status -> a problem document."""
    loaded: Json = json.loads(_EXAMPLES.read_text(encoding="utf-8"))
    return loaded


def make_examples(knowledge: Knowledge, demo: Case) -> Json:
    """The examples, computed from the demonstration case."""
    shortened = f"The first {_LISTED} of the list."
    asked = demo.model_dump(mode="json", by_alias=True, exclude_unset=True)
    return {
        "diagnose_case": {
            "summary": "An invented case: no such machine and no such school exist.",
            "path": "/v1/diagnoses?steps=2",
            "request": asked,
            "response": _plain(diagnose(demo, knowledge, steps=2)),
            "pages": {
                rendered.MEDIA_TYPES[markup]: render(diagnose(demo, knowledge, steps=2), markup)
                for markup in ("text", "markdown", "html")
            },
        },
        "read_post": _reading_example(knowledge),
        "show_bands": {
            "summary": shortened,
            "path": "/v1/bands/round_slide?strokes=2",
            "response": _cut(catalogue.bands(knowledge, "round_slide", 2), "rows"),
        },
        "show_knowledge": {
            "summary": "The knowledge as shipped.",
            "path": "/v1/knowledge",
            "response": _plain(catalogue.overview(knowledge)),
        },
        "list_records": {
            "summary": shortened,
            "path": "/v1/knowledge/circuits",
            "response": _cut(catalogue.records(knowledge, "circuits"), "records"),
        },
        "show_record": {
            "summary": "A circuit.",
            "path": "/v1/knowledge/circuits/main_jet",
            "response": _plain(catalogue.record(knowledge, "circuits", "main_jet")),
        },
        "explain_problem": {
            "summary": "What most errors are.",
            "path": "/v1/problems/invalid-input",
            "response": _plain(problems.INVALID_INPUT),
        },
        "check_health": {
            "summary": "Loaded and answering.",
            "path": "/health",
            "response": {"healthy": True, "edition": knowledge.edition, "version": __version__},
        },
        **_tuning_examples(knowledge),
        "walk_on": _walk_example(knowledge, asked),
        **_quiz_examples(knowledge),
        "problems": _problem_examples(knowledge),
    }


def _reading_example(knowledge: Knowledge) -> Json:
    post = (_CHECKOUT / "docs" / "examples" / "post.txt").read_text(encoding="utf-8")
    return {
        "summary": "An invented post.",
        "path": "/v1/readings",
        "request": {"text": post},
        "response": _plain(reading_routes.read_with_case(post, knowledge)),
    }


def _tuning_examples(knowledge: Knowledge) -> Json:
    """The examples of docs/examples, all of an invented machine."""

    def asked(name: str) -> Any:
        return parse_yaml((_CHECKOUT / "docs" / "examples" / f"{name}.yaml").read_text(encoding="utf-8"))

    air = {"elevation_m": 600, "qnh_hpa": 1021, "temperature_c": 12, "humidity_percent": 80}
    resize, correct, sweep = asked("resize"), asked("correct"), asked("sweep")
    swept = _cut(tuning.sweep(SweepRequest.model_validate(sweep), knowledge), "rows")
    told = "An invented machine."
    return {
        "compute_air": {
            "summary": "A cool damp morning, from a forecast pressure.",
            "path": "/v1/air-states",
            "request": air,
            "response": _plain(tuning.air_state(AirInput.model_validate(air))),
        },
        "resize_machine": {
            "summary": told,
            "path": "/v1/resizes",
            "request": resize,
            "response": _plain(tuning.resize(ResizeRequest.model_validate(resize), knowledge)),
        },
        "size_correction": {
            "summary": told,
            "path": "/v1/corrections",
            "request": correct,
            "response": _plain(tuning.correct(CorrectionRequest.model_validate(correct), knowledge)),
        },
        "sweep_throttle": {
            "summary": f"{told} The first {_LISTED} rows.",
            "path": "/v1/sweeps",
            "request": sweep,
            "response": swept,
        },
    }


def _walk_example(knowledge: Knowledge, case: Json) -> Json:
    told = {"kind": "check", "id": "air_filter_look", "outcome": "free_flow_type"}
    asked = {"case": case, "answer": told, "steps": 1}
    return {
        "summary": "The demonstration case, one step on.",
        "path": "/v1/walks",
        "request": asked,
        "response": _plain(walk(WalkRequest.model_validate(asked), knowledge)),
    }


def _quiz_examples(knowledge: Knowledge) -> Json:
    wish: Json = {"items": 2, "strokes": 2, "kinds": ["which_circuit", "unsafe_step"]}
    quiz = make_quiz(Blueprint.model_validate(wish), 7, knowledge)
    answers = {key.id: key.answer[0] for key in quiz.keys[:1]}
    asked: Json = {"blueprint": wish, "seed": 7, "sheets": [{"student": "Ann", "answers": answers}]}
    grade = grade_quiz(quiz, AnswerSheet(student="Ann", answers=answers), knowledge)
    return {
        "make_a_quiz": {
            "summary": "Two items for open use.",
            "path": "/v1/quizzes",
            "request": {"blueprint": wish, "seed": 7},
            "response": _plain(quiz_routes.QuizAnswer(quiz=quiz.student_view(), seed=7)),
        },
        "grade_a_quiz": {
            "summary": "One of two answered.",
            "path": "/v1/quizzes/grade",
            "request": asked,
            "response": _plain(
                quiz_routes.GradeAnswer(edition=quiz.edition, quiz_id=quiz.quiz_id, grades=(grade,))
            ),
        },
    }


def _problem_examples(knowledge: Knowledge) -> Json:
    out = {str(kind.status): json.loads(problems.details(kind, kind.meaning)) for kind in problems.KINDS.values()}
    try:
        diagnose(Case.model_validate({"findings": [{"finding": "bogss", "at": "half"}]}), knowledge)
    except CaseError as error:
        refused = problems.details(problems.INVALID_INPUT, "It does not fit what is known here.", error.problems)
        out["422"] = json.loads(refused)
    return out


def _plain(model: BaseModel) -> Json:
    return model.model_dump(mode="json", by_alias=True)


def _cut(model: BaseModel, field: str) -> Json:
    whole = _plain(model)
    return {**whole, field: whole[field][:_LISTED]}


def _text(content: Mapping[str, Any]) -> str:
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


def pages() -> dict[Path, str]:
    """Each generated file of the checkout and its text."""
    from carbdiag_api.app import create_app  # noqa: PLC0415  the application imports this module

    demo = load_case((_CHECKOUT / "knowledge" / "cases" / "demo.yaml").read_text(encoding="utf-8"))
    made = make_examples(Knowledge.load(), demo)
    described = document(create_app(), made)
    return {_EXAMPLES: _text(made), _CHECKOUT / "docs" / "openapi.json": _text(described)}


def write() -> None:
    """Write the generated files."""
    for file, text in pages().items():
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write()
