"""What a model refuses, said for people: the field, the value, what is allowed, the nearest, where else it belongs.

The command, the service and the loader of knowledge all say it with these words.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from enum import EnumType
from typing import Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from carbdiag.errors import Mistake, Problem, nearest
from carbdiag.strict_yaml import YamlRefusedError, line_of

Way = tuple[int | str, ...]

_UNKNOWN_FIELD: Final = "unknown field"
_IS_MISSING: Final = "is missing"
_TOO_FEW: Final = "must have at least"
_NOT_A_SET: Final = ("model_type", "dict_type", "mapping_type", "model_attributes_type")
_NOT_A_LIST: Final = ("tuple_type", "list_type")
_SAID: Final = {
    "string_type": "must be text",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "finite_number": "must be a finite number",
    "int_from_float": "must be a whole number",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_parsing_size": "must be a whole number",
    "float_type": "must be a number",
}
#: Patterns in words; one not among these is shown as it is.
_FORMS: Final = {
    "^[a-z][a-z0-9_]{1,59}$": "an id of 2 to 60 small letters, digits and _, a letter first",
    "^[a-z]{2,3}$": "a code of two or three small letters",
}
_LIMITS: Final = {"ge": "at least", "gt": "more than", "le": "at most", "lt": "less than"}
_LONGEST_VALUE, _LONGEST_NAME = 80, 60


def field_problems(
    details: Iterable[Mapping[str, Any]], model: type[BaseModel] | None, whole: str = ""
) -> tuple[Problem, ...]:
    """Pydantic's errors as problems.

    Args:
        details: the errors, as `ValidationError.errors()` lists them.
        model: what was to be read; with it, unknown fields are told what is allowed there and where they belong.
        whole: what to call the whole, where it is wrong in itself.
    """
    return tuple(_problem(detail, model, whole) for detail in details)


def without_followers(problems: Iterable[Problem]) -> Iterator[Problem]:
    """The problems without those that only follow from others that are told too.

    A field is missing because its name is misspelled; a list has too few entries because one is refused.
    """
    told = tuple(problems)
    misspelled = {
        ".".join(filter(None, (p.field.rpartition(".")[0], p.nearest)))
        for p in told
        if p.nearest and p.message.startswith(_UNKNOWN_FIELD)
    }
    lists = {p.field.partition("[")[0] for p in told if "[" in p.field}  # each shorter for the entry that is refused
    return (
        p for p in told
        if not (p.message == _IS_MISSING and p.field in misspelled)
        and not (p.message.startswith(_TOO_FEW) and p.field in lists)
    )  # fmt: skip


def refused_yaml(error: YamlRefusedError, whole: str) -> Problem:
    """A text that is no YAML as a problem; its field is the line."""
    return Problem(f"line {error.line}" if error.line else whole, error.rule, error.found)


def path_of(way: Iterable[int | str]) -> str:
    """Steps as a path like `findings[0].at`; a name longer than any of ours is cut."""
    named = (s for s in way if s != "[key]")
    return "".join(f"[{s}]" if isinstance(s, int) else f".{_name(s)}" for s in named).removeprefix(".")


def way_of(path: str) -> Iterator[int | str]:
    """The steps of a path.

    >>> list(way_of("[2].shows[0].at"))
    [2, 'shows', 0, 'at']
    """
    for index, name in re.findall(r"\[(\d+)\]|([^.\[\]]+)", path):
        yield int(index) if index else name


def with_line(mistake: Mistake, text: str) -> Mistake:
    """The mistake with the line of its field in the text of its file, or of the nearest thing around it."""
    return mistake if mistake.line else replace(mistake, line=line_of(text, way_of(mistake.field)) or 1)


def _name(step: str) -> str:
    return step if len(step) <= _LONGEST_NAME else step[: _LONGEST_NAME - 1] + "…"


def _problem(detail: Mapping[str, Any], model: type[BaseModel] | None, whole: str) -> Problem:
    way: Way = tuple(detail["loc"])
    value, kind, limits = _short(detail.get("input")), detail["type"], detail.get("ctx", {})
    allowed: tuple[str, ...] = ()
    if kind == "extra_forbidden":
        value, allowed = _short(way[-1]), _fields_beside(way, model)
        message = f"{_UNKNOWN_FIELD}{_home_of(value, model)}"
    elif kind == "missing":
        value, message, allowed = "", _IS_MISSING, _choices(_field_at(way, model))
    elif kind in ("enum", "literal_error"):
        expected = re.sub(r"\bor\b", " ", str(limits["expected"]))
        allowed, message = tuple(re.findall(r"[\w.-]+", expected)), "unknown value"
        if isinstance(detail.get("input"), str) and "'" not in expected:
            message = f"must be a number{_why_no_number(value)}"
    elif kind in _NOT_A_SET:
        allowed, message = _fields_beside((*way, ""), model), "must be a set of fields"
        if isinstance(detail.get("input"), list):
            message += ", not a list"
    elif kind in _NOT_A_LIST:
        message = "must be a list"
    elif kind == "string_pattern_mismatch":
        message = f"must be {_FORMS.get(limits['pattern'], limits['pattern'])}"
    elif kind in ("string_too_long", "string_too_short"):
        most = limits.get("max_length")
        message = f"may have at most {most} characters" if most else "must not be empty"
    elif kind in ("too_long", "too_short"):
        most = limits.get("max_length")
        count = f"at most {most}" if most else f"at least {limits['min_length']}"
        message = f"must have {count} {'entry' if count.endswith(' 1') else 'entries'}, has {limits['actual_length']}"
    elif limits.keys() & _LIMITS.keys():
        message = f"must be {_range(way, model) or _limit(limits)}"
    else:
        said = _SAID.get(kind) or str(detail["msg"]).removeprefix("Value error, ").replace("Input should be", "must be")
        message = said[:1].lower() + said[1:]
        if message == "must be text" and isinstance(detail.get("input"), list):
            message += ", not a list"
        if message == "must be a number" and isinstance(detail.get("input"), str):
            message += _why_no_number(value)
    return Problem(path_of(way) or whole, message, value, allowed, nearest(value, allowed) if value else "")


def _why_no_number(text: str) -> str:
    """What to change in a text that was meant as a number."""
    number = re.fullmatch(r"\s*[-+]?\d+(?P<comma>,\d+)?(?:\.\d+)?(?P<rest>.*)", text)
    if number is None:
        return ""
    if number["comma"]:
        return " with a decimal point"
    return ", without a unit" if number["rest"].strip() else ", without quotes"


def _short(value: object) -> str:
    """A value worth repeating: a word or a number, and not what holds others."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str) or (isinstance(value, int | float) and math.isfinite(value)):
        text = str(value)
        return text if len(text) <= _LONGEST_VALUE else ""
    return ""


def _limit(limits: Mapping[str, Any]) -> str:
    return next(f"{said} {limits[name]:g}" for name, said in _LIMITS.items() if name in limits)


def _range(way: Way, model: type[BaseModel] | None) -> str:
    """Both limits of a number, where it has two that it may reach."""
    field = _field_at(way, model)
    found = {} if field is None else _limits_in(field)
    return f"from {found['ge']:g} to {found['le']:g}" if {"ge", "le"} <= found.keys() else ""


def _field_at(way: Way, model: type[BaseModel] | None) -> FieldInfo | None:
    """The field that a way ends at, or whose entry."""
    named = [n for n, step in enumerate(way) if isinstance(step, str) and step != "[key]"]
    if not named or model is None:
        return None
    last = named[-1]
    return _fields(_models_on(way[:last], model)[-1:]).get(str(way[last]))


def _choices(annotated: Any) -> tuple[str, ...]:
    """The words that a field takes, where it takes only some."""
    kind = annotated.annotation if isinstance(annotated, FieldInfo) else annotated
    if isinstance(kind, EnumType):
        return tuple(str(member.value) for member in kind)
    if get_origin(kind) is Literal:
        return tuple(map(str, get_args(kind)))
    return tuple(word for inner in get_args(kind) for word in _choices(inner))


def _limits_in(annotated: Any) -> dict[str, float]:
    metadata = annotated.metadata if isinstance(annotated, FieldInfo) else getattr(annotated, "__metadata__", ())
    out = {n: getattr(m, n) for m in metadata for n in ("ge", "le") if getattr(m, n, None) is not None}
    for m in metadata:
        out |= _limits_in(m) if isinstance(m, FieldInfo) else {}
    inside = (annotated.annotation,) if isinstance(annotated, FieldInfo) else get_args(annotated)
    for inner in inside:
        if not isinstance(inner, FieldInfo):
            out |= _limits_in(inner)
    return out


def _fields(models: Iterable[type[BaseModel]]) -> dict[str, FieldInfo]:
    """The fields of models by the name they have in a file."""
    return {info.alias or name: info for model in models for name, info in model.model_fields.items()}


def _models_on(way: Iterable[int | str], model: type[BaseModel]) -> list[type[BaseModel]]:
    """The models that a way leads through, from the whole on; empty where it leads to something that is none."""
    on = [model]
    for step in way:
        field = _fields(on[-1:]).get(step) if isinstance(step, str) else None
        if field is not None:
            inner = next(iter(_models_in(field.annotation)), None)
            if inner is None:
                return []
            on.append(inner)
    return on


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)


def _fields_beside(way: Way, model: type[BaseModel] | None) -> tuple[str, ...]:
    """The fields that are allowed where a way ends."""
    return () if model is None else tuple(_fields(_models_on(way[:-1], model)[-1:]))


def _home_of(name: str, model: type[BaseModel] | None) -> str:
    """Where a field of this name belongs, if the whole has it anywhere."""
    homes = [] if model is None else [path for path in _paths(model, "", ()) if path.split(".")[-1] == name]
    return f"; it belongs at {' or '.join(homes[:3])}" if homes else ""


def _paths(model: type[BaseModel], head: str, above: tuple[type[BaseModel], ...]) -> Iterator[str]:
    for name, field in _fields([model]).items():
        yield f"{head}{name}"
        for inner in _models_in(field.annotation):
            if inner not in (*above, model):
                many = "[]" if _is_list(field.annotation) else ""
                yield from _paths(inner, f"{head}{name}{many}.", (*above, model))


def _is_list(annotation: Any) -> bool:
    return getattr(annotation, "__origin__", None) in (tuple, list) or any(map(_is_list, get_args(annotation)))
