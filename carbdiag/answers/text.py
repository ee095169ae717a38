"""A diagnosis or a band table as plain text, for a person with greasy hands and one minute.

Words and spacing carry the meaning, no color does. Capitals are kept for danger; a line that starts with
`!` is a caution, and stands with the step that needs it.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterable, Iterator, Sequence

from carbdiag import schema
from carbdiag.terms import Direction

WIDTH = 88
_MOST_CAUSES = 5
_INDENT = "  "
#: Between names that hold commas and semicolons themselves.
_BETWEEN = " / "
#: Odds of three or more causes, against all counted, from which a rider should hear of it.
#: A hold is told at the top when its reason is at least this likely; below, it only keeps checks from being proposed.
_PRESSING = 0.4
#: Below this chance of the leading cause no correction is spelled out: a confident wrong one is the worst answer.
_WORTH_CORRECTING = 0.2
_WORTH_A_NOTE = 0.1
#: Letters, marks, numbers, signs and the plain space are printed; everything that steers a terminal is not.
_STEERS = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def to_text(answer: schema.Diagnosis | schema.BandTable, steps: int = 3) -> str:
    """Render an answer as plain text of at most 88 columns, with a final line end.

    Args:
        answer: a diagnosis or a band table.
        steps: how many of the next steps to show: the first in full, the others in a line each.
    """
    lines = _diagnosis(answer, steps) if isinstance(answer, schema.Diagnosis) else _band_table(answer)
    return "\n".join(line.rstrip() for line in lines).rstrip("\n") + "\n"


def printable(text: str) -> str:
    """The text on one line, with everything that could steer a terminal or reorder its letters spelled out.

    >>> printable("red\\x1b[31m and\\nback\\u202e")
    'red\\\\x1b[31m and back\\\\u202e'
    """
    one_line = re.sub(r"[\t\n\r\f\v ]+", " ", text)
    return "".join(_spelled_out(c) if unicodedata.category(c) in _STEERS else c for c in one_line)


def _spelled_out(character: str) -> str:
    if character.isascii():
        return f"\\x{ord(character):02x}"
    return character.encode("ascii", "backslashreplace").decode()


# ---------------------------------------------------------------------------------------------------------
# A diagnosis


def _diagnosis(d: schema.Diagnosis, steps: int) -> Iterator[str]:
    shown = d.next_steps[: max(steps, 0)]
    causes = d.causes[:_MOST_CAUSES]
    yield from _wrap(d.summary, "")
    pressing = [hold for hold in d.holds if hold.chance >= _PRESSING]
    yield from _section("Mind this first", (line for hold in pressing for line in _item(f"{hold.name}: {hold.why}")))
    yield from _section("What I understood", (line for told in d.understood for line in _item(told)))
    yield from _section("Likely causes", _causes(d, causes))
    yield from _section("Check first", _steps(shown))
    if causes and causes[0].probability >= _WORTH_CORRECTING:
        yield from _section(f"If it turns out to be: {_small(causes[0].name)}", _correction(d, causes[0]))
    elif causes:
        yield from _section("What to change", _wrap("Nothing yet: it is too open. Do the check above and ask again."))
    yield from _section("Before you turn to another cause", _other_cautions(d, causes, shown))
    yield from _section("Mixture by throttle opening", _mixture(d.mixture))
    yield from _section("Notes", _notes(d))
    yield from _section("What the percentages mean", _wrap(d.meaning))
    yield ""
    named = "" if d.case_id == schema.Case().id else f", case {d.case_id}"
    yield from _wrap(f"Knowledge edition {d.edition}{named}", "")


def _causes(d: schema.Diagnosis, causes: Sequence[schema.CauseBelief]) -> Iterator[str]:
    if d.unexplained.flag:
        yield from _wrap(d.unexplained.text)
        yield ""
    for cause in causes:
        yield from _percent_line(cause.probability, f"{cause.name}: {cause.words}")
        for label, reasons in (("fits better", cause.because), ("fits worse", cause.against)):
            if reasons:
                said = _BETWEEN.join(r.observation for r in reasons)
                yield from _wrap(f"{label}: {said}", _INDENT * 4, _INDENT * 5)
        if cause.told_apart_by and cause.rival:
            yield from _wrap(
                f"told from {_rival_name(d, cause.rival)} by: {cause.told_apart_by}", _INDENT * 4, _INDENT * 5
            )
    if causes:
        if d.unlisted.probability:
            yield from _percent_line(d.unlisted.probability, _unlisted(d.unlisted))
        if d.nothing_wrong:
            yield from _percent_line(d.nothing_wrong, "Nothing is wrong: this is how it normally runs")
    if any(c.because or c.against for c in causes):
        yield ""
        yield from _wrap('"Fits better" and "fits worse" are beside the likeliest other cause.')


def _percent_line(p: float, text: str) -> Iterator[str]:
    return _wrap(text, f"{_INDENT}{_percent(p):>4}  ", _INDENT * 4)


def _unlisted(unlisted: schema.UnlistedBelief) -> str:
    where = f", {unlisted.direction} at the {_words(unlisted.circuit)}" if unlisted.circuit else ""
    return f"Something that is not on my list{where}"


def _rival_name(d: schema.Diagnosis, rival: str) -> str:
    return next((_small(c.name) for c in d.causes if c.id == rival), _words(rival))


def _steps(steps: Sequence[schema.NextStep]) -> Iterator[str]:
    if not steps:
        return
    first, *others = steps
    yield from _wrap(f"{first.name} ({_minutes(first.minutes)})")
    yield from _cautions(first.cautions)
    yield from _wrap(first.do, _INDENT * 2)
    if first.tools:
        yield from _wrap(f"You need: {', '.join(first.tools)}", _INDENT * 2)
    yield ""
    widest = min(max(len(o.outcome) for o in first.outcomes), 24) if first.outcomes else 0
    for outcome in first.outcomes:
        head = f"{_INDENT * 2}{printable(outcome.outcome):<{widest}}  "
        yield from _wrap(outcome.means, head, " " * (len(_INDENT * 2) + widest + 2))
    yield from _wrap(first.why, _INDENT * 2)
    if others:
        yield ""
        yield f"{_INDENT}Then:"
    told = {c.id for c in first.cautions}
    for step in others:
        name = step.do if step.kind in ("finding", "context") else step.name
        yield from _wrap(f"{name} ({_minutes(step.minutes)})", f"{_INDENT * 2}- ", _INDENT * 3)
        known = [_words(c.id) for c in step.cautions if c.id in told]
        if known:
            yield from _wrap(f"! As above: {', '.join(known)}.", _INDENT * 3, _INDENT * 4)
        yield from _cautions((c for c in step.cautions if c.id not in told), _INDENT * 3)
        told |= {c.id for c in step.cautions}


def _correction(d: schema.Diagnosis, cause: schema.CauseBelief) -> Iterator[str]:
    fix = cause.correction
    yield from _wrap(cause.summary)
    before = [c.name for i in d.order[: d.order.index(cause.id)] for c in d.causes if c.id == i]
    if before:
        yield from _wrap(f"Rule out first: {_BETWEEN.join(_small(name) for name in before)}.")
    yield ""
    if fix.held_back:
        yield f"{_INDENT}DO NOT DO THIS YET"
        yield from _wrap(fix.held_back, _INDENT * 2)
        yield ""
        yield f"{_INDENT}Once that is settled:"
    yield from _wrap(f"{fix.name} ({_minutes(fix.minutes)})")
    if fix.size:
        yield from _wrap(f"{_part(fix)}{fix.size}", _INDENT * 2)
    if fix.sized:
        yield from _sized(fix.sized)
    if fix.tools:
        yield from _wrap(f"You need: {', '.join(fix.tools)}", _INDENT * 2)
    yield from _cautions(dict.fromkeys((*fix.cautions, *cause.cautions)))
    yield ""
    for n, step in enumerate(fix.steps, 1):
        yield from _wrap(step, f"{_INDENT * 2}{n}. ", _INDENT * 2 + "   ")
    yield ""
    yield from _wrap(f"It worked if: {fix.verify}")
    yield from _wrap(f"If not, put it back: {fix.put_back}")
    if cause.workshop:
        yield from _wrap(f"For a workshop: {cause.workshop}")


def _sized(sized: schema.SizedChange) -> Iterator[str]:
    indent = _INDENT * 2
    yield from _wrap(f"Worked out: {sized.amount}.", indent)
    if sized.proposed and sized.present:
        yield from _wrap(f"From {sized.present} toward {sized.proposed}, one step at a time.", indent)
    if sized.refused:
        yield from _wrap(f"No size given: {sized.refused}", indent)
    if sized.side_effects:
        yield from _wrap(f"It also makes it {', '.join(sized.side_effects)}.", indent)
    yield from _wrap(" ".join(sized.notes), indent)


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
        yield from _wrap(f"! {caution.text}{who}", _INDENT, _INDENT * 2)


def _mixture(bands: Sequence[schema.BandMixture]) -> Iterator[str]:
    rows = [
        (printable(b.name), printable(b.verdict), ", ".join(_words(c) for c in b.circuits)) for b in bands
    ]
    if rows:
        yield from _columns([("throttle", "mixture", "fed by"), *rows])


def _columns(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]) - 1)]
    for row in rows:
        head = "".join(f"{cell:<{width}}   " for cell, width in zip(row[:-1], widths, strict=True))
        yield from _wrap(row[-1], _INDENT + head, _INDENT + " " * len(head))


def _notes(d: schema.Diagnosis) -> Iterator[str]:
    if d.unexplained.flag and d.unexplained.findings:
        yield from _item(f"What fits least: {_BETWEEN.join(d.unexplained.findings)}.")
    for note in d.notes:
        yield from _item(note)
    if d.left_out >= _WORTH_A_NOTE:
        yield from _item(
            "I weigh one fault or two together. Three at once are not counted; if they explain it no"
            f" better than the best counted, their odds are {_percent(d.left_out)} of everything counted."
        )


# ---------------------------------------------------------------------------------------------------------
# A band table


def _band_table(table: schema.BandTable) -> Iterator[str]:
    yield from _wrap(f"{table.name}, {table.strokes}-stroke: what each throttle opening tells you", "")
    yield from _section("Read this first", _wrap(table.note))
    cautions = dict.fromkeys(c for row in table.rows for c in row.cautions)
    yield from _section("Before you touch a setting", _cautions(cautions, _INDENT))
    for place in dict.fromkeys(row.place for row in table.rows):
        rows = [row for row in table.rows if row.place == place]
        yield from _section(_heading(_words(place)), _band(rows))
    yield ""
    yield from _wrap(f"Knowledge edition {table.edition}, family {table.family}", "")


def _band(rows: Sequence[schema.BandRow]) -> Iterator[str]:
    first = rows[0]
    also = f"; also {', '.join(_words(c) for c in first.others)}" if first.others else ""
    yield from _wrap(f"Fed by: {_small(first.part)}, {_percent(first.share)}{also}")
    both = {r.finding for r in rows if r.direction is Direction.LEAN} & {
        r.finding for r in rows if r.direction is Direction.RICH
    }
    for title, signs in (
        ("lean:", [r for r in rows if r.direction is Direction.LEAN and r.finding not in both]),
        ("rich:", [r for r in rows if r.direction is Direction.RICH and r.finding not in both]),
        ("lean or rich:", [r for r in rows if r.direction is Direction.RICH and r.finding in both]),
    ):
        if signs:
            yield from _wrap(
                _BETWEEN.join(_small(r.sign) for r in signs), f"{_INDENT}{title:<14}", _INDENT + " " * 14
            )
    yield ""
    for direction, correction in sorted(dict.fromkeys((r.direction, r.correction) for r in rows)):
        yield from _wrap(f"If {direction}: {correction}", _INDENT, _INDENT * 2)
    for verify, put_back in dict.fromkeys((r.verify, r.put_back) for r in rows):
        yield from _wrap(f"It worked if: {verify}", _INDENT, _INDENT * 2)
        yield from _wrap(f"If not: {put_back}", _INDENT, _INDENT * 2)
    named = dict.fromkeys(_words(c.id) for r in rows for c in r.cautions)
    if named:
        yield from _wrap(f"! As above: {', '.join(named)}.", _INDENT, _INDENT * 2)


# ---------------------------------------------------------------------------------------------------------
# Words and spacing


def _section(title: str, lines: Iterable[str]) -> Iterator[str]:
    body = list(lines)
    if body:
        yield ""
        yield from _wrap(title, "")
        yield from body


def _wrap(text: str, indent: str = _INDENT, hang: str | None = None) -> Iterator[str]:
    yield from textwrap.wrap(
        printable(text),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent if hang is None else hang,
        break_on_hyphens=False,
    )


def _item(text: str) -> Iterator[str]:
    return _wrap(text, f"{_INDENT}- ", _INDENT * 2)


def _cautions(cautions: Iterable[schema.CautionText], indent: str = _INDENT * 2) -> Iterator[str]:
    for caution in cautions:
        yield from _wrap(f"! {caution.text}", indent, indent + _INDENT)


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
