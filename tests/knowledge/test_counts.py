"""The shipped knowledge holds as much as it promises."""

from __future__ import annotations

import numpy as np
import pytest

from carbdiag import Knowledge
from carbdiag.model import compile_model
from carbdiag.separation import tabulate

#: The closed list of cause groups (design, section 8).
GROUPS = """
pilot_circuit_rich pilot_circuit_lean pilot_blocked screw_setting needle_rich needle_lean main_rich main_lean
main_blocked cutaway float_high float_low float_valve_leak enrichener_stuck_on choke_other air_leak_intake vacuum_hose
air_filter_restricted air_filter_missing_or_free accel_pump_weak accel_pump_other fuel_starvation_tank
fuel_stale_or_water worn_needle_or_jet cv_diaphragm slide_sticking carb_sync throttle_cable ignition_weak
ignition_timing spark_plug valve_clearance low_compression reeds crank_seal exhaust_leak exhaust_blocked emulsion_tube
air_density_change governor diaphragm_pumper other
""".split()  # noqa: SIM905


def test_at_least_150_causes(k: Knowledge) -> None:
    assert len(k.causes) >= 150


def test_at_least_220_findings(k: Knowledge) -> None:
    assert len(k.findings) >= 220


def test_at_least_80_checks_and_questions(k: Knowledge) -> None:
    assert len(k.checks) >= 80


def test_more_than_36_contexts(k: Knowledge) -> None:
    assert len(k.contexts) > 36


def test_every_cause_has_rivals_and_says_how_to_know_that_it_is_cured(k: Knowledge) -> None:
    for cause in k.causes.values():
        assert len(cause.mistaken_for) >= 2, cause.id
        assert cause.verify, cause.id


def test_every_cause_has_two_signs_that_speak_for_it_and_a_check_that_confirms_it(k: Knowledge) -> None:
    """A sign speaks for a cause when it is three times as likely with it as in a sound engine, a check four times."""
    signs: dict[str, set[str]] = {c: set() for c in k.causes}
    confirming: dict[str, set[str]] = {c: set() for c in k.causes}
    for machine in (tabulate(compile_model(k, f.id, s)) for f in k.families.values() for s in f.strokes):
        lift = np.exp(machine.log_p - machine.log_sound[:, None])
        p = np.exp(machine.log_p)
        seen = np.array([not row.startswith("no ") for row in machine.rows]) & machine.is_finding
        for n, cause in enumerate(machine.causes):
            signs[cause] |= {machine.record[r] for r in np.flatnonzero(seen & (lift[:, n] > 3) & (p[:, n] > 0.25))}
            tells = ~machine.is_finding & (lift[:, n] > 4) & (p[:, n] > 0.5)
            confirming[cause] |= {machine.record[r] for r in np.flatnonzero(tells)}
    assert [c for c, found in signs.items() if len(found) < 2] == []
    assert [c for c, found in confirming.items() if not found] == []


def test_the_groups_are_the_closed_list(k: Knowledge) -> None:
    assert set(k.groups) == set(GROUPS)


@pytest.mark.parametrize("group", GROUPS)
def test_every_group_holds_a_cause(k: Knowledge, group: str) -> None:
    assert any(c.group == group for c in k.causes.values())
