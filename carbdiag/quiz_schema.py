"""Frozen models of what goes into and comes out of `carbdiag.quiz`.

A quiz has two halves that are never mixed: `items`, what a student sees, and `keys`, what the trainer keeps. Tags and
difficulty belong to the key, for they would give answers away.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, StringConstraints, model_validator

from carbdiag.case_schema import Case
from carbdiag.field_types import Id, Number, Probability, Text, Whole
from carbdiag.frozen import Frozen
from carbdiag.records.quiz import ItemKind
from carbdiag.records.safety import CautionText

#: Raised whenever the same seed, blueprint and knowledge would give other items than before.
GENERATOR = 4

MOST_ITEMS = 200

DifficultyWord = Literal["easy", "medium", "hard"]
Tag = Annotated[str, StringConstraints(pattern=r"^[a-z_0-9]+(:[a-z_0-9]+)?$", max_length=80)]


def _one_or_many(value: object) -> object:
    return (value,) if isinstance(value, str) else value


Tags = Annotated[tuple[Tag, ...], BeforeValidator(_one_or_many), Field(min_length=1, max_length=40)]
Label = Annotated[str, StringConstraints(pattern=r"^[A-Z]$")]
ItemId = Annotated[str, StringConstraints(pattern=r"^q[0-9]{2,3}$")]

# ---------------------------------------------------------------------------------------------------------
# What is wanted


class Share(Frozen):
    """A part of the quiz, in percent of its items, about any of these tags; no other item is."""

    tags: Tags
    percent: Annotated[Number, Field(gt=0, le=100)]


class AtLeast(Frozen):
    """A least number of items about any of these tags."""

    tags: Tags
    items: Annotated[Whole, Field(ge=1, le=MOST_ITEMS)]


class Blueprint(Frozen):
    """What a quiz must hold.

    A tag is `circuit:needle`, `group:main_lean`, `band:half`, `family:round_slide`, `skill:safety` or
    `kind:size_it`; without the part before the colon it means any of them.
    """

    items: Annotated[Whole, Field(ge=1, le=MOST_ITEMS)] = 10
    families: tuple[Id, ...] = ()
    strokes: Literal[2, 4] | None = None
    difficulty: DifficultyWord | None = None
    kinds: tuple[ItemKind, ...] = ()
    shares: Annotated[tuple[Share, ...], Field(max_length=10)] = ()
    at_least: Annotated[tuple[AtLeast, ...], Field(max_length=10)] = ()


# ---------------------------------------------------------------------------------------------------------
# What a student sees


class OptionView(Frozen):
    """One answer to choose from, or one step to put in order."""

    label: Label
    text: Text


class ItemView(Frozen):
    """One question as a student sees it. Nothing in it depends on which answer is right but the words themselves."""

    id: ItemId
    kind: ItemKind
    answer_form: Literal["choice", "order", "number", "scenario"] = Field(
        description="choice: one label. order: all labels, first to last. number: a number. scenario: a label for"
        " every question so far; grading tells the result and the next question."
    )
    stem: Text
    ask: Text
    options: tuple[OptionView, ...] = ()
    unit: Text | None = None


class StudentQuiz(Frozen):
    """A quiz without its key."""

    edition: Text
    quiz_id: Text
    items: tuple[ItemView, ...]


# ---------------------------------------------------------------------------------------------------------
# What the trainer keeps


class SourceText(Frozen):
    """A source of what the key says."""

    id: Id
    title: Text
    url: Text | None = None


class OptionKey(Frozen):
    """What one option is worth and why."""

    label: Label
    credit: Probability
    feedback: Text
    sources: tuple[Id, ...] = ()


class NumberKey(Frozen):
    """Which numbers are right. The rest of `half_from` to `half_to` earns half: within what published rules span, or
    on the rich side, which does no harm.
    """

    value: Number
    low: Number
    high: Number
    half_from: Number
    half_to: Number
    unit: Text


class Hidden(Frozen):
    """The fault of a scenario and the complaint that it begins with."""

    cause: Id
    case: Case
    turn_seed: Text = Field(description="What the options of each turn are shuffled with; it tells nothing.")
    short_way: tuple[Id, ...] = Field(description="The checks that were best at each turn.")


class ItemKey(Frozen):
    """The answer to an item and all that explains it."""

    id: ItemId
    answer: tuple[Label, ...] = Field(description="The right label, or all labels in the right order.")
    options: tuple[OptionKey, ...] = ()
    number: NumberKey | None = None
    hidden: Hidden | None = None
    case: Case | None = Field(default=None, description="What the stem tells, as a case to diagnose, to look closer.")
    explanation: Text
    cautions: tuple[CautionText, ...] = ()
    sources: tuple[SourceText, ...]
    skill: Id
    tags: tuple[Tag, ...]
    difficulty: Probability
    difficulty_word: DifficultyWord
    support: Number | None = Field(
        default=None, description="How many times as well supported the key is as the best of the other options."
    )


class Quiz(Frozen):
    """A quiz with its key. `student_view` gives the half that may be handed out."""

    edition: Text
    generator: Whole = GENERATOR
    seed: str
    blueprint: Blueprint
    quiz_id: Text = Field(description="A digest of what students see; it says whether two quizzes are the same.")
    items: tuple[ItemView, ...]
    keys: tuple[ItemKey, ...]

    @model_validator(mode="after")
    def _halves_match(self) -> Self:
        if [i.id for i in self.items] != [k.id for k in self.keys]:
            raise ValueError("items and keys must have the same ids in the same order")
        return self

    def student_view(self) -> StudentQuiz:
        """The items alone: no key, no seed, no tags, no difficulty."""
        return StudentQuiz(edition=self.edition, quiz_id=self.quiz_id, items=self.items)


# ---------------------------------------------------------------------------------------------------------
# Answers and grades

Answer = str | float | tuple[str, ...] | None


class AnswerSheet(Frozen):
    """The answers of one student: item id to a label, a list of labels or a number; what is left out is unanswered."""

    student: Annotated[str, StringConstraints(max_length=200)] = ""
    answers: Annotated[dict[ItemId, Answer], Field(max_length=MOST_ITEMS)]


class Turn(Frozen):
    """One turn of a scenario: what was chosen, what it showed, and what is asked next."""

    chosen: Text
    shows: Text
    ask: Text | None = None
    options: tuple[OptionView, ...] = ()


class ItemGrade(Frozen):
    """What one answer earned, and what there is to learn from it."""

    id: ItemId
    skill: Id
    credit: Probability
    answered: bool
    finished: bool = True
    feedback: Text
    right_answer: Text
    explanation: Text
    cautions: tuple[CautionText, ...] = ()
    turns: tuple[Turn, ...] = ()


class SkillGrade(Frozen):
    """How one skill went."""

    skill: Id
    name: Text
    points: Number
    items: Whole
    share: Probability
    study: Text | None = None


class Grade(Frozen):
    """A graded sheet."""

    student: str
    edition: Text
    quiz_id: Text
    points: Number
    items: Whole
    share: Probability
    unanswered: Whole
    by_item: tuple[ItemGrade, ...]
    by_skill: tuple[SkillGrade, ...]
    study: tuple[Text, ...]


class OptionUse(Frozen):
    """How often an option was chosen, by all and by the strongest and weakest part of the class."""

    label: Label
    right: bool
    chosen: Whole
    share: Probability
    upper_share: Probability
    lower_share: Probability
    idle: bool = Field(description="A wrong option that almost nobody chose: it does no work.")


class ItemStatistics(Frozen):
    """How one item worked in a class."""

    id: ItemId
    kind: ItemKind
    facility: Probability = Field(description="Mean credit: 1 when everybody was right.")
    expected_difficulty: Probability
    discrimination: Number | None = Field(
        description="Correlation of the item's credit with the rest of the quiz; none when either does not vary."
    )
    upper_lower: Number | None = Field(description="Facility of the upper 27 % less that of the lower 27 %.")
    options: tuple[OptionUse, ...] = ()
    remarks: tuple[Text, ...] = ()


class QuizStatistics(Frozen):
    """How a quiz worked in a class."""

    quiz_id: Text
    sheets: Whole
    items: Whole
    mean_share: Probability
    sd_points: Number
    alpha: Number | None = Field(description="Cronbach's alpha; none when scores do not vary.")
    kr20: Number | None = Field(description="KR-20, where every item was scored 0 or 1; else none.")
    standard_error_points: Number | None
    by_item: tuple[ItemStatistics, ...]
    note: Text
