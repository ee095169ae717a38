"""Cross-checks over a whole set of records: every name must be that of a record, and what belongs together must fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from carbdiag.cross_check_reading import cross_check_reading
from carbdiag.errors import CaseError, OutOfRangeError
from carbdiag.knowledge_files import Records
from carbdiag.metering import geometry
from carbdiag.record_set import RecordSet, families_with
from carbdiag.records.actions import Action
from carbdiag.records.causes import Cause
from carbdiag.records.families import Family


def cross_check(k: RecordSet, read: Records) -> None:
    """Add every name that is none, and everything that does not fit, to the mistakes."""
    _check_every_record(k, read)
    _check_places(k, read)
    _check_signs(k, read)
    _check_rules(k, read)
    _check_machines(k, read)
    _check_quiz(k, read)
    for cause in k.causes.values():
        _check_cause(k, cause, read)
    cross_check_reading(k, read)


def _check_every_record(k: RecordSet, read: Records) -> None:
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
                for n, check in enumerate(record.proved_by):
                    read.known(key, identity, f"proved_by[{n}]", check, k.checks, "check")
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
                if {*applies.families} <= k.families.keys() and not families_with(k, applies):
                    read.misfit(key, identity, part, "no family is left that this applies to", "")


def _check_places(k: RecordSet, read: Records) -> None:
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


def _check_signs(k: RecordSet, read: Records) -> None:
    """Where findings are seen, and what checks read."""
    for finding in k.findings.values():
        for name in ("at", "only_at"):
            for n, at in enumerate(getattr(finding, name)):
                read.known("findings", finding.id, f"{name}[{n}]", at, k.places, "place")
        for name in ("implies", "narrows", "moot_beside"):
            for n, other in enumerate(getattr(finding, name)):
                if other == finding.id:
                    read.misfit("findings", finding.id, f"{name}[{n}]", "names the sign itself", other)
                read.known("findings", finding.id, f"{name}[{n}]", other, k.findings, "finding")
        for name in ("shown_by", "moot_after"):
            for n, other in enumerate(getattr(finding, name)):
                read.known("findings", finding.id, f"{name}[{n}]", other, k.checks, "check")
    told = {tag for finding in k.findings.values() for tag in finding.tells}
    for key, records in (("findings", k.findings.values()), ("checks", k.checks.values())):
        for record in records:
            if record.presumes is not None and "findings" not in read.broken_kinds:
                read.known(key, record.id, "presumes", record.presumes, told, "thing that a finding tells")
    for check in k.checks.values():
        for name, result in check.outcomes.items():
            for n, beside in enumerate(result.expected_beside):
                path = f"outcomes.{name}.expected_beside[{n}]"
                read.known("checks", check.id, path, beside, k.contexts, "context")
        for outcome, others in check.narrows.items():
            for n, other in enumerate(others):
                read.known("checks", check.id, f"narrows.{outcome}[{n}]", other, k.checks, "check")
        for n, sign in enumerate(check.moot_beside):
            read.known(
                "checks", check.id, f"moot_beside[{n}]", sign, {**k.findings, **k.contexts}, "finding or circumstance"
            )
        for name in ("at", "weak_at", "told_at"):
            for n, at in enumerate(getattr(check, name)):
                read.known("checks", check.id, f"{name}[{n}]", at, k.places, "place")
        for n, hold in enumerate(check.held_back_while):
            read.known("checks", check.id, f"held_back_while[{n}]", hold, k.holds, "hold")
        for none, little in check.scant.items():
            read.known_outcome("checks", check.id, f"scant.{none}", none, check)
            read.known_outcome("checks", check.id, f"scant.{none}", little, check)
        for group, by_outcome in check.groups.items():
            read.known("checks", check.id, f"groups.{group}", group, k.groups, "group")
            for outcome in by_outcome:
                read.known_outcome("checks", check.id, f"groups.{group}.{outcome}", outcome, check)


def _check_rules(k: RecordSet, read: Records) -> None:
    """Holds, temporary trials, circumstances, and the settings that may be off together."""
    at_once = k.scales.several_settings
    for c in at_once.steps:
        read.known("scales.yaml", "", f"several_settings.steps.{c}", c, k.circuits, "circuit")
    for finer, coarser in at_once.trims.items():
        for c in (finer, coarser):
            read.known("scales.yaml", "", f"several_settings.trims.{finer}", c, at_once.steps, "setting of `steps`")
    for hold_record in k.holds.values():
        for n, at in enumerate(hold_record.when.lean_at):
            read.known("safety.yaml", hold_record.id, f"when.lean_at[{n}]", at, k.places, "place")
        for n, f in enumerate(hold_record.when.findings):
            read.known("safety.yaml", hold_record.id, f"when.findings[{n}]", f, k.findings, "finding")
        for n, c in enumerate(hold_record.when.contexts):
            read.known("safety.yaml", hold_record.id, f"when.contexts[{n}]", c, k.contexts, "context")
        for n, together in enumerate(hold_record.when.together):
            for f in together.findings:
                read.known("safety.yaml", hold_record.id, f"when.together[{n}].findings", f, k.findings, "finding")
            for c in together.contexts:
                read.known("safety.yaml", hold_record.id, f"when.together[{n}].contexts", c, k.contexts, "context")
        for field, outcomes in (("when.outcomes", hold_record.when.outcomes), ("lifted_by", hold_record.lifted_by)):
            for check, came in outcomes.items():
                path = f"{field}.{check}"
                if read.known("safety.yaml", hold_record.id, path, check, k.checks, "check"):
                    for outcome in came:
                        read.known_outcome("safety.yaml", hold_record.id, path, outcome, k.checks[check])
        for n, use in enumerate(hold_record.when.uses):
            read.known("safety.yaml", hold_record.id, f"when.uses[{n}]", use, k.uses, "use")
        for n, c in enumerate(hold_record.when.causes):
            read.known("safety.yaml", hold_record.id, f"when.causes[{n}]", c, k.causes, "cause")
        for n, a in enumerate(hold_record.actions):
            read.known("safety.yaml", hold_record.id, f"actions[{n}]", a, k.actions, "action")
        if hold_record.mended_by is not None:
            read.known("safety.yaml", hold_record.id, "mended_by", hold_record.mended_by, k.actions, "action")
        for n, look in enumerate(hold_record.looks_first):
            read.known("safety.yaml", hold_record.id, f"looks_first[{n}]", look, k.checks, "check")
    for tried in k.temporary_trials.values():
        if read.known("temporary_trials.yaml", tried.id, "check", tried.check, k.checks, "check"):
            for effect, outcome in tried.effects.items():
                path = f"effects.{effect}"
                read.known_outcome("temporary_trials.yaml", tried.id, path, outcome, k.checks[tried.check])
    for context in k.contexts.values():
        for n, deed in enumerate(context.moot_after):
            known = {*k.circuits, *k.actions}
            read.known("contexts.yaml", context.id, f"moot_after[{n}]", deed, known, "setting or repair")
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


def _check_machines(k: RecordSet, read: Records) -> None:
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
                read.misfit("families", family.id, f"also_called[{n}]", "another family is called so", word)
    for use_record in k.uses.values():
        for family_id in use_record.families:
            read.known("uses.yaml", use_record.id, f"families.{family_id}", family_id, k.families, "family")
        for group in use_record.groups:
            read.known("uses.yaml", use_record.id, f"groups.{group}", group, k.groups, "group")
        for n, kind in enumerate(use_record.kinds):
            read.known("uses.yaml", use_record.id, f"kinds[{n}]", kind, k.uses, "use")


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
            read.misfit("families", family.id, path, str(error))


def _check_quiz(k: RecordSet, read: Records) -> None:
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


def _check_cause(k: RecordSet, cause: Cause, read: Records) -> None:
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
                read.misfit(
                    "causes", identity, f"checks[{n}].check", "reads the mixture, so a cause cannot answer it",
                    in_check.check,
                )
            else:
                read.known_outcome("causes", identity, f"checks[{n}].outcome", in_check.outcome, check)
    for n, fix in enumerate(cause.fixed_by):
        read.known("causes", identity, f"fixed_by[{n}].do", fix.do, k.actions, "action")
    for n, chosen in enumerate(cause.set_to_suit):
        read.known("causes", identity, f"set_to_suit[{n}]", chosen, k.contexts, "context")
    for n, hidden in enumerate(cause.compensates):
        read.known("causes", identity, f"compensates[{n}]", hidden, k.causes, "cause")
    for n, rival in enumerate(cause.mistaken_for):
        read.known("causes", identity, f"mistaken_for[{n}].cause", rival.cause, k.causes, "cause")
        if rival.cause == identity:
            read.misfit("causes", identity, f"mistaken_for[{n}].cause", "names the cause itself", identity)
        sign = rival.told_apart_by
        if sign not in k.findings and sign not in k.checks:
            either = {**k.findings, **k.checks}
            read.known("causes", identity, f"mistaken_for[{n}].told_apart_by", sign, either, "finding or check")
