"""Check a folder of knowledge beyond what loading it checks: twins, gaps, counts, words.

Loading refuses what is broken. This module finds what is whole and still wrong: two causes that nothing
tells apart, a check said to separate two causes that does not, a sign nobody shows, a setting that can only
be off one way. Every mistake is listed at once, each with its file and line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, cast, get_args

import numpy as np

from carbdiag.answers.language import Coverage, check_languages
from carbdiag.answers.translation_marks import old_translations
from carbdiag.case_check import check_case
from carbdiag.correction import can_be_done
from carbdiag.errors import CaseError, KnowledgeError, Mistake, nearest
from carbdiag.field_problems import with_line
from carbdiag.knowledge import Knowledge, default_folder, load_worked_cases
from carbdiag.knowledge_files import DEMO, WORKED_CASES, record_kinds
from carbdiag.model import Model, compile_model
from carbdiag.reading.phrasebook import phrase_mistakes
from carbdiag.records.cases import WorkedCase
from carbdiag.records.causes import Cause
from carbdiag.records.contexts import Context
from carbdiag.records.findings import Finding
from carbdiag.records.safety import SizingOccasion
from carbdiag.scales import probability
from carbdiag.separation import (
    APART,
    BEST,
    ENOUGH,
    TWINS_BELOW,
    Machine,
    Rival,
    log_apart,
    nearest_rivals,
    rivals,
    tabulate,
)
from carbdiag.sourcing import citing_records, misnamed
from carbdiag.terms import Direction, Level, ProbabilityWord
from carbdiag.wording import check_words

#: The least a usable set of knowledge holds.
MINIMUMS: Final = {"causes": 80, "findings at places": 120, "checks": 45, "contexts": 15}


_MOST_MISSING: Final = 6


@dataclass(frozen=True)
class LintReport:
    """All that was found. Mistakes must be mended; warnings should be looked at."""

    folder: Path
    mistakes: tuple[Mistake, ...]
    warnings: tuple[Mistake, ...] = ()
    counts: tuple[tuple[str, int], ...] = ()
    published: tuple[tuple[str, int, int], ...] = ()
    """For each kind of record: how many cite a published source, and of how many."""
    rivals: tuple[Rival, ...] = ()
    """The pairs of causes that are the nearest to one of the two, the hardest to tell apart first."""
    translated: tuple[Coverage, ...] = ()
    """How far the texts that answers show are translated, by language."""

    @property
    def fine(self) -> bool:
        """Whether there is no mistake."""
        return not self.mistakes

    def __str__(self) -> str:
        lines = [f"error: {m}" for m in self.mistakes] + [f"warning: {m}" for m in self.warnings]
        lines += [f"{name}: {count}" for name, count in self.counts]
        lines += [f"{kind} with a published source: {cited} of {total}" for kind, cited, total in self.published]
        for language in self.translated:
            lines.append(
                f"answers in {language.code}: {language.translated} of {language.total} texts"
                f" ({100 * language.translated // language.total} %)"
            )
            if language.missing:
                shown, more = language.missing[:_MOST_MISSING], len(language.missing) - _MOST_MISSING
                rest = f" and {more} more (all: --json)" if more > 0 else ""
                lines.append(f"  not translated: {', '.join(shown)}{rest}")
        if self.rivals:
            lines.append("hardest to tell apart:")
            lines += [f"  {rival}" for rival in self.rivals[:5]]
        lines.append(f"{len(self.mistakes)} mistakes, {len(self.warnings)} warnings in {self.folder}")
        return "\n".join(lines)


def lint(folder: Path | None = None) -> LintReport:
    """Check a folder of knowledge; without one, the knowledge that carbdiag ships.

    Broken files are reported as mistakes, never raised; the checks of the whole set need files that load.
    """
    where = default_folder() if folder is None else Path(folder)
    texts = {
        str(file.relative_to(where)): file.read_bytes().decode("utf-8", "replace")
        for file in sorted(where.rglob("*.yaml"))
    }
    # What posters write is spelled as they spell it.
    warnings = [
        m
        for file, text in texts.items()
        for m in check_words(file, text)
        if not (file.startswith("reading/") and m.rule == "US spelling")
    ]
    warnings += _modelines(texts)
    try:
        k = Knowledge.load(where)
    except KnowledgeError as error:
        return LintReport(where, error.mistakes, tuple(warnings))
    spot = _Spots(texts)
    try:
        worked = load_worked_cases(where)
    except KnowledgeError as error:
        return LintReport(where, error.mistakes, tuple(warnings))
    models = [compile_model(k, f.id, strokes) for f in k.families.values() for strokes in f.strokes]
    machines = [tabulate(model) for model in models]
    ranked = rivals(machines)
    counts = _counts(k)
    in_languages, translated = check_languages(k, where)
    mistakes = [
        *in_languages,
        *_too_few(counts),
        *_groups_without_cause(k, spot),
        *_twins(ranked, spot),
        *_one_way_settings(k, models, spot),
        *_signs_without_cause(k, spot),
        *_causes_nobody_can_cure(k, spot),
        *_causes_without_sign(machines, spot),
        *_right_above_everyday(k, spot),
        *_mute_records(k, spot),
        *_misnamed_claims(k, spot),
        *_worked_cases(k, worked, spot),
    ]
    mistakes = [with_line(m, texts[m.file]) if m.file in texts else m for m in dict.fromkeys(mistakes)]
    mistakes += [_of_a_phrase(m, spot) for m in phrase_mistakes(k)]
    warnings += _without_phrases(k, spot)
    warnings += [*_weak_separators(k, machines, spot), *_unused(k, spot), *_uncited(k, spot)]
    warnings += _occasions_without_caution(k)
    warnings += old_translations(k, where)
    nearest = tuple(nearest_rivals(ranked))
    return LintReport(
        where, tuple(mistakes), tuple(warnings), tuple(counts.items()), _published(k), nearest, tuple(translated)
    )


# ---------------------------------------------------------------------------------------------------------
# Where things stand in the files


class _Spots:
    """File and line of records and fields, found in the texts."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._lines = {file: text.split("\n") for file, text in texts.items()}
        self._records: dict[tuple[str, str], tuple[str, int]] = {}
        for file, lines in self._lines.items():
            kind = file.split("/", maxsplit=1)[0]
            for number, line in enumerate(lines, 1):
                match = re.match(r"^(?:- \{?)?id: ([a-z0-9_]+)", line)
                if match:
                    self._records.setdefault((kind, match[1]), (file, number))

    def file(self, kind: str, identity: str) -> str:
        """The file a record stands in."""
        return self._records.get((kind, identity), (kind, 0))[0]

    def mistake(
        self,
        kind: str,
        identity: str,
        field: str,
        rule: str,
        found: str = "",
        *,
        near: str = "",
        words: str = "",
    ) -> Mistake:
        """A mistake in a record; `words` is text on the line meant, searched from the record on."""
        file, line = self._records.get((kind, identity), (kind, 0))
        if words:
            for number, text in enumerate(self._lines.get(file, [])[max(line - 1, 0) :], max(line, 1)):
                if words in text:
                    line = number
                    break
        is_list = file != f"{kind}/{identity}.yaml"
        return Mistake(file, f"{identity}.{field}" if is_list else field, rule, found, near, line or None)


# ---------------------------------------------------------------------------------------------------------
# How well one observation separates two causes


def _twins(ranked: Iterable[Rival], spot: _Spots) -> Iterator[Mistake]:
    for pair in ranked:
        if pair.bits < TWINS_BELOW:
            yield spot.mistake(
                "causes",
                pair.cause,
                "checks",
                f"hardly anything tells it from {pair.rival} on {pair.machine}: the best {BEST} observations together "
                f"must give {TWINS_BELOW:g} bit",
                f"{pair.bits:.3f} bit, best by {', then '.join(pair.observations)}",
                words="checks:",
            )


def _weak_separators(k: Knowledge, machines: list[Machine], spot: _Spots) -> Iterator[Mistake]:
    rows_of: list[dict[str, list[int]]] = []
    for machine in machines:
        rows_of.append({})
        for row, record in enumerate(machine.record):
            rows_of[-1].setdefault(record, []).append(row)
    for cause in k.causes.values():
        for n, rival in enumerate(cause.mistaken_for):
            best, shared = 0.0, False
            for machine, of_record in zip(machines, rows_of, strict=True):
                if cause.id not in machine.causes or rival.cause not in machine.causes:
                    continue
                shared = True
                rows = of_record.get(rival.told_apart_by)
                if rows:
                    a, b = machine.causes.index(cause.id), machine.causes.index(rival.cause)
                    best = max(best, float(log_apart(machine.log_p[rows, a], machine.log_p[rows, b]).max()))
            field = f"mistaken_for[{n}]"
            words = f"cause: {rival.cause},"
            if not shared:
                yield spot.mistake(
                    "causes",
                    cause.id,
                    f"{field}.cause",
                    "the two never occur on the same machine",
                    rival.cause,
                    words=words,
                )
            elif best < ENOUGH:
                yield spot.mistake(
                    "causes",
                    cause.id,
                    f"{field}.told_apart_by",
                    f"must shift the odds against {rival.cause} at least {APART:g}-fold",
                    f"{rival.told_apart_by} with {np.exp(best):.2f}-fold",
                    near=_strongest(machines, cause.id, rival.cause),
                    words=words,
                )


def _strongest(machines: list[Machine], cause: str, rival: str) -> str:
    for machine in machines:
        if cause in machine.causes and rival in machine.causes:
            a, b = machine.causes.index(cause), machine.causes.index(rival)
            apart = log_apart(machine.log_p[:, a], machine.log_p[:, b])
            row = int(apart.argmax())
            if apart[row] >= ENOUGH:
                return f"{machine.record[row]} ({machine.rows[row]}, {np.exp(apart[row]):.1f}-fold)"
    return ""


def _causes_without_sign(machines: Iterable[Machine], spot: _Spots) -> Iterator[Mistake]:
    seen: set[str] = set()
    for machine in machines:
        signs = machine.is_finding
        raised = (machine.log_p[signs] - machine.log_sound[signs][:, None]).max(axis=0)
        for n in np.flatnonzero(raised < ENOUGH):
            if machine.causes[n] not in seen:
                seen.add(machine.causes[n])
                yield spot.mistake(
                    "causes",
                    machine.causes[n],
                    "shows",
                    f"no finding makes it {APART:g} times likelier than a sound engine on {machine.name}",
                    f"{np.exp(raised[n]):.1f}-fold at best",
                )


# ---------------------------------------------------------------------------------------------------------
# Gaps


def _counts(k: Knowledge) -> dict[str, int]:
    return {
        "causes": len(k.causes),
        "findings at places": sum(len(f.at) for f in k.findings.values()),
        "checks": len(k.checks),
        "contexts": len(k.contexts),
    }


def _too_few(counts: Mapping[str, int]) -> Iterator[Mistake]:
    for name, least in MINIMUMS.items():
        if counts[name] < least:
            yield Mistake("knowledge.yaml", name, f"at least {least} are needed", str(counts[name]))


def _groups_without_cause(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    used = {c.group for c in k.causes.values()}
    for group in k.groups:
        if group not in used:
            yield spot.mistake("groups.yaml", group, "id", "a group needs at least one cause")


def _one_way_settings(k: Knowledge, models: Iterable[Model], spot: _Spots) -> Iterator[Mistake]:
    """A setting can be off both ways, so a circuit that any cause sets wrong needs one for each way.

    Such causes are off by practical steps of the circuit; where none is, those which its setting usually cures.
    """
    ways: dict[str, set[Direction]] = {}
    for model in models:
        for state in model.states:
            if state.cause and state.direction:
                ways.setdefault(state.cause, set()).add(state.direction)
    for circuit in k.circuits.values():
        by_steps = [c.id for c in k.causes.values() if _off_by_steps(c, circuit.id)]
        cures = {circuit.richer.action, circuit.leaner.action}
        by_cure = [c.id for c in k.causes.values() if any(f.do in cures and f.works in _RELIABLE for f in c.fixed_by)]
        setters = by_steps or by_cure
        found = {way for cause in setters for way in ways.get(cause, ())}
        for direction in Direction:
            if found and direction not in found:
                yield spot.mistake(
                    "circuits",
                    circuit.id,
                    "leaner" if direction is Direction.RICH else "richer",
                    f"no cause has this setting too {direction.value}",
                    ", ".join(setters),
                )


#: The language in which every sign, circumstance and outcome has its phrases.
_COMPLETE_IN: Final = "en"
_RELIABLE: Final = (ProbabilityWord.ALMOST_ALWAYS, ProbabilityWord.USUALLY)


def _off_by_steps(cause: Cause, circuit: str) -> bool:
    effect = cause.mixture
    return effect is not None and effect.circuit == circuit and any("step" in text for text in effect.amounts)


def _signs_without_cause(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    shown = {(s.finding, at) for c in k.causes.values() for s in c.shows for at in s.at or k.findings[s.finding].at}
    for finding in k.findings.values():
        for at in finding.at:
            if (finding.mixture is None or at == "parked") and (finding.id, at) not in shown:
                yield spot.mistake("findings", finding.id, "at", "neither the mixture nor a cause shows it here", at)


def _causes_nobody_can_cure(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    for cause in k.causes.values():
        actions = [k.actions[f.do] for f in cause.fixed_by]
        part = cause.mixture.circuit if cause.mixture else None
        for family in (k.families[f] for f in cause.applies.families or k.families):
            if part is not None and part not in family.circuits:
                continue  # what the carburetor lacks cannot be off on it
            if not any(can_be_done(action, family) for action in actions):
                rule = f"no action can be done on {family.id}: name one whose circuits it has"
                yield spot.mistake("causes", cause.id, "fixed_by", rule, ", ".join(a.id for a in actions))


def _right_above_everyday(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    for finding in k.findings.values():
        if finding.mixture is None:
            continue
        right = finding.mixture[Level.RIGHT]
        if probability(k, right) > probability(k, finding.everyday):
            yield spot.mistake(
                "findings",
                finding.id,
                "mixture.right",
                f"must not be above everyday, which is {finding.everyday.value}",
                right.value,
                near=finding.everyday.value,
                words="mixture:",
            )


def _mute_records(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    """Checks and circumstances whose answer moves no belief."""
    answered = {(s.check, s.outcome) for c in k.causes.values() for s in c.checks}
    answered |= {(check.id, o) for check in k.checks.values() for lines in check.groups.values() for o in lines}
    for check in k.checks.values():
        if check.reads == "causes" and not any((check.id, o) in answered for o in check.outcomes):
            yield spot.mistake("checks", check.id, "groups", "no cause and no group gives any outcome of this check")
    weighed = {c for cause in k.causes.values() for c in cause.contexts}
    weighed |= {c for hold in k.holds.values() for c in hold.when.contexts}  # told for the rider's sake
    for context in k.contexts.values():
        if not context.groups and context.id not in weighed:
            yield spot.mistake("contexts.yaml", context.id, "groups", "moves the prior of no cause")


#: How much a worked case tells: enough to decide, no more than a rider would say.
OBSERVATIONS: Final = (3, 7)


def _worked_cases(k: Knowledge, worked: Iterable[WorkedCase], spot: _Spots) -> Iterator[Mistake]:
    for case in worked:
        for field in ("leads", "twin_of"):
            cause = getattr(case, field)
            if cause is not None and cause not in k.causes:
                near = nearest(cause, k.causes)
                yield spot.mistake(WORKED_CASES, case.id, field, "unknown cause", cause, near=near, words=f"{field}:")
        file = spot.file(WORKED_CASES, case.id)
        if case.of in k.causes and file != f"{WORKED_CASES}/{case.of}.yaml":
            rule = "stands in the file of the cause it is about"
            yield spot.mistake(WORKED_CASES, case.id, "id", rule, Path(file).stem, near=case.of)
        told = sum(len(e.findings) + len(e.checks) + len(e.readings) + len(e.trials) for e in case.history())
        if not OBSERVATIONS[0] <= told <= OBSERVATIONS[1]:
            rule = f"a worked case makes {OBSERVATIONS[0]} to {OBSERVATIONS[1]} observations"
            yield spot.mistake(WORKED_CASES, case.id, "findings", rule, str(told))
        try:
            check_case(k, case)
        except CaseError as error:
            for problem in error.problems:
                yield spot.mistake(WORKED_CASES, case.id, problem.field, problem.message, near=problem.nearest)


def _without_phrases(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
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


#: How a phrase names the kind of record it stands in -> where such records are kept.
_PHRASE_KINDS: Final = {
    "finding": "findings", "check": "checks", "action": "actions", "circuit": "circuits", "family": "families",
    "context": "contexts.yaml", "use": "uses.yaml", "language": "reading",
}  # fmt: skip


def _of_a_phrase(mistake: Mistake, spot: _Spots) -> Mistake:
    """A broken phrase with the file and line it stands in."""
    kind, _, identity = mistake.file.partition(" ")
    return spot.mistake(_PHRASE_KINDS[kind], identity, mistake.field, mistake.rule, mistake.found, words=mistake.found)


def _unused(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    done = {fix.do for c in k.causes.values() for fix in c.fixed_by}
    done |= {way.action for circuit in k.circuits.values() for way in (circuit.richer, circuit.leaner)}
    for action in k.actions.values():
        if action.id not in done:
            yield spot.mistake("actions", action.id, "id", "cures no cause and moves no circuit")
    given = {
        c
        for records in (k.causes, k.checks, k.actions, k.circuits, k.uses)
        for record in records.values()
        for c in record.cautions
    }
    given |= {c.id for c in k.cautions.values() if c.sizing}
    for caution in k.cautions.values():
        if caution.id not in given:
            yield spot.mistake("cautions.yaml", caution.id, "id", "no record gives this caution")


# ---------------------------------------------------------------------------------------------------------
# Sources and words


def _misnamed_claims(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    for record in citing_records(k):
        for n, named, allowed in misnamed(record):
            yield spot.mistake(
                record.kept_in,
                record.id,
                f"sources[{n}].supports",
                "must name fields of the record, or lines of them (shows, or shows.bogs), before any remark",
                named,
                near=allowed,
                words=f"source: {record.sources[n].source}, supports: ",
            )


def _published(k: Knowledge) -> tuple[tuple[str, int, int], ...]:
    by_kind: dict[str, list[bool]] = {}
    for record in citing_records(k):
        published = any(k.sources[c.source].kind == "published" for c in record.sources)
        by_kind.setdefault(record.kind, []).append(published)
    return tuple((kind, sum(published), len(published)) for kind, published in by_kind.items())


def _occasions_without_caution(k: Knowledge) -> Iterator[Mistake]:
    """Dangers of a size that no caution speaks of."""
    told = {occasion for c in k.cautions.values() for occasion in c.sizing}
    for occasion in get_args(SizingOccasion):
        if occasion not in told:
            yield Mistake("cautions.yaml", "sizing", f"no caution is given when parts are sized: {occasion}")


def _uncited(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    cited = {c.source for record in citing_records(k) for c in record.sources}
    cited |= {band.source for family in k.families.values() for band in family.published_bands}
    for source in k.sources.values():
        if source.kind == "published" and source.id not in cited:
            yield spot.mistake("sources.yaml", source.id, "id", "no record cites this source")


def modeline(file: str) -> str:
    """The first line of a knowledge file: where editors find its JSON Schema."""
    parts = Path(file).parts
    name = "case" if parts == (WORKED_CASES, DEMO) else Path(parts[0]).stem
    return f"# yaml-language-server: $schema={'../' * len(parts)}docs/schema/{name}.json"


def _modelines(texts: Mapping[str, str]) -> Iterator[Mistake]:
    kinds = record_kinds()
    for file, text in texts.items():
        first = text.removeprefix("\ufeff").split("\n", 1)[0].rstrip("\r")
        if file.split("/", maxsplit=1)[0] in kinds and first != modeline(file):
            yield Mistake(file, "file", f"the first line must be {modeline(file)}", first[:60], line=1)
