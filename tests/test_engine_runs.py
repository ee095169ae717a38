"""What is told says whether the engine runs: nobody who tells how it pulls is asked whether it starts."""

from __future__ import annotations

import pytest

from carbdiag import Case, diagnose
from carbdiag.candidates import candidates
from carbdiag.casework.assessing import assess
from carbdiag.engine_state import engine_runs
from carbdiag.knowledge import shipped_knowledge
from carbdiag.open_candidates import open_candidates

K = shipped_knowledge()


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


def test_who_told_how_it_began_is_not_asked_whether_it_began_otherwise() -> None:
    """After other filters nobody asks whether it came of a long run flat out; after nothing told, it may be asked."""
    lean = [{"finding": "plug_white"}, {"finding": "bogs_then_pulls_hard", "at": ["snap_open"]}]
    onset = {c.id for c in K.contexts.values() if "filter_changed" in c.moot_beside}

    def asked(*contexts: str) -> set[str]:
        told = Case.model_validate({"machine": {"strokes": 4}, "findings": lean, "contexts": contexts})
        (belief, *_), holds = assess(K, told).beliefs, ()
        is_open, all_of_them = open_candidates(belief, told, holds), candidates(belief.model)
        return {record for t, (record, _) in enumerate(all_of_them.ids) if is_open(t)} & onset

    assert asked() == onset
    assert asked("filter_changed") == set()


def test_who_tells_that_it_breaks_up_is_not_asked_whether_only_the_top_speed_is_down() -> None:
    sign = K.findings["top_speed_down_only"]
    for told in sign.moot_beside:
        place = "full" if "full" in K.findings[told].at else K.findings[told].at[0]
        assert sign.id not in {s.id for s in diagnose(case({"finding": told, "at": [place]}), K, steps=20).next_steps}


def test_it_ran_fine_before_other_parts_were_fitted_says_nothing_of_these() -> None:
    """Of the set-up as it is, "it ran fine before" acquits; told of the one before the change, it says nothing."""

    def chances(*contexts: str) -> dict[str, float]:
        told = [{"finding": "flat_spot", "at": ["half"]}, {"finding": "surges", "at": ["half"]}]
        case = Case.model_validate({"machine": {"strokes": 4}, "findings": told, "contexts": contexts})
        return {c.id: c.probability for c in diagnose(case, K).causes}

    assert "filter_changed" in K.contexts["ran_fine_before"].void_beside
    assert chances("filter_changed", "ran_fine_before") == chances("filter_changed")
    assert chances("ran_fine_before") != chances()


def test_who_told_the_numbers_on_the_jets_is_not_asked_whether_larger_ones_were_fitted() -> None:
    told = {"strokes": 4}, [{"finding": "blubbers", "at": ["half"]}]
    larger = [{"check": "read_jet_numbers", "outcome": "larger"}]

    def asked(checks: list[dict[str, str]]) -> set[str]:
        case = Case.model_validate({"machine": told[0], "findings": told[1], "checks": checks})
        (belief, *_) = assess(K, case).beliefs
        is_open = open_candidates(belief, case, ())
        return {record for t, (record, _) in enumerate(candidates(belief.model).ids) if is_open(t)}

    assert {"main_made_larger", "pilot_made_smaller"} <= asked([])
    assert {"main_made_larger", "pilot_made_smaller"}.isdisjoint(asked(larger))


def test_who_cracked_the_cap_is_not_asked_whether_air_rushed_in() -> None:
    fades = case({"finding": "dies_after_minutes"}, {"finding": "fades_like_out_of_fuel"})
    cracked = fades.model_validate(
        {**fades.model_dump(), "checks": [{"check": "loosen_fuel_cap", "outcome": "no_difference"}]}
    )
    for told, asked in ((fades, True), (cracked, False)):
        belief = assess(K, told).beliefs[0]
        is_open = open_candidates(belief, told, ())
        number = candidates(belief.model).number["air_rushes_in_at_cap", "overall"]
        assert is_open(number) is asked
