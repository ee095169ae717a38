"""A stay on another height that is over: "took it up to 9000 ft and went leaner ... now I'm back home and it pings".

What was seen up there was seen with other air. What counts is how it runs where it is now, and whether its setting is
still the one of the other height.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from typing import Final, NamedTuple

from carbdiag.reading.deed_book import How
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.statements import Statements
from carbdiag.reading.trials_told import Trials
from carbdiag.reading_schema import FactRead
from carbdiag.schema import Air, AirChange
from carbdiag.terms import Status

_TWO: Final = 2

class HomeAgain(NamedTuple):
    """Where a post says that a stay is over, and what is left of it."""

    went: str
    """The way it went first, `up` or `down`."""
    since: int
    """The symbol from which on the stay is told."""
    at: Hit
    """The words that say that it is over."""
    rejetted: bool
    """Whether the setting is still the one of the other height."""


def home_again(found: Found, told: Statements, trials: Trials) -> HomeAgain | None:
    """A stay that is over and left a fault behind; None where there was none, or where it runs well since."""
    records = found.k.contexts
    ways = {
        hit: moved
        for context, hits in told.contexts.items()
        for status, hit in hits
        if status is Status.PRESENT and (moved := records[context].moved) is not None
    }
    if not ways:
        return None
    first = min(ways, key=lambda h: (h.first, h.last))
    over = _over(found, max(h.last for h, way in ways.items() if way == ways[first]))
    if over is None or not _faulty_since(found, told, over):
        return None
    begins = found.sentence(first).first
    changes = [
        d.hit for d in told.done
        if d.how is How.DONE and begins <= d.hit.first < over.first and not trials.put_back(d.hit)
        and (d.hit.meaning.kind == "change" or d.hit.meaning.record in found.book.rejets)
    ]  # fmt: skip
    context = next(c.id for c in records.values() if c.moved not in (None, ways[first]))
    at = over._replace(meaning=Meaning("context", context))
    return HomeAgain(ways[first], first.first, at, bool(changes))


def without_the_stay(found: Found, told: Statements, home: HomeAgain, trials: Trials) -> Statements:
    """The statements without what holds only of a stay that is over; a setting moved there is how it is set up now."""

    def there(hit: Hit) -> bool:
        return home.since <= hit.first < home.at.first

    for hit in (hit for read, hit in told.findings if there(hit)):
        found.put_aside(hit, "past")
    for hit in (d.hit for d in told.done if there(d.hit)):
        found.put_aside(hit, "past")
        if hit.meaning.kind == "change" and not trials.put_back(hit):
            trials.moved.append(hit)
    contexts: dict[str, list[tuple[Status, Hit]]] = {}
    for context, hits in told.contexts.items():
        moved = found.k.contexts[context].moved
        for _, hit in (x for x in hits if moved is not None):
            found.put_aside(hit, "past")
        if moved is None:
            contexts[context] = hits
    if home.rejetted:
        contexts[home.at.meaning.record] = [(Status.PRESENT, home.at)]
        found.content.append(home.at)
    return told._replace(
        findings=[x for x in told.findings if not there(x[1])],
        contexts=contexts,
        done=[d for d in told.done if not there(d.hit)],
        present=[h for h in told.present if not there(h)],
    )


def air_since(home: HomeAgain, facts: Iterable[FactRead]) -> AirChange | None:
    """The air it is set for still and the air at home, where both heights are told."""
    heights = sorted({float(f.value) for f in facts if f.fact == "elevation_m"})
    if not home.rejetted or len(heights) != _TWO:
        return None
    there, here = reversed(heights) if home.went == "up" else heights
    return AirChange(set=Air(elevation_m=there), now=Air(elevation_m=here))


def _over(found: Found, last: int) -> Hit | None:
    """The first words behind a move that say it is over."""
    starts = found.symbols.starts
    for _, start, end in found.book.height_back.standing(found.small):
        first, behind = bisect_left(starts, start), bisect_left(starts, end)
        if first > last and first < behind:
            return Hit(first, behind - 1, Meaning("context", ""), ((first, behind - 1),))
    return None


def _faulty_since(found: Found, told: Statements, over: Hit) -> bool:
    """Whether the first that is told of the engine since is a fault, and is not told of the other height."""
    since = next(((read, hit) for read, hit in told.findings if hit.first > over.last), None)
    if since is None or since[0].status is not Status.PRESENT:
        return False
    between = found.small[found.symbols.ends[over.last] : found.symbols.starts[since[1].first]]
    return not any(words in between for words in found.book.language.height_there)
