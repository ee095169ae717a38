"""The files of a folder of knowledge as records, each with where it stands, and every mistake found in them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

from pydantic import ValidationError

from carbdiag.errors import Mistake, nearest
from carbdiag.field_problems import field_problems, with_line
from carbdiag.frozen import Frozen
from carbdiag.prepared import Prepared
from carbdiag.records.actions import Action
from carbdiag.records.bands import Place
from carbdiag.records.cases import WorkedCase
from carbdiag.records.causes import Cause, Group
from carbdiag.records.checks import Check, TemporaryTrial
from carbdiag.records.circuits import Circuit, TuningStage
from carbdiag.records.contexts import Context
from carbdiag.records.families import Family, Use
from carbdiag.records.findings import Finding
from carbdiag.records.language import Language
from carbdiag.records.quiz import QuizRules, RidersWords, UnsafeStep
from carbdiag.records.safety import Caution, Hold
from carbdiag.records.scales import Scales
from carbdiag.records.sources import KnowledgeInfo, Source
from carbdiag.strict_yaml import YamlRefusedError

#: The folder of worked cases, which a diagnosis does not need, and the bare case in it that users copy.
WORKED_CASES = "cases"
DEMO = "demo.yaml"

#: Which file or folder holds which kind of record. A folder holds one record or a list a file, as said.
_LISTS: dict[str, type[Frozen]] = {
    "sources.yaml": Source,
    "bands.yaml": Place,
    "groups.yaml": Group,
    "cautions.yaml": Caution,
    "contexts.yaml": Context,
    "safety.yaml": Hold,
    "temporary_trials.yaml": TemporaryTrial,
    "uses.yaml": Use,
    "tuning_order.yaml": TuningStage,
    "unsafe_steps.yaml": UnsafeStep,
    "riders_words.yaml": RidersWords,
}
_LIST_FOLDERS: dict[str, type[Frozen]] = {
    WORKED_CASES: WorkedCase,
    "findings": Finding,
    "checks": Check,
    "actions": Action,
}
_RECORD_FOLDERS: dict[str, type[Frozen]] = {
    "families": Family,
    "circuits": Circuit,
    "causes": Cause,
    "reading": Language,
}
_SINGLES: dict[str, type[Frozen]] = {
    "knowledge.yaml": KnowledgeInfo,
    "scales.yaml": Scales,
}
#: Without it the knowledge makes no quizzes.
_OPTIONAL_SINGLES: dict[str, type[Frozen]] = {"quiz.yaml": QuizRules}


def record_kinds() -> dict[str, tuple[type[Frozen], bool]]:
    """File or folder name -> (record model, whether a file holds a list); the JSON Schemas follow it."""
    return {
        **{name: (model, False) for name, model in {**_SINGLES, **_OPTIONAL_SINGLES, **_RECORD_FOLDERS}.items()},
        **{name: (model, True) for name, model in {**_LISTS, **_LIST_FOLDERS}.items()},
    }


@dataclass(frozen=True)
class _Place:
    """Where a record stands: its file, and its place in a list."""

    file: str
    index: int | None

    def field(self, path: str) -> str:
        head = "" if self.index is None else f"[{self.index}]"
        return f"{head}.{path}".strip(".") if path else head or "file"


@dataclass
class Records:
    """Records by kind and id, where each stands, and the mistakes found so far."""

    by_kind: dict[str, dict[str, Frozen]] = field(default_factory=dict)
    mistakes: list[Mistake] = field(default_factory=list)
    #: Ids of records that could not be read, and whether there are some of which not even the id is known.
    broken: set[str] = field(default_factory=set)
    unreadable: bool = False
    _places: dict[tuple[str, str], _Place] = field(default_factory=dict)
    _texts: dict[str, bytes] = field(default_factory=dict)

    def mistake(
        self,
        kind: str,
        identity: str,
        path: str,
        rule: str,
        found: str = "",
        near: str = "",
        allowed: tuple[str, ...] = (),
    ) -> None:
        """Add a mistake in a field of a record, with its file and line."""
        place = self._places[kind, identity]
        self._add(Mistake(place.file, place.field(path), rule, found, near, allowed=allowed))

    def known(
        self, kind: str, identity: str, path: str, value: str, allowed: Collection[str], what: str
    ) -> bool:
        """Whether a name in a field of a record is one of those allowed; if not, a mistake is added."""
        if value in allowed:
            return True
        if value in self.broken:
            return False  # its own mistake is told; who names it made none
        self.mistake(kind, identity, path, f"unknown {what}", value, nearest(value, list(allowed)), tuple(allowed))
        return False

    def read(self, file: str, raw: bytes, ready: Prepared) -> None:
        """Add the records of one file; what is wrong with them is added to the mistakes."""
        kinds = record_kinds()
        key = file if file in kinds else file.split("/", maxsplit=1)[0]
        if key not in kinds:
            self.mistakes.append(Mistake(file, "file", "unknown file", file, nearest(key, kinds)))
            return
        model, is_list = kinds[key]
        self._texts[file] = raw
        try:
            data = ready.parsed(file, raw)
        except UnicodeDecodeError as bad:
            line = raw.count(b"\n", 0, bad.start) + 1
            self._cannot_read(Mistake(file, "file", "must be UTF-8", f"byte {raw[bad.start]:#04x}", line=line), is_list)
            return
        except YamlRefusedError as error:
            self._cannot_read(Mistake(file, "file", error.rule, error.found, line=error.line), is_list)
            return
        if is_list and not isinstance(data, list):
            self._cannot_read(Mistake(file, "file", "must be a list of records", line=1), is_list)
            return
        for index, item in enumerate(cast(list[object], data) if is_list else [data]):
            self._take(key, _Place(file, index if is_list else None), item, model)

    def _cannot_read(self, mistake: Mistake, is_list: bool) -> None:
        self.mistakes.append(mistake)
        self.broken.add(Path(mistake.file).stem)
        self.unreadable |= is_list

    def _take(self, key: str, place: _Place, item: object, model: type[Frozen]) -> None:
        kind = self.by_kind.setdefault(key, {})
        try:
            record = model.model_validate(item)
        except ValidationError as error:
            for p in field_problems(error.errors(include_url=False), model):
                self._add(Mistake(place.file, place.field(p.field), p.message, p.value, p.nearest, allowed=p.allowed))
            named = item.get("id") if isinstance(item, dict) else None
            self.broken |= {str(named), Path(place.file).stem}
            self.unreadable |= named is None and place.index is not None
            return
        identity = getattr(record, "id", "")
        if identity in kind:
            self._add(Mistake(place.file, place.field("id"), "this id is taken already", identity))
            return
        if key in _RECORD_FOLDERS and Path(place.file).stem != identity:
            self._add(Mistake(place.file, "id", "must equal the file name", identity, Path(place.file).stem))
        kind[identity] = record
        self._places[key, identity] = place

    def _add(self, mistake: Mistake) -> None:
        self.mistakes.append(with_line(mistake, self._texts[mistake.file].decode("utf-8")))

