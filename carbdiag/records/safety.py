"""What keeps a person and an engine whole: cautions, and the states of belief in which checks are held back."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from carbdiag.field_types import Id, Probability, Text
from carbdiag.frozen import Frozen
from carbdiag.records.sources import Citation

#: How far a machine may be used as it is: not even started; for checks only, standing; ridden or worked gently.
HowUsed = Literal["not_at_all", "standing_only", "gently"]
#: When the commands that size parts (resize, correct, sweep) give a caution.
SizingOccasion = Literal["correction", "several_changes", "lean_wide_open", "methanol", "other_air", "always"]


class Caution(Frozen):
    """A safety caution, shown beside every step that names it."""

    id: Id
    name: Text
    text: Text
    short: Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)] = Field(
        description="The caution in one short sentence that stands alone, for a chat message."
    )
    asked_while_off: bool = Field(
        default=False,
        description="Said with every question about a running engine while a hold wants the engine off.",
    )
    sizing: tuple[SizingOccasion, ...] = Field(
        default=(), description="When an answer that sizes parts gives it, beside the cautions of the part."
    )
    sources: tuple[Citation, ...] = Field(min_length=1)


class CautionText(Frozen):
    """A caution with its text, so that no renderer has to look it up."""

    id: Id
    text: Text
    short: Text | None = Field(default=None, description="The same in one short sentence.")


class Told(Frozen):
    """One of these signs or circumstances told, or one of these repairs made."""

    findings: tuple[Id, ...] = ()
    contexts: tuple[Id, ...] = ()
    repairs: tuple[Id, ...] = ()


class HoldCondition(Frozen):
    """When a hold is on: any of the keys given."""

    lean_at: tuple[Id, ...] = ()
    findings: tuple[Id, ...] = ()
    contexts: tuple[Id, ...] = ()
    together: tuple[Told, ...] = Field(
        default=(), description="What counts only together: one sign or circumstance of each was told."
    )
    uses: tuple[Id, ...] = ()
    outcomes: dict[Id, tuple[Id, ...]] = Field(
        default={}, description="By check: what came of it, the last time it was done."
    )
    causes: tuple[Id, ...] = ()
    more_than: Probability = 0.1


class Hold(Frozen):
    """A state of belief in which a check must not be proposed.

    `trials`: which changes of setting must not be proposed either; `wide`: those felt at wide openings; `leaner_wide`:
    leaner ones that reach wide openings.
    """

    id: Id
    name: Text
    why: Text
    when: HoldCondition
    trials: tuple[Literal["leaner", "leaner_wide", "wide", "all"], ...] = ()
    actions: tuple[Id, ...] = ()
    engine_off: bool = Field(default=False, description="Nothing that needs a running engine is proposed.")
    use: HowUsed | None = Field(
        default=None, description="How far the machine may be used while it is on; nothing said: it limits no use."
    )
    of_use_only: bool = Field(
        default=False, description="It holds back no check and no change, and is told only of whether it may be used."
    )
    lifted_by: dict[Id, tuple[Id, ...]] = Field(
        default={},
        description="Checks that a walk proposes before all else while a sign holds it, in their order, and what each "
        "must show: once all that fit the machine show it, the sign holds nothing any more.",
    )
    mended_by: Id | None = Field(
        default=None,
        description="The repair without which nothing else is repaired, once an outcome in `when` was seen; once made, "
        "what was told before it holds nothing any more.",
    )
    looks_first: tuple[Id, ...] = Field(
        default=(),
        description="Checks and questions that come before all else while it is on, in their order, as they tell where "
        "the danger comes from; they lift nothing.",
    )
    sources: tuple[Citation, ...] = Field(min_length=1)
