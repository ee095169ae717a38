"""Air, a moved machine, a correction or a sweep as plain text, grouped by throttle opening.

A caution is printed in full above the first step that needs it and by name at the later ones; none is dropped.
"""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterable, Iterator, Sequence

from carbdiag.answers.text import WIDTH, printable
from carbdiag.schema import CautionText
from carbdiag.tuning_schema import AirAnswer, CorrectionAnswer, PartMove, ResizeAnswer, SweepAnswer

TuningAnswer = AirAnswer | ResizeAnswer | CorrectionAnswer | SweepAnswer

_IN = "  "
_ROWS_SHOWN = 21
CSV_COLUMNS = (
    "opening", "before_low", "before_x", "before_high", "after_low", "after_x", "after_high",
    "pilot", "needle", "main_jet", "cutaway",
)  # fmt: skip


def tuning_text(answer: TuningAnswer) -> str:
    """Render an answer as plain text of at most 88 columns, with a final line end."""
    if isinstance(answer, AirAnswer):
        lines = _air(answer)
    elif isinstance(answer, ResizeAnswer):
        lines = _resize(answer)
    elif isinstance(answer, CorrectionAnswer):
        lines = _correction(answer)
    else:
        lines = _sweep(answer)
    return "\n".join(line.rstrip() for line in lines).rstrip("\n") + "\n"


# ---------------------------------------------------------------------------------------------------------
# Air


def _air(a: AirAnswer) -> Iterator[str]:
    yield f"The air at {a.temperature_c:g} C, {a.station_hpa:g} hPa at the place, {a.humidity_percent:g} % humidity"
    yield from _section("Pressure taken", _wrap(f"{a.pressure_words}."))
    rows = [
        ("density", f"{a.moist_density_kg_m3:.3f} kg/m3", f"{a.relative_density:.1%} of standard air: draws the fuel"),
        ("dry part", f"{a.dry_density_kg_m3:.3f} kg/m3", f"{a.relative_oxygen:.1%} of its oxygen: sets the need"),
        ("oxygen", f"{a.oxygen_percent:.1f} %", "of this air, by volume"),
        ("feels like", f"{a.density_altitude_m:.0f} m", "density altitude, dry standard air"),
    ]
    yield from _section("In numbers", _columns(rows))
    yield from _ending(a.notes, a.honesty)


# ---------------------------------------------------------------------------------------------------------
# Moving the machine


def _resize(a: ResizeAnswer) -> Iterator[str]:
    yield from _wrap(f"{a.family_name}, moved to other air", "")
    yield from _section("Set for", _wrap(f"{_air_line(a.set)}."))
    yield from _section("Now", _wrap(f"{_air_line(a.now)}."))
    yield ""
    yield from _wrap(a.summary, "")
    table = [
        ("throttle", "if nothing is changed", "fed by"),
        *((b.name, b.mixture.words, ", ".join(_words(c) for c in b.circuits)) for b in a.bands),
    ]
    yield from _section("By throttle opening", _columns(table))
    if a.moves:
        yield from _section("Mind this first", _warned(a.warnings))
        yield from _section("Before you touch a setting", _cautions(a.cautions, _IN))
        yield from _section("Change, in this order, one at a time", _moves(a.moves))
        yield from _section("How", _numbered(a.steps))
        yield ""
        if a.verify:
            yield from _wrap(f"It worked if: {a.verify}")
        if a.put_back:
            yield from _wrap(f"Put it back: {a.put_back}")
    else:
        yield from _section("Mind this", (*_warned(a.warnings), *_cautions(a.cautions, _IN)))
    airs = (*(f"Set for: {n}" for n in a.set.notes), *(f"Now: {n}" for n in a.now.notes))
    yield from _ending((*a.notes, *airs), a.honesty, a.edition)


def _air_line(a: AirAnswer) -> str:
    return f"{a.temperature_c:g} C, {a.station_hpa:g} hPa at the place ({a.pressure_words})"


def _warned(warnings: Iterable[str]) -> Iterator[str]:
    for warning in warnings:
        yield from _wrap(warning, f"{_IN}- ", _IN * 2)


def _moves(moves: Sequence[PartMove]) -> Iterator[str]:
    for number, move in enumerate(moves, 1):
        if number > 1:
            yield ""
        shown = f" (now {move.present:g})" if move.present is not None else ""
        yield from _wrap(f"{move.name}{shown}: {move.amount}", f"{_IN}{number}. ", _IN + "   ")
        yield from _wrap(move.do, _IN + "   ")
        yield from _wrap(f"It worked if: {move.verify}", _IN + "   ")
        yield from _wrap(f"If not: {move.put_back}", _IN + "   ")
        yield from _named(move.cautions, _IN + "   ")


# ---------------------------------------------------------------------------------------------------------
# A correction


def _correction(a: CorrectionAnswer) -> Iterator[str]:
    yield from _wrap(f"{a.family_name}, {a.at_name}: {a.told}", "")
    if a.direction == "none":
        why = a.refused or "Nothing needs changing here."
        yield from _section("NO SIZE GIVEN" if a.refused else "No change", _wrap(why))
        yield from _section("Before you touch a setting", _cautions(a.cautions, _IN))
    else:
        yield from _section("Be sure of this first, in this order", _numbered(a.before_this))
        yield from _section("Before you start", _cautions(a.cautions, _IN))
        yield from _section(f"{a.name}: {a.direction}", _change(a))
        rows = [("throttle", "what this change does there")]
        effects = [(s.opening, s.name, s.words) for s in a.side_effects]
        rows += [(name, words) for _, name, words in sorted([*effects, (a.opening, a.at_name, _here(a))])]
        yield from _section("By throttle opening", _columns(rows))
        minutes = f" ({a.minutes:.0f} minutes)" if a.minutes else ""
        yield from _section(f"How{minutes}", _numbered(a.steps))
        if a.tools:
            yield from _wrap(f"You need: {', '.join(a.tools)}")
        yield ""
        yield from _wrap(f"It worked if: {a.verify}")
        yield from _wrap(f"If not, put it back: {a.put_back}")
    yield from _ending(a.notes, a.honesty, a.edition)


def _here(a: CorrectionAnswer) -> str:
    if a.part == "mixture_screw":
        return a.direction
    low, high = sorted((abs(a.fuel_percent_low), abs(a.fuel_percent_high)))
    return f"{abs(a.fuel_percent):.0f} % {a.direction} ({low:.0f} to {high:.0f} %): meant"


def _change(a: CorrectionAnswer) -> Iterator[str]:
    if a.proposed is not None and a.present is not None:
        if a.part == "float_level":
            yield from _wrap(f"{'Raise' if a.proposed > 0 else 'Lower'} the fuel level by {abs(a.proposed):g} mm.")
        else:
            yield from _wrap(f"From {a.present:g} to {a.proposed:g}, {a.unit}.")
            if a.first is not None and a.first != a.proposed:
                yield from _wrap(f"Fit {a.first:g} first and feel it; one size at a time.")
    yield from _wrap(f"{a.amount[:1].upper()}{a.amount[1:]}.")
    if a.do:
        yield from _wrap(a.do)


# ---------------------------------------------------------------------------------------------------------
# A sweep


def _sweep(a: SweepAnswer) -> Iterator[str]:
    yield from _wrap(f"{a.family_name}: the mixture from closed to full, beside the set-up that ran right", "")
    yield from _section("Now", _wrap(f"{a.before_is}."))
    if a.changed:
        yield from _section("After the change", _wrap(f"{a.after_is}."))
    yield ""
    yield from _wrap(a.summary, "")
    head = ("throttle", "now", "after the change") if a.changed else ("throttle", "now")
    table: list[tuple[str, ...]] = [head]
    table += [(b.name, b.before.words, b.after.words) if a.changed else (b.name, b.before.words) for b in a.bands]
    yield from _section("By throttle opening", _columns(table))
    shares: list[tuple[str, ...]] = [("throttle", "pilot", "needle", "main jet", "cutaway")]
    shares += [(b.name, *_whole_shares(b.shares)) for b in a.bands]
    yield from _section("Who feeds it", _columns(shares))
    yield from _wrap(
        "Pilot, needle and main jet share the fuel; the cutaway acts on top: its figure is how much of a change of the"
        " cutaway reaches the mixture."
    )
    yield from _section("Before you touch a setting" if a.changed else "Mind this", _cautions(a.cautions, _IN))
    title = f"Point by point ({a.axis}; x = ln of lambda beside the working set-up, minus is richer)"
    yield from _section(title, _rows(a))
    yield from _ending(a.notes, a.honesty, a.edition)


def _whole_shares(s: object) -> tuple[str, ...]:
    return tuple(f"{getattr(s, name):.0%}" for name in ("pilot", "needle", "main_jet", "cutaway"))


def _rows(a: SweepAnswer) -> Iterator[str]:
    every = -(-len(a.rows) // _ROWS_SHOWN)
    head = ("opening", "now", "from", "to", *(("after", "from", "to") if a.changed else ()))
    table = [head]
    for row in a.rows[::every]:
        spans = (row.before, row.after) if a.changed else (row.before,)
        numbers = (f"{v:+.3f}" for span in spans for v in (span.middle, span.low, span.high))
        table.append((f"{row.opening:.0%}", *numbers))
    yield from _columns(table)
    if every > 1:
        yield from _wrap(f"Every {every}th of {len(a.rows)} points; --csv and --json give all.")


def sweep_csv(answer: SweepAnswer) -> str:
    """The rows of a sweep as CSV with a header line: x and shares, four decimals."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for r in answer.rows:
        spans = [v for m in (r.before, r.after) for v in (m.low, m.middle, m.high)]
        shares = [r.shares.pilot, r.shares.needle, r.shares.main_jet, r.shares.cutaway]
        writer.writerow(f"{v:.4f}" for v in (r.opening, *spans, *shares))
    return out.getvalue()


# ---------------------------------------------------------------------------------------------------------
# Lines


def _section(title: str, lines: Iterable[str]) -> Iterator[str]:
    body = list(lines)
    if body:
        yield ""
        yield from _wrap(title, "")
        yield from body


def _wrap(text: str, indent: str = _IN, hang: str | None = None) -> Iterator[str]:
    yield from textwrap.wrap(
        printable(text),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent if hang is None else hang,
        break_on_hyphens=False,
    )


def _numbered(steps: Iterable[str]) -> Iterator[str]:
    for n, step in enumerate(steps, 1):
        yield from _wrap(step, f"{_IN}{n}. ", _IN + "   ")


def _columns(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(printable(row[n])) for row in rows) for n in range(len(rows[0]) - 1)]
    for row in rows:
        head = "".join(f"{printable(cell):<{width}}   " for cell, width in zip(row[:-1], widths, strict=True))
        yield from _wrap(row[-1], _IN + head, _IN + " " * len(head))


def _cautions(cautions: Iterable[CautionText], indent: str) -> Iterator[str]:
    for caution in cautions:
        yield from _wrap(f"! {caution.text}", indent, indent + _IN)


def _named(cautions: Sequence[CautionText], indent: str) -> Iterator[str]:
    if cautions:
        yield from _wrap(f"! As above: {', '.join(_words(c.id) for c in cautions)}.", indent, indent + _IN)


def _ending(notes: Iterable[str], honesty: str, edition: str = "") -> Iterator[str]:
    yield from _section("Notes", (line for note in notes for line in _wrap(note, f"{_IN}- ", _IN * 2)))
    yield from _section("What this is worth", _wrap(honesty))
    if edition:
        yield ""
        yield from _wrap(f"Knowledge edition {edition}", "")


def _words(identity: str) -> str:
    return identity.replace("_", " ")
