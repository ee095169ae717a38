"""Openings told by more or fewer words than their own phrases: "at full it bogs", "from 1/8 to 3/4"."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from typing import Final

from carbdiag.knowledge import Knowledge
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.symbols import SymbolText
from carbdiag.reading.wordlist import any_of, one_of
from carbdiag.records.place_words import OpeningWords

#: Characters at most between two openings of a stretch.
_BETWEEN: Final = 24
#: Characters before a bare opening in which the deed stands that it may be part of.
_OF: Final = 36


class OpeningBook:
    """The words by which one opening, or a stretch of several, is told."""

    def __init__(self, words: OpeningWords, good: Iterable[str]) -> None:
        bare, before, behind = one_of(words.bare), one_of(words.before_bare), one_of(words.behind_bare)
        self.bare = re.compile(
            rf"(?:(?<![\w'])(?:{before})\s+|[-–]\s*|^[ \t]*)(?P<place>{bare})"
            rf"(?=\s*(?:$|[.,;:!?)\n/]|\s[-–]\s|(?:{behind})(?![\w'])))",
            re.MULTILINE,
        )
        up_to = one_of(words.up_to)
        # "half to full it bogs", "1/8 crisp, full crisp", "1/4: crisp. 1/2: bogs"
        self.led_on = re.compile(
            rf"(?:^|[,.;:])[ \t]*(?P<place>{bare})(?=\s*[:=]|\s+(?:(?:{up_to})\s|(?:{one_of(good)})(?:$|[,.;\n])))",
            re.MULTILINE,
        )
        self.place = dict(words.bare)
        self.not_of = re.compile(rf"(?<![\w'])(?:{one_of(words.not_of)})(?![\w'])[^.,;:!?()\n]*$")
        self.onto = any_of(words.onto)
        beside = rf"(?:\s+(?:{one_of(words.between_words)}))*"
        self.up_to = re.compile(rf"\s*(?:-+|–|—|(?:{up_to}){beside})\s*")
        self.ends_between = re.compile(rf"\s*(?:{one_of(words.ends_between)}){beside}\s*")
        self.between = re.compile(rf"(?<![\w'])(?:{one_of(words.between)}){beside}\s*$")


def bare_openings(book: OpeningBook, small: str, symbols: SymbolText) -> Iterator[Hit]:
    """Openings told by one word that is many other things elsewhere: "at full it bogs", no "full tank"."""
    for found in chain(book.bare.finditer(small), book.led_on.finditer(small)):
        start = found.start("place")
        if book.not_of.search(small, max(start - _OF, 0), start):
            continue
        at = bisect_left(symbols.starts, start)
        if at < len(symbols.starts) and symbols.ends[at] == found.end("place"):
            yield Hit(at, at, Meaning("place", book.place[found["place"]], ""), ((at, at),))


def stretches(k: Knowledge, book: OpeningBook, small: str, symbols: SymbolText, places: Sequence[Hit]) -> list[Hit]:
    """The place words, those of a stretch put together with all the openings that lie on it.

    Args:
        small: the text in small letters.
        places: place words in the order of the text.
    """
    out: list[Hit] = []
    for place in places:
        joined = out and _joined(book, small, symbols, out[-1], place)
        record = _stretch(k, out[-1], place) if joined else None
        if record is None:
            out.append(place)
            continue
        first, last = out.pop().first, place.last
        out.append(Hit(first, last, Meaning("place", record, ""), ((first, last),)))
    return out


def _joined(book: OpeningBook, small: str, symbols: SymbolText, one: Hit, other: Hit) -> bool:
    start, end = symbols.ends[one.last], symbols.starts[other.first]
    if end < start or end - start > _BETWEEN or symbols.sentence_of[one.last] != symbols.sentence_of[other.first]:
        return False
    if book.up_to.fullmatch(small, start, end):
        return True
    head = symbols.starts[one.first]
    ends = book.ends_between.fullmatch(small, start, end)
    return ends is not None and book.between.search(small, max(head - _BETWEEN, 0), head) is not None


def _stretch(k: Knowledge, one: Hit, other: Hit) -> str | None:
    """The openings of two place words and all that lie between, in their order; None where one is no steady opening."""
    # "from a quarter to just past half" ends right behind it, and not wide open
    ends = other.meaning.record.split()
    steady = {p.id: p.opening[1] for p in k.places.values() if p.opening is not None}
    if one.meaning.more or other.meaning.more or not all(p in steady for p in (*one.meaning.record.split(), *ends)):
        return None
    begin, end = [steady[p] for p in one.meaning.record.split()], min(steady[p] for p in ends)
    low, high = min(*begin, end), max(*begin, end)
    return " ".join(p for p in sorted(steady, key=steady.__getitem__) if low <= steady[p] <= high)


__all__ = ["OpeningBook", "bare_openings", "stretches"]
