"""What the turns of a mixture screw told in a post say of it: "screw is 3.5 turns out" is far out."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from typing import Final

from carbdiag import reading_schema as out
from carbdiag.case_schema import Machine
from carbdiag.knowledge import Knowledge
from carbdiag.reading.deed_text import WORD
from carbdiag.reading.found import Found
from carbdiag.records.checks import ByTurns
from carbdiag.records.families import MixtureScrew
from carbdiag.terms import UNKNOWN_FAMILY, Certainty

#: The facts that count turns, and the setting that each is of.
OF_SETTINGS: Final = {"screw_turns": ("mixture_screw", "low_needle"), "high_needle_turns": ("high_needle",)}


def looks_at_turns(
    found: Found, machine: Machine, facts: Iterable[out.FactRead], checks: Iterable[out.CheckRead], epoch: int
) -> Iterator[out.CheckRead]:
    """The checks of a screw or needle whose outcome its turns tell; none that the post tells already.

    Within the usable turns of the family nobody knows whether it stands as the book has it: that tells nothing.

    Args:
        machine: the machine as far as it is known.
        epoch: when the turns were told.
    """
    told, k = {check.check for check in checks}, found.k
    counted = {f.fact: f for f in facts if f.fact in OF_SETTINGS and not _advised(found, f.said[0])}
    for check in k.checks.values():
        known = counted.get(check.measured.fact) if check.measured is not None and check.measured.fact else None
        if known is not None and check.measured is not None and check.id not in told:
            for outcome, span in check.measured.outcomes.items():
                if span.at_least <= float(known.value) <= span.at_most:
                    yield out.CheckRead.trusted(
                        check=check.id, outcome=outcome, at=None, certainty=Certainty.PROBABLY, epoch=epoch,
                        said=known.said,
                    )  # fmt: skip
    turns = counted.get("screw_turns")
    if turns is None:
        return
    way = _stands(k, machine, float(turns.value))
    sure = Certainty.MAYBE if machine.family == UNKNOWN_FAMILY else Certainty.PROBABLY
    for check in k.checks.values():
        if way in check.by_turns and check.id not in told:
            outcome = check.by_turns[way]
            yield out.CheckRead.trusted(
                check=check.id, outcome=outcome, at=None, certainty=sure, epoch=epoch, said=turns.said
            )


def _advised(found: Found, said: out.Said) -> bool:
    """Whether the words before it in its sentence make it what somebody advises: "the book says 2 turns out"."""
    n = bisect_right(found.sentence_starts, said.start) - 1
    sentence = found.symbols.sentences[n]
    words = WORD.findall(found.small[sentence.start : said.end])
    return sentence.asks or sentence.quoted or not found.book.deeds.sizes.advised.isdisjoint(words)


def _stands(k: Knowledge, machine: Machine, turns: float) -> ByTurns | None:
    """Past which end a screw stands on most machines that this may be; None for no end, or not the same on all."""
    families = [k.families[machine.family]] if machine.family != UNKNOWN_FAMILY else [*k.families.values()]
    strokes = [machine.strokes] if machine.strokes is not None else [2, 4]
    ways = [_on(f.mixture_screw, machine.mixture_screw, n, turns) for f in families for n in strokes]
    ends = {*ways} - {None}
    end = ends.pop() if len(ends) == 1 else None
    return end if 2 * ways.count(end) > len(ways) else None


def _on(screw: MixtureScrew, kind: str | None, strokes: int, turns: float) -> ByTurns | None:
    low, high = screw.usable_turns
    kind = kind or {2: screw.two_stroke, 4: screw.four_stroke}[strokes]
    if low <= turns <= high:
        return None
    return "rich" if (turns > high) is (kind == "fuel_screw") else "lean"
