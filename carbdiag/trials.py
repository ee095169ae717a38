"""Which way a setting was moved and how far, and what several such trials say of its right size."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from carbdiag.case_schema import Case, Trial
from carbdiag.diagnosis_schema import Bracket, Statement
from carbdiag.knowledge import Knowledge
from carbdiag.records.circuits import Circuit
from carbdiag.terms import Change, Effect, Status

_OTHER_WAY = {Change.RICHER: Change.LEANER, Change.LEANER: Change.RICHER}


def direction_of(circuit: Circuit, trial: Trial) -> Change | None:
    """Which way a setting was moved: as told, or as the sizes say; None where neither does."""
    if trial.direction is not None:
        return trial.direction
    return direction_by_size(circuit, trial)


def direction_by_size(circuit: Circuit, trial: Trial) -> Change | None:
    """Which way the sizes of a trial say that it went; None without sizes, or where the part has none."""
    if trial.from_size is None or trial.to_size is None or circuit.sizes is None:
        return None
    larger = circuit.sizes.larger_is
    return larger if trial.to_size > trial.from_size else _OTHER_WAY[larger]


def felt_at(circuit: Circuit, trial: Trial, case: Case) -> str:
    """Where a change of setting was felt: as told, else where it works most and a sign was told, else where it does."""
    return told_at(circuit, trial, case) or circuit.strongest_at[0]


def told_at(circuit: Circuit, trial: Trial, case: Case) -> str | None:
    """Where a change of setting was felt, as told, or where it works most and a sign was told; None where neither."""
    if trial.at is not None:
        return trial.at
    signs = {p for e in case.history() for f in e.findings if f.status is Status.PRESENT for p in f.at}
    return next((p for p in circuit.strongest_at if p in signs), None)


def steps_moved(circuit: Circuit, trial: Trial) -> float:
    """By how many practical steps a setting was moved: as told, or as the sizes of the part say."""
    if trial.from_size is None or trial.to_size is None or circuit.sizes is None or circuit.sizes.per_step is None:
        return trial.steps
    return abs(trial.to_size - trial.from_size) / circuit.sizes.per_step


# ---------------------------------------------------------------------------------------------------------
# Brackets: on an axis that grows richer, in the part's own sizes where every trial states them, else in steps


@dataclass
class _Span:
    """Where on its axis the right setting lies, as far as it was felt."""

    low: float = -math.inf
    high: float = math.inf

    def read(self, before: float, after: float, effect: Effect) -> None:
        """Narrow the span by one trial: `better` lies beyond its middle, `worse` before it, `overshot` within it."""
        middle = (before + after) / 2
        beyond = (middle, math.inf) if after > before else (-math.inf, middle)
        short = (-math.inf, middle) if after > before else (middle, math.inf)
        low, high = {
            Effect.BETTER: beyond,
            Effect.CURED: beyond,
            Effect.WORSE: short,
            Effect.OVERSHOT: (min(before, after), max(before, after)),
        }.get(effect, (-math.inf, math.inf))
        self.low, self.high = max(self.low, low), min(self.high, high)


def to_put_back(case: Case) -> tuple[Trial, ...]:
    """By setting its last move, in the order moved, where that made it worse or went too far and was not put back."""
    last = {t.change: t for epoch in case.history() for t in epoch.trials if t.change is not None}
    return tuple(t for t in last.values() if t.effect in (Effect.WORSE, Effect.OVERSHOT) and not t.put_back)


def was_better_there(case: Case, trial: Trial) -> bool:
    """Whether the size that a jet is put back to was felt to be better than the one before it."""
    sizes = {t.to_size: t for e in case.history() for t in e.trials if t.change == trial.change and t is not trial}
    before = sizes.get(trial.from_size) if trial.from_size is not None else None
    return before is not None and before.effect is Effect.BETTER and not before.put_back


def moved_into_trouble(case: Case) -> tuple[Trial, ...]:
    """The settings moved and left so, up to the last that brought the trouble of today on; none where none did.

    One brought it on when it made things worse, or overshot, and trouble is told after it; where no sign is told at
    all, when it made things worse and nothing tried before says that something was wrong already.
    """
    present = [any(f.status is Status.PRESENT for f in epoch.findings) for epoch in case.history()]
    moved: list[Trial] = []
    brought = 0
    was_fine = not any(present)
    for n, epoch in enumerate(case.history()):
        for trial in epoch.trials:
            was_fine = was_fine and trial.effect is Effect.WORSE
            if trial.change is None or trial.put_back:
                continue
            moved.append(trial)
            if trial.effect in (Effect.WORSE, Effect.OVERSHOT) and (was_fine or any(present[n + 1 :])):
                brought = len(moved)
    return tuple(moved[:brought])


def stretches(told: Sequence[Statement]) -> dict[int, Literal["at_first", "after_that"]]:
    """The statements that begin another stretch of time, by number; none where all is of one time."""
    last = told[-1].epoch if told else 0
    begun: dict[int, int] = {}
    for n, statement in enumerate(told if last else ()):
        if statement.kind != "context":
            begun.setdefault(statement.epoch, n)
    first = begun.pop(0, None)
    out: dict[int, Literal["at_first", "after_that"]] = dict.fromkeys(begun.values(), "after_that")
    if first is not None and told[first].kind not in ("setting", "repair"):
        out[first] = "at_first"
    return out


def brackets(k: Knowledge, case: Case) -> tuple[Bracket, ...]:
    """Between which sizes, or steps from where it began, the right setting of each circuit lies.

    What was not felt (`no_change`), or came back, narrows nothing; trials that contradict each other give no bracket.
    """
    out: list[Bracket] = []
    told = [t for epoch in case.history() for t in epoch.trials if t.change is not None]
    for circuit in (k.circuits[c] for c in dict.fromkeys(t.change for t in told) if c is not None):
        mine = [t for t in told if t.change == circuit.id]
        in_sizes = circuit.sizes is not None and all(t.to_size is not None for t in mine)
        spans: dict[str, _Span] = {}
        tried: list[float] = []
        now = 0.0
        for trial in mine:
            way = direction_of(circuit, trial)
            if way is None:
                break
            if in_sizes:
                assert circuit.sizes is not None
                sign = 1 if circuit.sizes.larger_is is Change.RICHER else -1
                before, after = sign * (trial.from_size or 0.0), sign * (trial.to_size or 0.0)
            else:
                before = now
                after = now + steps_moved(circuit, trial) * (1 if way is Change.RICHER else -1)
            tried += [before, after]
            now = before if trial.put_back else after
            spans.setdefault(felt_at(circuit, trial, case), _Span()).read(before, after, trial.effect)
        name = _size_name if in_sizes else _step_name
        out += [
            _bracket(k, circuit, at, span, in_sizes, tried, name)
            for at, span in spans.items()
            if span.low <= span.high and _says_enough(span, in_sizes)
        ]
    return tuple(out)


def _says_enough(span: _Span, in_sizes: bool) -> bool:
    """Both ends, or one end as a size: "richer than half a step" helps nobody."""
    ends = (math.isfinite(span.low), math.isfinite(span.high))
    return all(ends) or (in_sizes and any(ends))


def _bracket(
    k: Knowledge,
    circuit: Circuit,
    at: str,
    span: _Span,
    in_sizes: bool,
    tried: list[float],
    name: Callable[[float], str],
) -> Bracket:
    part = circuit.sizes.name if in_sizes and circuit.sizes else circuit.name.lower()
    head = f"The right {part} for {k.places[at].name}"
    low = name(span.low) if math.isfinite(span.low) else None
    high = name(span.high) if math.isfinite(span.high) else None
    if low is not None and high is not None:
        ends = sorted((span.low, span.high), key=abs) if in_sizes else [span.low, span.high]
        text = f"{head} lies between {name(ends[0])} and {name(ends[1])}."
    else:
        text = f"{head} is richer than {low}." if low is not None else f"{head} is leaner than {high}."
    inside = sorted({t for t in tried if span.low < t < span.high})
    if inside:
        text = f"{text[:-1]}; of those tried, {' or '.join(name(t) for t in inside)} is nearest."
    return Bracket.trusted(circuit=circuit.id, at=at, richer_than=low, leaner_than=high, text=text)


def _size_name(position: float) -> str:
    return f"{abs(position):g}"


def _step_name(position: float) -> str:
    if position == 0:
        return "where it began"
    steps = f"{abs(position):g} step{'s' if abs(position) != 1 else ''}"
    return f"{steps} {'richer' if position > 0 else 'leaner'} than where it began"
