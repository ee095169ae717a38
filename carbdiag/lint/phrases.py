"""Phrases that break the notation, records that no phrase can tell, word groups that no phrase names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final, cast

from carbdiag.errors import Mistake
from carbdiag.knowledge import Knowledge
from carbdiag.lint.spots import Spots
from carbdiag.reading.phrasebook import phrase_mistakes, unused_groups
from carbdiag.reading.record_phrases import phrases_of
from carbdiag.records.contexts import Context
from carbdiag.records.findings import Finding

#: The language in which every sign, circumstance and outcome has its phrases.
_COMPLETE_IN: Final = "en"


def without_phrases(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Records that a post can never mention, in the language that is kept complete."""
    if _COMPLETE_IN not in k.reading:
        return
    rule = "no English phrases: a post can never say this"
    for kind, records in (("findings", k.findings), ("contexts.yaml", k.contexts)):
        for record in cast(Mapping[str, Finding | Context], records).values():
            by_move = isinstance(record, Context) and record.told_by_move
            if not record.phrases.get(_COMPLETE_IN) and not by_move:
                yield spot.mistake(kind, record.id, "phrases", rule)
    for check in k.checks.values():
        for outcome in check.outcomes:
            if not check.phrases.get(_COMPLETE_IN, {}).get(outcome):
                yield spot.mistake("checks", check.id, f"phrases.{_COMPLETE_IN}.{outcome}", rule)


def unused_word_groups(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Word groups that no phrase names, whose own mistakes would never show."""
    for language in k.reading.values():
        for group in unused_groups(k, language):
            yield spot.mistake("reading", language.id, f"word_groups.{group}", "no phrase uses it", words=f"  {group}:")


#: How a phrase names the kind of record it stands in -> where such records are kept.
_KEPT_IN: Final = {
    "finding": "findings", "check": "checks", "action": "actions", "circuit": "circuits", "family": "families",
    "context": "contexts.yaml", "use": "uses.yaml", "language": "reading",
}  # fmt: skip


def broken_phrases(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Phrases that break the notation, each with the file and line it stands in."""
    for mistake in phrase_mistakes(k):
        kind, _, identity = mistake.file.partition(" ")
        yield spot.mistake(
            _KEPT_IN[kind], identity, mistake.field, mistake.rule, mistake.found, near=mistake.nearest,
            words=mistake.found,
        )


def contradicting_phrases(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Phrases of one record that tell two things of it: there and not there, or two outcomes."""
    for language in k.reading.values():
        first: dict[tuple[str, str], str] = {}
        for where, phrase, meaning in phrases_of(k, language):
            kind, _, identity = where.partition(" ")
            if kind not in ("finding", "context", "check", "circuit"):
                continue
            other = first.setdefault((where, phrase), meaning.more)
            if other != meaning.more:
                one, two = (more or "present" for more in (other, meaning.more))
                rule = f"the same phrase tells {one} and {two}"
                yield spot.mistake(_KEPT_IN[kind], identity, f"phrases.{language.id}", rule, phrase, words=phrase)
