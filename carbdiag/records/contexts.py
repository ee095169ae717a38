"""The circumstances: what happened before, and which causes it makes likelier."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from carbdiag.field_types import Id, LanguageCode, Text
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import PastDeed, Phrases, Spoken
from carbdiag.records.sources import Citation
from carbdiag.terms import Change, ContextWord, ProbabilityWord


class Context(Frozen):
    """A circumstance that moves priors."""

    id: Id
    name: Text
    ask: Text
    often: ProbabilityWord
    settled_by: tuple[Id, ...] = Field(
        default=(), description="Circumstances that answer this one when they hold, so that it is not asked."
    )
    told_by: tuple[Id, ...] = Field(
        default=(), description="Settings, repairs and checks that tell this one: one tried or answered answers it, "
        "so that it is not asked; a setting whose move brought the trouble on says that it holds."
    )
    moot_beside: tuple[Id, ...] = Field(
        default=(), description="Circumstances beside which nobody asks it, as they tell how the trouble began."
    )
    moot_after: tuple[Id, ...] = Field(
        default=(), description="Settings and repairs after which nobody asks it: whoever tried them has touched it."
    )
    void_beside: tuple[Id, ...] = Field(
        default=(), description="Circumstances beside which it says nothing, as it was told of the time before them."
    )
    told_by_move: dict[Id, Change] = Field(
        default={}, description="Settings moved that way, with nothing said of what it did, tell this one."
    )
    told_by_air: bool = Field(
        default=False, description="A case that states the air it was set for and the air now has answered it."
    )
    of_signs: bool = Field(
        default=False, description="It tells how the signs came: of signs that are over it says nothing now."
    )
    set_up: bool = Field(
        default=False, description="It changes what the engine needs, so that a setting moved beside it may only "
        "answer it: the trouble that follows is not put down to the setting."
    )
    groups: dict[Id, ContextWord] = Field(default={})
    phrases: Phrases = Field(default={})
    phrases_against: Phrases = Field(default={})
    deeds: dict[LanguageCode, tuple[PastDeed, ...]] = Field(default={})
    spoken: Spoken = Field(default={})
    weather: Literal["colder", "hotter"] | None = Field(
        default=None, description="Which way the weather turned, where the circumstance is that it did."
    )
    moved: Literal["up", "down"] | None = Field(
        default=None, description="It is a move to another height: of two heights in a post it tells which is now."
    )
    sources: tuple[Citation, ...] = Field(min_length=1)
