"""Air, a moved machine, a correction or a sweep as plain text, grouped by throttle opening.

A caution is printed in full above the first step that needs it and by name at the later ones; none is dropped.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from carbdiag.answers.layout import INDENT, caution_lines, columns, page, section, wrap
from carbdiag.records.safety import CautionText
from carbdiag.tuning_schema import AirAnswer, CorrectionAnswer, PartMove, ResizeAnswer, SweepAnswer

TuningAnswer = AirAnswer | ResizeAnswer | CorrectionAnswer | SweepAnswer

#: Parts whose share of the fuel is shown, those of less than half a percent everywhere left out.
_SHARED: Final = ("pilot", "needle", "main_jet", "cutaway")
_LEAST_SHARE: Final = 0.005
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
    return page(lines)


# ---------------------------------------------------------------------------------------------------------
# Air


def _air(a: AirAnswer) -> Iterator[str]:
    yield f"The air at {a.temperature_c:g} C, {a.station_hpa:g} hPa at the place, {a.humidity_percent:g} % humidity"
    yield from section("Pressure taken", wrap(f"{a.pressure_words}."))
    rows = [
        ("density", f"{a.moist_density_kg_m3:.3f} kg/m3", f"{a.relative_density:.1%} of standard air: draws the fuel"),
        ("dry part", f"{a.dry_density_kg_m3:.3f} kg/m3", f"{a.relative_oxygen:.1%} of its oxygen: sets the need"),
        ("oxygen", f"{a.oxygen_percent:.1f} %", "of this air, by volume"),
        ("feels like", f"{a.density_altitude_m:.0f} m", "density altitude, dry standard air"),
    ]
    yield from section("In numbers", columns(rows))
    yield from _ending(a.notes, a.honesty)


# ---------------------------------------------------------------------------------------------------------
# Moving the machine


def _resize(a: ResizeAnswer) -> Iterator[str]:
    yield from wrap(f"{a.family_name}, moved to other air", "")
    yield from section("Set for", wrap(f"{_air_line(a.set)}."))
    yield from section("Now", wrap(f"{_air_line(a.now)}."))
    yield ""
    yield from wrap(a.summary, "")
    table = [
        ("throttle", "if nothing is changed", "fed by"),
        *((b.name, b.mixture.words, ", ".join(_words(c) for c in b.circuits)) for b in a.bands),
    ]
    yield from section("By throttle opening", columns(table))
    if a.moves:
        yield from section("Mind this first", _warned(a.warnings))
        yield from section("Before you touch a setting", caution_lines(a.cautions, INDENT))
        yield from section("Change, in this order, one at a time", _moves(a.moves))
        yield from section("How", _numbered(a.steps))
        yield ""
        if a.verify:
            yield from wrap(f"It worked if: {a.verify}")
        if a.put_back:
            yield from wrap(f"Put it back: {a.put_back}")
    else:
        yield from section("Mind this", (*_warned(a.warnings), *caution_lines(a.cautions, INDENT)))
    airs = (*(f"Set for: {n}" for n in a.set.notes), *(f"Now: {n}" for n in a.now.notes))
    yield from _ending((*a.notes, *airs), a.honesty, a.edition)


def _air_line(a: AirAnswer) -> str:
    return f"{a.temperature_c:g} C, {a.station_hpa:g} hPa at the place ({a.pressure_words})"


def _warned(warnings: Iterable[str]) -> Iterator[str]:
    for warning in warnings:
        yield from wrap(warning, f"{INDENT}- ", INDENT * 2)


def _moves(moves: Sequence[PartMove]) -> Iterator[str]:
    for number, move in enumerate(moves, 1):
        if number > 1:
            yield ""
        shown = f" (now {move.present:g})" if move.present is not None else ""
        yield from wrap(f"{move.name}{shown}: {move.amount}", f"{INDENT}{number}. ", INDENT + "   ")
        yield from wrap(move.do, INDENT + "   ")
        yield from wrap(f"It worked if: {move.verify}", INDENT + "   ")
        yield from wrap(f"If not: {move.put_back}", INDENT + "   ")
        yield from _named(move.cautions, INDENT + "   ")


# ---------------------------------------------------------------------------------------------------------
# A correction


def _correction(a: CorrectionAnswer) -> Iterator[str]:
    yield from wrap(f"{a.family_name}, {a.at_name}: {a.told}", "")
    if a.direction == "none":
        why = a.refused or "Nothing needs changing here."
        yield from section("NO SIZE GIVEN" if a.refused else "No change", wrap(why))
        yield from section("Before you touch a setting", caution_lines(a.cautions, INDENT))
    else:
        yield from section("Be sure of this first, in this order", _numbered(a.before_this))
        yield from section("Before you start", caution_lines(a.cautions, INDENT))
        yield from section(f"{a.name}: {a.direction}", _change(a))
        rows = [("throttle", "what this change does there")]
        effects = [(s.opening, s.name, s.words) for s in a.side_effects]
        rows += [(name, words) for _, name, words in sorted([*effects, (a.opening, a.at_name, _here(a))])]
        yield from section("By throttle opening", columns(rows))
        minutes = f" ({a.minutes:.0f} minutes)" if a.minutes else ""
        yield from section(f"How{minutes}", _numbered(a.steps))
        if a.tools:
            yield from wrap(f"You need: {', '.join(a.tools)}")
        yield ""
        yield from wrap(f"It worked if: {a.verify}")
        yield from wrap(f"If not, put it back: {a.put_back}")
    yield from _ending(a.notes, a.honesty, a.edition)


def _here(a: CorrectionAnswer) -> str:
    if a.part == "mixture_screw":
        return a.direction
    low, high = sorted((abs(a.fuel_percent_low), abs(a.fuel_percent_high)))
    return f"{abs(a.fuel_percent):.0f} % {a.direction} ({low:.0f} to {high:.0f} %): meant"


def _change(a: CorrectionAnswer) -> Iterator[str]:
    if a.proposed is not None and a.present is not None:
        if a.part == "float_level":
            yield from wrap(f"{'Raise' if a.proposed > 0 else 'Lower'} the fuel level by {abs(a.proposed):g} mm.")
        else:
            yield from wrap(f"From {a.present:g} to {a.proposed:g}, {a.unit}.")
            if a.first is not None and a.first != a.proposed:
                yield from wrap(f"Fit {a.first:g} first and feel it; one size at a time.")
    yield from wrap(f"{a.amount[:1].upper()}{a.amount[1:]}.")
    if a.do:
        yield from wrap(a.do)


# ---------------------------------------------------------------------------------------------------------
# A sweep


def _sweep(a: SweepAnswer) -> Iterator[str]:
    yield from wrap(f"{a.family_name}: the mixture from closed to full, beside the set-up that ran right", "")
    yield from section("Now", wrap(f"{a.before_is}."))
    if a.changed:
        yield from section("After the change", wrap(f"{a.after_is}."))
    yield ""
    yield from wrap(a.summary, "")
    head = ("throttle", "now", "after the change") if a.changed else ("throttle", "now")
    table: list[tuple[str, ...]] = [head]
    table += [(b.name, b.before.words, b.after.words) if a.changed else (b.name, b.before.words) for b in a.bands]
    yield from section("By throttle opening", columns(table))
    parts = [p for p in _SHARED if any(getattr(b.shares, p) >= _LEAST_SHARE for b in a.bands)]
    shares: list[tuple[str, ...]] = [("throttle", *(getattr(a.fed_by, p) for p in parts))]
    shares += [(b.name, *(f"{getattr(b.shares, p):.0%}" for p in parts)) for b in a.bands]
    yield from section("Who feeds it", columns(shares))
    on_top = "; the cutaway acts on top" if "cutaway" in parts else ""
    yield from wrap(
        "How much of a change of each part reaches the mixture there. The figures need not add up to 100%: the air"
        f" bleed takes some back{on_top}."
    )
    yield from section("Before you touch a setting" if a.changed else "Mind this", caution_lines(a.cautions, INDENT))
    title = f"Point by point ({a.axis}; x = ln of lambda beside the working set-up, minus is richer)"
    yield from section(title, _rows(a))
    yield from _ending(a.notes, a.honesty, a.edition)


def _rows(a: SweepAnswer) -> Iterator[str]:
    every = -(-len(a.rows) // _ROWS_SHOWN)
    head = ("opening", "now", "from", "to", *(("after", "from", "to") if a.changed else ()))
    table = [head]
    for row in a.rows[::every]:
        spans = (row.before, row.after) if a.changed else (row.before,)
        numbers = (f"{v:+.3f}" for span in spans for v in (span.middle, span.low, span.high))
        table.append((f"{row.opening:.0%}", *numbers))
    yield from columns(table)
    if every > 1:
        yield from wrap(f"One point in {every} of {len(a.rows)}; --csv and --json give all.")


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


def _numbered(steps: Iterable[str]) -> Iterator[str]:
    for n, step in enumerate(steps, 1):
        yield from wrap(step, f"{INDENT}{n}. ", INDENT + "   ")


def _named(cautions: Sequence[CautionText], indent: str) -> Iterator[str]:
    """The cautions beside the step that needs them, in short; they stand in full above."""
    for caution in cautions:
        yield from wrap(f"! {caution.short or caution.text}", indent, indent + INDENT)


def _ending(notes: Iterable[str], honesty: str, edition: str = "") -> Iterator[str]:
    yield from section("Notes", (line for note in notes for line in wrap(note, f"{INDENT}- ", INDENT * 2)))
    yield from section("What this is worth", wrap(honesty))
    if edition:
        yield ""
        yield from wrap(f"Knowledge edition {edition}", "")


def _words(identity: str) -> str:
    return identity.replace("_", " ")
