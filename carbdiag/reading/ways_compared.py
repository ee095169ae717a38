"""A setting moved one way and then the other, each with what it did: "screw in: worse, out: better"."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deed_text import WORD, Item
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.terms import Effect

#: Symbols from a way to what it did, words between them, and sentences back to the setting.
_REACH: Final = 3
_WORDS: Final = 4
_SENTENCES: Final = 2
_ENDS: Final = re.compile(r"[.;!?(](?!\d)|\n")
_MARKS: Final = re.compile(r"[\s:,–—-]*")


def ways_compared(
    deeds: Deeds, told: Sequence[Told], effects: Sequence[Hit]
) -> Iterator[tuple[Told, Hit, Item]]:
    """The ways told so, each with the words of what it did and the setting that was moved.

    Args:
        told: what other words tell; a way that is part of one of them is not told again.
    """
    cue, symbols = deeds.book.moves.one_way, deeds.symbols
    if cue is None:
        return
    graded = sorted(effects, key=lambda h: (h.first, -h.last))
    moved = sorted((t.hit for t in told if t.hit.meaning.kind == "change" and t.how is not How.PLANNED), key=_last)
    taken = {at for hit in moved for at in range(hit.first, hit.last + 1)}
    for match in cue.finditer(deeds.text):
        at = bisect_left(symbols.starts, match.start("said"))
        if at >= len(symbols.starts):
            return
        inside = range(at, bisect_left(symbols.starts, match.end("said")))
        effect = _told_next(deeds, match.end("said"), graded)
        sentence = symbols.sentences[symbols.sentence_of[at]]
        if effect is None or sentence.asks or sentence.quoted or not taken.isdisjoint(inside):
            continue
        if match["led"] is None and match["far"] and deeds.book.moves.stands(match["way"] or "", match["far"].split()):
            continue  # "the screw is 3.5 turns out"
        item, behind = _setting(deeds, match.start("said"), at)
        begins = match.start() == 0 or bool(match["open"].strip()) or "\n" in match["open"]
        if item is None or not (begins or behind or match["led"]):
            continue  # "from 1/4 on (up) no complaints"
        before = next((h for h in reversed(moved[: bisect_left(moved, at, key=_last)]) if _of(deeds, item, h)), None)
        meaning = _meant(deeds, item, match, before)
        # "I went out and it ran better" moves nothing
        plain = not (match["far"] or match["way"] is None or match["led"] is None or behind or before)
        same = before is not None and meaning == before.meaning  # told by "another"
        if meaning is None or plain or same:
            continue
        hit = Hit(at, at, meaning, ((at, at),))
        deeds.meant[at, at] = item
        moved = sorted([*moved, hit], key=_last)
        yield Told(hit, How.NAMED, False), effect, item


def _told_next(deeds: Deeds, end: int, graded: Sequence[Hit]) -> Hit | None:
    """What is told right behind a way as its effect: "out (= better)"."""
    at = bisect_left(deeds.symbols.starts, end)
    n = bisect_left(graded, at, key=lambda h: h.first)
    for effect in graded[n : n + _REACH]:
        start = deeds.symbols.starts[effect.first]
        between = deeds.text[end:start].lower()
        words = WORD.findall(between)
        small = deeds.book.moves.leads_to_effect
        if effect.first - at <= _REACH and len(words) <= _WORDS and small.issuperset(words):
            # "with the float up and (no) air got past" tells of the air
            bare = effect.meaning.record == Effect.NO_CHANGE and effect.meaning.more == "alone"
            following = deeds.text[deeds.symbols.ends[effect.last] :][:1]
            return effect if _ENDS.search(between) is None and not (bare and following == " ") else None
    return None


def _setting(deeds: Deeds, start: int, at: int) -> tuple[Item | None, bool]:
    """The setting named last, and whether the way stands right behind its name."""
    symbols = deeds.symbols
    n = bisect_right([item.first for item in deeds.named], at - 1)
    for item in reversed(deeds.named[max(n - _REACH, 0) : n]):
        if symbols.sentence_of[min(at, len(symbols.sentence_of) - 1)] - symbols.sentence_of[item.last] > _SENTENCES:
            break
        if any(True for kind in deeds.book.words.directions for _ in deeds.changes(item, kind)):
            between = deeds.text[symbols.ends[item.last] : start]
            return item, _MARKS.fullmatch(between) is not None
        if not deeds.book.settings.isdisjoint(part.meaning.record for part in item.hits):
            return None, False
    return None, False


def _meant(deeds: Deeds, item: Item, match: re.Match[str], before: Hit | None) -> Meaning | None:
    """The change that a way means; "the other way" is that away from the one before."""
    kinds: Iterable[str] = deeds.book.words.directions
    if match["way"] is not None:
        kinds = (deeds.book.moves.direction([match["way"].lower()]),)
    changes = {e.meaning for kind in kinds for _, e in deeds.changes(item, kind)}
    if match["way"] is None:
        changes = {c for c in changes if before is not None and c.more != before.meaning.more}
    return changes.pop() if len(changes) == 1 else None


def _of(deeds: Deeds, item: Item, hit: Hit) -> bool:
    """Whether a change is one of a setting."""
    return any(e.meaning == hit.meaning for kind in deeds.book.words.directions for _, e in deeds.changes(item, kind))


def _last(hit: Hit) -> int:
    return hit.last


__all__ = ["ways_compared"]
