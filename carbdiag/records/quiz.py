"""The knowledge records that quizzes are made from: rules and wording of item kinds, unsafe steps, riders' words.

What an item *says is right* never stands here: it is computed from the other records.
"""

from __future__ import annotations

import re
from string import Formatter
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from carbdiag.errors import nearest
from carbdiag.field_types import Id, Number, Probability, Text
from carbdiag.frozen import Frozen
from carbdiag.records.applies import Applies
from carbdiag.records.sources import Citation

#: The kinds of item that code can make; the wording and the rules of each stand in quiz.yaml.
ItemKind = Literal[
    "which_circuit",
    "rich_or_lean",
    "likely_cause",
    "best_check",
    "rules_out",
    "correct_it",
    "order_steps",
    "look_alikes",
    "size_it",
    "unsafe_step",
    "scenario",
]

#: What a template may ask for in braces.
SLOTS = (
    "machine", "complaint", "place", "cause", "other", "signs", "list", "jet", "numbering", "from_m", "from_c",
    "to_m", "to_c", "finding",
)  # fmt: skip


def _slots_are_known(text: str) -> str:
    try:
        names = [name for _, name, _, _ in Formatter().parse(text) if name is not None]
    except ValueError as error:
        raise ValueError(f"braces do not match: {error}") from None
    for name in names:
        if name not in SLOTS:
            near = nearest(name, SLOTS)
            hint = f"; did you mean {{{near}}}?" if near else f"; allowed: {', '.join(SLOTS)}"
            raise ValueError(f"unknown slot {{{name}}}{hint}")
    return text


Template = Annotated[Text, AfterValidator(_slots_are_known)]


def _place_stands_apart(text: str) -> str:
    if stuck := re.search(r"\w+\{place\}|\{place\}\w+", text):
        raise ValueError(f"{{place}} wants a blank beside it, or it sticks to the word: {stuck[0]}")
    return text


Words = Annotated[Template, AfterValidator(_place_stands_apart)]


class QuizSkill(Frozen):
    """What a kind of item trains, and what to study when it is missed."""

    id: Id
    name: Text
    study: Text


class QuizKind(Frozen):
    """Rules and wording of one kind of item.

    `ratio`: the key must be at least this many times as well supported as every other option, or the item is thrown
    away. `weight`: its share of a mixed quiz. `base_difficulty`: how hard the kind is by itself, a judgment.
    """

    id: ItemKind
    name: Text
    skill: Id
    weight: Annotated[Number, Field(ge=0)]
    ratio: Annotated[Number, Field(gt=1)]
    base_difficulty: Probability
    stems: tuple[Template, ...] = Field(min_length=1)
    asks: tuple[Template, ...] = Field(min_length=1)
    explains: Template


class QuizDifficulty(Frozen):
    """How a difficulty from 0 to 1 is put together, and where easy ends and hard begins. The weights sum to 1."""

    base_weight: Probability
    margin_weight: Probability
    rarity_weight: Probability
    margin_scale: Annotated[Number, Field(gt=0)]
    rarity_scale: Annotated[Number, Field(gt=0)]
    easy_below: Probability
    hard_from: Probability

    @model_validator(mode="after")
    def _sums_to_one(self) -> Self:
        if abs(self.base_weight + self.margin_weight + self.rarity_weight - 1) > 1e-9:
            raise ValueError("base_weight, margin_weight and rarity_weight must sum to 1")
        if self.easy_below >= self.hard_from:
            raise ValueError("easy_below must be less than hard_from")
        return self


class MixtureWords(Frozen):
    """The three answers to `rich or lean?`."""

    rich: Text
    lean: Text
    right: Text


class QuizRules(Frozen):
    """Everything about quizzes that a trainer would want to edit."""

    options: Annotated[int, Field(ge=3, le=6)]
    tries: Annotated[int, Field(ge=1, le=1000)]
    near_duplicate: Probability
    top_cause_at_least: Probability
    too_telling: Annotated[Number, Field(gt=1)]
    may_speak_against: Annotated[Number, Field(ge=1)]
    same_key_per_ten: Annotated[int, Field(ge=1)]
    scenario_checks: Annotated[int, Field(ge=1, le=4)]
    pass_from: Probability
    difficulty: QuizDifficulty
    cannot_tell: Text
    next_check: Text
    name_fault: Text
    mixture_words: MixtureWords
    place_words: dict[Id, Text]
    no_fault: tuple[Id, ...] = ()
    not_together: tuple[tuple[Id, ...], ...] = ()
    skills: tuple[QuizSkill, ...]
    kinds: tuple[QuizKind, ...]

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        skills = {s.id for s in self.skills}
        for kind in self.kinds:
            if kind.skill not in skills:
                raise ValueError(f"kinds.{kind.id}: unknown skill {kind.skill!r}; allowed: {', '.join(sorted(skills))}")
        for name in ("skills", "kinds"):
            ids = [r.id for r in getattr(self, name)]
            if len(ids) != len(set(ids)):
                raise ValueError(f"{name}: an id is taken twice")
        return self


class UnsafeStep(Frozen):
    """Something nobody must do, the safe way instead, and the caution it breaks."""

    id: Id
    unsafe: Text
    instead: Text
    why: Text
    caution: Id
    applies: Applies = Applies.trusted()
    sources: tuple[Citation, ...] = Field(min_length=1)


class RidersWords(Frozen):
    """How a rider tells of a finding, and of its absence; `{place}` is where. `id` is the finding."""

    id: Id
    told: Words
    denied: Words
