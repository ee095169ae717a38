"""Load the YAML, cross-check the whole set, and hold it as one immutable Knowledge."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, cast

from pydantic import TypeAdapter, ValidationError

from carbdiag import quiz_records, reading_schema, schema
from carbdiag.errors import KnowledgeError, Mistake, nearest
from carbdiag.prepared import Prepared, prepared_for, record_files
from carbdiag.strict_yaml import YamlRefusedError, line_of, parse_yaml

R = TypeVar("R", bound=schema.Frozen)

#: The folder of worked cases, which a diagnosis does not need, and the bare case in it that users copy.
WORKED_CASES = "cases"
DEMO = "demo.yaml"


@dataclass(frozen=True, eq=False)
class Knowledge:
    """One consistent set of records, each kind by id in the order of its files."""

    info: schema.KnowledgeInfo
    scales: schema.Scales
    places: Mapping[str, schema.Place]
    groups: Mapping[str, schema.Group]
    circuits: Mapping[str, schema.Circuit]
    families: Mapping[str, schema.Family]
    uses: Mapping[str, schema.Use]
    causes: Mapping[str, schema.Cause]
    findings: Mapping[str, schema.Finding]
    checks: Mapping[str, schema.Check]
    actions: Mapping[str, schema.Action]
    contexts: Mapping[str, schema.Context]
    temporary_trials: Mapping[str, schema.TemporaryTrial]
    cautions: Mapping[str, schema.Caution]
    holds: Mapping[str, schema.Hold]
    sources: Mapping[str, schema.Source]
    tuning_order: Mapping[str, schema.TuningStage]
    reading: Mapping[str, reading_schema.Language]
    caution_texts: Mapping[str, schema.CautionText]
    quiz: quiz_records.QuizRules | None = None
    unsafe_steps: Mapping[str, quiz_records.UnsafeStep] = field(default_factory=dict)
    riders_words: Mapping[str, quiz_records.RidersWords] = field(default_factory=dict)
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
            path: the folder; without it, the knowledge that carbdiag ships.

        Raises:
            KnowledgeError: listing every mistake in every file.
        """
        folder = default_folder() if path is None else Path(path)
        files = record_files(folder)
        if not files:
            raise KnowledgeError([Mistake(str(folder), "folder", "holds no YAML files")])
        return _assemble(files, prepared_for(folder) if path is None else Prepared({}))

    def cautions_for(self, ids: Iterable[str]) -> tuple[schema.CautionText, ...]:
        """The cautions with their texts, each once, in the order given."""
        return tuple(self.caution_texts[i] for i in dict.fromkeys(ids))


def load_worked_cases(path: str | Path | None = None) -> tuple[schema.WorkedCase, ...]:
    """Load the worked cases of a folder of knowledge; whether they fit the rest of it, `carbdiag lint` says.

    Args:
        path: the folder; without it, the knowledge that carbdiag ships.

    Raises:
        KnowledgeError: listing every mistake in every file.
    """
    folder = default_folder() if path is None else Path(path)
    mistakes: list[Mistake] = []
    records: dict[str, dict[str, schema.Frozen]] = {}
    for file in sorted((folder / WORKED_CASES).glob("*.yaml")):
        if file.name != DEMO:
            name = str(file.relative_to(folder))
            raw = file.read_bytes()
            _read_file(name, raw, Prepared({}), WORKED_CASES, schema.WorkedCase, True, records, {}, mistakes)
    if mistakes:
        raise KnowledgeError(mistakes)
    return tuple(cast(Mapping[str, schema.WorkedCase], records.get(WORKED_CASES, {})).values())


def default_folder() -> Path:
    """The knowledge shipped with the package, or the checkout's own in an editable install."""
    packaged = Path(__file__).parent / "_knowledge"
    return packaged if packaged.is_dir() else Path(__file__).parent.parent / "knowledge"


# ---------------------------------------------------------------------------------------------------------
# Reading files

#: Which file or folder holds which kind of record. A folder holds one record or a list a file, as said.
_LISTS: dict[str, type[schema.Frozen]] = {
    "sources.yaml": schema.Source,
    "bands.yaml": schema.Place,
    "groups.yaml": schema.Group,
    "cautions.yaml": schema.Caution,
    "contexts.yaml": schema.Context,
    "safety.yaml": schema.Hold,
    "temporary_trials.yaml": schema.TemporaryTrial,
    "uses.yaml": schema.Use,
    "tuning_order.yaml": schema.TuningStage,
    "unsafe_steps.yaml": quiz_records.UnsafeStep,
    "riders_words.yaml": quiz_records.RidersWords,
}
_LIST_FOLDERS: dict[str, type[schema.Frozen]] = {
    WORKED_CASES: schema.WorkedCase,
    "findings": schema.Finding,
    "checks": schema.Check,
    "actions": schema.Action,
}
_RECORD_FOLDERS: dict[str, type[schema.Frozen]] = {
    "families": schema.Family,
    "circuits": schema.Circuit,
    "causes": schema.Cause,
    "reading": reading_schema.Language,
}
_SINGLES: dict[str, type[schema.Frozen]] = {
    "knowledge.yaml": schema.KnowledgeInfo,
    "scales.yaml": schema.Scales,
}
#: Without it the knowledge makes no quizzes.
_OPTIONAL_SINGLES: dict[str, type[schema.Frozen]] = {"quiz.yaml": quiz_records.QuizRules}


def record_kinds() -> dict[str, tuple[type[schema.Frozen], bool]]:
    """File or folder name -> (record model, whether a file holds a list); the JSON Schemas follow it."""
    return {
        **{name: (model, False) for name, model in {**_SINGLES, **_OPTIONAL_SINGLES, **_RECORD_FOLDERS}.items()},
        **{name: (model, True) for name, model in {**_LISTS, **_LIST_FOLDERS}.items()},
    }


@dataclass(frozen=True)
class _Located:
    """Where a record stands: its file, and its place in a list."""

    file: str
    index: int | None

    def steps(self, loc: tuple[int | str, ...]) -> tuple[int | str, ...]:
        """The way to a field of the record from the top of its file."""
        return loc if self.index is None else (self.index, *loc)

    def field(self, path: str) -> str:
        head = "" if self.index is None else f"[{self.index}]"
        return f"{head}.{path}".strip(".") if path else head or "file"


def _assemble(files: Mapping[str, bytes], ready: Prepared) -> Knowledge:
    mistakes: list[Mistake] = []
    records: dict[str, dict[str, schema.Frozen]] = {}
    where: dict[tuple[str, str], _Located] = {}
    kinds = record_kinds()
    for file, raw in files.items():
        key = file if file in kinds else file.split("/")[0] if "/" in file else file
        if key not in kinds:
            mistakes.append(
                Mistake(file, "file", "unknown file", file, nearest(key, kinds))
            )
            continue
        model, is_list = kinds[key]
        _read_file(file, raw, ready, key, model, is_list, records, where, mistakes)
    for name in _SINGLES:
        if name not in records and not any(m.file == name for m in mistakes):
            mistakes.append(Mistake(name, "file", "is missing"))
    if mistakes:
        raise KnowledgeError(mistakes)

    def of(name: str) -> Mapping[str, Any]:
        return MappingProxyType(records.get(name, {}))

    knowledge = Knowledge(
        info=cast(schema.KnowledgeInfo, records["knowledge.yaml"][""]),
        scales=cast(schema.Scales, records["scales.yaml"][""]),
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
            i: schema.CautionText.trusted(id=i, text=c.text, short=c.short) for i, c in of("cautions.yaml").items()
        },
        quiz=cast(quiz_records.QuizRules | None, records.get("quiz.yaml", {}).get("")),
        unsafe_steps=of("unsafe_steps.yaml"),
        riders_words=of("riders_words.yaml"),
    )
    mistakes = list(_cross_check(knowledge, where))
    if mistakes:
        raise KnowledgeError(mistakes)
    return spell_out(knowledge)


def _read_file(
    file: str,
    raw: bytes,
    ready: Prepared,
    key: str,
    model: type[schema.Frozen],
    is_list: bool,
    records: dict[str, dict[str, schema.Frozen]],
    where: dict[tuple[str, str], _Located],
    mistakes: list[Mistake],
) -> None:
    try:
        data = ready.parsed(file, raw)
    except UnicodeDecodeError:
        mistakes.append(Mistake(file, "file", "must be UTF-8"))
        return
    except YamlRefusedError as error:
        mistakes.append(Mistake(file, "file", error.rule, error.found, line=error.line))
        return
    if is_list and not isinstance(data, list):
        mistakes.append(Mistake(file, "file", "must be a list of records", type(data).__name__))
        return
    kind = records.setdefault(key, {})
    for index, item in enumerate(cast(list[object], data) if is_list else [data]):
        place = _Located(file, index if is_list else None)
        try:
            record = model.model_validate(item)
        except ValidationError as error:
            mistakes.extend(_validation_mistakes(error, place, raw.decode("utf-8"), item))
            continue
        identity = getattr(record, "id", "")
        if identity in kind:
            mistakes.append(
                Mistake(file, place.field("id"), "this id is taken already", identity)
            )
            continue
        if key in _RECORD_FOLDERS and Path(file).stem != identity:
            mistakes.append(
                Mistake(file, "id", "must equal the file name", identity, Path(file).stem)
            )
        kind[identity] = record
        where[(key, identity)] = place


def _validation_mistakes(
    error: ValidationError, place: _Located, text: str, item: object
) -> Iterator[Mistake]:
    for detail in error.errors(include_url=False, include_context=True):
        path = _path(detail["loc"])
        rule, near = detail["msg"].removeprefix("Value error, "), ""
        found = detail.get("input")
        if detail["type"] == "extra_forbidden":
            rule = "unknown field"
            found = str(detail["loc"][-1])
            near = nearest(found, _fields_at(place, detail["loc"]))
        elif detail["type"] in ("enum", "literal_error") and isinstance(found, str):
            near = nearest(found, re.findall(r"'([^']+)'", str(detail.get("ctx", {}).get("expected", ""))))
        elif detail["type"] == "missing":
            found = None
        shown = "" if found is None else (str(found) if isinstance(found, str | int | float) else type(found).__name__)
        yield Mistake(place.file, place.field(path), rule, shown[:80], near, line_of(text, place.steps(detail["loc"])))


def _fields_at(place: _Located, loc: tuple[int | str, ...]) -> list[str]:
    model, _ = record_kinds()[place.file if place.file in record_kinds() else place.file.split("/")[0]]
    names: list[str] = []
    stack: list[Any] = [model]
    for step in loc[:-1]:
        if isinstance(step, int):
            continue
        if step in getattr(stack[-1], "model_fields", {}):
            annotation = stack[-1].model_fields[step].annotation
            inner = [a for a in _flatten(annotation) if hasattr(a, "model_fields")]
            if inner:
                stack.append(inner[0])
    for name, info in getattr(stack[-1], "model_fields", {}).items():
        names.append(info.alias or name)
    return names


def _flatten(annotation: Any) -> Iterator[Any]:
    args = getattr(annotation, "__args__", ())
    if not args:
        yield annotation
    for arg in args:
        yield from _flatten(arg)


def _path(loc: Iterable[int | str]) -> str:
    out = ""
    for step in loc:
        out += f"[{step}]" if isinstance(step, int) else f".{step}"
    return out.strip(".")


# ---------------------------------------------------------------------------------------------------------
# Cross-checks over the whole set

_Known = Callable[[str, str, str, str, Collection[str], str], bool]


def _cross_check(  # noqa: PLR0915  one plain list of rules
    k: Knowledge, where: Mapping[tuple[str, str], _Located]
) -> Iterator[Mistake]:
    out: list[Mistake] = []

    def emit(key: str, identity: str, field_path: str, rule: str, found: str, near: str = "") -> None:
        place = where[(key, identity)]
        out.append(Mistake(place.file, place.field(field_path), rule, found, near))

    def known(key: str, identity: str, field_path: str, value: str, allowed: Collection[str], what: str) -> bool:
        if value in allowed:
            return True
        emit(key, identity, field_path, f"unknown {what}", value, nearest(value, list(allowed)))
        return False

    for key, kind in (
        ("causes", k.causes),
        ("findings", k.findings),
        ("checks", k.checks),
        ("actions", k.actions),
        ("circuits", k.circuits),
        ("families", k.families),
        ("contexts.yaml", k.contexts),
        ("uses.yaml", k.uses),
        ("cautions.yaml", k.cautions),
        ("safety.yaml", k.holds),
        ("temporary_trials.yaml", k.temporary_trials),
        ("tuning_order.yaml", k.tuning_order),
        ("unsafe_steps.yaml", k.unsafe_steps),
    ):
        for identity, record in cast(Mapping[str, Any], kind).items():
            for n, citation in enumerate(record.sources):
                known(key, identity, f"sources[{n}].source", citation.source, k.sources, "source")
            for n, caution in enumerate(getattr(record, "cautions", ())):
                known(key, identity, f"cautions[{n}]", caution, k.cautions, "caution")
            applies = getattr(record, "applies", None)
            for n, family in enumerate(applies.families if applies else ()):
                known(key, identity, f"applies.families[{n}]", family, k.families, "family")
            if applies:
                for name in ("circuits", "without_circuits"):
                    for n, c in enumerate(getattr(applies, name)):
                        known(key, identity, f"applies.{name}[{n}]", c, k.circuits, "circuit")
                for name in ("uses", "not_uses"):
                    for n, use in enumerate(getattr(applies, name)):
                        known(key, identity, f"applies.{name}[{n}]", use, k.uses, "use")
                if not families_with(k, applies):
                    emit(key, identity, "applies", "no family is left that this applies to", "")

    for family in k.families.values():
        for state, by_band in family.drivers.items():
            known("families", family.id, f"drivers.{state}", state, k.places, "place")
            for driver in by_band:
                known("families", family.id, f"drivers.{state}.{driver}", driver, k.places, "place")
    for place in k.places.values():
        for driver in place.drivers:
            known("bands.yaml", place.id, f"drivers.{driver}", driver, k.places, "place")
        for n, other in enumerate(place.implies_visited):
            known("bands.yaml", place.id, f"implies_visited[{n}]", other, k.places, "place")
    for finding in k.findings.values():
        for n, at in enumerate(finding.at):
            known("findings", finding.id, f"at[{n}]", at, k.places, "place")
        for n, other in enumerate(finding.narrows):
            known("findings", finding.id, f"narrows[{n}]", other, k.findings, "finding")
    told = {tag for finding in k.findings.values() for tag in finding.tells}
    for key, records in (("findings", k.findings.values()), ("checks", k.checks.values())):
        for record in records:
            if record.presumes is not None:
                known(key, record.id, "presumes", record.presumes, told, "thing that a finding tells")
    for check in k.checks.values():
        for name in ("at", "weak_at"):
            for n, at in enumerate(getattr(check, name)):
                known("checks", check.id, f"{name}[{n}]", at, k.places, "place")
        for n, hold in enumerate(check.held_back_while):
            known("checks", check.id, f"held_back_while[{n}]", hold, k.holds, "hold")
        for group, by_outcome in check.groups.items():
            known("checks", check.id, f"groups.{group}", group, k.groups, "group")
            for outcome in by_outcome:
                known("checks", check.id, f"groups.{group}.{outcome}", outcome, check.outcomes, "outcome")
    for hold_record in k.holds.values():
        for n, at in enumerate(hold_record.when.lean_at):
            known("safety.yaml", hold_record.id, f"when.lean_at[{n}]", at, k.places, "place")
        for n, f in enumerate(hold_record.when.findings):
            known("safety.yaml", hold_record.id, f"when.findings[{n}]", f, k.findings, "finding")
        for n, c in enumerate(hold_record.when.contexts):
            known("safety.yaml", hold_record.id, f"when.contexts[{n}]", c, k.contexts, "context")
        for n, use in enumerate(hold_record.when.uses):
            known("safety.yaml", hold_record.id, f"when.uses[{n}]", use, k.uses, "use")
        for n, c in enumerate(hold_record.when.causes):
            known("safety.yaml", hold_record.id, f"when.causes[{n}]", c, k.causes, "cause")
        for n, a in enumerate(hold_record.actions):
            known("safety.yaml", hold_record.id, f"actions[{n}]", a, k.actions, "action")
    for tried in k.temporary_trials.values():
        if known("temporary_trials.yaml", tried.id, "check", tried.check, k.checks, "check"):
            for effect, outcome in tried.effects.items():
                outcomes = k.checks[tried.check].outcomes
                known("temporary_trials.yaml", tried.id, f"effects.{effect}", outcome, outcomes, "outcome")
    for context in k.contexts.values():
        for group in context.groups:
            known("contexts.yaml", context.id, f"groups.{group}", group, k.groups, "group")
        for n, other in enumerate(context.settled_by):
            known("contexts.yaml", context.id, f"settled_by[{n}]", other, k.contexts, "context")
        for n, moved in enumerate(context.told_by):
            known("contexts.yaml", context.id, f"told_by[{n}]", moved, {**k.circuits, **k.actions}, "setting or repair")
    for circuit in k.circuits.values():
        for at in circuit.strongest_at:
            known("circuits", circuit.id, "strongest_at", at, k.places, "place")
        for way in ("richer", "leaner"):
            known("circuits", circuit.id, f"{way}.action", getattr(circuit, way).action, k.actions, "action")
    for stage in k.tuning_order.values():
        for c in stage.circuits:
            known("tuning_order.yaml", stage.id, "circuits", c, k.circuits, "circuit")
    for family in k.families.values():
        for c in family.circuits:
            known("families", family.id, "circuits", c, k.circuits, "circuit")
        for table in ("shares", "steps"):
            for c, by_place in getattr(family, table).items():
                known("families", family.id, f"{table}.{c}", c, family.circuits, "circuit of this family")
                for at in by_place:
                    known("families", family.id, f"{table}.{c}.{at}", at, k.places, "place")
        for n, band in enumerate(family.published_bands):
            known("families", family.id, f"published_bands[{n}].circuit", band.circuit, family.circuits, "circuit")
            known("families", family.id, f"published_bands[{n}].source", band.source, k.sources, "source")
    taken: dict[str, str] = {}
    for family in k.families.values():
        for n, word in enumerate(family.also_called):
            owner = family.id if word in k.families else taken.setdefault(word, family.id)
            if word in k.families or owner != family.id:
                emit("families", family.id, f"also_called[{n}]", "another family is called so", word)
    for use_record in k.uses.values():
        for family_id in use_record.families:
            known("uses.yaml", use_record.id, f"families.{family_id}", family_id, k.families, "family")
        for group in use_record.groups:
            known("uses.yaml", use_record.id, f"groups.{group}", group, k.groups, "group")
    _check_quiz(k, known)
    for cause in k.causes.values():
        _check_cause(k, cause, known, emit)
    _check_phrases(k, known)
    yield from out


# ---------------------------------------------------------------------------------------------------------
# Families


def families_with(k: Knowledge, applies: schema.Applies) -> tuple[str, ...]:
    """The families a record applies to, by name and by the circuits they have."""
    return tuple(
        f.id
        for f in k.families.values()
        if (not applies.families or f.id in applies.families)
        and (not applies.circuits or set(applies.circuits) & set(f.circuits))
        and not set(applies.without_circuits) & set(f.circuits)
    )


def spell_out(k: Knowledge) -> Knowledge:
    """Name the families wherever a record says which circuits it needs, so that nothing else has to work it out."""

    def named(records: Mapping[str, Any]) -> Mapping[str, Any]:
        return MappingProxyType({identity: _spelled_out(k, record) for identity, record in records.items()})

    return replace(k, causes=named(k.causes), findings=named(k.findings), checks=named(k.checks), memo={})


def _spelled_out(k: Knowledge, record: Any) -> Any:
    a: schema.Applies = record.applies
    if not (a.circuits or a.without_circuits):
        return record
    families = families_with(k, a)
    everywhere = len(families) == len(k.families)
    return record.model_copy(update={"applies": a.model_copy(update={"families": () if everywhere else families})})


def family_id(k: Knowledge, word: str) -> str:
    """The family's id for a word riders use for it (`also_called`); any other word comes back as it is."""
    return next((f.id for f in k.families.values() if word in f.also_called), word)


def nearest_family(k: Knowledge, word: str) -> str:
    """The id of the family whose id, name or other name is most like `word`, or an empty string."""
    names = {n: f.id for f in k.families.values() for n in (f.id, *f.also_called)}
    return names.get(nearest(word, names), "")


def _check_quiz(k: Knowledge, known: _Known) -> None:
    for step in k.unsafe_steps.values():
        known("unsafe_steps.yaml", step.id, "caution", step.caution, k.cautions, "caution")
    for words in k.riders_words.values():
        known("riders_words.yaml", words.id, "id", words.id, k.findings, "finding")
    for at in k.quiz.place_words if k.quiz else ():
        known("quiz.yaml", "", f"place_words.{at}", at, k.places, "place")
    for n, c in enumerate(k.quiz.no_fault if k.quiz else ()):
        known("quiz.yaml", "", f"no_fault[{n}]", c, k.causes, "cause")


def _check_phrases(k: Knowledge, known: _Known) -> None:
    for check in k.checks.values():
        for language, by_outcome in check.phrases.items():
            for outcome in by_outcome:
                known("checks", check.id, f"phrases.{language}.{outcome}", outcome, check.outcomes, "outcome")
    for circuit in k.circuits.values():
        for language, by_direction in circuit.phrases.items():
            for direction in by_direction:
                known("circuits", circuit.id, f"phrases.{language}", direction, ("richer", "leaner"), "direction")
    _check_deeds(k, known)
    for spoken in k.reading.values():
        for n, named in enumerate(spoken.places):
            for m, at in enumerate(named.at):
                known("reading", spoken.id, f"places[{n}].at[{m}]", at, k.places, "place")


def _check_deeds(k: Knowledge, known: _Known) -> None:
    """The kinds of verbs and verdicts that records name must be among those of the language."""
    kinds = {
        code: (*words.verbs, *words.directions, words.larger, words.smaller, words.later, words.earlier)
        for code, words in ((code, language.deeds) for code, language in k.reading.items())
    }
    verdicts = {code: tuple(of.deeds.verdicts) for code, of in k.reading.items()}
    done: list[tuple[str, str, Mapping[str, Iterable[schema.Deed]]]] = [
        *(("actions", a.id, a.deeds) for a in k.actions.values()),
        *(("contexts.yaml", c.id, c.deeds) for c in k.contexts.values()),
        *(
            ("circuits", c.id, {code: [d for deeds in by.values() for d in deeds] for code, by in c.deeds.items()})
            for c in k.circuits.values()
        ),
    ]
    for where, identity, deeds in done:
        for code, listed in deeds.items():
            for n, deed in enumerate(listed):
                for kind in deed.did:
                    known(where, identity, f"deeds.{code}[{n}].did", kind, kinds.get(code, ()), "kind of verb")
    for circuit in k.circuits.values():
        for code, by in circuit.deeds.items():
            for direction in by:
                known("circuits", circuit.id, f"deeds.{code}", direction, ("richer", "leaner"), "direction")
    for check in k.checks.values():
        for code, by_outcome in check.spoken.items():
            for outcome in by_outcome:
                known("checks", check.id, f"spoken.{code}", outcome, check.outcomes, "outcome")
        for code, looks in check.found.items():
            allowed = (*verdicts.get(code, ()), *kinds.get(code, ()))
            for n, look in enumerate(looks):
                field = f"found.{code}[{n}].outcomes"
                for outcome, said in look.outcomes.items():
                    known("checks", check.id, field, outcome, check.outcomes, "outcome")
                    for kind in said:
                        known("checks", check.id, f"{field}.{outcome}", kind, allowed, "kind of verdict")
    for language in k.reading.values():
        words = language.deeds
        for kind in (*words.adjectives, *((words.looking,) if words.looking else ())):
            known("reading", language.id, "deeds", kind, words.verbs, "kind of verb")
        for pair in words.opposites.items():
            for kind in pair:
                known("reading", language.id, "deeds.opposites", kind, words.verdicts, "kind of verdict")


def _check_cause(
    k: Knowledge,
    cause: schema.Cause,
    known: _Known,
    emit: Callable[[str, str, str, str, str], None],
) -> None:
    identity = cause.id
    known("causes", identity, "group", cause.group, k.groups, "group")
    for context in cause.contexts:
        known("causes", identity, f"contexts.{context}", context, k.contexts, "context")
    if cause.mixture and cause.mixture.circuit:
        known("causes", identity, "mixture.circuit", cause.mixture.circuit, k.circuits, "circuit")
    if cause.mixture and cause.mixture.shift:
        for stroke in ("any", "two_stroke", "four_stroke"):
            for at in getattr(cause.mixture.shift, stroke) or {}:
                known("causes", identity, f"mixture.shift.{stroke}.{at}", at, k.places, "place")
    for n, shows in enumerate(cause.shows):
        if known("causes", identity, f"shows[{n}].finding", shows.finding, k.findings, "finding"):
            finding = k.findings[shows.finding]
            for m, at in enumerate(shows.at):
                known(
                    "causes", identity, f"shows[{n}].at[{m}]", at, finding.at, f"place of {shows.finding}"
                )
    for n, in_check in enumerate(cause.checks):
        if known("causes", identity, f"checks[{n}].check", in_check.check, k.checks, "check"):
            check = k.checks[in_check.check]
            if check.reads == "mixture":
                emit(
                    "causes", identity, f"checks[{n}].check", "reads the mixture, so a cause cannot answer it",
                    in_check.check,
                )
            else:
                known(
                    "causes", identity, f"checks[{n}].outcome", in_check.outcome, check.outcomes,
                    f"outcome of {in_check.check}",
                )
    for n, fix in enumerate(cause.fixed_by):
        known("causes", identity, f"fixed_by[{n}].do", fix.do, k.actions, "action")
    for n, hidden in enumerate(cause.compensates):
        known("causes", identity, f"compensates[{n}]", hidden, k.causes, "cause")
    for n, rival in enumerate(cause.mistaken_for):
        known("causes", identity, f"mistaken_for[{n}].cause", rival.cause, k.causes, "cause")
        known(
            "causes", identity, f"mistaken_for[{n}].told_apart_by", rival.told_apart_by,
            k.findings if rival.told_apart_by in k.findings else {**k.findings, **k.checks}, "finding or check",
        )


def load_case(text: str) -> schema.Case:
    """Read a case from JSON or YAML text.

    Raises:
        YamlRefusedError: the text is neither.
        pydantic.ValidationError: a field is wrong.
    """
    return _CASE.validate_python(parse_yaml(text))


_CASE: TypeAdapter[schema.Case] = TypeAdapter(schema.Case, config=None)
