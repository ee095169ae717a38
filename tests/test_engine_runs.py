"""What is told says whether the engine runs: nobody who tells how it pulls is asked whether it starts."""

from __future__ import annotations

import pytest

from carbdiag import Case, Knowledge, diagnose
from carbdiag.next_step import engine_runs

K = Knowledge.load()


def case(*findings: dict[str, object]) -> Case:
    return Case.model_validate({"machine": {"family": "round_slide", "strokes": 2}, "findings": list(findings)})


@pytest.mark.parametrize(
    ("told", "runs"),
    [
        ({"finding": "bogs", "at": ["half"]}, True),
        ({"finding": "misfires"}, True),  # only an engine that runs can
        ({"finding": "fades_like_out_of_fuel"}, True),  # told of a ride, whatever the opening
        ({"finding": "idle_rough", "status": "denied"}, True),  # "idles fine"
        ({"finding": "will_not_start", "status": "denied"}, True),  # "starts first kick"
        ({"finding": "will_not_start"}, False),
        ({"finding": "fires_on_prime_only"}, False),
        ({"finding": "plug_white"}, None),
        ({"finding": "fuel_overflow", "status": "denied"}, None),
        ({"finding": "misfires", "status": "unknown"}, None),
    ],
)
def test_what_is_told_says_whether_it_runs(told: dict[str, object], runs: bool | None) -> None:
    assert engine_runs(K, case(told)) is runs


def test_a_dead_engine_stays_dead_whatever_is_denied() -> None:
    told = case({"finding": "will_not_start"}, {"finding": "misfires", "status": "denied"})
    assert engine_runs(K, told) is False


@pytest.mark.parametrize(
    "told",
    [
        {"trials": [{"change": "main_jet", "direction": "leaner", "at": "full", "effect": "better"}]},
        {"checks": [{"check": "touch_of_choke", "at": "half", "outcome": "better"}]},
    ],
)
def test_what_was_felt_at_an_opening_was_felt_of_an_engine_that_runs(told: dict[str, object]) -> None:
    assert engine_runs(K, Case.model_validate({"machine": {"family": "round_slide", "strokes": 2}, **told})) is True


def test_an_engine_that_misses_is_not_asked_whether_it_starts() -> None:
    asked = {s.id for s in diagnose(case({"finding": "misfires"}), K, steps=20).next_steps}
    signs = [K.findings[f] for f in asked if f in K.findings]
    assert not [s.id for s in signs if s.means_dead or s.means_no_ride or s.told_if_ridden]
