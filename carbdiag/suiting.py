"""The setting that is brought to another filter or exhaust which the rider chose, and keeps."""

from __future__ import annotations

from carbdiag.case_schema import Case
from carbdiag.casework.believed import Belief
from carbdiag.casework.levels import mixture_levels
from carbdiag.records.causes import Cause
from carbdiag.terms import Direction, Status


def made_richer(belief: Belief, case: Case, cause: Cause) -> str | None:
    """The circuit whose step richer puts a cause right: its own, or the one that suits what was chosen."""
    if belief.model.directions.get(cause.id) is not Direction.LEAN:
        return None
    return cause.setting or setting_to_suit(belief, case, cause)


def setting_to_suit(belief: Belief, case: Case, cause: Cause) -> str | None:
    """The circuit to move for parts that the rider chose; None where the cause is put right by a repair.

    It is the one that feeds the engine most where trouble was told and the mixture is likeliest off, so that the next
    ride shows what it did; where no opening was told, at full throttle, as the main jet is set first.
    """
    chosen = {c.context for c in case.contexts if c.status is Status.PRESENT}
    model = belief.model
    if chosen.isdisjoint(cause.set_to_suit) or cause.id not in model.cause_numbers:
        return None
    k = model.knowledge
    bands = [p for p in model.places if k.places[p].kind == "band"]
    side = slice(3, None) if model.directions[cause.id] is Direction.LEAN else slice(0, 2)
    off = dict(zip(bands, mixture_levels(belief)[:, side].sum(axis=1).tolist(), strict=True))
    told = {p for f in case.history()[-1].findings if f.status is Status.PRESENT for p in f.at}
    at = max((p for p in bands if p in told), key=lambda p: off[p], default=bands[-1])
    feeds = (c for c, _ in model.in_control[at] if c in model.step_x and not k.circuits[c].to_figure)
    return next(feeds, None)
