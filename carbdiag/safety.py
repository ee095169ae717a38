"""What must not be done in the present belief: the holds that are on, and the chances they follow from."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Final, get_args

import numpy as np

from carbdiag.applies import fit_weight
from carbdiag.case_schema import Case, Machine
from carbdiag.casework.believed import Assessment, by_cause
from carbdiag.casework.levels import leaning
from carbdiag.diagnosis_schema import HoldNow, MayUse
from carbdiag.engine_state import engine_runs
from carbdiag.knowledge import Knowledge
from carbdiag.lean_risk import LeanRisk, sound_lean
from carbdiag.records.checks import Check
from carbdiag.records.safety import Hold, HowUsed, Told
from carbdiag.terms import Status

#: How far a machine may be used, the strictest first.
_STRICTEST: Final = get_args(HowUsed)


@dataclass(frozen=True)
class Safety:
    """Holds that are on, how likely lean is, and whether the engine runs at all (None: nobody said).

    P(lean) is the worse of two: with what was repaired, and without it (`casework.levels.leaning`).
    """

    holds: tuple[HoldNow, ...]
    risk: LeanRisk
    engine_runs: bool | None

    @property
    def lean(self) -> Mapping[str, float]:
        """P(lean) by band."""
        return self.risk.by_place

    @property
    def on(self) -> frozenset[str]:
        """Ids of the holds that are on."""
        return frozenset(h.id for h in self.holds)


def safety_of(a: Assessment) -> Safety:
    """Judge a case over all kinds of machine it may be about."""
    k = a.knowledge
    levels = np.sum([b.weight * leaning(b, *b.model.residuals) for b in a.beliefs], axis=0)
    levels = levels / np.maximum(levels.sum(axis=-1, keepdims=True), 1e-300)
    leanest = levels[..., 3:].sum(axis=-1).max(axis=0)
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    lean = dict(zip(bands, leanest.tolist(), strict=True))
    told = any(b.observations for b in a.beliefs)
    return Safety(
        holds_on(k, a.case, lean, dict(cause_chances(a)), sound_lean(a.beliefs)) if told else (),
        LeanRisk(lean, a.beliefs),
        engine_runs(k, a.case),
    )


def cause_chances(a: Assessment) -> Iterator[tuple[str, float]]:
    """P(cause is at work) of every cause, over all kinds of machine, largest first."""
    totals: dict[str, float] = {}
    for b in a.beliefs:
        per_cause = by_cause(b, b.posterior.by_state(b.network))
        for cause, p in zip(b.model.cause_ids, per_cause.tolist(), strict=True):
            totals[cause] = totals.get(cause, 0.0) + b.weight * p
    yield from sorted(totals.items(), key=lambda i: (-i[1], i[0]))


def first_looks(k: Knowledge, case: Case, on: frozenset[str]) -> tuple[str, ...]:
    """What to look at before all else: what may lift a hold that is on, or is to be seen first, and was not done."""
    done = {c.check for e in case.history() for c in e.checks} | {s.id for s in case.unanswered}
    holds = [hold for hold in k.holds.values() if hold.id in on]
    looks = chain(*(hold.lifted_by for hold in holds), *(hold.looks_first for hold in holds))
    return tuple(dict.fromkeys(check for check in looks if check not in done))


def mended_first(k: Knowledge, case: Case, on: frozenset[str]) -> frozenset[str]:
    """The repairs that come before any other: of damage that a look has shown, while they were not made."""
    came = {(c.check, c.outcome) for e in case.history() for c in e.checks}
    done = {t.do for e in case.history() for t in e.trials}
    seen = [
        hold.mended_by
        for hold in k.holds.values()
        if hold.id in on and any((c, o) in came for c, outcomes in hold.when.outcomes.items() for o in outcomes)
    ]
    return frozenset(repair for repair in seen if repair is not None and repair not in done)


def not_looked(k: Knowledge, case: Case, on: frozenset[str]) -> Hold | None:
    """A hold that is on because a check that would lift it could not be done, and nothing bad was seen."""
    skipped = {s.id for s in case.unanswered}
    came = {c.check: c.outcome for e in case.history() for c in e.checks}
    for hold in (h for h in k.holds.values() if h.id in on):
        bad = any(check in came and came[check] not in sound for check, sound in hold.lifted_by.items())
        if not bad and not skipped.isdisjoint(hold.lifted_by):
            return hold
    return None


def _holds_by_sign(
    k: Knowledge, case: Case, hold: Hold, present: Mapping[str, int], holding: Collection[str]
) -> bool:
    """Whether a sign that was told, by the epoch that told it last, holds something back, and no look has lifted it."""
    when = hold.when
    made = {t.do for epoch in case.history() for t in epoch.trials}
    epochs = [number for sign, number in present.items() if sign in when.findings]
    if when.together and all(_is_told(told, present, holding, made) for told in when.together):
        epochs.append(max((present.get(sign, 0) for told in when.together for sign in told.findings), default=0))
    if not epochs:
        return False
    came = {c.check: c.outcome for epoch in case.history()[max(epochs) :] for c in epoch.checks}
    needed = {c: sound for c, sound in hold.lifted_by.items() if _may_have(k.checks[c], case.machine)}
    return not needed or any(came.get(check) not in sound for check, sound in needed.items())


def _is_told(
    told: Told, present: Mapping[str, int], holding: Collection[str], made: Collection[str | None]
) -> bool:
    return not (
        present.keys().isdisjoint(told.findings)
        and set(told.contexts).isdisjoint(holding)
        and set(told.repairs).isdisjoint(made)
    )


def _mended(case: Case, hold: Hold) -> int:
    """The number of the last epoch before the repair that mends what holds; -1 where it was not made."""
    by = hold.mended_by
    epochs = enumerate(case.history())
    return max((n for n, epoch in epochs if by is not None and any(t.do == by for t in epoch.trials)), default=-1)


def _may_have(check: Check, machine: Machine) -> bool:
    """Whether a check can be done on a machine, as far as it is known."""
    strokes = check.applies.strokes
    return (not strokes or machine.strokes in (None, *strokes)) and fit_weight(check.applies, machine, 1.0) > 0


def holds_on(
    k: Knowledge, case: Case, lean: Mapping[str, float], causes: Mapping[str, float], sound: Mapping[str, float]
) -> tuple[HoldNow, ...]:
    """The holds that are on, given P(lean) by place and P(cause); not those that limit nothing but its use.

    `sound` is P(lean) of an engine with nothing wrong, by place: a hold for lean is on where it is that much likelier.

    A sign that holds something back does so until a later epoch tells that it is gone, until the checks that lift the
    hold have shown that it did no harm, or until what it harmed was renewed: no other repair lifts anything.
    """
    return tuple(now for now, hold in _on(k, case, lean, causes, sound) if not hold.of_use_only)


def may_use(
    k: Knowledge, case: Case, lean: Mapping[str, float], causes: Mapping[str, float], sound: Mapping[str, float]
) -> MayUse:
    """Whether the machine may be used as it is: as far as the strictest of all that is on allows."""
    limits = [(now, hold.use) for now, hold in _on(k, case, lean, causes, sound) if hold.use is not None]
    limits.sort(key=lambda limit: (_STRICTEST.index(limit[1]), -limit[0].chance))
    how = limits[0][1] if limits else "gently"
    because = tuple(now for now, use in limits if use != "gently" or how == "gently")
    return MayUse.trusted(how=how, because=because)


def _on(
    k: Knowledge, case: Case, lean: Mapping[str, float], causes: Mapping[str, float], sound: Mapping[str, float]
) -> Iterator[tuple[HoldNow, Hold]]:
    present: dict[str, int] = {}  # and the epoch that told it last
    for number, epoch in enumerate(case.history()):
        for denied in (f.finding for f in epoch.findings if f.status is Status.DENIED):
            present.pop(denied, None)
        present |= {f.finding: number for f in epoch.findings if f.status is Status.PRESENT}
    holding = {c.context for c in case.contexts if c.status is Status.PRESENT}
    use = case.machine.use
    for hold in k.holds.values():
        when, mended = hold.when, _mended(case, hold)
        since = {sign: number for sign, number in present.items() if number > mended}
        came = {c.check: c.outcome for epoch in case.history()[mended + 1 :] for c in epoch.checks}
        told = _holds_by_sign(k, case, hold, since, holding) or not holding.isdisjoint(when.contexts)
        seen = told or use in when.uses or any(came.get(c) in outcomes for c, outcomes in when.outcomes.items())
        leaner = [lean.get(p, 0.0) for p in when.lean_at if lean.get(p, 0.0) - sound.get(p, 0.0) > when.more_than]
        likely = [causes.get(c, 0.0) for c in when.causes if causes.get(c, 0.0) > when.more_than]
        chance = 1.0 if seen else max([*leaner, *likely], default=0.0)
        if chance > 0:
            chance = round(chance, 4)
            pressing = chance >= k.scales.showing.hold_from
            yield HoldNow.trusted(id=hold.id, name=hold.name, why=hold.why, chance=chance, pressing=pressing), hold
