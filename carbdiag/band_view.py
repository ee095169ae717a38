"""The explicit table: for each throttle band and sign, the circuit in control, rich or lean, and the correction."""

from __future__ import annotations

from typing import Literal

from carbdiag import schema
from carbdiag.errors import CaseError, Problem, nearest
from carbdiag.family_metering import ByPlace, family_tables
from carbdiag.knowledge import Knowledge
from carbdiag.model import probability
from carbdiag.terms import LEVELS, Direction

#: A sign belongs to a direction when that side shows it at least this often, and more often than everyday.
_SHOWS = 0.3
#: A side must show the sign this many times as often as the other to be named alone.
_LEADS = 1.5


def band_table(
    knowledge: Knowledge, family: str, strokes: Literal[2, 4] | None = None
) -> schema.BandTable:
    """Compute the view for one family.

    Args:
        knowledge: the records.
        family: id of a family.
        strokes: 2 or 4; without it, the first the family knows.

    Raises:
        CaseError: the family is not known, or not on that stroke.
    """
    k = knowledge
    if family not in k.families:
        raise CaseError(
            [Problem("family", f"unknown family {family!r}", family, tuple(k.families), nearest(family, k.families))]
        )
    record = k.families[family]
    if strokes is not None and strokes not in record.strokes:
        raise CaseError(
            [
                Problem(
                    "strokes",
                    f"a {record.name.lower()} is not known on a {strokes}-stroke here",
                    str(strokes),
                    tuple(str(s) for s in record.strokes),
                )
            ]
        )
    tables = family_tables(k, record).shares
    rows: list[schema.BandRow] = []
    for place in k.places.values():
        shares = _shares(k, tables, place.id)
        if not shares:
            continue
        ranked = sorted(shares.items(), key=lambda i: (-i[1], i[0]))
        for finding in k.findings.values():
            if place.id in finding.at and finding.mixture is not None:
                rows += [
                    _row(k, place.id, finding, direction, ranked) for direction in _directions(k, finding)
                ]
    return schema.BandTable.trusted(
        edition=k.edition,
        family=family,
        strokes=strokes or record.strokes[0],
        name=record.name,
        rows=tuple(rows),
        note=(
            "Signs in both directions occur rich and lean alike: settle which by a touch of choke before changing a"
            " part. Rule out fuel supply, spark, air leaks and exhaust first."
        ),
    )


def _shares(k: Knowledge, tables: ByPlace, place: str) -> dict[str, float]:
    """Share of each circuit at a place; states take their bands' shares and their own."""
    record = k.places[place]
    out: dict[str, float] = {}
    for circuit, by_place in tables.items():
        share = by_place.get(place)
        if share is None:
            share = sum(w * by_place.get(b, 0.0) for b, w in record.drivers.items())
        if share >= 0.05:
            out[circuit] = share
    return out


def _directions(k: Knowledge, finding: schema.Finding) -> tuple[Direction, ...]:
    assert finding.mixture is not None
    level = [probability(k, finding.mixture[name]) for name in LEVELS]
    rich, lean = max(level[:2]), max(level[3:])
    out = []
    if rich >= _SHOWS and rich * _LEADS >= lean:
        out.append(Direction.RICH)
    if lean >= _SHOWS and lean * _LEADS >= rich:
        out.append(Direction.LEAN)
    return tuple(out)


def _row(
    k: Knowledge,
    place: str,
    finding: schema.Finding,
    direction: Direction,
    ranked: list[tuple[str, float]],
) -> schema.BandRow:
    circuit_id, share = ranked[0]
    circuit = k.circuits[circuit_id]
    way = circuit.leaner if direction is Direction.RICH else circuit.richer
    return schema.BandRow.trusted(
        place=place,
        finding=finding.id,
        sign=finding.name,
        direction=direction,
        circuit=circuit_id,
        share=round(share, 2),
        others=tuple(c for c, s in ranked[1:] if s >= share / 3),
        part=circuit.name,
        correction=way.do,
        verify=circuit.verify,
        put_back=circuit.put_back,
        cautions=k.cautions_for(circuit.cautions),
        sources=tuple(dict.fromkeys(c.source for c in (*finding.sources, *circuit.sources))),
    )
