"""Whether the languages of answers fit the knowledge: what is gone, what is not as in English, what is missing."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from carbdiag.answers.language import ENGLISH, languages
from carbdiag.answers.language_files import (
    SHOWN,
    SLOT,
    RecordText,
    Templates,
    read_templates,
    record_texts,
    shown_texts,
)
from carbdiag.errors import Mistake, nearest
from carbdiag.knowledge import Knowledge

#: A caution in short stays one line of a message; other languages need a few letters more than English.
_LONGEST_SHORT: Final = 90


@dataclass(frozen=True)
class Translated:
    """How much of the knowledge a language says: texts translated, of those that an answer can show."""

    code: str
    translated: int
    total: int
    missing: tuple[str, ...]
    """The texts not translated, as kind, id and field."""


def check_languages(k: Knowledge, folder: Path) -> tuple[list[Mistake], list[Translated]]:
    """Every mistake in the answer languages of a folder, and how far each is translated."""
    mistakes: list[Mistake] = []
    coverage: list[Translated] = []
    codes = languages(folder)
    english = read_templates(folder, ENGLISH, mistakes) if codes else None
    shown = dict(shown_texts(k))
    tools = {t.replace("_", " ") for c in k.checks.values() for t in c.tools}
    tools = (tools | {t.replace("_", " ") for a in k.actions.values() for t in a.tools}) - {"none"}
    for code in (c for c in codes if c != ENGLISH):
        templates = read_templates(folder, code, mistakes)
        if english and templates:
            mistakes += _template_mistakes(english, templates, tools, f"languages/answers/{code}.yaml")
        records = record_texts(folder, code, mistakes)
        for (kind, identity, field), (value, file) in records.items():
            mistakes += _record_mistakes(k, shown, kind, identity, field, value, file)
        unnamed = sorted(tools - set(templates.tools if templates else ()))
        missing = (
            *(f"{kind} {i}.{f}" for kind, i, f in shown if (kind, i, f) not in records),
            *(f"tool {name}" for name in unnamed),
        )
        total = len(shown) + len(tools)
        coverage.append(Translated(code, total - len(missing), total, missing))
    return mistakes, coverage


def _template_mistakes(
    english: Templates, templates: Templates, tools: Collection[str], file: str
) -> Iterator[Mistake]:
    for name, text in english.words.items():
        if name not in templates.words:
            yield Mistake(file, f"words.{name}", "is missing", near_text(text))
        elif set(SLOT.findall(text)) != set(SLOT.findall(templates.words[name])):
            yield Mistake(file, f"words.{name}", "must have the slots of the English one", near_text(text))
    for name in templates.words:
        if name not in english.words:
            yield Mistake(file, f"words.{name}", "unknown template", name, nearest(name, english.words))
    for name in templates.tools:
        if name not in tools:
            yield Mistake(file, f"tools.{name}", "no check and no job names this tool", name, nearest(name, tools))
    for n, sentence in enumerate(templates.sentences):
        if not set(SLOT.findall(sentence.to)) <= set(SLOT.findall(sentence.en)):
            rule = "has a slot that its English does not have"
            yield Mistake(file, f"sentences[{n}].to", rule, near_text(sentence.to))


def near_text(text: str) -> str:
    """The beginning of a text, for a message."""
    return text if len(text) <= 60 else f"{text[:59]}…"


def _record_mistakes(
    k: Knowledge,
    shown: Mapping[tuple[str, str, str], RecordText],
    kind: str,
    identity: str,
    field: str,
    value: Any,
    file: str,
) -> Iterator[Mistake]:
    records = getattr(k, SHOWN[kind][0])
    if identity not in records:
        rule = "unknown id: the record is gone or was renamed"
        yield Mistake(file, identity, rule, identity, nearest(identity, records))
        return
    fields = [f for kd, i, f in shown if kd == kind and i == identity]
    given = shown.get((kind, identity, field))
    if given is None:
        yield Mistake(file, f"{identity}.{field}", "no answer shows this field", field, nearest(field, fields))
    elif isinstance(given, tuple) != isinstance(value, list):
        wanted = "a list" if isinstance(given, tuple) else "a text"
        yield Mistake(file, f"{identity}.{field}", f"must be {wanted}, as in English")
    elif isinstance(given, tuple) and len(given) != len(value):
        yield Mistake(file, f"{identity}.{field}", f"must have {len(given)} entries, as in English", str(len(value)))
    elif field == "short" and len(value) > _LONGEST_SHORT:
        yield Mistake(file, f"{identity}.short", f"must have at most {_LONGEST_SHORT} characters", str(len(value)))
