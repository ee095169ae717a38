"""The walk to the cure: a pure function from a case to what to do next and the diagnosis so far."""

from __future__ import annotations

from carbdiag.case_check import check_case
from carbdiag.case_schema import Case
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment, likeliest
from carbdiag.casework.machine_kinds import with_family_id
from carbdiag.diagnosis import diagnose, with_change_of_mind
from carbdiag.diagnosis_schema import Diagnosis
from carbdiag.errors import CaseError, inside, must_be
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.moves import Move
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import outlook
from carbdiag.plan import Plan, plan
from carbdiag.safety import safety_of
from carbdiag.walk_advice import advice_on, has_ended
from carbdiag.walk_answer import allowed_outcomes, asked_so_far, machine_is_known, with_answer
from carbdiag.walk_schema import CauseLeft, Walk, WalkRequest
from carbdiag.walk_steps import step_in_words

#: Causes of what is left over that are named.
_LEADING = 3


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
    ended = has_ended(case)
    found = Plan((), 0.0, ()) if ended else plan(a, look, safety, request.steps, left)
    moves = () if ended else _moves(a, found, request.steps, left)
    steps = tuple(step_in_words(k, a, d, found, m, left) for m in moves)
    return Walk.trusted(
        edition=k.edition,
        case=case,
        asked=asked,
        asks_left=left,
        advice=advice_on(k, a, d, found, steps, left),
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
