"""Load the YAML, have the whole set cross-checked, and hold it as one immutable Knowledge."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, cast

from pydantic import ValidationError

from carbdiag.case_schema import Case
from carbdiag.cross_check import cross_check
from carbdiag.errors import CaseError, KnowledgeError, Mistake, Problem, must_be, nearest
from carbdiag.field_problems import field_problems, refused_yaml
from carbdiag.knowledge_files import DEMO, WORKED_CASES, Records
from carbdiag.prepared import Prepared, prepared_for, record_files
from carbdiag.record_set import RecordSet, families_with
from carbdiag.records.applies import Applies
from carbdiag.records.cases import WorkedCase
from carbdiag.records.quiz import QuizRules
from carbdiag.records.safety import CautionText, SizingOccasion
from carbdiag.records.scales import Scales
from carbdiag.records.sources import KnowledgeInfo
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml


@dataclass(frozen=True, eq=False)
class Knowledge(RecordSet):
    """One consistent set of records, each kind by id in the order of its files; `Knowledge.load` reads it.

    Pass it as `knowledge` to the functions of carbdiag; without it they use the shipped one, read once in a process. It
    is never changed, and may be shared between threads.
    """

    memo: dict[object, object] = field(default_factory=dict, repr=False)
    """Compiled tables, filled on first use. They depend on the records alone, so no answer depends on it."""

    @property
    def edition(self) -> str:
        """The edition every diagnosis carries."""
        return self.info.edition

    @classmethod
    def load(cls, path: str | Path | None = None) -> Knowledge:
        """Load and cross-check a folder of knowledge.

        Args:
            path: the folder; without it, the one named by CARBDIAG_KNOWLEDGE in the environment, else the shipped one.

        Raises:
            KnowledgeError: listing every mistake in every file.
        """
        folder = default_folder() if path is None else Path(path)
        files = record_files(folder)
        if not folder.is_dir():
            raise KnowledgeError([Mistake(str(folder), "folder", "there is no such folder")])
        if not files:
            raise KnowledgeError([Mistake(str(folder), "folder", "holds no YAML files")])
        misnamed = sorted(str(f.relative_to(folder)) for f in folder.rglob("*.yml"))
        if misnamed:
            raise KnowledgeError(Mistake(f, "file", "is not read: its name must end in .yaml") for f in misnamed)
        return _assemble(files, prepared_for(folder) if path is None else Prepared({}))

    def cautions_for(self, ids: Iterable[str]) -> tuple[CautionText, ...]:
        """The cautions with their texts, each once, in the order given."""
        return tuple(self.caution_texts[i] for i in dict.fromkeys(ids))

    def cautions_when(self, *occasions: SizingOccasion) -> Iterator[str]:
        """The cautions that answers which size parts give on these occasions, in their order."""
        for occasion in occasions:
            yield from (c.id for c in self.cautions.values() if occasion in c.sizing)


@cache
def shipped_knowledge() -> Knowledge:
    """The knowledge that carbdiag ships, or of `default_folder`: read once in a process, and never changed."""
    return Knowledge.load()


def the_knowledge(knowledge: Knowledge | None) -> Knowledge:
    """The knowledge that was passed, or the shipped one.

    Raises:
        TypeError: it is something else, such as the name of a folder.
    """
    if knowledge is None:
        return shipped_knowledge()
    must_be(knowledge, Knowledge, "knowledge is a Knowledge: Knowledge.load(folder) reads one")
    return knowledge


def load_worked_cases(path: str | Path | None = None) -> tuple[WorkedCase, ...]:
    """Load the worked cases of a folder of knowledge; whether they fit the rest of it, `carbdiag lint` says.

    Args:
        path: the folder; without it, `default_folder`.

    Raises:
        KnowledgeError: listing every mistake in every file.
    """
    folder = default_folder() if path is None else Path(path)
    read = Records()
    for file in sorted((folder / WORKED_CASES).glob("*.yaml")):
        if file.name != DEMO:
            read.read(str(file.relative_to(folder)), file.read_bytes(), Prepared({}))
    if read.mistakes:
        raise KnowledgeError(read.mistakes)
    return tuple(cast(Mapping[str, WorkedCase], read.by_kind.get(WORKED_CASES, {})).values())


#: The environment variable that names a folder of knowledge to use in place of the shipped one.
FOLDER_SETTING = "CARBDIAG_KNOWLEDGE"


def default_folder() -> Path:
    """The folder that the environment names in CARBDIAG_KNOWLEDGE, or else the knowledge that carbdiag ships."""
    named = os.environ.get(FOLDER_SETTING)
    return Path(named) if named else shipped_folder()


def shipped_folder() -> Path:
    """The knowledge shipped with the package, or the checkout's own in an editable install."""
    packaged = Path(__file__).parent / "_knowledge"
    return packaged if packaged.is_dir() else Path(__file__).parent.parent / "knowledge"


#: The files that every folder of knowledge must have.
_NEEDED = ("knowledge.yaml", "scales.yaml")


def _assemble(files: Mapping[str, bytes], ready: Prepared) -> Knowledge:
    read = Records()
    for file, raw in files.items():
        read.read(file, raw, ready)
    for name in _NEEDED:
        if name not in files:
            read.mistakes.append(Mistake(name, "file", "is missing"))
    if read.mistakes and (read.unreadable or not all(read.by_kind.get(name) for name in _NEEDED)):
        raise KnowledgeError(read.mistakes)
    broken = bool(read.mistakes)

    def of(name: str) -> Mapping[str, Any]:
        return MappingProxyType(read.by_kind.get(name, {}))

    knowledge = Knowledge(
        info=cast(KnowledgeInfo, of("knowledge.yaml")[""]),
        scales=cast(Scales, of("scales.yaml")[""]),
        places=of("bands.yaml"),
        groups=of("groups.yaml"),
        circuits=of("circuits"),
        families=of("families"),
        uses=of("uses.yaml"),
        causes=of("causes"),
        findings=of("findings"),
        checks=of("checks"),
        actions=of("actions"),
        contexts=of("contexts.yaml"),
        temporary_trials=of("temporary_trials.yaml"),
        cautions=of("cautions.yaml"),
        holds=of("safety.yaml"),
        sources=of("sources.yaml"),
        tuning_order=of("tuning_order.yaml"),
        reading=of("reading"),
        caution_texts={
            i: CautionText.trusted(id=i, text=c.text, short=c.short) for i, c in of("cautions.yaml").items()
        },
        quiz=cast(QuizRules | None, of("quiz.yaml").get("")),
        unsafe_steps=of("unsafe_steps.yaml"),
        riders_words=of("riders_words.yaml"),
    )
    cross_check(knowledge, read)
    # beside records that could not be read, only names that are nobody's are surely mistakes
    mistakes = read.mistakes if broken else [*read.mistakes, *read.misfits]
    mistakes = [*mistakes, *read.unknown_names()]
    if mistakes:
        raise KnowledgeError(mistakes)
    return spell_out(knowledge)


# ---------------------------------------------------------------------------------------------------------
# Families


def spell_out(k: Knowledge) -> Knowledge:
    """Name the families wherever a record says which circuits it needs, so that nothing else has to work it out."""

    def named(records: Mapping[str, Any]) -> Mapping[str, Any]:
        return MappingProxyType({identity: _spelled_out(k, record) for identity, record in records.items()})

    return replace(k, causes=named(k.causes), findings=named(k.findings), checks=named(k.checks), memo={})


def _spelled_out(k: Knowledge, record: Any) -> Any:
    named = {
        field: spelled
        for field in ("applies", "asked_of")
        if (spelled := _with_families(k, getattr(record, field, None))) is not None
    }
    return record.model_copy(update=named) if named else record


def _with_families(k: Knowledge, a: Applies | None) -> Applies | None:
    """The same with its families spelled out; None where it names no circuits."""
    if a is None or not (a.circuits or a.without_circuits):
        return None
    families = families_with(k, a)
    everywhere = len(families) == len(k.families)
    return a.model_copy(update={"families": () if everywhere else families})


def family_id(k: Knowledge, word: str) -> str:
    """The family's id for a word riders use for it (`also_called`); any other word comes back as it is."""
    return next((f.id for f in k.families.values() if word in f.also_called), word)


def nearest_family(k: Knowledge, word: str) -> str:
    """The id of the family whose id, name or other name is most like `word`, or an empty string."""
    names = {n: f.id for f in k.families.values() for n in (f.id, *f.also_called)}
    return names.get(nearest(word, names), "")


#: No case is a single word that ends like a file of one.
_A_FILE_NAME = re.compile(r"[^\s{}\[\]:]{1,200}\.(yaml|yml|json)|[A-Za-z]:\\\S{1,200}\.(yaml|yml|json)")


def load_case(text: str) -> Case:
    """Read a case from JSON or YAML text.

    Raises:
        CaseError: the text is neither, or fields are wrong: all of them, each with what is allowed.
    """
    must_be(text, str, "load_case takes the text of a case, not a file: Path(name).read_text() reads one")
    if _A_FILE_NAME.fullmatch(text.strip()):
        raise CaseError([Problem("case", "is the name of a file: pass its text, Path(name).read_text()", text.strip())])
    try:
        return Case.model_validate(parse_yaml(text))
    except YamlRefusedError as error:
        raise CaseError([refused_yaml(error, "case")]) from None
    except ValidationError as error:
        raise CaseError(field_problems(error.errors(include_url=False), Case, "case")) from None
