"""An answer to a step becomes part of the case; nothing else is remembered of a walk."""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import ValidationError

from carbdiag.case_check import check_case, steps_of_kind
from carbdiag.case_schema import Case, CheckResult, ContextReport, Epoch, FindingReport, Trial, Unanswered
from carbdiag.casework.machine_kinds import with_family_id
from carbdiag.errors import CaseError, Problem, nearest
from carbdiag.field_problems import field_problems
from carbdiag.knowledge import Knowledge
from carbdiag.setting_trials import stays_in
from carbdiag.terms import REPAIR_EFFECTS, SETTING_EFFECTS, UNKNOWN_FAMILY, Effect, Status
from carbdiag.walk_schema import UNKNOWN, StepAnswer

_KEPT = (Effect.CURED, Effect.BETTER, Effect.CAME_BACK)


def with_answer(k: Knowledge, case: Case, answer: StepAnswer) -> Case:
    """The case with one more answer in it.

    What is observed after a change begins a new epoch. "Don't know" and "can't" are kept apart and count as nothing.

    Raises:
        CaseError: the case is wrong as it stands, or the answer does not fit it (field `answer`).
    """
    case = with_family_id(k, case)
    check_case(k, case)
    problems = tuple(_problems(k, answer))
    if problems:
        raise CaseError(problems)
    try:
        new = _add(k, case, answer)
        # what a case may hold at most is checked as for any other
        new = Case.model_validate(new.model_dump(by_alias=True))
        check_case(k, new)
    except CaseError as error:
        unfit = [Problem("answer", f"{p.field}: {p.message}", p.value, p.allowed) for p in error.problems]
        raise CaseError(unfit) from None
    except ValidationError as error:
        unfit = list(field_problems(error.errors(include_url=False), Case))
        raise CaseError(Problem("answer", message) for message in dict.fromkeys(p.message for p in unfit)) from None
    return new


def asked_so_far(case: Case) -> int:
    """How many questions and checks of a walk the case has answered, "don't know" included."""
    told = sum(sum(f.asked for f in e.findings) + sum(c.asked for c in e.checks) for e in case.history())
    skipped = sum(s.asked and s.kind not in ("repair", "trial") for s in case.unanswered)
    return told + sum(c.asked for c in case.contexts) + skipped


def allowed_outcomes(k: Knowledge, kind: str, record: str) -> tuple[str, ...]:
    """What may be answered to a step of a kind, without `unknown`; the record must exist."""
    if kind in ("check", "question"):
        return tuple(k.checks[record].outcomes)
    if kind == "machine":
        return tuple(k.families) if record == "family" else ("2", "4")
    by_kind = {"repair": REPAIR_EFFECTS, "trial": SETTING_EFFECTS}
    return tuple(e.value for e in by_kind[kind]) if kind in by_kind else ("yes", "no")


def _problems(k: Knowledge, answer: StepAnswer) -> Iterable[Problem]:
    names = tuple(steps_of_kind(k, answer.kind))
    if answer.id not in names:
        yield Problem("answer.id", f"unknown {answer.kind} {answer.id!r}", answer.id, names, nearest(answer.id, names))
        return
    outcomes = (*allowed_outcomes(k, answer.kind, answer.id), UNKNOWN)
    if answer.outcome not in outcomes:
        yield Problem(
            "answer.outcome", f"{answer.id} cannot give {answer.outcome!r}", answer.outcome, outcomes,
            nearest(answer.outcome, outcomes),
        )  # fmt: skip
    sizes = answer.from_size is not None and answer.to_size is not None
    if answer.kind == "trial" and answer.direction is None and not sizes:
        yield Problem("answer.direction", "a change of setting needs its direction", "", ("richer", "leaner"))
    if answer.kind != "trial" and answer.direction is not None:
        yield Problem("answer.direction", "belongs to a trial of a setting", answer.direction)
    if answer.kind not in ("check", "question", "finding", "trial") and answer.at is not None:
        yield Problem("answer.at", f"a {answer.kind} is not tied to an opening", answer.at)


def _add(k: Knowledge, case: Case, answer: StepAnswer) -> Case:
    at, sure = answer.at, answer.certainty
    if answer.outcome == UNKNOWN:
        skipped = Unanswered(kind=answer.kind, id=answer.id, at=at, direction=answer.direction)
        return case.model_copy(update={"unanswered": (*case.unanswered, skipped)})
    if answer.kind == "machine":
        value: object = answer.outcome if answer.id == "family" else int(answer.outcome)
        return case.model_copy(update={"machine": case.machine.model_copy(update={answer.id: value})})
    status = Status.PRESENT if answer.outcome == "yes" else Status.DENIED
    if answer.kind == "context":
        told = ContextReport(context=answer.id, status=status, asked=True)
        return case.model_copy(update={"contexts": (*case.contexts, told)})
    history = case.history()
    afresh = (*history, Epoch()) if history[-1].trials else history
    if answer.kind == "finding":
        report = FindingReport(
            finding=answer.id, at=(at,) if at else (), status=status, certainty=sure, asked=True
        )
        return _with(case, afresh, "findings", report)
    if answer.kind in ("check", "question"):
        result = CheckResult(check=answer.id, outcome=answer.outcome, at=at, certainty=sure, asked=True)
        return _with(case, afresh, "checks", result)
    effect = Effect(answer.outcome)
    unfelt = effect is Effect.NO_CHANGE and answer.kind == "trial"
    stays = effect in _KEPT or (unfelt and stays_in(k, case, answer.id, answer.direction))
    return _with(case, history, "trials", _trial(answer, effect, stays))


def _trial(answer: StepAnswer, effect: Effect, stays: bool) -> Trial:
    if answer.kind == "repair":
        return Trial(do=answer.id, how=answer.how, effect=effect)
    return Trial(
        change=answer.id,
        direction=answer.direction,
        steps=answer.steps,
        from_size=answer.from_size,
        to_size=answer.to_size,
        at=answer.at,
        effect=effect,
        put_back=answer.put_back if answer.put_back is not None else not stays,
    )


def _with(case: Case, history: tuple[Epoch, ...], field: str, told: object) -> Case:
    """The case with one statement more in the last epoch of its history."""
    last = history[-1]
    last = last.model_copy(update={field: (*getattr(last, field), told)})
    if not case.epochs and len(history) == 1:
        return case.model_copy(update={field: getattr(last, field)})
    nothing: dict[str, object] = dict.fromkeys(("findings", "checks", "readings", "trials"), ())
    return case.model_copy(update={**nothing, "epochs": (*history[:-1], last)})


def machine_is_known(case: Case, question: str) -> bool:
    """Whether a question about the machine is answered, or was asked in vain."""
    known = case.machine.family != UNKNOWN_FAMILY if question == "family" else case.machine.strokes is not None
    return known or any(s.kind == "machine" and s.id == question for s in case.unanswered)
