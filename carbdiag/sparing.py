"""The looks that may spare a repair: nobody takes an engine apart before the short look that would tell."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from carbdiag.belief.information import Shares
from carbdiag.fixes import Fixes
from carbdiag.outlook import Outlook


def sparing(
    look: Outlook,
    causes: Sequence[str | None],
    to_cause: Shares,
    fixes: Fixes,
    repairs: Iterable[str],
    is_open: Callable[[int], bool],
) -> dict[str, tuple[int, ...]]:
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
    chances, below, out = weights @ to_cause, k.scales.decision.spared_below, {}
    for repair in repairs:
        n = fixes.ids.index(repair)
        works, minutes = fixes.works[n], float(fixes.minutes[n])
        cause = causes[int(np.argmax(chances * works))]
        named = {s.check for s in k.causes[cause].checks} if cause in k.causes and cause is not None else set()
        spared = {}
        for t, (check, at) in enumerate(c.ids):
            if check not in named or at is not None or c.kind[t] != "check":
                continue
            if c.minutes[t] >= minutes or not is_open(t):
                continue
            joint = look.given(t) * weights
            comes, cured = joint.sum(axis=1), joint @ (to_cause @ works)
            in_vain = cured < below * comes * float(chances @ works)
            spared[t] = float(comes[in_vain].sum()) * minutes / float(c.minutes[t])
        out[repair] = tuple(sorted((t for t in spared if spared[t] > 1), key=lambda t: (-spared[t], t)))
    return out
