"""The words of deeds of one language, and what each part's verbs and verdicts mean."""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import Enum
from typing import NamedTuple

from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.moves import Moves
from carbdiag.reading.wordlist import any_of, one_of
from carbdiag.records.deed_words import DeedWords, SizesTold
from carbdiag.records.scales import ReadingScale


class How(Enum):
    """Whether something told was done."""

    DONE = "done"
    """Plainly done."""
    NAMED = "named"
    """Said in a form that may be advice as well ("clean the carb"): it counts only where its effect is said."""
    PLANNED = "planned"
    """A plan, a wish or advice."""


class Entry(NamedTuple):
    """What a verb, or a verdict, together with a part means."""

    kinds: frozenset[str]
    meaning: Meaning
    only_before: bool = False
    """A circumstance that holds only when it came before the trouble."""


class Told(NamedTuple):
    """A deed or a finding of a check, as a hit, and how it was told."""

    hit: Hit
    how: How
    before: bool
    """Whether the post says that it came before the trouble ("since I ...", "and now it ...")."""
    by_look: bool = False
    """Told as checked, without a verdict."""
    in_vain: bool = False
    """Told as done in vain ("even with a new plug")."""
    only_before: bool = False
    """A circumstance, and one only when it came before the trouble."""
    brought_on: bool = False
    """All was well until it was done ("ran fine until I cleaned the carb")."""


class SizeBook:
    """The small words around the numbers of jets that no verb goes with."""

    def __init__(self, words: SizesTold) -> None:
        self.joins, self.leads, self.behind = frozenset(words.joins), frozenset(words.leads), frozenset(words.behind)
        self.led_by, self.names, self.than = frozenset(words.led_by), frozenset(words.names), frozenset(words.than)
        self.advised, self.tries = frozenset(words.advised), frozenset(words.tries)
        self.was, self.now, self.stock = frozenset(words.was), frozenset(words.now), frozenset(words.stock)
        self.of_two, names, again = frozenset(words.of_two), one_of(words.names), one_of(words.back_again)
        self.back_again = re.compile(rf"\s+(?:(?:{names})\s+)?(?:{again})(?![\w'])")
        self.book_gives = re.compile(rf"(?<![\w'])(?:{one_of(words.book_gives)})\s+(?P<rest>[^,;!?\n]*)\Z")
        self.plain, self.of_one = any_of(words.plain), frozenset(words.of_one)
        self.other_jets, self.no_jets = frozenset(words.other_jets), frozenset(words.no_jets)
        self.leads_alone = frozenset(words.leads_alone)
        self.in_it, self.has_in = any_of(words.in_it), any_of(words.has_in)
        self.has = frozenset(words.has)
        #: "had 56 in it, stuck 61 in"
        number, article = r"\d{2,3}(?:\.\d)?", rf"(?:(?:{one_of(words.had_articles)})\s+)?"
        there = rf"(?:jet\s+)?(?:{one_of(words.in_it)})"
        self.swapped_in = re.compile(
            rf"(?<!\w)(?:{one_of(words.was)}|has)\s+{article}(?P<old>{number})\s+{there}[\s,;.]+(?:\w+\s+){{0,2}}"
            rf"(?:{one_of(words.puts_in)})\s+{article}(?P<new>{number})\s+(?:in|now|instead)\b"
        ) if words.puts_in else None
        self.bought, self.not_fitted = any_of(words.bought), any_of(words.not_fitted)
        self.best, self.ran_lean = any_of(words.best), any_of(words.ran_lean)
        self.for_other_air = any_of(words.for_other_air)


class DeedBook:
    """The words of deeds of one language, and what each part's verbs and verdicts mean."""

    def __init__(
        self,
        words: DeedWords,
        numbers: Mapping[str, float],
        limits: ReadingScale,
        did: dict[str, list[Entry]],
        found: dict[str, list[Entry]],
    ) -> None:
        self.did, self.found, self.words, self.limits = did, found, words, limits
        #: the parts that can be moved
        self.settings = frozenset(p for p, means in did.items() if any(e.meaning.kind == "change" for e in means))
        self.bare, self.nouns = frozenset(words.bare), frozenset(words.nouns)
        self.asked_if = tuple(f" {words_of}" for words_of in words.asked_if)
        self.same_in_past, self.subjects = frozenset(words.same_in_past), frozenset(words.subjects)
        self.nouns_with_article, self.articles = frozenset(words.nouns_with_article), frozenset(words.articles)
        self.not_done, self.put_back = any_of(words.not_done), any_of(words.put_back)
        self.back_to, self.before_when = tuple(words.back_to), any_of(words.before_when)
        self.not_mine, self.already = frozenset(words.not_mine), frozenset(words.already)
        self.amounts = frozenset(words.amounts)
        self.ends_with, self.well = frozenset(words.ends_with), frozenset(words.well)
        self.never, self.runs = frozenset(words.never), frozenset(words.runs)
        self.not_so, self.after = any_of(words.not_so), frozenset(words.after)
        self.none, self.troubles = frozenset(words.none), frozenset(words.troubles)
        self.differs, self.is_only_mod = _different(words)
        self.new_one, self.list_heads = any_of(words.new_one), any_of(words.list_heads)
        self.operated, self.still_planned = frozenset(words.operated), any_of(words.still_planned)
        self.adjectives = frozenset(words.adjectives)
        self.to, self.done_before_to = frozenset(words.to), frozenset(words.done_before_to)
        self.plans, self.helpers = frozenset(words.plans), frozenset(words.helpers)
        self.plans_ing, self.had = frozenset(words.plans_before_ing), frozenset(words.had_done)
        self.moves, self.moving = Moves(words, numbers, limits), frozenset(words.moving)
        self.only_behind, self.inside = frozenset(words.only_behind), frozenset(words.inside)
        self.not_across, self.parts_when = frozenset(words.not_across), frozenset(words.parts_when)
        self.no_move = frozenset(words.no_move)
        self.asking, self.plans_bare = frozenset(words.asking), frozenset(words.plans_before_bare)
        self.in_vain, self.pronouns = frozenset(words.in_vain), frozenset(words.pronouns)
        self.had_or_would = frozenset(words.had_or_would)
        self.similes, self.determiners = frozenset(words.similes), frozenset(words.determiners)
        self.may_stand_at, self.therefore = frozenset(words.may_stand_at), frozenset(words.therefore)
        self.owners_of, self.people = frozenset(words.owners_of), frozenset(words.people)
        self.tells_effect = frozenset(words.tells_effect)
        self.swapped, self.turning, self.alike = map(frozenset, (words.swapped, words.turning, words.alike))
        self.pair_joins = frozenset((*words.to, *words.came_from, *words.pair_joins))
        self.pair_leads = frozenset((*words.to, *words.came_from, *words.pair_leads))
        self.by = frozenset(words.goes_to) - frozenset(words.fitted_for)
        self.again, self.on_to = _again(words), _on_to(words)
        self.back_to_an_amount = _back_to_an_amount(words, numbers)
        self.further, self.persons = any_of(words.further), frozenset(words.persons)
        self.fitted_for, self.fitted_now = frozenset(words.fitted_for), frozenset(words.fitted_now)
        self.sizes = SizeBook(words.sizes_told)
        self.copulas, self.tells_next = frozenset(words.copulas), frozenset(words.tells_next)
        self.passive = frozenset(words.passive)
        self.led_by, self.not_led_by = frozenset(words.led_by), frozenset(words.not_led_by)
        self.off, self.whole, self.tails = frozenset(words.off), frozenset(words.whole), frozenset(words.tails)
        self.joins, self.not_verbs = frozenset(words.joins), frozenset(words.not_verbs)
        self.skipped = frozenset(words.skipped)
        self.before, self.now = frozenset(words.before), frozenset(words.now)
        self.owners, self.states = frozenset(words.others), frozenset(words.states)
        #: without one of these in its sentence, a deed is the rider's own
        self.tell_whose = self.alike | self.owners | self.owners_of | self.not_mine


def _again(words: DeedWords) -> re.Pattern[str] | None:
    """What says that a setting was moved once more: "another washer", "another .5", "one more"."""
    if not words.again:
        return None
    number, small = r"\d*\.?\d+(?:/\d)?|[¼½¾⅛]", one_of(words.small_amounts)
    amounts = one_of((*words.again_by, *words.amounts, *words.small_amounts))
    by = rf"(?:(?:{number}|{small})\s*(?:a\s+)?)?(?:{amounts})(?![\w'])"
    alone = rf"(?:{one_of(words.again_alone)})(?=\s*(?:$|[,.;:=]|and\b|then\b|it\b|was\b|made\b))"
    again = rf"(?<![\w'])(?:(?:{one_of(words.again)})\s+(?:{by}|{number})|{alone})"
    return re.compile(again, re.IGNORECASE)


def _back_to_an_amount(words: DeedWords, numbers: Mapping[str, float]) -> re.Pattern[str] | None:
    """What says that a setting without sizes was put back: "back to 1 mm", "back to the third"."""
    if not words.back_to:
        return None
    figures = one_of(n for n in (*numbers, *words.grooves) if n.isalpha())
    return re.compile(rf"(?<![\w'])(?:{one_of(words.back_to)})\s+(?:\d|(?:{figures})(?![\w']))")


def _on_to(words: DeedWords) -> re.Pattern[str] | None:
    """What says that a setting went on to a number, at the head of a clause: "to 2: gone", "then to 3 and it ...".

    The whole of it is the number, with the words before it.
    """
    if not words.to or not words.pair_leads:
        return None
    head, to = rf"(?:^|[.,;:!?(]\s+|\n\s*|(?<![\w'])(?:{one_of(words.pair_leads)})\s+)", one_of(words.to)
    number = r"\d{1,2}(?:\.\d{1,2})?(?:\s*/\s*\d)?"
    return re.compile(rf"{head}(?:{to})\s+{number}(?=\s*(?:$|[,;:=)-]|\.(?!\d)|and\b))", re.IGNORECASE)


def _different(words: DeedWords) -> tuple[re.Pattern[str], re.Pattern[str]]:
    """What leads to a part that is not stock, and what follows one: "all stock but a", "is the only mod"."""
    stock, mods, copulas = map(one_of, (words.stock, words.only_mods, words.copulas))
    led = rf"(?:{stock})\s+(?:\w+\s+)?(?:{one_of(words.all_but)})|(?:{mods})(?:\s+(?:{copulas}))*\s*:?"
    small = one_of((*words.copulas, *words.determiners))
    return (
        re.compile(rf"(?<!\w)(?:{led})(?:\s+(?!(?:{stock})\b)[\w-]+){{0,4}}\s+$"),
        re.compile(rf"\s*(?:(?:{small})\s+)*(?:{mods})\b"),
    )
