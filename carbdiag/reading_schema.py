"""The models of reading a post: the words of a language that no record owns, and what a post was read as."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, PlainSerializer, StringConstraints

from carbdiag.case_schema import AirChange, Case
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.field_types import Id, LanguageCode, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import Phrase
from carbdiag.terms import Certainty, Change, Effect, Status

Word = Annotated[str, StringConstraints(min_length=1, max_length=60)]
Words = tuple[Word, ...]
PhraseList = tuple[Phrase, ...]

PostText = Annotated[str, Field(description="The post as it was written, at most 48 kB of UTF-8.")]

#: Longest post that is read, in bytes of UTF-8.
MOST_BYTES = 48 * 1024


class PlaceWords(Frozen):
    """How riders name a throttle opening or a situation; several places mean somewhere there."""

    at: tuple[Id, ...] = Field(min_length=1)
    beside: Literal["below", "above", "elsewhere"] | None = Field(
        default=None,
        description='Of these openings, those below or above the one named before, or all others: "below that".',
    )
    phrases: PhraseList = Field(min_length=1)


class Quantity(Frozen):
    """A number that a post states about the machine or its air; the number stands in a slot such as <n>."""

    fact: Literal[
        "displacement_cc", "elevation_m", "temperature_c", "main_jet", "pilot_jet", "screw_turns", "clip_groove",
        "lambda",
    ]  # fmt: skip
    phrases: PhraseList = Field(min_length=1)
    least: Number | None = Field(default=None, description="A smaller number is something else.")
    most: Number | None = Field(default=None, description="A larger number is something else, such as a year.")
    times: Number = Field(default=1.0, description="The number times this, with `plus` added, is the fact.")
    plus: Number = 0.0
    like_others: bool = Field(
        default=False, description="Told without its unit: it has that of a number of this fact told with one, or none."
    )


class Unit(Frozen):
    """A unit behind a number: the slot it fills, and how it turns into that slot's own unit."""

    slot: Id
    also: Id | None = Field(default=None, description="A wider slot that these units fill too.")
    written: Words = Field(min_length=1)
    times: Number = 1.0
    plus: Number = 0.0
    signed: bool = Field(default=False, description="A minus right before the number belongs to it.")


WordSet = Annotated[frozenset[str], PlainSerializer(sorted, return_type=list[str])]


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


class ShortLived(Frozen):
    """Words behind an effect that helped, which say that it did not last: "ran great for two rides, then ..."."""

    spans: Words = Field(default=(), description='How long it did: "rides", "a week".')
    soon: Words = Field(default=(), description='Before a span, that is how soon it was well: "within a mile".')
    ends: Words = Field(default=(), description='Behind a span, the trouble was back: "then", "again".')
    not_before: Words = Field(default=(), description='Behind "then", something else was done: "then I".')
    returns: Words = Field(default=(), description='In the next sentence, the trouble is back: "now it\'s back".')
    returns_not: Words = Field(default=(), description='Behind those, it is not: "it\'s back (together)".')
    until_after: Words = Field(default=(), description='Before a span, it was well so long: "then after (a week)".')


class SwappedOver(Frozen):
    """Words of parts that change places between cylinders: no new one is fitted."""

    verbs: Words = ()
    not_known: Words = Field(default=(), description='Behind it, what comes of it is not known yet: "to see if".')
    parts: dict[Id, Words] = Field(default={}, description="By the check that it is: the parts that are swapped in it.")
    behind: Words = Field(default=(), description='Behind the part; "plugs 1 and 2" needs no more.')
    which: Words = Field(
        default=(), description='In what came of it, the side or cylinder it is on, which is enough: "stays left".'
    )
    outcomes: dict[Id, Words] = Field(
        default={}, description="What came of it, by the words that follow; the first outcome listed counts."
    )


class WeatherWords(Frozen):
    """Words that tell two kinds of weather as then and as now: "fine all summer, now it's 3 degrees"."""

    words: dict[Word, Number] = Field(default={}, description="Seasons and kinds of weather, in degrees Celsius.")
    doubtful: dict[Word, Number] = Field(
        default={}, description='Likewise, where they may be said of the engine: "it gets hot".'
    )
    then: Words = Field(default=(), description='In the clause of a season, it ran well in it: "great all summer".')
    now: Words = Field(default=(), description='In the clause of a season, it is that of now: "now in the heat".')
    so: Words = Field(default=(), description='Likewise, where nothing says that it ran well in it: "its 3 degrees".')
    was: Words = Field(default=(), description='In the clause of degrees, they are those of then: "it was 22c".')
    went_from: Words = Field(default=(), description='Right before degrees, those of then: "it dropped from 80f".')
    went_to: Words = Field(default=(), description='Between them and the next, which are those of now: "to 50f".')
    no_weather: Words = Field(
        default=(), description='In the clause of a season, it was not run in it: "sat over winter", "engine gets hot".'
    )


class OrderWords(Frozen):
    """Words that put what is told in order in time."""

    lessened: Words = Field(
        default=(), description='Before a trouble since a deed, there is less of it: "now only a slight hesitation".'
    )
    though: Words = Field(default=(), description='At the end of "still sooty though": it is better otherwise.')
    now: Words = Field(default=(), description='Between a deed and a sign, the sign is seen since: "and now it".')
    reason: Words = Field(default=(), description='Between a deed and a sign, the sign is why it was done: "because".')
    new_trouble: Words = Field(default=(), description='Behind a cure, that was of another trouble: "new issue".')
    now_behind: Words = Field(default=(), description='Behind a sign, it is seen since: "which it never did before".')
    habit: Words = Field(default=(), description='In "cured for a while", it is the complaint: "runs ten miles, then".')
    until: Words = Field(default=(), description='Before a deed, it ended the trouble: "nothing helped until I".')
    still: Words = Field(default=(), description='Behind such a word, the sign was there before: "now still".')
    since: Words = Field(default=(), description="Before a deed, the signs of its sentence are seen since.")
    gone: Words = Field(default=(), description='Behind a sign that is denied, it was there before: "any more".')
    not_before: Words = Field(default=(), description='Behind a sign, it was not there before: "never used to".')
    keeps: Words = Field(default=(), description='Before any deed, as much as the trouble itself: "keeps stalling".')
    past_forms: Words = Field(default=(), description="Before a sign, or in it, it was seen then, and not now.")
    past_ending: str = Field(default="", description="The ending of a verb that tells what was.")
    ended: Words = Field(default=(), description='Right before a sign told as a doing, it is over: "stopped popping".')
    doing_ending: str = Field(default="", description="The ending of a sign told as a doing.")


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


class DeedWords(Frozen):
    """The verbs, verdicts and small words from which deeds and looks are put together with the parts of the records."""

    verbs: dict[Id, PhraseList] = Field(default={}, description="Kinds of doing, each with its verbs.")
    looking: Id = Field(default="", description="The kind that only looks: with it alone, a part is as it should.")
    ends_with: Words = Field(default=(), description='Before a past form, it was done, and ended the trouble: "until".')
    well: Words = Field(default=(), description='Before those words, the deed brought it on: "fine until I".')
    never: Words = Field(default=(), description='Of a trouble, too: "it never surged until I".')
    runs: Words = Field(default=(), description='Behind those, the deed was the cure: "it never started until I".')
    none: Words = Field(default=(), description='Before a word for trouble, too: "no problem with it until I".')
    troubles: Words = Field(default=(), description="Words for trouble, behind those.")
    replacing: Id = Field(default="", description="The kind that puts a new part in the place of the old one.")
    adjectives: tuple[Id, ...] = Field(default=(), description='Kinds that are no verbs: "new plug".')
    another: Id = Field(default="", description='Of those, the kind of a part of another make: "aftermarket coil".')
    verdicts: dict[Id, PhraseList] = Field(default={}, description="Kinds of verdict on a part.")
    opposites: dict[Id, Id] = Field(default={}, description='What a denied verdict says: "not blocked" is clear.')
    not_parts: PhraseList = Field(default=(), description='What is another thing than the part in it: "plug socket".')
    bare: Words = Field(default=(), description="Forms that may be advice: they count as done only where it shows.")
    not_verbs: Words = Field(default=(), description='Words that only look like a verb above: "setting".')
    present_ending: str = Field(default="s", description="The ending of a form that tells what is, not what was done.")
    same_in_past: Words = Field(default=(), description='Bare forms that are the past too: "put", "set".')
    subjects: Words = Field(default=(), description='Right before such a form, it was done: "they put a coil in".')
    nouns_with_article: Words = Field(default=(), description='Nouns only so: "a carb clean".')
    articles: Words = ()
    not_done: Words = Field(default=(), description='In a sentence, its deeds were not done: "not fitted yet".')
    put_back: Words = Field(default=(), description='Behind a setting moved, it is as it was: "went back to".')
    back_to: Words = Field(default=(), description='Behind a jet changed, before the old number: "back to".')
    before_when: Words = Field(
        default=(), description='In the sentence of a setting moved, it came before the trouble: "last week".'
    )
    book_says: Words = Field(default=(), description='Right before a number, it is the one of the book: "stock is".')
    book_behind: Words = Field(default=(), description='Right behind a number, likewise: "is stock".')
    still_planned: Words = Field(default=(), description='Before a setting moved, it was not: "I was gonna go leaner".')
    helped_whom: Words = Field(default=(), description='Behind "helped", a person: "a friend helped me change it".')
    not_mine: Words = Field(default=(), description='Behind a part, with one of `people` before it: "the pump on his".')
    nouns: Words = Field(default=(), description='Bare forms that name a deed behind its part: "a carb rebuild".')
    ending_ing: str = Field(default="ing", description="The ending of a form that may name a plan.")
    ending_past: str = Field(default="ed", description="The ending of a form that tells what was done.")
    to: Words = ()
    done_before_to: Words = Field(default=(), description='Before "to", it was done: "had to".')
    plans: Words = Field(default=(), description='Before any form, it was not done: "should have", "needs".')
    plans_before_ing: Words = ()
    plans_before_bare: Words = ()
    in_vain: Words = Field(default=(), description='Before a deed, it changed nothing: "even with a new plug".')
    already: Words = Field(default=(), description='Behind a new part, it is fitted: "new needle and seat already".')
    new_one: Words = Field(default=(), description='Behind a verb, the part named last, new: "put a new one on".')
    operated: Words = Field(default=(), description='Parts that are worked, and not replaced, in notes: "choke".')
    list_heads: Words = Field(default=(), description='Before a colon, parts were replaced: "done so far:".')
    pronouns: Words = Field(default=(), description='Behind a verb, the part named last: "so we rebuilt it".')
    places_changed: tuple[Id, ...] = Field(default=(), description="Verbs that may only change places.")
    swapped: Words = Field(default=(), description='Behind a deed, parts only changed places: "left to right".')
    directions: dict[Id, Words] = Field(default={}, description="Kinds told by a word behind: which way a screw went.")
    moving: tuple[Id, ...] = Field(default=(), description="Kinds of verb that move a setting.")
    of_turns: tuple[Id, ...] = Field(default=(), description='Directions of a screw: "2 turns out" may be where it is.')
    tells_effect: Words = Field(default=(), description='Words that begin an effect: "needle up did nothing".')
    turning: tuple[Id, ...] = Field(default=(), description='Verbs that yield to such a direction: "screwed it out".')
    comparative: tuple[Id, ...] = Field(default=(), description='Adjectives only in a compared form: "a richer jet".')
    comparing: str = Field(default="", description="The ending of a compared form.")
    amounts: Words = Field(default=(), description='How far a setting was moved: "a notch".')
    small_amounts: Words = Field(default=(), description="Amounts less than one turn.")
    between_amounts: Words = Field(default=(), description='What may stand between the way and the amount: "by".')
    more: Words = Field(default=(), description='Before an amount, it was moved so much: "another turn".')
    both_ways: Words = Field(default=(), description='Behind a direction, it was moved both ways: "in and out".')
    pair_leads: Words = Field(default=(), description='As "to", between two sizes: "42 then 45".')
    not_of_it: tuple[Id, ...] = Field(default=(), description='Verbs that tell nothing of "it": "put it back".')
    pair_joins: Words = Field(default=(), description='Between two sizes, beside "to" and the words of `came_from`.')
    came_from: Words = Field(default=(), description='Between two sizes, the second is the old one: "instead of".')
    fitted_now: Words = Field(default=(), description='Before the second of two sizes, it is the new one: "now a".')
    fitting: tuple[Id, ...] = Field(default=(), description="Verbs that put one part in the place of another.")
    alike: Words = Field(default=(), description="With one of `people`, it is another machine.")
    persons: Words = Field(default=(), description='Between two verbs, the second has its own subject: "I went".')
    fitted_for: Words = Field(default=(), description='Behind such a verb, before the old size: "put a 35 in for the".')
    goes_to: Words = Field(default=(), description='Behind one of `came_from`, the second is new: "was swapped for".')
    ordinals: Words = Field(default=(), description='Behind a number, it tells a place and no amount: "2nd".')
    grooves: dict[Word, int] = Field(default={}, description="Grooves of a clip that have a name.")
    only_behind: Words = Field(default=(), description='Verdicts only behind a part: "the right carburetor" is none.')
    on_hand: Words = Field(default=(), description='Behind a number, the jet is not fitted: "I have a 158 here".')
    no_move: Words = Field(
        default=(), description='Between a word that tells a way and a part, it moves nothing: "loads up when idling".'
    )
    parts_when: Words = Field(
        default=(), description='From a verdict to a part, it is of none: "fine when the cap is open".'
    )
    not_across: Words = Field(default=(), description='Between a part and a verdict, it is looked for: "for cracks".')
    inside: Words = Field(default=(), description='Between a verb and a part, it was done to something at the part.')
    asking: Words = Field(default=(), description="At the head of a question, a deed in it was not done.")
    copulas: Words = Field(default=(), description='All that may stand between: "pulled the jet, it was clear".')
    tells_next: Words = Field(default=(), description='Behind a part looked at, what was seen comes next: "its".')
    not_led_by: Words = Field(default=(), description='From an effect to a deed, it was not by it: "so I cleaned it".')
    led_by: Words = Field(default=(), description='Between an effect and its deed behind it: "no change with".')
    passive: Words = Field(default=(), description='Before a verb, the part behind is its place: "was put in the jet".')
    had_or_would: Words = Field(
        default=(), description='Before a form of the past it was done: "I\'d replaced it", but "I\'d replace it".'
    )
    similes: Words = Field(default=(), description='Before a finding of a check, it is only likened to: "as if".')
    may_stand_at: tuple[Id, ...] = Field(default=(), description='Verbs that go with "on": "up one on the main".')
    later: Id = Field(default="", description="The kind told by two small numbers, the second larger: grooves.")
    earlier: Id = Field(default="", description="The kind told by two small numbers, the second smaller.")
    larger: Id = Field(default="", description="The kind told by two sizes, the second larger.")
    smaller: Id = Field(default="", description="The kind told by two sizes, the second smaller.")
    owners_of: Words = Field(default=(), description="The part is somebody else's where one of `people` was named.")
    people: Words = ()
    determiners: Words = Field(default=(), description='Behind a verb or a verdict, it is a verb: "clean the jet".')
    off: Words = Field(default=(), description='Between a part and the verb behind it: "carb off and cleaned".')
    whole: Words = Field(default=(), description='Between a verb and a part, it was done to it all: "everything in".')
    tails: Words = Field(default=(), description='Behind the last part of a list, they only say more of it: "from".')
    joins: Words = Field(default=(), description='Words that go on with a list: "and".')
    helpers: Words = Field(default=(), description='Left out when looking for a plan: "have", "been".')
    had_done: Words = Field(default=(), description='With a bare form, it was done: "had the shop clean".')
    skipped: Words = Field(default=(), description="Words that may stand anywhere in between.")
    before: Words = Field(default=(), description="In the clause of a deed, it came before the trouble.")
    now: Words = Field(default=(), description="Behind a deed, it came before the trouble.")
    others: Words = Field(default=(), description="The part is somebody else's.")
    states: Words = Field(default=(), description="Behind a part in a list, it starts a statement of its own.")


#: Words without an order, written in one order all the same: the wheel's prepared phrases are known by what is written.
class LookWords(Frozen):
    """Words by which the outcome of a check is only looked for, and was not found."""

    to_see: Words = Field(default=(), description='Before an outcome: "spray it and see if the revs change".')
    if_between: WordSet = Field(default=frozenset(), description='Between "if" and a sign: "if still wet I\'ll".')
    if_so_then: Words = Field(default=(), description='Behind such a sign, it only may be: "if it is wet (I\'ll) ...".')
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
    determiners: WordSet = Field(default=frozenset(), description="What may stand between those and it.")
    to_another: WordSet = Field(default=frozenset(), description='Of another machine: "your hose is cracked".')
    of_oneself: WordSet = Field(default=frozenset(), description="Words for the poster, who tells of his own.")
    articles: WordSet = Field(default=frozenset(), description='Before what is said of all: "a worn jet makes".')
    rules: WordSet = Field(default=frozenset(), description="Right behind what is said of all.")
    conditions: WordSet = Field(default=frozenset(), description="First words of a condition.")
    then: WordSet = Field(default=frozenset(), description="Between a condition and what it would tell.")
    concludes: Words = Field(default=(), description='Right behind a condition: "if choke helps it is lean".')


class Language(Frozen):
    """What reading needs of a language beside the phrases of the records."""

    id: LanguageCode
    name: Text
    fillers: Words
    endings: tuple[tuple[Word, str], ...] = ()
    forms: dict[Word, Words] = Field(default={})
    same: dict[Word, Words] = Field(default={})
    long_words: Words = Field(default=(), description="Trade words that are still known with a slip of the pen.")
    not_slips: Words = ()
    word_groups: dict[Id, PhraseList] = Field(default={})
    breaks: Words = ()
    strong_breaks: Words = ()
    contrasts: Words = Field(
        default=(), description="Of the strong breaks, those that set one thing against another, such as 'but'."
    )
    comments: Words = Field(default=(), description='Behind a deed, what follows tells what it did: "that did".')
    asks_so: tuple[Annotated[str, StringConstraints(min_length=2, max_length=40)], ...] = Field(
        default=(), description='A sentence that begins so asks, with or without its mark: "could a bad coil do this".'
    )
    partly: Words = Field(default=(), description='Beside a cure, it is only better: "the bog is almost gone".')
    not_labels: Words = Field(
        default=(), description='Words with which nothing before a colon is a label, as it is in "plug: white".'
    )
    results: Words = Field(
        default=(), description='Words that tell a result behind a comma, where they end a note: "float height, ok".'
    )
    label_adds: dict[Word, Word] = Field(
        default={}, description='What a label of one word leaves out: "full: flat" is full throttle.'
    )
    clause_openers: Words = Field(
        default=(), description='Words with which another clause begins without a comma: "bogs off idle so I went up".'
    )
    engine_groups: tuple[Id, ...] = Field(default=(), description="Word groups for what the engine does by itself.")
    own_deeds: Words = Field(default=(), description='Words of those groups that a rider does too: "I stopped".')
    engine_deeds: Words = Field(
        default=(), description='What only an engine does; beside it the rider says when: "dies when I stop".'
    )
    persons: Words = Field(default=(), description="Words for whoever rides, before a verb.")
    people_too: Words = Field(
        default=(), description='Words that are a sign of an engine and not of a person: "he smokes", "I got lazy".'
    )
    people: Words = Field(default=(), description="Words for a person, before those.")
    helping_people: Words = Field(default=(), description='What may stand between: "I (have) missed".')
    done_to_it: Words = Field(default=(), description='What a rider does with one, word for word: "shut it off".')
    condition_openers: Words = Field(
        default=(), description='First words of a clause that says when the next one holds: "when hot, it dies".'
    )
    negation: Negation
    question_openers: Words = ()
    helpers: PhraseList = Field(
        default=(), description='Phrases whose first word only helps the next, such as "start missing".'
    )
    asking_why: PhraseList = ()
    plain: Words = Field(
        default=(), description="Everyday words that state a sign by themselves, whatever may be left out beside them."
    )
    compounds: dict[Word, Words] = Field(
        default={}, description='Words that make another thing of the word before: "gas cap", "fire road".'
    )
    helped: Words = Field(default=(), description='Words that only help the verb behind them: "start to smoke".')
    helped_by: Words = Field(default=(), description='Words between such a word and its verb: "to".')
    helped_ending: str = Field(default="", description='The ending of a verb right behind such a word: "start mowing".')
    not_helped: Words = Field(default=(), description="Words that only look like such a verb, or are the engine's own.")
    decoys: PhraseList = Field(default=(), description="What looks like a statement and is none, such as 'dirt bike'.")
    cues: Cues = Cues()
    spoken: tuple[Spoken, ...] = ()
    looks: LookWords = LookWords()
    hearsay: HearsayWords = HearsayWords()
    most: dict[Id, Number] = Field(default={}, description="The greatest number with which words state a sign.")
    spoken_least: dict[Id, Number] = Field(
        default={}, description="The least number before a set expression: on few miles, nothing is worn."
    )
    least: dict[Id, Number] = Field(default={}, description="The least number with which words state a sign.")
    deeds: DeedWords = DeedWords()
    effects: dict[Effect, PhraseList] = Field(default={})
    effects_alone: dict[Effect, PhraseList] = Field(default={}, description="Effects only as a clause of their own.")
    effects_beside: dict[Effect, PhraseList] = Field(
        default={}, description='Effects only behind a deed, in its sentence: "cleaned the jet and it runs great".'
    )
    effects_pointed: dict[Effect, PhraseList] = Field(
        default={}, description='Effects only where an arrow leads to them from a deed: "vent drilled -> ok".'
    )
    effects_spoken: dict[Effect, Words] = Field(default={}, description="Effects told by set words, as written.")
    effects_brought: dict[Effect, PhraseList] = Field(
        default={}, description='Effects only behind a setting moved and a word of `order.now`: "and now it stalls".'
    )
    goes_on: Words = Field(
        default=(), description='Between two signs, both are at the place named before the first: "then".'
    )
    this_machine: Words = Field(
        default=(), description='Words that lead from another machine back to the poster\'s: "so he drove this one".'
    )
    present: PhraseList = Field(default=(), description='Words that lead from the past back to now: "this year".')
    effect_supposed: Words = Field(default=(), description='Before an effect, it is only supposed: "would only make".')
    names_next: Words = Field(
        default=(), description='Before an effect, it belongs to what is named behind it: "what helps: choke".'
    )
    comparatives: Words = Field(
        default=(), description='Between a deed and "but still", it is better though not right: "quicker".'
    )
    short_lived: ShortLived = ShortLived()
    plans_end: Words = Field(
        default=(), description='Words behind a plan with which it ends: "I will rejet since it has pods".'
    )
    taken_from: Words = Field(
        default=(), description='Before another machine, it lent a part, or is a place: "off my other bike".'
    )
    effect_unless: Words = Field(
        default=(), description='Behind an effect, it holds only so, and tells of no deed: "better with choke".'
    )
    places: tuple[PlaceWords, ...] = ()
    engine_speed: PhraseList = ()
    load: PhraseList = ()
    strokes: dict[Literal["2", "4"], PhraseList] = Field(default={})
    strokes_hinted: dict[Literal["2", "4"], PhraseList] = Field(
        default={}, description="Parts and machines that suggest the strokes; what is said outright counts."
    )
    cylinders: dict[Literal["1", "2", "3", "4", "6"], PhraseList] = Field(default={})
    carburetors: dict[Literal["1", "2", "3", "4", "6"], PhraseList] = Field(default={})
    cooling: dict[Literal["air", "liquid"], PhraseList] = Field(default={})
    fuel_feed: dict[Literal["gravity", "vacuum_tap", "pump"], PhraseList] = Field(default={})
    oiling: dict[Literal["premix", "injection", "sump"], PhraseList] = Field(default={})
    mixture_screw: dict[Literal["air_screw", "fuel_screw"], PhraseList] = Field(default={})
    elevation_m: dict[Annotated[str, StringConstraints(pattern=r"^[0-9]+$")], PhraseList] = Field(
        default={}, description="Heights told without a number: sea level is 0."
    )
    nearly: Words = Field(default=(), description='In a sign of stopping, it did not: "it nearly dies".')
    sides: Words = Field(default=(), description="Cylinders by their side or number, between which parts are swapped.")
    opened: Words = Field(default=(), description='Near a sign, it only showed in a look: "line off, gas pours out".')
    swapped_over: SwappedOver = SwappedOver()
    kinds_of_screw: Words = Field(
        default=(), description='Beside "screw", which of the two it is; without one, "mixture screw" may be either.'
    )
    order: OrderWords = OrderWords()
    height_now: Words = Field(default=(), description='Before the second: "jetted at sea level, now at 6000 ft".')
    height_then: Words = Field(default=(), description='Before a height, it is one of the past: "used to ride at".')
    height_to: Words = Field(default=(), description='Between two heights of a way: "from 300 m to 2000 m".')
    height_from: Words = Field(
        default=(), description='Before the place told last, one moved away from it: "to Denver from sea level".'
    )
    set_for: Words = Field(
        default=(), description='In the clause of a height or a temperature, it was set for that: "jetted at 4000 ft".'
    )
    weather: WeatherWords = WeatherWords()
    at_home: Words = Field(default=(), description='Before a height, it is that of home: "I live at 300 m".')
    height_back: Words = Field(
        default=(), description='Where a stay on another height is over: "back home", "back down".'
    )
    height_left: Words = Field(default=(), description='Before a height that was left again: "came back from".')
    high_places: Words = Field(default=(), description="Places that are high by their name.")
    high_from_m: Number = Field(default=900.0, description="Meters above the sea from which a place is one to jet for.")
    height_there: Words = Field(default=(), description='Of the other height, told from home: "up there".')
    gauge_wanted: Words = Field(default=(), description='Before a ratio that is only wanted: "aim for 13.0".')
    height_at: Words = Field(default=(), description='Before a height that is one of a place: "at 500 ft".')
    heights_by_name: dict[Word, Number] = Field(
        default={}, description="Meters above the sea of places that are named for their height, or the lack of it."
    )
    numbers: dict[Word, Number] = Field(default={})
    vague_numbers: dict[Word, Number] = Field(default={}, description="Words that are a number before a unit.")
    adding_numbers: Words = Field(default=(), description='Between a number and a part of one: "one and a half".')
    adding_before: Words = Field(default=(), description="What is counted so: turns.")
    about_numbers: Words = Field(default=(), description='Before a number, they carry nothing: "maybe 5 seconds".')
    units: tuple[Unit, ...] = ()
    quantities: tuple[Quantity, ...] = ()


# ---------------------------------------------------------------------------------------------------------
# What a post was read as


class Said(Frozen):
    """A stretch of the post: from `start` up to, not including, `end`, counted in characters."""

    start: int = Field(ge=0)
    end: int = Field(ge=0)
    words: str


class FindingRead(Frozen):
    """A finding read in a post; `at` empty means nobody said where, several places mean somewhere there."""

    finding: Id
    at: tuple[Id, ...] = ()
    status: Status
    certainty: Certainty = Certainty.SURE
    cylinders: Literal["one", "all"] | None = None
    epoch: int = Field(
        default=0, ge=0, description="When it was seen: 0 before the first change that the post puts in order, then 1."
    )
    said: tuple[Said, ...]


class ContextRead(Frozen):
    """A circumstance read in a post."""

    context: Id
    status: Status
    said: tuple[Said, ...]


class CheckRead(Frozen):
    """A check and its outcome read in a post."""

    check: Id
    outcome: Id
    at: Id | None = None
    certainty: Certainty = Certainty.SURE
    epoch: int = Field(default=0, ge=0, description="When it was seen, as for a finding.")
    said: tuple[Said, ...]


class TrialRead(Frozen):
    """A repair or a change of setting read in a post, and its effect; both places in the post are named."""

    do: Id | None = None
    change: Id | None = None
    direction: Change | None = None
    from_size: Number | None = Field(default=None, description="The number on the jet taken out, where both are told.")
    to_size: Number | None = Field(default=None, description="The number on the jet put in.")
    effect: Effect
    unsaid: bool = Field(
        default=False, description="Nobody said what it did; the trouble goes on, so no change is taken as its effect."
    )
    put_back: bool = Field(default=False, description="The post says that the setting was put back as it was.")
    epoch: int = Field(default=0, ge=0, description="What was seen in this epoch was seen before it.")
    said: tuple[Said, ...]


class GaugeRead(Frozen):
    """A lambda measured at an opening, from itself or from the air-fuel ratio that a gauge made of it."""

    value: Number = Field(description="Air-fuel ratio divided by the chemical one.")
    at: Id
    protocol: Literal["steady_load", "no_load"]
    epoch: int = Field(default=0, ge=0, description="When it was measured, as with signs.")
    said: tuple[Said, ...]


class FactRead(Frozen):
    """A fact of the machine or its air, as a word or a number with its unit in the name of the fact."""

    fact: Literal[
        "family", "use", "strokes", "cylinders", "carburetors", "cooling", "fuel_feed", "oiling", "mixture_screw",
        "displacement_cc",
        "elevation_m", "temperature_c", "main_jet", "pilot_jet", "screw_turns", "clip_groove", "engine_speed", "load",
    ]  # fmt: skip
    value: Number | str
    said: tuple[Said, ...]


class SetAside(Frozen):
    """Words that were recognized but are no statement about the machine now, and why."""

    record: Id
    why: Literal[
        "past", "question", "supposed", "quoted", "denied", "contradicted", "not_on_this_machine", "no_effect",
        "other_machine",
    ]  # fmt: skip
    said: Said


class TextReading(Frozen):
    """What a post was read as: statements with the words they came from, and what was not understood."""

    edition: str
    language: LanguageCode
    findings: tuple[FindingRead, ...] = ()
    contexts: tuple[ContextRead, ...] = ()
    checks: tuple[CheckRead, ...] = ()
    trials: tuple[TrialRead, ...] = ()
    gauges: tuple[GaugeRead, ...] = ()
    facts: tuple[FactRead, ...] = ()
    air: AirChange | None = Field(
        default=None, description="Where the post tells both heights of a move: the air before it and now."
    )
    set_aside: tuple[SetAside, ...] = ()
    not_understood: tuple[Said, ...] = ()
    please_say: tuple[Text, ...] = Field(default=(), description="What the post leaves out and an answer needs most.")

    @property
    def epochs(self) -> int:
        """How many stretches of time the post tells apart, each but the last ended by what was changed then."""
        seen = (x.epoch for told in (self.findings, self.checks, self.gauges) for x in told)
        return 1 + max((*seen, *(t.epoch for t in self.trials)), default=0)

    @property
    def is_empty(self) -> bool:
        """Whether nothing was read that a diagnosis could use."""
        return not (self.findings or self.contexts or self.checks or self.trials or self.gauges)


class ReadingWithCase(TextReading):
    """A reading, and the case it makes: to put right, and to send to a diagnosis or a walk."""

    case: Case


class PostedText(Frozen):
    """A post to read."""

    text: PostText
    language: LanguageCode = Field(default="en", description="Code of the language it is written in.")


class PostedCase(Case):
    """A case, or a post to read into one, or both; what the case states itself counts before what is read."""

    text: PostText | None = None
    language: LanguageCode = Field(default="en", description="Code of the language of the text.")


class ReadDiagnosis(Diagnosis):
    """A diagnosis with, where a post was read, what it was read as."""

    reading: TextReading | None = None
