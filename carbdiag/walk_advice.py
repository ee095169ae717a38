"""Where a walk stands: ask on, try a setting, fix and confirm, workshop, unexplained, or done."""

from __future__ import annotations

from carbdiag.case_schema import Case
from carbdiag.casework.believed import Assessment
from carbdiag.diagnosis_schema import CauseBelief, Diagnosis
from carbdiag.knowledge import Knowledge
from carbdiag.plan import Plan
from carbdiag.safety import not_looked
from carbdiag.scales import probability
from carbdiag.terms import Effect
from carbdiag.walk_schema import Advice, WalkStep


def advice_on(
    k: Knowledge, a: Assessment, d: Diagnosis, found: Plan, steps: tuple[WalkStep, ...], left: int
) -> Advice:
    """Where the walk stands with these next steps and so many questions left, what waits, and what may be told now."""
    stands = _stands(k, a, d, found, steps, left)
    waits = None if found.waits is None else _WAITS.format(part=k.circuits[found.waits].name.lower())
    return Advice.trusted(**{**stands.__dict__, "waits": waits, "tell": _TELL if _is_better(a.case) else None})


def has_ended(case: Case) -> bool:
    """Whether the last thing told is a change that cured it."""
    last = case.history()[-1]
    return bool(last.trials) and last.trials[-1].effect is Effect.CURED


def _is_better(case: Case) -> bool:
    """Whether the last thing told is a change that made it better and did not cure it: what is left nobody has said."""
    last = case.history()[-1]
    return bool(last.trials) and last.trials[-1].effect is Effect.BETTER and not last.trials[-1].put_back


def _stands(  # noqa: PLR0911 - one return a place to stand
    k: Knowledge, a: Assessment, d: Diagnosis, found: Plan, steps: tuple[WalkStep, ...], left: int
) -> Advice:
    if has_ended(a.case):
        return Advice.trusted(
            kind="done",
            text="Cured. Confirm it on the next rides, and put settings that were hiding the fault back to the book's. "
            "If it comes back, add what you see and walk on.",
        )
    if not d.causes:
        return Advice.trusted(kind="ask", text="Tell what the engine does first; nothing is claimed before.")
    held = not_looked(k, a.case, frozenset(h.id for h in d.holds))
    if held is not None:
        return Advice.trusted(kind="workshop", text=f"Take it to a workshop that can look inside. {held.name}.")
    first = steps[0] if steps else None
    several = d.several_settings
    if several is not None and several.leads and (first is None or first.kind == "repair" or not _worth(k, found)):
        return Advice.trusted(kind="workshop", text=_MEASURE)
    if first is None or (first.kind in ("repair", "trial") and not _worth(k, found)):
        return _no_more(k, d, tuple(dict.fromkeys(_fact(k, *f) for f in found.facts)))
    if d.unexplained.flag and not left:
        facts = tuple(dict.fromkeys(_fact(k, *f) for f in found.facts))
        return Advice.trusted(kind="unexplained", text=f"{d.unexplained.text} {_FACTS}", facts=facts)
    if first.kind == "repair":
        return _fix(k, d, first)
    if first.kind == "trial":
        return Advice.trusted(kind="try_setting", text=f"Try this setting, feel it, and say what it did: {first.name}.")
    return Advice.trusted(kind="ask", text=f"Next: {first.name}{'' if first.name.endswith('?') else '.'}")


_WAITS = (
    "Probably still too rich: the {part}. A leaner step of it waits, for after it wide openings may run lean, and that"
    " breaks engines. With standard filter and exhaust, in the air it was made for, it may go back to the book's"
    " setting and no further; beyond that, have the mixture measured first."
)
_TELL = (
    "Better, and not cured. Tell what is left if you can: what it still does, and at which opening (such as: it still"
    " bogs at half throttle). Else answer the step below."
)
_FACTS = "These facts would help most."
_MEASURE = (
    "Several settings are probably off together, and what can be felt of each was tried. Have the mixture measured at"
    " every opening, by a workshop with a brake or a lambda probe, and set them by that. Until then hold no wide"
    " throttle where it may run lean."
)


def _no_more(k: Knowledge, d: Diagnosis, facts: tuple[str, ...]) -> Advice:
    """Nothing open is worth a rider's time: a workshop where it is likely its job, else the facts that would help."""
    workshop = [c for c in d.causes if c.workshop]
    if sum(c.probability for c in workshop) >= k.scales.showing.workshop_from:
        return _to_workshop(workshop)
    then = _FACTS if facts else "A workshop with a fresh eye is the next step."
    text = f"Nothing known here explains it well enough to spend more of your time on. {then}"
    return Advice.trusted(kind="unexplained", text=text, facts=facts)


def _fix(k: Knowledge, d: Diagnosis, step: WalkStep) -> Advice:
    top = d.causes[0]
    if top.workshop and top.probability >= k.scales.showing.workshop_from:
        return _to_workshop([top])
    cause = _cured_most(k, d, step.id)
    against = f", against {cause.name.lower()}" if cause else ""
    is_fix = step.cures >= k.scales.showing.fix_from
    head = "Fix this and confirm" if is_fix else "Unlikely, and still the best left to try"
    return Advice.trusted(
        kind="fix_and_confirm",
        text=f"{head}: {step.name} ({step.minutes:g} minutes){against}.",
        cause=cause.id if cause else None,
    )


def _worth(k: Knowledge, found: Plan) -> bool:
    """Whether the best move saves more than the workshop that would do it all costs."""
    return bool(found.moves) and found.moves[0].expected_minutes < k.scales.decision.workshop_minutes


def _cured_most(k: Knowledge, d: Diagnosis, action: str) -> CauseBelief | None:
    def cured(cause: CauseBelief) -> float:
        works = max((probability(k, f.works) for f in k.causes[cause.id].fixed_by if f.do == action), default=0.0)
        return cause.probability * works

    best = max(d.causes, key=cured)
    return best if cured(best) > 0 else None


def _to_workshop(causes: list[CauseBelief]) -> Advice:
    best = max(causes, key=lambda c: c.probability)
    text = f"Take it to a workshop: {best.name.lower()} is {best.words}. {best.workshop}"
    return Advice.trusted(kind="workshop", text=text, cause=best.id)


def _fact(k: Knowledge, kind: str, record: str, at: str | None) -> str:
    if kind in ("check", "question"):
        name = k.checks[record].name
    else:
        name = (k.findings[record] if kind == "finding" else k.contexts[record]).ask
    return name if at is None else f"{name} ({k.places[at].name})"
