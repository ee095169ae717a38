"""Cross-checks of what reading posts goes by: the phrases and deeds of the records, and the words of each language."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from carbdiag.knowledge_files import Records
from carbdiag.record_set import RecordSet
from carbdiag.records.actions import Action
from carbdiag.records.contexts import Context
from carbdiag.records.deed_words import DeedWords
from carbdiag.records.language import Language
from carbdiag.records.phrases import Deed


def cross_check_reading(k: RecordSet, read: Records) -> None:
    """Add every name that is none, in what posts are read by, to the unknown names."""
    _check_phrases(k, read)
    _check_deeds(k, read)
    _check_looks(k, read)
    for language in k.reading.values():
        _check_places(k, language, read)
        _check_kinds(language, read)
        _check_signs(k, language, read)


def _check_phrases(k: RecordSet, read: Records) -> None:
    """The languages, outcomes and directions under which records list their phrases."""
    for key, records in (
        ("findings", k.findings), ("contexts.yaml", k.contexts), ("checks", k.checks), ("actions", k.actions),
        ("circuits", k.circuits), ("families", k.families), ("uses.yaml", k.uses),
    ):  # fmt: skip
        for record in cast(Mapping[str, Any], records).values():
            for name in ("phrases", "phrases_against", "plain", "spoken", "deeds", "found"):
                by_language = getattr(record, name, None)
                for code in by_language if isinstance(by_language, Mapping) else ():
                    read.known(key, record.id, f"{name}.{code}", code, k.reading, "language of posts")
    for check in k.checks.values():
        for name in ("phrases", "spoken"):
            for code, by_outcome in getattr(check, name).items():
                for outcome in by_outcome:
                    read.known_outcome("checks", check.id, f"{name}.{code}.{outcome}", outcome, check)
    for circuit in k.circuits.values():
        for name in ("phrases", "deeds"):
            for code, by_direction in getattr(circuit, name).items():
                for way in by_direction:
                    read.known("circuits", circuit.id, f"{name}.{code}.{way}", way, ("richer", "leaner"), "direction")


def _kinds_of_verb(words: DeedWords) -> dict[str, str]:
    """Kinds of verb, with the field of a language that gives each."""
    by_words = {getattr(words, field): f"deeds.{field}" for field in ("larger", "smaller", "later", "earlier")}
    return {
        **{kind: field for kind, field in by_words.items() if kind},
        **{kind: f"deeds.directions.{kind}" for kind in words.directions},
        **{kind: f"deeds.verbs.{kind}" for kind in words.verbs},
    }


def _kinds_of_verdict(words: DeedWords) -> dict[str, str]:
    return {kind: f"deeds.verdicts.{kind}" for kind in words.verdicts}


def _check_deeds(k: RecordSet, read: Records) -> None:
    """The kinds of verb that records name; a language that could not be read has told its own mistake."""
    kinds = {language.id: _kinds_of_verb(language.deeds) for language in k.reading.values()}
    done: list[tuple[str, str, str, str, Iterable[Deed]]] = [
        *(
            (where, record.id, f"deeds.{code}", code, deeds)
            for where, records in (("actions", k.actions), ("contexts.yaml", k.contexts))
            for record in cast(Mapping[str, Action | Context], records).values()
            for code, deeds in record.deeds.items()
        ),
        *(
            ("circuits", c.id, f"deeds.{code}.{way}", code, deeds)
            for c in k.circuits.values()
            for code, by_way in c.deeds.items()
            for way, deeds in by_way.items()
        ),
    ]
    for where, identity, path, code, deeds in done:
        for n, deed in enumerate(deeds if code in kinds else ()):
            for kind in deed.did:
                read.known(where, identity, f"{path}[{n}].did", kind, kinds[code], "kind of verb", ("reading", code))


def _check_looks(k: RecordSet, read: Records) -> None:
    """The outcomes and kinds of verdict by which checks say what a look at a part gave."""
    kinds = {
        language.id: {**_kinds_of_verb(language.deeds), **_kinds_of_verdict(language.deeds)}
        for language in k.reading.values()
    }
    for check in k.checks.values():
        for code, looks in check.found.items():
            for n, look in enumerate(looks if code in kinds else ()):
                for outcome, said in look.outcomes.items():
                    path = f"found.{code}[{n}].outcomes.{outcome}"
                    read.known_outcome("checks", check.id, path, outcome, check)
                    for kind in said:
                        what, home = "kind of verdict or verb", ("reading", code)
                        read.known("checks", check.id, path, kind, kinds[code], what, home)


def _check_places(k: RecordSet, language: Language, read: Records) -> None:
    """The places that a language has words for."""
    named = {
        **{f"places[{n}].at[{m}]": at for n, words in enumerate(language.places) for m, at in enumerate(words.at)},
        **{f"openings.bare.{word}": at for word, at in language.openings.bare.items()},
        **{f"well_at.denied.{at}": at for at in language.well_at.denied},
        **{
            f"ranges.{what}[{n}].at[{m}]": at
            for what, told in (("points", language.ranges.points), ("parts", language.ranges.parts))
            for n, words in enumerate(told)
            for m, at in enumerate(words.at)
        },
    }
    for path, at in named.items():
        read.known("reading", language.id, path, at, k.places, "place")


def _check_kinds(language: Language, read: Records) -> None:
    """The kinds of verb and verdict, and the word groups, that a language names itself."""
    words, home = language.deeds, ("reading", language.id)
    verbs = _kinds_of_verb(words)
    for name in ("looking", "replacing", "adjectives", "places_changed", "moving", "turning", "not_of_it", "fitting",
                 "may_stand_at", "of_turns"):  # fmt: skip
        listed = getattr(words, name)
        for n, kind in enumerate((listed,) if isinstance(listed, str) else listed):
            path = f"deeds.{name}" if isinstance(listed, str) else f"deeds.{name}[{n}]"
            if kind:
                read.known("reading", language.id, path, kind, verbs, "kind of verb", home)
    adjectives = {kind: f"deeds.adjectives[{n}]" for n, kind in enumerate(words.adjectives)}
    for path, kind in (
        ("deeds.another", words.another),
        *((f"deeds.comparative[{n}]", kind) for n, kind in enumerate(words.comparative)),
    ):
        if kind and adjectives.keys() <= verbs.keys():  # else one of those is misspelled
            read.known("reading", language.id, path, kind, adjectives, "kind of adjective", home)
    verdicts = _kinds_of_verdict(words)
    for path, kind in (
        ("deeds.good", words.good),
        *((f"deeds.opposites.{one}", kind) for one, other in words.opposites.items() for kind in (one, other)),
    ):
        if kind:
            read.known("reading", language.id, path, kind, verdicts, "kind of verdict", home)
    groups = {name: f"word_groups.{name}" for name in language.word_groups}
    for n, group in enumerate(language.engine_groups):
        read.known("reading", language.id, f"engine_groups[{n}]", group, groups, "word group", home)


def _check_signs(k: RecordSet, language: Language, read: Records) -> None:
    """The findings, circumstances and checks that a language names."""
    stated = {**k.findings, **k.contexts, **k.checks}
    for name in ("most", "least", "spoken_least"):
        for record in getattr(language, name):
            read.known("reading", language.id, f"{name}.{record}", record, stated, "finding, circumstance or check")
    for check in sorted(language.looks.one_number):
        read.known("reading", language.id, "looks.one_number", check, k.checks, "check")
    denied = {f"well_at.denied.{at}": finding for at, finding in language.well_at.denied.items()}
    for path, finding in {**denied, "well_at.denied_elsewhere": language.well_at.denied_elsewhere}.items():
        if finding:
            read.known("reading", language.id, path, finding, k.findings, "finding")
