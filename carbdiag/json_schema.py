"""JSON Schemas (2020-12) of knowledge files, case and diagnosis, for editors and other programs.

`python -m carbdiag.json_schema [FOLDER]` writes them into docs/schema. They say the shape; whether ids
exist, and the rest of what loading checks, only loading says.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, cast

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode, JsonSchemaValue
from pydantic_core import core_schema

from carbdiag.case_schema import Case
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.knowledge_files import record_kinds

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

#: Short forms that a case may use: the function that widens them, by name, and what it takes besides.
_SHORT_FORMS: Final[dict[str, JsonSchemaValue]] = {
    "_one_or_many": {"type": "string", "description": "One, without a list."},
    "_context_short": {"type": "string", "description": "The id alone: it is so."},
}


class _Generate(GenerateJsonSchema):
    """Say what is taken, short forms included, and leave out titles that only repeat a field's name."""

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> JsonSchemaValue:
        full = super().function_before_schema(schema)
        function = cast(Callable[..., object], schema["function"]["function"])
        short = _SHORT_FORMS.get(function.__name__)
        return full if short is None or self.mode == "serialization" else {"anyOf": [full, short]}

    def field_title_should_be_set(self, schema: object) -> bool:
        return False


#: Limits that pydantic leaves under its own names where a function stands before the number.
_LIMITS: Final = {
    "ge": "minimum",
    "gt": "exclusiveMinimum",
    "le": "maximum",
    "lt": "exclusiveMaximum",
}


def name_limits(node: Any) -> Any:
    """Limits by their JSON Schema names, where pydantic leaves its own."""
    if isinstance(node, list):
        return [name_limits(item) for item in node]
    if not isinstance(node, dict):
        return node
    return {
        (_LIMITS.get(key, key) if isinstance(value, int | float) else key): name_limits(value)
        for key, value in node.items()
    }


def schemas() -> dict[str, JsonSchemaValue]:
    """File name -> JSON Schema, for each kind of knowledge file, `case.json` and `diagnosis.json`."""
    out = {
        f"{Path(kind).stem}.json": _schema(model, is_list=is_list) for kind, (model, is_list) in record_kinds().items()
    }
    out["case.json"] = _schema(Case)
    out["diagnosis.json"] = _schema(Diagnosis, mode="serialization")
    return dict(sorted(out.items()))


def _schema(model: type[BaseModel], *, is_list: bool = False, mode: JsonSchemaMode = "validation") -> JsonSchemaValue:
    raw = model.model_json_schema(mode=mode, schema_generator=_Generate)
    one: JsonSchemaValue = name_limits(raw)
    if not is_list:
        return {"$schema": DIALECT, **one}
    definitions = one.pop("$defs", {})
    return {
        "$schema": DIALECT,
        "title": f"List of {model.__name__}",
        "type": "array",
        "items": {"$ref": f"#/$defs/{model.__name__}"},
        "$defs": {**definitions, model.__name__: one},
    }


def pages() -> dict[str, str]:
    """File name -> text of each file of docs/schema."""
    return {name: json.dumps(content, indent=2, ensure_ascii=False) + "\n" for name, content in schemas().items()}


def write(folder: Path) -> None:
    """Write every schema into a folder and remove those that no kind has any more."""
    folder.mkdir(parents=True, exist_ok=True)
    fresh = pages()
    for old in folder.glob("*.json"):
        if old.name not in fresh:
            old.unlink()
    for name, text in fresh.items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent.parent / "docs" / "schema")
