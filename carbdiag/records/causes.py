"""What can be wrong: how a cause moves the mixture, what it shows, and what cures it."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from carbdiag.field_types import Id, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.records.applies import Applies
from carbdiag.records.sources import Citation
from carbdiag.terms import ContextWord, PriorWord, ProbabilityWord, ShiftWord, SizeWord


class Group(Frozen):
    """A group of causes; every cause has exactly one."""

    id: Id
    name: Text
    what: Text
    unlisted: bool = Field(
        default=True, description="Whether a fault of this kind that nobody wrote down is reckoned with."
    )


_AMOUNT = re.compile(r"^(?P<size>[+-]\d+(?:\.\d+)?) (?P<unit>%|steps?)$")


class Amount(Frozen):
    """How far a circuit is off: percent of its flow, or practical steps of its setting; + is richer."""

    size: Number
    unit: Literal["percent", "steps"]

    @classmethod
    @lru_cache(maxsize=256)
    def parse(cls, text: str) -> Amount:
        """Read an amount as knowledge files write it.

        >>> Amount.parse("-25 %")
        Amount(size=-25.0, unit='percent')
        """
        match = _AMOUNT.match(text)
        if match is None:
            raise ValueError("an amount is like '-25 %' or '+1 step'")
        if match["unit"] == "%" and float(match["size"]) < -100:
            raise ValueError("an amount takes at most all of the flow (-100 %)")
        return cls(size=float(match["size"]), unit="percent" if match["unit"] == "%" else "steps")


def _is_an_amount(text: str) -> str:
    Amount.parse(text)
    return text


class Shift(Frozen):
    """A mixture shift past the metering, by place."""

    any: dict[Id, ShiftWord] | None = None
    two_stroke: dict[Id, ShiftWord] | None = None
    four_stroke: dict[Id, ShiftWord] | None = None


class MixtureEffect(Frozen):
    """How a cause moves the mixture: through a circuit by amounts, or past the metering by a shift."""

    circuit: Id | None = None
    amounts: dict[Annotated[str, AfterValidator(_is_an_amount)], ProbabilityWord] = Field(default={})
    shift: Shift | None = None
    sizes: dict[SizeWord, ProbabilityWord] = Field(default={})

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        if (self.circuit is None) == (self.shift is None):
            raise ValueError("give either circuit with amounts, or shift with sizes")
        if self.circuit is not None and (not self.amounts or self.sizes):
            raise ValueError("a circuit needs amounts, and no sizes")
        if self.shift is not None and (not self.sizes or self.amounts):
            raise ValueError("a shift needs sizes, and no amounts")
        return self

    @property
    def is_setting(self) -> bool:
        """Whether a setting is off, counted in practical steps, and not a passage blocked or a shift past it."""
        return any("step" in amount for amount in self.amounts)


class Shows(Frozen):
    """A sign that a cause shows directly; without `at`, at every place of the finding, and on both strokes."""

    finding: Id
    at: tuple[Id, ...] = ()
    strokes: tuple[Literal[2, 4], ...] = ()
    often: ProbabilityWord


class ShowsInCheck(Frozen):
    """What a check gives when this is the cause."""

    check: Id
    outcome: Id
    often: ProbabilityWord


class FixedBy(Frozen):
    """An action that cures a cause, and how reliably."""

    do: Id
    works: ProbabilityWord


class MistakenFor(Frozen):
    """A near rival and what separates the two."""

    cause: Id
    told_apart_by: Id


class Cause(Frozen):
    """A setting that is off, or a fault."""

    id: Id
    name: Text
    group: Id
    summary: Text
    applies: Applies = Applies.trusted()
    mixture: MixtureEffect | None = None
    prior: PriorWord
    contexts: dict[Id, ContextWord] = Field(default={})
    shows: tuple[Shows, ...] = ()
    checks: tuple[ShowsInCheck, ...] = Field(min_length=1)
    fixed_by: tuple[FixedBy, ...] = Field(min_length=1)
    workshop: Text | None = None
    reach: Literal["own", "shared", "either"]
    air: Literal["thinner", "denser"] | None = None
    set_to_suit: tuple[Id, ...] = Field(
        default=(), description="Circumstances that say that the rider chose the parts behind it: they stay, and the "
        "setting is brought to them, where the trouble is, instead of `fixed_by`."
    )
    compensates: tuple[Id, ...] = ()
    mistaken_for: tuple[MistakenFor, ...] = Field(min_length=1)
    verify: Text
    cautions: tuple[Id, ...] = ()
    sources: tuple[Citation, ...] = Field(min_length=1)

    @property
    def setting(self) -> str | None:
        """The circuit whose setting is off, if that is the cause."""
        return self.mixture.circuit if self.mixture is not None and self.mixture.is_setting else None
