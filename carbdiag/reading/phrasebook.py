"""All phrases of one language, from the records and the language itself, compiled once per Knowledge."""

from __future__ import annotations

import importlib
import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, cast

from carbdiag.errors import KnowledgeError, Mistake
from carbdiag.knowledge import Knowledge, shipped_folder
from carbdiag.reading import parsed_phrases
from carbdiag.reading.deed_book import DeedBook, Entry
from carbdiag.reading.denial_book import DenialBook
from carbdiag.reading.expressions import Expressions
from carbdiag.reading.garbage import no_search_for_garbage
from carbdiag.reading.hearsay_book import HearsayBook
from carbdiag.reading.lexicon import Lexicon
from carbdiag.reading.matcher import Matcher, Meaning, Phrase
from carbdiag.reading.notation import Notation, PhraseError, Segments, joined
from carbdiag.reading.openings import OpeningBook
from carbdiag.reading.order_book import OrderBook
from carbdiag.reading.parsed_phrases import Parsed
from carbdiag.reading.parts_not_on_book import PartsNotOnBook
from carbdiag.reading.ranges_told import RangeBook
from carbdiag.reading.record_phrases import (
    Telling,
    deeds_of,
    phrases_of,
    quantity_meaning,
    spoken_expressions,
)
from carbdiag.reading.spells import Spells
from carbdiag.reading.spoken import TurnBook
from carbdiag.reading.swap_book import SwapBook
from carbdiag.reading.symbols import Reader
from carbdiag.reading.weather_book import WeatherBook
from carbdiag.reading.well_at import WellBook
from carbdiag.reading.wordlist import Listed, any_of, clause_end, one_of
from carbdiag.records.language import Language

#: A slip of the pen: so many letters added, lost, swapped or changed, by the length of the word from which it counts.
_SLIPS = ((10, 2), (6, 1))

#: Kinds of statements that a longer phrase may not make with one word.
_WHOLE = ("finding", "context")
_CHOICE = re.compile(r"([a-z]+ )?\([^\[\]()]+\)")
_SLOTS = re.compile("<[a-z]+>")
_GROUPS = re.compile(r"\{([a-z_0-9]+)\}")
_GAPS = re.compile(r"\.\.\.|&")
_WORDS = re.compile(r"[^\W\d_]+")


class Phrasebook:
    """What is needed to read one language: its words, and its phrases with their meanings."""

    def __init__(self, knowledge: Knowledge, language: Language) -> None:
        self.language, self.limits = language, knowledge.scales.reading
        self.lexicon = Lexicon(language)
        with no_search_for_garbage():
            self._compile_phrases(knowledge)
            self._list_numbers()
            self._list_denials()
            self._list_engine_and_people()
            self._list_deeds_and_effects(knowledge)
            self._list_places_and_air(knowledge)
            self.expressions = Expressions(spoken_expressions(knowledge, language.id))
            self.reader = Reader(self.lexicon, _nearest(language.long_words))

    def _compile_phrases(self, knowledge: Knowledge) -> None:
        language = self.language
        phrases = [*phrases_of(knowledge, language)]
        kept = parsed_phrases.kept(shipped_folder(), parsed_phrases.digest_of(language, phrases), self.lexicon)
        parsed = _parsed_well(phrases, language, self.lexicon) if kept is None else kept.phrases
        compiled, named = _compiled(phrases, parsed)
        self.matcher = Matcher(compiled, kept and kept.lengths)
        did, found = deeds_of(knowledge, language.id)
        self.deeds = DeedBook(
            language.deeds, language.numbers, self.limits, _of_parts(did, named), _of_parts(found, named)
        )

    def _symbols(self, words: Iterable[str]) -> frozenset[str]:
        """The symbols of some words; fillers have none."""
        return frozenset(map(self.lexicon.learn, words)) - {""}

    def _list_numbers(self) -> None:
        language = self.language
        self.least = {quantity_meaning(q): q.least for q in language.quantities}
        self.most = {quantity_meaning(q): q.most for q in language.quantities if q.most is not None}
        self.scale = {quantity_meaning(q): (q.times, q.plus) for q in language.quantities}
        self.like_others = frozenset(quantity_meaning(q) for q in language.quantities if q.like_others)
        self.least_of, self.most_of = language.least, language.most
        bounded = (self.lexicon.slots.get(slot, "") for slot in ("rpm", "span", "distance"))
        self.speeds = frozenset((*bounded, self.lexicon.any_number, *self.lexicon.literals.values()))

    def _list_denials(self) -> None:
        language, negation = self.language, self.language.negation
        self.negators = _any_symbol(map(self.lexicon.learn, negation.words))
        self.not_before, self.turned_words, self.joined_by = map(
            self._symbols, (negation.not_before, negation.turned_words, negation.joined_by)
        )
        self.turned_by, self.conditioned_by, self.doubled = map(
            frozenset[str], (negation.turned_by, negation.conditioned_by, negation.doubled)
        )
        self.denials = DenialBook(language.denials, self.lexicon.learn)
        self.hearsay = HearsayBook(language.hearsay)
        self.turns = TurnBook(language.spoken)
        self.openers = frozenset(language.question_openers)
        self.conditions = frozenset(language.condition_openers)
        self.condition_symbols = self._symbols(language.condition_openers)

    def _list_engine_and_people(self) -> None:
        language = self.language
        self.own_deeds, self.engine_deeds = map(self._symbols, (language.own_deeds, language.engine_deeds))
        self.persons, self.done_to_it, self.people_too, self.people, self.helping_people, self.taken_from = map(
            frozenset[str],
            (
                language.persons, language.done_to_it, language.people_too, language.people, language.helping_people,
                language.taken_from,
            ),
        )  # fmt: skip
        self.compounds = {self.lexicon.learn(head): self._symbols(words) for head, words in language.compounds.items()}
        # words that carry nothing elsewhere are no symbols; they are looked up in the text: "dirt bike"
        self.said_behind = {
            self.lexicon.learn(head): plain
            for head, words in language.compounds.items()
            if (plain := frozenset(w.lower() for w in words if not self.lexicon.learn(w)))
        }
        self.of_another = {
            self.lexicon.learn(thing): self._symbols(words) for thing, words in language.of_another.items()
        }
        self.things = _any_symbol(self.of_another)
        self.heads = _any_symbol((*self.compounds, *self.said_behind))
        self.helped = _any_symbol(map(self.lexicon.learn, language.helped))
        self.helped_by, self.not_helped = frozenset(language.helped_by), frozenset(language.not_helped)
        self.sides, self.nearly, self.opened = map(any_of, (language.sides, language.nearly, language.opened))
        self.kinds_of_screw = frozenset(language.kinds_of_screw)

    def _list_deeds_and_effects(self, knowledge: Knowledge) -> None:
        language = self.language
        self.effect_supposed, self.comparatives, self.names_next, self.partly = map(
            any_of, (language.effect_supposed, language.comparatives, language.names_next, language.partly)
        )
        self.effect_earlier = frozenset(w.lower() for w in language.effect_earlier)
        self.effect_unless, self.plans_end, self.comments, self.goes_on = map(
            frozenset[str], (language.effect_unless, language.plans_end, language.comments, language.goes_on)
        )
        self.effects_spoken = Listed({e: [w.lower() for w in said] for e, said in language.effects_spoken.items()})
        self.clause_openers = Listed({"": [w.lower() for w in language.clause_openers]})
        self.spells = Spells(language.short_lived, language.deeds.well)
        self.swapped_over = SwapBook(language.swapped_over)
        self.parts_not_on = PartsNotOnBook(language.parts_not_on)
        self.order = OrderBook(language.order, self.partly, language.deeds.well, language.deeds.joins)
        circuits, contexts = knowledge.circuits.keys(), knowledge.contexts.values()
        self.rejets = frozenset(d for c in contexts if not circuits.isdisjoint(c.told_by) for d in c.told_by)

    def _list_places_and_air(self, knowledge: Knowledge) -> None:
        language = self.language
        self.openings, self.well_at = OpeningBook(language.openings, language.well_at.good), WellBook(language.well_at)
        bands = {p.id: p.opening[1] for p in knowledge.places.values() if p.opening is not None}
        self.ranges = RangeBook(language.ranges, bands, language.openings.onto)
        self.ends_clause = clause_end(",;:!?\n()/–—", (*language.breaks, *language.strong_breaks, *language.contrasts))
        self.weather = WeatherBook(language.weather, language.set_for)
        self.set_for, self.at_home = map(any_of, (language.set_for, language.at_home))
        self.come_home = any_of(language.height_back)
        self.asked_for, self.of_ones_own = map(any_of, (language.asked_for, language.of_ones_own))
        self.heights = {name.lower(): height for name, height in language.heights_by_name.items()}
        self.height_names = Listed({"": self.heights})
        heights = (language.height_back, language.height_left, language.high_places)
        self.height_back, self.height_left, self.high_places = (Listed({"": words}) for words in heights)
        self.but_better = _but_better(language)
        self.height_here = _numbers_behind(language.height_here)
        self.height_lent = _numbers_behind(language.height_lent)
        self.spec_says = any_of(language.spec_says)
        specs = [c.beside_spec for c in knowledge.checks.values() if c.beside_spec is not None]
        self.measured_parts = {s.smaller: any_of(s.of.get(language.id, ())) for s in specs}
        self.height_set_for = _numbers_behind([f"{w} {at}" for w in language.set_for for at in language.height_set_at])
        self.no_height = any_of(language.no_height)
        self.height_clauses = clause_end(",;:!?\n()", language.height_clause_ends)


def _any_symbol(symbols: Iterable[str]) -> re.Pattern[str]:
    """A pattern of one of some symbols."""
    listed = re.escape("".join({*symbols}))
    return re.compile(f"[{listed}]" if listed else "(?!)")


def phrase_mistakes(knowledge: Knowledge) -> tuple[Mistake, ...]:
    """Every phrase of every language that breaks the notation; needs no matcher.

    A word group that many name and none has is told once, at the group that may be misspelled.
    """
    out: list[Mistake] = []
    for language in knowledge.reading.values():
        found = _parsed(phrases_of(knowledge, language), language, Lexicon(language))[1]
        unused = unused_groups(knowledge, language)
        naming = Counter((m.rule, m.nearest) for m in found)
        for mistake in found:
            near, places = mistake.nearest.strip("{}"), naming[mistake.rule, mistake.nearest]
            if near not in unused or places == 1:
                out.append(mistake)
                continue
            rule = f"no phrase names this word group, and {places} name one that is unknown"
            meant = mistake.rule.partition("{")[2].rstrip("}")
            out.append(Mistake(f"language {language.id}", f"word_groups.{near}", rule, near, meant))
    return tuple(dict.fromkeys(out))


def unused_groups(knowledge: Knowledge, language: Language) -> list[str]:
    """The word groups of a language that no phrase names; what is wrong in one of them would never show."""
    written = [phrase for _, phrase, _ in phrases_of(knowledge, language)]
    written += [phrase for phrases in language.word_groups.values() for phrase in phrases]
    named = {name for phrase in written for name in _GROUPS.findall(phrase)}
    return [name for name in language.word_groups if name not in named]


def prepare(folder: Path) -> list[Path]:
    """Parse the phrases of a folder of knowledge, and write them beside it for `parsed_phrases.kept`.

    Raises:
        KnowledgeError: the knowledge cannot be read, or a phrase breaks the notation.
    """
    knowledge = Knowledge.load(folder)
    written = []
    for language in knowledge.reading.values():
        phrases, lexicon = [*phrases_of(knowledge, language)], Lexicon(language)
        parsed = _parsed_well(phrases, language, lexicon)
        ready = parsed_phrases.Kept(parsed, Matcher(_compiled(phrases, parsed)[0]).lengths)
        written.append(parsed_phrases.keep(folder, parsed_phrases.digest_of(language, phrases), lexicon, ready))
    return written


def _parsed_well(phrases: Iterable[Telling], language: Language, lexicon: Lexicon) -> list[Parsed]:
    parsed, mistakes = _parsed(phrases, language, lexicon)
    if mistakes:
        raise KnowledgeError(mistakes)
    return parsed


def _compiled(phrases: Iterable[Telling], parsed: Iterable[Parsed]) -> tuple[list[Phrase], dict[str, tuple[str, ...]]]:
    """The phrases for the matcher, and the names of the records' parts that each part in them stands for."""
    told = zip((meaning for _, _, meaning in phrases), parsed, strict=True)
    return _one_part_a_place([Phrase(order, meaning, p.acts, p.flows) for meaning, p in told for order in p.orders])


def _parsed(phrases: Iterable[Telling], language: Language, lexicon: Lexicon) -> tuple[list[Parsed], list[Mistake]]:
    notation = Notation(lexicon)
    parsed: list[Parsed] = []
    mistakes = []
    plain = {lexicon.learn(word) for word in language.plain}
    ends = {*language.breaks, *language.strong_breaks, *language.contrasts}
    engine = tuple(f"{{{group}}}" for group in language.engine_groups)
    for where, phrase, meaning in phrases:
        try:
            acts = "{" in phrase and any(group in phrase for group in engine)
            whole = not _GAPS.search(phrase)
            flows = whole and not ends.isdisjoint(_WORDS.findall(phrase))
            flows = flows or (">" in phrase and ">" in _SLOTS.sub("", phrase))
            every = notation.pieces(phrase)
            left = _shrunk(phrase, every[0], plain, lexicon) if meaning.kind in _WHOLE else ""
            if left:
                raise PhraseError(f"can shrink to the one word {left!r}, which stands anywhere: let less be left out")
            parsed.append(Parsed(every, acts, flows))
        except PhraseError as error:
            # what is wrong in a word group is told once, there, and not of every phrase that names it
            broken, field, text = (
                (f"language {language.id}", f"word_groups.{error.group}", error.in_group)
                if error.group
                else (where, "phrases", phrase)
            )
            mistakes.append(Mistake(broken, field, str(error), text, error.nearest))
    return parsed, list(dict.fromkeys(mistakes))


def _shrunk(phrase: str, segments: Segments, plain: set[str], lexicon: Lexicon) -> str:
    """The one word a longer phrase can shrink to; none where that word may state a sign by itself."""
    alone = next((s for s in segments[0][0] if len(s) == 1 and s not in plain), "") if len(segments) == 1 else ""
    if not alone or len(segments[0]) > 1 or _CHOICE.fullmatch(phrase):
        return ""
    words = [word for word in _WORDS.findall(phrase) if not lexicon.is_filler(word)]
    return "" if len(words) < 2 else next((w for w in words if lexicon.learn(w) == alone), lexicon.name_of(alone))


def _one_part_a_place(compiled: list[Phrase]) -> tuple[list[Phrase], dict[str, tuple[str, ...]]]:
    """Phrases with one part for each sequence, however many records name it, and the names each part stands for."""
    names: dict[str, dict[str, None]] = {}
    for phrase in compiled:
        if phrase.meaning.kind == "part":
            for sequence in joined(phrase.segments[0]):
                names.setdefault(sequence, {})[phrase.meaning.record] = None
    sequences: dict[tuple[str, ...], list[str]] = {}
    for sequence, known in names.items():
        sequences.setdefault(tuple(sorted(known)), []).append(sequence)
    named = {str(n): known for n, known in enumerate(sequences)}
    parts = [Phrase(((tuple(found),),), Meaning("part", str(n))) for n, found in enumerate(sequences.values())]
    return [*(phrase for phrase in compiled if phrase.meaning.kind != "part"), *parts], named


def _of_parts(entries: dict[str, list[Entry]], named: dict[str, tuple[str, ...]]) -> dict[str, list[Entry]]:
    of = {part: [entry for name in names for entry in entries.get(name, ())] for part, names in named.items()}
    return {part: list(dict.fromkeys(found)) for part, found in of.items() if found}


def phrasebook(knowledge: Knowledge, language: str) -> Phrasebook:
    """The phrasebook of a language the knowledge has, compiled on first use.

    Raises:
        KnowledgeError: a phrase breaks the notation.
    """
    key = ("phrasebook", language)
    if key not in knowledge.memo:
        knowledge.memo[key] = Phrasebook(knowledge, knowledge.reading[language])
    return cast(Phrasebook, knowledge.memo[key])


def _nearest(long_words: Iterable[str]) -> Callable[[str], str | None]:
    fuzz: Any = importlib.import_module("rapidfuzz")
    by_first: dict[str, list[str]] = {}
    for word in long_words:
        by_first.setdefault(word[0], []).append(word)

    def nearest(word: str) -> str | None:
        for length, slips in _SLIPS:
            if len(word) >= length:
                found = fuzz.process.extractOne(
                    word, by_first.get(word[0], ()), scorer=fuzz.distance.OSA.distance, score_cutoff=slips
                )
                return str(found[0]) if found else None
        return None

    return nearest


def _numbers_behind(words: Sequence[str]) -> re.Pattern[str] | None:
    """A number of a height right behind one of some words, and nothing that makes it another number behind it."""
    if not words:
        return None
    ends = r"(?=\s*(?:$|[,;!?)\n]|\.(?!\d)|(?:and|but|so|now|here|elevation|this|today|these)\b))"
    number = r"(?P<n>\d{1,2},\d{3}|\d{2,5})"
    return re.compile(rf"(?<![\w'])(?:{one_of(words)})\s+(?:about\s+|around\s+)?{number}{ends}")


def _but_better(language: Language) -> re.Pattern[str] | None:
    """What sets it against "the same" or "still" that there is less of it: "but a tiny bit less", "though cleaner"."""
    if not language.comparatives:
        return None
    led = one_of(language.comparatives_led)
    better = one_of(language.comparatives)
    return re.compile(rf"(?<![\w'])(?:{one_of(language.contrasts)})(?:\s+(?:{led}))*\s+(?:{better})(?![\w'])")
