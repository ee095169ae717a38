"""What a person can do to put it right."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from carbdiag.field_types import Id, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import Deeds, Phrases
from carbdiag.records.sources import Citation


class Action(Frozen):
    """A repair, a cleaning or a change of setting."""

    id: Id
    name: Text
    circuits: tuple[Id, ...] = Field(
        default=(), description="Only on carburetors that have one of these circuits; left out, on any."
    )
    steps: tuple[Text, ...] = Field(min_length=1)
    minutes: Annotated[Number, Field(gt=0)]
    tools: tuple[Text, ...] = ()
    cautions: tuple[Id, ...] = ()
    proved_by: tuple[Id, ...] = Field(
        default=(), description="Checks of which a walk asks for one before this repair, whatever was asked before: "
        "nobody takes an engine apart on suspicion. The best one first.",
    )
    verify: Text
    put_back: Text
    reversible: bool
    phrases: Phrases = Field(default={})
    deeds: Deeds = Field(default={})
    sources: tuple[Citation, ...] = Field(min_length=1)
