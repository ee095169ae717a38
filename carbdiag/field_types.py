"""What the fields of records and answers hold: ids, texts, and numbers that are neither text nor infinite."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints

Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{1,59}$")]
LanguageCode = Annotated[str, StringConstraints(pattern=r"^[a-z]{2,3}$")]
Text = Annotated[str, StringConstraints(min_length=1, max_length=2000, strip_whitespace=True)]
ShortText = Annotated[str, StringConstraints(max_length=4000)]


def _refuse_bool_and_text(value: object) -> object:
    if isinstance(value, bool | str):
        raise ValueError("must be a number")
    return value


def _refuse_not_finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("must be a finite number")
    return value


Number = Annotated[float, BeforeValidator(_refuse_bool_and_text), AfterValidator(_refuse_not_finite)]
Whole = Annotated[int, BeforeValidator(_refuse_bool_and_text)]
Probability = Annotated[float, Field(ge=0, le=1)]
