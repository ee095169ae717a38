"""Every phrase that the records and a language hold, with what it means in a post."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, cast

from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_book import Entry
from carbdiag.reading.matcher import Meaning
from carbdiag.records.language import Language
from carbdiag.records.phrases import Deed, PastDeed
from carbdiag.records.place_words import Quantity

#: What a post states of the machine or its air in words alone, by the fields of a language.
_FACTS = (
    "strokes", "strokes_hinted", "cylinders", "carburetors", "cooling", "fuel_feed", "oiling", "mixture_screw",
    "elevation_m",
)  # fmt: skip
#: Where a phrase stands, the phrase, what it means.
Telling = tuple[str, str, Meaning]


def phrases_of(k: Knowledge, language: Language) -> Iterator[Telling]:
    """Every phrase of a language with where it stands and what it means."""
    yield from _of_findings_and_contexts(k, language.id)
    yield from _of_looks_and_deeds(k, language.id)
    yield from _of_machines(k, language.id)
    for where, parts in _parts(k, language.id):
        yield from ((where, part, Meaning("part", part)) for part in parts)
    yield from _of_words(language)
    yield from _of_facts(language)


def _telling(where: str, phrases: Iterable[str], meaning: Meaning) -> Iterator[Telling]:
    return ((where, phrase, meaning) for phrase in phrases)


def _of_findings_and_contexts(k: Knowledge, code: str) -> Iterator[Telling]:
    for kind, records in (("finding", k.findings), ("context", k.contexts)):
        for record in cast(Mapping[str, Any], records).values():
            where, against = f"{kind} {record.id}", record.phrases_against.get(code, ())
            yield from _telling(where, record.phrases.get(code, ()), Meaning(kind, record.id))
            yield from _telling(where, against, Meaning(kind, record.id, "denied"))


def _of_looks_and_deeds(k: Knowledge, code: str) -> Iterator[Telling]:
    for check in k.checks.values():
        where = f"check {check.id}"
        for outcome, phrases in check.phrases.get(code, {}).items():
            yield from _telling(where, phrases, Meaning("check", check.id, outcome))
        if check.measured is not None:
            yield from _telling(where, check.measured.phrases.get(code, ()), Meaning("measured", check.id))
    for action in k.actions.values():
        yield from _telling(f"action {action.id}", action.phrases.get(code, ()), Meaning("do", action.id))
    for circuit in k.circuits.values():
        for direction, phrases in circuit.phrases.get(code, {}).items():
            yield from _telling(f"circuit {circuit.id}", phrases, Meaning("change", circuit.id, direction))


def _of_machines(k: Knowledge, code: str) -> Iterator[Telling]:
    for family in k.families.values():
        yield from _telling(f"family {family.id}", family.phrases.get(code, ()), Meaning("fact", "family", family.id))
    for use in k.uses.values():
        yield from _telling(f"use {use.id}", use.phrases.get(code, ()), Meaning("fact", "use", use.id))


def _of_words(language: Language) -> Iterator[Telling]:
    """The words from which deeds, looks and effects are put together."""
    where = _where(language)
    yield from _telling(where, language.deeds.not_parts, Meaning("part", ""))
    for kind, by_kind in (("verb", language.deeds.verbs), ("verdict", language.deeds.verdicts)):
        for name, phrases in by_kind.items():
            yield from _telling(where, phrases, Meaning(kind, name))
    for how, effects in (
        ("beside", language.effects_beside),
        ("brought", language.effects_brought),
        ("alone", language.effects_alone),
        ("pointed", language.effects_pointed),
        ("", language.effects),
    ):
        for effect, phrases in effects.items():
            yield from _telling(where, phrases, Meaning("effect", effect.value, how))


def _of_facts(language: Language) -> Iterator[Telling]:
    """Places, facts and quantities, and the small words that say how something is meant."""
    where = _where(language)
    for place in language.places:
        yield from _telling(where, place.phrases, Meaning("place", " ".join(place.at), place.beside or ""))
    for kind in ("engine_speed", "load"):
        yield from _telling(where, getattr(language, kind), Meaning("kept", kind))
    for fact in _FACTS:
        for value, phrases in getattr(language, fact).items():
            yield from _telling(where, phrases, Meaning("fact", fact, value))
    for quantity in language.quantities:
        yield from _telling(where, quantity.phrases, quantity_meaning(quantity))
    for cue in type(language.cues).model_fields:
        yield from _telling(where, getattr(language.cues, cue), Meaning("cue", cue))
    yield from _telling(where, language.decoys, Meaning("decoy", ""))
    yield from _telling(where, language.helpers, Meaning("helper", ""))
    yield from _telling(where, language.asking_why, Meaning("cue", "why"))


def _where(language: Language) -> str:
    return f"language {language.id}"


def quantity_meaning(quantity: Quantity) -> Meaning:
    """What a phrase with a number means: the fact, and by its bounds and unit which of its quantities."""
    least = "like others" if quantity.like_others else "" if quantity.least is None else f"{quantity.least:g}"
    return Meaning("quantity", quantity.fact, least if quantity.times == 1 else f"{least} times {quantity.times:g}")


def spoken_expressions(k: Knowledge, code: str) -> Iterator[tuple[str, Meaning]]:
    """Every set expression with what it means."""
    for context in k.contexts.values():
        for expression in context.spoken.get(code, ()):
            yield expression, Meaning("context", context.id)
    for finding in k.findings.values():
        for expression in finding.spoken.get(code, ()):
            yield expression, Meaning("finding", finding.id)
    for check in k.checks.values():
        for outcome, expressions in check.spoken.get(code, {}).items():
            yield from ((expression, Meaning("check", check.id, outcome)) for expression in expressions)
    for use in k.uses.values():
        for expression in use.spoken.get(code, ()):
            yield expression, Meaning("fact", "use", use.id)
    for family in k.families.values():
        for expression in family.spoken.get(code, ()):
            yield expression, Meaning("fact", "family_hinted", family.id)
    yield from ((asked, Meaning("fact", "asks_to_use", "yes")) for asked in k.reading[code].asks_to_use)


def deeds_of(k: Knowledge, code: str) -> tuple[dict[str, list[Entry]], dict[str, list[Entry]]]:
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
