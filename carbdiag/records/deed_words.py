"""The words of a language from which deeds and looks are put together with the parts of the records."""

from __future__ import annotations

from pydantic import Field

from carbdiag.field_types import Id
from carbdiag.frozen import Frozen
from carbdiag.records.phrases import PhraseList, Word, Words


class SizesTold(Frozen):
    """The small words around the numbers of jets that no verb goes with: "main is 95. 88 was better"."""

    puts_in: Words = Field(default=(), description='Between two jets that nobody names: "had 56 in it, (stuck) 61 in".')
    had_articles: Words = Field(default=(), description='Before each of those: "had (a) 56 in it".')
    joins: Words = Field(default=(), description='Between the name of a jet and its number: "main is a 130".')
    leads: Words = Field(default=(), description='Before a number that may stand for its jet: "the 128 was worse".')
    behind: Words = Field(default=(), description='From the number to what it did: "the 128 was a bit worse".')
    led_by: Words = Field(default=(), description='From what it did to the number: "worse with a 128".')
    names: Words = Field(default=(), description='Names of jets there: "worse with main 128".')
    was: Words = Field(default=(), description='Before the number of the jet that was in it: "was a 128".')
    stock: Words = Field(default=(), description='Beside the number of a jet, it came with it: "stock main is 128".')
    now: Words = Field(default=(), description='Before that of the jet in it now: "is a 125", "now 125".')
    tries: Words = Field(default=(), description='Before several sizes, none of them was in it: "tried 42 and 48".')
    advised: Words = Field(default=(), description='Before the turns of a screw, they are advice: "says", "should".')
    than: Words = Field(default=(), description='Before the size it is set against: "worse than the 125".')
    plain: Words = Field(default=(), description='Jets are spoken of: "the kit has three jets".')
    of_one: Words = Field(default=(), description='Of those, the ones beside the number of a jet: "an 82 jet".')
    back_again: Words = Field(default=(), description='Behind the old size: "put the 130 (back)".')
    of_two: Words = Field(default=(), description='Before two numbers, or behind, of jets: "(jets) are 42 and 162".')
    book_gives: Words = Field(default=(), description='Before the number of a jet that the book gives: "book says".')
    other_jets: Words = Field(default=(), description='Before those, it is another jet: "needle jet".')
    no_jets: Words = Field(default=(), description='Behind a number, it is none of a jet: "95 mph".')
    leads_alone: Words = Field(default=(), description='Before the number of a jet that nothing names: "the 128".')
    in_it: Words = Field(default=(), description='Right behind its number, the one in it: "a 112 in it".')
    has_in: Words = Field(default=(), description='Before its number, the one in it: "mine has a 112".')
    ran_lean: Words = Field(default=(), description='Behind its number, it ran dangerously lean: "the 118 seized".')
    best: Words = Field(default=(), description='Behind its number, no other was better: "best yet".')
    bought: Words = Field(default=(), description='Before its number, one that lies ready: "bought a 172".')
    not_fitted: Words = Field(default=(), description='Behind its number, one that is not in it: "not fitted yet".')
    has: Words = Field(default=(), description='Before its number, where it lies ready behind: "(have) a 40 here".')
    for_other_air: Words = Field(default=(), description="Behind the book's number, it is for another case.")


class DeedWords(Frozen):
    """The verbs, verdicts and small words from which deeds and looks are put together with the parts of the records."""

    verbs: dict[Id, PhraseList] = Field(default={}, description="Kinds of doing, each with its verbs.")
    looking: Id = Field(default="", description="The kind that only looks: with it alone, a part is as it should.")
    ends_with: Words = Field(default=(), description='Before a past form, it was done, and ended the trouble: "until".')
    well: Words = Field(default=(), description='Before those words, the deed brought it on: "fine until I".')
    never: Words = Field(default=(), description='Of a trouble, too: "it never surged until I".')
    not_so: Words = Field(default=(), description='Likewise, of the trouble told: "it had not done that until I".')
    after: Words = Field(default=(), description='Before a deed, it came before the one named first: "after cleaning".')
    runs: Words = Field(default=(), description='Behind those, the deed was the cure: "it never started until I".')
    none: Words = Field(default=(), description='Before a word for trouble, too: "no problem with it until I".')
    troubles: Words = Field(default=(), description="Words for trouble, behind those.")
    replacing: Id = Field(default="", description="The kind that puts a new part in the place of the old one.")
    adjectives: tuple[Id, ...] = Field(default=(), description='Kinds that are no verbs: "new plug".')
    another: Id = Field(default="", description='Of those, the kind of a part of another make: "aftermarket coil".')
    verdicts: dict[Id, PhraseList] = Field(default={}, description="Kinds of verdict on a part.")
    good: Id = Field(default="", description="The kind of verdict that a part is as it should be.")
    opposites: dict[Id, Id] = Field(default={}, description='What a denied verdict says: "not blocked" is clear.')
    not_parts: PhraseList = Field(default=(), description='What is another thing than the part in it: "plug socket".')
    bare: Words = Field(default=(), description="Forms that may be advice: they count as done only where it shows.")
    not_verbs: Words = Field(default=(), description='Words that only look like a verb above: "setting".')
    present_ending: str = Field(default="s", description="The ending of a form that tells what is, not what was done.")
    asked_if: Words = Field(
        default=(), description='At the end of a question that a deed begins, it asks of a plan: "going to 135 ok?".'
    )
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
    stock: Words = Field(default=(), description='Before `all_but`: "all (stock) but a pipe".')
    all_but: Words = Field(default=(), description='Behind those, before a part that is not: "all stock (but) a pipe".')
    only_mods: Words = Field(default=(), description='Before a part, or behind it: "a pipe is the (only mod)".')
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
    again: Words = Field(default=(), description='It was moved once more the same way: "another", "one more".')
    again_by: Words = Field(default=(), description='Behind that, besides amounts, what it was moved by: "washer".')
    again_alone: Words = Field(default=(), description='Of those words, the ones that need no amount: "one more".')
    more: Words = Field(default=(), description='Before an amount, it was moved so much: "another turn".')
    between_both: Words = Field(default=(), description='Between two ways, as amounts: "up on the main and down".')
    other_way: Words = Field(default=(), description='Back the way it came: "the other way".')
    way_leads: Words = Field(default=(), description='Before a way without a name: "(went) a turn out".')
    way_opens: Words = Field(default=(), description='Small words before a way, or such a verb: "so (then) out".')
    way_ends: Words = Field(default=(), description='Small words behind it: "down one (instead)".')
    counted: Words = Field(default=(), description='Numbers in words, as amounts: "down (two)".')
    leads_to_effect: Words = Field(default=(), description='Between a way and what it did: "out (is) better".')
    either_way: Words = Field(default=(), description='It was moved both ways: "one size (either way)".')
    both_ways: Words = Field(default=(), description='Behind a direction, it was moved both ways: "in and out".')
    pair_leads: Words = Field(default=(), description='As "to", between two sizes: "42 then 45".')
    not_of_it: tuple[Id, ...] = Field(default=(), description='Verbs that tell nothing of "it": "put it back".')
    jetted: Words = Field(default=(), description="Before sizes, they were fitted: \"rejetted from 132 to 138 main\".")
    pair_joins: Words = Field(default=(), description='Between two sizes, beside "to" and the words of `came_from`.')
    came_from: Words = Field(default=(), description='Between two sizes, the second is the old one: "instead of".')
    sizes_told: SizesTold = SizesTold()
    fitted_now: Words = Field(default=(), description='Before the second of two sizes, it is the new one: "now a".')
    fitting: tuple[Id, ...] = Field(default=(), description="Verbs that put one part in the place of another.")
    alike: Words = Field(default=(), description="With one of `people`, it is another machine.")
    persons: Words = Field(default=(), description='Between two verbs, the second has its own subject: "I went".')
    fitted_for: Words = Field(default=(), description='Behind such a verb, before the old size: "put a 35 in for the".')
    therefore: Words = Field(default=(), description='Right before a verb, it is no more of a plan: "said two up, so".')
    further: Words = Field(default=(), description='Before what a setting does on its way: "the more I turn it out".')
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


class SwappedOver(Frozen):
    """Words of parts that change places between cylinders: no new one is fitted."""

    verbs: Words = ()
    not_known: Words = Field(default=(), description='Behind it, what comes of it is not known yet: "to see if".')
    parts: dict[Id, Words] = Field(default={}, description="By the check that it is: the parts that are swapped in it.")
    behind: Words = Field(default=(), description='Behind the part; "plugs 1 and 2" needs no more.')
    numbered: Words = Field(default=(), description='Before the number of a cylinder: "coils from (no.) 1 to 2".')
    numbers_joined_by: Words = Field(default=(), description='Between two of those: "plugs 1 (and) 2".')
    which: Words = Field(
        default=(), description='In what came of it, the side or cylinder it is on, which is enough: "stays left".'
    )
    outcomes: dict[Id, Words] = Field(
        default={}, description="What came of it, by the words that follow; the first outcome listed counts."
    )


class PartsNotOn(Frozen):
    """Words beside a part that say that it is not on the machine: on order, wished for, another's, out again."""

    between: Words = Field(default=(), description="All that may stand between the part and these words.")
    not_on: Words = Field(default=(), description='Behind the part: "is (on order)".')
    fitted_after: Words = Field(default=(), description='Behind the part, it is on after all: "pods, (fitted them)".')
    later: Words = Field(default=(), description='Behind it with no comma between: "pods (next week)".')
    wished: Words = Field(default=(), description='Before the part: "(want to get) a pipe".')
    planned: Words = Field(default=(), description='Right before what is done to it: "(might) cut the airbox".')
    before_doing: Words = Field(default=(), description='Likewise, beside `wanted`: "(before i) cut the airbox".')
    wanted: Words = Field(default=(), description='Behind that, it is still to be done: "I (want) this sorted".')
    taken: Words = Field(default=(), description='Before the part: "(took) the pods off".')
    had: Words = Field(default=(), description='Before a stock part: "(had) the stock airbox before".')
    until_then: Words = Field(default=(), description='In that clause, it was on until then: "before that".')
    owners: Words = Field(default=(), description="Others, with machines of their own.")
    owns: Words = Field(default=(), description='Behind those, before the part: "my buddy (has) pods".')
    out_again: Words = Field(default=(), description='Behind the part, in its sentence: "back to all stock".')
