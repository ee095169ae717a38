"""The base of all records and answers: a frozen model, and how to build one from values that need no check."""

from __future__ import annotations

from typing import Any, Self

from pydantic import BaseModel, ConfigDict


class Frozen(BaseModel):
    """Base of all records: immutable, unknown fields refused."""

    __slots__ = ("_json",)  # what `kept_json.keep` has written; a copy does not take it along
    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True, allow_inf_nan=False)

    @classmethod
    def trusted(cls, **values: Any) -> Self:
        """Build from values the library computed itself, without validating them again.

        Ten times as fast as pydantic's own unvalidated constructor; a test validates whole answers afterwards. Defaults
        of fields are built so too: calling a model would build its validator while its module is imported.
        """
        defaults, every = _fields.get(cls) or _fields_of(cls)
        self = _new(cls)
        # what was left out stands where its field stands, so that JSON keeps one order
        _put_values(self, values if len(values) == len(defaults) else {**defaults, **values})
        # one set for all: nothing changes a frozen model's, and a copy takes its own
        _put_set(self, every)
        _put_extra(self, None)
        _put_private(self, None)
        return self


#: Of each model built so: the defaults of its fields, and their names.
_fields: dict[type[Frozen], tuple[dict[str, Any], set[str]]] = {}


def _fields_of(cls: type[Frozen]) -> tuple[dict[str, Any], set[str]]:
    defaults = {name: field.get_default() for name, field in cls.model_fields.items()}
    return _fields.setdefault(cls, (defaults, set(defaults)))


# the slots of a pydantic model, written without looking them up by name each time
_new = object.__new__
_put_values, _put_set, _put_extra, _put_private = (
    BaseModel.__dict__[slot].__set__
    for slot in ("__dict__", "__pydantic_fields_set__", "__pydantic_extra__", "__pydantic_private__")
)
