"""The explicit table: for each throttle band and sign, the circuit in control, rich or lean, and the correction."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from carbdiag.band_schema import BandRow, BandTable
from carbdiag.errors import CaseError, Problem
from carbdiag.family_metering import FamilyTables, family_tables, in_control
from carbdiag.knowledge import Knowledge, family_id, nearest_family, the_knowledge
from carbdiag.records.circuits import Circuit, Setting
from carbdiag.records.families import Family
from carbdiag.records.findings import Finding
from carbdiag.scales import probability
from carbdiag.terms import LEVELS, Direction


def band_table(
    family: str, strokes: Literal[2, 4] | None = None, knowledge: Knowledge | None = None
) -> BandTable:
    """The chart of one family: at each throttle opening, each sign with its circuit, rich or lean, and the correction.

    Args:
        family: id of a family, or another name riders have for it.
        strokes: 2 or 4; without it, the first the family knows.
        knowledge: records of one's own; without it, those that carbdiag ships.

    Raises:
        CaseError: the family is not known, or not on that stroke.
        KnowledgeError: the shipped knowledge cannot be read.

    Examples:
        >>> row = band_table("round_slide", strokes=2).rows[0]
        >>> row.place, row.circuit
        ('idle', 'pilot')
    """
    k = the_knowledge(knowledge)
    record = _family(k, family, strokes)
    rows = tuple(_rows(k, record))
    return BandTable.trusted(
        edition=k.edition,
        family=record.id,
        strokes=strokes or record.strokes[0],
        name=record.name,
        rows=rows,
        cautions=k.cautions_for(c for row in rows for c in row.cautions),
        note=(
            (f"{record.opening_means} " if record.opening_means else "")
            + "Signs in both directions occur rich and lean alike: settle which by a touch of choke before changing a"
            " part. Rule out fuel supply, spark, air leaks and exhaust first."
        ),
    )


def _family(k: Knowledge, name: str, strokes: int | None) -> Family:
    """The family of that id or name, which is known on that stroke."""
    family = family_id(k, name)
    if family not in k.families:
        near = nearest_family(k, family)
        raise CaseError([Problem("family", f"unknown family {family!r}", family, tuple(k.families), near)])
    record = k.families[family]
    if strokes is not None and strokes not in record.strokes:
        message = f"a {record.name.lower()} is not known on a {strokes}-stroke here"
        raise CaseError([Problem("strokes", message, str(strokes), tuple(str(s) for s in record.strokes))])
    return record


def _rows(k: Knowledge, family: Family) -> Iterator[BandRow]:
    """By place of the chart, each sign of the mixture with each way that it points."""
    tables = family_tables(k, family)
    for place in k.places.values():
        ranked = in_control(tables, place.id)
        if not ranked or not place.in_chart:
            continue
        for finding in k.findings.values():
            shown = not finding.applies.families or family.id in finding.applies.families
            if shown and place.id in finding.at and finding.mixture is not None:
                for direction in directions(k, finding):
                    yield _row(k, tables, place.id, finding, direction, ranked)


def directions(k: Knowledge, finding: Finding) -> tuple[Direction, ...]:
    """The ways a sign of the mixture points: rich, lean, both, or neither where the mixture seldom shows it."""
    assert finding.mixture is not None
    chart, level = k.scales.chart, [probability(k, finding.mixture[name]) for name in LEVELS]
    rich, lean = max(level[:2]), max(level[3:])
    out = []
    if rich >= chart.shown_from and rich * chart.stands_out >= lean:
        out.append(Direction.RICH)
    if lean >= chart.shown_from and lean * chart.stands_out >= rich:
        out.append(Direction.LEAN)
    return tuple(out)


def _row(
    k: Knowledge,
    tables: FamilyTables,
    place: str,
    finding: Finding,
    direction: Direction,
    ranked: list[tuple[str, float]],
) -> BandRow:
    circuit_id, share = ranked[0]
    circuit = k.circuits[circuit_id]
    correction = _way(circuit, direction).do
    screw = k.circuits.get("mixture_screw")
    turned = tables.steps.get("mixture_screw", {}).get(place, 0.0) >= k.scales.chart.screw_worth_percent
    if circuit_id == "pilot" and screw is not None and turned:
        correction = f"{_way(screw, direction).do} If the screw is not enough: {correction}"
    return BandRow.trusted(
        place=place,
        finding=finding.id,
        sign=finding.name,
        direction=direction,
        circuit=circuit_id,
        share=round(share, 2),
        others=tuple(c for c, s in ranked[1:] if s >= share / 3),
        part=circuit.name,
        correction=correction,
        verify=circuit.verify,
        put_back=circuit.put_back,
        cautions=tuple(dict.fromkeys(circuit.cautions)),
        sources=tuple(dict.fromkeys(c.source for c in (*finding.sources, *circuit.sources))),
    )


def _way(circuit: Circuit, direction: Direction) -> Setting:
    return circuit.leaner if direction is Direction.RICH else circuit.richer
