"""What citations say they stand behind, and how many records a published source supports."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from carbdiag.errors import Mistake
from carbdiag.knowledge import Knowledge
from carbdiag.lint.spots import Spots
from carbdiag.sourcing import citing_records, misnamed


def misnamed_claims(k: Knowledge, spot: Spots) -> Iterator[Mistake]:
    """Citations that support what their record does not have."""
    for record in citing_records(k):
        for wrong in misnamed(record):
            mistake = spot.mistake(
                record.kept_in,
                record.id,
                f"sources[{wrong.number}].supports",
                "must name fields of the record, or lines of them (shows, or shows.bogs), before any remark",
                wrong.named,
                near=wrong.nearest,
                words=f"source: {record.sources[wrong.number].source}, supports: ",
            )
            yield replace(mistake, allowed=wrong.allowed)


def published_counts(k: Knowledge) -> tuple[tuple[str, int, int], ...]:
    """For each kind of record: how many cite a published source, and of how many."""
    by_kind: dict[str, list[bool]] = {}
    for record in citing_records(k):
        published = any(k.sources[c.source].kind == "published" for c in record.sources)
        by_kind.setdefault(record.kind, []).append(published)
    return tuple((kind, sum(published), len(published)) for kind, published in by_kind.items())
