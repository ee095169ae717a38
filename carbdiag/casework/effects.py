"""What a change that was made is felt to do, where it took something away and where it did not."""

from __future__ import annotations

import numpy as np

from carbdiag.belief.lattice import Floats
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import Column
from carbdiag.casework.columns import of_members
from carbdiag.knowledge import Knowledge
from carbdiag.terms import SETTING_EFFECTS, Effect, RepairHow


def effect_table(k: Knowledge, network: Network, moved: int) -> dict[Effect, Floats]:
    """P(effect | x before) on the lattice for a step that moves x by `moved` lattice steps.

    Badness is how far x lies outside `right`; a change of badness beyond `noticeable`, and beyond
    `noticeable_share` of what is off either way, is felt.
    """
    scale, trials = k.scales.mixture, k.scales.trials
    x = network.lattice.points()
    after = x + moved * network.lattice.step
    bad = np.maximum(np.abs(x) - scale.right_within, 0)
    bad_after = np.maximum(np.abs(after) - scale.right_within, 0)
    gain = (bad - bad_after) / (trials.noticeable + trials.noticeable_share * np.minimum(bad, bad_after))
    better = 0.5 * (1 + np.tanh(2 * (gain - 1)))
    worse = 0.5 * (1 + np.tanh(2 * (-gain - 1)))
    same = np.maximum(1 - better - worse, 0)
    healed = better * np.exp(-bad_after / trials.noticeable) * 0.5
    overshot = _overshot(x, after, scale.right_within, trials.noticeable)
    noise = trials.effect_noise / len(SETTING_EFFECTS)
    keep = (1 - trials.effect_noise) * (1 - overshot)
    return {
        Effect.OVERSHOT: noise + (1 - trials.effect_noise) * overshot,
        Effect.CURED: noise + keep * healed * (1 - trials.settings_come_back),
        Effect.CAME_BACK: noise + keep * better * trials.settings_come_back,
        Effect.BETTER: noise + keep * (better - healed) * (1 - trials.settings_come_back),
        Effect.NO_CHANGE: noise + keep * same,
        Effect.WORSE: noise + keep * worse,
    }


def _overshot(x: Floats, after: Floats, right_within: float, noticeable: float) -> Floats:
    """Chance of "the opposite fault appeared": off on the far side after the step, and not before it.

    Where nothing was off at first most call it worse; and some call it better or worse in any case.
    """
    way = np.sign(after - x)

    def felt(off: Floats) -> Floats:
        return np.asarray(np.where(off > 0, 1 / (1 + np.exp(-4 * (off / noticeable - 1))), 0.0))

    far = felt(way * after - right_within) * (1 - felt(way * x - right_within))
    return np.asarray(far * (0.25 + 0.5 * felt(-way * x - right_within)))


def works_done(k: Knowledge, works: Floats, how: RepairHow | None) -> Floats:
    """Chance by state that a repair works, given how it was done (its odds multiplied as the scales say)."""
    if how is None:
        return works
    odds = k.scales.trials.how[how] * works
    return np.asarray(odds / (1 - works + odds))


def effect_of_repair(works: Floats, fixed: float, partly: float, not_fixed: float) -> Column:
    """What a repair did, given how likely it mends each state."""
    fails = 1 - works
    return of_members(
        # a single cause is either fixed or not: there is no second one to be left over
        works * fixed + fails * not_fixed,
        partly,
        ((fixed - partly) * works, works),
        ((not_fixed - partly) * fails, fails),
    )
