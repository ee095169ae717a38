"""The files of the languages of answers, read and not yet put together; what is broken in them is told at once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel, Field, TypeAdapter, ValidationError

from carbdiag.errors import Mistake, nearest
from carbdiag.field_problems import field_problems, with_line, without_followers
from carbdiag.field_types import Id, Text
from carbdiag.frozen import Frozen
from carbdiag.knowledge import Knowledge
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml

RecordText = str | tuple[str, ...]

#: Kind of record -> the mapping that holds it, and the fields that an answer shows.
SHOWN: Final[Mapping[str, tuple[str, tuple[str, ...]]]] = {
    "actions": ("actions", ("name", "steps", "verify", "put_back")),
    "bands": ("places", ("name",)),
    "causes": ("causes", ("name", "summary", "verify", "workshop")),
    "cautions": ("cautions", ("text", "short")),
    "checks": ("checks", ("name", "do")),
    "circuits": ("circuits", ("name", "step", "richer.do", "leaner.do", "verify", "put_back")),
    "contexts": ("contexts", ("name", "ask")),
    "families": ("families", ("name", "what")),
    "findings": ("findings", ("name", "ask")),
    "groups": ("groups", ("name",)),
    "safety": ("holds", ("name", "why")),
    "uses": ("uses", ("name",)),
}

#: What varies in a template or a sentence.
SLOT: Final = re.compile(r"\{(\w+)\}")
_RECORDS: Final[TypeAdapter[dict[str, dict[str, Any]]]] = TypeAdapter(dict[Id, dict[str, Any]])


class Sentence(Frozen):
    """A sentence that the library composes itself, in English and in the language; {x} stands for what varies."""

    en: Text
    to: Text


class Templates(Frozen):
    """The templates of one language."""

    name: Text
    words: dict[Id, Text]
    tools: dict[Text, Text] = Field(default={})
    sentences: tuple[Sentence, ...] = ()


def templates_of(folder: Path) -> list[Path]:
    """The files of templates in a folder of knowledge, one a language."""
    return sorted((folder / "languages" / "answers").glob("*.yaml"))


def _read(folder: Path, file: Path, mistakes: list[Mistake]) -> object:
    try:
        return parse_yaml(file.read_bytes().decode("utf-8"))
    except UnicodeDecodeError:
        mistakes.append(Mistake(_name(folder, file), "file", "must be UTF-8"))
    except YamlRefusedError as error:
        mistakes.append(Mistake(_name(folder, file), "file", error.rule, error.found, line=error.line))
    return None


def _name(folder: Path, file: Path) -> str:
    return str(file.relative_to(folder))


def read_templates(folder: Path, code: str, mistakes: list[Mistake]) -> Templates | None:
    """The templates of a language; None, with the mistakes added, where they are broken."""
    file = folder / "languages" / "answers" / f"{code}.yaml"
    data = _read(folder, file, mistakes)
    if data is None:
        return None
    try:
        return Templates.model_validate(data)
    except ValidationError as error:
        mistakes.extend(_refused(error, file, _name(folder, file), Templates))
        return None


def _refused(
    error: ValidationError, file: Path, name: str, model: type[BaseModel] | None = None
) -> Iterator[Mistake]:
    text = file.read_text(encoding="utf-8")
    for p in without_followers(field_problems(error.errors(include_url=False), model, "file")):
        yield with_line(Mistake(name, p.field, p.message, p.value, p.nearest, allowed=p.allowed), text)


_Found = dict[tuple[str, str, str], tuple[Any, str]]


def record_texts(folder: Path, code: str, mistakes: list[Mistake]) -> _Found:
    """What the records say in a language: (kind, id, field) -> (text or list of texts, file).

    What is broken is left out and added to the mistakes.
    """
    out: _Found = {}
    for file in sorted((folder / "languages" / code).rglob("*.yaml")):
        name = _name(folder, file)
        kind = file.relative_to(folder / "languages" / code).with_suffix("").parts[0]
        if kind not in SHOWN:
            mistakes.append(Mistake(name, "file", "unknown kind of record", kind, nearest(kind, SHOWN)))
            continue
        data = _read(folder, file, mistakes)
        if data is None:
            continue
        try:
            records = _RECORDS.validate_python(data)
        except ValidationError as error:
            mistakes.extend(_refused(error, file, name))
            continue
        for identity, fields in records.items():
            for field, value in _flat(fields):
                if not _is_text(value):
                    mistakes.append(Mistake(name, f"{identity}.{field}", "must be a text, or a list of texts"))
                elif (kind, identity, field) in out:
                    mistakes.append(Mistake(name, f"{identity}.{field}", "is translated already", identity))
                else:
                    out[kind, identity, field] = (value, name)
    return out


def _is_text(value: object) -> bool:
    if isinstance(value, list):
        return all(isinstance(v, str) and v.strip() for v in value)
    return isinstance(value, str) and bool(value.strip())


def _flat(fields: Mapping[str, Any], head: str = "") -> Iterator[tuple[str, Any]]:
    for name, value in fields.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{head}{name}.")
        else:
            yield f"{head}{name}", value


def shown_texts(k: Knowledge) -> Iterator[tuple[tuple[str, str, str], RecordText]]:
    """Every text that an answer can show: (kind, id, field) -> English."""
    for kind, (attribute, fields) in SHOWN.items():
        for identity, record in getattr(k, attribute).items():
            for field in fields:
                value: Any = record
                for step in field.split("."):
                    value = getattr(value, step)
                if value:
                    yield (kind, identity, field), value
    for check in k.checks.values():
        for outcome, record in check.outcomes.items():
            yield ("checks", check.id, f"outcomes.{outcome}.name"), outcome.replace("_", " ")
            yield ("checks", check.id, f"outcomes.{outcome}.means"), record.means
