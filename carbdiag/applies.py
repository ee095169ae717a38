"""Whether a record applies to a kind of machine, and to one machine of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from carbdiag.case_schema import Machine
from carbdiag.records.applies import Applies
from carbdiag.records.checks import Check
from carbdiag.records.families import Family, Use
from carbdiag.records.findings import Finding

_TWO_STROKE = 2
#: Fields of `Applies` that the kind of machine decides.
_BY_KIND = frozenset(("families", "circuits", "without_circuits", "strokes"))


def fits(applies: Applies, family: str, strokes: int) -> bool:
    """Whether a record applies to a family and stroke at all."""
    return (not applies.families or family in applies.families) and (
        not applies.strokes or strokes in applies.strokes
    )


def asks_of_machine(applies: Applies) -> bool:
    """Whether a record that fits a kind of machine may still not apply to one of them."""
    return any(wanted for field, wanted in applies if field not in _BY_KIND)


def asked_of_some(record: Finding | Check) -> bool:
    """Whether a sign or check that fits a kind of machine may still not be asked of one of them."""
    return asks_of_machine(record.applies) or record.asked_of != Applies()


def as_asked(uses: Mapping[str, Use], machine: Machine) -> Machine:
    """The machine as questions take it: with what its use mostly has, of one cylinder unless its use leaves it open.

    Nobody with one cylinder wants to be asked which plug differs, and nobody with a saw whether its fan stands still;
    who has more says so, or is asked how many.
    """
    use = None if machine.use is None else uses[machine.use]
    taken: dict[str, object] = {}
    if machine.cylinders is None and (use is None or use.one_cylinder):
        taken["cylinders"] = 1
    if use is not None and machine.strokes is not None:
        parts = use.usual.get("two_stroke" if machine.strokes == _TWO_STROKE else "four_stroke")
        taken |= {part: has for part, has in parts or () if has is not None and getattr(machine, part) is None}
    return machine.model_copy(update=taken) if taken else machine


def fit_weight(
    applies: Applies, machine: Machine, unknown: float, circuits: Collection[str] = ()
) -> float:
    """1 where a record applies to the machine, 0 where it does not, `unknown` a fact that nobody gave.

    `circuits` are those of its carburetor, as far as that is known or assumed.
    """
    weight = 1.0
    facts: tuple[tuple[object, bool | None], ...] = (
        (applies.cylinders, None if machine.cylinders is None else machine.cylinders > 1),
        (applies.carburetors, _several_carburetors(machine)),
        (applies.cooling, None if machine.cooling is None else machine.cooling in applies.cooling),
        (applies.fuel_feed, None if machine.fuel_feed is None else machine.fuel_feed in applies.fuel_feed),
        (applies.oiling, None if machine.oiling is None else machine.oiling in applies.oiling),
        (applies.uses, None if machine.use is None else machine.use in applies.uses),
    )
    lacking = applies.not_with.get(machine.use, ()) if machine.use is not None else ()
    if machine.use in applies.not_uses or any(c in circuits for c in lacking):
        return 0.0
    for wanted, holds in facts:
        if wanted:
            weight *= unknown if holds is None else float(holds)
    return weight


def can_be_asked(
    record: Finding | Check, machine: Machine, family: Family, strokes: int
) -> bool:
    """Whether a sign is asked, or a check proposed, of a machine with such a carburetor."""
    return all(
        fits(a, family.id, strokes) and fit_weight(a, machine, 1.0, family.circuits) > 0
        for a in (record.applies, record.asked_of)
    )


def _several_carburetors(machine: Machine) -> bool | None:
    if machine.carburetors is not None:
        return machine.carburetors > 1
    if machine.cylinders == 1:
        return False
    return None
