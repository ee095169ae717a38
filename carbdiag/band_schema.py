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
    circuit: Id
    share: Number
    others: tuple[Id, ...]
    part: Text
    correction: Text
    verify: Text
    put_back: Text
    cautions: tuple[Id, ...] = Field(default=(), description="Ids of `cautions` of the table.")
    sources: tuple[Id, ...] = ()


class BandTable(Frozen):
    """The explicit view of one family: throttle band and sign to circuit, direction and correction."""

    edition: Text
    family: Id
    strokes: Literal[2, 4]
    name: Text
    rows: tuple[BandRow, ...]
    cautions: tuple[CautionText, ...] = Field(default=(), description="The cautions of all rows, each once.")
    note: Text
