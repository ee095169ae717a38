"""Jets told one by one, each by what it does with it in: "120 pinged, 125 was fine, 130 blubbered".

From one to the next it got better or worse, or went past what is right where it first shows signs of a lean mixture
and then of a rich one.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from enum import Enum
from itertools import pairwise
from typing import Final, NamedTuple

from carbdiag import reading_schema as out
from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_book import How
from carbdiag.reading.deed_text import WORD
from carbdiag.reading.effects import Doing, Outcome
from carbdiag.reading.effects_told import EffectsTold
from carbdiag.reading.facts import JETS
from carbdiag.reading.found import Found
from carbdiag.reading.grooves_told import grooves_told
from carbdiag.reading.jet_sizes import Size
from carbdiag.reading.jets_in_it import is_in
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.order import Border
from carbdiag.reading.spans import furthest, meets
from carbdiag.terms import Change, Effect, Status

#: Symbols from the number of a jet to what it does, and characters in which the words for "well" stand.
_REACH: Final = 5
#: Sentences from one jet to the next.
_SENTENCES: Final = 2
#: Numbers of a jet changed for another.
_PAIR: Final = 2
#: Effects by which one jet is set against another.
_GRADED: Final = (Effect.BETTER, Effect.CURED, Effect.WORSE)


class _Runs(Enum):
    """How it runs with a jet in."""

    BEST = "best"
    WELL = "well"
    SOME = "some"
    """Better than with the one before, and not said to be right."""
    ILL = "ill"
    LEAN = "lean"
    RICH = "rich"


class _Account(NamedTuple):
    """A jet, how it runs with it, and where that is said."""

    size: Size
    runs: _Runs
    first: int
    last: int
    felt: bool = False
    """It is told as what changing to it did: "the bog got better"."""


class JetsCompared:
    """The jets of one post that are told one by one."""

    def __init__(
        self,
        found: Found,
        findings: Iterable[tuple[out.FindingRead, Hit]],
        goes_with: Callable[[str, str], bool],
        effects: EffectsTold,
    ) -> None:
        self.found, self._goes_with, self._told_effects = found, goes_with, effects
        self._signs = sorted(((h.first, h, read) for read, h in findings), key=lambda s: s[:2])
        self._firsts = [first for first, _, _ in self._signs]
        self._told = sorted([*found.jets, *grooves_told(found.deeds)])
        self._sizes = [size.at for size in self._told]
        self._spoken = sorted(effects.spoken, key=lambda s: s[1])
        self._effects = sorted(found.effects, key=lambda e: e.first)
        self._effect_firsts = [e.first for e in self._effects]
        changed: dict[str, list[tuple[int, int]]] = {}
        for hit in (h for h in found.told if h.meaning.kind == "change"):
            changed.setdefault(hit.meaning.record, []).append((hit.first, hit.last))
        self._changed = {circuit: furthest(spans) for circuit, spans in changed.items()}
        values = found.symbols.values
        moved = (h for h in found.told if h.meaning.kind == "change")
        numbers = ((h.meaning.record, [values[at] for at in range(h.first, h.last + 1) if at in values]) for h in moved)
        #: Jets told as changed for another by a verb: the circuit, what came out and what went in.
        self._swapped = {(circuit, *sizes) for circuit, sizes in numbers if len(sizes) == _PAIR}
        self._told_otherwise = {hit.first: effect for hit, effect in found.did.items()}

        self.put_back: set[Hit] = set()
        """Those of them that are out again: "jet 88 now and it four strokes, 84 pinged"."""
        self._over: list[tuple[int, int]] = []
        self.told = self._outcomes()
        """The jets with what changing to each did, in the order of the post."""

    def over(self, sign: Hit) -> bool:
        """Whether a sign was only seen with a jet in that is out again."""
        return any(first <= sign.first <= last for first, last in self._over)

    def borders(self, borders: Sequence[Border]) -> tuple[Border, ...]:
        """The borders in time, with those that each of the jets makes where its number stands, if it stayed in."""
        stayed = (o for o in self.told if o.doing.hit not in self.put_back)
        own = (Border(o.doing.hit, o.doing.hit.first, o.effect) for o in stayed)
        return tuple(sorted((*borders, *own), key=lambda b: b.at))

    def fitted(self, facts: Iterable[out.FactRead]) -> Iterator[out.FactRead]:
        """The facts without a jet of which nobody says that it is the one of several that is in it now."""
        symbols, sizes = self.found.symbols, self.found.jets
        circuits = {outcome.doing.hit.meaning.record for outcome in self.told}
        tried = {(s.circuit, symbols.values[s.at]) for s in sizes if s.circuit in circuits}
        now = {(s.circuit, symbols.values[s.at]) for s in sizes if self._in_it(s)}
        for fact in facts:
            jet = (JETS.get(fact.fact, ""), fact.value)
            if jet not in tried or jet in now:
                yield fact

    def _outcomes(self) -> list[Outcome]:
        told: list[Outcome] = []
        accounts = [a for a in map(self._account, self._told) if a is not None]
        final = {a.size.circuit: a.size.at for a in accounts}
        for one, other in pairwise(accounts):
            known = other.felt and self._changed_to(other.size)
            outcome = self._outcome(one, other) if self._follows(one, other) and not known else None
            if outcome is None:
                continue
            if self._is_the_old_one(one.size, other):
                self._over.append((other.size.at, other.last))
                continue
            told.append(outcome)
            if other.size.at == final[other.size.circuit] and self._in_it(one.size) and not self._in_it(other.size):
                self.put_back.add(outcome.doing.hit)
                self._over.append((other.size.at, other.last))
        return told

    def _is_the_old_one(self, new: Size, old: _Account) -> bool:
        """Whether how it ran with the jet that came out is told: "120 to 130, worse up top. With the 120 it ran ok"."""
        values, ends = self.found.symbols.values, self.found.symbols.ends
        if (new.circuit, values[old.size.at], values[new.at]) not in self._swapped:
            return False
        past = self.found.book.order.past
        return past is not None and past.search(self.found.small, ends[old.size.at], ends[old.last]) is not None

    def _changed_to(self, size: Size) -> bool:
        """Whether a verb tells of changing to a jet, which then has its effect."""
        return meets(self._changed.get(size.circuit), Hit(size.at, size.at, Meaning("change", size.circuit), ()))

    def _in_it(self, size: Size) -> bool:
        return is_in(self.found.deeds, size.at)

    def _follows(self, one: _Account, other: _Account) -> bool:
        """Whether two jets are of the same circuit, of different numbers and told one shortly after the other."""
        sentence_of, values = self.found.symbols.sentence_of, self.found.symbols.values
        return (
            one.size.circuit == other.size.circuit
            and values[one.size.at] != values[other.size.at]
            and sentence_of[other.size.at] - sentence_of[one.last] <= _SENTENCES
            and other.size.at not in self._told_otherwise
        )

    def _outcome(self, one: _Account, other: _Account) -> Outcome | None:
        sizes, values = self.found.k.circuits[one.size.circuit].sizes, self.found.symbols.values
        assert sizes is not None
        grows = values[other.size.at] > values[one.size.at]
        way = next(c for c in Change if (c is sizes.larger_is) is grows)
        effect = _effect(one.runs, other.runs, way)
        if effect is None:
            return None
        at = ((one.size.at, one.size.at), (other.size.at, other.size.at))
        hit = Hit(other.size.at, other.size.at, Meaning("change", one.size.circuit, way.value), at)
        return Outcome(Doing(hit, How.NAMED), effect, (other.first, other.last), False)

    def _account(self, size: Size) -> _Account | None:
        """How it runs with a jet in, by the sign or the word for well right behind its number."""
        symbols = self.found.symbols
        sentence = symbols.sentences[symbols.sentence_of[size.at]]
        if sentence.asks or sentence.quoted:
            return None
        if (effect := self._told_otherwise.get(size.at)) is not None:
            return self._by_effect(size, effect)
        end = min(self._next(size), sentence.last)
        return self._by_signs(size, end) or self._by_words(size, end)

    def _by_effect(self, size: Size, effect: Hit) -> _Account:
        return _Account(size, _runs(self._told_effects.effect(effect)), effect.first, effect.last)

    def _by_signs(self, size: Size, end: int) -> _Account | None:
        """The account by the signs behind a number, or by how they went."""
        signs = self._signs[bisect_left(self._firsts, size.at + 1) : bisect_left(self._firsts, end)]
        near = signs and signs[0][0] - size.at <= _REACH and self._led(size.at, signs[0][0])
        if (felt := self._felt(size, end)) is not None and (not near or felt.last > signs[0][0]):
            return self._by_effect(size, felt)._replace(felt=True)
        shown = [h for _, h, read in signs if read.status is Status.PRESENT]
        gone = [h for _, h, read in signs if read.status is Status.DENIED]
        if near and shown:
            kinds = {self._kind(h) for h in shown}
            runs = next(iter(kinds - {_Runs.ILL}), _Runs.ILL) if len(kinds - {_Runs.ILL}) < 2 else _Runs.ILL
            return _Account(size, runs, shown[0].first, shown[-1].last)
        return _Account(size, _Runs.WELL, gone[0].first, gone[-1].last) if near and gone else None

    def _by_words(self, size: Size, end: int) -> _Account | None:
        """The account by the words behind a number: "the 118 seized", "125 was fine", "130 was the best yet"."""
        symbols, words = self.found.symbols, self.found.book.deeds.sizes
        sentence = symbols.sentences[symbols.sentence_of[size.at]]
        until = symbols.starts[end] if end < sentence.last else sentence.end or len(self.found.text)
        text = self.found.small[symbols.ends[size.at] : until]
        well = self.found.book.well_at.with_it
        for pattern, runs in ((words.ran_lean, _Runs.LEAN), (words.best, _Runs.BEST), (well, _Runs.WELL)):
            told = pattern.search(text) if pattern is not None else None
            if told is not None and self._leads_on(text[: told.start()]):
                stop = symbols.ends[size.at] + told.end()
                return _Account(size, runs, size.at, max(bisect_left(symbols.starts, stop) - 1, size.at))
        n = bisect_left(self._spoken, symbols.ends[size.at], key=lambda s: s[1])
        for told_effect, start, stop in self._spoken[n : n + _REACH]:
            if stop <= until and self._leads_on(self.found.small[symbols.ends[size.at] : start]):
                last = max(bisect_left(symbols.starts, stop) - 1, size.at)
                return _Account(size, _runs(self._told_effects.though_better(told_effect, last)), size.at, last)
        return None

    def _felt(self, size: Size, end: int) -> Hit | None:
        """What changing to it is told to have done, by a sign and how it went: "to 50, popping got better, to 52"."""
        n = bisect_left(self._effect_firsts, size.at + 1)
        felt = self._effects[n] if n < len(self._effects) else None
        if felt is None or felt.last >= end or felt.first - size.at > _REACH:
            return None
        if felt.first == felt.last and size.circuit in JETS.values() and not self._changed_to(size):
            return None  # a word beside the number of a jet was read with it
        return felt if felt.meaning.record in _GRADED and self._led(size.at, felt.first) else None

    def _next(self, size: Size) -> int:
        """Where the next jet is told."""
        n = bisect_left(self._sizes, size.at + 1)
        return self._sizes[n] if n < len(self._sizes) else len(self.found.symbols.starts)

    def _led(self, first: int, last: int) -> bool:
        """Whether the words from a number to a sign only lead on to it: "120 (jet it) pings"."""
        symbols = self.found.symbols
        return self._leads_on(self.found.small[symbols.ends[first] : symbols.starts[last]])

    def _leads_on(self, said: str) -> bool:
        words, between = self.found.book.deeds.sizes, self.found.book.well_at.between
        return (words.behind | words.names | words.joins | between).issuperset(WORD.findall(said.replace("’", "'")))

    def _kind(self, sign: Hit) -> _Runs:
        if self._goes_with(sign.meaning.record, Change.RICHER):
            return _Runs.RICH
        return _Runs.LEAN if self._goes_with(sign.meaning.record, Change.LEANER) else _Runs.ILL


def _runs(effect: Effect) -> _Runs:
    return {Effect.BETTER: _Runs.SOME, Effect.CURED: _Runs.WELL}.get(effect, _Runs.ILL)


def without_lists(k: Knowledge, told: Iterable[Outcome], compared: Iterable[Outcome]) -> list[Outcome]:
    """The outcomes without the jets that are only listed as tried, where each is told by itself: "tried 42 and 48"."""
    actions = {k.circuits[o.doing.hit.meaning.record].richer.action for o in compared}
    return [o for o in told if o.said is not None or o.doing.hit.meaning.record not in actions]


def epochs(borders: Sequence[Border], told: Iterable[Outcome]) -> Mapping[Hit, int]:
    """In which stretch of time each of those jets was put in: the one that it ends."""
    number = {border.deed: n for n, border in enumerate(borders)}
    return {o.doing.hit: number[o.doing.hit] for o in told if o.doing.hit in number}


def _effect(one: _Runs, other: _Runs, way: Change) -> Effect | None:
    """What changing from one jet to the other did; None where nobody can say."""
    well = (_Runs.BEST, _Runs.WELL)
    if other is _Runs.BEST:
        return Effect.BETTER
    if other in (_Runs.WELL, _Runs.SOME):
        # of two that ran well nobody says which is better; well is better than a little better
        known = one not in well and (one is not _Runs.SOME or other is _Runs.WELL)
        return Effect.BETTER if known else None
    if one in (*well, _Runs.SOME):
        return Effect.WORSE
    past = (_Runs.LEAN, _Runs.RICH) if way is Change.RICHER else (_Runs.RICH, _Runs.LEAN)
    return Effect.OVERSHOT if (one, other) == past else None



__all__ = ["JetsCompared", "epochs", "without_lists"]
