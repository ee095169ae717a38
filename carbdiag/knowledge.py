"""Load the YAML, cross-check the whole set, and hold it as one immutable Knowledge."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, cast

import yaml
from pydantic import TypeAdapter, ValidationError

from carbdiag import quiz_records, reading_schema, schema
from carbdiag.errors import KnowledgeError, Mistake, nearest

try:
    from yaml import CSafeLoader as _BaseLoader
except ImportError:  # pragma: no cover - PyYAML without libyaml
    from yaml import SafeLoader as _BaseLoader  # type: ignore[assignment]

R = TypeVar("R", bound=schema.Frozen)

#: The folder of worked cases, which a diagnosis does not need, and the bare case in it that users copy.
WORKED_CASES = "cases"
DEMO = "demo.yaml"

_MOST_BYTES = 1 << 20
_MOST_DEPTH = 20


class YamlRefusedError(ValueError):
    """A YAML text that carbdiag does not take, with its line (from 1)."""

    def __init__(self, rule: str, found: str = "", line: int | None = None) -> None:
        self.rule, self.found, self.line = rule, found, line
        super().__init__(rule)


class _StrictLoader(_BaseLoader):
    """YAML 1.2 core: only null, true/false, whole and decimal numbers change type; the rest is text."""


_StrictLoader.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in (
    ("null", r"^(?:null|~|)$", "n~\0"),
    ("bool", r"^(?:true|false)$", "tf"),
    ("int", r"^[-+]?(?:0|[1-9][0-9]*)$", "-+0123456789"),
    ("float", r"^[-+]?(?:0|[1-9][0-9]*)\.[0-9]+(?:[eE][-+]?[0-9]+)?$", "-+0123456789"),
):
    _StrictLoader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), [*_first, ""])

#: Plain words and numbers that YAML 1.1 and 1.2 read differently: refused, so that nobody is surprised.
_SURPRISE = re.compile(
    r"""^(?: y|Y|yes|Yes|YES|n|N|no|No|NO|on|On|ON|off|Off|OFF|True|TRUE|False|FALSE|Null|NULL
        | [-+]?0[0-9]+ | [-+]?0[xob][0-9a-fA-F_]+ | [-+]?[0-9][0-9_]*_[0-9_]*
        | [-+]?[0-9]+(?::[0-5]?[0-9])+(?:\.[0-9]*)?
        | [-+]?[0-9]+[eE][-+]?[0-9]+ | [-+]?\.[0-9]+ | [-+]?[0-9]+\. | [-+]?\.(?:inf|Inf|INF) | \.(?:nan|NaN|NAN)
        | [0-9]{4}-[0-9]{1,2}-[0-9]{1,2}.* | = | << )$""",
    re.VERBOSE,
)


def parse_yaml(text: str) -> object:
    """Read one YAML document strictly.

    Refused, with the line: anchors, aliases, tags, several documents, duplicate keys, keys that are not text,
    plain scalars that YAML 1.1 and 1.2 read differently, more than 1 MiB or 20 levels.

    Raises:
        YamlRefusedError: with the rule, what was found and the line.
    """
    if len(text.encode("utf-8", "surrogatepass")) > _MOST_BYTES:
        raise YamlRefusedError("a file may have at most 1 MiB")
    loader = _StrictLoader(text)
    try:
        _refuse_anchors(text)
        node = loader.get_single_node()
        return None if node is None else _plain(node, 0)
    except YamlRefusedError:
        raise
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise YamlRefusedError(
            f"not valid YAML: {error.problem or error.context}", line=mark.line + 1 if mark else None
        ) from None
    except (yaml.YAMLError, ValueError, RecursionError, OverflowError) as error:
        raise YamlRefusedError(f"not valid YAML: {str(error)[:200]}") from None
    finally:
        loader.dispose()


def _refuse_anchors(text: str) -> None:
    # An alias needs & or *, a tag needs !: only texts that have one are scanned a second time.
    if not re.search(r"[&*!]", text):
        return
    for event in yaml.parse(text, Loader=_BaseLoader):
        anchor = getattr(event, "anchor", None)
        if anchor:
            raise YamlRefusedError("anchors and aliases are not allowed", anchor, _line(event))
        tag = getattr(event, "tag", None)
        if tag:
            raise YamlRefusedError("tags are not allowed", tag, _line(event))


def _line(node: Any) -> int:
    """Line (from 1) at which a node or event starts."""
    return int(node.start_mark.line) + 1


def _plain(node: yaml.Node, depth: int) -> object:
    line = _line(node)
    if depth > _MOST_DEPTH:
        raise YamlRefusedError(f"nested deeper than {_MOST_DEPTH} levels", line=line)
    if isinstance(node, yaml.ScalarNode):
        return _scalar(node, line)
    if isinstance(node, yaml.SequenceNode):
        return [_plain(child, depth + 1) for child in node.value]
    out: dict[str, object] = {}
    for key_node, value_node in node.value:
        key = _plain(key_node, depth + 1)
        key_line = _line(key_node)
        if not isinstance(key, str):
            raise YamlRefusedError("a key must be text: quote it", repr(key)[:60], key_line)
        if key in out:
            raise YamlRefusedError("duplicate key", key, key_line)
        out[key] = _plain(value_node, depth + 1)
    return out


def _scalar(node: yaml.ScalarNode, line: int) -> object:
    value = cast(str, node.value)
    if node.style:
        return value
    if _SURPRISE.match(value):
        raise YamlRefusedError("YAML versions read this differently: quote it", value[:60], line)
    kind = node.tag.rsplit(":", 1)[-1]
    if kind == "null":
        return None
    if kind == "bool":
        return value == "true"
    if kind == "int":
        if len(value) > 30:
            raise YamlRefusedError("a number may have at most 30 digits", value[:30] + "…", line)
        return int(value)
    if kind == "float":
        return float(value)
    return value


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
        files = {
            str(file.relative_to(folder)): file.read_bytes()
            for file in sorted(folder.rglob("*.yaml"))
            if file.relative_to(folder).parts[0] not in (WORKED_CASES, "languages")
        }
        if not files:
            raise KnowledgeError([Mistake(str(folder), "folder", "holds no YAML files")])
        return _assemble(files)

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
            _read_file(name, file.read_bytes(), WORKED_CASES, schema.WorkedCase, True, records, {}, mistakes)
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

    def field(self, path: str) -> str:
        head = "" if self.index is None else f"[{self.index}]"
        return f"{head}.{path}".strip(".") if path else head or "file"


def _assemble(files: Mapping[str, bytes]) -> Knowledge:
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
        _read_file(file, raw, key, model, is_list, records, where, mistakes)
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
    key: str,
    model: type[schema.Frozen],
    is_list: bool,
    records: dict[str, dict[str, schema.Frozen]],
    where: dict[tuple[str, str], _Located],
    mistakes: list[Mistake],
) -> None:
    try:
        data = parse_yaml(raw.decode("utf-8"))
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
        yield Mistake(place.file, place.field(path), rule, shown[:80], near, _line_of(text, place, detail["loc"]))


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


def _line_of(text: str, place: _Located, loc: tuple[int | str, ...]) -> int | None:
    """Line (from 1) of the deepest node on the way to `loc`; only mistakes pay for this second reading."""
    loader = _StrictLoader(text)
    try:
        node = loader.get_single_node()
    finally:
        loader.dispose()
    line: int | None = None
    for step in ((place.index, *loc) if place.index is not None else loc):
        following = None
        if isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            following = node.value[step]
            line = _line(following)
        elif isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                if key.value == step:
                    following = value
                    line = _line(key)
        if following is None:
            break
        node = following
    return line


# ---------------------------------------------------------------------------------------------------------
# Cross-checks over the whole set

_Emit = Callable[[str, str, str, str, str], None]


def _cross_check(  # noqa: PLR0915  one plain list of rules
    k: Knowledge, where: Mapping[tuple[str, str], _Located]
) -> Iterator[Mistake]:
    out: list[Mistake] = []

    def emit(key: str, identity: str, field_path: str, rule: str, found: str, near: str = "") -> None:
        place = where[(key, identity)]
        out.append(Mistake(place.file, place.field(field_path), rule, found, near))

    def known(key: str, identity: str, field_path: str, value: str, allowed: Iterable[str], what: str) -> bool:
        names = list(allowed)
        if value in names:
            return True
        emit(key, identity, field_path, f"unknown {what}", value, nearest(value, names))
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

    for place in k.places.values():
        for driver in place.drivers:
            known("bands.yaml", place.id, f"drivers.{driver}", driver, k.places, "place")
        for n, other in enumerate(place.implies_visited):
            known("bands.yaml", place.id, f"implies_visited[{n}]", other, k.places, "place")
    for finding in k.findings.values():
        for n, at in enumerate(finding.at):
            known("findings", finding.id, f"at[{n}]", at, k.places, "place")
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


def _check_quiz(k: Knowledge, known: Callable[[str, str, str, str, Iterable[str], str], bool]) -> None:
    for step in k.unsafe_steps.values():
        known("unsafe_steps.yaml", step.id, "caution", step.caution, k.cautions, "caution")
    for words in k.riders_words.values():
        known("riders_words.yaml", words.id, "id", words.id, k.findings, "finding")
    for at in k.quiz.place_words if k.quiz else ():
        known("quiz.yaml", "", f"place_words.{at}", at, k.places, "place")
    for n, c in enumerate(k.quiz.no_fault if k.quiz else ()):
        known("quiz.yaml", "", f"no_fault[{n}]", c, k.causes, "cause")


def _check_phrases(k: Knowledge, known: Callable[[str, str, str, str, Iterable[str], str], bool]) -> None:
    for check in k.checks.values():
        for language, by_outcome in check.phrases.items():
            for outcome in by_outcome:
                known("checks", check.id, f"phrases.{language}.{outcome}", outcome, check.outcomes, "outcome")
    for circuit in k.circuits.values():
        for language, by_direction in circuit.phrases.items():
            for direction in by_direction:
                known("circuits", circuit.id, f"phrases.{language}", direction, ("richer", "leaner"), "direction")
    for spoken in k.reading.values():
        for n, named in enumerate(spoken.places):
            for m, at in enumerate(named.at):
                known("reading", spoken.id, f"places[{n}].at[{m}]", at, k.places, "place")


def _check_cause(
    k: Knowledge,
    cause: schema.Cause,
    known: Callable[[str, str, str, str, Iterable[str], str], bool],
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
            [*k.findings, *k.checks], "finding or check",
        )


def load_case(text: str) -> schema.Case:
    """Read a case from JSON or YAML text.

    Raises:
        YamlRefusedError: the text is neither.
        pydantic.ValidationError: a field is wrong.
    """
    return _CASE.validate_python(parse_yaml(text))


_CASE: TypeAdapter[schema.Case] = TypeAdapter(schema.Case, config=None)
