"""Two jets that no word names, in one breath: "jets are 42 and 162". The larger is the one told alone, the main jet."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from carbdiag import reading_schema as out
from carbdiag.reading.deed_text import WORD
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.found import Found
from carbdiag.reading.jet_numbers import is_a_mark
from carbdiag.reading.jets_in_it import is_in

#: How many times as large the larger is at least.
_APART: Final = 2.0
#: Characters before and behind two numbers in which the word for jets stands.
_NEAR: Final = 32
_LISTED: Final = ("", "/", ",", "&")


def two_jets(found: Found) -> Iterator[tuple[str, float, out.Said]]:
    """The circuit and the number of each jet told so as in it."""
    deeds, symbols, circuits = found.deeds, found.deeds.symbols, found.k.circuits.values()
    alone = [c for c in circuits if c.sizes is not None and c.sizes.alone_from is not None]
    other = [c for c in circuits if c.sizes is not None and c.sizes.numbered is not None and c not in alone]
    if len(alone) != 1 or len(other) != 1 or alone[0].sizes is None or alone[0].sizes.alone_from is None:
        return
    marks = [at for at in sorted(symbols.values) if is_a_mark(deeds, at)]
    for one, two in pairwise(marks):
        small, large = sorted((one, two), key=lambda at: symbols.values[at])
        between = deeds.text[symbols.ends[one] : symbols.starts[two]].strip().lower()
        joined = two == one + 1 and (between in _LISTED or between in deeds.book.joins)
        apart = symbols.values[large] >= max(_APART * symbols.values[small], alone[0].sizes.alone_from)
        sentence = symbols.sentences[symbols.sentence_of[one]]
        if joined and apart and not (sentence.asks or sentence.quoted) and _are_jets(deeds, one, two):
            yield alone[0].id, symbols.values[large], found.said(large, large)
            yield other[0].id, symbols.values[small], found.said(small, small)


def _are_jets(deeds: Deeds, one: int, two: int) -> bool:
    """Whether words lead to two numbers that make them jets, or say that they are in it where jets were named."""
    symbols, words = deeds.symbols, deeds.book.sizes
    sentence = symbols.sentences[symbols.sentence_of[one]]
    start, end = symbols.starts[one], symbols.ends[two]
    before = WORD.findall(deeds.text[max(start - _NEAR, sentence.start) : start].lower())
    while before and before[-1] in words.joins and before[-1] not in words.of_two:
        before.pop()
    behind = WORD.findall(deeds.text[end : min(end + _NEAR, sentence.end or end + _NEAR)].lower())
    if before[-1:] and before[-1] in words.of_two:
        return before[-2:-1] == [] or before[-2] not in words.other_jets
    if behind[:1] and behind[0] in words.of_two:
        return True
    named = {item.first for item in deeds.named if symbols.sentence_of[one] - symbols.sentence_of[item.first] <= 1}
    return len([at for at in named if at < one]) > 1 and is_in(deeds, two)


__all__ = ["two_jets"]
