"""Stretches of the throttle's travel: "from barely open to half", "up to 3/4", "past that", "the top half".

A limit has an opening on its border. Where it is told to run right up to there, or from there on, the trouble begins on
the border, so it is the trouble's: "pulls fine to half, then bogs" may bog at half, and is not denied it.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.symbols import COMMA, SymbolText
from carbdiag.reading.wordlist import any_of, one_of
from carbdiag.records.place_words import RangeWords

#: Characters before a stretch in which stands what it is of.
_OF: Final = 40


class Range(NamedTuple):
    """A stretch told in words from one character up to another.

    `border` is the opening where it ends, if it is told as a limit; `apart` one that is told only by what stands before
    it: "(then) it bogs"; `of_travel` a part of the whole: "top half of the throttle"; `until` where what is denied
    before begins: "no bog (till half)".
    """

    hit: Hit
    start: int
    end: int
    border: str = ""
    apart: bool = False
    of_travel: bool = False
    until: bool = False

    def inside(self) -> Hit:
        """The stretch without the opening on its border, unless that is all there is."""
        places = self.hit.meaning.record.split()
        kept = [p for p in places if p != self.border] or places
        return self.hit._replace(meaning=self.hit.meaning._replace(record=" ".join(kept)))


class RangeBook:
    """The words by which stretches are told."""

    def __init__(self, words: RangeWords, bands: Mapping[str, float], onto: Iterable[str]) -> None:
        self.bands = sorted(bands, key=bands.__getitem__)
        self.any = bool(words.points)
        self.at = {written: tuple(p.at) for p in words.points for written in p.written}
        self.parts = {written: tuple(p.at) for p in words.parts for written in p.written}
        about = rf"(?:(?:{one_of(words.about)})\s+)*"
        self._head = rf"{about}(?<![\w./])"
        self._of = rf"(?:\s+(?:{one_of(words.of_throttle)}))?(?![\w'/%])(?!\.\d)"
        a, b = self._point("a"), self._point("b")
        lead, reach = one_of(words.from_words), rf"(?:(?:{one_of(words.reaching)})\s+)*"
        to = rf"\s*(?:-+|–|—|(?<=\s)(?:{one_of(words.to_words)})(?![\w']))\s*"
        both = rf"(?:{one_of(words.between)})\s+{a}\s+(?:{one_of(words.and_words)})\s+{b}"
        self.told = {
            "stretch": self._whole(rf"(?:(?:{lead})\s+)?{a}{to}{b}"),
            "between": self._whole(both),
            "up_to": self._whole(rf"(?:{one_of(words.up_to)})\s+{reach}{a}"),
            "to": self._whole(rf"(?:{one_of(words.to)})\s+{reach}{a}"),
            "below": self._whole(rf"(?:{one_of(words.below)})\s+{reach}{a}"),
            "past": self._whole(rf"(?:{one_of(words.past)})\s+{reach}{a}"),
            "from": self._whole(rf"(?:{lead})\s+{a}\s+(?:{one_of(words.onward)})"),
            "upward": self._whole(rf"{a}\s*(?:{one_of(words.upward)})"),
            "downward": self._whole(rf"{a}\s*(?:{one_of(words.downward)})"),
            "scarcely": self._whole(rf"(?P<a>{one_of(words.scarcely)})(?:\s+(?:{one_of(words.of_throttle)}))?"),
        }
        of_travel = rf"\s+(?:{one_of(words.of_travel)})"
        self.part = self._whole(rf"(?P<a>{one_of(self.parts)})(?P<of>{of_travel})?")
        self.no_throttle = re.compile(rf"(?<![\w'])(?:{one_of(words.no_throttle)})(?![\w'])[^.,;:!?()\n]*$")
        self.not_behind = re.compile(rf"[\s-]*(?:{one_of(words.not_behind)})(?![\w'])")
        self.onto = any_of(onto)
        self.until = self._whole(one_of(words.until))
        self.goes = re.compile(rf"(?<![\w'])(?:{one_of(words.goes)})(?:\s+(?:{one_of(words.it)}))*\s+$")
        self.well = re.compile(rf"(?<![\w'])(?:{one_of(words.well)})\s+$")
        joined = rf"(?:(?:{one_of(words.joined)})\s+)*"
        behind = rf"(?:\s+(?:{one_of(words.or_so)}))*"
        self.clause_marks = re.compile(r"[,;:()\n]|\s[-–—]\s")
        self.then = re.compile(rf"{behind}\s*,?\s*{joined}(?P<then>{one_of(words.then)})(?![\w'])")
        #: an opening named before, from which a limit goes on: "cleans up at (half then) pulls to the stop", "bogs at
        #: (half and keeps) at it till 3/4"
        from_there = rf"[^.;!?\n]{{0,40}}?(?<![\w'])(?:{one_of((*words.then, *words.goes_on))})(?![\w'])"
        self.goes_on_from = re.compile(rf"(?<![\w'./])(?={a}{from_there})(?P<point>{one_of(self.at)})")
        self.joined = re.compile(rf"{behind}(?P<then>\s*,|\s+(?={one_of(words.joined)}\s))\s*{joined}")
        self.beside = {way: self._whole(one_of(told)) for way, told in words.beside.items()}
        ends = r"(?=\s*(?:$|[.,;!?\n]))"
        self.beside_range = {
            way: re.compile(
                rf"(?<![\w'./])(?:(?:{one_of(told)})(?![\w'])|(?:{one_of(words.beside_ends.get(way, ()))}){ends})"
            )
            for way, told in words.beside_range.items()
        }

    @staticmethod
    def _whole(told: str) -> re.Pattern[str]:
        return re.compile(rf"(?<![\w'./])(?:{told})(?![\w'])")

    def _point(self, name: str) -> str:
        return rf"{self._head}(?P<{name}>{one_of(self.at)}){self._of}"

    def beyond(self, limit: Range) -> list[str]:
        """The openings from the border of a limit on."""
        return self.between(limit.border, self.bands[-1])

    def between(self, low: str, high: str) -> list[str]:
        """The openings from one to another, both included."""
        return self.bands[self.bands.index(low) : self.bands.index(high) + 1]


def ranges_told(book: RangeBook, small: str, symbols: SymbolText) -> list[Range]:
    """The stretches that a text tells, in their order, none over another.

    Args:
        small: the text in small letters.
    """
    if not book.any:
        return []
    out: list[Range] = []
    for told in sorted(_found(book, small, symbols), key=lambda r: (r.start, -r.end)):
        if not out or (told.start >= out[-1].end and told.hit.first > out[-1].hit.last):
            out.append(told)
    out = [_from_there_on(book, small, symbols, r, out) for r in out]
    then = [r for limit in out if (r := _then(book, small, symbols, limit)) is not None]
    out += then
    return sorted([*out, *_beside(book, small, symbols, out)], key=lambda r: (r.hit.first, -r.hit.last))


def _found(book: RangeBook, small: str, symbols: SymbolText) -> Iterator[Range]:
    for kind, told in book.told.items():
        for m in told.finditer(small):
            places = _places(book, kind, m)
            if not places or book.no_throttle.search(small, max(m.start() - _OF, 0), m.start()):
                continue
            if book.not_behind.match(small, m.end()) or not _is_meant(book, kind, small, m):
                continue
            until = kind in ("up_to", "below") and book.until.match(small, m.start()) is not None
            for told_so in _range(symbols, m.start(), m.end(), places, _border(book, kind, m)):
                yield told_so._replace(until=until)
    of_travel = False
    for m in book.part.finditer(small):
        # "top half" alone is of the travel where another part of it was told so
        of_travel = of_travel or m["of"] is not None
        if of_travel and not (m["of"] is None and book.not_behind.match(small, m.end())):
            yield from (r._replace(of_travel=True) for r in _range(symbols, m.start(), m.end(), book.parts[m["a"]], ""))


def _is_meant(book: RangeBook, kind: str, small: str, m: re.Match[str]) -> bool:
    """Whether a limit is one: "fine (to half)", and not "opened it (up to half)" or "1/4 (on) the hill"."""
    before = max(m.start() - _OF, 0)
    if kind == "to":
        return book.well.search(small, before, m.start()) is not None
    if kind in ("from", "upward") and book.onto is not None:
        return not book.onto.match(small, small.rfind(" ", 0, m.end()) + 1)
    return kind != "up_to" or book.goes.search(small, before, m.start()) is None


def _places(book: RangeBook, kind: str, m: re.Match[str]) -> Sequence[str]:
    """The openings of a stretch, in their order."""
    bands = book.bands
    if kind == "scarcely":
        return bands[1:2]
    a = [bands.index(p) for p in book.at[m["a"]]]
    if kind in ("stretch", "between"):
        # "from a quarter to just past half" ends right behind it, and not wide open
        end = min(bands.index(p) for p in book.at[m["b"]])
        return bands[min(*a, end) : max(*a, end) + 1]
    up_to, beyond = bands[1 : max(a) + 1], bands[max(a) :]
    # one opening alone is narrower than riders mean by "under a quarter", "over 3/4"
    if kind == "below":
        up_to = up_to[:-1] if len(up_to) > 2 else up_to
    elif kind == "past":
        beyond = bands[min(a) + 1 :] if len(bands) - min(a) > 2 else beyond
    places = up_to if kind in ("up_to", "to", "below", "downward") else beyond
    return places if max(a) else ()  # "turned the idle up"


def _border(book: RangeBook, kind: str, m: re.Match[str]) -> str:
    if kind in ("up_to", "to", "below"):
        return book.at[m["a"]][-1]
    return book.at[m["a"]][0] if kind == "past" else ""


def _range(
    symbols: SymbolText, start: int, end: int, places: Sequence[str], border: str, beside: str = ""
) -> Iterator[Range]:
    """A stretch by its words; told by words that carry nothing, it stands at the next one that does."""
    first, last = bisect_left(symbols.starts, start), bisect_left(symbols.starts, end) - 1
    apart = last < first
    last = max(first, last)
    if first < len(symbols.starts) and symbols.sentence_of[first] == symbols.sentence_of[last]:
        meaning = Meaning("place", " ".join(places), beside)
        yield Range(Hit(first, last, meaning, ((first, last),)), start, end, border, apart)


def _from_there_on(
    book: RangeBook, small: str, symbols: SymbolText, limit: Range, others: Sequence[Range]
) -> Range:
    """A limit that goes on from an opening named before it: "cleans up at half then pulls (to the stop)"."""
    places = limit.hit.meaning.record.split()
    if not limit.border or limit.border != places[-1] or len(places) < 2 or places[0] != book.bands[1]:
        return limit
    start = symbols.sentences[symbols.sentence_of[limit.hit.first]].start
    found = [*book.goes_on_from.finditer(small, start, limit.start)]
    if not found:
        return limit
    # "bogs (till half) then pulls": half is the bog's
    ends_there = any(r.border and r.start <= found[-1].start() < r.end for r in others)
    after = book.bands.index(book.at[found[-1]["point"]][0]) + ends_there
    rest = [p for p in places if book.bands.index(p) >= after]
    if not rest or rest == places:
        return limit
    return limit._replace(hit=limit.hit._replace(meaning=limit.hit.meaning._replace(record=" ".join(rest))))


def _then(book: RangeBook, small: str, symbols: SymbolText, limit: Range) -> Range | None:
    """The rest of the travel behind a limit: "fine to half (then) bogs", "bogs till half, (then) it is great"."""
    places = limit.hit.meaning.record.split()
    if not limit.border or limit.border != places[-1] or places[0] != book.bands[1]:
        return None
    found = book.then.match(small, limit.end)
    if found is None and _something_before(book, small, symbols, limit):
        found = book.joined.match(small, limit.end)
    if found is None:
        return None
    at = bisect_left(symbols.starts, found.end())
    if at >= len(symbols.starts) or symbols.sentence_of[at] != symbols.sentence_of[limit.hit.last]:
        return None
    hit = Hit(at, at, Meaning("place", " ".join(book.beyond(limit)), ""), ((at, at),))
    return Range(hit, found.start("then"), found.end("then"), limit.border, apart=True)


def _something_before(book: RangeBook, small: str, symbols: SymbolText, limit: Range) -> bool:
    """Whether something is told up to a limit; one that begins its clause is that of what follows: "up to half it"."""
    start = symbols.sentences[symbols.sentence_of[limit.hit.first]].start
    return bool(book.clause_marks.split(small[start : limit.start])[-1].strip())


def _beside(book: RangeBook, small: str, symbols: SymbolText, ranges: Sequence[Range]) -> Iterator[Range]:
    """Stretches named by another: "past that", and in the sentence of one "after that"."""
    for table, near in ((book.beside, False), (book.beside_range, True)):
        for way, told in table.items():
            for m in told.finditer(small):
                for r in _range(symbols, m.start(), m.end(), book.bands, "", way):
                    sentence = symbols.sentence_of[r.hit.first]
                    own = (o for o in ranges if o.end <= r.start and symbols.sentence_of[o.hit.first] == sentence)
                    taken = any(o.start < r.end and r.start < o.end for o in ranges)
                    if not taken and (not near or any(own)):
                        yield r


def as_openings(
    book: RangeBook, named: Sequence[Hit], ranges: Sequence[Range], symbols: SymbolText
) -> tuple[list[Hit], list[Range]]:
    """The place words with the stretches in the place of those that lie in them; and the stretches that count.

    A place told in more words than the stretch inside it stays. What is told by "then" counts where no other opening
    follows in its clause.
    """
    long = [p for p in named if any(p.first <= r.hit.first and r.hit.last <= p.last for r in ranges if not r.apart)]
    long = [
        p for p in long
        if any(p.last - p.first > r.hit.last - r.hit.first for r in ranges if p.first <= r.hit.first <= p.last)
    ]  # fmt: skip
    kept = [r for r in ranges if not any(p.first <= r.hit.last and r.hit.first <= p.last for p in long)]
    plain = [r for r in kept if not r.apart]
    others = [p for p in named if not any(r.hit.first <= p.last and p.first <= r.hit.last for r in plain)]
    steady = (p.first for p in others if not {*p.meaning.record.split()}.isdisjoint(book.bands))
    firsts = sorted([*steady, *(r.hit.first for r in plain)])
    counted = [r for r in kept if not r.apart or not _followed(r, firsts, symbols)]
    return others, counted


def _followed(told: Range, firsts: Sequence[int], symbols: SymbolText) -> bool:
    """Whether an opening follows in the clause of a "then": "then (at 3/4) it bogs"."""
    n = bisect_left(firsts, told.hit.first)
    if n == len(firsts) or symbols.sentence_of[firsts[n]] != symbols.sentence_of[told.hit.first]:
        return False
    return all(symbols.breaks.get(at, 0) < COMMA for at in range(told.hit.first + 1, firsts[n] + 1))


__all__ = ["Range", "RangeBook", "as_openings", "ranges_told"]
