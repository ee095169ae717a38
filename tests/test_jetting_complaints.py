"""Ordinary jetting complaints, written from published signs: the right circuit and direction must lead.

The complaints were written, with what a fair mechanic would accept, before the engine was asked about any of them.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment
from carbdiag.knowledge import Knowledge, shipped_knowledge
from carbdiag.states import State
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Direction

FOLDER = Path(__file__).parent / "jetting"
FILES = sorted(FOLDER.glob("*.yaml"))

# Where a cause acts that names no circuit of its own, by its group. Groups that are not metering are not here.
ACTS_AS = {
    "pilot_blocked": "pilot",
    "pilot_circuit_rich": "pilot",
    "pilot_circuit_lean": "pilot",
    "screw_setting": "mixture_screw",
    "main_rich": "main_jet",
    "main_lean": "main_jet",
    "main_blocked": "main_jet",
    "needle_rich": "needle",
    "needle_lean": "needle",
    "worn_needle_or_jet": "needle",
    "emulsion_tube": "needle",
    "cutaway": "cutaway",
    "float_high": "float_level",
    "float_low": "float_level",
    "float_valve_leak": "float_level",
    "accel_pump_weak": "accelerator_pump",
    "accel_pump_other": "accelerator_pump",
    "air_filter_missing_or_free": "air",
    "air_density_change": "air",
    "air_filter_restricted": "air_filter_restricted",
    "enrichener_stuck_on": "enrichener_stuck_on",
}
BANDS = {"idle", "eighth", "quarter", "half", "three_quarter", "full"}

Metering = tuple[str, Direction | None]


@dataclass(frozen=True)
class Complaint:
    """A complaint, and what a fair mechanic would accept as its answer."""

    case: Case
    direction: Direction
    circuits: frozenset[str]
    misleading: bool
    no_band: bool


def load(file: Path) -> Complaint:
    data = cast(dict[str, Any], parse_yaml(file.read_text(encoding="utf-8")))
    expected, _ = data.pop("expected"), data.pop("rows")
    misleading, no_band = data.pop("misleading"), data.pop("no_band")
    return Complaint(
        Case.model_validate(data),
        Direction(expected["direction"]),
        frozenset(expected["circuits"]),
        misleading,
        no_band,
    )


def metering(k: Knowledge, state: State) -> Metering | None:
    """The circuit a state acts through and its direction; nothing for causes that are not metering."""
    circuit = state.circuit
    if circuit is None and state.cause is not None:
        circuit = ACTS_AS.get(k.causes[state.cause].group)
    return (circuit, state.direction) if circuit else None


def ranking(assessment: Assessment) -> list[tuple[Metering, float]]:
    """Probability of each circuit and direction, likeliest first, unlisted faults included."""
    k, total = assessment.knowledge, defaultdict[Metering, float](float)
    for belief in assessment.beliefs:
        by_state = belief.posterior.by_state(belief.network)
        for state, probability in zip(belief.model.states, by_state, strict=True):
            key = metering(k, state)
            if key is not None:
                total[key] += belief.weight * float(probability)
    return sorted(total.items(), key=lambda item: -item[1])


def told_places(k: Knowledge, case: Case) -> set[str]:
    """Every place the complaint names, in words or because the sign has only one."""
    places = {check.at for check in case.checks if check.at}
    for report in case.findings:
        only = k.findings[report.finding].at
        places.update(report.at or (only if len(only) == 1 else ()))
    return places


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_right_circuit_and_direction_lead(file: Path) -> None:
    complaint = load(file)
    ranked = ranking(assess(shipped_knowledge(), complaint.case))
    (circuit, direction), _ = ranked[0]
    shown = ", ".join(f"{c} {d} {p:.3f}" for (c, d), p in ranked[:5])
    assert direction is complaint.direction, f"wanted {complaint.direction}: {shown}"
    assert circuit in complaint.circuits, f"wanted one of {sorted(complaint.circuits)}: {shown}"


def test_complaints_are_what_they_claim() -> None:
    k = shipped_knowledge()
    everyone = [load(file) for file in FILES]
    assert len(everyone) == 42  # j01-j30 first, k01-k12 fresh after the first were answered
    complaints = [c for c in everyone if c.case.id.startswith("j")]
    assert len(complaints) == 30
    assert sum(c.misleading for c in complaints) == 10
    assert sum(c.no_band for c in complaints) == 10
    assert sum(c.direction is Direction.RICH for c in complaints) == 15
    assert {(c.case.machine.family, c.case.machine.strokes) for c in complaints} == {
        (family, strokes)
        for family in ("round_slide", "flat_slide", "flat_slide_pump")  # jetted by slide, needle and jets
        for strokes in k.families[family].strokes
    }
    for c in everyone:
        assert c.case.contexts, c.case.id
        assert len(c.case.checks) <= 1, c.case.id
        assert not {"judged_rich", "judged_lean"} & {f.finding for f in c.case.findings}, c.case.id
        assert c.no_band is not bool(told_places(k, c.case) & BANDS), c.case.id


def test_named_groups_exist() -> None:
    """A group that is renamed must not fall out of the ranking unseen."""
    assert set(ACTS_AS) <= set(shipped_knowledge().groups)


def test_ranking_counts_each_metering_state_once() -> None:
    assessment = assess(shipped_knowledge(), load(FILES[0]).case)
    k = assessment.knowledge
    by_hand = sum(
        belief.weight * float(belief.posterior.by_state(belief.network)[n])
        for belief in assessment.beliefs
        for n, state in enumerate(belief.model.states)
        if state.circuit or (state.cause and k.causes[state.cause].group in ACTS_AS)
    )
    assert np.isclose(sum(p for _, p in ranking(assessment)), by_hand)
