"""A post as it is sent to be read, alone or beside a case, and what is sent back."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from carbdiag.case_schema import Case
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.field_types import LanguageCode
from carbdiag.frozen import Frozen
from carbdiag.reading_schema import TextReading

PostText = Annotated[str, Field(description="The post as it was written, at most 48 kB of UTF-8.")]


class PostedText(Frozen):
    """A post to read."""

    text: PostText
    language: LanguageCode = Field(default="en", description="Code of the language it is written in.")


class PostedCase(Case):
    """A case, or a post to read into one, or both; what the case states itself counts before what is read."""

    text: PostText | None = None
    language: LanguageCode = Field(
        default="en", description="Code of the language of the text; left out over HTTP, that of the answer."
    )


class ReadingWithCase(TextReading):
    """A reading, and the case it makes: to put right, and to send to a diagnosis or a walk."""

    case: Case


class ReadDiagnosis(Diagnosis):
    """A diagnosis with, where a post was read, what it was read as."""

    reading: TextReading | None = None
