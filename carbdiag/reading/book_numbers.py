"""The number on a jet beside the one the book gives: "its got a 185 main where the book says 172"."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final

from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deed_text import CUT, WORD, Item
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.jet_numbers import is_a_mark, may_be_one_jet
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.records.checks import BesideBook
from carbdiag.records.contexts import Context
from carbdiag.terms import Change

#: Characters beside a number in which the words stand that make it the number of the book.
_BESIDE: Final = 32
_PLAIN: Final = str.maketrans({"’": "'", **dict.fromkeys("(,:=-#", " ")})
#: Symbols from the name of a jet to its numbers, and sentences to the number of the book.
_REACH: Final = 8
#: Symbols to the name of the same jet told a second time, with the number fitted.
_FAR: Final = 24
_SENTENCES: Final = 1
#: What stands between two numbers of the book, and how far apart those of a main and a pilot jet lie at least.
_LIST: Final = ("/", "", ",")
_APART: Final = 1.5
#: Jets named before and behind those that are looked at.
_JETS: Final = 4


def beside_the_book(k: Knowledge, deeds: Deeds, changes: Iterable[Hit]) -> Iterator[Told]:
    """The outcomes told by a jet's number and the book's; a change between the two numbers (`changes`) tells none."""
    checks = [(c.id, c.beside_book) for c in k.checks.values() if c.beside_book]
    words = deeds.book.words
    if not checks or not words.book_says:
        return
    moved = {
        at for hit in changes for first, last in ((hit.first, hit.last), *hit.parts) for at in range(first, last + 1)
    }
    least = deeds.book.limits.jet_number_from
    marks = sorted(at for at, value in deeds.symbols.values.items() if value >= least and is_a_mark(deeds, at))
    jets = [item for item in deeds.named if _is_a_jet(k, deeds, item)]
    firsts = sorted(item.first for item in jets)
    owners = _owners(deeds, jets)
    sizes = deeds.symbols.values
    compared: list[tuple[Item, int, int]] = []
    for item in jets:
        low, high = bisect_left(marks, item.first - _REACH), bisect_right(marks, item.last + _REACH)
        near = [at for at in marks[low:high] if _together(deeds, item, at) and not _asked(deeds, at)]
        near = [at for at in near if _is_led(deeds, item, at)]
        book = _of_the_book(deeds, near) if len(near) > 1 else set()
        if any(_for_other_air(deeds, at) for at in book):
            continue  # "the manual says 112 for high altitude" is what it wants elsewhere
        fitted = _fitted(deeds, item, [at for at in near if at not in book and not _on_hand(deeds, at)])
        told = _nearest(fitted, (at for at in near if at in book and not _of_another_jet(k, deeds, item, at, owners)))
        named = fitted is None and told is not None
        if named:  # "pilot 48, main 175. Stock pilot is 42"
            n = bisect_left(firsts, item.first)
            around = marks[bisect_left(marks, item.first - _FAR) : bisect_right(marks, item.last + _FAR)]
            fitted = _fitted_elsewhere(k, deeds, item, jets[max(n - _JETS, 0) : n + _JETS], around, owners)
        if fitted is None or told is None or {fitted, told} <= moved or not may_be_one_jet(deeds, told, fitted):
            continue
        first, last = sorted((fitted, told))
        between = firsts[bisect_right(firsts, first) : bisect_left(firsts, last)]
        if not named and any(at != item.first for at in between):
            continue
        compared.append((item, fitted, told))
    compared += [pair for pair in _listed(deeds, jets, marks) if all(pair[0] is not item for item, _, _ in compared)]
    ways = {_way(sizes[fitted], sizes[told]) for _, fitted, told in compared}
    for item, fitted, told in compared:
        way = _way(sizes[fitted], sizes[told])
        if way == "same" and len(ways) > 1:
            continue  # another jet is not as the book has it
        first, last = sorted((fitted, told))
        fits = [*_other_jet(k, deeds, item, way)]
        for check, outcomes in checks:
            # its outcome names no jet: one way for all of those it is about, or each by itself
            mine = set(k.checks[check].applies.circuits)
            apart = [c.id for c in fits if len(ways) > 1 or mine.isdisjoint(c.told_by_move)]
            meanings = [Meaning("context", c, "") for c in apart] or [Meaning("check", check, outcomes[way])]
            for meaning in meanings:
                yield Told(Hit(first, last, meaning, ((first, first), (last, last))), How.DONE, False)


def _is_led(deeds: Deeds, item: Item, at: int) -> bool:
    """Whether a number in another sentence than its jet may be a jet's: "Has a 60 in it", and no "At steady 60"."""
    symbols = deeds.symbols
    if symbols.sentence_of[at] == symbols.sentence_of[item.first] or deeds.begins_a_clause(at):
        return True
    sentence, words = symbols.sentences[symbols.sentence_of[at]], deeds.book.sizes
    before = WORD.findall(deeds.text[sentence.start : symbols.starts[at]].lower())
    return not before or before[-1] in words.leads | words.names | words.joins | words.stock


def _listed(deeds: Deeds, jets: Sequence[Item], marks: Sequence[int]) -> Iterator[tuple[Item, int, int]]:
    """The jets of which the book's numbers stand in one breath, the main jet's the larger: "book says 150/50"."""
    symbols, sizes, firsts = deeds.symbols, deeds.symbols.values, [item.first for item in jets]
    for one, other in pairwise(marks):
        between = deeds.text[symbols.ends[one] : symbols.starts[other]].strip()
        apart = max(sizes[one], sizes[other]) >= _APART * min(sizes[one], sizes[other])
        joined = between in _LIST or between.lower() in deeds.book.joins
        if other != one + 1 or not joined or not apart or one not in _of_the_book(deeds, [one]):
            continue
        large, small = sorted((one, other), key=lambda at: -sizes[at])
        n = bisect_left(firsts, one)
        for item in jets[max(n - _JETS, 0) : n + _JETS]:
            beside = [at for at in (item.last + 1, item.first - 1) if at in sizes and at not in (one, other)]
            fitted = _fitted(deeds, item, [at for at in beside if at in marks])
            if fitted is None or _for_other_air(deeds, other):
                continue
            told = min((large, small), key=lambda at: max(sizes[at], sizes[fitted]) / min(sizes[at], sizes[fitted]))
            if may_be_one_jet(deeds, told, fitted):
                yield item, fitted, told


def _other_jet(k: Knowledge, deeds: Deeds, item: Item, way: BesideBook) -> Iterator[Context]:
    """The circumstances of a jet with another number than the book's: "Smaller pilot jet fitted"."""
    if way == "same":
        return
    for _, entry in deeds.changes(item, deeds.book.words.larger):
        larger = Change(entry.meaning.more)
        moved = larger if way == "larger" else next(c for c in Change if c is not larger)
        yield from (c for c in k.contexts.values() if c.told_by_move.get(entry.meaning.record) is moved)


def _way(fitted: float, told: float) -> BesideBook:
    if fitted == told:
        return "same"
    return "larger" if fitted > told else "smaller"


def _for_other_air(deeds: Deeds, at: int) -> bool:
    """Whether the book's number is for another height, weather or use than the ordinary one."""
    sentence, words = deeds.symbols.sentences[deeds.symbols.sentence_of[at]], deeds.book.sizes.for_other_air
    end = deeds.symbols.ends[at]
    said = CUT.split(deeds.text[end : min(end + _BESIDE, sentence.end or end + _BESIDE)].lower())[0]
    return words is not None and words.search(said) is not None


def _on_hand(deeds: Deeds, at: int) -> bool:
    """Whether a jet of that number lies ready and is not fitted: "I have a 158 and a 162 here"."""
    sentence = deeds.symbols.sentences[deeds.symbols.sentence_of[at]]
    end = deeds.symbols.ends[at]
    said = f" {deeds.text[end : min(end + _BESIDE, sentence.end)].lower().translate(_PLAIN)} "
    return any(f" {words} " in said.replace(".", " ") for words in deeds.book.words.on_hand)


def _fitted(deeds: Deeds, item: Item, marks: Sequence[int]) -> int | None:
    """Where the number of the jet fitted stands: right behind its name, right before it, or the next one."""
    beside = (item.last + 1, item.first - 1)
    broken = {at for at in beside if max(at, item.first) in deeds.symbols.breaks}
    first = next((at for at in beside if at in marks and at not in broken), None)
    return next((at for at in marks if at > item.last), None) if first is None else first


def _fitted_elsewhere(
    k: Knowledge, deeds: Deeds, item: Item, jets: Sequence[Item], marks: Sequence[int], owners: Mapping[int, Item]
) -> int | None:
    """Where the number of the jet fitted stands, if the jet is named once more near the book's number."""
    mine = _circuits(k, deeds, item)
    for other in sorted(jets, key=lambda jet: (jet.first > item.first, abs(jet.first - item.first))):
        if other is not item and _together(deeds, other, item.first) and _circuits(k, deeds, other) == mine:
            beside = [at for at in (other.last + 1, other.first - 1) if at in marks and not _of_the_book(deeds, [at])]
            beside = [at for at in beside if not _of_another_jet(k, deeds, item, at, owners)]
            if beside:
                return _fitted(deeds, other, beside)
    return None


def _owners(deeds: Deeds, jets: Sequence[Item]) -> dict[int, Item]:
    """The jet that each number stands beside; the name before it goes first: "pilot 50 main 178"."""
    breaks = deeds.symbols.breaks
    out = {jet.first - 1: jet for jet in jets if jet.first not in breaks}
    return out | {jet.last + 1: jet for jet in jets if jet.last + 1 not in breaks}


def _of_another_jet(k: Knowledge, deeds: Deeds, item: Item, at: int, owners: Mapping[int, Item]) -> bool:
    """Whether a number stands beside the name of another jet."""
    owner = owners.get(at)
    return owner is not None and _circuits(k, deeds, owner) != _circuits(k, deeds, item)


def _nearest(fitted: int | None, marks: Iterable[int]) -> int | None:
    """The book's number for a jet, the one behind it first: "main 178 (stock 172), pilot 42 (stock 45)"."""
    return min(marks, key=lambda at: (at < (fitted or 0), abs(at - (fitted or 0))), default=None)


def _of_the_book(deeds: Deeds, marks: Sequence[int]) -> set[int]:
    """The numbers that the words right beside them make those of the book: "stock is (172)", "(172) is stock".

    Words before a number go first: in "155, stock is 140" the 155 is not stock.
    """
    words, symbols = deeds.book.words, deeds.symbols

    def said_before(at: int) -> bool:
        start = symbols.starts[at]
        before = deeds.text[max(start - _BESIDE, 0) : start].lower().translate(_PLAIN).rstrip()
        return f" {before}".endswith(tuple(f" {said}" for said in words.book_says))

    def said_behind(at: int) -> bool:
        end = symbols.ends[at]
        behind = deeds.text[end : end + _BESIDE].lower().translate(_PLAIN).lstrip()
        return any(
            behind.startswith(said) and not behind[len(said) : len(said) + 1].isalpha() for said in words.book_behind
        )

    given = {at for at in marks if said_before(at) or deeds.book_gives(at)}
    return given or set(filter(said_behind, marks))


def _asked(deeds: Deeds, at: int) -> bool:
    """Whether a number stands in a question: "would a 40 fix the rest?"."""
    return deeds.symbols.sentences[deeds.symbols.sentence_of[at]].asks


def _circuits(k: Knowledge, deeds: Deeds, item: Item) -> set[str]:
    return {e.meaning.record for _, e in deeds.changes(item, deeds.book.words.larger)}


def _is_a_jet(k: Knowledge, deeds: Deeds, item: Item) -> bool:
    sizes = [k.circuits[e.meaning.record].sizes for _, e in deeds.changes(item, deeds.book.words.larger)]
    return any(s is not None and s.per_step is None for s in sizes)


def _together(deeds: Deeds, item: Item, at: int) -> bool:
    return abs(deeds.symbols.sentence_of[at] - deeds.symbols.sentence_of[item.first]) <= _SENTENCES
