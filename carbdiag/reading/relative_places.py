"""Openings that a post names by another: "below that it is fine", "everywhere else it pulls"."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence

from carbdiag.knowledge import Knowledge
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.symbols import SymbolText

#: Sentences back in which the opening is named that "below" goes by.
_SENTENCES = 1


def resolved(
    k: Knowledge, symbols: SymbolText, places: Sequence[Hit], whole: Container[Hit] = ()
) -> Iterator[Hit]:
    """The places in their order, with those told beside another as the openings they are; left out where none is.

    Args:
        places: place words in the order of the text.
        whole: those that no number belongs to, as "above that".
    """
    named: Hit | None = None
    for place in places:
        beside = place.meaning.more
        if not beside:
            if _openings(k, place):
                named = place
            yield place
            continue
        if named is None or (place.last + 1 in symbols.values and place not in whole):  # "above 6000"
            continue
        if symbols.sentence_of[place.first] - symbols.sentence_of[named.first] > _SENTENCES:
            continue
        at = _openings(k, named)
        low, high = min(at.values()), max(at.values())
        wanted = [
            p for p, opening in _openings(k, place).items()
            if p not in at and (beside == "elsewhere" or (opening < low if beside == "below" else opening > high))
        ]  # fmt: skip
        if wanted:
            yield place._replace(meaning=Meaning("place", " ".join(wanted)))


def _openings(k: Knowledge, place: Hit) -> dict[str, float]:
    """The steady openings among the places of a place word, with how far open each is."""
    records = ((p, k.places[p].opening) for p in place.meaning.record.split())
    return {p: opening[1] for p, opening in records if opening is not None}
