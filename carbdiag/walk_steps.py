"""One step of a walk in words: what to do, what each outcome would mean, and why this comes now."""

from __future__ import annotations

from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment, likeliest
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.knowledge import Knowledge
from carbdiag.moves import Move
from carbdiag.open_candidates import cautions_of_asking
from carbdiag.plan import Plan
from carbdiag.records.circuits import Circuit
from carbdiag.records.findings import Finding
from carbdiag.safety import cause_chances
from carbdiag.setting_trials import stays_in
from carbdiag.terms import Change, Effect
from carbdiag.walk_answer import with_answer
from carbdiag.walk_schema import CauseAfter, StepAnswer, WalkOutcome, WalkStep

#: Causes whose chance after each outcome is shown.
_LEADING = 3


def step_in_words(k: Knowledge, a: Assessment, d: Diagnosis, found: Plan, move: Move, left: int) -> WalkStep:
    """One of the moves of a plan, told to a rider who has `left` questions to answer."""
    again = move.kind == "finding" and (move.id, move.at) in likeliest(a).again
    outcomes = tuple(_outcome(k, a, move, outcome, p, again) for outcome, p in move.outcomes)
    return WalkStep.trusted(
        kind=move.kind,
        id=move.id,
        at=move.at,
        direction=move.direction,
        by_steps=move.steps,
        outcomes=outcomes,
        expected_minutes=round(move.expected_minutes, 1),
        cures=round(min(move.success, 1.0), 4),
        why=_why(k, d, found, move, outcomes, again, left),
        **_told(k, a.case, d, move, again),
    )


def _told(k: Knowledge, case: Case, d: Diagnosis, move: Move, again: bool) -> dict[str, object]:
    """What is done in a step, in how many minutes, with what and minding what: the fields of the step that say so."""
    # a propeller turns with every engine that is run beside it
    of_use = k.uses[case.machine.use].cautions if case.machine.use is not None else ()
    if move.kind == "repair":
        return _repair(k, d, move, of_use)
    if move.kind == "trial":
        return _trial(k, case, d, move, of_use)
    where = _where(k, move)
    if move.kind in ("check", "question"):
        check = k.checks[move.id]
        running = of_use if check.needs_running and check.kind == "check" else ()
        return {
            "name": f"{check.name}{where}",
            "do": (check.do,),
            "minutes": check.minutes,
            "tools": _needed(check.tools),
            "cautions": k.cautions_for((*check.cautions, *running)),
        }
    minutes = k.scales.decision.ask_minutes
    if move.kind == "machine":
        name, ask = _MACHINE[move.id]
        return {"name": name, "do": (ask,), "minutes": minutes}
    record = k.findings[move.id] if move.kind == "finding" else k.contexts[move.id]
    name, ask = f"{record.name}{where}", f"{record.ask}{where}"
    cautions = tuple(cautions_of_asking(k, move.kind, move.id, move.at, [hold.id for hold in d.holds]))
    if isinstance(record, Finding):
        minutes, cautions = record.minutes or minutes, (*cautions, *record.cautions)
    told = {"minutes": minutes, "cautions": k.cautions_for(cautions)}
    return {**told, "name": f"Still so? {name}" if again else name, "do": (*_AGAIN, ask) if again else (ask,)}


def _repair(k: Knowledge, d: Diagnosis, move: Move, of_use: tuple[str, ...]) -> dict[str, object]:
    action = k.actions[move.id]
    return {
        "name": action.name,
        "aim": _sized_for_air(k, d, move),
        "do": action.steps,
        "minutes": action.minutes,
        "tools": _needed(action.tools),
        "verify": action.verify,
        "put_back": action.put_back,
        "cautions": k.cautions_for((*action.cautions, *of_use)),
    }


def _trial(k: Knowledge, case: Case, d: Diagnosis, move: Move, of_use: tuple[str, ...]) -> dict[str, object]:
    circuit = k.circuits[move.id]
    setting = circuit.richer if move.direction is Change.RICHER else circuit.leaner
    action = k.actions[setting.action]
    return {
        "stays": stays_in(k, case, move.id, move.direction),
        "name": f"{circuit.name} {move.direction}: {_steps(circuit, move.steps)}{_where(k, move)}",
        "aim": (setting.do, *_several(move), *_sized(d, move)),
        "do": action.steps,
        "minutes": action.minutes,
        "tools": _needed(action.tools),
        "verify": circuit.verify,
        "put_back": circuit.put_back,
        "cautions": k.cautions_for((*circuit.cautions, *action.cautions, *of_use)),
    }


def _where(k: Knowledge, move: Move) -> str:
    return "" if move.at is None else f" ({k.places[move.at].name})"


def _needed(tools: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(t for t in tools if t != "none")


def _steps(circuit: Circuit, steps: float) -> str:
    return circuit.step if steps == 1 else f"{steps:g} steps (a step is {circuit.step})"


_MACHINE = {
    "strokes": ("Two-stroke or four-stroke", "Is the engine a two-stroke or a four-stroke?"),
    "family": ("Kind of carburetor", "Which kind of carburetor does it have?"),
}


def _several(move: Move) -> tuple[str, ...]:
    """How far a trial of more than one step goes, where its circuit tells of one."""
    if move.steps == 1:
        return ()
    return (f"This time {move.steps:g} such steps at once, counted from where it stands now.",)


def _sized(d: Diagnosis, move: Move) -> tuple[str, ...]:
    """What the trials and the size worked out say of how far this setting is to go."""
    lines = [b.text for b in d.brackets if b.circuit == move.id]
    for cause in d.causes:
        sized = cause.correction.sized
        if cause.circuit != move.id or cause.correction.direction is not move.direction or sized is None:
            continue
        if sized.present and sized.proposed:
            lines.append(_from_to(sized.present, sized.proposed))
    return tuple(lines[:2])


def _outcome(k: Knowledge, a: Assessment, move: Move, outcome: str, p: float, again: bool) -> WalkOutcome:
    answer = StepAnswer(
        kind=move.kind, id=move.id, at=move.at, direction=move.direction, steps=move.steps, outcome=outcome
    )
    after = dict(cause_chances(assess(k, with_answer(k, a.case, answer))))
    now = dict(cause_chances(a))
    shown = list(now)[:_LEADING]
    top = next(iter(after))
    if top not in shown:
        shown = [*shown[: _LEADING - 1], top]
    causes = tuple(
        CauseAfter.trusted(
            id=c, name=k.causes[c].name, now=round(now.get(c, 0.0), 4), after=round(after.get(c, 0.0), 4)
        )
        for c in shown
    )
    return WalkOutcome.trusted(
        outcome=outcome, probability=round(min(p, 1.0), 4), causes=causes,
        means=_AGAIN_MEANS[outcome] if again else _means(k, a.case, move, outcome, causes),
    )  # fmt: skip


_EFFECT_MEANS = {
    Effect.CURED: "That was it. Confirm it as described.",
    Effect.CAME_BACK: "It helped for a while: something else wears it off again, and that comes next.",
    Effect.BETTER: "On the way, and not all of it. Leave it so: what is left comes next.",
    Effect.NO_CHANGE: "Probably not this, or it was not done right. What is sound stays in, and you go on.",
    Effect.WORSE: "Look at the work again before anything else: a wrong part, or something left loose.",
}
_TRIAL_MEANS = {
    Effect.CURED: "That was it. Leave it so, and confirm it as described.",
    Effect.BETTER: "On the way, and not all of it. Leave it so.",
    Effect.NO_CHANGE: "Not this setting, or too small a step to feel. Put it back.",
    Effect.WORSE: "The wrong way, or not this setting. Put it back.",
    Effect.OVERSHOT: "Better at first, then the opposite fault: the right size lies between the two. Take half of it"
    " back.",
}
_STAYS = "Too small a step to feel, or right already. Leave it in: wide openings are safer so while the others are set."


_STROKES_MEAN = {
    "2": "Oil is mixed into its fuel, or a pump adds it from a tank of its own.",
    "4": "It has engine oil of its own, with a dipstick, a window or a level plug.",
}


_AGAIN = (
    "You told this before the repair. Is it still so, from what you have seen since? Do not ride it hard, or hold wide"
    " throttle, only to find out.",
)
_AGAIN_MEANS = {
    "yes": "It is left over: something else makes it, or the repair was not done right.",
    "no": "It went with the repair.",
}


def _means(k: Knowledge, case: Case, move: Move, outcome: str, causes: tuple[CauseAfter, ...]) -> str:
    if move.kind == "trial" and outcome == Effect.NO_CHANGE and stays_in(k, case, move.id, move.direction):
        return _STAYS
    if move.kind in ("check", "question"):
        return k.checks[move.id].outcomes[outcome].means
    if move.kind in ("repair", "trial"):
        return (_TRIAL_MEANS if move.kind == "trial" else _EFFECT_MEANS)[Effect(outcome)]
    if move.kind == "machine":
        return k.families[outcome].what if move.id == "family" else _STROKES_MEAN[outcome]
    raised = max(causes, key=lambda c: c.after - c.now)
    if raised.after > raised.now:
        return f"Speaks for {raised.name.lower()}."
    return "Speaks for none of the leading causes."


def _sized_for_air(k: Knowledge, d: Diagnosis, move: Move) -> tuple[str, ...]:
    """The main jet that a change of air asks for, where this repair fits it."""
    lines = []
    for cause in d.causes:
        sized = cause.correction.sized
        if sized and k.causes[cause.id].air is not None and cause.correction.action == move.id:
            if sized.present and sized.proposed:
                lines.append(_from_to(sized.present, sized.proposed))
            else:
                lines.append(f"Worked out: {sized.amount}.")
    return tuple(lines)


def _from_to(present: str, proposed: str) -> str:
    return f"From {present} the size worked out is {proposed}."


def _why(
    k: Knowledge, d: Diagnosis, found: Plan, move: Move, outcomes: tuple[WalkOutcome, ...], again: bool, left: int
) -> str:
    if move.kind == "machine":
        return "Until this is known the answer mixes several kinds of machine."
    first = _why_first(k, d, move)
    if first is not None:
        return first
    saved = found.by_repairs - move.expected_minutes
    if move.kind == "repair":
        return _why_repair(k, d, move, leads=move is found.moves[0] and left > 0)
    if move.kind == "trial":
        return _why_try(move)
    likely = sorted(outcomes, key=lambda o: -o.probability)[:2]
    leaders = [max(o.causes, key=lambda c: c.after) for o in likely]
    apart = (
        f"The answer decides between {leaders[0].name.lower()} and {leaders[1].name.lower()}."
        if len(leaders) == 2 and leaders[0].id != leaders[1].id
        else f"It firms up or weakens {leaders[0].name.lower()}."
    )
    if move.proves is not None:
        repair = k.actions[move.proves]
        apart = f"It comes before a repair that nobody makes on suspicion: {repair.name} ({repair.minutes:g} minutes)."
    if again:
        apart = "It helped and did not cure: what is gone and what is left tells what to look for now."
    if saved >= 1:
        minutes = "a minute" if round(saved) == 1 else f"{saved:.0f} minutes"
        return f"{apart} Knowing it saves about {minutes} of repairs."
    return apart


def _why_first(k: Knowledge, d: Diagnosis, move: Move) -> str | None:
    """Why a check comes before all else, if something dangerous makes it so."""
    if any(move.id in k.holds[h.id].lifted_by for h in d.holds):
        return "This comes before all else: it tells whether the engine may run."
    if any(move.id in k.holds[h.id].looks_first for h in d.holds):
        return "This comes before all else: it tells where the danger comes from."
    return None


def _why_repair(k: Knowledge, d: Diagnosis, move: Move, leads: bool) -> str:
    if any(c.id == d.do_now and k.causes[c.id].air and c.correction.action == move.id for c in d.causes):
        return "The change of air is known, and colors all that is seen beside it: what is left is judged after it."
    cures = f"It cures it with a chance of {move.success:.0%}"
    return f"{cures}, and no cheap question left is worth its minutes." if leads else f"{cures}."


_ITS_TURN = {
    True: "What was fitted may put several settings off, so each is felt in turn: here it is likeliest lean.",
    False: "What was fitted may put several settings off, so each is felt in turn: here it is likeliest rich. Feel it"
    " at that opening only, and do not hold wide throttle: it gets leaner there, too.",
}


_FOR_OTHERS = (
    "Another setting is likelier off, on the rich side. Nothing may be leaned while wide openings may run lean, so what"
    " feeds them is made richer first."
)


def _why_try(move: Move) -> str:
    if move.goes_on:
        return f"It helped, so go on the same way: this step cures it with a chance of {move.success:.0%}."
    if move.for_others:
        return _FOR_OTHERS
    if move.in_round:
        return _ITS_TURN[move.direction is Change.RICHER]
    way = " Richer first: too rich only fouls, too lean breaks." if move.direction is Change.RICHER else ""
    return f"It can be undone, cures it with a chance of {move.success:.0%}, and tells rich from lean.{way}"
