"""What could be done next, each with what it would cost: questions and checks, trials of a setting, repairs.

Everything is measured by the expected minutes of the repairs that it would leave to do, in the order of success per
minute, one step ahead. Two causes that are both at work count as half of each; what was repaired, or a setting that was
put right, is no longer at work, for whoever asks on is not cured.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.information import Shares, outcome_gain_bits
from carbdiag.belief.lattice import Floats
from carbdiag.belief.quiet_product import quiet_product
from carbdiag.belief.repair_cost import expected_minutes, search_minutes
from carbdiag.casework.believed import Assessment, Belief, likeliest
from carbdiag.casework.still_at_work import put_right
from carbdiag.fixes import Fixes
from carbdiag.freed import Waiting
from carbdiag.knowledge import Knowledge
from carbdiag.outlook import Outlook
from carbdiag.safety import Safety
from carbdiag.setting_round import Turn
from carbdiag.setting_trials import goes_on, steps_to_try
from carbdiag.several_outlook import SEVERAL, with_several
from carbdiag.terms import Change, Effect
from carbdiag.trial_outlook import TRIAL_EFFECTS, TrialOutlook
from carbdiag.walk_schema import StepKind

#: A repair or trial less likely than this to cure is not proposed.
LEAST_SUCCESS = 0.004
#: Repairs looked ahead; what is left after them is small.
ROUNDS = 10
#: Repairs whose cost is worked out as a first step.
_REPAIRS = 10

#: By the number of a fix that is a step of a setting: its outlook, and how many steps it goes.
Trials = Mapping[int, tuple[TrialOutlook, float]]
#: Which steps that wait each outcome of some candidates, by number, would free.
Freed = Callable[[Sequence[int], Shares], NDArray[np.bool_]]


@dataclass(frozen=True)
class Move:
    """One thing to do next, with what it costs; `success` is the chance that it cures.

    `saves`: minutes by which an answer is expected to shorten the search for the repair that is needed.
    `chance`: that what this deed puts right is wrong; of a trial, that the setting is off this way, by however much.
    `goes_on`: whether the step before it was the same way, and helped.
    `in_round`: whether settings are gone through one after the other, and it is the turn of this one.
    `for_others`: whether it is so only that others can be made leaner safely.
    `proves`: the repair that nobody does before this check.
    """

    kind: StepKind
    id: str
    at: str | None
    direction: Change | None
    steps: float  # of a setting
    minutes: float
    expected_minutes: float
    success: float
    gain_bits: float
    outcomes: tuple[tuple[str, float], ...]
    saves: float = 0.0
    chance: float = 0.0
    goes_on: bool = False
    in_round: bool = False
    for_others: bool = False
    proves: str | None = None


@dataclass(frozen=True, eq=False)
class Trouble:
    """What is still wrong, as everything that could be done is measured by it."""

    a: Assessment
    belief: Belief  # in the likeliest kind of machine
    look: Outlook  # its outlook, with several settings off at once among what may be
    causes: tuple[str | None, ...]
    to_cause: Shares  # (M, C): of each merged hypothesis, what each cause still is of what is wrong

    @classmethod
    def of(cls, a: Assessment, look: Outlook) -> Trouble:
        """What is still wrong of the likeliest kind of machine, whose outlook is given."""
        belief = likeliest(a)
        look = with_several(look, belief)
        return cls(a, belief, look, *_at_work(look, put_right(belief, a.case)))

    @cached_property
    def weights(self) -> Shares:
        """What each cause is of what is wrong, (1, C)."""
        return (self.look.groups.weights @ self.to_cause)[None, :]

    @property
    def shares(self) -> tuple[tuple[str | None, float], ...]:
        """The same by cause."""
        return tuple(zip(self.causes, self.weights[0].tolist(), strict=True))

    @cached_property
    def left(self) -> Outlook:
        """The outlook on it alone."""
        groups = self.look.groups
        return replace(self.look, groups=replace(groups, weights=groups.weights * self.to_cause.sum(axis=1)))


def _at_work(look: Outlook, mended: Floats) -> tuple[tuple[str | None, ...], Shares]:
    """The causes that the merged hypotheses name (None: nothing wrong), and what of each is still at work, (M, C).

    Several settings off at once are one more, the last. Whoever asks what to do next is not cured: what settings have
    put right is out, and the rest is scaled up to one. Two causes that are both at work share a hypothesis.
    """
    states = look.model.states
    pairs = list(zip(look.first.tolist(), look.second.tolist(), strict=True))
    named = dict.fromkeys(states[s].cause for s, t in pairs for s in ((s, t) if t else (s,)))
    causes = tuple(named) if look.several is None else (*named, SEVERAL)
    number = {c: n for n, c in enumerate(causes)}
    out = np.zeros((len(pairs), len(causes)), dtype=np.float32)
    for m, (s, t) in enumerate(pairs if look.several is None else pairs[:-1]):
        left, other = 1 - mended[s], (1 - mended[t] if t else 0.0)
        out[m, number[states[s].cause]] += left * (1 - other / 2)
        if t:
            out[m, number[states[t].cause]] += other * (1 - left / 2)
    if look.several is not None:
        out[-1, -1] = 1.0
    return causes, out / float(look.groups.weights @ out.sum(axis=1))


def observing(
    trouble: Trouble, candidates: Iterable[int], fixes: Fixes, waiting: Fixes, freed: Freed
) -> Iterator[Move]:
    """Candidates, by number, as moves: what their answers would leave to do, the `waiting` steps that they free too."""
    look, chosen = trouble.look, tuple(dict.fromkeys(candidates))
    if not chosen:
        return
    c, k = look.candidates, trouble.a.knowledge
    given = [look.given(t) for t in chosen]
    stacked: Shares = np.concatenate(given) * look.groups.weights
    otherwise = k.scales.decision.workshop_minutes
    by_cause = quiet_product(stacked, trouble.to_cause)
    after = expected_minutes(by_cause, fixes.works, fixes.minutes, otherwise, ROUNDS)
    by_repair, minutes = _summed_by_repair(by_cause, fixes, otherwise)
    search = search_minutes(by_repair, minutes)
    if waiting.ids:
        free = freed(list(chosen), stacked)
        for which in np.unique(free[free.any(axis=1)], axis=0):
            alike = np.flatnonzero((free == which).all(axis=1))
            wider = fixes.beside(waiting.some(np.flatnonzero(which)))
            after[alike] = expected_minutes(by_cause[alike], wider.works, wider.minutes, otherwise, ROUNDS)
            search[alike] = search_minutes(*_summed_by_repair(by_cause[alike], wider, otherwise))
    marginal = stacked.sum(axis=1)
    # the answers to any one observation add up to what is believed now
    now = float(search_minutes(by_repair[: len(given[0])].sum(axis=0, keepdims=True), minutes)[0])
    start = 0
    for t, rows in zip(chosen, given, strict=True):
        end = start + len(rows)
        record, place = c.ids[t]
        yield Move(
            kind=c.kind[t],
            id=record,
            at=place,
            direction=None,
            steps=1.0,
            minutes=float(c.minutes[t]),
            expected_minutes=float(c.minutes[t] + after[start:end].sum()),
            success=0.0,
            gain_bits=float(look.gain[t]),
            outcomes=tuple(zip(outcomes_of(k, c.kind[t], record), marginal[start:end].tolist(), strict=True)),
            saves=now - float(search[start:end].sum()),
        )
        start = end


def worth_freeing(trouble: Trouble, safety: Safety, waiting: Fixes) -> tuple[Fixes, tuple[Waiting, ...]]:
    """Of the steps that wait those that may well cure, and that an answer may well free."""
    kept, steps = [], []
    for n in np.flatnonzero(trouble.weights[0] @ waiting.works.T >= LEAST_SUCCESS).tolist():
        circuit, at = waiting.ids[n], waiting.at[n] or ""
        step = Waiting(circuit, at, steps_to_try(trouble.a, trouble.belief, circuit, Change.LEANER, at))
        if max(safety.risk.after_leaner(circuit, step.steps).values()) <= trouble.a.knowledge.scales.decision.hopeless:
            kept.append(n)
            steps.append(step)
    return waiting.some(np.array(kept, dtype=np.intp)), tuple(steps)


def _summed_by_repair(by_cause: Shares, fixes: Fixes, otherwise: float) -> tuple[Shares, Shares]:
    """Causes summed by the repair that would be done first, were the cause known: (R, C) to (R, A); and minutes (A,).

    What no repair cures costs `otherwise`.
    """
    nothing = np.zeros((1, by_cause.shape[1]), dtype=np.float32)
    rate = np.concatenate([fixes.works / fixes.minutes[:, None], nothing])
    repair = np.where(rate.any(axis=0), np.argmax(rate, axis=0), len(fixes.ids))
    order = np.argsort(repair, kind="stable")
    start = np.flatnonzero(np.diff(repair[order], prepend=-1))
    minutes = np.append(fixes.minutes, np.float32(otherwise))[repair[order][start]]
    return np.asarray(np.add.reduceat(by_cause[:, order], start, axis=1)), minutes


def outcomes_of(k: Knowledge, kind: str, record: str) -> tuple[str, ...]:
    """The outcomes of a check, question, sign or circumstance, as an answer names them."""
    return tuple(k.checks[record].outcomes) if kind in ("check", "question") else ("yes", "no")


def as_series(trouble: Trouble, fixes: Fixes) -> tuple[Trials, Fixes]:
    """The steps of settings among some fixes, with how far each goes, and the fixes at the minutes of all their steps.

    A setting that is off by several steps is put right one trial after the other. Were the whole counted at the
    minutes of one, and the first trial at what it alone cures, the plan would put the trial off for ever.
    """
    look, trials, minutes = trouble.look, {}, fixes.minutes.copy()
    for n, direction in enumerate(fixes.direction):
        if direction is None:
            continue
        circuit, place = fixes.ids[n], fixes.at[n] or ""
        steps = steps_to_try(trouble.a, trouble.belief, circuit, direction, place)
        trials[n] = TrialOutlook.of(trouble.belief, look, circuit, direction, steps, place), steps
        minutes[n] *= trials[n][0].trials_needed(look.groups.weights, trouble.to_cause, fixes.works[n])
    return trials, replace(fixes, minutes=minutes)


def curing(trouble: Trouble, fixes: Fixes, trials: Trials, turn: Turn | None) -> Iterator[Move]:
    """The repairs and trials most likely to cure per minute, as first steps, and the setting whose turn it is."""
    if not len(fixes.ids):
        return
    success = (trouble.weights @ fixes.works.T)[0]
    order = np.argsort(-success / fixes.minutes, kind="stable")
    order = order[success[order] >= LEAST_SUCCESS][:_REPAIRS]
    if turn is not None and turn.fix not in order:
        order = np.append(order, turn.fix)
    for n in order.tolist():
        if n not in trials:
            yield _repair(trouble, fixes, n, float(success[n]))
            continue
        its_turn = turn is not None and n == turn.fix
        trial = _trial(trouble, fixes, n, *trials[n])
        if turn is None or its_turn or not _mostly_worse(trouble, trial):
            yield replace(trial, in_round=its_turn, for_others=its_turn and turn.for_others) if turn else trial


def _mostly_worse(trouble: Trouble, trial: Move) -> bool:
    """Whether a step of a setting would probably be felt as worse."""
    return dict(trial.outcomes)[Effect.WORSE.value] > trouble.a.knowledge.scales.decision.mostly_worse


def _repair(trouble: Trouble, fixes: Fixes, n: int, success: float) -> Move:
    """A repair, by its number among the fixes, and what is left to do where it does not cure."""
    k, left = trouble.a.knowledge, np.arange(len(fixes.ids)) != n
    by_effect, takes = k.scales.trials.repair, float(fixes.minutes[n])
    rows = trouble.weights * (1 - fixes.works[n])
    after = expected_minutes(
        rows, fixes.works[left], fixes.minutes[left], k.scales.decision.workshop_minutes, ROUNDS
    )
    return Move(
        kind="repair",
        id=fixes.ids[n],
        at=fixes.at[n],
        direction=None,
        steps=1.0,
        minutes=takes,
        expected_minutes=takes + float(after.sum()),
        success=success,
        gain_bits=_entropy(np.array([success, 1 - success])),
        outcomes=tuple(
            (e.value, success * by_effect.fixed[e] + (1 - success) * by_effect.not_fixed[e]) for e in by_effect.fixed
        ),
        chance=success,
    )


def _trial(trouble: Trouble, fixes: Fixes, n: int, trial: TrialOutlook, steps: float) -> Move:
    """A step of a setting, by its number among the fixes, and what each effect would leave to do."""
    a, to_cause, works, way = trouble.a, trouble.to_cause, fixes.works[n], fixes.direction[n]
    assert way is not None
    now, cured = trouble.look.groups.weights, trial.cures(to_cause, works)
    joint = trial.felt * now
    rows: Shares = np.asarray((joint * (1 - cured)) @ to_cause)
    takes = float(fixes.minutes[n]) / trial.trials_needed(now, to_cause, works)
    minutes = fixes.minutes.copy()
    minutes[n] = takes * trial.trials_needed(now * (1 - cured), to_cause, works, done=1)
    otherwise = a.knowledge.scales.decision.workshop_minutes
    after = expected_minutes(rows, fixes.works, minutes, otherwise, ROUNDS)
    return Move(
        kind="trial",
        id=fixes.ids[n],
        at=fixes.at[n],
        direction=way,
        steps=steps,
        minutes=takes,
        expected_minutes=takes + float(after.sum()),
        success=float(now @ cured),
        gain_bits=float(outcome_gain_bits(now, trial.felt, np.zeros(1, dtype=np.intp))[0]),
        outcomes=tuple((e.value, float(told)) for e, told in zip(TRIAL_EFFECTS, joint.sum(axis=1), strict=True)),
        chance=float((trouble.weights @ (works > 0))[0]),
        goes_on=goes_on(a.knowledge, a.case, fixes.ids[n], way),
    )


def _entropy(p: Shares) -> float:
    """Bits of a distribution."""
    p = p[p > 0]
    return float(-(p * np.log2(p)).sum())
