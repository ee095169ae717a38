"""Which kinds of machine a case may be about, and how likely each is."""

from __future__ import annotations

from carbdiag.case_schema import Case, Machine
from carbdiag.family_metering import circuits_of
from carbdiag.knowledge import Knowledge, family_id
from carbdiag.model import Strokes
from carbdiag.terms import UNKNOWN_FAMILY, Certainty


def with_family_id(k: Knowledge, case: Case) -> Case:
    """The case with its family named by its id, where a rider's word for it was given."""
    family = family_id(k, case.machine.family)
    if family == case.machine.family:
        return case
    return case.model_copy(update={"machine": case.machine.model_copy(update={"family": family})})


def machine_kinds(k: Knowledge, machine: Machine) -> tuple[tuple[str, Strokes, float], ...]:
    """The kinds of machine a case may be about: (family, strokes, prior weight), weights summing to 1.

    The use of the machine, where told, says which families to expect instead of the families themselves.
    """
    expected = k.uses[machine.use].families if machine.use is not None else {}
    families = [machine.family] if machine.family != UNKNOWN_FAMILY else list(k.families)
    strokes: tuple[Strokes, ...] = (machine.strokes,) if machine.strokes else (2, 4)
    kinds: list[tuple[str, Strokes, float]] = []
    for s in strokes:
        for f in families:
            record = k.families[f]
            weights = expected.get(f) if expected and len(families) > 1 else record.weight_when_unknown
            if weights is None:
                continue
            weight = weights.two_stroke if s == 2 else weights.four_stroke
            if machine.cylinders is not None and machine.cylinders > 1:
                weight *= weights.several_cylinders
            if s in record.strokes and (weight > 0 or len(families) == 1):
                kinds.append((f, s, weight if len(families) > 1 else 1.0))
    if not kinds:  # a use whose machines have no such stroke: then it does not tell
        return machine_kinds(k, machine.model_copy(update={"use": None}))
    total = sum(w for _, _, w in kinds)
    return tuple((f, s, w / total) for f, s, w in kinds)


def with_parts_told(
    k: Knowledge, case: Case, kinds: tuple[tuple[str, Strokes, float], ...]
) -> tuple[tuple[str, Strokes, float], ...]:
    """The kinds of machine that have the parts that were fitted, set or looked at; all, where none has them."""
    told = case.history()
    moved = {t.change for epoch in told for t in epoch.trials if t.change is not None}
    sure = [c.check for epoch in told for c in epoch.checks if c.certainty is Certainty.SURE]
    looked_at = [{*k.checks[check].applies.circuits} for check in sure if k.checks[check].applies.circuits]
    fitted = circuits_of(case.machine.parts) if case.machine.parts else ()
    wanted = [*({part} for part in (*moved, *fitted)), *looked_at]
    having = tuple(kind for kind in kinds if all(any_of & {*k.families[kind[0]].circuits} for any_of in wanted))
    total = sum(weight for _, _, weight in having)
    return tuple((f, s, w / total) for f, s, w in having) if having else kinds
