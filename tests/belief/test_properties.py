"""What must hold of belief whatever the case.

Many random cases about a toy world, and a few about the shipped knowledge.
"""

from __future__ import annotations

import dataclasses
import math
import os
import random
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from itertools import combinations, pairwise, product
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag import Case, Diagnosis, Knowledge, diagnose, load_case
from carbdiag.belief.evidence import Place, PlaceTerm, SignPart, said_present
from carbdiag.belief.lattice import Lattice
from carbdiag.belief.network import Signs, build
from carbdiag.belief.posterior import Evidence, left_out_odds, posterior
from carbdiag.case_schema import Air, AirChange
from carbdiag.casework.air_change import air_shift
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Belief
from tests.belief.plain_model import PlainModel, PlainState
from tests.belief.test_posterior_brute_force import TOY_CASES, random_world

STEADY = settings(derandomize=True, deadline=None, max_examples=50, database=None)


class Held:
    """Knowledge with a short name, for the reports that hypothesis prints."""

    def __init__(self, k: Knowledge) -> None:
        self.k = k


@pytest.fixture(scope="module")
def held_toy(toy: Knowledge) -> Held:
    """The toy knowledge."""
    return Held(toy)


@pytest.fixture(scope="module")
def held_shipped(k: Knowledge) -> Held:
    """The shipped knowledge."""
    return Held(k)


# ---------------------------------------------------------------------------------------------------------
# Cases about the toy world

TOY_MACHINE = {"family": "toy_slide", "strokes": 2}
SIGNS = {
    "thick_note": ["idle", "half", "full", "snap_open"],
    "heavy_feel": ["half", "full"],
    "sharp_note": ["idle", "half", "full", "snap_open"],
    "light_feel": ["half", "full"],
    "bogs": ["idle", "half", "full", "snap_open"],
    "misfires": ["idle", "half", "full"],
    "smells": ["parked"],
}


@st.composite
def reports(draw: st.DrawFn) -> dict[str, Any]:
    """One sign, at one place or none."""
    finding = draw(st.sampled_from(sorted(SIGNS)))
    at = draw(st.one_of(st.none(), st.sampled_from(SIGNS[finding])))
    return {
        "finding": finding,
        **({"at": [at]} if at else {}),
        "status": draw(st.sampled_from(["present", "present", "denied", "unknown"])),
        "certainty": draw(st.sampled_from(["sure", "probably", "maybe"])),
    }


@st.composite
def toy_cases(draw: st.DrawFn) -> dict[str, Any]:
    """A case that does not contradict itself."""
    told = draw(st.lists(reports(), max_size=5, unique_by=lambda r: (r["finding"], str(r.get("at")))))
    checks = draw(
        st.lists(
            st.one_of(
                st.fixed_dictionaries(
                    {
                        "check": st.just("more_fuel"),
                        "at": st.sampled_from(["idle", "half", "full"]),
                        "outcome": st.sampled_from(["better", "worse", "no_change"]),
                    }
                ),
                st.fixed_dictionaries(
                    {"check": st.just("spark_look"), "outcome": st.sampled_from(["strong", "weak", "none"])}
                ),
            ),
            max_size=2,
            unique_by=lambda c: (c["check"], c.get("at")),
        )
    )
    contexts = draw(st.lists(st.sampled_from(["moved_up", "moved_down", "stood_wet"]), max_size=2, unique=True))
    trials = draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "change": st.sampled_from(["pilot", "main_jet"]),
                    "direction": st.sampled_from(["richer", "leaner"]),
                    "steps": st.sampled_from([1.0, 2.0]),
                    "effect": st.sampled_from(["better", "worse", "no_change", "cured"]),
                    "put_back": st.booleans(),
                }
            ),
            max_size=2,
        )
    )
    air = draw(st.one_of(st.none(), st.tuples(st.integers(0, 2500), st.integers(0, 2500))))
    return {
        "machine": TOY_MACHINE,
        "reporting": draw(st.sampled_from(["volunteered", "interview"])),
        "contexts": contexts,
        "findings": told,
        "checks": checks,
        "trials": trials,
        **(
            {
                "air": {
                    "set": {"elevation_m": float(air[0]), "temperature_c": 15.0},
                    "now": {"elevation_m": float(air[1]), "temperature_c": 15.0},
                }
            }
            if air
            else {}
        ),
    }


def case_of(data: dict[str, Any]) -> Case:
    """A validated case."""
    return Case.model_validate(data)


def answer(k: Knowledge, data: dict[str, Any]) -> Diagnosis:
    """The diagnosis of a case."""
    return diagnose(case_of(data), k)


def test_next_steps_are_ranked_in_a_tiny_world_with_impossible_causes(toy: Knowledge) -> None:
    same = {"elevation_m": 0.0, "temperature_c": 15.0}
    data = {"machine": TOY_MACHINE, "findings": [{"finding": "bogs", "at": "full"}], "air": {"set": same, "now": same}}
    assert diagnose(case_of(data), toy).next_steps


def only_belief(k: Knowledge, data: dict[str, Any] | str) -> Belief:
    """The belief of a case whose family and strokes are known."""
    (belief,) = assess(k, load_case(data) if isinstance(data, str) else case_of(data)).beliefs
    return belief


def by_cause(belief: Belief) -> dict[str, float]:
    """P(cause) of every listed cause."""
    by_state = belief.posterior.by_state(belief.network)
    out = dict.fromkeys(belief.model.cause_ids, 0.0)
    for state, p in zip(belief.model.states, by_state, strict=True):
        if state.cause is not None:
            out[state.cause] += float(p)
    return out


def everything(belief: Belief) -> dict[str, float]:
    """P(cause), P(nothing), P(unlisted state), P(unknown), each by name."""
    by_state = belief.posterior.by_state(belief.network)
    return {
        **by_cause(belief),
        "nothing": float(by_state[0]),
        "unknown": belief.background,
        **{
            f"unlisted {s.group or s.circuit} {s.direction}": float(p)
            for s, p in zip(belief.model.states[1:], by_state[1:], strict=True)
            if s.cause is None
        },
    }


# ---------------------------------------------------------------------------------------------------------
# Order, silence, names


@STEADY
@given(data=toy_cases(), seed=st.integers(0, 1000))
def test_order_of_statements_within_an_epoch_does_not_matter(held_toy: Held, data: dict[str, Any], seed: int) -> None:
    toy = held_toy.k
    rng = random.Random(seed)
    other = dict(data)
    for field in ("findings", "checks", "contexts"):  # trials follow one another: their order is what happened
        other[field] = rng.sample(data[field], len(data[field]))
    a, b = everything(only_belief(toy, data)), everything(only_belief(toy, other))
    for name, p in a.items():
        assert b[name] == pytest.approx(p, abs=1e-12), name


@STEADY
@given(data=toy_cases(), finding=st.sampled_from(sorted(SIGNS)))
def test_asked_but_unknown_is_no_evidence(held_toy: Held, data: dict[str, Any], finding: str) -> None:
    """In an interview, where silence means nothing, not knowing changes no digit."""
    toy = held_toy.k
    data = {**data, "reporting": "interview"}
    more = {**data, "findings": [*data["findings"], {"finding": finding, "status": "unknown"}]}
    a, b = only_belief(toy, data), only_belief(toy, more)
    assert (a.posterior.weights == b.posterior.weights).all()
    assert a.background == b.background
    proposed = [s.id for s in answer(toy, more).next_steps if s.kind == "finding"]
    assert finding not in proposed


def test_asked_but_unknown_is_not_silent(toy: Knowledge) -> None:
    """Silence about a sign speaks against what would show it; not knowing takes that back, and no more."""
    text = "machine: {family: toy_slide, strokes: 2}\nvisited: [full]\n"
    silent = by_cause(only_belief(toy, text))["high_rich"]
    unknown = by_cause(only_belief(toy, text + "findings: [{finding: thick_note, status: unknown}]"))["high_rich"]
    present = by_cause(only_belief(toy, text + "findings: [{finding: thick_note, at: full}]"))["high_rich"]
    assert silent < unknown < present


def test_a_circumstance_left_out_speaks_a_little_against_what_comes_with_it_and_a_no_speaks_more() -> None:
    k = Knowledge.load()
    text = "machine: {family: round_slide, strokes: 4}\nfindings: [{finding: runs_only_on_choke, at: idle}]\n"
    no = "contexts: [{context: stood_for_months, status: denied}]\n"
    yes = "contexts: [stood_for_months]\n"
    dont_know = "contexts: [{context: stood_for_months, status: unknown}]\n"
    denied, silent, unknown, told = (
        by_cause(only_belief(k, text + more))["pilot_passage_blocked"] for more in (no, "", dont_know, yes)
    )
    assert denied < silent < unknown < told
    assert silent > 0.8 * unknown


def renamed(folder: Path, tmp_path: Path, old: str, new: str) -> Knowledge:
    """A copy of a knowledge folder in which one id has another name, everywhere."""
    copy = tmp_path / new
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("cases"))
    word = re.compile(rf"\b{old}\b")
    for file in copy.rglob("*.yaml"):
        file.write_text(word.sub(new, file.read_text(encoding="utf-8")), encoding="utf-8")
        if file.stem == old:
            file.rename(file.with_name(f"{new}.yaml"))
    return Knowledge.load(copy)


@pytest.mark.parametrize("old", ["high_rich", "low_lean", "bogs", "thick_note", "part_look", "set_high", "low_rich"])
def test_renaming_an_id_changes_nothing_but_the_id(toy: Knowledge, toy_folder: Path, tmp_path: Path, old: str) -> None:
    new = f"{old}_by_another_name"
    other = renamed(toy_folder, tmp_path, old, new)
    word = re.compile(rf'"{old}"')
    for text in TOY_CASES.values():
        head = "machine: {family: toy_slide, strokes: 2}\n"
        a = diagnose(load_case(head + text), toy)
        b = diagnose(load_case(head + re.sub(rf"\b{old}\b", new, text)), other)
        # a cause file is named by its id, so equal probabilities may swap places: compare by name
        assert sorted_answer(word.sub(f'"{new}"', a.model_dump_json())) == sorted_answer(b.model_dump_json())


def sorted_answer(json: str) -> tuple[dict[str, float], dict[str, float], float, str]:
    """What an answer claims, whatever the order of equals."""
    d = Diagnosis.model_validate_json(json)
    return (
        {g.group: g.probability for g in d.groups},
        {c.id: c.probability for c in d.causes if c.probability > d.causes[-1].probability},
        d.nothing_wrong,
        d.answer,
    )


def test_renaming_in_the_shipped_knowledge_changes_nothing_but_the_id(k: Knowledge, tmp_path: Path) -> None:
    from carbdiag.knowledge import default_folder  # noqa: PLC0415

    other = renamed(default_folder(), tmp_path, "main_jet_blocked", "zz_main_jet_stopped_up")
    text = (
        "machine: {family: round_slide, strokes: 2}\n"
        "findings: [{finding: low_power, at: full}, {finding: knocks, status: denied}]\n"
    )
    a, b = everything(only_belief(k, text)), everything(only_belief(other, text))
    b["main_jet_blocked"] = b.pop("zz_main_jet_stopped_up")
    assert a.keys() == b.keys()
    for name, p in a.items():
        assert b[name] == pytest.approx(p, abs=1e-12), name


# ---------------------------------------------------------------------------------------------------------
# The mirror

_MIRROR = {
    "rich": "lean",
    "thick_note": "sharp_note",
    "heavy_feel": "light_feel",
    "richer": "leaner",
    "moved_up": "moved_down",
    "air_thinner": "air_denser",
    **{f"{c}_rich": f"{c}_lean" for c in ("low", "high", "feed")},
    **{f"unlisted {c} rich": f"unlisted {c} lean" for c in ("pilot", "main_jet", "air")},
    **{f"unlisted {c}_rich rich": f"unlisted {c}_lean lean" for c in ("low", "high")},
}
MIRROR = {**_MIRROR, **{b: a for a, b in _MIRROR.items()}}
SWAP = {"better": "worse", "worse": "better"}


def mirrored(data: dict[str, Any]) -> dict[str, Any]:
    """The same complaint with rich and lean exchanged."""
    out = {
        **data,
        "contexts": [MIRROR.get(c, c) for c in data["contexts"]],
        "findings": [{**f, "finding": MIRROR.get(f["finding"], f["finding"])} for f in data["findings"]],
        "checks": [
            {**c, "outcome": SWAP.get(c["outcome"], c["outcome"])} if c["check"] == "more_fuel" else c
            for c in data["checks"]
        ],
        "trials": [{**t, "direction": MIRROR[t["direction"]]} for t in data["trials"]],
    }
    if "air" in data:
        out["air"] = {"set": data["air"]["now"], "now": data["air"]["set"]}
    return out


@settings(STEADY, max_examples=150)
@given(data=toy_cases())
def test_a_mirrored_complaint_gets_the_mirrored_answer(held_toy: Held, data: dict[str, Any]) -> None:
    toy = held_toy.k
    a, b = only_belief(toy, data), only_belief(toy, mirrored(data))
    there = everything(b)
    for name, p in everything(a).items():
        assert there[MIRROR.get(name, name)] == pytest.approx(p, abs=1e-9), name
    flipped = answer(toy, mirrored(data)).mixture
    for one, other in zip(answer(toy, data).mixture, flipped, strict=True):
        for (level, p), (_, q) in zip(one.levels.items(), reversed(other.levels.items()), strict=True):
            assert q == pytest.approx(p, abs=2e-4), (one.place, level)  # answers are rounded to 1e-4


# ---------------------------------------------------------------------------------------------------------
# Air


@settings(STEADY, max_examples=200)
@given(
    low=st.floats(-400, 5000),
    climb=st.floats(0, 900),
    cold=st.floats(-40, 40),
    warming=st.floats(0, 14),
)
def test_thinner_air_never_makes_it_leaner(
    held_shipped: Held, low: float, climb: float, cold: float, warming: float
) -> None:
    """Higher and hotter is thinner: x goes down or stays, at every place, for every family; and back again."""
    k = held_shipped.k
    there = Air(elevation_m=low, temperature_c=cold)
    here = Air(elevation_m=low + climb, temperature_c=cold + warming)
    for family in k.families.values():
        up = air_shift(k, family, AirChange(set=there, now=here))
        down = air_shift(k, family, AirChange(set=here, now=there))
        for place, x in up.items():
            assert x <= 0
            assert down[place] == pytest.approx(-x, abs=1e-12)


# ---------------------------------------------------------------------------------------------------------
# Words


PARAPHRASES = [
    ("round_slide", "bogs", "hesitates", "half"),
    ("round_slide", "low_power", "lazy_response", "quarter"),
    ("flat_slide", "misfires", "breaks_up_at_high_rpm", "full"),
]


@pytest.mark.parametrize(("family", "one", "other", "place"), PARAPHRASES)
def test_the_same_sign_in_other_words_hardly_moves_the_odds(
    complete: Knowledge, family: str, one: str, other: str, place: str
) -> None:
    """Odds of any cause stay between those that either word alone would give: words are averaged, not multiplied."""
    assert complete.findings[one].cluster == complete.findings[other].cluster is not None
    head = f"machine: {{family: {family}, strokes: 4}}\nreporting: interview\nfindings:\n"
    line = "  - {{finding: {}, at: {}}}\n"
    alone = only_belief(complete, head + line.format(one, place)).posterior.weights
    also = only_belief(complete, head + line.format(other, place)).posterior.weights
    both = only_belief(complete, head + line.format(one, place) + line.format(other, place)).posterior.weights
    a, b, c = (np.log(w[w > 0]) - math.log(w[0]) for w in (alone, also, both))
    assert (c <= np.maximum(a, b) + 1e-9).all()
    assert (c >= np.minimum(a, b) - 1e-9).all()


def test_saying_the_same_twice_changes_nothing(k: Knowledge) -> None:
    head = "machine: {family: round_slide, strokes: 2}\nfindings:\n"
    line = "  - {finding: surges, at: half}\n"
    once, twice = only_belief(k, head + line), only_belief(k, head + line * 2)
    assert np.abs(once.posterior.weights - twice.posterior.weights).max() < 1e-12


# ---------------------------------------------------------------------------------------------------------
# Prior and certainty


@pytest.mark.parametrize("family", ["round_slide", "flat_slide", "flat_slide_pump"])
def test_a_case_without_a_word_returns_the_prior(k: Knowledge, family: str) -> None:
    belief = only_belief(k, f"machine: {{family: {family}, strokes: 4}}\nreporting: interview\n")
    model, weights = PlainModel(k, family, 4), belief.posterior.weights
    states = belief.model.states
    names = [(s.cause, s.severity, s.circuit, s.direction, None if s.cause else s.group) for s in states]
    single = {
        names[int(a)]: float(w)
        for a, b, w in zip(belief.network.first, belief.network.second, weights, strict=True)
        if b == 0
    }
    nothing = single[None, "", None, None, None]
    for s in model.states:
        odds = s.odds / k.scales.nothing_wrong * model.untold(s)
        assert single[s.key] / nothing == pytest.approx(odds, rel=1e-9), s.key  # type: ignore[index]


@pytest.mark.parametrize("status", ["present", "denied"])
@pytest.mark.parametrize("where", ["at: full", "at: [half, full]", "at: []"])
def test_the_surer_the_statement_the_further_it_moves(complete: Knowledge, status: str, where: str) -> None:
    """For every cause: sure beats probably beats maybe beats nothing said, all to the same side."""
    head = "machine: {family: round_slide, strokes: 2}\nreporting: interview\n"
    line = "findings: [{{finding: misfires, {}, status: {}, certainty: {}}}]"
    prior = by_cause(only_belief(complete, head))
    words = ("maybe", "probably", "sure")
    told = [by_cause(only_belief(complete, head + line.format(where, status, c))) for c in words]
    moved = 0
    for cause, p in prior.items():
        path = [p, *(t[cause] for t in told)]
        steps = [b - a for a, b in pairwise(path)]
        assert all(s >= -1e-12 for s in steps) or all(s <= 1e-12 for s in steps), cause
        moved += abs(steps[0]) > 1e-6
    assert moved > 50


@STEADY
@given(data=toy_cases())
def test_probabilities_are_consistent(held_toy: Held, data: dict[str, Any]) -> None:
    toy = held_toy.k
    belief = only_belief(toy, data)
    weights, network = belief.posterior.weights, belief.network
    assert (weights >= 0).all()
    assert float(weights.sum()) + belief.background == pytest.approx(1.0, abs=1e-9)
    causes = by_cause(belief)
    assert all(0 <= p <= 1 + 1e-12 for p in causes.values())
    holding = dict.fromkeys(causes, 0.0)
    for a, b, w in zip(network.first, network.second, weights, strict=True):
        for cause in {belief.model.states[int(s)].cause for s in (a, b)} - {None}:
            holding[str(cause)] += float(w)
    assert causes == pytest.approx(holding, abs=1e-12)

    d = answer(toy, data)
    Diagnosis.model_validate(d.model_dump())
    unlisted = dict.fromkeys(toy.groups, 0.0)
    for state, p in zip(belief.model.states, belief.posterior.by_state(network), strict=True):
        if state.cause is None and state.group is not None:
            unlisted[state.group] += float(p)
    for g in d.groups:
        mine = [unlisted[g.group], *(p for c, p in causes.items() if toy.causes[c].group == g.group)]
        assert max(mine) - 1e-4 <= g.probability <= sum(mine) + 1e-4
    for band in d.mixture:
        assert sum(band.levels.values()) == pytest.approx(1.0, abs=5e-4)
    for step in d.next_steps:
        assert sum(o.probability for o in step.outcomes) == pytest.approx(1.0, abs=5e-3)
        assert step.gain_bits >= 0


@STEADY
@given(data=toy_cases())
def test_the_same_case_gives_the_same_bytes(held_toy: Held, data: dict[str, Any]) -> None:
    toy = held_toy.k
    assert answer(toy, data).model_dump_json() == answer(toy, data).model_dump_json()


def test_processes_with_other_hash_seeds_give_the_same_bytes() -> None:
    text = (
        "findings: [{finding: surges}, {finding: bogs, at: half}, {finding: hesitates, at: half},"
        " {finding: low_power}]\n"
        "contexts: [stood_for_months, carb_just_cleaned]\ntrials: [{do: clean_carburetor, effect: better}]\n"
    )
    program = (
        "import sys; from carbdiag import diagnose, load_case;"
        "sys.stdout.write(diagnose(load_case(sys.argv[1])).model_dump_json())"
    )
    answers = {
        subprocess.run(
            [sys.executable, "-c", program, text],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("0", "1", "4242")
    }
    assert len(answers) == 1
    assert len(next(iter(answers))) > 1000


# ---------------------------------------------------------------------------------------------------------
# What was tried


def test_a_repair_that_changed_nothing_lowers_the_causes_it_would_have_fixed(k: Knowledge) -> None:
    head = "machine: {family: round_slide, strokes: 2}\nreporting: interview\n"
    head += "findings: [{finding: low_power, at: full}]\n"
    before = by_cause(only_belief(k, head))
    tried = 0
    for action in k.actions:
        fixes = {c for c in before if any(f.do == action for f in k.causes[c].fixed_by)}
        if not fixes:
            continue
        after = by_cause(only_belief(k, head + f"trials: [{{do: {action}, effect: no_change}}]"))
        cured = by_cause(only_belief(k, head + f"trials: [{{do: {action}, effect: cured}}]"))
        others = set(before) - fixes
        rest_before, rest_after = sum(before[c] for c in others), sum(after[c] for c in others)
        for cause in fixes:
            # against what the repair cannot fix; a cause it seldom fixes may gain on one it always fixes
            assert after[cause] / rest_after < before[cause] / rest_before, (action, cause)
            tried += 1
        assert sum(after[c] for c in fixes) < sum(before[c] for c in fixes), action
        assert sum(cured[c] for c in fixes) > sum(before[c] for c in fixes), action
    assert tried > 80


def lean_and_rich(k: Knowledge, text: str, band: str) -> tuple[float, float]:
    """P(lean) and P(rich) at a band, as it was when the story began."""
    (row,) = [m for m in diagnose(load_case(text), k).mixture if m.place == band]
    p = list(row.levels.values())
    return p[3] + p[4], p[0] + p[1]


@pytest.mark.parametrize(
    ("circuit", "band"), [("main_jet", "full"), ("needle", "half"), ("pilot", "idle"), ("mixture_screw", "idle")]
)
def test_a_trial_moves_lean_and_rich_as_it_should(k: Knowledge, circuit: str, band: str) -> None:
    head = "machine: {family: round_slide, strokes: 2}\nreporting: interview\nfindings: [{finding: bogs}]\n"
    trial = "trials: [{{change: {}, direction: {}, steps: 2, at: {}, effect: {}, put_back: true}}]"
    lean, rich = lean_and_rich(k, head, band)
    after = {
        (way, effect): lean_and_rich(k, head + trial.format(circuit, way, band, effect), band)
        for way, effect in product(("richer", "leaner"), ("better", "worse"))
    }
    for key in (("richer", "better"), ("leaner", "worse")):
        assert after[key][0] > lean, key
        assert after[key][1] < rich, key
    for key in (("leaner", "better"), ("richer", "worse")):
        assert after[key][0] < lean, key
        assert after[key][1] > rich, key


def x_at(belief: Belief, place: str) -> tuple[Any, Any]:
    """Mixture at a place, before any change, and weight of every listed hypothesis."""
    network = belief.network
    x = (
        np.clip(
            network.x[belief.model.places.index(place)][network.first]
            + network.x[belief.model.places.index(place)][network.second],
            -network.lattice.center,
            network.lattice.center,
        )
        * network.lattice.step
    )
    return x, belief.posterior.weights / belief.posterior.weights.sum()


def mean_x(belief: Belief, place: str) -> float:
    """Mean mixture at a place, before any change."""
    x, w = x_at(belief, place)
    return float(w @ x)


def test_two_trials_bracket_a_jet_size(toy: Knowledge) -> None:
    """Two sizes richer was better, two more were worse: lean by about two sizes, and surer than from either alone."""
    head = "machine: {family: toy_slide, strokes: 2}\nreporting: interview\n"
    step = "{{change: main_jet, direction: richer, steps: {}, at: full, effect: {}}}"
    up = only_belief(toy, f"{head}trials: [{step.format(2, 'better')}]")
    over = only_belief(toy, f"{head}trials: [{step.format(4, 'worse')}]")
    both = only_belief(toy, f"{head}trials: [{step.format(2, 'better')}, {step.format(2, 'worse')}]")
    size = math.log(1.04)

    def about_two_sizes(belief: Belief) -> float:
        x, w = x_at(belief, "full")
        return float(w[(x > size) & (x < 3.5 * size)].sum())

    assert size < mean_x(both, "full") < 3 * size
    assert mean_x(over, "full") < mean_x(both, "full") < mean_x(up, "full")
    assert about_two_sizes(both) > about_two_sizes(up) + 0.1
    assert about_two_sizes(both) > about_two_sizes(over) + 0.1


def test_a_later_observation_is_read_under_the_settings_of_its_time(toy: Knowledge) -> None:
    """Clean after two sizes richer says lean before; clean after they were put back says nothing of the kind."""
    head = "machine: {family: toy_slide, strokes: 2}\nreporting: interview\n"
    story = (
        "epochs:\n- trials: [{{change: main_jet, direction: richer, steps: 3, at: full, effect: better,"
        " put_back: {}}}]\n- findings: [{{finding: sharp_note, at: full, status: denied}},"
        " {{finding: thick_note, at: full, status: denied}}]\n"
    )
    kept, undone = (mean_x(only_belief(toy, head + story.format(b)), "full") for b in ("false", "true"))
    assert kept > undone + 0.01


# ---------------------------------------------------------------------------------------------------------
# Pairs


def test_a_setting_and_the_fault_it_hides_are_likelier_together(toy: Knowledge, complete: Knowledge) -> None:
    for k, family, setting, hidden, other in (
        (toy, "toy_slide", "high_rich", "feed_lean", "feed_rich"),
        (complete, "round_slide", "mixture_screw_rich", "pilot_passage_blocked", "float_level_high"),
    ):
        belief = only_belief(k, f"machine: {{family: {family}, strokes: 4}}\nreporting: interview\n")
        weights, network = belief.posterior.weights, belief.network
        causes = [s.cause for s in belief.model.states]
        single: dict[str | None, float] = {}
        pair: dict[frozenset[str | None], float] = {}
        for a, b, w in zip(network.first, network.second, weights, strict=True):
            if b == 0:
                single[causes[int(a)]] = single.get(causes[int(a)], 0.0) + float(w)
            else:
                key = frozenset((causes[int(a)], causes[int(b)]))
                pair[key] = pair.get(key, 0.0) + float(w)
        # odds of the pair against chance: P(a, b) / (P(a) P(b)), compared with a pair that hides nothing
        raised = pair[frozenset((setting, hidden))] / (single[setting] * single[hidden])
        chance = pair[frozenset((setting, other))] / (single[setting] * single[other])
        assert raised / chance == pytest.approx(k.scales.pairs.compensation, rel=1e-9)


# ---------------------------------------------------------------------------------------------------------
# What the enumeration leaves out


def sets_of_three_and_more(states: list[PlainState]) -> Iterator[tuple[PlainState, ...]]:
    """All sets of three to five states of different causes."""
    listed = [s for s in states if s.cause]
    for size in (3, 4, 5):
        for h in combinations(listed, size):
            if len({s.cause for s in h}) == size:
                yield h


LEFT_OUT_CASES = {
    "nothing said": "reporting: interview",
    "one sign": "reporting: interview\nfindings: [{finding: thick_note, at: full}]",
    "signs of three causes": "reporting: interview\nfindings: [{finding: sharp_note, at: idle}, {finding: thick_note,"
    " at: full}, {finding: heavy_feel, at: full}, {finding: misfires, at: half}, {finding: misfires, at: idle},"
    " {finding: misfires, at: full}]\nchecks: [{check: spark_look, outcome: weak}]",
    "all is well": "reporting: interview\nfindings: [{finding: thick_note, at: full, status: denied}, {finding: bogs,"
    " at: half, status: denied}, {finding: misfires, at: idle, status: denied}]",
}


@pytest.mark.parametrize("name", LEFT_OUT_CASES)
def test_left_out_bounds_what_three_and_more_causes_would_weigh(toy: Knowledge, name: str) -> None:
    text = "machine: {family: toy_slide, strokes: 2}\n" + LEFT_OUT_CASES[name]
    case = load_case(text)
    model = PlainModel(toy, "toy_slide", 2)
    counted = sum(model.prior(h) * model.likelihood(case, h) for h in model.hypotheses())
    more = sum(math.prod(s.odds for s in h) * model.likelihood(case, h) for h in sets_of_three_and_more(model.states))
    belief = only_belief(toy, text)
    bound = left_out_odds(belief.network, belief.evidence, belief.posterior)
    # the library's weights leave room for the unknown; the sets left out stand against the listed alone
    assert more / counted <= bound / (1 - belief.background) + 1e-12
    assert bound < 1000


@pytest.mark.parametrize("seed", range(8))
def test_left_out_covers_the_prior_odds_of_three_and_more(seed: int) -> None:
    world = random_world(seed)
    evidence = Evidence(np.array(world.odds), np.ones(len(world.cause)), (), ())
    found = posterior(world.network, evidence)
    per_cause = [
        sum(o for o, c in zip(world.odds, world.cause, strict=True) if c == n) for n in set(world.cause) - {-1}
    ]
    more = sum(math.prod(h) for size in range(3, len(per_cause) + 1) for h in combinations(per_cause, size))
    assert left_out_odds(world.network, evidence, found) >= more / math.exp(found.scale_log) - 1e-12


def test_left_out_is_too_low_where_three_causes_each_explain_a_sign_of_their_own() -> None:
    """The documented limit: nothing enumerated explains such a case as well as three causes do."""
    shows, everyday, prior, nothing, error = 0.9, 0.01, 0.05, 0.02, 0.02
    size = round(0.4 / 0.005) * 2 + 1
    cause = np.array([-1, 0, 1, 2], dtype=np.intp)
    links = np.ones((3, 4))
    for n in range(3):
        links[n, n + 1] = 1 - shows
    network = build(
        Lattice(0.005, 0.4, 0.03, 0.10),
        cause,
        cause,
        np.array([nothing, prior, prior, prior]),
        np.zeros((3, 4), dtype=np.intp),
        Signs(
            place=np.arange(3, dtype=np.intp),
            silent_base=np.full((3, size), 1 - everyday),
            silent_links=links,
            has_mixture=(False,) * 3,
            has_links=(True,) * 3,
        ),
        np.full(3, 0.03),
        frozenset(),
        1.0,
    )
    constant, weight = said_present(error)
    told = tuple(Place.of(network, p, (PlaceTerm(constant, (SignPart(p, weight),)),)) for p in range(3))
    evidence = Evidence(np.array([nothing, prior, prior, prior]), np.ones(4), told, ())
    found = posterior(network, evidence)

    def said(p: float) -> float:
        return (1 - error) * p + error * (1 - p)

    three = prior**3 * said(1 - (1 - everyday) * (1 - shows)) ** 3
    assert 0 < left_out_odds(network, evidence, found) < three / math.exp(found.scale_log)


# ---------------------------------------------------------------------------------------------------------
# A cause that nobody wrote down

SAMPLED = 150
SIGNS_ASKED = 14


def sample_case(model: PlainModel, state: PlainState, rng: random.Random) -> Case:
    """An interview about a machine with one fault: signs drawn from the model, those present and as many denied."""
    residual = {p: rng.gauss(0, model.tables.sigma[p]) for p in model.k.places}
    present: list[tuple[str, str]] = []
    absent: list[tuple[str, str]] = []
    for f in model.k.findings.values():
        a = f.applies
        if (a.families and model.family.id not in a.families) or (a.strokes and model.strokes not in a.strokes):
            continue
        if a.cylinders or a.carburetors or a.cooling or a.oiling or a.fuel_feed or a.uses:
            continue
        for place in f.at:
            shows = rng.random() < model.present(f.id, place, (state,), model.steps(residual[place]))
            (present if shows else absent).append((f.id, place))
    rng.shuffle(present)
    rng.shuffle(absent)
    told = [(f, p, "present") for f, p in present[: SIGNS_ASKED // 2]]
    told += [(f, p, "denied") for f, p in absent[: SIGNS_ASKED - len(told)]]
    return Case.model_validate(
        {
            "machine": {"family": model.family.id, "strokes": model.strokes},
            "reporting": "interview",
            "findings": [{"finding": f, "at": [p], "status": s} for f, p, s in told],
        }
    )


def without(k: Knowledge, cause: str) -> Knowledge:
    """The same knowledge, had nobody written this cause down."""
    return dataclasses.replace(k, causes=MappingProxyType({c: v for c, v in k.causes.items() if c != cause}), memo={})


def test_unexplained_is_said_modestly(k: Knowledge, capsys: pytest.CaptureFixture[str]) -> None:
    """How often `unexplained` is said of cases drawn from the model, with the true cause known and struck out.

    A missing cause is detectable only weakly (its neighbors explain it too), so what is asked is: few false alarms,
    more alarms when the cause is missing, and less belief in the leading cause.
    """
    rng = random.Random(20)
    model = PlainModel(k, "round_slide", 2)
    listed = [s for s in model.states if s.cause and not k.causes[s.cause].applies.cylinders]
    causes = sorted({s.cause for s in rng.choices(listed, weights=[s.odds for s in listed], k=40) if s.cause})[:15]
    known, missing, top_known, top_missing, ratios = [], [], [], [], []
    for cause in causes:
        poorer = without(k, cause)
        mine = [s for s in listed if s.cause == cause]
        for _ in range(SAMPLED // len(causes)):
            (state,) = rng.choices(mine, weights=[s.odds for s in mine])
            case = sample_case(model, state, rng)
            a, b = diagnose(case, k, steps=0), diagnose(case, poorer, steps=0)
            known.append(a.unexplained.flag)
            missing.append(b.unexplained.flag)
            top_known.append(a.causes[0].probability)
            top_missing.append(b.causes[0].probability)
            ratios.append(math.log(a.unexplained.ratio / b.unexplained.ratio))
    false_alarm, hit = sum(known) / len(known), sum(missing) / len(missing)
    with capsys.disabled():
        print(
            f"\nunexplained: false alarms {false_alarm:.3f}, hits {hit:.3f} of {len(known)} cases; leading cause"
            f" {sum(top_known) / len(known):.3f} known, {sum(top_missing) / len(known):.3f} missing;"
            f" mean log ratio of the evidence {sum(ratios) / len(ratios):.3f}"
        )
    assert false_alarm <= 0.15
    assert hit >= false_alarm
    assert sum(ratios) / len(ratios) > 0.05
    assert sum(top_missing) < sum(top_known)
