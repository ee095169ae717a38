"""A language in which posts are read: all it needs beside the phrases of the records."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from carbdiag.field_types import Id, LanguageCode, Number, Text
from carbdiag.frozen import Frozen
from carbdiag.records.deed_words import DeedWords, PartsNotOn, SwappedOver
from carbdiag.records.manner_words import Cues, DenialTurns, HearsayWords, LookWords, Negation, Spoken
from carbdiag.records.order_words import OrderWords, ShortLived, WeatherWords
from carbdiag.records.phrases import PhraseList, Word, Words
from carbdiag.records.place_words import OpeningWords, PlaceWords, Quantity, RangeWords, Unit, WellAt
from carbdiag.terms import Effect


class Language(Frozen):
    """What reading needs of a language beside the phrases of the records."""

    id: LanguageCode
    name: Text
    fillers: Words
    endings: tuple[tuple[Word, str], ...] = ()
    forms: dict[Word, Words] = Field(default={})
    same: dict[Word, Words] = Field(default={})
    only_behind: dict[Word, Words] = Field(
        default={},
        description='Words that carry nothing but right behind one of these: "(se) para" stops, "para" is "for".',
    )
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
    denials: DenialTurns = DenialTurns()
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
    of_another: dict[Word, Words] = Field(
        default={}, description='Words that make another thing of the word behind: "the (oil) tank is empty".'
    )
    helped: Words = Field(default=(), description='Words that only help the verb behind them: "start to smoke".')
    helped_by: Words = Field(default=(), description='Words between such a word and its verb: "to".')
    helped_ending: str = Field(default="", description='The ending of a verb right behind such a word: "start mowing".')
    not_helped: Words = Field(default=(), description="Words that only look like such a verb, or are the engine's own.")
    decoys: PhraseList = Field(default=(), description="What looks like a statement and is none, such as 'dirt bike'.")
    cues: Cues = Cues.trusted()
    spoken: tuple[Spoken, ...] = ()
    looks: LookWords = LookWords.trusted()
    hearsay: HearsayWords = HearsayWords.trusted()
    most: dict[Id, Number] = Field(default={}, description="The greatest number with which words state a sign.")
    spoken_least: dict[Id, Number] = Field(
        default={}, description="The least number before a set expression: on few miles, nothing is worn."
    )
    least: dict[Id, Number] = Field(default={}, description="The least number with which words state a sign.")
    deeds: DeedWords = DeedWords.trusted()
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
    asked_for: Words = Field(
        default=(), description='Whose machine a post is about that begins so: "(my dad\'s) old twin bogs".'
    )
    of_ones_own: Words = Field(
        default=(), description='Words of a post that is about more machines than that: "mine", "had the same".'
    )
    present: PhraseList = Field(default=(), description='Words that lead from the past back to now: "this year".')
    effect_supposed: Words = Field(default=(), description='Before an effect, it is only supposed: "would only make".')
    names_next: Words = Field(
        default=(), description='Before an effect, it belongs to what is named behind it: "what helps: choke".'
    )
    comparatives_led: Words = Field(default=(), description='Before those, behind "but": "but a tiny bit less".')
    comparatives: Words = Field(
        default=(), description='Between a deed and "but still", it is better though not right: "quicker".'
    )
    short_lived: ShortLived = ShortLived.trusted()
    plans_end: Words = Field(
        default=(), description='Words behind a plan with which it ends: "I will rejet since it has pods".'
    )
    taken_from: Words = Field(
        default=(), description='Before another machine, it lent a part, or is a place: "off my other bike".'
    )
    effect_unless: Words = Field(
        default=(), description='Behind an effect, it holds only so, and tells of no deed: "better with choke".'
    )
    effect_earlier: Words = Field(
        default=(), description='To the end of the clause behind an effect that is none: "it did not do this before".'
    )
    places: tuple[PlaceWords, ...] = ()
    engine_speed: PhraseList = ()
    load: PhraseList = ()
    asks_to_use: PhraseList = Field(
        default=(), description='Word for word: asks whether it may be used as it is, "can i ride it"; a|b is either.'
    )
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
    swapped_over: SwappedOver = SwappedOver.trusted()
    parts_not_on: PartsNotOn = PartsNotOn.trusted()
    openings: OpeningWords = OpeningWords.trusted()
    ranges: RangeWords = RangeWords.trusted()
    well_at: WellAt = WellAt.trusted()
    kinds_of_screw: Words = Field(
        default=(), description='Beside "screw", which of the two it is; without one, "mixture screw" may be either.'
    )
    order: OrderWords = OrderWords.trusted()
    height_now: Words = Field(default=(), description='Before the second: "jetted at sea level, now at 6000 ft".')
    height_soon: Words = Field(
        default=(), description='In the clause of the ride to come: "great here at 300 ft, next week at 9000".'
    )
    height_then: Words = Field(default=(), description='Before a height, it is one of the past: "used to ride at".')
    height_to: Words = Field(default=(), description='Between two heights of a way: "from 300 m to 2000 m".')
    height_from: Words = Field(
        default=(), description='Before the place told last, one moved away from it: "to Denver from sea level".'
    )
    set_for: Words = Field(
        default=(), description='In the clause of a height or a temperature, it was set for that: "jetted at 4000 ft".'
    )
    weather: WeatherWords = WeatherWords.trusted()
    at_home: Words = Field(default=(), description='Before a height, it is that of home: "I live at 300 m".')
    height_back: Words = Field(
        default=(), description='Where a stay on another height is over: "back home", "back down".'
    )
    height_left: Words = Field(default=(), description='Before a height that was left again: "came back from".')
    high_places: Words = Field(default=(), description="Places that are high by their name.")
    high_from_m: Number = Field(default=900.0, description="Meters above the sea from which a place is one to jet for.")
    height_clause_ends: Words = Field(
        default=(), description='Before or behind a height, another clause begins: "set at 300 m (and) now at 2000".'
    )
    height_there: Words = Field(default=(), description='Of the other height, told from home: "up there".')
    spec_says: Words = Field(default=(), description='Before what a measure should be: "they (should be) .10 and .15".')
    spec_not: Words = Field(default=(), description='In a sentence of measures, it is none that was found: "set to".')
    gauge_wanted: Words = Field(default=(), description='Before a ratio that is only wanted: "aim for 13.0".')
    height_here: Words = Field(default=(), description='Before a height without its unit, beside another: "I am at".')
    height_lent: Words = Field(
        default=(), description='Before a number, it may be a height beside another: "8000 ft, here (its) 1500".'
    )
    height_set_at: Words = Field(
        default=(), description='Between what it was set for and a number, that is a height: "jetted (for) 2000".'
    )
    no_height: Words = Field(default=(), description='In its clause, a number is of another kind: "revs to 6000".')
    height_at: Words = Field(default=(), description='Before a height that is one of a place: "at 500 ft".')
    heights_by_name: dict[Word, Number] = Field(
        default={}, description="Meters above the sea of places that are named for their height, or the lack of it."
    )
    numbers: dict[Word, Number] = Field(default={})
    numbers_said: dict[str, Word] = Field(
        default={}, description='Numbers that stand for a word: {"4/4": wot}, the grip all the way round.'
    )
    vague_numbers: dict[Word, Number] = Field(default={}, description="Words that are a number before a unit.")
    adding_numbers: Words = Field(default=(), description='Between a number and a part of one: "one and a half".')
    adding_before: Words = Field(default=(), description="What is counted so: turns.")
    about_numbers: Words = Field(default=(), description='Before a number, they carry nothing: "maybe 5 seconds".')
    units: tuple[Unit, ...] = ()
    quantities: tuple[Quantity, ...] = ()
