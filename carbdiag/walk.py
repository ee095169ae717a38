"""The walk to the cure: a pure function from a case to what to do next and the diagnosis so far."""

from __future__ import annotations

from carbdiag.case_check import check_case
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment, likeliest
from carbdiag.casework.machine_kinds import with_family_id
from carbdiag.diagnosis import diagnose, with_change_of_mind
from carbdiag.diagnosis_schema import CauseBelief, Diagnosis
from carbdiag.errors import CaseError, inside, must_be
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import outlook
from carbdiag.plan import Move, Plan, plan
from carbdiag.records.circuits import Circuit
from carbdiag.records.findings import Finding
from carbdiag.safety import cause_chances, not_looked, safety_of
from carbdiag.scales import probability
from carbdiag.setting_trials import stays_in
from carbdiag.terms import Change, Effect
from carbdiag.walk_answer import allowed_outcomes, asked_so_far, machine_is_known, with_answer
from carbdiag.walk_schema import (
    Advice,
    CauseAfter,
    CauseLeft,
    StepAnswer,
    Walk,
    WalkOutcome,
    WalkRequest,
    WalkStep,
)

#: Causes whose chance after each outcome is shown.
_LEADING = 3
_SURE_OF_WORKSHOP = 0.5
#: A repair that is less likely to cure is called a try.
_WORTH_CALLING_A_FIX = 0.25


def walk(request: WalkRequest, knowledge: Knowledge | None = None) -> Walk:
    """Take an answer if there is one, and say what to do next.

    Raises:
        CaseError: the case, or the answer, cannot be used; every problem is listed.
        KnowledgeError: the shipped knowledge cannot be read.
    """
    must_be(request, WalkRequest)
    k = the_knowledge(knowledge)
    case = with_family_id(k, request.case)
    with inside("case"):
        check_case(k, case)
    case = case if request.answer is None else with_answer(k, case, request.answer)
    a = assess(k, case)
    safety = safety_of(a)
    belief = likeliest(a)
    look = outlook(belief)
    d = diagnose(case, k, steps=0)
    if look is not None:
        causes = with_change_of_mind(k, look, open_candidates(belief, a.case, safety.on), d.causes)
        d = Diagnosis.trusted(**{**d.__dict__, "causes": causes})
    asked = asked_so_far(case)
    left = max(request.asks - asked, 0)
    found = Plan((), 0.0, ()) if _ended(case) else plan(a, look, safety, request.steps, left)
    moves = () if _ended(case) else _moves(a, found, request.steps, left)
    steps = tuple(_step(k, a, d, found, m, left) for m in moves)
    advice = _advice(k, a, d, found, steps, left)
    waits = None if found.waits is None else _WAITS.format(part=k.circuits[found.waits].name.lower())
    advice = Advice.trusted(**{**advice.__dict__, "waits": waits, "tell": _TELL if _is_better(case) else None})
    return Walk.trusted(
        edition=k.edition,
        case=case,
        asked=asked,
        asks_left=left,
        advice=advice,
        steps=steps,
        diagnosis=d,
        left=_left(k, case, found),
    )


def _left(k: Knowledge, case: Case, found: Plan) -> tuple[CauseLeft, ...]:
    """The leading causes of what is still wrong, once something was repaired."""
    if not any(t.do for e in case.history() for t in e.trials):
        return ()
    return tuple(
        CauseLeft.trusted(id=c, name=k.causes[c].name, probability=round(min(p, 1.0), 4))
        for c, p in found.still_wrong[:_LEADING]
    )


def _ended(case: Case) -> bool:
    """Whether the last thing told is a change that cured it."""
    last = case.history()[-1]
    return bool(last.trials) and last.trials[-1].effect is Effect.CURED


def _is_better(case: Case) -> bool:
    """Whether the last thing told is a change that made it better and did not cure it: what is left nobody has said."""
    last = case.history()[-1]
    return bool(last.trials) and last.trials[-1].effect is Effect.BETTER and not last.trials[-1].put_back


def _moves(a: Assessment, found: Plan, most: int, left: int) -> tuple[Move, ...]:
    """The moves to offer; what kind of machine it is comes first, as long as it is in doubt."""
    machine = []
    for question in ("strokes", "family") if left else ():
        if machine_is_known(a.case, question):
            continue
        chances: dict[str, float] = {}
        for b in a.beliefs:
            value = b.model.family.id if question == "family" else str(b.model.strokes)
            chances[value] = chances.get(value, 0.0) + b.weight
        if max(chances.values()) >= a.knowledge.scales.decision.certain_kind:
            continue
        possible = [o for o in allowed_outcomes(a.knowledge, "machine", question) if _fits(a, question, o)]
        if not possible:
            continue
        outcomes = tuple((o, chances.get(o, 0.0)) for o in sorted(possible, key=lambda o: -chances.get(o, 0.0)))
        cost = a.knowledge.scales.decision.ask_minutes
        machine.append(Move("machine", question, None, None, 1.0, cost, found.by_repairs, 0.0, 0.0, outcomes))
    return (*machine, *found.moves)[:most]


def _fits(a: Assessment, question: str, value: str) -> bool:
    """Whether what is known of the machine, and what was done with it, allows this answer."""
    machine, families = a.case.machine, a.knowledge.families
    if question == "family":
        possible = machine.strokes is None or machine.strokes in families[value].strokes
    else:
        possible = machine.family not in families or int(value) in families[machine.family].strokes
    if not possible:
        return False
    known = machine.model_copy(update={question: value if question == "family" else int(value)})
    try:
        check_case(a.knowledge, a.case.model_copy(update={"machine": known}))
    except CaseError:  # a check was done, or a part moved, that such a machine has not got
        return False
    return True


# ---------------------------------------------------------------------------------------------------------
# One step in words


def _step(k: Knowledge, a: Assessment, d: Diagnosis, found: Plan, move: Move, left: int) -> WalkStep:
    again = move.kind == "finding" and (move.id, move.at) in likeliest(a).again
    outcomes = tuple(_outcome(k, a, move, outcome, p, again) for outcome, p in move.outcomes)
    common = {
        "kind": move.kind,
        "id": move.id,
        "at": move.at,
        "direction": move.direction,
        "by_steps": move.steps,
        "outcomes": outcomes,
        "expected_minutes": round(move.expected_minutes, 1),
        "cures": round(min(move.success, 1.0), 4),
        "why": _why(k, d, found, move, outcomes, again, left),
    }
    where = "" if move.at is None else f" ({k.places[move.at].name})"
    # a propeller turns with every engine that is run beside it
    of_use = k.uses[a.case.machine.use].cautions if a.case.machine.use is not None else ()
    if move.kind == "repair":
        action = k.actions[move.id]
        return WalkStep.trusted(
            **common, name=action.name, aim=_sized_for_air(k, d, move), do=action.steps, minutes=action.minutes,
            tools=_needed(action.tools), verify=action.verify, put_back=action.put_back,
            cautions=k.cautions_for((*action.cautions, *of_use)),
        )  # fmt: skip
    if move.kind == "trial":
        circuit = k.circuits[move.id]
        setting = circuit.richer if move.direction is Change.RICHER else circuit.leaner
        action = k.actions[setting.action]
        return WalkStep.trusted(
            **common, stays=stays_in(k, a.case, move.id, move.direction),
            name=f"{circuit.name} {move.direction}: {_steps(circuit, move.steps)}{where}",
            aim=(setting.do, *_several(move), *_sized(d, move)), do=action.steps,
            minutes=action.minutes, tools=_needed(action.tools), verify=circuit.verify, put_back=circuit.put_back,
            cautions=k.cautions_for((*circuit.cautions, *action.cautions, *of_use)),
        )  # fmt: skip
    if move.kind in ("check", "question"):
        check = k.checks[move.id]
        running = of_use if check.needs_running and check.kind == "check" else ()
        return WalkStep.trusted(
            **common, name=f"{check.name}{where}", do=(check.do,), minutes=check.minutes,
            tools=_needed(check.tools), cautions=k.cautions_for((*check.cautions, *running)),
        )  # fmt: skip
    minutes = k.scales.decision.ask_minutes
    if move.kind == "machine":
        name, ask = _MACHINE[move.id]
        return WalkStep.trusted(**common, name=name, do=(ask,), minutes=minutes)
    record = k.findings[move.id] if move.kind == "finding" else k.contexts[move.id]
    name, ask = f"{record.name}{where}", f"{record.ask}{where}"
    cautions = k.cautions_for(record.cautions) if isinstance(record, Finding) else ()
    if isinstance(record, Finding):
        minutes = record.minutes or minutes
    if again:
        return WalkStep.trusted(
            **common, name=f"Still so? {name}", do=(*_AGAIN, ask), minutes=minutes, cautions=cautions
        )  # fmt: skip
    return WalkStep.trusted(**common, name=name, do=(ask,), minutes=minutes, cautions=cautions)


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
_WAITS = (
    "Probably still too rich: the {part}. A leaner step of it waits, for after it wide openings may run lean, and that"
    " breaks engines. With standard filter and exhaust, in the air it was made for, it may go back to the book's"
    " setting and no further; beyond that, have the mixture measured first."
)

_TELL = (
    "Better, and not cured. Tell what is left if you can: what it still does, and at which opening (such as: it still"
    " bogs at half throttle). Else answer the step below."
)

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
    if any(move.id in k.holds[h.id].lifted_by for h in d.holds):
        return "This comes before all else: it tells whether the engine may run."
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


# ---------------------------------------------------------------------------------------------------------
# Where the walk stands


def _advice(  # noqa: PLR0911 - one return a place to stand
    k: Knowledge, a: Assessment, d: Diagnosis, found: Plan, steps: tuple[WalkStep, ...], left: int
) -> Advice:
    if _ended(a.case):
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
        return _no_more(d, tuple(dict.fromkeys(_fact(k, *f) for f in found.facts)))
    if d.unexplained.flag and not left:
        facts = tuple(dict.fromkeys(_fact(k, *f) for f in found.facts))
        return Advice.trusted(kind="unexplained", text=f"{d.unexplained.text} {_FACTS}", facts=facts)
    if first.kind == "repair":
        return _fix(k, d, first)
    if first.kind == "trial":
        return Advice.trusted(kind="try_setting", text=f"Try this setting, feel it, and say what it did: {first.name}.")
    return Advice.trusted(kind="ask", text=f"Next: {first.name}{'' if first.name.endswith('?') else '.'}")


_FACTS = "These facts would help most."
_MEASURE = (
    "Several settings are probably off together, and what can be felt of each was tried. Have the mixture measured at"
    " every opening, by a workshop with a brake or a lambda probe, and set them by that. Until then hold no wide"
    " throttle where it may run lean."
)


def _no_more(d: Diagnosis, facts: tuple[str, ...]) -> Advice:
    """Nothing open is worth a rider's time: a workshop where it is likely its job, else the facts that would help."""
    workshop = [c for c in d.causes if c.workshop]
    if sum(c.probability for c in workshop) >= _SURE_OF_WORKSHOP:
        return _to_workshop(workshop)
    then = _FACTS if facts else "A workshop with a fresh eye is the next step."
    text = f"Nothing known here explains it well enough to spend more of your time on. {then}"
    return Advice.trusted(kind="unexplained", text=text, facts=facts)


def _fix(k: Knowledge, d: Diagnosis, step: WalkStep) -> Advice:
    top = d.causes[0]
    if top.workshop and top.probability >= _SURE_OF_WORKSHOP:
        return _to_workshop([top])
    cause = _cured_most(k, d, step.id)
    against = f", against {cause.name.lower()}" if cause else ""
    head = "Fix this and confirm" if step.cures >= _WORTH_CALLING_A_FIX else "Unlikely, and still the best left to try"
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
