"""Actions, cautions and sources that nothing needs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

from carbdiag.errors import Mistake
from carbdiag.knowledge import Knowledge
from carbdiag.lint.spots import Spots
from carbdiag.records.safety import SizingOccasion
from carbdiag.sourcing import citing_records


def unused_records(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Actions that cure nothing, and cautions that nothing gives."""
    done = {fix.do for c in k.causes.values() for fix in c.fixed_by}
    done |= {way.action for circuit in k.circuits.values() for way in (circuit.richer, circuit.leaner)}
    for action in k.actions.values():
        if action.id not in done:
            yield spot.mistake("actions", action.id, "id", "cures no cause and moves no circuit")
    given = {
        c
        for records in (k.causes, k.checks, k.actions, k.circuits, k.uses)
        for record in records.values()
        for c in record.cautions
    }
    given |= {c.id for c in k.cautions.values() if c.sizing or c.asked_while_off}
    for caution in k.cautions.values():
        if caution.id not in given:
            yield spot.mistake("cautions.yaml", caution.id, "id", "no record gives this caution")


def occasions_without_caution(k: Knowledge) -> Iterator[Mistake]:
    """Dangers of a size that no caution speaks of."""
    told = {occasion for c in k.cautions.values() for occasion in c.sizing}
    for occasion in get_args(SizingOccasion):
        if occasion not in told:
            yield Mistake("cautions.yaml", "sizing", f"no caution is given when parts are sized: {occasion}")


def uncited_sources(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Published sources that no record cites."""
    cited = {c.source for record in citing_records(k) for c in record.sources}
    cited |= {band.source for family in k.families.values() for band in family.published_bands}
    for source in k.sources.values():
        if source.kind == "published" and source.id not in cited:
            yield spot.mistake("sources.yaml", source.id, "id", "no record cites this source")
