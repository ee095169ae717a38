"""Where knowledge comes from: the sources, what a record cites of them, and the edition of the whole set."""

from __future__ import annotations

import re
from typing import Literal, Self

from pydantic import Field, model_validator

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

    @model_validator(mode="after")
    def _published_somewhere(self) -> Self:
        if self.kind == "published" and self.url is None and not re.search(r"\bpage \d", self.title):
            raise ValueError("a published source has its url or, where it is on paper only, the page in its title")
        return self


class Citation(Frozen):
    """Where a record, or the named part of it, comes from."""

    source: Id
    supports: Text = Field(
        description="Fields of the record, or lines of them (`shows`, `shows.bogs, fixed_by`), then perhaps a remark"
        " after a colon."
    )
