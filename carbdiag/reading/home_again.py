"""A stay on another height that is over: "took it up to 9000 ft and went leaner ... now I'm back home and it pings".

What was seen up there was seen with other air. What counts is how it runs where it is now, and whether its setting is
still the one of the other height.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping
from typing import Final, NamedTuple

from carbdiag.case_schema import Air, AirChange
from carbdiag.reading.deed_book import How
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.spans import ends_between
from carbdiag.reading.statements import Statements
from carbdiag.reading.trials_told import Trials
from carbdiag.reading.wordlist import Listed
from carbdiag.reading_schema import FactRead
from carbdiag.terms import Status

_TWO: Final = 2

class HomeAgain(NamedTuple):
    """Where a post says that a stay is over, and what is left of it."""

    went: str
    """The way it went first, `up` or `down`."""
    since: int
    """The symbol from which on the stay is told."""
    until: int
    """The symbol from which on it is over."""
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
    stay = _stay(found, ways)
    if stay is None or not _faulty_since(found, told, stay.until, stay.over):
        return None
    changes = [
        d.hit for d in told.done
        if d.how is not How.PLANNED and stay.since <= d.hit.first < stay.until and not trials.put_back(d.hit)
        and (d.hit.meaning.kind == "change" or d.hit.meaning.record in found.book.rejets)
    ]  # fmt: skip
    context = next(c.id for c in records.values() if c.moved not in (None, stay.went))
    at = stay.over._replace(meaning=Meaning("context", context))
    return HomeAgain(stay.went, stay.since, stay.until, at, bool(changes))


class _Stay(NamedTuple):
    went: str
    since: int
    until: int
    over: Hit


def _stay(found: Found, ways: Mapping[Hit, str]) -> _Stay | None:
    """The stay that words such as "back home" end: a move told before, or no more than a high place."""
    symbols, high = found.symbols, _high_places(found)
    home = list(_standing(found, found.book.height_back))
    for first, last in _standing(found, found.book.height_left):
        # "came back from the mountains, where ...": what the sentence tells was there
        sentence = symbols.sentences[symbols.sentence_of[first]]
        if _leads_on_to_a_height(found, last, sentence.end):
            continue  # "brought it down from 9000 ft to 3000": it has moved
        if ends_between(high, sentence.first - 1, sentence.last - 1):
            n = bisect_right(home, (last, len(symbols.starts)))
            until = home[n][0] if n < len(home) else sentence.last
            return _Stay("up", sentence.first, max(until, sentence.last), _hit(first, last))
    if ways:
        begun = min(ways, key=lambda h: (h.first, h.last))
        told = max(h.last for h, way in ways.items() if way == ways[begun])
        over = next(((first, last) for first, last in home if first > told), None)
        return _Stay(ways[begun], found.sentence(begun).first, over[0], _hit(*over)) if over else None
    over = next(((first, last) for first, last in home if high and high[0] < first), None)
    return _Stay("up", symbols.sentences[symbols.sentence_of[high[0]]].first, over[0], _hit(*over)) if over else None


def _leads_on_to_a_height(found: Found, last: int, end: int) -> bool:
    """Whether words that leave a height lead on to the number of another: "(down from) 9000 ft to 3000"."""
    words = found.book.height_lent
    return words is not None and words.search(found.small, found.symbols.ends[last], end) is not None


def _standing(found: Found, words: Listed[str]) -> Iterator[tuple[int, int]]:
    """Where listed words stand, in symbols from the first up to and with the last."""
    starts = found.symbols.starts
    for _, start, end in words.standing(found.small):
        first, behind = bisect_left(starts, start), bisect_left(starts, end)
        if first < behind:
            yield first, behind - 1


def _hit(first: int, last: int) -> Hit:
    return Hit(first, last, Meaning("context", ""), ((first, last),))


def _high_places(found: Found) -> list[int]:
    """Where high places, or their heights, are told, in order."""
    values, least = found.symbols.values, found.book.language.high_from_m
    heights = [h for h in found.others if h.meaning[:2] == ("quantity", "elevation_m")]
    told = [h.first for h in heights if any(values.get(at, 0) >= least for at in range(h.first, h.last + 1))]
    return sorted([*told, *(first for first, _ in _standing(found, found.book.high_places))])


def without_the_stay(found: Found, told: Statements, home: HomeAgain, trials: Trials) -> Statements:
    """The statements without what holds only of a stay that is over; a setting moved there is how it is set up now."""

    def there(hit: Hit) -> bool:
        return home.since <= hit.first < home.until

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


def _faulty_since(found: Found, told: Statements, until: int, over: Hit) -> bool:
    """Whether the first that is told of the engine since is a fault, and is not told of the other height."""
    since = next(((read, hit) for read, hit in told.findings if hit.first >= until and hit.first > over.last), None)
    if since is None or since[0].status is not Status.PRESENT or found.k.findings[since[0].finding].runs_right:
        return False
    behind = found.symbols.ends[max(over.last, until - 1)]
    between = found.small[behind : found.symbols.starts[since[1].first]]
    return not any(words in between for words in found.book.language.height_there)
