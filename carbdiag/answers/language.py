"""The language of an answer: its templates, and what the records of the knowledge say in it.

`knowledge/languages/answers/<code>.yaml` holds the templates of a language; `knowledge/languages/<code>/<kind>.yaml`
the texts of the records by id and field. English needs no texts: the records themselves are English. A text that is
missing is shown in English.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from carbdiag.answers.language_files import SLOT, RecordText, read_templates, record_texts, shown_texts, templates_of
from carbdiag.errors import CaseError, KnowledgeError, Mistake, Problem, nearest
from carbdiag.knowledge import Knowledge, default_folder, shipped_folder, shipped_knowledge

ENGLISH: Final = "en"

#: Ways to read a sentence that are tried, of those where a name holds the words between two slots.
_MOST_WAYS: Final = 24


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
    return SLOT.sub(lambda slot: str(values[slot[1]]), template)


def languages(folder: Path | None = None) -> tuple[str, ...]:
    """The codes of the languages an answer can be given in, English first."""
    found = {file.stem for file in templates_of(folder or _folder())}
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
    return default_folder() if templates_of(default_folder()) else shipped_folder()


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
    templates = read_templates(folder, code, mistakes)
    records = {k: _whole(v) for k, (v, _) in record_texts(folder, code, mistakes).items()}
    if mistakes or templates is None:
        raise KnowledgeError(mistakes)
    sentences = tuple((tuple(SLOT.split(s.en)), s.to) for s in templates.sentences)
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
