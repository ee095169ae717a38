"""Which jets a post tells as the ones in it, and which lie ready: "mine has a 112 in it", "bought a 172 to try"."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from carbdiag import reading_schema as out
from carbdiag.reading.deed_book import How
from carbdiag.reading.deed_text import BACK, CUT, PAIR, WORD
from carbdiag.reading.deeds import Deeds

if TYPE_CHECKING:
    from carbdiag.reading.found import Found
    from carbdiag.reading.matcher import Hit

#: Words behind a number, and before it, in which it says that the jet is, or is not, in it.
_BEHIND: Final = 6
_BEFORE: Final = 4
#: Symbols from a sign to the number of the jet it was seen with.
_NEXT: Final = 3
#: Characters before the word for buying, where a sentence begins with it.
_HEAD: Final = 16


def on_hand(deeds: Deeds, at: int) -> bool:
    """Whether a jet of that number is bought or lies ready, and nothing says that it is in it."""
    words = deeds.book.sizes
    if words.not_fitted is None:
        return False
    before, behind = _around(deeds, at)
    bought = words.bought is not None and (
        words.bought.search(before) is not None or _listed_as_bought(deeds, at)
    )
    return words.not_fitted.search(behind) is not None or (bought and not is_in(deeds, at)) or lies_ready(deeds, at)


def _listed_as_bought(deeds: Deeds, at: int) -> bool:
    """Whether a jet goes on with a list of what was bought: "bought a pipe, a 150 main and a 50 pilot"."""
    symbols, bought = deeds.symbols, deeds.book.sizes.bought
    sentence = symbols.sentences[symbols.sentence_of[at]]
    said = deeds.text[sentence.start : symbols.starts[at]].lower()
    last = list(bought.finditer(said))[-1:] if bought is not None else []
    if not last or sentence.start + last[0].start() - sentence.start > _HEAD:
        return False
    first = bisect_left(symbols.starts, sentence.start + last[0].end())
    done = deeds.verb_firsts[bisect_left(deeds.verb_firsts, first) : bisect_left(deeds.verb_firsts, at)]
    return not done and not deeds.book.persons & {*WORD.findall(said[last[0].end() :])}


def lies_ready(deeds: Deeds, at: int) -> bool:
    """Whether the words right behind a jet say that it lies ready: "have a 40 (in hand)", "a 40 pilot here"."""
    before, behind = _around(deeds, at)
    has = not deeds.book.sizes.has.isdisjoint(before.split())
    return has and any(f"{behind} ".startswith(f"{words} ") for words in deeds.book.words.on_hand)


def jets_in_it(found: Found) -> Iterator[tuple[str, float, out.Said]]:
    """The jets told as in it, where all that is told so of a circuit is one number."""
    deeds, values = found.deeds, found.symbols.values
    told = [s for s in found.jets if is_in(deeds, s.at) and not _asked(found, s.at)]
    numbers: dict[str, set[float]] = {}
    for size in told:
        numbers.setdefault(size.circuit, set()).add(values[size.at])
    for size in told:
        if len(numbers[size.circuit]) == 1:
            yield size.circuit, values[size.at], found.said(size.at, size.at)


def only_on_hand(found: Found) -> frozenset[tuple[str, float]]:
    """The jets that lie ready."""
    return frozenset((s.circuit, found.symbols.values[s.at]) for s in found.jets if on_hand(found.deeds, s.at))


def seen_with_the_old(found: Found, sign: Hit) -> bool:
    """Whether a sign is told of the jet that came out: "pilots were 17.5, now 20. Didn't bog with the 17.5s"."""
    deeds, symbols = found.deeds, found.symbols
    words, last = deeds.book.sizes, symbols.sentences[symbols.sentence_of[sign.first]].last
    at = next((at for at in range(sign.last + 1, min(sign.last + 1 + _NEXT, last)) if at in symbols.values), None)
    if at is None or symbols.values[at] not in found.jets_out:
        return False
    said = WORD.findall(found.small[symbols.ends[sign.last] : symbols.starts[at]])
    return not words.led_by.isdisjoint(said) and (words.led_by | words.joins | words.names).issuperset(said)


def jets_taken_out(found: Found) -> frozenset[float]:
    """The numbers of jets changed for another, without those that are in again."""
    old, new = set[float](), set[float]()
    for hit in (h for h, told in found.told.items() if h.meaning.kind == "change" and told.how is not How.PLANNED):
        sizes = found.k.circuits[hit.meaning.record].sizes
        values = {found.symbols.values[at] for at in range(hit.first, hit.last + 1) if at in found.symbols.values}
        if sizes is None or sizes.numbered is None or len(values) != PAIR:
            continue
        small, large = sorted(values)
        before, after = (small, large) if sizes.larger_is == hit.meaning.more else (large, small)
        old.add(before)
        new.add(after)
    return frozenset(old - new)


def is_in(deeds: Deeds, at: int) -> bool:
    """Whether the words beside a number say that this jet is in it: "still on the 165", "88 now"."""
    words = deeds.book.sizes
    if words.in_it is None or words.has_in is None:
        return False
    before, behind = _around(deeds, at)
    if not deeds.book.fitted_now.isdisjoint((*before.split()[-1:], *behind.split()[:1])):
        return True
    return words.in_it.match(behind) is not None or words.has_in.search(before) is not None


def _around(deeds: Deeds, at: int) -> tuple[str, str]:
    """The words before a number in its clause, and those behind it in its sentence, without its jet's name."""
    symbols, skipped = deeds.symbols, deeds.book.determiners | deeds.book.sizes.names
    sentence = symbols.sentences[symbols.sentence_of[at]]
    start, end = symbols.starts[at], symbols.ends[at]
    said = deeds.text[max(sentence.start, start - BACK) : start].lower().replace("’", "'")
    before = [w for w in WORD.findall(CUT.split(said)[-1]) if w not in skipped]
    behind = WORD.findall(deeds.text[end : min(end + BACK, sentence.end or end + BACK)].lower().replace("’", "'"))
    behind = [w for w in behind if w not in deeds.book.sizes.names]
    return " ".join(before[-_BEFORE:]), " ".join(behind[:_BEHIND])


def _asked(found: Found, at: int) -> bool:
    sentence = found.symbols.sentences[found.symbols.sentence_of[at]]
    return sentence.asks or sentence.quoted


__all__ = ["is_in", "jets_in_it", "jets_taken_out", "lies_ready", "on_hand", "only_on_hand", "seen_with_the_old"]
