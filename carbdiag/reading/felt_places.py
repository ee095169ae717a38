"""At which opening the effect of a changed setting was felt: "two up on the main, worse at half"."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import Final

from carbdiag.knowledge import Knowledge
from carbdiag.reading.effects import Outcome
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit
from carbdiag.reading.reaches import GONE_REACH, NEXT_WORD, PLACE_REACH
from carbdiag.terms import Effect

#: Words between an effect and its opening that count.
_REACH: Final = GONE_REACH


def felt_place(found: Found, told: Outcome) -> str | None:
    """The opening named beside an effect in its clause; of several, that where the setting does most; None of none.

    Args:
        told: a deed with its effect; only a setting is felt at an opening.
    """
    if told.said is None or told.doing.hit.meaning.kind != "change":
        return None
    first, last = told.said
    if told.effect is Effect.BETTER and first in found.cues.lasts("still"):
        return None  # "better, but still fat off the bottom" is not felt where it still is wrong
    starts, ends = found.symbols.starts[first], found.symbols.ends[last]
    if told.effect is Effect.BETTER and found.book.order.only_there(
        found.small[max(starts - 2 * NEXT_WORD, 0) : starts], found.small[ends : ends + 3 * NEXT_WORD]
    ):
        return None  # "now it only bogs at a quarter" likewise
    deed = told.doing.hit
    sentence = found.symbols.sentence_of[first]
    low = bisect_left(found.place_firsts, first - PLACE_REACH)
    near: list[tuple[int, Hit]] = []
    for place in found.places[low:]:
        if place.first > last + PLACE_REACH:
            break
        apart = max(first - place.last, place.first - last, 0)
        between = (place.last, first) if place.last < first else (last, place.first)
        own = found.symbols.sentence_of[place.first] == sentence and not found.inside[place.first]
        own = own and not deed.first <= place.first <= deed.last
        if own and apart <= _REACH and not found.broken(*between):
            near.append((apart, place))
    if not near:
        return None
    named = min(near, key=lambda pair: (pair[0], pair[1].first))[1].meaning.record.split()
    openings = [p for p in named if found.k.places[p].opening is not None]
    strongest = found.k.circuits[deed.meaning.record].strongest_at
    most = [opening[1] for p in strongest if (opening := found.k.places[p].opening) is not None]
    return min(openings, key=lambda p: _apart(found.k, p, most), default=None)


def _apart(k: Knowledge, place: str, most: Sequence[float]) -> float:
    """How far an opening is from the nearest of those where a setting does most."""
    opening = k.places[place].opening
    return min((abs(opening[1] - at) for at in most), default=0.0) if opening is not None else 1.0


def far_openings(k: Knowledge) -> dict[str, tuple[str, ...]]:
    """Of each circuit, the openings that are neither among those where it is strongest nor beside one of them."""
    bands = [p.id for p in k.places.values() if p.kind == "band"]
    out: dict[str, tuple[str, ...]] = {}
    for circuit in k.circuits.values():
        most = [bands.index(p) for p in circuit.strongest_at if p in bands]
        out[circuit.id] = tuple(p for n, p in enumerate(bands) if most and min(abs(n - m) for m in most) > 1)
    return out


__all__ = ["far_openings", "felt_place"]
