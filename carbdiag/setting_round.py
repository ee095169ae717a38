"""Settings gone through one after the other, as a tuner does after another filter or exhaust was fitted.

Several are often off at once then, and a case weighs no more than two causes together. Each is moved and felt at the
opening where it does most, the one first that is likeliest off; when one was put right, those that it touches are
felt again.
"""

from __future__ import annotations

from collections.abc import Sequence

from carbdiag.casework.believed import Assessment, Belief
from carbdiag.casework.levels import mixture_levels
from carbdiag.fixes import Fixes
from carbdiag.setting_trials import set_anew, tried_since, vain_tries
from carbdiag.terms import Change, Effect


def its_turn(
    a: Assessment, belief: Belief, fixes: Fixes, shares: Sequence[tuple[str | None, float]]
) -> int | None:
    """The step among the open fixes whose turn it is, by number; None where settings are not gone through.

    They are, after a change that the engine wants set anew, while what is still wrong is likely a setting, or while
    moving them has helped.

    Args:
        a: the assessment.
        belief: its likeliest kind of machine.
        fixes: the repairs and steps that are open.
        shares: the share of each cause in what is still wrong.
    """
    k, model, limits = a.knowledge, belief.model, a.knowledge.scales.decision
    if not set_anew(k, a.case):
        return None
    settings = sum(share for cause, share in shares if cause is not None and _is_of_setting(a, cause))
    helped = any(
        t.change is not None and t.effect is Effect.BETTER and not t.put_back
        for e in a.case.history()
        for t in e.trials
    )
    if settings < (limits.round_on if helped else limits.round_from):
        return None
    bands = [p for p in model.places if k.places[p].kind == "band"]
    off = dict(zip(bands, mixture_levels(belief), strict=True))
    best: tuple[float, float, float] | None = None
    turn = None
    for n, way in enumerate(fixes.direction):
        if way is None:
            continue
        levels = off[fixes.at[n] or ""]
        chance = float(levels[3:].sum() if way is Change.RICHER else levels[:2].sum())
        if chance < limits.round_least:
            continue
        told = tried_since(belief, a.case, fixes.ids[n], fixes.at[n] or "")
        worth = (-vain_tries(told, way), round(chance, 2), -float(fixes.minutes[n]))
        if best is None or worth > best:
            best, turn = worth, n
    return turn


def _is_of_setting(a: Assessment, cause: str) -> bool:
    record = a.knowledge.causes[cause]
    return record.setting is not None or bool(record.set_to_suit)
