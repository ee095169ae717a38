"""How riders say it: words and phrases, and the deeds and verdicts that stand beside what they tell of."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, PlainSerializer, StringConstraints

from carbdiag.field_types import Id, LanguageCode
from carbdiag.frozen import Frozen

Word = Annotated[str, StringConstraints(min_length=1, max_length=60)]
Words = tuple[Word, ...]
#: Words without an order, written in one order all the same: the wheel's prepared phrases are known by what is written.
WordSet = Annotated[frozenset[str], PlainSerializer(sorted, return_type=list[str])]

Phrase = Annotated[str, StringConstraints(min_length=1, max_length=300, strip_whitespace=True)]
PhraseList = tuple[Phrase, ...]
#: How riders say it, by language; DEVELOPERS.md explains the small notation.
Phrases = dict[LanguageCode, tuple[Phrase, ...]]
#: Set expressions word for word, small words included, by language: `a|b` is either word.
Spoken = dict[LanguageCode, tuple[Phrase, ...]]
#: The same by outcome of a check, or by direction of a setting.
PhrasesBy = dict[LanguageCode, dict[Id, tuple[Phrase, ...]]]


class Deed(Frozen):
    """How riders name something done: kinds of verbs that the language lists, and the parts it was done to."""

    did: tuple[Id, ...] = Field(min_length=1)
    to: tuple[Phrase, ...] = Field(min_length=1)


class PastDeed(Deed):
    """A deed that is a circumstance: always, or only where the post says that it came before the trouble."""

    told: Literal["any", "before"] = "any"


#: By language.
Deeds = dict[LanguageCode, tuple[Deed, ...]]


class Found(Frozen):
    """How riders name what a look at a part gave: kinds of verdicts that the language lists, by outcome."""

    of: tuple[Phrase, ...] = Field(min_length=1)
    outcomes: dict[Id, tuple[Id, ...]] = Field(min_length=1)
