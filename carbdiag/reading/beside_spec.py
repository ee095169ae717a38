"""What was measured beside what it should be: "exhaust 0.08, they should be .15" is tight."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from carbdiag import reading_schema as out
from carbdiag.reading.found import Found
from carbdiag.records.checks import BesideSpec
from carbdiag.terms import Certainty

_NUMBER: Final = re.compile(r"(?<![\w.])\d*\.\d+(?!\d)")
#: Numbers further apart are of different units, or of different things.
_APART: Final = 12.0
#: A number so near to the other is the same.
_NEAR: Final = 0.05


class _Told(NamedTuple):
    outcome: str
    start: int
    end: int


def looks_beside_spec(
    found: Found, looks: Sequence[out.CheckRead], epoch: int
) -> tuple[out.CheckRead, ...]:
    """The looks with those that numbers beside their wanted ones tell, in place of any other from the same words."""
    for check in found.k.checks.values():
        spec = check.beside_spec
        told = [*_told(found, spec)] if spec is not None else []
        if not told:
            continue
        spans = [(t.start, t.end) for t in told]
        looks = [look for look in looks if look.check != check.id or not _within(look.said, spans)]
        # one that is out tells more than others that are right
        worst = min(told, key=lambda t: list(check.outcomes).index(t.outcome) == 0)
        said = out.Said.trusted(start=worst.start, end=worst.end, words=found.text[worst.start : worst.end])
        looks.append(
            out.CheckRead.trusted(
                check=check.id, outcome=worst.outcome, at=None, certainty=Certainty.SURE, epoch=epoch, said=(said,)
            )
        )
    return tuple(looks)


def _within(said: Iterable[out.Said], spans: Sequence[tuple[int, int]]) -> bool:
    return any(start <= s.start < end for s in said for start, end in spans)


def _told(found: Found, spec: BesideSpec) -> Iterator[_Told]:
    language = found.book.language
    of = found.book.measured_parts.get(spec.smaller)
    for sentence in found.symbols.sentences:
        end = sentence.end or len(found.text)
        text = found.small[sentence.start : end]
        if sentence.asks or sentence.quoted or of is None or not of.search(text):
            continue
        says = found.book.spec_says
        book = says.search(text) if says is not None else None
        if book is None or any(f" {w} " in f" {text} " for w in language.spec_not):
            continue
        numbers = [(m.start(), float(m.group())) for m in _NUMBER.finditer(text)]
        measured = [n for at, n in numbers if at < book.start()]
        wanted = [n for at, n in numbers if at >= book.end()]
        if not measured and (turn := _turn(text, book.end(), language.contrasts)) is not None:
            measured = [n for at, n in numbers if at >= turn]
            wanted = [n for at, n in numbers if book.end() <= at < turn]
        outcome = _outcome(measured, wanted, spec)
        if outcome is not None:
            yield _Told(outcome, sentence.start, end)


def _turn(text: str, start: int, contrasts: Iterable[str]) -> int | None:
    """Where a sentence turns from what it should be to what it is: "spec is .10, (but) mine are .05"."""
    turns = [at for w in contrasts if (at := text.find(f" {w} ", start)) >= 0]
    return min(turns, default=None)


def _outcome(measured: Sequence[float], wanted: Sequence[float], spec: BesideSpec) -> str | None:
    values = [*measured, *wanted]
    if not measured or not wanted or not all(0 < v <= spec.at_most for v in values):
        return None
    if max(values) > _APART * min(values):
        return None
    whole = [(min(wanted), max(wanted))] * len(measured)
    bounds = [(w, w) for w in wanted] if len(measured) == len(wanted) else whole
    if any(m < low * (1 - _NEAR) for m, (low, _) in zip(measured, bounds, strict=True)):
        return spec.smaller
    if any(m > high * (1 + _NEAR) for m, (_, high) in zip(measured, bounds, strict=True)):
        return spec.larger
    return spec.same
