"""When a correction may be made before anything else is asked or looked at."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import prod

from carbdiag.case_schema import Case
from carbdiag.diagnosis_schema import HoldNow
from carbdiag.knowledge import Knowledge
from carbdiag.records.causes import Cause
from carbdiag.terms import Change, Effect

#: Causes that an answer names.
MOST_CAUSES = 6


def may_lead(
    k: Knowledge,
    case: Case,
    cause: Cause,
    chance: float,
    way: Change | None,
    circuit: str | None,
    holds: Sequence[HoldNow],
    lean: float,
    first: bool,
    seen: bool = True,
) -> bool:
    """Whether the correction of the likeliest cause comes before any question or check.

    It does where the cause is as good as certain. A change of air may be put right sooner, and out of order: it is
    known, and colors all that is seen beside it; but leaner jets, for thinner air, wait while any leaner step does. So
    may a setting that is likely too lean, not tried yet or better for what was tried: a step to the rich side is safe,
    can be undone, and tells. Where something dangerous was observed nothing is done now but what makes it richer, if it
    does not bar that: an engine that knocks since it came down a mountain wants its jets first, and so does one that
    knocks and is likely lean wide open, for it is worth little to ask on while it is ridden so.

    Args:
        k: the knowledge.
        case: the case.
        cause: its likeliest cause.
        chance: how likely that is at work, or another that the same step richer puts right, 0 to 1.
        way: which way a setting would be moved; None for a repair.
        circuit: which setting.
        holds: what must not be done for now.
        lean: how likely wide openings run lean, 0 to 1.
        first: whether no likely cause is put right before it.
        seen: whether anything was told of how the engine runs; else jets for the air are all that can be told.
    """
    decision = k.scales.decision
    observed = [hold for hold in holds if hold.chance >= 1]
    lean_in_danger = bool(observed) and way is Change.RICHER and lean >= decision.likely_cause
    if observed and (not (lean_in_danger or cause.air == "denser") or any(_bars_all(k, hold) for hold in observed)):
        return False
    if cause.air == "denser":  # richer jets are the safe side, too
        return chance >= decision.likely_cause
    if cause.air is not None:
        waits = lean > decision.lean_is_possible or any(_bars_leaner(k, hold) for hold in holds)
        return chance >= (decision.known_air_first if seen else decision.likely_cause) and not waits
    if way is Change.RICHER:
        enough = decision.richer_in_danger if lean_in_danger else decision.likely_cause
        return chance >= enough and _may_go_richer(case, circuit, decision.most_steps)
    return first and chance >= decision.certain_cause


def wanted(chances: Iterable[float]) -> float:
    """How likely a step is wanted that would put any of several causes right, 0 to 1.

    They are counted as if one told nothing of the other, so what both explain together counts less than twice.
    """
    return 1 - prod(1 - chance for chance in chances)


def _bars_all(k: Knowledge, hold: HoldNow) -> bool:
    record = k.holds[hold.id]
    return "all" in record.trials or record.engine_off or record.use in ("not_at_all", "standing_only")


def _bars_leaner(k: Knowledge, hold: HoldNow) -> bool:
    return not {"all", "leaner", "leaner_wide"}.isdisjoint(k.holds[hold.id].trials)


def _may_go_richer(case: Case, circuit: str | None, most: int) -> bool:
    """Whether nothing tried with a setting speaks against a step richer: all of it went that way, helped and stayed."""
    tried = [t for e in case.history() for t in e.trials if t.change == circuit]
    helped = [t for t in tried if t.direction is Change.RICHER and t.effect is Effect.BETTER and not t.put_back]
    return len(helped) == len(tried) < most
