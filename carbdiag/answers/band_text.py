"""A band table as plain text: for each throttle opening the circuit in control, its signs and its correction."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from carbdiag.answers.layout import INDENT, caution_lines, page, section, wrap
from carbdiag.answers.phrases import BETWEEN, as_words, capital, small
from carbdiag.band_schema import BandRow, BandTable
from carbdiag.terms import Direction


def bands_to_text(table: BandTable) -> str:
    """Render a band table as plain text of at most 88 columns, with a final line end."""
    return page(_bands(table))


def _bands(table: BandTable) -> Iterator[str]:
    yield from wrap(f"{table.name}, {table.strokes}-stroke: what each throttle opening tells you", "")
    yield from section("Read this first", wrap(table.note))
    yield from section("Before you touch a setting", caution_lines(table.cautions, INDENT))
    for place in dict.fromkeys(row.place for row in table.rows):
        rows = [row for row in table.rows if row.place == place]
        yield from section(capital(as_words(place)), _band(rows))
    yield ""
    yield from wrap(f"Knowledge edition {table.edition}, family {table.family}", "")


def _band(rows: Sequence[BandRow]) -> Iterator[str]:
    first = rows[0]
    also = f"; also {', '.join(as_words(c) for c in first.others)}" if first.others else ""
    yield from wrap(f"Fed by: {small(first.part)}, {first.share:.0%}{also}")
    both = {r.finding for r in rows if r.direction is Direction.LEAN} & {
        r.finding for r in rows if r.direction is Direction.RICH
    }
    for title, signs in (
        ("lean:", [r for r in rows if r.direction is Direction.LEAN and r.finding not in both]),
        ("rich:", [r for r in rows if r.direction is Direction.RICH and r.finding not in both]),
        ("lean or rich:", [r for r in rows if r.direction is Direction.RICH and r.finding in both]),
    ):
        if signs:
            yield from wrap(BETWEEN.join(small(r.sign) for r in signs), f"{INDENT}{title:<14}", INDENT + " " * 14)
    yield ""
    for direction, correction in sorted(dict.fromkeys((r.direction, r.correction) for r in rows)):
        yield from wrap(f"If {direction}: {correction}", INDENT, INDENT * 2)
    for verify, put_back in dict.fromkeys((r.verify, r.put_back) for r in rows):
        yield from wrap(f"It worked if: {verify}", INDENT, INDENT * 2)
        yield from wrap(f"If not: {put_back}", INDENT, INDENT * 2)
    named = dict.fromkeys(as_words(c) for r in rows for c in r.cautions)
    if named:
        yield from wrap(f"! As above: {', '.join(named)}.", INDENT, INDENT * 2)
