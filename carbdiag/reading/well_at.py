"""Openings at which it is told to run right: "pinned it's great, crisp off idle". No trouble is there."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from carbdiag.knowledge import Knowledge
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.ranges_told import Range
from carbdiag.reading.symbols import SymbolText
from carbdiag.reading.wordlist import one_of
from carbdiag.records.place_words import WellAt

#: Characters before an opening, and behind it, in which its verdict is looked for.
_REACH: Final = 64
#: Words at most between an opening and its verdict.
_BETWEEN: Final = 5
_ENDS: Final = r"[.,;:!?()\n/|]|\s-+\s|=|\s[–—]\s"


class WellBook:
    """What is said of an engine that runs right, and the small words around it."""

    def __init__(self, words: WellAt) -> None:
        good, between, ends = one_of((*words.good, *words.better)), one_of(words.between), one_of(words.ends)
        self.better = frozenset(words.better)
        #: Behind an opening, as "1/4 = great", "1/4 it's great": the verdict is told of it when nothing follows.
        self.behind = re.compile(
            rf"(?:\s*[:=]\s*|\s+-+\s+|\s*[–—]\s*|\s+|,\s+(?={one_of(words.after_comma)}))(?:(?:{between})\s+){{0,{_BETWEEN}}}"
            rf"(?P<good>{good})(?![\w'])(?=\s*(?:$|[.,;!)\n/|]|\?\?|-\s|(?:{ends})(?![\w'])))"
        )
        #: Before an opening, as "great at 1/4".
        self.before = re.compile(
            rf"(?<![\w'])(?P<good>{good})(?:\s+(?:{one_of(words.prepositions)})){{0,3}}\s+$"
        )
        #: Behind the number of a jet: "125 (was fine)", "a 125 (is spot on)".
        self.with_it = re.compile(rf"(?<![\w'])(?:{one_of(words.good)})(?![\w'])")
        #: An opening up to which it runs right, and what leads to the trouble there: "fine (to 3/4 then) bogs".
        self.until = re.compile(rf"(?<![\w'])(?:{one_of(words.until)})\s[^.,;:!?()\n]*$")
        self.then = re.compile(rf"[\s,.;-]*(?:{one_of(words.then)})(?![\w'])")
        self.between = frozenset(words.between)
        self.ends = re.compile(rf"{_ENDS}|(?<![\w'])(?:{one_of(words.breaks)})(?![\w'])")
        self._head, self._subject = frozenset(words.heads), frozenset(words.subjects)
        self.nothing_more = re.compile(rf"\s*(?:$|[.,;!)\n/|]|\?\?|-\s|(?:{ends}|{one_of(words.joins)})(?![\w']))")
        self._joins = re.compile(rf"\s*(?:-|–|/|&|(?:(?:{one_of(words.joins)})(?![\w'])\s*){{1,3}})?\s*")
        self.any = bool(words.good)
        self._finding, self._default = dict(words.denied), words.denied_elsewhere

    def finding(self, place: str) -> str | None:
        """The finding that is denied where it runs right."""
        return self._finding.get(place, self._default)

    def joined(self, between: str) -> bool:
        """Whether what stands between two openings makes them one stretch: "1/4 to half", "1/4-1/2"."""
        return self._joins.fullmatch(between) is not None

    def ends_there(self, said: str, behind: str) -> bool:
        """Whether it is only told to run right up to an opening: "pulls fine to 3/4", and "then it bogs" behind it."""
        return self.then.match(behind) is not None and self.until.search(said) is not None

    def leads(self, words: str) -> bool:
        """Whether the words of a clause before an opening are nobody's but the engine's."""
        return self._head.issuperset(words.split())

    def is_subject(self, words: str) -> bool:
        """Whether the words of a clause before a verdict are the engine's: "it runs great at 1/4", no "spark is"."""
        return self._subject.issuperset(words.split())


def well_at(
    k: Knowledge, book: WellBook, small: str, symbols: SymbolText, places: Sequence[Hit], ranges: Mapping[Hit, Range]
) -> Iterator[Hit]:
    """The denials told by openings at which it runs right; of no record where it is only told to be better there.

    Args:
        small: the text in small letters.
        places: place words in the order of the text.
        ranges: those that are stretches.
    """
    if not book.any:
        return
    small = small.replace("’", "'")
    spans = [_span(symbols, p, ranges.get(p)) for p in places]
    alone = {n for n, p in enumerate(places) if p in ranges}
    better: set[int] = set()
    told: dict[int, tuple[int, int]] = {}  # opening -> where it and its verdict stand
    for n, (start, end) in enumerate(spans):
        before = spans[n - 1][1] if n else 0
        good = _behind(book, small, before, start, end) or _before(book, small, before, start, end)
        if good is not None:
            told[n] = (min(start, good[0]), max(end, good[1]))
            if small[slice(*good)] in book.better:
                better.add(n)
        elif alone.isdisjoint((n, n - 1)) and n - 1 in told and book.joined(small[before:start]):
            if not book.nothing_more.match(small, end):
                continue
            told[n] = (start, end)  # "great from 1/4 to half"
    for n in sorted(told, reverse=True):
        if n == 0 or n - 1 in told or told[n][0] < spans[n][0] or not alone.isdisjoint((n, n - 1)):
            continue
        start, end = spans[n - 1]
        head = _clause(book, small, spans[n - 2][1] if n > 1 else 0, start)
        if book.joined(small[end : spans[n][0]]) and book.leads(small[head:start]):
            told[n - 1] = start, end  # "1/4 and half are great"
    for n, (start, end) in sorted(told.items()):
        first, last = bisect_left(symbols.starts, start), bisect_left(symbols.starts, end) - 1
        finding = None if n in better else book.finding(places[n].meaning.record)
        # "from cold it is perfect" denies nothing that could be there
        if finding is not None and not set(places[n].meaning.record.split()) & {*k.findings[finding].at}:
            finding = None
        yield Hit(first, last, Meaning("finding", finding or "", "denied"), ((first, last),))


def _span(symbols: SymbolText, place: Hit, told: Range | None) -> tuple[int, int]:
    return (told.start, told.end) if told is not None else (symbols.starts[place.first], symbols.ends[place.last])


def _clause(book: WellBook, small: str, before: int, start: int) -> int:
    """Where the clause of an opening begins, behind the opening before it at the earliest."""
    low = max(start - _REACH, before)
    ends = [m.end() for m in book.ends.finditer(small, low, start)]
    return ends[-1] if ends else low


def _behind(book: WellBook, small: str, before: int, start: int, end: int) -> tuple[int, int] | None:
    found = book.behind.match(small, end, end + _REACH)
    return found.span("good") if found and book.leads(small[_clause(book, small, before, start) : start]) else None


def _before(book: WellBook, small: str, before: int, start: int, end: int) -> tuple[int, int] | None:
    head = _clause(book, small, before, start)
    found = book.before.search(small, head, start)
    if found is None or not book.is_subject(small[head : found.start("good")]):
        return None
    return found.span("good") if book.nothing_more.match(small, end) else None


__all__ = ["WellBook", "well_at"]
