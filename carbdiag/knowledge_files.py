"""The files of a folder of knowledge as records, each with where it stands, and every mistake found in them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import cast

from pydantic import ValidationError

from carbdiag.errors import Mistake, nearest
from carbdiag.field_problems import field_problems, way_of, without_followers
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
from carbdiag.strict_yaml import YamlRefusedError, line_of, parse_yaml

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
    """Where a record stands: its file, and in a list its number and, where it can be read, its id."""

    file: str
    index: int | None
    identity: str = ""

    def way(self, path: str) -> str:
        """The steps from the top of the file to a field."""
        return path if self.index is None else f"[{self.index}].{path}"

    def field(self, path: str) -> str:
        """The field as people are told it: in a list, under the id of its record."""
        head = "" if self.index is None else self.identity or f"[{self.index}]"
        return f"{head}.{path}".strip(".") if path else head or "file"


@dataclass(frozen=True)
class _UnknownName:
    """A name that is nobody's, in a field of a record, and what it could be."""

    mistake: Mistake
    allowed: Collection[str]
    home: tuple[str, str] | None


@dataclass
class Records:
    """Records by kind and id, where each stands, and the mistakes found so far."""

    by_kind: dict[str, dict[str, Frozen]] = field(default_factory=dict)
    mistakes: list[Mistake] = field(default_factory=list)
    #: What can be read and does not fit together.
    misfits: list[Mistake] = field(default_factory=list)
    #: Ids of records that could not be read, their kinds, and whether there are some of which not even the id is known.
    broken: set[str] = field(default_factory=set)
    broken_kinds: set[str] = field(default_factory=set)
    unreadable: bool = False
    _places: dict[tuple[str, str], _Place] = field(default_factory=dict)
    _texts: dict[str, bytes] = field(default_factory=dict)
    _unknown: list[_UnknownName] = field(default_factory=list)
    #: The names that records do use.
    _used: set[str] = field(default_factory=set)

    def misfit(self, kind: str, identity: str, path: str, rule: str, found: str = "") -> None:
        """Add what does not fit in a field of a record, with its file and line."""
        self.misfits.append(self._mistake(self._places[kind, identity], path, rule, found))

    def known(
        self,
        kind: str,
        identity: str,
        path: str,
        value: str,
        allowed: Collection[str],
        what: str,
        home: tuple[str, str] | None = None,
    ) -> bool:
        """Whether a name in a field of a record is one of those allowed; if not, a mistake is added.

        Args:
            kind: the file or folder of the record.
            identity: its id.
            path: the field.
            value: the name.
            allowed: what it may be; with a home, name -> the field of that record which gives it.
            what: what it is a name of.
            home: kind and id of the record that gives the names, where they are not the ids of one kind of record.
        """
        if value in allowed:
            self._used.add(value)
            return True
        if value in self.broken:
            return False  # its own mistake is told; who names it made none
        near, listed, rule = nearest(value, list(allowed)), tuple(allowed), f"unknown {what}"
        other = next((called for of, called in _CALLED.items() if value in self.by_kind.get(of, {})), "")
        if other and what in (*_CALLED.values(), "finding or check"):
            near, rule = "", f"is a {other}, and no {what}"
        mistake = self._mistake(self._places[kind, identity], path, rule, value, near, listed)
        self._unknown.append(_UnknownName(mistake, allowed, home))
        return False

    def known_outcome(self, kind: str, identity: str, path: str, outcome: str, check: Check) -> bool:
        """The same for a name of an outcome of a check."""
        fields = {name: f"outcomes.{name}" for name in check.outcomes}
        return self.known(kind, identity, path, outcome, fields, f"outcome of {check.id}", ("checks", check.id))

    def unknown_names(self) -> list[Mistake]:
        """The names that are nobody's: one that several use once, at what it may be the name of if nobody uses that."""
        by_name: dict[tuple[str, str], list[_UnknownName]] = {}
        for unknown in self._unknown:
            by_name.setdefault((unknown.mistake.found, unknown.mistake.nearest), []).append(unknown)
        return [mistake for using in by_name.values() for mistake in self._told_once(using)]

    def _told_once(self, using: list[_UnknownName]) -> list[Mistake]:
        first = using[0].mistake
        giver = next(filter(None, map(self._giver, using)), None) if len(using) > 1 else None
        if giver is not None and first.nearest not in self._used:
            what = first.rule.removeprefix("unknown ")
            rule = f"no record names this {what}, and {len(using)} places name one that is unknown"
            return [self._mistake(*giver, rule, first.nearest, first.found)]
        if len(using) <= _MOST_PLACES:
            return [unknown.mistake for unknown in using]
        return [replace(first, rule=f"{first.rule}, here and in {len(using) - 1} other places")]

    def _giver(self, unknown: _UnknownName) -> tuple[_Place, str] | None:
        """Where the name stands that an unknown one is nearest to."""
        near, allowed = unknown.mistake.nearest, unknown.allowed
        if not near:
            return None
        if unknown.home is not None:
            return self._places[unknown.home], cast(Mapping[str, str], allowed)[near]
        kinds = (kind for kind, records in self.by_kind.items() if near in records and records.keys() == set(allowed))
        return next(((self._places[kind, near], "id") for kind in kinds), None)

    def read(self, file: str, raw: bytes, ready: Prepared) -> None:
        """Add the records of one file; what is wrong with them is added to the mistakes."""
        kinds = record_kinds()
        key = file if file in kinds else file.split("/", maxsplit=1)[0]
        if key not in kinds:
            self.mistakes.append(_stray(file, raw))
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
            identity = item.get("id") if isinstance(item, dict) else None
            named = identity if isinstance(identity, str) else ""
            self._take(key, _Place(file, index if is_list else None, named), item, model)

    def _cannot_read(self, mistake: Mistake, is_list: bool) -> None:
        self.mistakes.append(mistake)
        self.broken.add(Path(mistake.file).stem)
        self.unreadable |= is_list

    def _take(self, key: str, place: _Place, item: object, model: type[Frozen]) -> None:
        kind = self.by_kind.setdefault(key, {})
        try:
            record = model.model_validate(item)
        except ValidationError as error:
            details = error.errors(include_url=False)
            home = _home_of(item) if any(d["type"] == "extra_forbidden" for d in details) else ""
            if home:
                self.mistakes.append(self._mistake(place, "", f"has the fields of what belongs in {home}"))
            else:
                for p in without_followers(field_problems(details, model)):
                    self.mistakes.append(self._mistake(place, p.field, p.message, p.value, p.nearest, p.allowed))
            self.broken |= {place.identity, Path(place.file).stem}
            self.broken_kinds.add(key)
            self.unreadable |= not place.identity and place.index is not None
            return
        identity = getattr(record, "id", "")
        if identity in kind:
            self.mistakes.append(self._mistake(place, "id", "this id is taken already", identity))
            return
        if key in _RECORD_FOLDERS and Path(place.file).stem != identity:
            stem = Path(place.file).stem
            self.mistakes.append(self._mistake(place, "id", "must equal the file name", identity, stem))
            self.broken.add(stem)  # who names it by its file is right
        kind[identity] = record
        self._places[key, identity] = place

    def _mistake(
        self,
        place: _Place,
        path: str,
        rule: str,
        found: str = "",
        near: str = "",
        allowed: tuple[str, ...] = (),
    ) -> Mistake:
        """A mistake in a field of a record, with its line."""
        line = line_of(self._texts[place.file].decode("utf-8"), way_of(place.way(path))) or 1
        return Mistake(place.file, place.field(path), rule, found, near, line, allowed)


def _home_of(item: object) -> str:
    """The file or folder whose records have just these fields; empty where none has."""
    for name, (model, _) in record_kinds().items():
        try:
            model.model_validate(item)
        except ValidationError:
            continue
        return name if name in {**_SINGLES, **_OPTIONAL_SINGLES, **_LISTS} else f"{name}/"
    return ""


def _stray(file: str, raw: bytes) -> Mistake:
    """A file that is none of ours: where it belongs by what it holds, or else what its name may be meant as."""
    try:
        data = parse_yaml(raw.decode("utf-8"))
    except (UnicodeDecodeError, YamlRefusedError):
        data = None
    home = _home_of(data[0] if isinstance(data, list) and data else data)
    if home:
        return Mistake(file, "file", f"has the fields of what belongs in {home}")
    stems = {Path(name).stem: name for name in record_kinds()}
    near = nearest(Path(file).parts[0].removesuffix(".yaml"), stems)
    known = tuple(name if name.endswith(".yaml") else f"{name}/" for name in record_kinds())
    return Mistake(file, "file", "unknown file", nearest=stems.get(near, ""), allowed=known)


#: What a record of a kind is called where its id is taken for that of another.
_CALLED = {
    "causes": "cause", "findings": "finding", "checks": "check", "actions": "action", "circuits": "circuit",
    "families": "family", "contexts.yaml": "context", "uses.yaml": "use", "cautions.yaml": "caution",
    "groups.yaml": "group", "bands.yaml": "place", "safety.yaml": "hold", "temporary_trials.yaml": "temporary trial",
}  # fmt: skip
#: A name that is nobody's is told in so many places one by one; in more, it is told once.
_MOST_PLACES = 3
