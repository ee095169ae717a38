"""What a set of knowledge lacks: signs without a cause, causes without a cure, settings off one way only."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from carbdiag.correction import can_be_done
from carbdiag.errors import Mistake
from carbdiag.knowledge import Knowledge
from carbdiag.lint.spots import Spots
from carbdiag.model import Model
from carbdiag.records.causes import Cause
from carbdiag.scales import probability
from carbdiag.terms import Direction, Level, ProbabilityWord

#: The least a usable set of knowledge holds.
MINIMUMS: Final = {"causes": 80, "findings at places": 120, "checks": 45, "contexts": 15}


def counts_of(k: Knowledge) -> dict[str, int]:
    """How many records of each kind there are."""
    return {
        "causes": len(k.causes),
        "findings at places": sum(len(f.at) for f in k.findings.values()),
        "checks": len(k.checks),
        "contexts": len(k.contexts),
    }


def too_few(counts: Mapping[str, int]) -> Iterator[Mistake]:
    """Kinds of which a usable set of knowledge holds more."""
    for name, least in MINIMUMS.items():
        if counts[name] < least:
            yield Mistake("knowledge.yaml", name, f"at least {least} are needed", str(counts[name]))


def groups_without_cause(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Groups that no cause is in."""
    used = {c.group for c in k.causes.values()}
    for group in k.groups:
        if group not in used:
            yield spot.mistake("groups.yaml", group, "id", "a group needs at least one cause")


def one_way_settings(k: Knowledge, models: Iterable[Model], spot: Spots) -> Iterator[Mistake]:
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


_RELIABLE: Final = (ProbabilityWord.ALMOST_ALWAYS, ProbabilityWord.USUALLY)


def _off_by_steps(cause: Cause, circuit: str) -> bool:
    effect = cause.mixture
    return effect is not None and effect.circuit == circuit and any("step" in text for text in effect.amounts)


def signs_without_cause(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Places at which nothing shows a finding that can be seen there."""
    shown = {(s.finding, at) for c in k.causes.values() for s in c.shows for at in s.at or k.findings[s.finding].at}
    for finding in k.findings.values():
        for at in finding.at:
            if (finding.mixture is None or at == "parked") and (finding.id, at) not in shown:
                yield spot.mistake("findings", finding.id, "at", "neither the mixture nor a cause shows it here", at)


def causes_nobody_can_cure(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Causes without an action that can be done on a carburetor that can have them."""
    for cause in k.causes.values():
        actions = [k.actions[f.do] for f in cause.fixed_by]
        part = cause.mixture.circuit if cause.mixture else None
        for family in (k.families[f] for f in cause.applies.families or k.families):
            if part is not None and part not in family.circuits:
                continue  # what the carburetor lacks cannot be off on it
            if not any(can_be_done(action, family) for action in actions):
                rule = f"no action can be done on {family.id}: name one whose circuits it has"
                yield spot.mistake("causes", cause.id, "fixed_by", rule, ", ".join(a.id for a in actions))


def right_above_everyday(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Findings that a right mixture shows more often than engines in general do."""
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


def mute_records(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
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
