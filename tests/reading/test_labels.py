"""Labeled posts: reading must not fall below what was measured when the labels were made."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from typing import Any, cast, get_args

import pytest

from carbdiag import Knowledge
from carbdiag.reading_schema import FactRead
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Change, Effect
from tests.reading.benchmark_script import SCRIPT, benchmark

KNOWN_STATUS = {"denied", "unknown"}
EFFECTS = {e.value for e in Effect}
CHANGES = {c.value for c in Change}


@pytest.mark.parametrize(
    "name", [*benchmark.SETS, *benchmark.NEWCOMERS, benchmark.SECOND, benchmark.AGREED, *benchmark.HALVED]
)
def test_labels_name_records_that_exist(k: Knowledge, name: str) -> None:
    for post, said in benchmark.labels(name).items():
        for label in [*said["findings"], *said["contexts"]]:
            assert is_status(k, label), (post, label)
        for label in said["checks"]:
            assert is_outcome(k, label), (post, label)
        for label in said["trials"]:
            assert is_effect(k, label), (post, label)
        for label in said["facts"]:
            assert is_fact(k, label), (post, label)
        for label in said["either"]:
            assert any(is_one(k, label) for is_one in (is_status, is_outcome, is_effect, is_fact)), (post, label)
        assert not said["either"] & set().union(*(said[kind] for kind in (*benchmark.KINDS, "facts"))), post


def is_status(k: Knowledge, label: str) -> bool:
    record, _, status = label.partition(" ")
    return (record in k.findings or record in k.contexts) and status in ("", *KNOWN_STATUS)


def is_outcome(k: Knowledge, label: str) -> bool:
    check, _, outcome = label.partition(" ")
    return check in k.checks and outcome in k.checks[check].outcomes


def is_effect(k: Knowledge, label: str) -> bool:
    match label.split(" "):
        case [action, effect]:
            return action in k.actions and effect in EFFECTS
        case [circuit, change, effect]:
            return circuit in k.circuits and change in CHANGES and effect in EFFECTS
        case _:
            return False


def is_fact(k: Knowledge, label: str) -> bool:
    fact, _, value = label.partition(" ")
    match fact:
        case "family":
            return value in k.families
        case "use":
            return value in k.uses
        case _:
            return fact in get_args(FactRead.model_fields["fact"].annotation) and value != ""


@pytest.mark.parametrize("name", benchmark.HALVED)
def test_a_halved_set_has_posts_in_both_halves(name: str) -> None:
    told = benchmark.labels(name)
    assert {*told} <= {*benchmark.texts()}
    assert {benchmark.half_of(post) for post in told} == {"development", "held_out"}


@pytest.mark.parametrize("name", benchmark.SETS)
def test_the_hash_of_an_id_says_to_which_half_a_post_belongs(name: str) -> None:
    half = name.rstrip("_23")
    assert {benchmark.half_of(post) for post in benchmark.labels(name)} == {half}


@pytest.mark.parametrize("name", [*benchmark.SETS[2:], *benchmark.NEWCOMERS])
def test_every_later_post_has_a_source_a_group_or_none_and_labels(k: Knowledge, name: str) -> None:
    posts = cast(list[dict[str, Any]], parse_yaml((benchmark.TEXTS / f"{name}.yaml").read_text(encoding="utf-8")))
    assert [p["id"] for p in posts] == list(dict.fromkeys(benchmark.labels(name)))
    for post in posts:
        invented = post["source"] == "invented" and name in benchmark.NEWCOMERS
        assert invented or post["source"].startswith("http"), post["id"]
        groups = post["group"] if isinstance(post["group"], list) else [post["group"]] if post["group"] else []
        assert {*groups} <= {*k.groups}, post["id"]


def test_mistakes_in_the_blind_set_are_shown_to_nobody_by_chance() -> None:
    run = subprocess.run(
        [sys.executable, str(SCRIPT), "--score", "--each", benchmark.BLIND], capture_output=True, text=True, check=False
    )
    assert run.returncode == 2
    assert "--spoil" in run.stderr
    assert not run.stdout


SHARED = pytest.mark.skipif(not benchmark.posts(), reason="the posts stand in ../shared, which is absent")


@pytest.mark.parametrize(
    ("name", "precision", "recall"),
    [
        pytest.param("development", 0.9, 0.85, marks=SHARED),
        pytest.param("held_out", 0.45, 0.5, marks=SHARED),
        ("development_2", 0.4, 0.4),
        ("held_out_2", 0.4, 0.4),
        ("held_out_3", 0.4, 0.35),
        ("signs_invented", 0.75, 0.68),
        ("newcomer_1", 0.75, 0.7),
    ],
)
def test_reading_does_not_fall_below_its_measure(k: Knowledge, name: str, precision: float, recall: float) -> None:
    """The goal is an F1 of 0.85 on the held-out sets; it is not met."""
    total: Counter[str] = Counter()
    for counted in benchmark.scores(k, name).values():
        total.update(counted)
    found = benchmark.f1(total)
    assert found[0] >= precision
    assert found[1] >= recall
