"""A setting named before and changed by a number alone: "the main was a 160, so I went down to 152"."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterator
from typing import Final

from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deed_text import Item
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.terms import Change

#: A number as it stands on a jet, or as turns or a groove; one with a unit ("152 mph") is a symbol with the unit in it.
_MARK: Final = re.compile(r"[0-9]{1,3}(?:[.,][0-9]{1,2})?|\.[0-9]{1,2}|(?:[0-9] ?)?(?:[1-7]/[248]|[¼½¾])")
#: Symbols between a verb and its number, and from a part to the number it had.
_BEHIND: Final = 4
_HAD: Final = 3
#: Parts, and sentences, back in which the setting is named.
_PARTS: Final = 6
_SENTENCES: Final = 1
#: Further back it stands only for a number like its own, a few sizes away: "... a 185 main. ... Dropped to a 180".
_SENTENCES_ALIKE: Final = 5


def changed_by_number(deeds: Deeds) -> Iterator[Told]:
    """The changes of a setting told by a verb and the new number, after its name and the old number.

    The place of the old number is the first part of the hit.
    """
    items = deeds.named
    firsts = [item.first for item in items]
    for verb in deeds.verbs:
        fits = verb.meaning.record in deeds.book.words.fitting
        if not fits and verb.meaning.record not in deeds.book.moving:
            continue
        new = _amount_behind(deeds, verb)
        n = bisect_left(firsts, verb.first)
        placed = new is not None and n < len(items) and items[n].first < new  # "put the clip in the 4th"
        tried = deeds.word_at(verb.first) in deeds.book.sizes.tries
        small = new is None or deeds.symbols.values[new] < deeds.book.limits.jet_number_from
        if fits and not placed and small and not (tried and new is not None):
            continue  # "put a 165 in", "tried 2.5", but not "put 2 in"
        if new is not None and deeds.from_behind(verb.last, new):
            yield from _by_its_pair(deeds, verb, new, n)
            continue  # "went from a 175": that is the old one
        if new is None:
            continue
        own = items[n] if n < len(items) and items[n].first <= new + 1 else None
        if own is not None and own.first in deeds.symbols.breaks:
            own = None  # "put a 165 in and the top end is good now"
        for item in reversed(items[max(n - _PARTS, 0) : n]):
            back = _since(deeds, item, verb)
            old = _number_of(deeds, item.first, item.last, verb.first) if back <= _SENTENCES_ALIKE else None
            if old is None or (back > _SENTENCES and not (placed or _alike(deeds, old, new))):
                continue
            kind = _kind(deeds, old, new)
            changes = [entry.meaning for _, entry in deeds.changes(item, kind)]
            if own is not None and {e.meaning.record for _, e in deeds.changes(own, kind)}.isdisjoint(
                meaning.record for meaning in changes
            ):
                continue  # a part of its own, and no setting named again: "178 main. Tried a 175 main"
            if changes:
                how = How.PLANNED if deeds.denied(verb) else deeds.how(verb, True)
                at = ((old, old), (verb.first, new))
                deeds.meant[verb.first, new] = item
                yield from (Told(Hit(verb.first, new, meaning, at), how, False) for meaning in changes)
                break


def _by_its_pair(deeds: Deeds, verb: Hit, old: int, n: int) -> Iterator[Told]:
    """A change told by a verb with both numbers, of the setting named last: "the main looked big, I went 160 to 155".

    `n`: how many parts are named before the verb. Where several settings are named shortly before, it may be any.
    """
    items, new = deeds.named, old + 1
    kind = deeds.moves_between(old, new)
    if not kind or (n < len(items) and items[n].first <= new + _HAD):
        return
    before = [i for i in items[max(n - _PARTS, 0) : n] if _since(deeds, i, verb) <= _SENTENCES]
    named = [entries for entries in ([*deeds.changes(item, kind)] for item in before) if entries]
    meanings = {entry.meaning for entries in named for _, entry in entries}
    sizes = min(deeds.symbols.values[old], deeds.symbols.values[new]) >= deeds.book.limits.jet_number_from
    plausible = may_be_one_jet(deeds, old, new) if sizes else deeds.ends_an_amount(new)
    if len(meanings) == 1 and plausible:
        how = How.PLANNED if deeds.denied(verb) else deeds.how(verb, True)
        yield Told(Hit(verb.first, new, meanings.pop(), ((old, old), (new, new))), how, False)


def _since(deeds: Deeds, item: Item, verb: Hit) -> int:
    return deeds.symbols.sentence_of[verb.first] - deeds.symbols.sentence_of[item.first]


def changed_without_a_name(k: Knowledge, deeds: Deeds) -> Iterator[Told]:
    """The changes of a jet told by its two numbers alone, at the head of a clause: "went from a 178 to a 168"."""
    named = {at for item in deeds.named for at in range(item.first - _HAD, item.last + _HAD)}
    jets = [(c.id, c.sizes, c.sizes.alone_from) for c in k.circuits.values() if c.sizes and c.sizes.alone_from]
    for old in deeds.symbols.values:
        verb = deeds.moved_at(old - 1)
        first, new = old - 1 if verb else old, old + 1
        if not (is_a_mark(deeds, old) and is_a_mark(deeds, new) and named.isdisjoint((first, old, new))):
            continue
        kind = deeds.moves_between(old, new) if may_be_one_jet(deeds, old, new) else ""
        if not kind or not deeds.begins_a_clause(first) or (verb and deeds.how(verb, True) is How.PLANNED):
            continue
        for circuit, sizes, least in jets:
            if min(deeds.symbols.values[old], deeds.symbols.values[new]) >= least:
                grows = kind == deeds.book.words.larger
                way = next(c for c in Change if (c is sizes.larger_is) is grows)
                at = ((first, new),)
                hit = Hit(first, new, Meaning("change", circuit, way.value), at)
                yield Told(hit, How.DONE if verb else How.NAMED, False)


def put_in_for_another(k: Knowledge, deeds: Deeds) -> Iterator[Told]:
    """The main jets put in after another, told by their numbers alone: "had 56 in it, stuck 61 in"."""
    sizes = next(((c.id, c.sizes) for c in k.circuits.values() if c.sizes and c.sizes.alone_from), None)
    swapped_in = deeds.book.sizes.swapped_in
    if sizes is None or swapped_in is None:
        return
    settings = [i for i in deeds.named if not deeds.book.settings.isdisjoint(h.meaning.record for h in i.hits)]
    named = {at for item in settings for at in range(item.first - _HAD, item.last + _HAD)}
    for told in swapped_in.finditer(deeds.text.lower()):
        old, new = (bisect_left(deeds.symbols.starts, told.start(n)) for n in ("old", "new"))
        if not (is_a_mark(deeds, old) and is_a_mark(deeds, new) and named.isdisjoint((old, new))):
            continue
        kind = _kind(deeds, old, new) if deeds.symbols.values[old] >= deeds.book.limits.jet_put_in_from else ""
        if kind:
            circuit, of = sizes
            way = next(c for c in Change if (c is of.larger_is) is (kind == deeds.book.words.larger))
            yield Told(Hit(old, new, Meaning("change", circuit, way.value), ((old, old), (new, new))), How.DONE, False)


def may_be_one_jet(deeds: Deeds, old: int, new: int) -> bool:
    """Whether one jet may be fitted in the place of the other, by their numbers."""
    before, after = deeds.symbols.values[old], deeds.symbols.values[new]
    return max(before, after) <= deeds.book.limits.one_jet * min(before, after)


def _alike(deeds: Deeds, old: int, new: int) -> bool:
    before, after = deeds.symbols.values[old], deeds.symbols.values[new]
    less, more, limits = min(before, after), max(before, after), deeds.book.limits
    return less >= limits.jet_number_from and more <= limits.few_sizes * less


def _kind(deeds: Deeds, old: int, new: int) -> str:
    """The way from one number to another; nothing where the new one is none of the same setting."""
    before, after = deeds.symbols.values[old], deeds.symbols.values[new]
    sizes = min(before, after) >= deeds.book.limits.jet_number_from
    if not sizes and max(before, after) >= deeds.book.limits.jet_number_from:
        return ""  # "clip in the 3rd. Tried a 175": no groove
    if not (may_be_one_jet(deeds, old, new) if sizes else deeds.ends_an_amount(new)):
        return ""  # a jet of twice the size; "3 shops"
    return deeds.book.moves.of_numbers(before, after, "")


def _amount_behind(deeds: Deeds, verb: Hit) -> int | None:
    """The number that a verb moves to, of turns too: "went to 2.5 turns"."""
    return number_behind(deeds, verb, _is_an_amount)


def _is_an_amount(deeds: Deeds, at: int) -> bool:
    """Whether a symbol is a number on a jet, or one of turns: "2.5 turns"."""
    return is_a_mark(deeds, at) or deeds.counts_itself(at)


def number_behind(deeds: Deeds, verb: Hit, is_one: Callable[[Deeds, int], bool] | None = None) -> int | None:
    """The number that a verb moves to, in its clause: "dropped to a 152"."""
    for at in range(verb.last + 1, min(verb.last + 1 + _BEHIND, len(deeds.symbols.starts))):
        if at in deeds.symbols.breaks or deeds.symbols.sentence_of[at] != deeds.symbols.sentence_of[verb.first]:
            return None
        if (is_one or is_a_mark)(deeds, at):
            return at
    return None


def _number_of(deeds: Deeds, first: int, last: int, before: int) -> int | None:
    """Where the number of a jet stands right beside its name, which goes from `first` to `last`."""
    behind = range(last + 1, min(last + 1 + _HAD, before))
    listed = first >= 1 and is_a_mark(deeds, first - 1)  # "178 main, 48 pilot": the 48 is the pilot's
    if listed:  # nor is the 2nd of "50 pilot, clip in 2nd"
        ends = deeds.part_firsts | deeds.symbols.breaks.keys()
        behind = range(last + 1, next((at for at in behind if at in ends), behind.stop))
    own = [at for at in behind if _is_an_amount(deeds, at) and not (listed and at + 1 in deeds.part_firsts)]
    if len(own) > 1 and deeds.moves_between(own[0], own[1]):
        return own[1]  # "the main from 70 to 78 ... went to 74"
    return own[0] if own else first - 1 if listed else None


def is_a_mark(deeds: Deeds, at: int) -> bool:
    """Whether a symbol is a number as it stands on a jet, without a unit."""
    if at not in deeds.symbols.values:
        return False
    return _MARK.fullmatch(deeds.text[deeds.symbols.starts[at] : deeds.symbols.ends[at]]) is not None
