"""JSON joined from pieces that are written once: most of an answer is the words of records, and those never change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pydantic import BaseModel
from pydantic_core import PydanticSerializationError, to_json

#: Stands in a shell for a piece that is written already.
HOLE = "\x00 kept"
_HOLE_IN_JSON = '"\\u0000 kept"'


def keep(model: BaseModel) -> str:
    """The JSON of a frozen model that has room for it (a slot `_json`), written on first use."""
    try:
        text: str = object.__getattribute__(model, "_json")
    except AttributeError:
        text = BaseModel.model_dump_json(model)
        object.__setattr__(model, "_json", text)
    return text


def keep_all(models: Iterable[BaseModel]) -> str:
    """The same of several as an array."""
    return f"[{','.join([keep(m) for m in models])}]"


def join(shell: object, pieces: Sequence[str]) -> str | None:
    """JSON of a shell with its holes filled by the pieces, in order; None where a text of its own looks like a hole."""
    parts = _written(shell).decode().split(_HOLE_IN_JSON)
    if len(parts) != len(pieces) + 1:
        return None
    out = parts[:1]
    for piece, part in zip(pieces, parts[1:], strict=True):
        out += piece, part
    return "".join(out)


def _written(shell: object) -> bytes:
    """JSON of anything; before pydantic 2.14 a model whose build was deferred is not built by being written."""
    try:
        return to_json(shell)
    except PydanticSerializationError:
        _build(shell)
        return to_json(shell)


def _build(shell: object) -> None:
    if isinstance(shell, BaseModel):
        type(shell).model_rebuild()
        shell = shell.__dict__
    if isinstance(shell, dict):
        shell = tuple(shell.values())
    if isinstance(shell, tuple | list):
        for part in shell:
            _build(part)
