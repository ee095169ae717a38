"""What would change one's mind: for each likely cause, the observations still open that would lower it most."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from carbdiag.belief.information import Shares
from carbdiag.diagnosis_schema import WouldLower
from carbdiag.knowledge import Knowledge
from carbdiag.outlook import Outlook

_MOST = 3
#: An outcome less likely than this is no plan for changing one's mind.
_COMES = 0.05
#: An outcome must at least take this share off.
_LOWERS = 0.8


def would_lower(
    k: Knowledge, look: Outlook, is_open: Callable[[int], bool], causes: Sequence[tuple[str, float]]
) -> dict[str, tuple[WouldLower, ...]]:
    """For each (cause, P now): the open observations that would lower it most, with what would be left of it."""
    if not causes:
        return {}
    c, model = look.candidates, look.model
    number = model.network.cause
    wanted = np.array([model.cause_ids.index(c) if c in model.cause_ids else -2 for c, _ in causes])
    holds = (number[look.first] == wanted[:, None]) | (number[look.second] == wanted[:, None])
    comes = _answers(look, look.groups.weights, look.rows)
    likely = np.flatnonzero(comes >= _COMES)
    candidate, outcome = (of.take(likely) for of in c.answers)
    # a cause is named by few of the merged hypotheses
    weighed = np.array([_answers(look, look.groups.weights[named], look.rows[named]).take(likely) for named in holds])
    now = np.array([max(float(look.groups.weights[named].sum()), 1e-12) for named in holds])
    left = weighed / (comes.take(likely) * now[:, None])
    out = {}
    for n, (cause, p) in enumerate(causes):
        found: dict[str, WouldLower] = {}
        rows = np.flatnonzero(left[n] <= _LOWERS)
        for row in rows[np.argsort(left[n, rows], kind="stable")].tolist():
            if len(found) == _MOST:
                break
            t = int(candidate[row])
            record, place = c.ids[t]
            if record not in found and is_open(t):
                found[record] = _said(k, c.kind[t], record, place, int(outcome[row]), p * float(left[n, row]))
        out[cause] = tuple(found.values())
    return out


def _answers(look: Outlook, weights: Shares, rows: Shares) -> Shares:
    """Weight of every answer over some merged hypotheses, in the order of `Candidates.answers`."""
    weighed = weights @ rows
    return np.append(weighed, weights.sum() - weighed[look.candidates.of_checks :])


def _said(k: Knowledge, kind: str, record: str, place: str | None, outcome: int, after: float) -> WouldLower:
    where = "" if place is None else f" ({k.places[place].name})"
    if kind in ("check", "question"):
        check = k.checks[record]
        said = list(check.outcomes)[outcome]
        text = f"{check.name}{where}: {said.replace('_', ' ')}"
    else:
        said = ("yes", "no")[outcome]
        name = k.findings[record].name if kind == "finding" else k.contexts[record].name
        text = f"{name}{where}" if outcome == 0 else f"Not so: {name[0].lower()}{name[1:]}{where}"
    return WouldLower.trusted(
        kind=kind, id=record, at=place, outcome=said, text=text, probability=round(min(after, 1.0), 4)
    )
