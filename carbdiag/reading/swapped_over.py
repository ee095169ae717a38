"""Parts that changed places between cylinders, and whether the fault went with them: "swapped plugs 1 and 2, still"."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator
from typing import Final, NamedTuple

from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit, Meaning

_NEAR: Final = 32  # characters between a verb and its part
_BEHIND: Final = 30  # characters behind the part in which the words stand that say between what
_RESULT: Final = 110  # characters behind that, into the next sentence, in which the result is told
_STOPS: Final = re.compile(r"[.;:!?\n,]")


class Swap(NamedTuple):
    """Where a swap is told, in symbols, and its check with what came of it; without a meaning where nobody says."""

    hit: Hit
    told: bool


def swaps(found: Found) -> Iterator[Swap]:
    """Every swap of parts between cylinders, in the order of the post."""
    book, small = found.book.swapped_over, found.small
    if book.parts is None or book.behind is None:
        return
    for _, start, stop in book.verbs.standing(small):
        part = book.parts.search(small, stop, min(stop + _NEAR, len(small)))
        first, behind = start, part.end() if part else stop
        if part is None or _STOPS.search(small, stop, part.start()):
            # "plugs swapped side to side"
            before = max(start - _NEAR, 0)
            part = next((p for p in reversed([*book.parts.finditer(small, before, start)])), None)
            if part is None or _STOPS.search(small, part.end(), start):
                continue
            first, behind = part.start(), stop
        said = small[behind : behind + _BEHIND]
        blank = len(said) - len(said.lstrip(" "))
        over = book.two_numbered.match(said, blank) or book.behind.match(said, blank)
        end = behind + (over.end() if over else 0)
        if over is not None or _says_which(found, first, end):
            yield _swap(found, part.group(), first, end)


def _says_which(found: Found, start: int, end: int) -> bool:
    """Whether what came of it tells that the parts changed places: "swapped coils, it stays left"."""
    which = found.book.swapped_over.which
    return which is not None and which.search(found.small, end, _until(found, _first(found, start), end)) is not None


def _first(found: Found, start: int) -> int:
    """The symbol at a character."""
    starts = found.symbols.starts
    return min(bisect_left(starts, start), len(starts) - 1)


def _until(found: Found, first: int, end: int) -> int:
    """How far what came of it is told: into the next sentence."""
    symbols = found.symbols
    last = min(symbols.sentence_of[first] + 1, len(symbols.sentences) - 1)
    return min(end + _RESULT, symbols.sentences[last].end)


def _swap(found: Found, part: str, start: int, end: int) -> Swap:
    symbols, book = found.symbols, found.book.swapped_over
    first = _first(found, start)
    last = max(bisect_left(symbols.starts, end) - 1, first)
    until = _until(found, first, end)
    open_ = book.not_known.search(found.small, end, until) if book.not_known else None
    said = found.small[end : open_.start() if open_ else until]
    outcome = next((o for o, words in book.outcomes if words is not None and words.search(said)), "")
    return Swap(Hit(first, last, Meaning("check", book.checks[part], outcome), ((first, last),)), bool(outcome))
