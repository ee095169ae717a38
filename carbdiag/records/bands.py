"""The places where something is seen: the throttle openings, and the situations that are none."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from carbdiag.field_types import Id, Number, Probability, Text
from carbdiag.frozen import Frozen


class Place(Frozen):
    """A steady throttle opening (band) or a situation that is not one (state)."""

    id: Id
    kind: Literal["band", "state"]
    name: Text
    opening: tuple[Probability, Probability, Probability] | None = None
    lambda_wanted: Number | None = None
    running: bool = False
    in_chart: bool = True
    drivers: dict[Id, Probability] = Field(default={})
    implies_visited: tuple[Id, ...] = ()

    @model_validator(mode="after")
    def _kind_fits(self) -> Self:
        if (self.kind == "band") != (self.opening is not None and self.lambda_wanted is not None):
            raise ValueError("a band has an opening and a lambda_wanted, a state has drivers")
        return self
