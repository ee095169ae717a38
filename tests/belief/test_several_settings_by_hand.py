"""Several settings off at once, weighed by hand: each combination by the plain model, each cause by its sum."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from carbdiag import Case, Knowledge
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Belief, by_cause, by_group, likeliest
from carbdiag.casework.several_settings import SeveralSettings
from carbdiag.terms import Direction
from tests.belief.plain_model import PlainModel, PlainState

TOLD: dict[str, tuple[str, int, dict[str, Any]]] = {
    "signs at three openings": ("round_slide", 2, {"findings": [
        {"finding": "blubbers", "at": ["idle"]},
        {"finding": "surges", "at": ["quarter"]},
        {"finding": "blubbers", "at": ["full"]},
    ]}),
    "denied, unsure and somewhere": (
        "flat_slide_pump",
        4,
        {
            "findings": [
                {"finding": "bogs", "at": ["full"], "status": "denied"},
                {"finding": "surges", "at": ["half"], "certainty": "maybe"},
                {"finding": "exhaust_note_muffled"},
            ]
        },
    ),
    "a choke and a trial": (
        "round_slide",
        4,
        {
            "findings": [{"finding": "pops_on_overrun"}, {"finding": "bogs", "at": ["quarter"]}],
            "checks": [{"check": "touch_of_choke", "at": "half", "outcome": "better"}],
            "trials": [{"change": "main_jet", "direction": "richer", "steps": 1, "at": "full", "effect": "no_change"}],
        },
    ),
}


def case(name: str) -> tuple[str, int, Case]:
    """The machine, and what was told of it after a change of filter and exhaust."""
    family, strokes, said = TOLD[name]
    machine, changed = {"family": family, "strokes": strokes}, ["filter_changed", "exhaust_changed"]
    return family, strokes, Case.model_validate({"machine": machine, "contexts": changed, **said})


def believed(k: Knowledge, name: str) -> tuple[Belief, SeveralSettings]:
    belief = likeliest(assess(k, case(name)[2]))
    assert belief.several is not None
    return belief, belief.several


@pytest.mark.parametrize("name", TOLD)
def test_combinations_are_weighed_as_the_plain_model_weighs_a_shift_of_the_mixture(
    complete: Knowledge, name: str
) -> None:
    """Each is to the plain model one state that shifts the mixture and does nothing else."""
    family, strokes, told = case(name)
    _, several = believed(complete, name)
    slow = PlainModel(complete, family, strokes)
    sound = slow.likelihood(told, ())
    circuits = [*several.off]
    rng = random.Random(11)
    some = rng.sample(range(len(several.weights)), 25) + np.argsort(-several.weights)[:15].tolist()
    scale = complete.scales.several_settings

    def shift(n: int) -> dict[str, int]:
        by = {c: {p: slow.steps(v) for p, v in slow.step_richer(c).items()} for c in circuits}
        return {p: sum(-int(several.off[c][n]) * by[c][p] for c in circuits) for p in complete.places}

    def weight(n: int) -> float:
        steps = [int(several.off[c][n]) for c in circuits]
        prior = math.prod(scale.each_step ** abs(s) * (scale.too_lean if s > 0 else 1.0) for s in steps)
        state = PlainState(None, f"several {n}", None, None, 1.0, shift(n))
        return prior * slow.likelihood(told, (state,)) / sound

    by_hand = {n: math.log(weight(n)) for n in some}
    first = some[-1]
    for n, log in by_hand.items():
        found = math.log(several.weights[n]) - math.log(several.weights[first])
        assert found == pytest.approx(log - by_hand[first], abs=1e-9)


@pytest.mark.parametrize("name", TOLD)
def test_causes_hold_what_several_settings_hold(complete: Knowledge, name: str) -> None:
    """P(cause) is that of the enumeration where not several settings are off, and of the combinations else."""
    belief, several = believed(complete, name)
    alone = replace(belief, several=None)
    by_state = belief.posterior.by_state(belief.network)
    together, apart = by_cause(belief, by_state), by_cause(alone, by_state)
    trims = complete.scales.several_settings.trims
    off = {number: 0.0 for (c, _), number in belief.model.settings.items() if c in several.off}
    assert off
    for n, weight in enumerate(several.weights):
        steps = {c: int(several.off[c][n]) for c in several.off}
        for c, lean in steps.items():  # a screw is named only where the jet that it trims is right
            if lean and not steps.get(trims.get(c, ""), 0):
                off[belief.model.settings[c, Direction.LEAN if lean > 0 else Direction.RICH]] += float(weight)
    for n in range(len(apart)):
        assert together[n] == pytest.approx((1 - several.share) * apart[n] + several.share * off.get(n, 0.0))
    groups = by_group(belief, by_state)
    assert (groups <= 1 + 1e-9).all()
    for n, group in enumerate(belief.model.group_ids):
        mine = [together[c] for c, cause in enumerate(belief.model.cause_ids) if complete.causes[cause].group == group]
        assert max(mine, default=0.0) - 1e-9 <= groups[n] <= sum(mine) + groups[n] * 1e-9 + by_unlisted(belief, group)


def by_unlisted(belief: Belief, group: str) -> float:
    """What faults nobody wrote down add to a group."""
    by_state = belief.posterior.by_state(belief.network)
    return sum(float(by_state[n]) for n, s in enumerate(belief.model.states) if s.cause is None and s.group == group)
