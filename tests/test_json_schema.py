"""The JSON Schemas in docs/schema follow the models, and every knowledge file follows its schema."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from carbdiag import Diagnosis, diagnose, load_case
from carbdiag.json_schema import pages, schemas, write
from carbdiag.knowledge import default_folder
from carbdiag.knowledge_files import record_kinds
from carbdiag.strict_yaml import parse_yaml

DOCS = Path(__file__).parent.parent / "docs" / "schema"
#: The texts of answers in `languages` are no records; lint checks them.
FILES = sorted(
    file
    for f in default_folder().rglob("*.yaml")
    if not (file := str(f.relative_to(default_folder()))).startswith("languages/")
)


@pytest.fixture(scope="module")
def validators() -> dict[str, Draft202012Validator]:
    return {name: Draft202012Validator(content) for name, content in schemas().items()}


def schema_name(file: str) -> str:
    kind = file.split("/", maxsplit=1)[0]
    return "case.json" if file == "cases/demo.yaml" else f"{Path(kind).stem}.json"


def test_the_files_in_docs_are_what_the_models_give() -> None:
    on_disk = {f.name: f.read_text(encoding="utf-8") for f in DOCS.glob("*.json")}
    assert on_disk == pages(), "run: python -m carbdiag.json_schema"


def test_writing_removes_a_schema_whose_kind_is_gone(tmp_path: Path) -> None:
    (tmp_path / "sparks.json").write_text("{}")
    write(tmp_path)
    assert {f.name for f in tmp_path.iterdir()} == set(pages())


def test_every_kind_of_record_has_a_schema() -> None:
    assert set(schemas()) == {f"{Path(kind).stem}.json" for kind in record_kinds()} | {"case.json", "diagnosis.json"}


@pytest.mark.parametrize("name", sorted(schemas()))
def test_a_schema_is_itself_valid_and_says_its_dialect(name: str) -> None:
    content = schemas()[name]
    Draft202012Validator.check_schema(content)
    assert content["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("file", FILES)
def test_every_knowledge_file_fits_the_schema_its_first_line_names(
    file: str, validators: dict[str, Draft202012Validator]
) -> None:
    path = default_folder() / file
    text = path.read_text(encoding="utf-8")
    named = text.split("\n", 1)[0].removeprefix("# yaml-language-server: $schema=")
    assert (path.parent / named).resolve() == (DOCS / schema_name(file)).resolve()
    assert [e.message for e in validators[schema_name(file)].iter_errors(parse_yaml(text))] == []


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"id": "Pilot Jet"}, "does not match"),
        ({"prior": "mostly"}, "is not one of"),
        ({"mixtur": None}, "Additional properties"),
        ({"checks": []}, "non-empty"),
    ],
)
def test_a_cause_that_loading_refuses_is_refused_by_its_schema(
    change: dict[str, Any], why: str, validators: dict[str, Draft202012Validator]
) -> None:
    file = default_folder() / "causes" / "pilot_passage_blocked.yaml"
    record = {**parse_yaml(file.read_text(encoding="utf-8")), **change}  # type: ignore[dict-item]
    assert any(why in e.message for e in validators["causes.json"].iter_errors(record))


def test_a_case_may_use_the_short_forms(validators: dict[str, Draft202012Validator]) -> None:
    case = {
        "contexts": ["exhaust_changed", {"context": "stood_for_months", "status": "denied"}],
        "findings": [{"finding": "bogs", "at": "half"}, {"finding": "surges", "at": ["quarter", "half"]}],
    }
    load_case(json.dumps(case))
    assert list(validators["case.json"].iter_errors(case)) == []


@pytest.mark.parametrize("elevation", [-501, 6001, "300", True])
def test_a_case_keeps_the_limits_of_its_numbers(elevation: object, validators: dict[str, Draft202012Validator]) -> None:
    air = {"elevation_m": elevation, "temperature_c": 20}
    assert list(validators["case.json"].iter_errors({"air": {"set": air, "now": air}}))


def test_a_diagnosis_fits_its_schema(validators: dict[str, Draft202012Validator]) -> None:
    answer: Diagnosis = diagnose(load_case("{findings: [{finding: bogs, at: half}]}"), steps=2)
    out = answer.model_dump(mode="json", by_alias=True)
    assert [e.message for e in validators["diagnosis.json"].iter_errors(out)] == []
