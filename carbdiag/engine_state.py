"""What a case tells of the engine: whether it runs, and at which openings it has been."""

from __future__ import annotations

from carbdiag.case_schema import Case
from carbdiag.knowledge import Knowledge
from carbdiag.records.findings import Finding
from carbdiag.terms import Effect, Status


def visited(k: Knowledge, case: Case) -> set[str]:
    """Places the rider has been at, as far as the case tells; those tied to no opening are everywhere."""
    told = {p for e in case.history() for f in e.findings for p in f.at} | set(case.visited)
    been = told.union(*(k.places[p].implies_visited for p in told))
    return been | {p.id for p in k.places.values() if not p.in_chart}


#: What a setting moved did that only a running engine shows.
_FELT = frozenset((Effect.BETTER, Effect.WORSE, Effect.OVERSHOT))


def engine_runs(k: Knowledge, case: Case) -> bool | None:
    """Whether the last that was told is of an engine that runs, or of one that hardly does; None if of neither."""
    last = next((e for e in reversed(case.history()) if e.findings), None)
    told = [f for f in last.findings if f.status is not Status.UNKNOWN] if last else []
    present = [k.findings[f.finding] for f in told if f.status is Status.PRESENT]
    under_way = {p.id for p in k.places.values() if p.running and p.in_chart}
    if any(not under_way.isdisjoint(f.at) for f in told if f.status is Status.PRESENT):
        return True
    if any(f.means_ride for f in present):
        return True
    if any(map(hardly_runs, present)):
        return False
    # "misses" and "idles fine" are said of an engine that runs, and "starts first kick" of one that starts
    said = [(k.findings[f.finding], f.status is Status.DENIED) for f in told]
    if any(under_way.issuperset(f.at) or (denied and f.means_dead) for f, denied in said):
        return True
    # a setting that was moved and felt, or a check at an opening, was of one that ran
    felt = any(t.change and t.effect in _FELT for e in case.history() for t in e.trials)
    return True if felt or any(c.at in under_way for e in case.history() for c in e.checks) else None


def hardly_runs(sign: Finding) -> bool:
    return sign.means_dead or sign.means_no_ride
