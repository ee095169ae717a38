"""How far a setting was moved, counted in its own steps: "three sizes bigger", "up two grooves", "in half a turn"."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit
from carbdiag.reading.wordlist import one_of

#: The most steps that a trial may have (`Trial.steps`).
_MOST: Final = 20
#: Symbols beside a move in which it is counted.
_REACH: Final = 4
#: The unit of a bare number ("up two"), and the most that it may be.
_BARE: Final = "none"
_MOST_BARE: Final = 4
_NUMBER: Final = r"\d+(?:\.\d+)?|\.\d+|\d/\d{1,2}"


def steps_told(found: Found, hit: Hit) -> float | None:
    """How many practical steps a setting was moved, as the words beside it count them; None where they do not.

    Args:
        hit: the move; anything but a setting has no steps.
    """
    if hit.meaning.kind != "change":
        return None
    units = found.k.circuits[hit.meaning.record].counted.get(found.book.language.id, {})
    if not units:
        return None
    sentence, symbols = found.sentence(hit), found.symbols
    before = range(max(hit.first - _REACH, sentence.first), hit.first)
    behind = range(min(hit.last + _REACH, sentence.last - 1), hit.last, -1)
    first = next((at for at in before if _joined(found, at, hit.first)), hit.first)
    last = next((at for at in behind if _joined(found, hit.last, at)), hit.last)
    counted, bare = _patterns(found, units)
    begin, end = symbols.starts[first], symbols.ends[last]
    told = counted.search(found.small, begin, end)
    numbers = {**found.book.language.numbers, **found.book.language.vague_numbers}
    if told is not None:
        steps = _value(told["whole"], told["part"], numbers) * units[told["unit"]]
    elif _BARE in units and (told := bare.search(found.small, begin, end)) is not None:
        steps = _value(told["behind"] or told["before"], None, numbers) * units[_BARE]
        steps = steps if steps <= _MOST_BARE and steps.is_integer() else 0.0
    else:
        return None
    return steps if 0 < steps <= _MOST else None


def _joined(found: Found, first: int, last: int) -> bool:
    """Whether two symbols are of one clause, with no part named between them that is another."""
    return not found.broken(first, last) and found.deeds.part_firsts.isdisjoint(range(first + 1, last))


def _patterns(found: Found, units: Mapping[str, float]) -> tuple[re.Pattern[str], re.Pattern[str]]:
    """The patterns of a move counted in units, and of one counted by a number beside its way: "two up", "up two"."""
    language = found.book.language
    key = ("steps told", language.id, tuple(units))
    known = found.k.memo.get(key)
    if not isinstance(known, tuple):
        deeds = language.deeds
        words = one_of(w for w in (*language.numbers, *language.vague_numbers) if not w[0].isdigit())
        adds = one_of(language.adding_numbers)
        between = one_of((*deeds.articles, *deeds.determiners, *deeds.more, "of", "whole", "full"))
        ways = one_of(way for kind in deeds.directions.values() for way in kind)
        number = rf"{_NUMBER}|{words}"
        known = (
            re.compile(
                rf"(?<![\w./])(?P<whole>{number})(?:\s*(?:{adds})?\s*(?P<part>\d/\d{{1,2}}|{words}))?"
                rf"(?:[\s-]+(?:{between}))*[\s-]*(?P<unit>{one_of(u for u in units if u != _BARE)})(?![\w'])"
            ),
            re.compile(
                rf"(?<![\w./])(?:{ways})\s+(?P<behind>{number})(?![\w./])"
                rf"|(?<![\w./])(?P<before>{number})\s+(?:{ways})(?![\w'])"
            ),
        )
        found.k.memo[key] = known
    return known


def _value(whole: str, part: str | None, numbers: Mapping[str, float]) -> float:
    """The number that words and figures make: "1 1/2", "one and a half", "half"."""

    def one(said: str) -> float:
        if said in numbers:
            return numbers[said]
        above, _, below = said.partition("/")
        return float(above) / float(below or 1)

    value = one(whole)
    # "two half turns" are two halves, "one and a half" is a whole one and a half
    return value if part is None else value + one(part) if one(part) < 1 <= value else value


__all__ = ["steps_told"]
