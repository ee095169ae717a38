"""The language of an answer: its templates, and what the records of the knowledge say in it.

`knowledge/languages/answers/<code>.yaml` holds the templates of a language; `knowledge/languages/<code>/<kind>.yaml`
the texts of the records by id and field. English needs no texts: the records themselves are English. A text that is
missing is shown in English.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from pydantic import BaseModel, Field, TypeAdapter, ValidationError

from carbdiag.errors import CaseError, KnowledgeError, Mistake, Problem, nearest
from carbdiag.field_problems import field_problems, with_line, without_followers
from carbdiag.field_types import Id, Text
from carbdiag.frozen import Frozen
from carbdiag.knowledge import Knowledge, default_folder, shipped_folder, shipped_knowledge
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml

ENGLISH: Final = "en"

#: A caution in short stays one line of a message; other languages need a few letters more than English.
_LONGEST_SHORT: Final = 90

#: Kind of record -> the mapping that holds it, and the fields that an answer shows.
SHOWN: Final[Mapping[str, tuple[str, tuple[str, ...]]]] = {
    "actions": ("actions", ("name", "steps", "verify", "put_back")),
    "bands": ("places", ("name",)),
    "causes": ("causes", ("name", "summary", "verify", "workshop")),
    "cautions": ("cautions", ("text", "short")),
    "checks": ("checks", ("name", "do")),
    "circuits": ("circuits", ("name", "step", "richer.do", "leaner.do", "verify", "put_back")),
    "contexts": ("contexts", ("name", "ask")),
    "families": ("families", ("name", "what")),
    "findings": ("findings", ("name", "ask")),
    "groups": ("groups", ("name",)),
    "safety": ("holds", ("name", "why")),
    "uses": ("uses", ("name",)),
}


class Sentence(Frozen):
    """A sentence that the library composes itself, in English and in the language; {x} stands for what varies."""

    en: Text
    to: Text


class Templates(Frozen):
    """The templates of one language."""

    name: Text
    words: dict[Id, Text]
    tools: dict[Text, Text] = Field(default={})
    sentences: tuple[Sentence, ...] = ()


_RECORDS: Final[TypeAdapter[dict[str, dict[str, Any]]]] = TypeAdapter(dict[Id, dict[str, Any]])
#: Ways to read a sentence that are tried, of those where a name holds the words between two slots.
_MOST_WAYS: Final = 24
_SLOT: Final = re.compile(r"\{(\w+)\}")

RecordText = str | tuple[str, ...]


@dataclass(frozen=True, eq=False)
class AnswerLanguage:
    """Templates and record texts of one language."""

    code: str
    words: Mapping[str, str]
    tool_names: Mapping[str, str]
    records: Mapping[tuple[str, str, str], RecordText]
    sentences: tuple[tuple[tuple[str, ...], str], ...]
    """The parts of each English sentence, literal text and slots by turns, and the sentence in this language."""
    of_english: Mapping[str, str]
    """The texts of the records by their English, in small letters."""

    def say(self, template: str, **values: object) -> str:
        """A template filled in."""
        return _fill(self.words[template], values)

    def find(self, kind: str, identity: str | None, field: str) -> str | None:
        """A text of a record in this language, or None where it has none."""
        found = self.records.get((kind, identity or "", field))
        return found if isinstance(found, str) else None

    def text(self, kind: str, identity: str | None, field: str, given: str) -> str:
        """A text of a record, or what the diagnosis gives."""
        return self.find(kind, identity, field) or given

    def texts(self, kind: str, identity: str, field: str, given: tuple[str, ...]) -> tuple[str, ...]:
        """A list of texts of a record, or what the diagnosis gives; one of another length is out of date."""
        found = self.records.get((kind, identity, field))
        return found if isinstance(found, tuple) and len(found) == len(given) else given

    def tools(self, given: tuple[str, ...]) -> str:
        """Tools by name, in the order given."""
        names = (tool.replace("_", " ") for tool in given)
        return ", ".join(self.tool_names.get(name, name) for name in names)

    def sentence(self, english: str) -> str:
        """A text of a record, or a sentence that the library composed, in this language; its varying parts too."""
        known = self._known(english)
        if known is not None:
            return known
        for parts, to in self.sentences:  # one with a part that nobody translated, such as a maker's number
            for values in _fits(parts, english):
                return _fill(to, {slot: self.sentence(value) for slot, value in values.items()})
        return english

    def _known(self, english: str) -> str | None:
        """The text in this language, or None where it is neither a record's nor a sentence of this language."""
        text = self.of_english.get(english.casefold())
        if text is not None:
            return text[:1].lower() + text[1:] if english[:1].islower() and not text[1:2].isupper() else text
        for parts, to in self.sentences:
            for values in islice(_fits(parts, english), _MOST_WAYS):
                said = {slot: self._part(value) for slot, value in values.items()}
                if None not in said.values():
                    return _fill(to, said)
        return None

    def _part(self, value: str) -> str | None:
        return self._known(value) if any(c.isalpha() for c in value) else value


def _fits(parts: Sequence[str], text: str) -> Iterator[dict[str, str]]:
    """The ways in which a text fits a sentence: "between" and "and" may stand in a name too."""
    literal, *rest = parts
    if not text.startswith(literal):
        return
    text = text[len(literal) :]
    if not rest:
        if not text:
            yield {}
        return
    slot, following = rest[0], rest[1]
    at = len(text) if len(rest) == 2 and not following else text.find(following, 1)
    while at > 0:
        for more in _fits(rest[1:], text[at:]):
            yield {slot: text[:at], **more}
        at = text.find(following, at + 1) if following else -1


def _fill(template: str, values: Mapping[str, object]) -> str:
    return _SLOT.sub(lambda slot: str(values[slot[1]]), template)


# ---------------------------------------------------------------------------------------------------------
# Loading


def languages(folder: Path | None = None) -> tuple[str, ...]:
    """The codes of the languages an answer can be given in, English first."""
    found = {file.stem for file in _templates_of(folder or _folder())}
    return tuple(sorted(found, key=lambda code: (code != ENGLISH, code)))


@cache
def answer_language(code: str) -> AnswerLanguage:
    """A shipped language.

    Raises:
        CaseError: there is no such language.
        KnowledgeError: its files are broken.
    """
    known = languages()
    if code not in known:
        raise CaseError([Problem("language", f"unknown language {code!r}", code, known, nearest(code, known))])
    return load_language(_folder(), code, shipped_knowledge())


def _folder() -> Path:
    """Where the languages of answers stand: with the knowledge, or, where that has none, with the shipped one."""
    return default_folder() if _templates_of(default_folder()) else shipped_folder()


def load_language(folder: Path, code: str, knowledge: Knowledge | None = None) -> AnswerLanguage:
    """Read one language of a folder of knowledge.

    Args:
        folder: where the languages stand.
        code: which.
        knowledge: whose English texts the sentences may name.

    Raises:
        KnowledgeError: listing every mistake in its files.
    """
    mistakes: list[Mistake] = []
    templates = _read_templates(folder, code, mistakes)
    records = {k: _whole(v) for k, (v, _) in record_texts(folder, code, mistakes).items()}
    if mistakes or templates is None:
        raise KnowledgeError(mistakes)
    sentences = tuple((tuple(_SLOT.split(s.en)), s.to) for s in templates.sentences)
    return AnswerLanguage(
        code,
        MappingProxyType(templates.words),
        MappingProxyType(templates.tools),
        MappingProxyType(records),
        sentences,
        MappingProxyType(_of_english(knowledge, records) if knowledge and code != ENGLISH else {}),
    )


def _of_english(k: Knowledge, records: Mapping[tuple[str, str, str], RecordText]) -> dict[str, str]:
    """The texts of the records by their English in small letters; of two alike the first counts."""
    out: dict[str, str] = {}
    for which, english in shown_texts(k):
        text = records.get(which)
        if isinstance(english, str) and isinstance(text, str):
            out.setdefault(english.casefold(), text)
        elif isinstance(english, tuple) and isinstance(text, tuple) and len(english) == len(text):
            for one, other in zip(english, text, strict=True):
                out.setdefault(one.casefold(), other)
    return out


def _whole(value: Any) -> RecordText:
    return tuple(value) if isinstance(value, list) else str(value)


def _templates_of(folder: Path) -> list[Path]:
    return sorted((folder / "languages" / "answers").glob("*.yaml"))


def _read(folder: Path, file: Path, mistakes: list[Mistake]) -> object:
    try:
        return parse_yaml(file.read_bytes().decode("utf-8"))
    except UnicodeDecodeError:
        mistakes.append(Mistake(_name(folder, file), "file", "must be UTF-8"))
    except YamlRefusedError as error:
        mistakes.append(Mistake(_name(folder, file), "file", error.rule, error.found, line=error.line))
    return None


def _name(folder: Path, file: Path) -> str:
    return str(file.relative_to(folder))


def _read_templates(folder: Path, code: str, mistakes: list[Mistake]) -> Templates | None:
    file = folder / "languages" / "answers" / f"{code}.yaml"
    data = _read(folder, file, mistakes)
    if data is None:
        return None
    try:
        return Templates.model_validate(data)
    except ValidationError as error:
        mistakes.extend(_refused(error, file, _name(folder, file), Templates))
        return None


def _refused(
    error: ValidationError, file: Path, name: str, model: type[BaseModel] | None = None
) -> Iterator[Mistake]:
    text = file.read_text(encoding="utf-8")
    for p in without_followers(field_problems(error.errors(include_url=False), model, "file")):
        yield with_line(Mistake(name, p.field, p.message, p.value, p.nearest, allowed=p.allowed), text)


_Found = dict[tuple[str, str, str], tuple[Any, str]]


def record_texts(folder: Path, code: str, mistakes: list[Mistake]) -> _Found:
    """What the records say in a language: (kind, id, field) -> (text or list of texts, file).

    What is broken is left out and added to the mistakes.
    """
    out: _Found = {}
    for file in sorted((folder / "languages" / code).rglob("*.yaml")):
        name = _name(folder, file)
        kind = file.relative_to(folder / "languages" / code).with_suffix("").parts[0]
        if kind not in SHOWN:
            mistakes.append(Mistake(name, "file", "unknown kind of record", kind, nearest(kind, SHOWN)))
            continue
        data = _read(folder, file, mistakes)
        if data is None:
            continue
        try:
            records = _RECORDS.validate_python(data)
        except ValidationError as error:
            mistakes.extend(_refused(error, file, name))
            continue
        for identity, fields in records.items():
            for field, value in _flat(fields):
                if not _is_text(value):
                    mistakes.append(Mistake(name, f"{identity}.{field}", "must be a text, or a list of texts"))
                elif (kind, identity, field) in out:
                    mistakes.append(Mistake(name, f"{identity}.{field}", "is translated already", identity))
                else:
                    out[kind, identity, field] = (value, name)
    return out


def _is_text(value: object) -> bool:
    if isinstance(value, list):
        return all(isinstance(v, str) and v.strip() for v in value)
    return isinstance(value, str) and bool(value.strip())


def _flat(fields: Mapping[str, Any], head: str = "") -> Iterator[tuple[str, Any]]:
    for name, value in fields.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{head}{name}.")
        else:
            yield f"{head}{name}", value


# ---------------------------------------------------------------------------------------------------------
# Checking


@dataclass(frozen=True)
class Coverage:
    """How much of the knowledge a language says: texts translated, of those that an answer can show."""

    code: str
    translated: int
    total: int
    missing: tuple[str, ...]
    """The texts not translated, as kind, id and field."""


def check_languages(k: Knowledge, folder: Path) -> tuple[list[Mistake], list[Coverage]]:
    """Every mistake in the answer languages of a folder, and how far each is translated."""
    mistakes: list[Mistake] = []
    coverage: list[Coverage] = []
    codes = languages(folder)
    english = _read_templates(folder, ENGLISH, mistakes) if codes else None
    shown = dict(shown_texts(k))
    tools = {t.replace("_", " ") for c in k.checks.values() for t in c.tools}
    tools = (tools | {t.replace("_", " ") for a in k.actions.values() for t in a.tools}) - {"none"}
    for code in (c for c in codes if c != ENGLISH):
        templates = _read_templates(folder, code, mistakes)
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
        coverage.append(Coverage(code, total - len(missing), total, missing))
    return mistakes, coverage


def shown_texts(k: Knowledge) -> Iterator[tuple[tuple[str, str, str], RecordText]]:
    """Every text that an answer can show: (kind, id, field) -> English."""
    for kind, (attribute, fields) in SHOWN.items():
        for identity, record in getattr(k, attribute).items():
            for field in fields:
                value: Any = record
                for step in field.split("."):
                    value = getattr(value, step)
                if value:
                    yield (kind, identity, field), value
    for check in k.checks.values():
        for outcome, record in check.outcomes.items():
            yield ("checks", check.id, f"outcomes.{outcome}.name"), outcome.replace("_", " ")
            yield ("checks", check.id, f"outcomes.{outcome}.means"), record.means


def _template_mistakes(
    english: Templates, templates: Templates, tools: Collection[str], file: str
) -> Iterator[Mistake]:
    for name, text in english.words.items():
        if name not in templates.words:
            yield Mistake(file, f"words.{name}", "is missing", near_text(text))
        elif set(_SLOT.findall(text)) != set(_SLOT.findall(templates.words[name])):
            yield Mistake(file, f"words.{name}", "must have the slots of the English one", near_text(text))
    for name in templates.words:
        if name not in english.words:
            yield Mistake(file, f"words.{name}", "unknown template", name, nearest(name, english.words))
    for name in templates.tools:
        if name not in tools:
            yield Mistake(file, f"tools.{name}", "no check and no job names this tool", name, nearest(name, tools))
    for n, sentence in enumerate(templates.sentences):
        if not set(_SLOT.findall(sentence.to)) <= set(_SLOT.findall(sentence.en)):
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
