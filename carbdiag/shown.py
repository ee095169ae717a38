"""Whether a look has shown what is wrong: who holds the blocked jet in his hand cleans it, and is asked no more."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from carbdiag.case_schema import Case
from carbdiag.knowledge import Knowledge
from carbdiag.outlook import Outlook
from carbdiag.records.causes import Cause
from carbdiag.scales import probability
from carbdiag.separation import APART
from carbdiag.terms import ProbabilityWord


def shown_cause(k: Knowledge, case: Case, chances: Mapping[str, float]) -> str | None:
    """The likeliest cause, where it is likely enough and a check since the last change has shown it.

    Args:
        k: the knowledge.
        case: the case.
        chances: how likely each cause is at work still.
    """
    top = max(chances, key=lambda cause: chances[cause], default=None)
    if top is None or chances[top] < k.scales.decision.shown_cause:
        return None
    last = case.history()[-1]
    looked = [t for t in last.checks if not last.trials and k.checks[t.check].kind == "check"]
    return top if any(_shows(k, t.check, t.outcome, k.causes[top]) for t in looked) else None


def suspect_looks(look: Outlook, chances: Mapping[str, float], is_open: Callable[[int], bool]) -> tuple[int, ...]:
    """The open quick checks, by number, that would show the one cause that stands out, the best a minute first."""
    k, c, decision = look.model.knowledge, look.candidates, look.model.knowledge.scales.decision
    top, second = (*sorted(chances.items(), key=lambda cause: -cause[1]), ("", 0.0), ("", 0.0))[:2]
    if top[1] < decision.suspect or top[1] < decision.suspect_stands_out * second[1]:
        return ()
    cause, shows, often = k.causes[top[0]], {}, probability(k, ProbabilityWord.OFTEN)
    for t, (check, at) in enumerate(c.ids):
        if c.kind[t] != "check" or at is not None or c.minutes[t] > decision.quick_minutes or not is_open(t):
            continue
        named = [n for n, o in enumerate(k.checks[check].outcomes) if _shows(k, check, o, cause) >= often]
        if named:
            shows[t] = float((look.given(t)[named] @ look.groups.weights).sum()) / float(c.minutes[t])
    return tuple(sorted(shows, key=lambda t: (-shows[t], t)))


def _shows(k: Knowledge, check_id: str, outcome: str, cause: Cause) -> float:
    """How often a check comes out so where this is the cause; 0 where it comes out so without it nearly as often."""
    check = k.checks[check_id]
    otherwise = check.outcomes[outcome].otherwise
    words = [s.often for s in cause.checks if (s.check, s.outcome) == (check_id, outcome)]
    words += [by[outcome] for group, by in check.groups.items() if group == cause.group and outcome in by]
    often = max((probability(k, word) for word in words), default=0.0)
    return often if otherwise is not None and often >= APART * probability(k, otherwise) else 0.0
