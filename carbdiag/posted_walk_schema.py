"""A step of a walk with what the rider says in his own words, and what is sent back."""

from __future__ import annotations

from pydantic import Field

from carbdiag.field_types import LanguageCode
from carbdiag.posted_schema import PostText
from carbdiag.reading_schema import TextReading
from carbdiag.walk_schema import Walk, WalkRequest


class PostedWalk(WalkRequest):
    """A case, the answer to one of its steps if there is one, and what the machine does now in the rider's words."""

    text: PostText | None = Field(
        default=None, description="What it does now, as the rider says it; read into the case after the answer."
    )
    language: LanguageCode = Field(default="en", description="Code of the language of the text.")


class ReadWalk(Walk):
    """The next steps with, where a text was sent, what it was read as: show it, so that it can be put right."""

    reading: TextReading | None = None
