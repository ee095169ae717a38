"""Items about what to check next, each option worth what it is expected to tell."""

from __future__ import annotations

from collections.abc import Sequence

from carbdiag.case_schema import Case
from carbdiag.diagnosis import next_steps
from carbdiag.diagnosis_schema import NextStep
from carbdiag.quiz.bench import Fact, possible
from carbdiag.quiz.draft import Draft, DraftOption, cited
from carbdiag.quiz.kinds import Work
from carbdiag.quiz.stories import cause_tags, tell
from carbdiag.quiz.told import Told

#: Shares of the best check's worth below this earn nothing.
_LEAST_CREDIT = 0.25
_RANKED = 20


def best_check(w: Work) -> Draft | None:
    """A fresh complaint; the key is the check with the largest expected gain per minute."""
    k, b = w.k, w.bench
    picked = w.machine_with_a_cause()
    if picked is None:
        return None
    cause, machine = picked
    facts = tell(b, machine, cause.id, w.dice, 2)
    if not facts:
        return None
    told = Told(w, machine, facts)
    steps = checks_ranked(w, told.case)
    options = check_options(w, steps)
    if options is None:
        return None
    return told.choice(
        options,
        about={f"next:{steps[0].id}", *told.topics},
        tags=cause_tags(k, cause.id),
        cautions=k.checks[steps[0].id].cautions,
        list="; ".join(
            f"{s.name} {s.gain_per_minute / steps[0].gain_per_minute:.0%} ({s.minutes:g} min)" for s in steps[:5]
        ),
    )


def checks_ranked(w: Work, case: Case) -> tuple[NextStep, ...]:
    """The checks worth doing next, best first; what the present belief makes dangerous is not among them.

    None where the best can be done only on machines that the stem does not name, or comes first for safety alone.
    """
    steps = [s for s in next_steps(case, w.k, _RANKED) if s.kind == "check"]
    if any(s.gain_per_minute > steps[0].gain_per_minute for s in steps):
        return ()
    fit = [s for s in steps if possible(w.bench, case.machine, Fact("check", s.id, s.at, ""))]
    return tuple(fit) if fit[:1] == steps[:1] else ()


def check_options(w: Work, steps: Sequence[NextStep]) -> tuple[DraftOption, ...] | None:
    """The best check and some that clearly tell less for their minutes, the nearest of those; None if it is close."""
    if len(steps) < 3:
        return None
    best = steps[0]
    behind = [s for s in steps[1:] if s.gain_per_minute * w.kind.ratio <= best.gain_per_minute]
    options = w.with_rivals(check_option(w, best, best), [check_option(w, s, best) for s in behind])
    return options if len(options) >= 3 else None


def check_option(w: Work, step: NextStep, best: NextStep) -> DraftOption:
    """A check as an option; its credit is its gain per minute beside the best one's."""
    worth = step.gain_per_minute / best.gain_per_minute
    tells = ", ".join(f"{o.outcome.replace('_', ' ')} ({o.probability:.0%})" for o in step.outcomes)
    text = (
        f"{step.do} Expected {step.gain_bits:.2f} bit in {step.minutes:g} min, hazards apart: {worth:.0%} of the best"
        f" check's worth. It can show: {tells}."
    )
    credit = round(worth, 2) if worth >= _LEAST_CREDIT else 0.0
    return DraftOption(step.name, text, step.gain_per_minute, credit, cited(w.k.checks[step.id].sources))
