"""Everything that may cure: repairs, then steps of a setting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from carbdiag.belief.information import Shares
from carbdiag.belief.lattice import Ints
from carbdiag.candidates import hazard_minutes
from carbdiag.casework.believed import Assessment, Belief
from carbdiag.correction import can_be_done
from carbdiag.knowledge import Knowledge
from carbdiag.model import Model
from carbdiag.safety import Safety
from carbdiag.setting_trials import open_or_waiting
from carbdiag.several_outlook import SEVERAL
from carbdiag.terms import Change, Direction

#: What each way of moving a setting puts right.
CURED_BY: Final = {Change.RICHER: Direction.LEAN, Change.LEANER: Direction.RICH}


@dataclass(frozen=True, eq=False)
class Fixes:
    """Everything that may cure: repairs, then steps of a setting."""

    ids: tuple[str, ...]
    direction: tuple[Change | None, ...]
    at: tuple[str | None, ...]
    works: Shares  # (A, M) on the causes of an outlook
    minutes: Shares  # (A,)

    def some(self, kept: Ints) -> Fixes:
        """Some of them, by number."""
        numbers = kept.tolist()
        return Fixes(
            tuple(self.ids[n] for n in numbers),
            tuple(self.direction[n] for n in numbers),
            tuple(self.at[n] for n in numbers),
            np.ascontiguousarray(self.works[kept]),
            self.minutes[kept],
        )

    def beside(self, others: Fixes) -> Fixes:
        """These and others."""
        return Fixes(
            self.ids + others.ids,
            self.direction + others.direction,
            self.at + others.at,
            np.concatenate([self.works, others.works]),
            np.concatenate([self.minutes, others.minutes]),
        )


def open_fixes(
    a: Assessment, belief: Belief, safety: Safety, causes: tuple[str | None, ...]
) -> tuple[Fixes, Fixes]:
    """Everything that may cure and is open; and the leaner steps that wait for what is told of wide openings."""
    k, model = a.knowledge, belief.model
    every = _every_fix(model)
    done = {t.do for e in a.case.history() for t in e.trials} | {s.id for s in a.case.unanswered if s.kind == "repair"}
    barred = done | {action for h in safety.on for action in k.holds[h].actions}
    steps = list(open_or_waiting(a, belief, safety))
    trials = {(c, way): place for c, way, place, _ in steps}
    waiting = {(c, way) for c, way, _, waits in steps if waits}
    number = [model.cause_numbers.get(c or "", len(model.cause_ids)) for c in causes]
    chosen = every.works[:, number]
    if causes[-1] == SEVERAL:
        several = k.scales.several_settings
        moves = zip(every.ids, every.direction, strict=True)
        chosen[:, -1] = [several.mends if way and fix in several.steps else 0.0 for fix, way in moves]
    open_: list[int] = []
    waits: list[int] = []
    for n in np.flatnonzero(chosen.any(axis=1)).tolist():
        record, way = every.ids[n], every.direction[n]
        if (record, way) in waiting:
            waits.append(n)
        elif (record, way) in trials if way else record not in barred:
            open_.append(n)
    moves = zip(every.ids, every.direction, strict=True)
    at = tuple(trials.get((circuit, way)) if way else None for circuit, way in moves)
    mine = Fixes(every.ids, every.direction, at, chosen, every.minutes)
    return mine.some(np.array(open_, dtype=np.intp)), mine.some(np.array(waits, dtype=np.intp))


def _every_fix(model: Model) -> Fixes:
    """Every repair, and every setting both ways, on all causes of a model and a last column for nothing wrong."""
    key = ("fixes", model.family.id, model.strokes)
    found = model.knowledge.memo.get(key)
    if not isinstance(found, Fixes):
        found = _list_fixes(model)
        model.knowledge.memo[key] = found
    return found


def _list_fixes(model: Model) -> Fixes:
    k = model.knowledge
    first = [next(n for n, s in enumerate(model.states) if s.cause == c) for c in model.cause_ids]
    action = {(c.id, way): getattr(c, way.value).action for c in k.circuits.values() for way in Change}
    moves = [key for key in action if key[0] in model.step_x]
    # turning a screw or changing a jet says nothing without its direction; cleaning a passage does
    either_way = {a for (circuit, _), a in action.items() if a == action[circuit, Change.LEANER]}
    absent = either_way - {a for (circuit, _), a in action.items() if circuit in model.family.circuits}
    repairs = [a.id for a in k.actions.values() if a.id not in absent and can_be_done(a, model.family)]

    def by_move(cause: str, circuit: str, way: Change) -> bool:
        """Whether a cause is put right by moving this setting this way."""
        return (
            not k.circuits[circuit].to_figure
            and model.directions[cause] is CURED_BY[way]
            and (action[circuit, way] in either_way or is_setting_of(k, cause, circuit))
        )

    moved = {(c, action[move]) for c in model.cause_ids for move in moves if by_move(c, *move)}
    rows = [
        [
            0.0 if (c, a) in moved else float(model.works[a][n])
            for c, n in zip(model.cause_ids, first, strict=True)
        ]
        for a in repairs
    ]
    rows += [
        [
            float(model.works[action[move]][n]) if by_move(c, *move) else 0.0
            for c, n in zip(model.cause_ids, first, strict=True)
        ]
        for move in moves
    ]
    actions = [k.actions[a] for a in (*repairs, *(action[m] for m in moves))]
    start = k.scales.decision.start_minutes
    return Fixes(
        (*repairs, *(circuit for circuit, _ in moves)),
        (*(None for _ in repairs), *(way for _, way in moves)),
        (None,) * len(actions),
        np.array([[*row, 0.0] for row in rows], dtype=np.float32),
        np.array([a.minutes + hazard_minutes(k, a.cautions) + start for a in actions], dtype=np.float32),
    )


def is_setting_of(k: Knowledge, cause: str, circuit: str) -> bool:
    """Whether a cause is a circuit's setting being off, so that a step of it may cure."""
    effect = k.causes[cause].mixture
    return effect is not None and effect.circuit == circuit and effect.is_setting
