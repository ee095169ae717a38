"""What a step of a setting would do to the leading hypotheses: what is felt, what it cures, how many it takes.

A step cures where it leaves every steady opening right and what is wrong is what such a step puts right. That the
rider calls it cured is not enough: one report in ten has nothing to do with what happened, and a step of the idle
screw cures no fouled plug, however often it is said to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from carbdiag.belief.information import Shares
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.casework.believed import Belief
from carbdiag.casework.effects import effect_table
from carbdiag.casework.several_settings import SeveralSettings
from carbdiag.outlook import Outlook
from carbdiag.terms import SETTING_EFFECTS, Change, Effect

#: What may be felt, as a step of a walk asks it; what comes back counts as cured.
TRIAL_EFFECTS = (Effect.CURED, Effect.BETTER, Effect.NO_CHANGE, Effect.WORSE, Effect.OVERSHOT)


@dataclass(frozen=True, eq=False)
class TrialOutlook:
    """One step of a setting, by merged hypothesis (M) of an outlook."""

    felt: Shares  # (effects, M) P(effect is told)
    right: Shares  # (M,) P(nothing of the mixture is off any more)
    trials: Shares  # (M,) how many such steps it takes to put its place right, one at least

    @classmethod
    def of(cls, belief: Belief, look: Outlook, circuit: str, way: Change, steps: float, place: str) -> TrialOutlook:
        """Look at one step, on the settings as they are now."""
        model, network = belief.model, belief.network
        scales = model.knowledge.scales
        lattice, at = network.lattice, model.place(place)
        moved = lattice.steps(model.step_x[circuit] * (1 if way is Change.RICHER else -1) * steps)
        tables = effect_table(model.knowledge, network, int(moved[at]))
        stacked = np.stack([tables[e] + (tables[Effect.CAME_BACK] if e is Effect.CURED else 0) for e in TRIAL_EFFECTS])
        bands = [n for n, p in enumerate(model.places) if model.knowledge.places[p].kind == "band"]
        first, second = network.first[look.members], network.second[look.members]
        off = network.x[:, first] + network.x[:, second] + belief.steps[:, None]
        felt = network.blur(stacked, at)[:, lattice.clip(off[at] + lattice.center)]

        right = scales.mixture.right_within + scales.trials.noticeable
        before, after = np.abs(off[bands]), np.abs(off[bands] + moved[bands, None])
        whole = (after.max(axis=0) * lattice.step <= right) & (after.max(axis=0) < before.max(axis=0))
        noise = scales.trials.effect_noise
        by_chance = 2 * noise / len(SETTING_EFFECTS)  # told cured, or cured for a while, whatever it did
        content = np.maximum(felt[0] - by_chance, 0.0)
        to_go = -np.sign(moved[at]) * off[at] * lattice.step - right
        each = max(abs(int(moved[at])) * lattice.step, 1e-6)
        trials = np.clip(np.ceil(to_go / each), 1, scales.decision.most_steps)

        columns = np.concatenate([felt, [np.maximum(whole * (1 - noise), content), trials]]).astype(np.float32)
        if look.several is not None:
            columns[:, -1] = _of_several(belief, look.several, stacked, moved, at, right)
        averaged = look.groups.averaged(np.ascontiguousarray(columns.T)).T
        return cls(averaged[:-2], averaged[-2], averaged[-1])

    def cures(self, to_cause: Shares, works: Shares) -> Shares:
        """P(cured | merged hypothesis), (M,): the part of what is still at work, (M, C), that such a step mends."""
        return np.asarray(self.right * (to_cause @ (works > 0)))

    def trials_needed(self, weights: Shares, to_cause: Shares, works: Shares, done: int = 0) -> float:
        """How many further trials, on average, whoever is cured by them has to make; one at least."""
        needed = weights * (to_cause @ works)
        total = float(needed.sum())
        return float(needed @ np.maximum(self.trials - done, 1)) / total if total > 0 else 1.0


def _of_several(
    belief: Belief, several: SeveralSettings, effects: Floats, moved: Ints, at: int, right: float
) -> Floats:
    """The same of several settings that are off at once: P(effect), P(all is right then), trials."""
    model, lattice = belief.model, belief.network.lattice
    felt = belief.network.blur(effects, at) @ several.over_x(lattice, belief.steps)[at]
    bands = list(model.residuals)
    off = (several.cells[bands] + (belief.steps[bands] + moved[bands])[:, None] - lattice.center) * lattice.step
    whole = float(several.weights @ (np.abs(off).max(axis=0) <= right))
    return np.concatenate([felt, [whole, 1.0]])
