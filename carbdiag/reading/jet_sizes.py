"""Jets told by their numbers without a verb: "main is 95. 88 was better", "worse with a 72", "was a 95, now 88"."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deed_text import BACK, CUT, PAIR, WORD, Item
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.jet_numbers import is_a_mark, may_be_one_jet, number_behind
from carbdiag.reading.jets_in_it import is_in, on_hand
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.plain_jets import PlainJets
from carbdiag.reading.spans import furthest, meets
from carbdiag.terms import Change, Effect

#: Symbols between a jet's name and its number, words between a number and what it did.
_BESIDE: Final = 2
_BETWEEN: Final = 5
#: Sentences back to a size of the same jet; and how far two sizes lie apart of which one names no jet.
_SENTENCES: Final = 4
_ALIKE: Final = 1.3
#: Sizes back that are looked at.
_RECENT: Final = 8
_ENDS: Final = re.compile(r"[.;?!](?!\d)")


class Size(NamedTuple):
    """The number of a jet where it stands."""

    at: int
    circuit: str


class JetSizes:
    """The numbers of a text that stand for jets."""

    def __init__(self, k: Knowledge, deeds: Deeds, signs: Container[int], told: Iterable[Told]) -> None:
        self.k, self.deeds = k, deeds
        self.sizes = [*_sizes(k, deeds, signs, _by_change(k, deeds, told))] if deeds.book.sizes.behind else []

    def since(self) -> list[Size]:
        """The sizes without those told as the jet that came out: "put a 110 in where a 120 was"."""
        return [size for size in self.sizes if not _stood_before(self.deeds, size)]

    def tried(self, told: Iterable[Told], effects: Sequence[Hit]) -> Iterator[tuple[Told, Hit]]:
        """The jets tried, each from the size told before it or the one behind "than", and the words of what it did.

        Args:
            told: what other words tell; the numbers of settings moved there are not told again.
            effects: all that may be what something did.
        """
        k, deeds, taken = self.k, self.deeds, _numbers_of(told)
        begin = {hit.first: hit for hit in sorted(effects, key=lambda h: h.last)}
        end = {hit.last: hit for hit in sorted(effects, key=lambda h: -h.first)}
        for n, size in enumerate(self.sizes):
            effect = None if size.at in taken else _said_behind(deeds, size, begin) or _said_before(deeds, size, end)
            if effect is None or _stood_before(deeds, size) or on_hand(deeds, size.at):
                continue
            old = _set_against(deeds, self.sizes, n) or _told_before(deeds, self.sizes, n)
            if old is None and effect.meaning.record == Effect.NO_CHANGE:
                old = _first_of_a_row(deeds, self.sizes, n)
            way = None if old is None else _way(k, deeds, old, size)
            if old is not None and way is not None:
                at = ((old.at, old.at), (size.at, size.at))
                hit = Hit(size.at, size.at, Meaning("change", size.circuit, way.value), at)
                yield Told(hit, How.NAMED, False), effect

    def put_in(self, told: Iterable[Told]) -> Iterator[Told]:
        """The jets that no word names put in by a verb, after another: "it's a 90 jet. I put a 95 jet in".

        Args:
            told: what other words tell; no number that they tell of is told again.
        """
        deeds, taken = self.deeds, _numbers_of(told)
        place = {size.at: n for n, size in enumerate(self.sizes)}
        for verb in deeds.verbs:
            if verb.meaning.record not in deeds.book.words.fitting:
                continue
            new = number_behind(deeds, verb)
            if new is None or new not in place or new in taken:
                continue
            old = _told_before(deeds, self.sizes, place[new])
            way = None if old is None else _way(self.k, deeds, old, self.sizes[place[new]])
            if old is not None and way is not None and _since(deeds, old.at, new) <= _SENTENCES:
                at = ((old.at, old.at), (new, new))
                how = How.PLANNED if deeds.denied(verb) else deeds.how(verb, True)
                yield Told(Hit(verb.first, new, Meaning("change", old.circuit, way.value), at), how, False)

    def fitted(self, told: Iterable[Told]) -> Iterator[Told]:
        """The jets that are in it now, beside the ones that were: "main is a 95 the shop fitted, was a 75".

        Args:
            told: what other words tell; no number that they tell of is told again.
        """
        deeds, taken = self.deeds, _numbers_of(told)
        for one, other in pairwise(self.sizes):
            if one.circuit != other.circuit or not may_be_one_jet(deeds, one.at, other.at):
                continue
            was = [size for size in (one, other) if _was_in(deeds, size)]
            in_it = deeds.book.sizes.now
            now = [s for s in (one, other) if s not in was]
            now = [s for s in now if not in_it.isdisjoint(_before_it(deeds, s)[:2]) or is_in(deeds, s.at)]
            apart = _since(deeds, one.at, other.at)
            sentence = deeds.symbols.sentences[deeds.symbols.sentence_of[other.at]]
            if len(was) != 1 or len(now) != 1 or apart > 1 or sentence.asks or sentence.quoted or was[0].at in taken:
                continue  # the one in it now may be where another change began: "is a 95, was a 75. Went to 88"
            way = _way(self.k, deeds, was[0], now[0])
            if way is not None:
                at = ((was[0].at, was[0].at), (now[0].at, now[0].at))
                yield Told(Hit(one.at, other.at, Meaning("change", one.circuit, way.value), at), How.DONE, False)


def told_by_a_change(k: Knowledge, values: Container[int], told: Iterable[Told]) -> Callable[[Hit], bool]:
    """Whether the words of a look at the jets are those of a jet changed: "was a 125 main stock, now a 132"."""
    looks = {check.id for check in k.checks.values() if check.beside_book}
    jets = {c.id for c in k.circuits.values() if c.sizes is not None and c.sizes.numbered is not None}
    changes = (t.hit for t in told if t.hit.meaning.kind == "change" and t.hit.meaning.record in jets)
    spans = [(hit.first, hit.last) for hit in changes if sum(at in values for at in range(hit.first, hit.last + 1)) > 1]
    moved = furthest(spans) if spans else None
    return lambda hit: hit.meaning.record in looks and meets(moved, hit)


def _numbers_of(told: Iterable[Told]) -> set[int]:
    """The symbols of the settings moved, and of numbers set beside that of the book."""
    hits = (t.hit for t in told if t.hit.meaning.kind == "change" or len(t.hit.parts) == PAIR)
    spans = ((first, last) for hit in hits for first, last in ((hit.first, hit.last), *hit.parts))
    return {at for first, last in spans for at in range(first, last + 1)}


def _was_in(deeds: Deeds, size: Size) -> bool:
    """Whether a jet is told as the one before, or as that of the book: "was a 95", "stock main is 95", "95 stock"."""
    words, before = deeds.book.sizes, _before_it(deeds, size)
    led = before[:1]
    of_book = before[1:2] if led and led[0] in words.joins else led
    end = deeds.symbols.ends[size.at]
    behind = WORD.findall(CUT.split(deeds.text[end : end + BACK].lower())[0])
    following = next((word for word in behind if word not in words.names and word not in words.joins), "")
    return not words.was.isdisjoint(led) or not words.stock.isdisjoint(of_book) or following in words.stock


def _stood_before(deeds: Deeds, size: Size) -> bool:
    """Whether the words before a number make it that of the jet taken out: "instead of the 38", "was a 38"."""
    said = [word for word in _before_it(deeds, size) if word not in deeds.book.sizes.joins]
    before = _before_it(deeds, size)[:1]
    return not deeds.book.sizes.was.isdisjoint(before) or not deeds.book.moves.came_from.isdisjoint(said[:1])


def _before_it(deeds: Deeds, size: Size) -> list[str]:
    """The words before a number in its clause, the nearest first, without the name of its jet and small words."""
    symbols = deeds.symbols
    sentence, start = symbols.sentences[symbols.sentence_of[size.at]], symbols.starts[size.at]
    said = CUT.split(deeds.text[max(sentence.start, start - BACK) : start].lower().replace("’", "'"))[-1]
    skipped = deeds.book.determiners | deeds.book.sizes.names
    return [word for word in reversed(WORD.findall(said)) if word not in skipped]


def _way(k: Knowledge, deeds: Deeds, old: Size, new: Size) -> Change | None:
    """Which way it goes from one size to another; None where they are the same."""
    sizes, before, after = k.circuits[new.circuit].sizes, deeds.symbols.values[old.at], deeds.symbols.values[new.at]
    assert sizes is not None
    return None if before == after else next(c for c in Change if (c is sizes.larger_is) is (after > before))


def _by_change(k: Knowledge, deeds: Deeds, told: Iterable[Told]) -> dict[int, str]:
    """The two numbers of each jet changed, with its circuit: "from 48 to 50 on the pilot"."""
    out: dict[int, str] = {}
    for hit in (t.hit for t in told if t.hit.meaning.kind == "change"):
        sizes = k.circuits[hit.meaning.record].sizes
        if sizes is None or sizes.numbered is None:
            continue
        marks = [at for at in range(hit.first, hit.last + 1) if at in deeds.symbols.values and is_a_mark(deeds, at)]
        if len(marks) == PAIR and may_be_one_jet(deeds, *marks):
            fit = (at for at in marks if _may_be(k, hit.meaning.record, deeds.symbols.values[at]))
            out.update(dict.fromkeys(fit, hit.meaning.record))
    return out


def _sizes(k: Knowledge, deeds: Deeds, signs: Container[int], changed: Mapping[int, str]) -> Iterator[Size]:
    """The numbers that stand for jets, in the order of the text.

    Args:
        signs: where signs begin: right behind a number, it is told with that jet in.
        changed: numbers of jets changed, with their circuit.
    """
    jets = [(item, circuit) for item in deeds.named for circuit in _circuits(k, deeds, item)]
    jets.sort(key=lambda j: (j[0].first, j[1]))
    firsts = [item.first for item, _ in jets]
    marks = [at for at in sorted(deeds.symbols.values) if is_a_mark(deeds, at)]
    named: dict[int, str] = {}
    near_a_name: set[int] = set()
    for at in marks:
        n = bisect_left(firsts, at)
        near = [j for j in jets[max(n - 2, 0) : n + 2] if _beside(deeds, j[0], at)]
        # "178 main, 48 pilot": the name right behind a number goes before the one before it
        near.sort(key=lambda j: (j[0].first != at + 1, abs(j[0].first - at)))
        fits = next((circuit for _, circuit in near if _may_be(k, circuit, deeds.symbols.values[at])), None)
        named.update({at: fits} if fits is not None else {})
        near_a_name.update({at} if near else ())
    named.update((at, circuit) for at, circuit in changed.items() if at not in named)
    plain = PlainJets(k, deeds, named)
    named.update(dict.fromkeys((at for at in plain.told() if at not in near_a_name), plain.circuit))
    told: list[Size] = []
    pending: list[int] = []
    for at in marks:
        if at in named:
            told += [Size(p, named[at]) for p in pending if at - p <= 2 * _BETWEEN and _compared(deeds, p, at)]
            pending.clear()
            told.append(Size(at, named[at]))
            continue
        last = next((s for s in reversed(told[-_RECENT:]) if _alike(deeds, s.at, at)), None)
        if last is None:
            pending = [*pending[-_RECENT:], at]  # "better on the 155 than on the 150 main"
            continue
        again = any(s.circuit == last.circuit and _same(deeds, s.at, at) for s in told[-_RECENT:])
        stands = at not in near_a_name and _since(deeds, last.at, at) <= _SENTENCES
        if stands and _stands_for_a_jet(deeds, at, again or at + 1 in signs):
            told.append(Size(at, last.circuit))
    yield from sorted(told)


def _same(deeds: Deeds, one: int, other: int) -> bool:
    return deeds.symbols.values[one] == deeds.symbols.values[other]


def _compared(deeds: Deeds, one: int, other: int) -> bool:
    """Whether "than" sets a number against one behind it that may be of the same jet."""
    said = deeds.text[deeds.symbols.ends[one] : deeds.symbols.starts[other]].lower()
    words = WORD.findall(said)
    return not CUT.search(said) and not deeds.book.sizes.than.isdisjoint(words) and _alike(deeds, one, other)


def _circuits(k: Knowledge, deeds: Deeds, item: Item) -> Iterator[str]:
    """The jets with sizes that a part is the name of."""
    for _, entry in deeds.changes(item, deeds.book.words.larger):
        sizes = k.circuits[entry.meaning.record].sizes
        if sizes is not None and sizes.numbered is not None:
            yield entry.meaning.record


def _may_be(k: Knowledge, circuit: str, value: float) -> bool:
    sizes = k.circuits[circuit].sizes
    assert sizes is not None
    assert sizes.numbered is not None
    return sizes.numbered[0] <= value <= sizes.numbered[1]


def _beside(deeds: Deeds, item: Item, at: int) -> bool:
    """Whether a number stands right beside the name of a jet: "130 main", "main jet is a 130", "main: 130"."""
    on = item.first == at + 2 and deeds.word_at(at + 1) in deeds.book.inside  # "104 on the main", where "on" counts
    if item.first == at + 1 or on:
        return at + 1 not in deeds.symbols.breaks
    if not 0 < at - item.last <= _BESIDE:
        return False
    said = deeds.text[deeds.symbols.ends[item.last] : deeds.symbols.starts[at]].lower()
    return not CUT.search(said.replace(":", " ")) and deeds.book.sizes.joins.issuperset(WORD.findall(said))


def _stands_for_a_jet(deeds: Deeds, at: int, known: bool) -> bool:
    """Whether the word before a number lets it be a jet, and none behind it counts something else: "55 mph".

    Args:
        known: that it was told of that jet before, or a sign stands right behind it.
    """
    start, end = deeds.symbols.starts[at], deeds.symbols.ends[at]
    sentence = deeds.symbols.sentences[deeds.symbols.sentence_of[at]]
    before = WORD.findall(CUT.split(deeds.text[max(sentence.start, start - BACK) : start].lower())[-1])
    behind = deeds.text[end : min(end + BACK, sentence.end)].lower()
    following = WORD.match(behind.lstrip())
    words = deeds.book.sizes
    tail = following is None or following[0] in words.behind or following[0] in words.names
    tail = tail or (known and following is not None and following[0] not in words.no_jets)
    return tail and (not before or before[-1] in words.leads)


def _alike(deeds: Deeds, one: int, other: int) -> bool:
    sizes = deeds.symbols.values[one], deeds.symbols.values[other]
    return may_be_one_jet(deeds, one, other) and max(sizes) <= _ALIKE * min(sizes)


def _since(deeds: Deeds, one: int, other: int) -> int:
    return deeds.symbols.sentence_of[other] - deeds.symbols.sentence_of[one]


def _said_behind(deeds: Deeds, size: Size, effects: Mapping[int, Hit]) -> Hit | None:
    """What it did right behind a number: "78 was worse", "with a 120: better"."""
    symbols = deeds.symbols
    last = symbols.sentences[symbols.sentence_of[size.at]].last
    at = next((at for at in range(size.at + 1, min(size.at + 2 + _BETWEEN, last)) if at in effects), None)
    if at is None:
        return None
    said = deeds.text[symbols.ends[size.at] : symbols.starts[at]].lower()
    words = WORD.findall(said)
    joins = deeds.book.sizes.behind | deeds.book.sizes.names
    near = len(words) <= _BETWEEN and not _ENDS.search(said) and joins.issuperset(words)
    near = near and not any(n in symbols.values for n in range(size.at + 1, at))  # "42 and 48, 42 was worse"
    return effects[at] if near else None


def _said_before(deeds: Deeds, size: Size, effects: Mapping[int, Hit]) -> Hit | None:
    """What it did right before a number: "no difference with a 110", "better on the 160"."""
    symbols = deeds.symbols
    first = symbols.sentences[symbols.sentence_of[size.at]].first
    at = next((at for at in range(size.at - 1, max(size.at - 2 - _BETWEEN, first - 1), -1) if at in effects), None)
    if at is None:
        return None
    said = deeds.text[symbols.ends[at] : symbols.starts[size.at]].lower()
    words, joins = WORD.findall(said), deeds.book.sizes.led_by | deeds.book.sizes.joins | deeds.book.sizes.names
    led = not any(n in symbols.values for n in range(at + 1, size.at))
    led = led and not deeds.book.sizes.led_by.isdisjoint(words) and not CUT.search(said) and joins.issuperset(words)
    return effects[at] if led else None


def _set_against(deeds: Deeds, sizes: Sequence[Size], n: int) -> Size | None:
    """The size behind "than": "the 83 was worse than the 80"."""
    other = sizes[n + 1] if n + 1 < len(sizes) else None
    if other is None or other.circuit != sizes[n].circuit:
        return None
    said = deeds.text[deeds.symbols.ends[sizes[n].at] : deeds.symbols.starts[other.at]].lower()
    set_against = not _ENDS.search(said) and not deeds.book.sizes.than.isdisjoint(WORD.findall(said))
    return other if set_against else None


def _told_before(deeds: Deeds, sizes: Sequence[Size], n: int) -> Size | None:
    """The size of the same jet told before, that is not one of several tried: "tried 42 and 48, 42 was worse"."""
    for at in range(n - 1, max(n - _RECENT, 0) - 1, -1):
        same = sizes[at].circuit == sizes[n].circuit and may_be_one_jet(deeds, sizes[at].at, sizes[n].at)
        if same and not _one_of_several(deeds, sizes, at):
            return sizes[at]
    return None


def _first_of_a_row(deeds: Deeds, sizes: Sequence[Size], n: int) -> Size | None:
    """The first of a list that goes one way, of all of which one effect is told: "tried 155, 158, 160, no change"."""
    values, first = deeds.symbols.values, n
    while first > max(n - _RECENT, 0) and sizes[first].at - sizes[first - 1].at <= _BESIDE:
        if sizes[first - 1].circuit != sizes[n].circuit:
            break
        first -= 1
    row = [values[size.at] for size in sizes[first : n + 1]]
    one_way = row in (sorted(row), sorted(row, reverse=True)) and len({*row}) == len(row) > 1
    return sizes[first] if one_way and _one_of_several(deeds, sizes, first) else None


def _one_of_several(deeds: Deeds, sizes: Sequence[Size], n: int) -> bool:
    """Whether a number stands in a list of sizes that were tried: "tried pilot 42 and 48"."""

    def listed(one: int) -> bool:
        return sizes[one].circuit == sizes[one + 1].circuit and sizes[one + 1].at - sizes[one].at <= _BESIDE

    first = n
    while first > max(n - _RECENT, 0) and listed(first - 1):
        first -= 1
    several = first < n or (n + 1 < len(sizes) and listed(n))
    return several and not deeds.book.sizes.tries.isdisjoint(_before_it(deeds, sizes[first])[:1])
