"""Which steps of a setting may be proposed as a trial, and how far each goes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import takewhile

from carbdiag.case_schema import Case, Trial
from carbdiag.casework.believed import Assessment, Belief
from carbdiag.casework.several_settings import is_set_anew
from carbdiag.knowledge import Knowledge
from carbdiag.lean_risk import WIDE_OPEN, reaches_wide_open
from carbdiag.records.safety import Hold
from carbdiag.safety import Safety
from carbdiag.sizing import trouble_band
from carbdiag.terms import Change, Effect, Status
from carbdiag.trials import direction_of


def open_trials(a: Assessment, belief: Belief, safety: Safety) -> Iterator[tuple[str, Change, str]]:
    """(circuit, direction, place) of every step of a setting that may be proposed.

    Richer first; wide open, where a hold bars what is felt there, only where it is likely lean: that is the remedy.
    A leaner step only where lean is unlikely at its place. Where it reaches wide openings, something must
    have been told of them, and lean must be unlikely there after the step, too. One that does not reach them breaks
    nothing when it ends lean: leaner too once richer was worse, and on while leaner is better, as a screw is set by
    turning it both ways. Another step the same way only while the last one helped, the other way only after one that
    went too far; where settings are gone through in turn, each way once more whatever came of it.
    """
    yield from ((circuit, way, place) for circuit, way, place, waits in open_or_waiting(a, belief, safety) if not waits)


def open_or_waiting(a: Assessment, belief: Belief, safety: Safety) -> Iterator[tuple[str, Change, str, bool]]:
    """Open steps, and those that wait only for what is not known of wide openings."""
    k, model = a.knowledge, belief.model
    limits = {limit for h in safety.on for limit in k.holds[h].trials}
    other = {limit for h in safety.on if not _of_lean(k.holds[h]) for limit in k.holds[h].trials}
    possible, most = k.scales.decision.lean_is_possible, k.scales.decision.most_steps
    skipped = {(s.id, s.direction) for s in a.case.unanswered if s.kind == "trial"}
    risk, around, tries = safety.risk, is_set_anew(k, a.case), k.scales.decision.round_tries
    if "all" in limits or safety.engine_runs is False:
        return
    for circuit in model.step_x:
        if k.circuits[circuit].to_figure:
            continue
        place = trouble_band(k, belief, a.case, circuit)
        barred = "wide" in limits and place in WIDE_OPEN
        told = tried_since(belief, a.case, circuit, place)
        reaches = reaches_wide_open(model.tables, circuit)
        felt = _steps_to_feel(belief, circuit, place)
        for way in Change:
            may_follow = _follows_around(told, way, most, tries) if around else _follows(told, way, felt, most)
            if (circuit, way) in skipped or not may_follow:
                continue
            if way is Change.RICHER:
                if not barred or risk.by_place[place] >= k.scales.decision.likely_cause:
                    yield circuit, way, place, False
                continue
            if barred or "leaner" in limits or (reaches and "leaner_wide" in other):
                continue
            steps = steps_to_try(a, belief, circuit, way, place)
            may_be_lean = risk.beyond_sound(place) > possible
            if not reaches:
                if may_be_lean and not _felt_too_rich(told, around):
                    continue
                if steps > 1 and risk.bars(circuit, steps, (place, *WIDE_OPEN), possible) is not None:
                    continue
                yield circuit, way, place, False
                continue
            waits = may_be_lean or "leaner_wide" in limits or not risk.lets(circuit, steps, place)
            waits = waits or (around and place in WIDE_OPEN and not _felt_wide_open(a.case))
            yield circuit, way, place, waits


def _felt_wide_open(case: Case) -> bool:
    """Whether trouble was told of a wide opening, or a setting moved and felt there: else nothing is amiss there."""
    return any(
        any(f.status is Status.PRESENT and not set(f.at).isdisjoint(WIDE_OPEN) for f in epoch.findings)
        or any(t.change is not None and t.at in WIDE_OPEN for t in epoch.trials)
        for epoch in case.history()
    )


def _of_lean(hold: Hold) -> bool:
    """Whether a hold is on for nothing but a chance of lean."""
    when = hold.when
    others = (when.findings, when.contexts, when.outcomes, when.causes, when.uses)
    return bool(when.lean_at) and not any(others)


def tried(k: Knowledge, case: Case, circuit: str) -> tuple[Trial, ...]:
    """The trials of one setting, oldest first, with the direction that their sizes say where none was told."""
    record = k.circuits[circuit]
    told = (t for e in case.history() for t in e.trials if t.change == circuit)
    return tuple(t if t.direction else t.model_copy(update={"direction": direction_of(record, t)}) for t in told)


def tried_since(belief: Belief, case: Case, circuit: str, place: str) -> tuple[Trial, ...]:
    """The trials of one setting that still hold: none from before another one was moved and kept, and is felt there.

    A larger main jet feeds the middle, too: a needle that was better lower before it may be better higher now.
    """
    model = belief.model
    every = [t for e in case.history() for t in e.trials if t.change is not None]
    at, least = model.place(place), model.knowledge.scales.trials.noticeable

    def disturbs(trial: Trial) -> bool:
        steps = model.step_x.get(trial.change or "")
        kept = trial.effect in (Effect.BETTER, Effect.CAME_BACK) and not trial.put_back
        return trial.change != circuit and kept and steps is not None and abs(steps[at]) * trial.steps >= least

    last = max((n for n, t in enumerate(every) if disturbs(t)), default=-1)
    before = sum(t.change == circuit for t in every[: last + 1])
    return tried(model.knowledge, case, circuit)[before:]


def feeds_wide_open(k: Knowledge, circuit: str) -> bool:
    """Whether it is a setting, gone through with the others, that feeds wide openings."""
    return "full" in k.circuits[circuit].strongest_at and circuit in k.scales.several_settings.steps


def stays_in(k: Knowledge, case: Case, circuit: str, way: Change | None) -> bool:
    """Whether a step is left in where it changed nothing: richer wide open, so that the others can be set safely."""
    return way is Change.RICHER and feeds_wide_open(k, circuit) and is_set_anew(k, case)


def goes_on(k: Knowledge, case: Case, circuit: str, way: Change) -> bool:
    """Whether the last thing tried was this setting this way, and it helped: whoever feels that goes on."""
    last = next((t for e in reversed(case.history()) for t in reversed(e.trials)), None)
    if last is None or last.change != circuit or last.effect is not Effect.BETTER or last.put_back:
        return False
    return direction_of(k.circuits[circuit], last) is way


def _felt_too_rich(told: Sequence[Trial], around: bool) -> bool:
    """Whether the last trial of a setting was felt to be better leaner, or worse richer; or `around`, no better so."""
    last = (told[-1].direction, told[-1].effect) if told else None
    if around and last == (Change.RICHER, Effect.NO_CHANGE):
        return True
    return last in ((Change.LEANER, Effect.BETTER), (Change.RICHER, Effect.WORSE))


def steps_to_try(a: Assessment, belief: Belief, circuit: str, way: Change, place: str) -> float:
    """How many practical steps a trial moves: richer, as many as it takes to feel it; leaner, one at a time.

    Either goes one step further after one that changed nothing, as it may have been too small to be felt; what went
    too far is followed by half of it.
    """
    last = next(reversed(tried_since(belief, a.case, circuit, place)), None)
    if last is not None and way is _to_the_middle(last):
        return _half(last)
    if way is Change.LEANER:
        unfelt = last is not None and last.direction is way and last.effect is Effect.NO_CHANGE
        return last.steps + 1 if last is not None and unfelt else 1.0
    most = a.knowledge.scales.decision.most_steps
    steps = max(round(_steps_to_feel(belief, circuit, place)), 1)
    if last is not None and last.direction is way and last.effect is Effect.NO_CHANGE and last.put_back:
        steps = max(steps, round(last.steps) + 1)
    return float(min(steps, most))


def _steps_to_feel(belief: Belief, circuit: str, place: str) -> float:
    """How many practical steps of a setting are surely felt at a place."""
    model = belief.model
    one = abs(float(model.step_x[circuit][model.place(place)]))
    return 2 * model.knowledge.scales.trials.noticeable / max(one, 1e-6)


def _to_the_middle(last: Trial) -> Change | None:
    """Which way the right setting lies after a trial that went too far: beyond where it began, or back from there."""
    if last.effect is not Effect.OVERSHOT or last.direction is None:
        return None
    other = Change.LEANER if last.direction is Change.RICHER else Change.RICHER
    return last.direction if last.put_back else other


def _half(last: Trial) -> float:
    """Half of the steps of a trial, in whole steps."""
    return float(max(last.steps // 2, 1))


def vain_tries(told: Sequence[Trial], way: Change) -> int:
    """How often a step of a setting that way brought nothing; what was better the other way counts once."""
    vain = sum(t.direction is way and t.effect in _VAIN for t in told)
    return vain + any(t.direction is not way and t.effect is Effect.BETTER for t in told)


_VAIN = (Effect.WORSE, Effect.NO_CHANGE, Effect.OVERSHOT)


def _follows_around(told: Sequence[Trial], way: Change, most: int, tries: int) -> bool:
    """Whether a step may follow where settings are gone through: each both ways, and again, as it may be misfelt."""
    if told and told[-1].to_size is not None and told[-1].effect is Effect.OVERSHOT:
        return False  # the bracket names the right size
    kept = sum(t.steps for t in told if t.direction is way and t.effect is Effect.BETTER and not t.put_back)
    return vain_tries(told, way) < tries and kept < most * (most if way is Change.RICHER else 1)


def _follows(told: Sequence[Trial], way: Change, felt: float, most: int) -> bool:
    """Whether another step of a setting may follow what was tried with it.

    Args:
        told: its trials, in order.
        way: the way of the step.
        felt: so many steps are surely felt.
        most: after so many one way, another part is to blame.
    """
    if not told:
        return True
    last = told[-1]
    between = last.to_size is not None and last.effect is Effect.OVERSHOT  # the bracket names the right size
    if last.direction is None or between:
        return False
    if last.effect is Effect.OVERSHOT:
        # half a step can be made of two or more; one that was kept may be undone
        return way is _to_the_middle(last) and (_half(last) < last.steps or (len(told) == 1 and not last.put_back))
    if last.direction is not way:
        # what was better one way has nothing to look for on the other side of where it began
        return last.effect is Effect.WORSE and not any(t.direction is way or t.effect is Effect.BETTER for t in told)
    if way is Change.LEANER and last.effect is Effect.NO_CHANGE and last.put_back:
        return last.steps + 1 <= min(felt, most)
    row = list(takewhile(lambda t: t.direction is way, reversed(told)))
    # richer goes as many steps at once as are felt, leaner one: it may go as far, in more of them
    leaner = sum(t.steps for t in row if not t.put_back) / most
    return last.effect is Effect.BETTER and (leaner if way is Change.LEANER else len(row)) < most
