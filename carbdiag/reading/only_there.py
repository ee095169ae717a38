"""Signs that say that all is well elsewhere, set aside where the same post tells of a trouble elsewhere.

"Roll on slow its ok, but cruising at 1/4 it surges": not only a quick opening upsets it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from carbdiag import reading_schema as out
from carbdiag.knowledge import Knowledge
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit
from carbdiag.terms import Status


def unless_elsewhere(
    found: Found, told: Iterable[tuple[out.FindingRead, Hit]]
) -> tuple[list[tuple[out.FindingRead, Hit]], list[Hit]]:
    """The signs without those that a trouble elsewhere contradicts, and the words of these."""
    signs = list(told)
    firm = [read for read, _ in signs if read.status is Status.PRESENT]
    troubles = {(read.epoch, places) for read in firm if (places := _of_trouble(found.k, read))}
    showing: dict[tuple[int, str], set[str]] = {}
    for read in firm:
        for place in read.at:
            showing.setdefault((read.epoch, place), set()).add(read.finding)
    stay: list[tuple[out.FindingRead, Hit]] = []
    gone: list[Hit] = []
    for read, hit in signs:
        only = found.k.findings[read.finding].only_at if read.status is Status.PRESENT else ()
        elsewhere = only and any(epoch == read.epoch and places.isdisjoint(only) for epoch, places in troubles)
        if elsewhere and not any(showing.get((read.epoch, place), set()) - {read.finding} for place in only):
            found.put_aside(hit, "contradicted")
            gone.append(hit)
        else:
            stay.append((read, hit))
    return stay, gone


def without_their_words(
    checks: Iterable[tuple[out.CheckRead, Hit]], gone: Sequence[Hit]
) -> Iterator[tuple[out.CheckRead, Hit]]:
    """The checks but those that the words of a sign set aside tell too."""
    taken = {at for hit in gone for at in range(hit.first, hit.last + 1)}
    for read, hit in checks:
        if taken.isdisjoint(range(hit.first, hit.last + 1)):
            yield read, hit


def _of_trouble(k: Knowledge, read: out.FindingRead) -> frozenset[str]:
    """Where a trouble is told, and where else such a one may show; empty where none is told above idle."""
    record = k.findings[read.finding]
    openings = (k.places[place].opening for place in read.at)
    if record.runs_right or not any(o and o[0] > 0 for o in openings):
        return frozenset()
    return frozenset((*read.at, *record.at))
