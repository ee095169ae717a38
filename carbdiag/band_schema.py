"""The table of one kind of carburetor: which circuit, which way, at every opening and sign."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from carbdiag.field_types import Id, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.records.safety import CautionText
from carbdiag.terms import Direction


class BandRow(Frozen):
    """For one place and sign: the circuit in control, rich or lean, and the correction."""

    place: Id
    finding: Id
    sign: Text
    direction: Direction
    circuit: Id = Field(description="The circuit whose setting commands most of the fuel there.")
    share: Number = Field(description="The part of the fuel that it commands, from 0 to 1.")
    others: tuple[Id, ...] = Field(description="Circuits with at least a third as much.")
    part: Text = Field(description="The circuit in words.")
    correction: Text
    verify: Text
    put_back: Text
    cautions: tuple[Id, ...] = Field(default=(), description="Ids of `cautions` of the table.")
    sources: tuple[Id, ...] = ()


class BandTable(Frozen):
    """The chart of one family: at each throttle opening, each sign with its circuit, rich or lean, and the correction.

    A sign that occurs both ways has two rows. `cautions` belong to the corrections: show them too.
    """

    edition: Text
    family: Id
    strokes: Literal[2, 4]
    name: Text
    rows: tuple[BandRow, ...]
    cautions: tuple[CautionText, ...] = Field(default=(), description="The cautions of all rows, each once.")
    note: Text
