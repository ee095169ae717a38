"""The words of a language that say how a statement is meant: denied, guessed, planned, only looked for."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from carbdiag.field_types import Text
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import PhraseList, Words, WordSet


class Negation(Frozen):
    """Words that deny what follows, and what takes their force away."""

    words: Words = Field(min_length=1)
    not_before: Words = ()
    reach: int = Field(default=4, ge=1, le=12, description="How many words that count may stand between.")
    turned_by: Words = ()
    turned_words: Words = ()
    carried_by: Words = Field(default=(), description='Words that carry a denial on: "no misfire or bucking".')
    conditioned_by: Words = Field(
        default=(), description='Words after which a denial holds only so: "if I pull the choke it runs steady".'
    )
    doubled: Words = Field(default=(), description='Words that another denial does not undo: "can\'t hardly".')
    undone_by_another: WordSet = Field(
        default=frozenset(), description='Behind another denial, they deny nothing: "can\'t open it without bogging".'
    )
    joined_by: Words = Field(
        default=(), description='Words of a condition that only join a denial: "holds its speed with no surging".'
    )
    only_so: WordSet = Field(
        default=frozenset(), description='Within a sign, it is what remains: "will not start unless I prime it".'
    )
    over_behind: Words = Field(
        default=(), description='Between a denial and a sign, the sign is what remains: "will not do more than cough".'
    )
    forbids: WordSet = Field(
        default=frozenset(), description='First words of a clause that warns others: "don\'t buy it used".'
    )
    of_things: WordSet = Field(default=frozenset(), description='Denials of a thing: "no shoulder".')
    next_subjects: WordSet = Field(
        default=frozenset(), description='Behind such a thing, something else is told: "no shoulder the engine died".'
    )
    leading_on: WordSet = Field(
        default=frozenset(), description='Words before such a subject that keep it denied: "no trace of the bog".'
    )


#: Turns of speech as written; `a|b` is either word.
Turns = PhraseList


class DenialTurns(Frozen):
    """Turns of speech, as written, that deny a statement otherwise than by a word right before it; `a|b` is either."""

    undone: Turns = Field(default=(), description='Turns with a denial that deny nothing: "no doubt", "without fail".')
    twice: Turns = Field(default=(), description='Two denials that undo each other: "can\'t get it to not (bog)".')
    more_than: Turns = Field(default=(), description='Only that it is all is denied: "doesn\'t just (bog)".')
    wholly: Turns = Field(default=(), description='What follows in its clause is denied: "at no point".')
    far: Turns = Field(default=(), description='Before the last part of a statement, it is not so: "nowhere near".')
    of_life: WordSet = Field(
        default=frozenset(), description='Behind a turn that is itself a sign, it is that: "not a hint of life".'
    )
    sought: Turns = Field(default=(), description='What follows was looked for: "listened for".')
    found_none: Turns = Field(default=(), description='Behind that, it was not found: "nothing", "found none".')
    expected: Turns = Field(default=(), description='What follows was thought to come: "expected", "thought it would".')
    but_none: Turns = Field(default=(), description='Behind that, it did not: "nope", "it never did".')
    absent: Turns = Field(default=(), description='Behind a sign, it is not there: "was nowhere to be".')
    absent_next: Turns = Field(default=(), description='The same, with nothing between: "the popping has stopped".')
    void: Turns = Field(default=(), description='The verb of a sign, turned round: "turning it changes nothing".')
    tells_new: WordSet = Field(
        default=frozenset(), description='Before those, it is there since: "a rattle (that) wasn\'t there".'
    )
    not_absent: WordSet = Field(
        default=frozenset(), description='Behind those, it is there at other times: "was not there before".'
    )
    ended: Turns = Field(default=(), description='What follows is over: "fixed the", "got rid of the".')
    not_ended: WordSet = Field(default=frozenset(), description='Shortly before those, it is not: "would have fixed".')
    then_not: Turns = Field(default=(), description='Denials of how it was: "did not", "had no".')
    then: Turns = Field(default=(), description='Behind such a denial and its sign, it is so now: "before", "until".')
    now: Turns = Field(default=(), description='The same, a few words on: "it didn\'t with the old pipe, now it does".')
    lasting: Turns = Field(default=(), description='Behind such a denial and a sign, it is still there: "to go away".')
    lasting_behind: Turns = Field(default=(), description='The denials that this counts behind: "can not get".')
    joins: Turns = Field(default=(), description='Before what came of a search: "looked for it (but) found none".')
    subjects: Words = Field(default=(), description='The same, with a word behind it: "but (the oil) doesn\'t".')
    light_verbs: Words = Field(
        default=(), description='Between a denial and the last part of a sign: "the oil does not look milky".'
    )


class HearsayWords(Frozen):
    """Words that tell what somebody else thinks or says is wrong."""

    thinks: Words = Field(default=(), description='He thinks so, whoever he is: "my dad swears", "one guy reckons".')
    many: Words = Field(default=(), description='Those who "think" and "say" in the plural: "people", "they".')
    many_think: Words = Field(default=(), description='What those do: "people think".')
    says: Words = Field(default=(), description='He says so, and may have seen it: "a friend says".')
    oneself: Words = Field(default=(), description='Right before the verb, it is the poster: "I said".')
    no_speaker: Words = Field(default=(), description='Right before the verb, nobody speaks: "it says on the plate".')
    knows: Words = Field(default=(), description="Those who looked, or knew it before: a workshop, the seller.")
    whose: Words = Field(default=(), description='With it, a comma may stand before the verb: "a guy, who ..., says".')
    known_by: Words = Field(default=(), description='Before a sign, it is there: "says (the) popping is normal".')
    between: Words = Field(default=(), description='Between speaker and verb: "my dad still swears".')
    links: Words = Field(default=(), description='Between the verb and what is told: "says that", "swears its".')
    tells: Words = Field(default=(), description='Behind a verb that says, what follows was seen: "says it smokes".')
    names: Words = Field(default=(), description='Behind that, it is a guess after all: "says it is the float".')
    clause_starts: Words = Field(
        default=(), description='Behind a comma, another clause begins: "he looked at it, (and) the shop says".'
    )
    ends: Words = Field(default=(), description='What is no longer said by him: "but", ", I".')


class Spoken(Frozen):
    """Turns of speech, word for word, that set the signs beside them aside; "until ... fixed|cleaned" has a gap.

    What is `over` was cured since, or looked at in another year: the results of checks told beside it count no more.
    What is `planned` would be new, or looked at, only then: how the engine runs is told beside plans too.
    """

    why: Literal["supposed", "planned", "past", "over", "other_machine"]
    reach: Literal["sentence", "result", "next", "before", "all_before", "within", "deed", "deed_before"] = Field(
        description="The signs behind it in its sentence, the one right behind it, or the one right before it; result: "
        "what a check found behind it in its sentence; "
        "all_before: every one before it in its sentence; within: the one between whose words it stands; "
        "deed: what was done in its sentence was done before the trouble; deed_before: where it opens a sentence, "
        "also what was done in the sentence before."
    )
    words: tuple[Annotated[str, StringConstraints(min_length=1, max_length=200)], ...] = Field(min_length=1)
    beside: WordSet = Field(
        default=frozenset(),
        description='Only in a post with one of these words: "the car" is another machine where a bike is named.',
    )
    not_behind: WordSet = Field(
        default=frozenset(),
        description='Not behind one of these words, nor with one word between: "over the last year" goes on until now.',
    )


class Cues(Frozen):
    """Phrases that say how a statement is meant, not what it says."""

    maybe: PhraseList = ()
    probably: PhraseList = ()
    unknown: PhraseList = ()
    past: PhraseList = ()
    supposed: PhraseList = ()
    gone: PhraseList = ()
    still: PhraseList = ()
    tried: PhraseList = ()
    one_cylinder: PhraseList = ()
    all_cylinders: PhraseList = ()


class LookWords(Frozen):
    """Words by which the outcome of a check is only looked for, and was not found."""

    one_number: WordSet = Field(
        default=frozenset(),
        description='Checks of a measure: beside two numbers that differ words alone tell none of their outcomes: '
        '"16 mm, the book says 19".',
    )
    to_see: Words = Field(default=(), description='Before an outcome: "spray it and see if the revs change".')
    if_between: WordSet = Field(default=frozenset(), description='Between "if" and a sign: "if still wet I\'ll".')
    if_so_then: Words = Field(default=(), description='Behind such a sign, it only may be: "if it is wet (I\'ll) ...".')
    answers_none: Words = Field(
        default=(), description='Of a sign, a few words behind it too: "rattle in the muffler: none".'
    )
    answers_no: Words = Field(default=(), description='Alone behind a mark, it is not so: "wet plug, (nope)".')
    tests: tuple[Text, ...] = Field(default=(), description="Within an outcome, told of what is still to be done.")
    doubts: WordSet = Field(default=frozenset(), description='Within it: "the squirt should be strong".')
    as_it_should: WordSet = Field(default=frozenset(), description='Shortly before those: "as it should".')
    orders: WordSet = Field(default=frozenset(), description='First word of advice: "check that it seats".')
    found_so: WordSet = Field(default=frozenset(), description='With these it was looked: "check it, its ok".')
    deeds: WordSet = Field(default=frozenset(), description='First word of advice with one of `until`: "turn".')
    until: Words = ()
    looking: WordSet = Field(default=frozenset(), description='Verbs of a search: "check the float for holes".')
    sought: WordSet = Field(default=frozenset(), description='Words between such a verb and what is sought.')
    intends: Words = Field(default=(), description='Right before: "I will swap the coils".')
    guesses: Words = Field(default=(), description='Before it in its clause: "probably a gummed up jet".')
    clause_ends: Words = Field(default=(), description="Before them, the clause of such a guess ends.")
    determiners: WordSet = Field(default=frozenset(), description="What may stand between those and it.")
    to_another: WordSet = Field(default=frozenset(), description='Of another machine: "your hose is cracked".')
    of_oneself: WordSet = Field(default=frozenset(), description="Words for the poster, who tells of his own.")
    articles: WordSet = Field(default=frozenset(), description='Before what is said of all: "a worn jet makes".')
    rules: WordSet = Field(default=frozenset(), description="Right behind what is said of all.")
    conditions: WordSet = Field(default=frozenset(), description="First words of a condition.")
    then: WordSet = Field(default=frozenset(), description="Between a condition and what it would tell.")
    concludes: Words = Field(default=(), description='Right behind a condition: "if choke helps it is lean".')
