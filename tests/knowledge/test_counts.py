"""The shipped knowledge holds as much as it promises."""

from __future__ import annotations

import pytest

from carbdiag import Knowledge

#: The closed list of cause groups (design, section 8).
GROUPS = """
pilot_circuit_rich pilot_circuit_lean pilot_blocked screw_setting needle_rich needle_lean main_rich main_lean
main_blocked cutaway float_high float_low float_valve_leak enrichener_stuck_on choke_other air_leak_intake vacuum_hose
air_filter_restricted air_filter_missing_or_free accel_pump_weak accel_pump_other fuel_starvation_tank
fuel_stale_or_water worn_needle_or_jet cv_diaphragm slide_sticking carb_sync throttle_cable ignition_weak
ignition_timing spark_plug valve_clearance low_compression reeds crank_seal exhaust_leak exhaust_blocked emulsion_tube
air_density_change governor diaphragm_pumper other
""".split()  # noqa: SIM905


@pytest.fixture(scope="module")
def k() -> Knowledge:
    return Knowledge.load()


def test_at_least_80_causes(k: Knowledge) -> None:
    assert len(k.causes) >= 80


def test_at_least_120_findings_at_places(k: Knowledge) -> None:
    assert sum(len(f.at) for f in k.findings.values()) >= 120


def test_at_least_45_checks(k: Knowledge) -> None:
    assert len(k.checks) >= 45


def test_at_least_15_contexts(k: Knowledge) -> None:
    assert len(k.contexts) >= 15


def test_the_groups_are_the_closed_list(k: Knowledge) -> None:
    assert set(k.groups) == set(GROUPS)


@pytest.mark.parametrize("group", GROUPS)
def test_every_group_holds_a_cause(k: Knowledge, group: str) -> None:
    assert any(c.group == group for c in k.causes.values())
