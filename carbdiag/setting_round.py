"""Settings gone through one after the other, as a tuner does after another filter or exhaust was fitted.

Several are often off at once then (`casework.several_settings`). Each is moved and felt at the opening where it does
most, the one first that is likeliest off; when one was put right, those that it touches are felt again. As nothing may
be leaned while wide openings may run lean, what feeds those is made richer first, and left so while it is no worse.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from carbdiag.casework.believed import Assessment, Belief
from carbdiag.casework.levels import levels_at
from carbdiag.fixes import Fixes
from carbdiag.knowledge import Knowledge
from carbdiag.setting_trials import feeds_wide_open, tried_since, vain_tries
from carbdiag.several_outlook import SEVERAL
from carbdiag.terms import Change, Effect


@dataclass(frozen=True)
class Turn:
    """The step whose turn it is, by its number among the open fixes."""

    fix: int
    for_others: bool = False  # richer wide open, so that others can be made leaner


def its_turn(
    a: Assessment, belief: Belief, fixes: Fixes, waiting: Fixes, shares: Sequence[tuple[str | None, float]]
) -> Turn | None:
    """The step among the open fixes whose turn it is; None where settings are not gone through.

    They are, after a change that the engine wants set anew, while what is still wrong is likely a setting, or while
    moving them has helped. Where the likeliest step is a leaner one that waits, as wide openings may run lean, what
    feeds those is made richer first.

    Args:
        a: the assessment.
        belief: its likeliest kind of machine.
        fixes: the repairs and steps that are open.
        waiting: the leaner steps that wait for what is not known of wide openings.
        shares: the share of each cause in what is still wrong.
    """
    k, limits = a.knowledge, a.knowledge.scales.decision
    if belief.several is None:
        return None
    settings = sum(share for cause, share in shares if cause is not None and _is_of_setting(k, cause))
    helped = any(
        t.change is not None and t.effect is Effect.BETTER and not t.put_back
        for e in a.case.history()
        for t in e.trials
    )
    if settings < (limits.round_on if helped else limits.round_from):
        return None
    steps = [*_worth_a_step(a, belief, fixes, waits=False), *_worth_a_step(a, belief, waiting, waits=True)]
    steps.sort(key=lambda step: step.worth, reverse=True)
    if steps and steps[0].waits:
        ways = enumerate(zip(fixes.ids, fixes.direction, strict=True))
        wide = (n for n, (circuit, way) in ways if way is Change.RICHER and feeds_wide_open(k, circuit))
        richer = next(wide, None)
        if richer is not None:
            return Turn(richer, for_others=True)
    return next((Turn(step.number) for step in steps if not step.waits), None)


@dataclass(frozen=True)
class _Step:
    """A step of a setting that may be off, by its number among the fixes."""

    number: int
    waits: bool
    worth: tuple[float, float, float]


def _worth_a_step(a: Assessment, belief: Belief, fixes: Fixes, waits: bool) -> Iterator[_Step]:
    """The steps that are likely enough; least tried in vain first, then likeliest off, then quickest."""
    k, model = a.knowledge, belief.model
    bands = [p for p in model.places if k.places[p].kind == "band"]
    off = dict(zip(bands, levels_at(belief, *model.residuals), strict=True))
    for n, (circuit, way, at) in enumerate(zip(fixes.ids, fixes.direction, fixes.at, strict=True)):
        if way is None or circuit not in k.scales.several_settings.steps:
            continue
        if waits and feeds_wide_open(k, circuit):
            continue  # to make it richer frees others, not itself
        levels = off[at or ""]
        chance = float((levels[3:] if way is Change.RICHER else levels[:2]).sum() / levels.sum())
        if chance >= k.scales.decision.round_least:
            vain = vain_tries(tried_since(belief, a.case, circuit, at or ""), way)
            yield _Step(n, waits, (-vain, round(chance, 2), -float(fixes.minutes[n])))


def _is_of_setting(k: Knowledge, cause: str) -> bool:
    return cause == SEVERAL or k.causes[cause].setting is not None or bool(k.causes[cause].set_to_suit)
