"""What a gauge showed: lambda, or the air-fuel ratio it stands for, at an opening of the throttle."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from typing import Final

from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.order import Border, Order
from carbdiag.reading.reaches import NEXT_TO, PLACE_REACH
from carbdiag.reading.spans import furthest, meets
from carbdiag.reading.wordlist import any_of
from carbdiag.reading_schema import GaugeRead

#: What a case takes as a measured lambda.
_LOW, _HIGH = 0.5, 1.8
_WHOLE: Final = 2
_BEFORE: Final = 40
"""Characters before a number in which it says that it is only wanted."""


class Gauges:
    """The measured ratios of a post."""

    def __init__(self, found: Found) -> None:
        self.found = found
        places = found.k.places.values()
        self._bands = tuple(p.id for p in places if p.lambda_wanted is not None)
        self._wanted = any_of(found.book.language.gauge_wanted)

    def told(self, order: Order, borders: Sequence[Border]) -> tuple[GaugeRead, ...]:
        """The ratios, each at the one opening told with it; where two differ at one, neither."""
        found: dict[tuple[int, str], dict[float, Hit]] = {}
        for hit, value in self._numbers():
            at = self._place(hit.first)
            if at is not None:
                found.setdefault((order.epoch(borders, hit), at), {})[value] = hit
        return tuple(
            GaugeRead.trusted(
                value=value,
                at=at,
                # an idling engine carries nothing, and its ratio scatters
                protocol="no_load" if at == self._bands[0] else "steady_load",
                epoch=epoch,
                said=(self.found.said(hit.first, hit.last),),
            )
            for (epoch, at), values in found.items()
            if len(values) == 1
            for value, hit in values.items()
        )

    def _numbers(self) -> Iterator[tuple[Hit, float]]:
        """What was measured, and what stands in a row with it: "AFR 13.2 at idle, 12.4 at WOT"."""
        symbols, sentence_of = self.found.symbols, self.found.symbols.sentence_of
        measured = [h for h in self.found.others if h.meaning[:2] == ("quantity", "lambda")]
        gauge_of = {sentence_of[h.first]: h.meaning for h in reversed(measured)}  # one gauge a sentence
        near = furthest([(h.first, h.last) for h in measured])
        for at, number in symbols.values.items():
            sentence = symbols.sentences[sentence_of[at]]
            meaning = gauge_of.get(sentence_of[at])
            if meaning is None or sentence.quoted or sentence.asks:
                continue
            times, least, most = self._scale(meaning)
            hit = Hit(at, at, meaning, ((at, at),))
            if not least <= number <= most or self._only_wanted(at, sentence.start):
                continue
            whole = symbols.ends[at] - symbols.starts[at] <= _WHOLE  # "13" beside another is hardly a ratio
            value = round(number * times, 4)
            mine = meets(near, hit)
            if _LOW <= value <= _HIGH and (mine or (not whole and self._place(at, NEXT_TO) is not None)):
                yield hit, value

    def _scale(self, meaning: Meaning) -> tuple[float, float, float]:
        book = self.found.book
        return book.scale[meaning][0], book.least[meaning] or 0.0, book.most.get(meaning, _HIGH)

    def _place(self, at: int, reach: int = PLACE_REACH) -> str | None:
        """The opening that a number belongs to: the nearest of its clause, or else of its sentence."""
        sentence = self.found.symbols.sentence_of[at]
        near: list[tuple[bool, int, bool, str]] = []
        low, high = (bisect_left(self.found.place_firsts, n) for n in (at - 2 * reach, at + reach + 1))
        for place in self.found.places[low:high]:
            gap = place.first - at if place.first > at else at - place.last
            if self.found.symbols.sentence_of[place.first] == sentence and gap <= reach:
                apart = self.found.broken(min(at, place.last), max(at, place.first))
                near.append((apart, gap, place.first < at, place.meaning.record))
        bands = [b for b in (min(near)[-1].split() if near else ()) if b in self._bands]
        return bands[0] if len(bands) == 1 else None

    def _only_wanted(self, at: int, start: int) -> bool:
        begin = self.found.symbols.starts[at]
        before = self.found.text[max(begin - _BEFORE, start) : begin]
        return self._wanted is not None and self._wanted.search(before) is not None
