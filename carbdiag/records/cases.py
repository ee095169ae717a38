"""The worked cases: each a case of our own with its answer."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from carbdiag.case_schema import Case
from carbdiag.field_types import Id, Text


class WorkedCase(Case):
    """A case of our own with its answer: a test of the knowledge, an example, and stock for quizzes."""

    leads: Id = Field(description="The cause that must lead the diagnosis.")
    twin_of: Id | None = Field(
        default=None, description="The cause whose own case this one nearly is, until `turned_by` turns it."
    )
    turned_by: Text | None = None
    source: Literal["invented"]

    @model_validator(mode="after")
    def _twin_is_whole(self) -> Self:
        if (self.twin_of is None) != (self.turned_by is None):
            raise ValueError("a near-twin says both twin_of and turned_by")
        if self.twin_of == self.leads:
            raise ValueError("a near-twin is led by another cause than the one it is a twin of")
        return self

    @property
    def of(self) -> str:
        """The cause whose file it stands in."""
        return self.twin_of or self.leads
