"""The page of the manual that sets the prior chances of each group of causes beside counts of real outcomes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final

from pydantic import Field

from carbdiag.answers.phrases import capital
from carbdiag.case_schema import Case, ContextReport
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import by_group
from carbdiag.field_types import Id, Text
from carbdiag.frozen import Frozen
from carbdiag.knowledge import Knowledge

#: Circumstances shown beside the plain prior: name of the column, contexts told.
_TOLD: Final[Mapping[str, tuple[str, ...]]] = {
    "nothing told": (),
    "jets just changed": ("rejetted",),
    "filter or exhaust just changed": ("filter_changed", "exhaust_changed"),
    "moved up": ("moved_up",),
    "stood for months": ("stood_for_months",),
}


class Count(Frozen):
    """How many reported cases turned out to belong to a group."""

    group: Id
    confirmed: Annotated[int, Field(ge=0)]
    probable: Annotated[int, Field(ge=0)]


class OutcomeCounts(Frozen):
    """Counts of outcomes, and what is known to be crooked about them."""

    what: Text
    bias: tuple[Text, ...]
    counts: tuple[Count, ...]


def priors_page(k: Knowledge, found: OutcomeCounts) -> str:
    """The page as CommonMark with tables."""
    columns = {name: _chances(k, told) for name, told in _TOLD.items()}
    plain = columns["nothing told"]
    counted = {c.group: c for c in found.counts}
    total = sum(c.confirmed + c.probable for c in found.counts)
    lines = [
        "# How likely each group of causes is before anything is observed",
        "",
        f"Knowledge edition {k.edition}. {found.what}",
        "",
        *(f"- {text}" for text in found.bias),
        "",
        "So the counts set the order of magnitude of a word such as *common* or *rare* and nothing finer, and what was "
        "done just before carries the rest: the columns on the right are the same priors after one circumstance was "
        "told. They include pairs of causes, so a column adds up to a little more than 100 %.",
        "",
        f"| Group | Counted, of {total} | Share counted | {' | '.join(capital(name) for name in columns)} |",
        f"|---|---|---|{'---|' * len(columns)}",
    ]
    for group in sorted(k.groups, key=lambda g: (-plain.get(g, 0.0), g)):
        count = counted.get(group)
        times = count.confirmed + count.probable if count else 0
        split = f"{times} ({count.confirmed} confirmed)" if count else "0"
        chances = " | ".join(f"{of.get(group, 0.0):.1%}" for of in columns.values())
        lines.append(f"| {k.groups[group].name} (`{group}`) | {split} | {times / total:.0%} | {chances} |")
    return "\n".join(lines) + "\n"


def _chances(k: Knowledge, told: tuple[str, ...]) -> dict[str, float]:
    """P(at least one cause of the group) on a machine of which nothing is known."""
    contexts = tuple(ContextReport(context=c) for c in told)
    out: dict[str, float] = {}
    for b in assess(k, Case(reporting="interview", contexts=contexts)).beliefs:
        for group, p in zip(b.model.group_ids, by_group(b, b.posterior.by_state(b.network)).tolist(), strict=True):
            out[group] = out.get(group, 0.0) + b.weight * p
    return out
