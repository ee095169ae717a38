"""Where knowledge comes from: the sources, what a record cites of them, and the edition of the whole set."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from carbdiag.field_types import Id, Text
from carbdiag.frozen import Frozen


class KnowledgeInfo(Frozen):
    """Schema number and edition of a set of knowledge."""

    schema_number: int = Field(alias="schema")
    edition: Text
    title: Text


class Source(Frozen):
    """A published source, or one of the two honest forms for what has none."""

    id: Id
    kind: Literal["published", "common_practice", "from_memory"]
    title: Text
    url: Text | None = None


class Citation(Frozen):
    """Where a record, or the named part of it, comes from."""

    source: Id
    supports: Text = Field(
        description="Fields of the record, or lines of them (`shows`, `shows.bogs, fixed_by`), then perhaps a remark"
        " after a colon."
    )
