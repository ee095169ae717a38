"""All phrases of one language, from the records and the language itself, compiled once per Knowledge."""

from __future__ import annotations

import importlib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
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
from carbdiag.reading.order import OrderBook
from carbdiag.reading.parsed_phrases import Parsed
from carbdiag.reading.spells import Spells
from carbdiag.reading.spoken import TurnBook
from carbdiag.reading.swap_book import SwapBook
from carbdiag.reading.symbols import Reader
from carbdiag.reading.weather_book import WeatherBook
from carbdiag.reading.well_at import WellBook
from carbdiag.reading.wordlist import Listed, any_of
from carbdiag.records.language import Language
from carbdiag.records.phrases import Deed, PastDeed
from carbdiag.records.place_words import Quantity

#: A slip of the pen: so many letters added, lost, swapped or changed, by the length of the word from which it counts.
_SLIPS = ((10, 2), (6, 1))

#: What a post states of the machine or its air in words alone, by the fields of a language.
_FACTS = (
    "strokes", "strokes_hinted", "cylinders", "carburetors", "cooling", "fuel_feed", "oiling", "mixture_screw",
    "elevation_m",
)  # fmt: skip


#: Where a phrase stands, the phrase, what it means.
_Told = tuple[str, str, Meaning]
#: Kinds of statements that a longer phrase may not make with one word.
_WHOLE = ("finding", "context")
_CHOICE = re.compile(r"([a-z]+ )?\([^\[\]()]+\)")
_SLOTS = re.compile("<[a-z]+>")
_GAPS = re.compile(r"\.\.\.|&")
_WORDS = re.compile(r"[^\W\d_]+")


class Phrasebook:
    """What is needed to read one language: its words, and its phrases with their meanings."""

    def __init__(self, knowledge: Knowledge, language: Language) -> None:
        self.language = language
        self.lexicon = Lexicon(language)
        with no_search_for_garbage():
            self._compile(knowledge, language)

        self.openings, self.well_at = OpeningBook(language.openings, language.well_at.good), WellBook(
            language.well_at
        )

    def _compile(self, knowledge: Knowledge, language: Language) -> None:
        phrases = [*phrases_of(knowledge, language)]
        kept = parsed_phrases.kept(shipped_folder(), parsed_phrases.digest_of(language, phrases), self.lexicon)
        parsed = _parsed_well(phrases, language, self.lexicon) if kept is None else kept.phrases
        compiled, named = _compiled(phrases, parsed)
        self.matcher = Matcher(compiled, kept and kept.lengths)
        self.negators = _any_symbol(map(self.lexicon.learn, language.negation.words))
        self.not_before = frozenset(self.lexicon.learn(w) for w in language.negation.not_before) - {""}
        self.turned_words = frozenset(self.lexicon.learn(w) for w in language.negation.turned_words) - {""}
        denials = language.negation
        self.turned_by, self.conditioned_by, self.doubled, self.effect_unless, self.taken_from, self.plans_end = map(
            frozenset[str],
            (
                denials.turned_by, denials.conditioned_by, denials.doubled,
                language.effect_unless, language.taken_from, language.plans_end,
            ),
        )  # fmt: skip
        self.joined_by = frozenset(self.lexicon.learn(w) for w in language.negation.joined_by) - {""}
        self.least = {_quantity(q): q.least for q in language.quantities}
        self.most = {_quantity(q): q.most for q in language.quantities if q.most is not None}
        self.scale = {_quantity(q): (q.times, q.plus) for q in language.quantities}
        self.like_others = frozenset(_quantity(q) for q in language.quantities if q.like_others)
        self.openers = frozenset(language.question_openers)
        did, found = _deeds(knowledge, language.id)
        self.deeds = DeedBook(language.deeds, language.numbers, _of_parts(did, named), _of_parts(found, named))
        self.turns = TurnBook(language.spoken)
        self.least_of, self.most_of = language.least, language.most
        bounded = (self.lexicon.slots.get(slot, "") for slot in ("rpm", "span", "distance"))
        self.speeds = frozenset((*bounded, self.lexicon.any_number, *self.lexicon.literals.values()))
        self.own_deeds = frozenset(self.lexicon.learn(w) for w in language.own_deeds) - {""}
        self.engine_deeds = frozenset(self.lexicon.learn(w) for w in language.engine_deeds) - {""}
        self.effect_supposed, self.comparatives, self.names_next = map(
            any_of, (language.effect_supposed, language.comparatives, language.names_next)
        )
        self.spells = Spells(language.short_lived, language.deeds.well)
        self.persons, self.done_to_it, self.people_too, self.people, self.helping_people = map(
            frozenset[str],
            (
                language.persons, language.done_to_it,
                language.people_too, language.people, language.helping_people,
            ),
        )  # fmt: skip
        self.compounds = {
            self.lexicon.learn(head): frozenset(self.lexicon.learn(w) for w in words) - {""}
            for head, words in language.compounds.items()
        }
        # words that carry nothing elsewhere are no symbols; they are looked up in the text: "dirt bike"
        self.said_behind = {
            self.lexicon.learn(head): plain
            for head, words in language.compounds.items()
            if (plain := frozenset(w.lower() for w in words if not self.lexicon.learn(w)))
        }
        self.heads = _any_symbol((*self.compounds, *self.said_behind))
        self.helped = _any_symbol(map(self.lexicon.learn, language.helped))
        self.helped_by, self.not_helped = frozenset(language.helped_by), frozenset(language.not_helped)
        self.conditions = frozenset(language.condition_openers)
        self.condition_symbols = frozenset(self.lexicon.learn(w) for w in language.condition_openers) - {""}
        self.effects_spoken = Listed({e: [w.lower() for w in said] for e, said in language.effects_spoken.items()})
        self.comments = frozenset(language.comments)
        self.goes_on = frozenset(language.goes_on)
        self.clause_openers = Listed({"": [w.lower() for w in language.clause_openers]})
        self.heights = {name.lower(): height for name, height in language.heights_by_name.items()}
        self.height_names = Listed({"": self.heights})
        self.kinds_of_screw = frozenset(language.kinds_of_screw)
        self.sides, self.set_for, self.at_home, self.nearly, self.partly, self.opened = map(
            any_of,
            (language.sides, language.set_for, language.at_home, language.nearly, language.partly, language.opened),
        )
        self.swapped_over, self.weather, self.denials = (
            SwapBook(language.swapped_over), WeatherBook(language.weather),
            DenialBook(language.denials, self.lexicon.learn),
        )  # fmt: skip
        heights = (language.height_back, language.height_left, language.high_places)
        self.height_back, self.height_left, self.high_places = (Listed({"": words}) for words in heights)
        self.order, self.hearsay = OrderBook(language.order, self.partly), HearsayBook(language.hearsay)
        circuits, contexts = knowledge.circuits.keys(), knowledge.contexts.values()
        self.rejets = frozenset(d for c in contexts if not circuits.isdisjoint(c.told_by) for d in c.told_by)
        self.expressions = Expressions(_spoken(knowledge, language.id))
        self.reader = Reader(self.lexicon, _nearest(language.long_words))


def _any_symbol(symbols: Iterable[str]) -> re.Pattern[str]:
    """A pattern of one of some symbols."""
    listed = re.escape("".join({*symbols}))
    return re.compile(f"[{listed}]" if listed else "(?!)")


def phrase_mistakes(knowledge: Knowledge) -> tuple[Mistake, ...]:
    """Every phrase of every language that breaks the notation; needs no matcher."""
    found = (_parsed(phrases_of(knowledge, of), of, Lexicon(of))[1] for of in knowledge.reading.values())
    return tuple(mistake for mistakes in found for mistake in mistakes)


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


def _parsed_well(phrases: Iterable[_Told], language: Language, lexicon: Lexicon) -> list[Parsed]:
    parsed, mistakes = _parsed(phrases, language, lexicon)
    if mistakes:
        raise KnowledgeError(mistakes)
    return parsed


def _compiled(phrases: Iterable[_Told], parsed: Iterable[Parsed]) -> tuple[list[Phrase], dict[str, tuple[str, ...]]]:
    """The phrases for the matcher, and the names of the records' parts that each part in them stands for."""
    told = zip((meaning for _, _, meaning in phrases), parsed, strict=True)
    return _one_part_a_place([Phrase(order, meaning, p.acts, p.flows) for meaning, p in told for order in p.orders])


def _parsed(phrases: Iterable[_Told], language: Language, lexicon: Lexicon) -> tuple[list[Parsed], list[Mistake]]:
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
            mistakes.append(Mistake(where, "phrases", str(error), phrase))
    return parsed, mistakes


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


def _quantity(quantity: Quantity) -> Meaning:
    least = "like others" if quantity.like_others else "" if quantity.least is None else f"{quantity.least:g}"
    return Meaning("quantity", quantity.fact, least if quantity.times == 1 else f"{least} times {quantity.times:g}")


def _spoken(k: Knowledge, code: str) -> Iterator[tuple[str, Meaning]]:
    for context in k.contexts.values():
        for expression in context.spoken.get(code, ()):
            yield expression, Meaning("context", context.id)
    for check in k.checks.values():
        for outcome, expressions in check.spoken.get(code, {}).items():
            yield from ((expression, Meaning("check", check.id, outcome)) for expression in expressions)
    for use in k.uses.values():
        for expression in use.spoken.get(code, ()):
            yield expression, Meaning("fact", "use", use.id)
    for family in k.families.values():
        for expression in family.spoken.get(code, ()):
            yield expression, Meaning("fact", "family_hinted", family.id)


def _parts(k: Knowledge, code: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The parts that the deeds and looks of the records name, with where they stand."""
    seen: set[str] = set()
    deeds = (
        *((f"action {a.id}", d.to) for a in k.actions.values() for d in a.deeds.get(code, ())),
        *((f"context {c.id}", d.to) for c in k.contexts.values() for d in c.deeds.get(code, ())),
        *((f"check {c.id}", f.of) for c in k.checks.values() for f in c.found.get(code, ())),
        *((f"circuit {c.id}", d.to) for c in k.circuits.values() for ds in c.deeds.get(code, {}).values() for d in ds),
    )
    for where, parts in deeds:
        yield where, tuple(p for p in parts if p not in seen)
        seen.update(parts)


def _deeds(k: Knowledge, code: str) -> tuple[dict[str, list[Entry]], dict[str, list[Entry]]]:
    """What the verbs, and what the verdicts, of each part mean."""
    did: dict[str, list[Entry]] = {}
    found: dict[str, list[Entry]] = {}

    def done(deed: Deed, meaning: Meaning) -> None:
        before = isinstance(deed, PastDeed) and deed.told == "before"
        for part in deed.to:
            did.setdefault(part, []).append(Entry(frozenset(deed.did), meaning, before))

    for action in k.actions.values():
        for deed in action.deeds.get(code, ()):
            done(deed, Meaning("do", action.id))
    for context in k.contexts.values():
        for past in context.deeds.get(code, ()):
            done(past, Meaning("context", context.id))
    for circuit in k.circuits.values():
        for direction, deeds in circuit.deeds.get(code, {}).items():
            for deed in deeds:
                done(deed, Meaning("change", circuit.id, direction))
    for check in k.checks.values():
        for look in check.found.get(code, ()):
            for outcome, kinds in look.outcomes.items():
                for part in look.of:
                    found.setdefault(part, []).append(
                        Entry(frozenset(kinds), Meaning("check", check.id, outcome), False)
                    )
    return did, found


def phrases_of(k: Knowledge, language: Language) -> Iterator[_Told]:
    """Every phrase with where it stands and what it means."""
    code = language.id

    def of(where: str, phrases: Iterable[str], meaning: Meaning) -> Iterator[_Told]:
        return ((where, phrase, meaning) for phrase in phrases)

    for kind, records in (("finding", k.findings), ("context", k.contexts)):
        for record in cast(Mapping[str, Any], records).values():
            yield from of(f"{kind} {record.id}", record.phrases.get(code, ()), Meaning(kind, record.id))
            yield from of(
                f"{kind} {record.id}", record.phrases_against.get(code, ()), Meaning(kind, record.id, "denied")
            )
    for check in k.checks.values():
        for outcome, phrases in check.phrases.get(code, {}).items():
            yield from of(f"check {check.id}", phrases, Meaning("check", check.id, outcome))
        if check.measured is not None:
            yield from of(f"check {check.id}", check.measured.phrases.get(code, ()), Meaning("measured", check.id))
    for action in k.actions.values():
        yield from of(f"action {action.id}", action.phrases.get(code, ()), Meaning("do", action.id))
    for circuit in k.circuits.values():
        for direction, phrases in circuit.phrases.get(code, {}).items():
            yield from of(f"circuit {circuit.id}", phrases, Meaning("change", circuit.id, direction))
    for family in k.families.values():
        yield from of(f"family {family.id}", family.phrases.get(code, ()), Meaning("fact", "family", family.id))
    for use in k.uses.values():
        yield from of(f"use {use.id}", use.phrases.get(code, ()), Meaning("fact", "use", use.id))
    for record, parts in _parts(k, code):
        yield from ((record, part, Meaning("part", part)) for part in parts)
    where = f"language {code}"
    for part in language.deeds.not_parts:
        yield where, part, Meaning("part", "")
    for kind, by_kind in (("verb", language.deeds.verbs), ("verdict", language.deeds.verdicts)):
        for name, phrases in by_kind.items():
            yield from of(where, phrases, Meaning(kind, name))
    for effect, phrases in language.effects_beside.items():
        yield from of(where, phrases, Meaning("effect", effect.value, "beside"))
    for effect, phrases in language.effects_brought.items():
        yield from of(where, phrases, Meaning("effect", effect.value, "brought"))
    for effect, phrases in language.effects_alone.items():
        yield from of(where, phrases, Meaning("effect", effect.value, "alone"))
    for effect, phrases in language.effects_pointed.items():
        yield from of(where, phrases, Meaning("effect", effect.value, "pointed"))
    for effect, phrases in language.effects.items():
        yield from of(where, phrases, Meaning("effect", effect.value))
    for place in language.places:
        yield from of(where, place.phrases, Meaning("place", " ".join(place.at), place.beside or ""))
    for kind in ("engine_speed", "load"):
        yield from of(where, getattr(language, kind), Meaning("kept", kind))
    for fact in _FACTS:
        for value, phrases in getattr(language, fact).items():
            yield from of(where, phrases, Meaning("fact", fact, value))
    for quantity in language.quantities:
        yield from of(where, quantity.phrases, _quantity(quantity))
    for cue in type(language.cues).model_fields:
        yield from of(where, getattr(language.cues, cue), Meaning("cue", cue))
    yield from of(where, language.decoys, Meaning("decoy", ""))
    yield from of(where, language.helpers, Meaning("helper", ""))
    yield from of(where, language.asking_why, Meaning("cue", "why"))
