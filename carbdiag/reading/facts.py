"""What a post states of the machine and the air: strokes, cylinders, family, sizes, heights."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from functools import cached_property
from itertools import chain
from typing import Final

from carbdiag import reading_schema as out
from carbdiag.case_schema import Machine
from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_book import How
from carbdiag.reading.deed_text import CUT
from carbdiag.reading.found import Found
from carbdiag.reading.jets_in_it import on_hand
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.reaches import NEXT_TO, NEXT_WORD
from carbdiag.reading.spans import furthest, longest, meets
from carbdiag.terms import UNKNOWN_FAMILY

#: The slot whose units the numbers of a fact are told in.
_SLOTS: Final = {"temperature_c": ("celsius",)}
_HEIGHTS: Final = ("feet", "meter")
_FIGURES: Final = re.compile(r"-?\d+(?:\.\d+)?")
_SAME_DEGREE: Final = 0.01
#: What a height without its unit is a multiple of; characters before it in which its clause is looked for.
_ROUND: Final = 100
_CLAUSE: Final = 60
_NOTHING: Final = Meaning("", "")
#: Jets, of which several are told side by side, and the circuit of each.
JETS: Final = {"main_jet": "main_jet", "pilot_jet": "pilot"}
#: The fact of strokes that a part or a kind of machine only suggests ("power valve", "mower").
_HINTED = "strokes_hinted"
#: The fact of a family that only a kind of machine suggests ("my saw").
_FAMILY_HINTED = "family_hinted"
#: Facts that turns tell, of the screw that is named beside them: "H screw 1 turn out" tells of no other screw.
_TURNS: Final = ("screw_turns", "high_needle_turns")
#: Facts of which a post may tell several.
_SEVERAL: Final = ("engine_speed", "load", "elevation_m", "temperature_c")
#: A fact, its value, the words it came from.
_Told = tuple[str, object, out.Said]
#: (fact, value) -> the words it came from.
_Found = dict[tuple[str, object], list[out.Said]]


class Facts:
    """The facts of a post."""

    def __init__(self, found: Found, denied: Callable[[Hit], bool]) -> None:
        self.found, self._denied = found, denied
        self.low: list[out.FactRead] = []
        """What is a height only on the way to another: "from 500 ft to 8500 ft"."""
        self._without_unit: list[tuple[str, float, out.Said]] = []

    def told(self, stated: Machine) -> tuple[out.FactRead, ...]:
        """The facts in the order of the post; of those that there is but one of, none where two were told."""
        found: _Found = {}
        for fact, value, said in chain(self._spoken(), self._stated()):
            found.setdefault((fact, value), []).append(said)
        self._with_unit_of_others(self._without_unit, found)
        self._heights_without_unit(found)
        found = self._one_use(_with_hints(self.found.k, found))
        values: dict[str, set[object]] = {}
        for fact, value in found:
            values.setdefault(fact, set()).add(value)
        facts = tuple(
            out.FactRead.trusted(fact=fact, value=value, said=tuple(every))
            for (fact, value), every in sorted(found.items(), key=lambda item: (item[1][0].start, item[0][0]))
            if len(values[fact]) == 1 or fact in _SEVERAL
        )
        return tuple(f for f in facts if self._fits(f, facts, stated))

    def _spoken(self) -> Iterator[_Told]:
        """What set expressions tell."""
        for spoken in self.found.spoken:
            n = bisect_right(self.found.sentence_starts, spoken.start) - 1
            if spoken.meaning.kind == "fact" and not self.found.symbols.sentences[n].quoted:
                words = self.found.text[spoken.start : spoken.end]
                said = out.Said.trusted(start=spoken.start, end=spoken.end, words=words)
                yield spoken.meaning.record, spoken.meaning.more, said

    def _stated(self) -> Iterator[_Told]:
        """What phrases tell."""
        # "it runs like a four stroke", "won't four stroke" tell of its sound
        sounds = {h.last for h in self.found.content if h.meaning.kind == "finding"}
        # "172 main, 48 pilot, air screw 2 turns" tells of no main of 48 and of no pilot air screw
        others = [h for h in self.found.others if not (self._crosses_a_comma(h) or self._counts_no_carburetors(h))]
        breaks = {at for at in self.found.symbols.breaks if not self._colon_before(at)}
        facts = longest(_each_once(others, breaks), by_record=True)
        for hit in _of_the_screw_named(facts):
            if self.found.sentence(hit).quoted:
                continue
            if self._is_an_amount(hit) or self._from_the_bottom(hit) or self._not_fitted(hit):
                continue
            said = self.found.said(hit.first, hit.last)
            if hit.meaning.kind == "quantity":
                number = self._quantity(hit, said)
                if number is not None:
                    yield hit.meaning.record, number, said
            elif hit.meaning.kind == "kept" and meets(self._set, hit):
                continue  # "went (two up) on the main" carries nobody
            elif hit.meaning.kind == "kept":
                yield hit.meaning.record, said.words, said
            elif not self._denied(hit) and not (hit.meaning.record == "strokes" and hit.last in sounds):
                more = hit.meaning.more
                yield hit.meaning.record, float(more) if more.isdecimal() else more, said

    def _quantity(self, hit: Hit, said: out.Said) -> float | None:
        """The number that a fact is, in its own unit; what lies outside of its bounds is something else."""
        meaning, book, number = hit.meaning, self.found.book, self._number(hit)
        if number is None or meaning.record == "lambda":
            return None  # lambda is measured at an opening: see `gauges`
        least, most = book.least.get(meaning), book.most.get(meaning)
        if least is not None and number < least:
            if meaning.record == "elevation_m":
                self.low.append(out.FactRead.trusted(fact="elevation_m", value=number, said=(said,)))
            return None
        if most is not None and number > most:
            return None
        if meaning in book.like_others:
            self._without_unit.append((meaning.record, number, said))
            return None
        times, plus = book.scale[meaning]
        value = round(number * times + plus, 4)
        return value if self._in_range(meaning.record, value) else None

    def _one_use(self, found: _Found) -> _Found:
        """Without a general use beside one of its kinds; several kinds are the general use: "motocross/enduro"."""
        uses = {value for fact, value in found if fact == "use"}
        if len(uses) < 2:
            return found
        kinds = uses - {use for use in uses if not uses.isdisjoint(self.found.k.uses[str(use)].kinds)}
        every = self.found.k.uses.values()
        shared = next((use.id for use in every if kinds <= set(use.kinds)), None) if len(kinds) > 1 else None
        if shared is None:
            return {(fact, value): said for (fact, value), said in found.items() if fact != "use" or value in kinds}
        told = [words for (fact, _), said in found.items() if fact == "use" for words in said]
        return {**{name: said for name, said in found.items() if name[0] != "use"}, ("use", shared): told}

    def _fits(self, fact: out.FactRead, facts: Iterable[out.FactRead], stated: Machine) -> bool:
        """A family and a stroke that do not go together are left out; what was stated before the post counts."""
        if fact.fact == "strokes":
            family = self.found.k.families.get(stated.family)
            return family is None or fact.value in family.strokes
        if fact.fact != "family":
            return True
        said = next((f.value for f in facts if f.fact == "strokes"), None)
        strokes = stated.strokes or said
        return strokes is None or strokes in self.found.k.families[str(fact.value)].strokes

    def _crosses_a_comma(self, hit: Hit) -> bool:
        """Whether a comma parts the words of a fact, or a colon a number from the name behind: "the 450: main 170"."""
        symbols = self.found.symbols
        between = self.found.text[symbols.ends[hit.first] : symbols.starts[hit.last]]
        return "," in between or (":" in between and hit.first in symbols.values)

    def _counts_no_carburetors(self, hit: Hit) -> bool:
        """Whether a number with a point counts nothing: "a 3.0 slide" is no three slides."""
        return hit.meaning.record == "carburetors" and "." in self.found.words(hit).rstrip(".")

    def _colon_before(self, at: int) -> bool:
        """Whether only a colon ends a clause: "Main: 190"."""
        symbols = self.found.symbols
        if not 0 < at < len(symbols.starts):
            return False
        return self.found.text[symbols.ends[at - 1] : symbols.starts[at]].strip() == ":"

    def _is_an_amount(self, hit: Hit) -> bool:
        """Whether turns or grooves tell how far it was moved, not where it stands: "out half a turn", "at 2 turns"."""
        if hit.meaning.record not in (*_TURNS, "clip_groove"):
            return False
        at = next((at for at in range(hit.first, hit.last + 1) if at in self.found.symbols.values), hit.first)
        start = self.found.symbols.starts[at]
        deeds = self.found.book.deeds
        before = self.found.small[max(start - 2 * NEXT_WORD, 0) : start].split()
        before = [w for w in before if w not in deeds.determiners]
        came = bool(before) and before[-1] in deeds.moves.came_from  # "moved the clip (from 2nd) to 4th"
        if before and not came and before[-1] in deeds.inside | deeds.to and not deeds.moves.tells_a_way(before[-1]):
            return False
        if self.found.deeds.governs(hit.first) and hit.meaning.record in _TURNS:
            return True
        return meets(self._moved, hit._replace(first=at, last=at))

    def _of_the_book(self, hit: Hit) -> bool:
        """Whether a number is that of the jet the book gives: "stock main is 140" does not say what is in it."""
        deeds, words = self.found.deeds, self.found.book.deeds.words
        start = self.found.symbols.starts[hit.first]
        before = self.found.small[max(start - 2 * NEXT_WORD, 0) : start].rstrip()
        listed = before.endswith(tuple(f" {w}" for w in words.book_says)) or before in words.book_says
        at = hit.last if hit.last in self.found.symbols.values else hit.first
        return (listed and deeds.is_told_of(hit.first, at)) or deeds.book_gives(hit.first)

    def _not_fitted(self, hit: Hit) -> bool:
        """Whether a jet is not in it: that of the book, or one that is only planned: "might go to a 150 main"."""
        if hit.meaning.record not in JETS:
            return False
        number = next((at for at in range(hit.first, hit.last + 1) if at in self.found.symbols.values), None)
        ready = number is not None and on_hand(self.found.deeds, number)  # "I have a 40 pilot here"
        return ready or self._of_the_book(hit) or meets(self._planned, hit)

    @cached_property
    def _moved(self) -> tuple[list[int], list[int]]:
        """Where settings that are no jets are told as moved, with a little behind."""
        told = [h for h in self.found.told if h.meaning.kind == "change" and h.meaning.record not in JETS]
        # "1 turn out it bogs, 2 out is better"
        compared = [part for h in told if h in self.found.did for part in h.parts]
        return furthest([*((h.first, h.last + NEXT_TO) for h in told), *compared])

    @cached_property
    def _set(self) -> tuple[list[int], list[int]]:
        """Where settings are told as moved."""
        return furthest([(h.first, h.last) for h in self.found.told if h.meaning.kind == "change"])

    @cached_property
    def _planned(self) -> tuple[list[int], list[int]]:
        """Where deeds that are only planned are told."""
        told = self.found.told.items()
        planned = (h for h, t in told if t.how is How.PLANNED and h.meaning.kind != "check")
        return furthest([(h.first, h.last + 1) for h in planned])

    def _from_the_bottom(self, hit: Hit) -> bool:
        """Whether a groove is counted from the wrong end: "second from the bottom"."""
        if hit.meaning.record != "clip_groove":
            return False
        end = self.found.symbols.ends[hit.last]
        said = self.found.text[end : min(end + 2 * NEXT_WORD, self.found.sentence(hit).end)].lower()
        words = CUT.split(said)[0].split()[:5]
        moves = self.found.book.deeds.moves
        return not moves.last_grooves.isdisjoint(words) and not moves.came_from.isdisjoint(words)

    def _with_unit_of_others(
        self, numbers: Iterable[tuple[str, float, out.Said]], found: _Found
    ) -> None:
        """Add numbers told without their unit in that of another: "28 degrees C, this weekend 6 degrees"."""
        told = [(fact, value, said) for (fact, value), several in found.items() for said in several]
        units = {fact: unit for fact, value, said in reversed(told) if (unit := self._unit_of(fact, value, said))}
        known = {fact: furthest([(s.start, s.end - 1) for f, _, s in told if f == fact]) for fact in units}
        for fact, number, said in numbers:
            if fact not in units or meets(known[fact], Hit(said.start, said.end - 1, _NOTHING, ())):
                continue
            times, plus = units[fact]
            value = round(number * times + plus, 4)
            if self._in_range(fact, value):
                found.setdefault((fact, value), []).append(said)

    def _heights_without_unit(self, found: _Found) -> None:
        """Add heights told as mere numbers beside another: "rode at 5000 ft, I'm at 500", "jetted for 2000, now at"."""
        told = [s for (fact, _), said in found.items() if fact == "elevation_m" for s in said]
        told += [s for low in self.low for s in low.said]
        units = [u for u in self.found.book.language.units if u.slot in _HEIGHTS]
        unit = next((u for u in units for s in told if any(s.words.lower().endswith(w) for w in u.written)), None)
        book = self.found.book
        here = list(self._mere_heights(book.height_here, told))
        set_for = [said for said in self._mere_heights(book.height_set_for, told) if not int(said[0]) % _ROUND]
        if unit is None and not told and len(here) == len(set_for) == 1:
            unit = next((u for u in units if u.slot == _HEIGHTS[0]), None)  # round thousands are of feet
        if unit is None:
            return
        near = {self._sentence_at(s.start) for s in told}
        lent = (h for h in self._mere_heights(book.height_lent, told) if self._may_be_a_height(*h, near))
        for number, said in {said.start: (number, said) for number, said in (*lent, *here, *set_for)}.values():
            value = round(number * unit.times, 4)
            if self._in_range("elevation_m", value):
                found.setdefault(("elevation_m", value), []).append(said)

    def _mere_heights(
        self, words: re.Pattern[str] | None, told: Sequence[out.Said]
    ) -> Iterator[tuple[float, out.Said]]:
        """The numbers behind some words that no height told holds."""
        for match in words.finditer(self.found.small) if words is not None else ():
            sentence = self.found.symbols.sentences[self._sentence_at(match.start())]
            first, last = match.span("n")
            if not (sentence.asks or sentence.quoted) and all(s.end <= first or last <= s.start for s in told):
                said = out.Said.trusted(start=first, end=last, words=self.found.text[first:last])
                yield float(match["n"].replace(",", "")), said

    def _may_be_a_height(self, number: float, said: out.Said, near: set[int]) -> bool:
        """Whether a number stands beside a height, and its clause tells of no sign or revs: "it bogs at 6000"."""
        n, start = self._sentence_at(said.start), said.start
        if number < 2 * _ROUND or number % (_ROUND / 2) or near.isdisjoint((n - 1, n, n + 1)):
            return False
        low = max(start - _CLAUSE, self.found.symbols.sentences[n].start)
        clause = self.found.book.height_clauses.split(self.found.small[low:start])[-1]
        no_height, starts = self.found.book.no_height, self.found.symbols.starts
        signs = (h for h in self.found.content if h.meaning.kind == "finding")
        return (no_height is None or no_height.search(clause) is None) and not any(
            start - len(clause) <= starts[h.last] < start for h in signs
        )

    def _sentence_at(self, start: int) -> int:
        return bisect_right(self.found.sentence_starts, start) - 1

    def _unit_of(self, fact: str, value: object, said: out.Said) -> tuple[float, float] | None:
        """What the figures of a fact were multiplied by, and what was added, to make its value."""
        raw = _FIGURES.search(said.words) if fact in _SLOTS and isinstance(value, float) else None
        if raw is None or not isinstance(value, float):
            return None
        units = ((u.times, u.plus) for u in self.found.book.language.units if u.slot in _SLOTS[fact])
        return next(((t, p) for t, p in units if abs(float(raw[0]) * t + p - value) < _SAME_DEGREE), None)

    def _in_range(self, fact: str, value: float) -> bool:
        """Whether a number may be this fact: one of a jet as its circuit says, else as the scales say."""
        circuit = self.found.k.circuits.get(JETS.get(fact, ""))
        numbered = circuit.sizes.numbered if circuit is not None and circuit.sizes is not None else None
        low, high = numbered or getattr(self.found.book.limits.told_within, fact)
        return bool(low <= value <= high)

    def _number(self, hit: Hit) -> float | None:
        found = [self.found.symbols.values[i] for i in range(hit.first, hit.last + 1) if i in self.found.symbols.values]
        return round(found[0], 4) if len(found) == 1 else None


def fitted_now(
    facts: Iterable[out.FactRead], changes: Iterable[tuple[str, float, out.Said]]
) -> tuple[out.FactRead, ...]:
    """The facts, with the jet that is in it now where a change of it was told: it is 150 after "160 to 150"."""
    now: dict[str, out.FactRead] = {}
    for circuit, size, said in changes:
        fact = "main_jet" if circuit == "main_jet" else "pilot_jet"
        now[fact] = out.FactRead.trusted(fact=fact, value=size, said=(said,))
    kept = [f for f in facts if f.fact not in now]
    return tuple(sorted([*kept, *now.values()], key=lambda f: (f.said[0].start, f.fact)))


def known_machine(stated: Machine, facts: Iterable[out.FactRead]) -> Machine:
    """The machine as stated, and for the rest as a post says."""
    said: dict[str, object] = {
        f.fact: f.value if isinstance(f.value, str) else int(f.value)
        for f in facts
        if f.fact in Machine.model_fields
    }
    marked = [f.value for f in facts if f.fact == "main_jet"]
    if len(marked) == 1:  # a post hardly ever says how its jets are numbered
        said["parts"] = {"main_jet_marked": marked[0]}
    given = {n: v for n, v in stated.model_dump(exclude_unset=True).items() if v not in (None, UNKNOWN_FAMILY)}
    return Machine.model_validate({**said, **given})


def _with_hints(k: Knowledge, found: _Found) -> _Found:
    """With what machines and parts only suggest, where nothing was said outright.

    Two kinds of machine in one post suggest nothing: "my mower has old gas, my saw does the same".
    """
    found = dict(found)
    for family, said in [(str(value), said) for (fact, value), said in found.items() if fact == _FAMILY_HINTED]:
        if (strokes_there := k.families[family].spoken_strokes) is not None:
            found.setdefault((_HINTED, float(strokes_there)), said)
    strokes = {value for fact, value in found if fact == _HINTED}
    hinted = {_HINTED: "strokes", _FAMILY_HINTED: "family"}
    outright = {fact for fact, _ in found}
    out: _Found = {}
    for (fact, value), said in found.items():
        told = hinted.get(fact, fact)
        if fact == told or (told not in outright and (fact == _HINTED or len(strokes) < 2)):
            out.setdefault((told, value), []).extend(said)
    return out


def _of_the_screw_named(hits: Sequence[Hit]) -> Iterator[Hit]:
    """All hits, but turns only of the screw that the most words name."""
    turns = [h for h in hits if h.meaning.record in _TURNS]
    for hit in hits:
        if hit.meaning.record not in _TURNS or not any(
            t.first <= hit.first and hit.last <= t.last and t.last - t.first > hit.last - hit.first for t in turns
        ):
            yield hit


def _each_once(hits: Iterable[Hit], breaks: Container[int]) -> list[Hit]:
    """All hits, but a jet and its number once, from left to right: "138 main 40 pilot" tells of no main of 40.

    Nor does a number behind "and" belong to the jet before it.
    """
    kept: list[Hit] = []
    jets: list[Hit] = []
    for hit in hits:
        (jets if hit.meaning.record in JETS else kept).append(hit)
    end = -1
    for hit in sorted(jets, key=lambda h: (h.first, -h.last)):
        if hit.first > end and not any(at in breaks for at in range(hit.first + 1, hit.last + 1)):
            kept.append(hit)
            end = hit.last
    return kept
