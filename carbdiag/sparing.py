"""The looks that may spare a repair: nobody takes an engine apart before the short look that would tell."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

import numpy as np

from carbdiag.belief.information import Shares
from carbdiag.case_schema import Case
from carbdiag.fixes import Fixes
from carbdiag.outlook import Outlook
from carbdiag.terms import Change

#: A repair, or a step of a setting with its direction.
Deed = tuple[str, Change | None]
#: Of each the checks before it, by number.
Spare = Mapping[Deed, tuple[int, ...]]


def sparing(
    look: Outlook,
    causes: Sequence[str | None],
    to_cause: Shares,
    fixes: Fixes,
    repairs: Collection[Deed],
    is_open: Callable[[int], bool],
) -> Spare:
    """Of each repair the open checks, by number, of the cause that it is done for, the best a minute first.

    A check may spare a repair where it may come out so that the repair would cure much less often (`spared_below`), and
    the minutes that it is so expected to spare are more than it takes.

    Args:
        look: what every candidate would show.
        causes: the causes that its hypotheses name.
        to_cause: what of each hypothesis is each cause still at work.
        fixes: what may be done.
        repairs: which of them, by id.
        is_open: whether a candidate may be proposed.
    """
    k, c, weights = look.model.knowledge, look.candidates, look.groups.weights
    decision = k.scales.decision
    chances, below, out = weights @ to_cause, decision.spared_below, {}
    deeds = zip(fixes.ids, fixes.direction, strict=True)
    for n in [n for n, deed in enumerate(deeds) if deed in repairs]:
        repair, where = (fixes.ids[n], fixes.direction[n]), fixes.at[n]
        works, minutes = fixes.works[n], float(fixes.minutes[n])
        cause = causes[int(np.argmax(chances * works))]
        named = {s.check for s in k.causes[cause].checks} if cause in k.causes and cause is not None else set()
        spared = {}
        for t, (check, at) in enumerate(c.ids):
            reads = at is not None and at == where
            if not (reads or (check in named and at is None)) or c.kind[t] != "check":
                continue
            if c.minutes[t] >= (minutes if where is None else minutes / decision.look_before_step) or not is_open(t):
                continue
            joint = look.given(t) * weights
            comes, cured = joint.sum(axis=1), joint @ (to_cause @ works)
            in_vain = cured < below * comes * float(chances @ works)
            spared[t] = float(comes[in_vain].sum()) * minutes / float(c.minutes[t])
        out[repair] = tuple(sorted((t for t in spared if spared[t] > 1), key=lambda t: (-spared[t], t)))
    return out


def proving(case: Case, look: Outlook, deeds: Iterable[Deed], is_open: Callable[[int], bool]) -> Spare:
    """Of each repair the open checks, by number, of which one must have been made before it; none where one was."""
    told = {c.check for e in case.history() for c in e.checks}
    c, actions, out = look.candidates, look.model.knowledge.actions, {}
    for repair, way in deeds:
        checks = () if way is not None else actions[repair].proved_by
        if told.isdisjoint(checks):
            found = [t for t, (check, at) in enumerate(c.ids) if check in checks and at is None and is_open(t)]
            out[repair, way] = tuple(sorted(found, key=lambda t: checks.index(c.ids[t][0])))
    return out
