"""A diagnosis or a band table as plain text, for a person with greasy hands and one minute.

Words and spacing carry the meaning, no color does. Capitals are kept for danger; a line that starts with
`!` is a caution, and stands with the step that needs it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from carbdiag import schema
from carbdiag.answers.layout import INDENT, caution_lines, columns, page, printable, section, wrap
from carbdiag.terms import Direction

_MOST_CAUSES = 5
#: Between names that hold commas and semicolons themselves.
_BETWEEN = " / "
#: A hold is told at the top when its reason is at least this likely; below, it only keeps checks from being proposed.
_PRESSING = 0.4
#: Below this chance of the leading cause no correction is spelled out: a confident wrong one is the worst answer.
_WORTH_CORRECTING = 0.2
#: Odds of three or more causes, against all counted, from which a rider should hear of it.
_WORTH_A_NOTE = 0.1


def to_text(answer: schema.Diagnosis | schema.BandTable, steps: int = 3) -> str:
    """Render an answer as plain text of at most 88 columns, with a final line end.

    Args:
        answer: a diagnosis or a band table.
        steps: how many of the next steps to show: the first in full, the others in a line each.
    """
    lines = _diagnosis(answer, steps) if isinstance(answer, schema.Diagnosis) else _band_table(answer)
    return page(lines)


# ---------------------------------------------------------------------------------------------------------
# A diagnosis


def _diagnosis(d: schema.Diagnosis, steps: int) -> Iterator[str]:
    shown = d.next_steps[: max(steps, 0)]
    causes = d.causes[:_MOST_CAUSES]
    yield from wrap(d.summary, "")
    pressing = [hold for hold in d.holds if hold.chance >= _PRESSING]
    yield from section("Mind this first", (line for hold in pressing for line in _item(f"{hold.name}: {hold.why}")))
    yield from section("What I understood", (line for told in d.understood for line in _item(told)))
    yield from section("Likely causes", _causes(d, causes))
    yield from section("Check first", _steps(shown))
    if causes and causes[0].probability >= _WORTH_CORRECTING:
        yield from section(f"If it turns out to be: {_small(causes[0].name)}", _correction(d, causes[0]))
    elif causes:
        yield from section("What to change", wrap("Nothing yet: it is too open. Do the check above and ask again."))
    yield from section("Before you turn to another cause", _other_cautions(d, causes, shown))
    yield from section("Mixture by throttle opening", _mixture(d.mixture))
    yield from section("Notes", _notes(d))
    yield from section("What the percentages mean", wrap(d.meaning))
    yield ""
    named = "" if d.case_id == schema.Case().id else f", case {d.case_id}"
    yield from wrap(f"Knowledge edition {d.edition}{named}", "")


def _causes(d: schema.Diagnosis, causes: Sequence[schema.CauseBelief]) -> Iterator[str]:
    if d.unexplained.flag:
        yield from wrap(d.unexplained.text)
        yield ""
    for cause in causes:
        yield from _percent_line(cause.probability, f"{cause.name}: {cause.words}")
        for label, reasons in (("fits better", cause.because), ("fits worse", cause.against)):
            if reasons:
                said = _BETWEEN.join(r.observation for r in reasons)
                yield from wrap(f"{label}: {said}", INDENT * 4, INDENT * 5)
        if cause.told_apart_by and cause.rival:
            yield from wrap(
                f"told from {_rival_name(d, cause.rival)} by: {cause.told_apart_by}", INDENT * 4, INDENT * 5
            )
    if causes:
        if d.unlisted.probability:
            yield from _percent_line(d.unlisted.probability, _unlisted(d.unlisted))
        if d.nothing_wrong:
            yield from _percent_line(d.nothing_wrong, "Nothing is wrong: this is how it normally runs")
    if any(c.because or c.against for c in causes):
        yield ""
        yield from wrap('"Fits better" and "fits worse" are beside the likeliest other cause.')


def _percent_line(p: float, text: str) -> Iterator[str]:
    return wrap(text, f"{INDENT}{_percent(p):>4}  ", INDENT * 4)


def _unlisted(unlisted: schema.UnlistedBelief) -> str:
    where = f", {unlisted.direction} at the {_words(unlisted.circuit)}" if unlisted.circuit else ""
    return f"Something that is not on my list{where}"


def _rival_name(d: schema.Diagnosis, rival: str) -> str:
    return next((_small(c.name) for c in d.causes if c.id == rival), _words(rival))


def _steps(steps: Sequence[schema.NextStep]) -> Iterator[str]:
    if not steps:
        return
    first, *others = steps
    yield from wrap(f"{first.name} ({_minutes(first.minutes)})")
    yield from caution_lines(first.cautions)
    yield from wrap(first.do, INDENT * 2)
    if first.tools:
        yield from wrap(f"You need: {', '.join(first.tools)}", INDENT * 2)
    yield ""
    widest = min(max(len(o.outcome) for o in first.outcomes), 24) if first.outcomes else 0
    for outcome in first.outcomes:
        head = f"{INDENT * 2}{printable(outcome.outcome):<{widest}}  "
        yield from wrap(outcome.means, head, " " * (len(INDENT * 2) + widest + 2))
    yield from wrap(first.why, INDENT * 2)
    if others:
        yield ""
        yield f"{INDENT}Then:"
    told = {c.id for c in first.cautions}
    for step in others:
        name = step.do if step.kind in ("finding", "context") else step.name
        yield from wrap(f"{name} ({_minutes(step.minutes)})", f"{INDENT * 2}- ", INDENT * 3)
        known = [_words(c.id) for c in step.cautions if c.id in told]
        if known:
            yield from wrap(f"! As above: {', '.join(known)}.", INDENT * 3, INDENT * 4)
        yield from caution_lines((c for c in step.cautions if c.id not in told), INDENT * 3)
        told |= {c.id for c in step.cautions}


def _correction(d: schema.Diagnosis, cause: schema.CauseBelief) -> Iterator[str]:
    fix = cause.correction
    yield from wrap(cause.summary)
    before = [c.name for i in d.order[: d.order.index(cause.id)] for c in d.causes if c.id == i]
    if before:
        yield from wrap(f"Rule out first: {_BETWEEN.join(_small(name) for name in before)}.")
    yield ""
    if fix.held_back:
        yield f"{INDENT}DO NOT DO THIS YET"
        yield from wrap(fix.held_back, INDENT * 2)
        yield ""
        yield f"{INDENT}Once that is settled:"
    yield from wrap(f"{fix.name} ({_minutes(fix.minutes)})")
    if fix.size:
        yield from wrap(f"{_part(fix)}{fix.size}", INDENT * 2)
    if fix.sized:
        yield from _sized(fix.sized)
    if fix.tools:
        yield from wrap(f"You need: {', '.join(fix.tools)}", INDENT * 2)
    yield from caution_lines(dict.fromkeys((*fix.cautions, *cause.cautions)))
    yield ""
    for n, step in enumerate(fix.steps, 1):
        yield from wrap(step, f"{INDENT * 2}{n}. ", INDENT * 2 + "   ")
    yield ""
    yield from wrap(f"It worked if: {fix.verify}")
    yield from wrap(f"If not, put it back: {fix.put_back}")
    if cause.workshop:
        yield from wrap(f"For a workshop: {cause.workshop}")


def _sized(sized: schema.SizedChange) -> Iterator[str]:
    indent = INDENT * 2
    yield from wrap(f"Worked out: {sized.amount}.", indent)
    if sized.proposed and sized.present:
        yield from wrap(f"From {sized.present} toward {sized.proposed}, one step at a time.", indent)
    if sized.refused:
        yield from wrap(f"No size given: {sized.refused}", indent)
    if sized.side_effects:
        yield from wrap(f"It also makes it {', '.join(sized.side_effects)}.", indent)
    yield from wrap(" ".join(sized.notes), indent)


def _part(fix: schema.Correction) -> str:
    return f"{fix.part}: " if fix.part else ""


def _other_cautions(
    d: schema.Diagnosis, causes: Sequence[schema.CauseBelief], shown: Sequence[schema.NextStep]
) -> Iterator[str]:
    """Cautions of the answer that stand nowhere above, each with the causes that need it."""
    told = {c.id for step in shown for c in step.cautions}
    for cause in [c for c in causes[:1] if c.probability >= _WORTH_CORRECTING]:
        told |= {c.id for c in (*cause.cautions, *cause.correction.cautions)}
    needed: dict[schema.CautionText, list[str]] = {c: [] for c in d.cautions if c.id not in told}
    for cause in causes:
        for caution in dict.fromkeys((*cause.cautions, *cause.correction.cautions)):
            if caution.id not in told:
                needed.setdefault(caution, []).append(_small(cause.name))
    for caution, names in needed.items():
        who = f" [{_BETWEEN.join(names)}]" if names else ""
        yield from wrap(f"! {caution.text}{who}", INDENT, INDENT * 2)


def _mixture(bands: Sequence[schema.BandMixture]) -> Iterator[str]:
    rows = [
        (printable(b.name), printable(b.verdict), ", ".join(_words(c) for c in b.circuits)) for b in bands
    ]
    if rows:
        yield from columns([("throttle", "mixture", "fed by"), *rows])


def _notes(d: schema.Diagnosis) -> Iterator[str]:
    if d.unexplained.flag and d.unexplained.findings:
        yield from _item(f"What fits least: {_BETWEEN.join(d.unexplained.findings)}.")
    for note in d.notes:
        yield from _item(note)
    if d.left_out >= _WORTH_A_NOTE:
        yield from _item(
            "I weigh one fault or two together. Three or more at once are not counted; if none explains it better"
            f" than the best counted, they could hold up to {_percent(d.left_out / (1 + d.left_out))} of the belief."
        )


# ---------------------------------------------------------------------------------------------------------
# A band table


def _band_table(table: schema.BandTable) -> Iterator[str]:
    yield from wrap(f"{table.name}, {table.strokes}-stroke: what each throttle opening tells you", "")
    yield from section("Read this first", wrap(table.note))
    yield from section("Before you touch a setting", caution_lines(table.cautions, INDENT))
    for place in dict.fromkeys(row.place for row in table.rows):
        rows = [row for row in table.rows if row.place == place]
        yield from section(_heading(_words(place)), _band(rows))
    yield ""
    yield from wrap(f"Knowledge edition {table.edition}, family {table.family}", "")


def _band(rows: Sequence[schema.BandRow]) -> Iterator[str]:
    first = rows[0]
    also = f"; also {', '.join(_words(c) for c in first.others)}" if first.others else ""
    yield from wrap(f"Fed by: {_small(first.part)}, {_percent(first.share)}{also}")
    both = {r.finding for r in rows if r.direction is Direction.LEAN} & {
        r.finding for r in rows if r.direction is Direction.RICH
    }
    for title, signs in (
        ("lean:", [r for r in rows if r.direction is Direction.LEAN and r.finding not in both]),
        ("rich:", [r for r in rows if r.direction is Direction.RICH and r.finding not in both]),
        ("lean or rich:", [r for r in rows if r.direction is Direction.RICH and r.finding in both]),
    ):
        if signs:
            yield from wrap(
                _BETWEEN.join(_small(r.sign) for r in signs), f"{INDENT}{title:<14}", INDENT + " " * 14
            )
    yield ""
    for direction, correction in sorted(dict.fromkeys((r.direction, r.correction) for r in rows)):
        yield from wrap(f"If {direction}: {correction}", INDENT, INDENT * 2)
    for verify, put_back in dict.fromkeys((r.verify, r.put_back) for r in rows):
        yield from wrap(f"It worked if: {verify}", INDENT, INDENT * 2)
        yield from wrap(f"If not: {put_back}", INDENT, INDENT * 2)
    named = dict.fromkeys(_words(c) for r in rows for c in r.cautions)
    if named:
        yield from wrap(f"! As above: {', '.join(named)}.", INDENT, INDENT * 2)


# ---------------------------------------------------------------------------------------------------------
# Words and spacing


def _item(text: str) -> Iterator[str]:
    return wrap(text, f"{INDENT}- ", INDENT * 2)


def _percent(p: float) -> str:
    if 0 < p < 0.005:
        return "<1%"
    return ">99%" if 0.995 <= p < 1 else f"{p:.0%}"


def _minutes(minutes: float) -> str:
    if minutes < 1:
        return "under a minute"
    return "1 minute" if round(minutes) == 1 else f"{minutes:.0f} minutes"


def _words(identity: str | None) -> str:
    return printable((identity or "").replace("_", " "))


def _small(name: str) -> str:
    """A name inside a sentence: its first letter small, unless it is an abbreviation."""
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def _heading(text: str) -> str:
    return text[:1].upper() + text[1:]
