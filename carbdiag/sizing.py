"""How large a change of setting a diagnosis asks for: from the posterior of the deviation to a size that exists."""

from __future__ import annotations

import numpy as np

from carbdiag.case_schema import AirChange, Case, FittedParts
from carbdiag.casework.air_change import dry_air
from carbdiag.casework.believed import Belief
from carbdiag.diagnosis_schema import SizedChange
from carbdiag.errors import CaseError, OutOfRangeError
from carbdiag.family_metering import fitted_parts
from carbdiag.knowledge import Knowledge
from carbdiag.lean_risk import LeanRisk
from carbdiag.metering.deviation import Deviation
from carbdiag.metering.jet_series import NUMBERINGS, JetSize
from carbdiag.metering.relocation import JetMove, relocate
from carbdiag.metering.sizes import PARTS, Correction, LeanCare, Parts, parts_of, size_correction
from carbdiag.records.causes import Cause
from carbdiag.terms import Status

#: The deviation is handed on in cells this wide; finer changes no size.
_CELL = 0.02

HONESTY = "A size to try, not a promise; in doubt the richer one is chosen."


def sized_change(
    k: Knowledge, belief: Belief, case: Case, cause: Cause, risk: LeanRisk, suits: str | None = None
) -> SizedChange | None:
    """Size the correction of a setting cause, as if it is at work; None where no part is sized.

    `suits` is the setting that is brought to parts which the rider chose. Sized by expected loss with lean dearer than
    rich, and never leaner at wide throttle while lean is possible there.
    """
    if cause.air is not None:
        return _for_new_air(k, belief, case, risk)
    circuit = suits or cause.setting
    if circuit not in PARTS:
        return None
    parts = _fitted(belief, case)
    if parts is None or cause.id not in belief.model.cause_ids:
        return None
    place = trouble_band(k, belief, case, circuit)
    deviation = _deviation(belief, cause.id, place)
    opening = k.places[place].opening
    if deviation is None or opening is None:
        return None
    limits = k.scales.decision
    care = LeanCare(
        three_quarter=min(risk.by_place.get("three_quarter", 1.0), 1.0),
        full=min(risk.by_place.get("full", 1.0), 1.0),
        limit=limits.lean_is_possible,
        cost=limits.lean_cost,
    )
    found = size_correction(parts, circuit, opening[1], deviation, care)
    return _in_words(k, found, place, listed=_listed(case.machine.parts, circuit))


def _fitted(belief: Belief, case: Case) -> Parts | None:
    """The parts of the machine; None where the kind taken for it, which nobody named, has no such parts."""
    try:
        return fitted_parts(belief.model.family, case.machine.parts)
    except (CaseError, OutOfRangeError):
        return None


def _for_new_air(
    k: Knowledge, belief: Belief, case: Case, risk: LeanRisk
) -> SizedChange | None:
    """The main jet for a known change of air, as a range; held back where it would lean what may be lean already."""
    parts = _fitted(belief, case)
    if parts is None or case.air is None:
        return None
    try:
        moved = relocate(dry_air(case.air.set), dry_air(case.air.now), parts)
    except OutOfRangeError:  # from the coldest valley to the hottest peak: no size is promised for that
        return None
    low, high = (100 * (f - 1) for f in (moved.main_area_factor.low, moved.main_area_factor.high))
    refused = None
    jetted = "main_jet" in belief.model.family.circuits  # needles alone have no sizes
    if moved.direction == "leaner" and risk.before_new_air() > k.scales.decision.lean_is_possible:
        refused = "lean at wide throttle is still possible; settle that first."
    jet = moved.main if refused is None else None
    marked = case.machine.parts.main_jet_marked if case.machine.parts and jet is None and refused is None else None
    present, proposed = None, None
    if jet is not None:
        present, proposed = jet.present, _start_with(jet)
    elif marked is not None:
        present, proposed = marked, _either_way(case.air, marked, parts)
    return SizedChange.trusted(
        place="full",
        amount=f"{'main jet area' if jetted else 'fuel'} {_signed(low)} to {_signed(high)} %, from the change of air",
        present=f"main jet {present:g}" if proposed else None,
        proposed=f"main jet {proposed}" if proposed else None,
        refused=refused,
        side_effects=(),
        notes=(
            *(moved.warnings if jetted else ()),
            *((HONESTY,) if refused is None else ()),
        ),
    )


def _either_way(air: AirChange, marked: float, parts: Parts) -> str | None:
    """What a jet of a number becomes, whichever way it counts: its hole or its flow."""
    by = {}
    for numbering in NUMBERINGS:
        try:
            fitted = parts_of(parts.geometry, main=JetSize(marked, numbering))
        except OutOfRangeError:  # no such jet is made, so the number counts the other way, or is misread
            return None
        jet = relocate(dry_air(air.set), dry_air(air.now), fitted).main
        if jet is not None:  # else no series of that numbering reaches so far
            by[numbering] = _start_with(jet)
    said = {"bore": "if numbered by hole (in 0.01 mm)", "flow": "if by flow (see the maker's list)"}
    return ", ".join(f"{by[n]} {said[n]}" for n in NUMBERINGS if n in by) or None


def _start_with(jet: JetMove) -> str:
    return f"{jet.start_with:g} first (on the rich side of {jet.first:g} to {jet.last:g})"


def _signed(percent: float) -> str:
    return f"{percent:+.0f}".replace("-", "−")


def _listed(parts: FittedParts | None, circuit: str) -> bool:
    """Whether the case names the fitted part, so that a size and not only an amount can be given."""
    if parts is None:
        return False
    field = {
        "main_jet": parts.main_jet,
        "pilot": parts.pilot_jet,
        "needle": parts.clip_groove,
        "cutaway": parts.cutaway_mm,
    }
    return field.get(circuit) is not None


def trouble_band(k: Knowledge, belief: Belief, case: Case, circuit: str) -> str:
    """The band told of at which the circuit does most, else the one at which it does most of all."""
    worth = {p: abs(v) for p, v in zip(belief.model.places, belief.model.step_x[circuit], strict=True)}
    told = {p for e in case.history() for f in e.findings if f.status is Status.PRESENT for p in f.at}
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    best = max(bands, key=lambda p: worth[p])
    return max((p for p in bands if p in told and worth[p] >= worth[best] / 2), key=lambda p: worth[p], default=best)


def _deviation(belief: Belief, cause: str, place: str) -> Deviation | None:
    network, model = belief.network, belief.model
    at = model.place(place)
    cells, weights = network.over_x_with(model.cause_ids.index(cause), belief.posterior.weights, at)
    if weights.sum() <= 0:
        return None
    cells += int(belief.steps[at]) - network.lattice.center
    x = np.rint(cells * network.lattice.step / _CELL).astype(np.intp)
    low = int(x.min())
    mass = np.bincount(x - low, weights)
    kept = np.flatnonzero(mass > 0.005 * mass.sum())
    return Deviation(
        tuple(float(v) for v in np.clip((kept + low) * _CELL, -0.9, 0.9)), tuple(float(v) for v in mass[kept])
    )


def _in_words(k: Knowledge, found: Correction, place: str, listed: bool) -> SizedChange:
    where = k.places[place].name
    more = "more" if found.wanted_percent >= 0 else "less"
    amount = f"about {abs(found.wanted_percent):.0f} % {more} fuel at {where}"
    sized = found.direction != "none"
    if sized:
        low, high = sorted((abs(found.percent.low), abs(found.percent.high)))
        steps = abs(found.steps)
        if listed:
            amount += f"; this change gives {low:.0f} to {high:.0f} %"
        elif steps == 1:
            amount += f", which one such step on a typical carburetor gives ({low:.0f} to {high:.0f} %)"
        else:  # a rider who read "4 steps" beside "one size" would not know which of the two to do
            amount += f" in all: {steps:g} such steps on a typical carburetor"
            amount += f" ({low:.0f} to {high:.0f} %), one at a time"
    bands = {p.opening[1]: p.name for p in k.places.values() if p.opening is not None}
    side = [
        f"{abs(s.percent):.0f} % {'richer' if s.percent > 0 else 'leaner'} at {bands[s.opening]}"
        for s in found.side_effects
        if s.opening in bands and abs(s.percent) >= 1
    ]
    show = sized and listed and found.proposed is not None
    return SizedChange.trusted(
        place=place,
        amount=amount,
        present=f"{found.unit} {found.present:g}" if show else None,
        proposed=f"{found.unit} {found.proposed:g}" if show else None,
        refused=found.refused or None,
        side_effects=tuple(side),
        notes=(*found.notes, *((HONESTY,) if sized and found.part != "mixture_screw" else ())),
    )
