"""The checks and questions that may well decide about what is likely: they come before any other, and before a deed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf
from typing import Literal

from carbdiag.knowledge import Knowledge
from carbdiag.outlook import Outlook
from carbdiag.separation import APART

#: Whether one cause is called likely, or a group of causes.
Likely = Literal["cause", "group"]


def likely_of(k: Knowledge, causes: Mapping[str, float], groups: Mapping[str, float]) -> Likely | None:
    """Whether one cause is called likely, or a group, by their chances."""
    decision = k.scales.decision
    if max(causes.values(), default=0.0) >= decision.likely_cause:
        return "cause"
    return "group" if max(groups.values(), default=0.0) >= decision.likely_area else None


def deciding(look: Outlook, likely: Likely, among: Iterable[int]) -> tuple[int, ...]:
    """Candidates, by number, that may well decide about what is likely, the best first.

    They go by their chance to decide, per minute, and none takes as long as to put right what is likely. Looked at are
    the checks of what is likely, and those `among` others.
    """
    k, c = look.model.knowledge, look.candidates
    decision = k.scales.decision
    named = {(s.check, None) for cause in look.leading(likely == "group") for s in k.causes[cause].checks}
    tried = {*among, *(t for t, step in enumerate(c.ids) if step in named)}
    longest = _repair_minutes(look) if likely == "cause" else inf
    chances = {
        t: look.decides(t, group=likely == "group", certain=decision.certain_cause, apart=APART)
        for t in tried
        if c.kind[t] in ("check", "question") and k.checks[c.ids[t][0]].minutes < longest
    }
    decide = [t for t, chance in chances.items() if chance >= decision.decides]
    return tuple(sorted(decide, key=lambda t: (-chances[t] / c.minutes[t], t)))


def _repair_minutes(look: Outlook) -> float:
    """How long it takes to put the likeliest cause right, by its longest repair."""
    k = look.model.knowledge
    fixes = (fix for cause in look.leading(group=False) for fix in k.causes[cause].fixed_by)
    return max((k.actions[fix.do].minutes for fix in fixes), default=inf)
