"""A post as its symbols: where its clauses and sentences end, and the words between."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Container

from carbdiag import reading_schema as out
from carbdiag.reading.arrows import mark_before
from carbdiag.reading.matcher import Hit
from carbdiag.reading.phrasebook import Phrasebook
from carbdiag.reading.ranges_told import ranges_told
from carbdiag.reading.spans import ends_between
from carbdiag.reading.symbols import BUT, COMMA, CONTRAST, Sentence, SymbolText
from carbdiag.reading.wordlist import small_letters


class Post:
    """A text with where its clauses end."""

    def __init__(self, book: Phrasebook, text: str, symbols: SymbolText) -> None:
        self.book, self.text, self.symbols, self.small = book, text, symbols, small_letters(text)
        self._part_clauses()
        #: Stretches of the throttle's travel as told, in their order.
        self.ranges = ranges_told(book.ranges, self.small, symbols)
        self._keep_ranges_whole()
        self.breaks = sorted(symbols.breaks)
        self.sentence_starts = [s.start for s in symbols.sentences]
        self.commas = sorted(at for at, strength in symbols.breaks.items() if strength >= COMMA)
        self.strong = sorted(at for at, strength in symbols.breaks.items() if strength >= BUT)
        self.apart = sorted(at for at, strength in symbols.breaks.items() if strength in (COMMA, CONTRAST))
        self.contrasts = sorted(at for at, strength in symbols.breaks.items() if strength == CONTRAST)

    def _part_clauses(self) -> None:
        """End a clause where words begin another one: "bogs off idle (so I) went up"."""
        for _, start, _ in self.book.clause_openers.standing(self.small):
            at = bisect_left(self.symbols.starts, start)
            if 0 < at < len(self.symbols.starts):
                self.symbols.breaks[at] = max(self.symbols.breaks.get(at, 0), COMMA)

    def _keep_ranges_whole(self) -> None:
        """End no clause inside a stretch, nor by the word that begins it: "it bogs (until half)"."""
        for told in self.ranges:
            if told.apart:
                continue
            for at in range(told.hit.first + 1, told.hit.last + 1):
                self.symbols.breaks.pop(at, None)
            before = self.small[self.symbols.ends[told.hit.first - 1] if told.hit.first else 0 : told.start]
            if self.book.ends_clause.search(before) is None:
                self.symbols.breaks.pop(told.hit.first, None)

    def said(self, first: int, last: int) -> out.Said:
        """The words from one symbol to another, with where they stand."""
        start, end = self.symbols.starts[first], self.symbols.ends[last]
        return out.Said.trusted(start=start, end=end, words=self.text[start:end])

    def sentence(self, hit: Hit) -> Sentence:
        """The sentence that a hit begins in."""
        return self.symbols.sentences[self.symbols.sentence_of[hit.first]]

    def broken(self, first: int, last: int, *, strong: bool = False) -> bool:
        """Whether a clause ends after `first`, at or before `last`."""
        return ends_between(self.strong if strong else self.breaks, first, last)

    def clause_first(self, hit: Hit) -> int:
        """The first symbol of the clause that a hit begins in."""
        return max(self.last_break(hit.first), self.sentence(hit).first)

    def last_break(self, at: int) -> int:
        """Where the last clause before a symbol, or at it, begins; 0 where none does."""
        n = bisect_right(self.breaks, at)
        return self.breaks[n - 1] if n else 0

    def contrast(self, first: int, last: int) -> bool:
        """Whether a word like "but" stands after `first`, at or before `last`."""
        return ends_between(self.contrasts, first, last)

    def words(self, hit: Hit) -> str:
        """The words of a hit as written, those in its gaps too."""
        return self.text[self.symbols.starts[hit.first] : self.symbols.ends[hit.last]]

    def alone(self, hit: Hit, deed_ends: Container[int] = ()) -> bool:
        """Whether a hit is a clause of its own."""
        sentence, breaks = self.sentence(hit), self.symbols.breaks
        begins = hit.first == sentence.first or hit.first in breaks or hit.first - 1 in deed_ends
        begins = begins or mark_before(self.text, self.symbols.starts[hit.first])
        return begins and (hit.last + 1 == sentence.last or hit.last + 1 in breaks)
