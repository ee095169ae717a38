"""Load the YAML, cross-check the whole set, and hold it as one immutable Knowledge."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, cast

from pydantic import ValidationError

from carbdiag.case_schema import Case
from carbdiag.errors import CaseError, KnowledgeError, Mistake, OutOfRangeError, nearest
from carbdiag.field_problems import field_problems, refused_yaml
from carbdiag.frozen import Frozen
from carbdiag.knowledge_files import DEMO, WORKED_CASES, Records
from carbdiag.metering import geometry
from carbdiag.prepared import Prepared, prepared_for, record_files
from carbdiag.records.actions import Action
from carbdiag.records.applies import Applies
from carbdiag.records.bands import Place
from carbdiag.records.cases import WorkedCase
from carbdiag.records.causes import Cause, Group
from carbdiag.records.checks import Check, TemporaryTrial
from carbdiag.records.circuits import Circuit, TuningStage
from carbdiag.records.contexts import Context
from carbdiag.records.families import Family, Use
from carbdiag.records.findings import Finding
from carbdiag.records.language import Language
from carbdiag.records.phrases import Deed
from carbdiag.records.quiz import QuizRules, RidersWords, UnsafeStep
from carbdiag.records.safety import Caution, CautionText, Hold, SizingOccasion
from carbdiag.records.scales import Scales
from carbdiag.records.sources import KnowledgeInfo, Source
from carbdiag.strict_yaml import YamlRefusedError, parse_yaml

R = TypeVar("R", bound=Frozen)


@dataclass(frozen=True, eq=False)
class Knowledge:
    """One consistent set of records, each kind by id in the order of its files; `Knowledge.load` reads it.

    Pass it as `knowledge` to the functions of carbdiag; without it they use the shipped one, read once in a process. It
    is never changed, and may be shared between threads.
    """

    info: KnowledgeInfo
    scales: Scales
    places: Mapping[str, Place]
    groups: Mapping[str, Group]
    circuits: Mapping[str, Circuit]
    families: Mapping[str, Family]
    uses: Mapping[str, Use]
    causes: Mapping[str, Cause]
    findings: Mapping[str, Finding]
    checks: Mapping[str, Check]
    actions: Mapping[str, Action]
    contexts: Mapping[str, Context]
    temporary_trials: Mapping[str, TemporaryTrial]
    cautions: Mapping[str, Caution]
    holds: Mapping[str, Hold]
    sources: Mapping[str, Source]
    tuning_order: Mapping[str, TuningStage]
    reading: Mapping[str, Language]
    caution_texts: Mapping[str, CautionText]
    quiz: QuizRules | None = None
    unsafe_steps: Mapping[str, UnsafeStep] = field(default_factory=dict)
    riders_words: Mapping[str, RidersWords] = field(default_factory=dict)
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
    so_far = len(read.mistakes)

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
    _cross_check(knowledge, read)
    if so_far:
        # beside records that could not be read, only names that are nobody's are surely mistakes
        names = [m for m in read.mistakes[so_far:] if m.rule.startswith("unknown ")]
        raise KnowledgeError([*read.mistakes[:so_far], *names])
    if read.mistakes:
        raise KnowledgeError(read.mistakes)
    return spell_out(knowledge)


# ---------------------------------------------------------------------------------------------------------
# Cross-checks over the whole set


def _cross_check(k: Knowledge, read: Records) -> None:
    """Every name that a record uses must be one, and what belongs together must fit."""
    _check_every_record(k, read)
    _check_places(k, read)
    _check_signs(k, read)
    _check_rules(k, read)
    _check_machines(k, read)
    _check_quiz(k, read)
    for cause in k.causes.values():
        _check_cause(k, cause, read)
    _check_phrases(k, read)


def _check_every_record(k: Knowledge, read: Records) -> None:
    """Sources, cautions, and the machines a record applies to."""
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
                read.known(key, identity, f"sources[{n}].source", citation.source, k.sources, "source")
            for n, caution in enumerate(getattr(record, "cautions", ())):
                read.known(key, identity, f"cautions[{n}]", caution, k.cautions, "caution")
            if isinstance(record, Action):
                for n, c in enumerate(record.circuits):
                    read.known(key, identity, f"circuits[{n}]", c, k.circuits, "circuit")
            for part in ("applies", "asked_of"):
                applies = getattr(record, part, None)
                if applies is None:
                    continue
                for n, family in enumerate(applies.families):
                    read.known(key, identity, f"{part}.families[{n}]", family, k.families, "family")
                for name in ("circuits", "without_circuits"):
                    for n, c in enumerate(getattr(applies, name)):
                        read.known(key, identity, f"{part}.{name}[{n}]", c, k.circuits, "circuit")
                for name in ("uses", "not_uses"):
                    for n, use in enumerate(getattr(applies, name)):
                        read.known(key, identity, f"{part}.{name}[{n}]", use, k.uses, "use")
                for use, circuits in applies.not_with.items():
                    read.known(key, identity, f"{part}.not_with", use, k.uses, "use")
                    for n, c in enumerate(circuits):
                        read.known(key, identity, f"{part}.not_with.{use}[{n}]", c, k.circuits, "circuit")
                if not families_with(k, applies):
                    read.mistake(key, identity, part, "no family is left that this applies to", "")


def _check_places(k: Knowledge, read: Records) -> None:
    """What drives a situation."""
    for family in k.families.values():
        for state, by_band in family.drivers.items():
            read.known("families", family.id, f"drivers.{state}", state, k.places, "place")
            for driver in by_band:
                read.known("families", family.id, f"drivers.{state}.{driver}", driver, k.places, "place")
    for place in k.places.values():
        for driver in place.drivers:
            read.known("bands.yaml", place.id, f"drivers.{driver}", driver, k.places, "place")
        for n, other in enumerate(place.implies_visited):
            read.known("bands.yaml", place.id, f"implies_visited[{n}]", other, k.places, "place")


def _check_signs(k: Knowledge, read: Records) -> None:
    """Where findings are seen, and what checks read."""
    for finding in k.findings.values():
        for name in ("at", "only_at"):
            for n, at in enumerate(getattr(finding, name)):
                read.known("findings", finding.id, f"{name}[{n}]", at, k.places, "place")
        for name in ("implies", "narrows", "moot_beside"):
            for n, other in enumerate(getattr(finding, name)):
                if other == finding.id:
                    read.mistake("findings", finding.id, f"{name}[{n}]", "names the sign itself", other)
                read.known("findings", finding.id, f"{name}[{n}]", other, k.findings, "finding")
        for name in ("shown_by", "moot_after"):
            for n, other in enumerate(getattr(finding, name)):
                read.known("findings", finding.id, f"{name}[{n}]", other, k.checks, "check")
    told = {tag for finding in k.findings.values() for tag in finding.tells}
    for key, records in (("findings", k.findings.values()), ("checks", k.checks.values())):
        for record in records:
            if record.presumes is not None:
                read.known(key, record.id, "presumes", record.presumes, told, "thing that a finding tells")
    for check in k.checks.values():
        for n, sign in enumerate(check.moot_beside):
            read.known("checks", check.id, f"moot_beside[{n}]", sign, k.findings, "finding")
        for name in ("at", "weak_at"):
            for n, at in enumerate(getattr(check, name)):
                read.known("checks", check.id, f"{name}[{n}]", at, k.places, "place")
        for n, hold in enumerate(check.held_back_while):
            read.known("checks", check.id, f"held_back_while[{n}]", hold, k.holds, "hold")
        for none, little in check.scant.items():
            read.known("checks", check.id, f"scant.{none}", none, check.outcomes, "outcome")
            read.known("checks", check.id, f"scant.{none}", little, check.outcomes, "outcome")
        for group, by_outcome in check.groups.items():
            read.known("checks", check.id, f"groups.{group}", group, k.groups, "group")
            for outcome in by_outcome:
                read.known("checks", check.id, f"groups.{group}.{outcome}", outcome, check.outcomes, "outcome")


def _check_rules(k: Knowledge, read: Records) -> None:
    """Holds, temporary trials and circumstances."""
    for hold_record in k.holds.values():
        for n, at in enumerate(hold_record.when.lean_at):
            read.known("safety.yaml", hold_record.id, f"when.lean_at[{n}]", at, k.places, "place")
        for n, f in enumerate(hold_record.when.findings):
            read.known("safety.yaml", hold_record.id, f"when.findings[{n}]", f, k.findings, "finding")
        for n, c in enumerate(hold_record.when.contexts):
            read.known("safety.yaml", hold_record.id, f"when.contexts[{n}]", c, k.contexts, "context")
        for check, came in hold_record.when.outcomes.items():
            if read.known("safety.yaml", hold_record.id, f"when.outcomes.{check}", check, k.checks, "check"):
                for outcome in came:
                    of = k.checks[check].outcomes
                    read.known("safety.yaml", hold_record.id, f"when.outcomes.{check}", outcome, of, "outcome")
        for n, use in enumerate(hold_record.when.uses):
            read.known("safety.yaml", hold_record.id, f"when.uses[{n}]", use, k.uses, "use")
        for n, c in enumerate(hold_record.when.causes):
            read.known("safety.yaml", hold_record.id, f"when.causes[{n}]", c, k.causes, "cause")
        for n, a in enumerate(hold_record.actions):
            read.known("safety.yaml", hold_record.id, f"actions[{n}]", a, k.actions, "action")
    for tried in k.temporary_trials.values():
        if read.known("temporary_trials.yaml", tried.id, "check", tried.check, k.checks, "check"):
            for effect, outcome in tried.effects.items():
                outcomes = k.checks[tried.check].outcomes
                read.known("temporary_trials.yaml", tried.id, f"effects.{effect}", outcome, outcomes, "outcome")
    for context in k.contexts.values():
        for group in context.groups:
            read.known("contexts.yaml", context.id, f"groups.{group}", group, k.groups, "group")
        for name in ("settled_by", "moot_beside", "void_beside"):
            for n, other in enumerate(getattr(context, name)):
                read.known("contexts.yaml", context.id, f"{name}[{n}]", other, k.contexts, "context")
        telling = {**k.circuits, **k.actions, **k.checks}
        for n, other in enumerate(context.told_by):
            read.known("contexts.yaml", context.id, f"told_by[{n}]", other, telling, "setting, repair or check")
        for other in context.told_by_move:
            read.known("contexts.yaml", context.id, f"told_by_move.{other}", other, k.circuits, "circuit")


def _check_machines(k: Knowledge, read: Records) -> None:
    """Circuits, the order of work, families and uses."""
    for circuit in k.circuits.values():
        for n, at in enumerate(circuit.strongest_at):
            read.known("circuits", circuit.id, f"strongest_at[{n}]", at, k.places, "place")
        if circuit.meters_as and circuit.meters_as.dimension:
            by = circuit.meters_as.dimension
            read.known("circuits", circuit.id, "meters_as.dimension", by, geometry.DIMENSIONS, "dimension")
        for way in ("richer", "leaner"):
            read.known("circuits", circuit.id, f"{way}.action", getattr(circuit, way).action, k.actions, "action")
    for stage in k.tuning_order.values():
        for n, c in enumerate(stage.circuits):
            read.known("tuning_order.yaml", stage.id, f"circuits[{n}]", c, k.circuits, "circuit")
        for n, c in enumerate(stage.causes):
            read.known("tuning_order.yaml", stage.id, f"causes[{n}]", c, k.causes, "cause")
    for family in k.families.values():
        for n, c in enumerate(family.circuits):
            read.known("families", family.id, f"circuits[{n}]", c, k.circuits, "circuit")
        for at in family.air_exponent:
            read.known("families", family.id, f"air_exponent.{at}", at, k.places, "place")
        _check_dimensions(family, read)
        for table in ("shares", "steps"):
            for c, by_place in getattr(family, table).items():
                read.known("families", family.id, f"{table}.{c}", c, family.circuits, "circuit of this family")
                for at in by_place:
                    read.known("families", family.id, f"{table}.{c}.{at}", at, k.places, "place")
        for n, band in enumerate(family.published_bands):
            read.known("families", family.id, f"published_bands[{n}].circuit", band.circuit, family.circuits, "circuit")
            read.known("families", family.id, f"published_bands[{n}].source", band.source, k.sources, "source")
    taken: dict[str, str] = {}
    for family in k.families.values():
        for n, word in enumerate(family.also_called):
            owner = family.id if word in k.families else taken.setdefault(word, family.id)
            if word in k.families or owner != family.id:
                read.mistake("families", family.id, f"also_called[{n}]", "another family is called so", word)
    for use_record in k.uses.values():
        for family_id in use_record.families:
            read.known("uses.yaml", use_record.id, f"families.{family_id}", family_id, k.families, "family")
        for group in use_record.groups:
            read.known("uses.yaml", use_record.id, f"groups.{group}", group, k.groups, "group")
        for n, kind in enumerate(use_record.kinds):
            read.known("uses.yaml", use_record.id, f"kinds[{n}]", kind, k.uses, "use")


# ---------------------------------------------------------------------------------------------------------
# Families


def families_with(k: Knowledge, applies: Applies) -> tuple[str, ...]:
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


def _check_dimensions(family: Family, read: Records) -> None:
    """The dimensions of a family must be those of its kind, and make a carburetor."""
    if family.geometry is None:
        return
    path, given = "geometry.dimensions", family.geometry.dimensions
    named = [read.known("families", family.id, f"{path}.{n}", n, geometry.DIMENSIONS, "dimension") for n in given]
    if all(named):
        try:
            geometry.with_parts(geometry.typical(family.geometry.kind), **given)
        except (OutOfRangeError, CaseError) as error:
            read.mistake("families", family.id, path, str(error))


def _check_quiz(k: Knowledge, read: Records) -> None:
    for step in k.unsafe_steps.values():
        read.known("unsafe_steps.yaml", step.id, "caution", step.caution, k.cautions, "caution")
    for words in k.riders_words.values():
        read.known("riders_words.yaml", words.id, "id", words.id, k.findings, "finding")
    for at in k.quiz.place_words if k.quiz else ():
        read.known("quiz.yaml", "", f"place_words.{at}", at, k.places, "place")
    for n, c in enumerate(k.quiz.no_fault if k.quiz else ()):
        read.known("quiz.yaml", "", f"no_fault[{n}]", c, k.causes, "cause")
    told = {**k.findings, **k.checks, **k.causes}
    for n, group in enumerate(k.quiz.not_together if k.quiz else ()):
        for m, one in enumerate(group):
            read.known("quiz.yaml", "", f"not_together[{n}][{m}]", one, told, "finding, check or cause")


def _check_phrases(k: Knowledge, read: Records) -> None:
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
        for language, by_outcome in check.phrases.items():
            for outcome in by_outcome:
                read.known("checks", check.id, f"phrases.{language}.{outcome}", outcome, check.outcomes, "outcome")
    for circuit in k.circuits.values():
        for language, by_direction in circuit.phrases.items():
            for direction in by_direction:
                read.known("circuits", circuit.id, f"phrases.{language}", direction, ("richer", "leaner"), "direction")
    _check_deeds(k, read)
    for spoken in k.reading.values():
        for n, named in enumerate(spoken.places):
            for m, at in enumerate(named.at):
                read.known("reading", spoken.id, f"places[{n}].at[{m}]", at, k.places, "place")


def _check_deeds(k: Knowledge, read: Records) -> None:
    """The kinds of verbs and verdicts that records name must be among those of the language."""
    kinds = {
        code: (*words.verbs, *words.directions, words.larger, words.smaller, words.later, words.earlier)
        for code, words in ((code, language.deeds) for code, language in k.reading.items())
    }
    verdicts = {code: tuple(of.deeds.verdicts) for code, of in k.reading.items()}
    done: list[tuple[str, str, Mapping[str, Iterable[Deed]]]] = [
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
                    read.known(where, identity, f"deeds.{code}[{n}].did", kind, kinds.get(code, ()), "kind of verb")
    for circuit in k.circuits.values():
        for code, by in circuit.deeds.items():
            for direction in by:
                read.known("circuits", circuit.id, f"deeds.{code}", direction, ("richer", "leaner"), "direction")
    for check in k.checks.values():
        for code, by_outcome in check.spoken.items():
            for outcome in by_outcome:
                read.known("checks", check.id, f"spoken.{code}", outcome, check.outcomes, "outcome")
        for code, looks in check.found.items():
            allowed = (*verdicts.get(code, ()), *kinds.get(code, ()))
            for n, look in enumerate(looks):
                field = f"found.{code}[{n}].outcomes"
                for outcome, said in look.outcomes.items():
                    read.known("checks", check.id, field, outcome, check.outcomes, "outcome")
                    for kind in said:
                        read.known("checks", check.id, f"{field}.{outcome}", kind, allowed, "kind of verdict")
    for language in k.reading.values():
        words = language.deeds
        for kind in (*words.adjectives, *((words.looking,) if words.looking else ())):
            read.known("reading", language.id, "deeds", kind, words.verbs, "kind of verb")
        for pair in words.opposites.items():
            for kind in pair:
                read.known("reading", language.id, "deeds.opposites", kind, words.verdicts, "kind of verdict")


def _check_cause(k: Knowledge, cause: Cause, read: Records) -> None:
    identity = cause.id
    read.known("causes", identity, "group", cause.group, k.groups, "group")
    for context in cause.contexts:
        read.known("causes", identity, f"contexts.{context}", context, k.contexts, "context")
    if cause.mixture and cause.mixture.circuit:
        read.known("causes", identity, "mixture.circuit", cause.mixture.circuit, k.circuits, "circuit")
    if cause.mixture and cause.mixture.shift:
        for stroke in ("any", "two_stroke", "four_stroke"):
            for at in getattr(cause.mixture.shift, stroke) or {}:
                read.known("causes", identity, f"mixture.shift.{stroke}.{at}", at, k.places, "place")
    for n, shows in enumerate(cause.shows):
        if read.known("causes", identity, f"shows[{n}].finding", shows.finding, k.findings, "finding"):
            finding = k.findings[shows.finding]
            for m, at in enumerate(shows.at):
                read.known(
                    "causes", identity, f"shows[{n}].at[{m}]", at, finding.at, f"place of {shows.finding}"
                )
    for n, in_check in enumerate(cause.checks):
        if read.known("causes", identity, f"checks[{n}].check", in_check.check, k.checks, "check"):
            check = k.checks[in_check.check]
            if check.reads == "mixture":
                read.mistake(
                    "causes", identity, f"checks[{n}].check", "reads the mixture, so a cause cannot answer it",
                    in_check.check,
                )
            else:
                read.known(
                    "causes", identity, f"checks[{n}].outcome", in_check.outcome, check.outcomes,
                    f"outcome of {in_check.check}",
                )
    for n, fix in enumerate(cause.fixed_by):
        read.known("causes", identity, f"fixed_by[{n}].do", fix.do, k.actions, "action")
    for n, hidden in enumerate(cause.compensates):
        read.known("causes", identity, f"compensates[{n}]", hidden, k.causes, "cause")
    for n, rival in enumerate(cause.mistaken_for):
        read.known("causes", identity, f"mistaken_for[{n}].cause", rival.cause, k.causes, "cause")
        sign = rival.told_apart_by
        if sign not in k.findings and sign not in k.checks:
            either = {**k.findings, **k.checks}
            read.known("causes", identity, f"mistaken_for[{n}].told_apart_by", sign, either, "finding or check")


def load_case(text: str) -> Case:
    """Read a case from JSON or YAML text.

    Raises:
        CaseError: the text is neither, or fields are wrong: all of them, each with what is allowed.
    """
    try:
        return Case.model_validate(parse_yaml(text))
    except YamlRefusedError as error:
        raise CaseError([refused_yaml(error, "case")]) from None
    except ValidationError as error:
        raise CaseError(field_problems(error.errors(include_url=False), Case, "case")) from None
