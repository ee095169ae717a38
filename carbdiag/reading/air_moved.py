"""Which way a move of the machine, or of its weather, went: to thinner air or to denser."""

from __future__ import annotations

import re
from bisect import bisect_left

from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit

#: Characters before a place or a weather in which it is said what was there.
_NEAR = 90
_TWO = 2


class AirMoved:
    """The circumstances of one post that say where it moved."""

    def __init__(self, found: Found) -> None:
        self.found = found
        self._heights = self._all_heights()

    def context(self, hit: Hit) -> str | None:
        """The circumstance told; of a change of air the opposite, where the words turn it round.

        None where only the air that it was set for is told.

        "From the coast to Denver" and "to Denver from the coast" name the places in either order; "freezing now, it
        was jetted in the heat of summer" tells first what is now.
        """
        contexts = self.found.k.contexts
        record = contexts[hit.meaning.record]
        if not record.told_by_air:
            return record.id
        way = self._way(hit) if record.moved is not None else None
        if way is not None:
            return next((c.id for c in contexts.values() if c.moved == way), None)
        turned = self._set_for(hit.parts[-1][0])
        if turned and (len(hit.parts) == 1 or self._set_for(hit.parts[0][0])):
            return record.id if len(hit.parts) > 1 else None
        if len(hit.parts) == 1 and record.moved is not None:
            turned = self._left(hit, record.moved)
        elif record.moved is not None:
            turned = turned or self._comes_from(hit.parts[-2][1], hit.parts[-1][0])
        other = next((c for c in record.settled_by if record.id in contexts[c].settled_by), record.id)
        return other if turned else record.id

    def _all_heights(self) -> list[tuple[int, float]]:
        """Where heights are told, and how high, in meters, each once."""
        values, out = self.found.symbols.values, {}
        for hit in self.found.others:
            if hit.meaning[:2] == ("quantity", "elevation_m"):
                at = next((at for at in range(hit.first, hit.last + 1) if at in values), None)
                if at is not None:
                    out[at] = values[at]
        return sorted(out.items())

    def _comes_from(self, first: int, last: int) -> bool:
        """Whether "from" and not "to" leads from one symbol to another: "to Denver from the coast"."""
        symbols, language = self.found.symbols, self.found.book.language
        between = f" {' '.join(self.found.small[symbols.ends[first] : symbols.starts[last]].split())} "
        left, reached = (
            max((between.rfind(f" {word} ") for word in words), default=-1)
            for words in (language.height_from, language.height_to)
        )
        return left > reached

    def _way(self, hit: Hit) -> str | None:
        """Which way it went by the numbers, where words tell two heights, whatever the words: "jetted for 1500 m".

        Empty where both are much the same place: "jetted at 300 m, riding at 250 m".
        """
        n, m = (bisect_left(self._heights, (at, 0.0)) for at in (hit.first, hit.last + 1))
        heights = self._heights[n:m]
        if len(heights) != _TWO:
            return None
        (first, low), (second, high) = heights
        if abs(high - low) < self.found.book.limits.same_height_m:
            return ""
        of_old, of_then = self._of_the_setting(first), self._of_the_setting(second)
        turned = of_then > of_old or (of_then == of_old and self._comes_from(first, second))
        return "up" if (high > low) != turned else "down"

    def _of_the_setting(self, at: int) -> int:
        """How surely a height is told as the one that the machine is set up for: said so, that of home, or neither."""
        if self._set_for(at):
            return 2
        words, back = self.found.book.at_home, self.found.book.come_home
        home = words is not None and self._before(words, at)
        return int(home and not (back is not None and self._before(back, at)))  # "came home to 500 ft": that is now

    def _left(self, hit: Hit, moved: str) -> bool:
        """Whether the high place that a way up leads to is the one that was left: "moved from Denver to the coast"."""
        symbols, language = self.found.symbols, self.found.book.language
        start, end = symbols.starts[hit.last], symbols.ends[hit.last]
        before = self.found.small[symbols.ends[hit.last - 1] if hit.last > hit.first else start : start].split()
        place = self.found.small[start:end]
        high = place in language.high_places or self.found.book.heights.get(place, 0.0) >= language.high_from_m
        return moved == "up" and high and bool(before) and before[-1] in language.height_from

    def _set_for(self, at: int) -> bool:
        """Whether the words before a place or a weather, in its clause, say that the machine was set up for it."""
        words = self.found.book.set_for
        return words is not None and self._before(words, at)

    def _before(self, words: re.Pattern[str], at: int) -> bool:
        """Whether one of some words stands before a symbol, in its clause."""
        symbols = self.found.symbols
        # a number in brackets belongs to what stands before them: "at home (1200 ft)"
        opened = self.found.text[max(symbols.starts[at] - 2, 0) : symbols.starts[at]].rstrip().endswith("(")
        last = self.found.last_break(at - 1 if opened and at > 0 else at)
        first = max(symbols.sentences[symbols.sentence_of[at]].first, last)
        start = max(symbols.starts[first] if first < len(symbols.starts) else 0, symbols.starts[at] - _NEAR)
        return words.search(self.found.text, start, symbols.starts[at]) is not None
