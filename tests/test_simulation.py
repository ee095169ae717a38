"""The simulated riders follow the model, and the study runs from end to end; its numbers are for the docs page."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchmarks import calibration, compare_ways
from benchmarks.calibration import Guess, calibration_error, error_by_chance, reliability
from benchmarks.reported_walks import replay_all, table
from benchmarks.simulated_world import MACHINES, Rider, World
from benchmarks.simulation import main
from carbdiag import Case, Knowledge
from carbdiag.casework.assessing import assess


def world(k: Knowledge, off: float) -> World:
    return World.make(k, MACHINES[0], off, np.random.default_rng(1))


def test_a_rider_has_one_answer_and_one_luck_whatever_was_done_before(k: Knowledge) -> None:
    first, other = (Rider(world(k, 1.0), (3, 5)) for _ in range(2))
    assert first.complaint() == other.complaint()
    other.answer("check", "spark_test", None)
    other.answer("finding", "surges", "half")
    assert [first.answer("check", c, None) for c in ("choke_home", "leak_spray")] == [
        other.answer("check", c, None) for c in ("choke_home", "leak_spray")
    ]
    assert first.repair("clean_carburetor") == other.repair("clean_carburetor")


def test_signs_come_as_often_as_the_model_says(k: Knowledge) -> None:
    """For riders with one cause, averaged over the residual: the frequency of a sign is the model's."""
    w = world(k, 1.0)
    row = w.model.rows["surges", "quarter"]
    riders = [Rider(w, (7, n)) for n in range(1500)]
    alone = [r for r in riders if len(r.truth) == 1]
    said = np.mean([r.shows(row) for r in alone])
    expected = np.mean([1 - float(w.model.network.single_silent[row, r.truth[0]]) for r in alone])
    assert said == pytest.approx(expected, abs=0.01)


def test_a_sign_goes_on_after_a_repair_unless_its_cause_is_gone(k: Knowledge) -> None:
    """Of the riders with two causes whose idle is bad: as many still have it as the other cause alone explains."""
    w = world(k, 1.0)
    row, still, expected = w.model.rows["will_not_idle", "idle"], [], []
    for n in range(20000):
        r = Rider(w, (11, n))
        if len(r.truth) != 2 or r.answer("finding", "will_not_idle", "idle") == "no":
            continue
        before = r.shows(row)
        r.truth = r.truth[1:]
        expected.append(min(r.shows(row) / before, 1.0))
        still.append(r.answer("finding", "will_not_idle", "idle") == "yes")
    assert len(still) > 300
    assert np.mean(still) == pytest.approx(np.mean(expected), abs=0.05)


def test_a_world_that_is_off_differs_and_a_matched_one_does_not(k: Knowledge) -> None:
    w, off = world(k, 1.0), world(k, 4.0)
    assert not w.sign_off.any()
    assert np.abs(off.sign_off).max() == pytest.approx(np.log(4), rel=0.01)


def test_calibration_error_is_nought_only_where_said_is_so() -> None:
    right = [Guess(0.75, n % 4 != 0, 0.5, 0.1) for n in range(100)]
    assert calibration_error(right) == pytest.approx(0.0)
    assert calibration_error([Guess(0.95, False, 0.0, 1.0)] * 10) == pytest.approx(0.95)
    assert reliability(right) == [(0.75, 0.75, 100)]


def test_few_answers_show_a_calibration_error_by_chance_and_many_hardly_any() -> None:
    said = [Guess(0.05 + 0.1 * (n % 10), True, 0.5, 0.1) for n in range(100)]
    assert error_by_chance(said) == error_by_chance(said) > 0.05
    assert error_by_chance(said * 25) < 0.03


def test_the_study_runs_and_writes_its_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["--quick", "--out", str(tmp_path)])
    text = (tmp_path / "simulation.md").read_text(encoding="utf-8")
    for heading in ("The goals, met or not", "matched", "×2", "×4", "result by result"):
        assert heading in text
    assert "fixed interview of ten" in capsys.readouterr().out


def test_calibration_is_measured_and_written_to_its_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    calibration.main(["--quick", "--out", str(tmp_path)])
    text = (tmp_path / "calibration.md").read_text(encoding="utf-8")
    for heading in ("The goals, met or not", "matched", "×2", "was so", "taken out"):
        assert heading in text
    assert (tmp_path / "calibration.svg").read_text(encoding="utf-8").count("<svg") == 1
    assert "calibration error" in capsys.readouterr().out


def test_riders_tell_as_many_signs_as_reports_do_and_of_paraphrases_one(k: Knowledge) -> None:
    w = world(k, 1.0)
    told = [Rider(w, (9, n), anything=True).complaint().findings for n in range(300)]
    assert np.mean([len(signs) for signs in told]) == pytest.approx(2.0, abs=0.25)
    for signs in told:
        words = [(k.findings[f.finding].cluster or f.finding, f.at) for f in signs]
        assert len(words) == len(set(words))


def test_faults_are_drawn_as_often_as_the_model_holds_them_for_likely(k: Knowledge) -> None:
    w = world(k, 1.0)
    weights = assess(k, Case(machine=w.machine)).beliefs[0]
    alone = weights.posterior.weights[: weights.network.states]
    listed = weights.network.cause >= 0
    expected = {1: alone.sum() - alone[0], 2: weights.posterior.weights.sum() - alone.sum()}
    riders = [Rider(w, (11, n), anything=True) for n in range(2000)]
    for causes, p in expected.items():
        assert np.mean([len(r.truth) == causes for r in riders]) == pytest.approx(p, abs=0.03)
    assert np.mean([r.background for r in riders]) == pytest.approx(weights.background, abs=0.02)
    unlisted = [len(r.truth) == 1 and not r.causes for r in riders]
    assert np.mean(unlisted) == pytest.approx(alone[~listed].sum() - alone[0], abs=0.03)


def test_ways_are_compared_on_the_same_riders_with_what_was_saved_before(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ways = ["--riders", "2", "--off", "1", "--jobs", "1", "--ways", "prior order", "knowing the cause"]
    compare_ways.main([*ways, "--save", str(tmp_path / "before.json")])
    first = capsys.readouterr().out
    compare_ways.main([*ways, "--beside", str(tmp_path / "before.json")])
    again = capsys.readouterr().out
    assert "1.000 ± 0.000" in first
    assert again.count("against what was saved +0 ± 0 (2 riders)") == 2


def test_reported_cases_are_replayed_result_by_result(k: Knowledge) -> None:
    replayed = replay_all(k)
    assert len(replayed) > 10
    for r in replayed:
        results = sum(len(e.checks) + len(e.readings) + len(e.trials) for e in r.reported.case.history())
        assert len(r.given) == results
    assert len(list(table(replayed))) == len(replayed) + 2
