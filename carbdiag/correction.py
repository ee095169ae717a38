"""What to change for a cause: part, direction, one step, how to verify, how to put it back."""

from __future__ import annotations

from carbdiag.diagnosis_schema import Correction
from carbdiag.family_metering import FamilyTables
from carbdiag.knowledge import Knowledge
from carbdiag.lean_risk import WIDE_OPEN, LeanRisk, reaches_wide_open
from carbdiag.records.actions import Action
from carbdiag.records.causes import Cause
from carbdiag.records.circuits import Circuit
from carbdiag.records.families import Family
from carbdiag.scales import probability
from carbdiag.terms import Change, Direction


def correct(
    k: Knowledge,
    cause: Cause,
    family: Family,
    tables: FamilyTables,
    direction: Direction | None,
    risk: LeanRisk,
    suits: str | None = None,
    felt_at: str | None = None,
) -> Correction:
    """The correction of one cause on one kind of carburetor, held back where it would make a lean engine leaner.

    `suits` is the setting that is brought to parts which the rider chose and keeps; `felt_at` the opening at which a
    step is to be felt, left out the one where it does most.
    """
    circuit = suits or cause.setting
    if circuit is not None and direction:
        return _setting(k, k.circuits[circuit], tables, direction, risk, felt_at)
    key = ("repair", cause.id, family.id)
    found = k.memo.get(key)
    if not isinstance(found, Correction):
        found = _repair(k, cause, family)
        k.memo[key] = found
    return found


def can_be_done(action: Action, family: Family) -> bool:
    """Whether a kind of carburetor has what an action works on."""
    return not action.circuits or not set(action.circuits).isdisjoint(family.circuits)


def _repair(k: Knowledge, cause: Cause, family: Family) -> Correction:
    fixes = [f for f in cause.fixed_by if can_be_done(k.actions[f.do], family)]
    fix = max(fixes or cause.fixed_by, key=lambda f: probability(k, f.works))
    action = k.actions[fix.do]
    return Correction.trusted(
        action=action.id,
        name=action.name,
        part=cause.name,
        circuit=None,
        direction=None,
        size=None,
        steps=action.steps,
        minutes=action.minutes,
        tools=action.tools,
        verify=cause.verify,
        put_back=action.put_back,
        held_back=None,
        cautions=k.cautions_for((*action.cautions, *cause.cautions)),
    )


def _setting(
    k: Knowledge, circuit: Circuit, tables: FamilyTables, direction: Direction, risk: LeanRisk, felt_at: str | None
) -> Correction:
    way = Change.RICHER if direction is Direction.LEAN else Change.LEANER
    key = ("setting", circuit.id, way)
    found = k.memo.get(key)
    if not isinstance(found, Correction):
        found = _change(k, circuit, way)
        k.memo[key] = found
    if way is Change.RICHER or not reaches_wide_open(tables, circuit.id):
        return found
    bands = tables.steps[circuit.id]
    held = _held(k, circuit.id, risk, felt_at or max(bands, key=lambda p: bands[p]))
    if held is None:
        return found
    return Correction.trusted(**{**found.__dict__, "held_back": held})


def _held(k: Knowledge, circuit: str, risk: LeanRisk, place: str) -> str | None:
    """Why a step leaner at wide openings waits, if it does."""
    limits, now = k.scales.decision, risk.at_wide_open()
    if max(risk.beyond_sound(p) for p in WIDE_OPEN) > limits.lean_is_possible:
        return (
            f"Not yet: a lean mixture at wide throttle is still possible ({now:.0%}). "
            "Settle that first; a leaner step there can seize the engine."
        )
    if not risk.told_of_wide_open:
        return (
            "Not yet: it makes wide throttle leaner too, and nothing was told of wide throttle. "
            "Say first how it pulls there; a leaner step can seize the engine."
        )
    if not risk.lets(circuit, 1.0, place):
        after = max(risk.after_leaner(circuit).values())
        return (
            f"Not yet: after this step wide throttle could be lean ({after:.0%}). "
            "Make sure first that it is rich there; a leaner step can seize the engine."
        )
    return None


def _change(k: Knowledge, circuit: Circuit, way: Change) -> Correction:
    setting = circuit.richer if way is Change.RICHER else circuit.leaner
    action = k.actions[setting.action]
    return Correction.trusted(
        action=action.id,
        name=action.name,
        part=circuit.name,
        circuit=circuit.id,
        direction=way,
        size=f"{circuit.step} {way.value}, then feel it again. {setting.do}",
        steps=action.steps,
        minutes=action.minutes,
        tools=action.tools,
        verify=circuit.verify,
        put_back=circuit.put_back,
        held_back=None,
        cautions=k.cautions_for((*circuit.cautions, *action.cautions)),
    )


def tuning_rank(k: Knowledge, cause: Cause) -> int:
    """Place of a cause in the tuning order: mimics and dirt first, then settings circuit by circuit."""
    key = ("rank", cause.id)
    found = k.memo.get(key)
    if not isinstance(found, int):
        found = _tuning_rank(k, cause)
        k.memo[key] = found
    return found


def _tuning_rank(k: Knowledge, cause: Cause) -> int:
    for stage in k.tuning_order.values():
        if cause.id in stage.causes:
            return stage.rank
    effect = cause.mixture
    if effect is None or effect.circuit is None or not effect.is_setting:
        return 1
    for stage in k.tuning_order.values():
        if effect.circuit in stage.circuits:
            return stage.rank
    return 1
