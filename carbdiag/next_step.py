"""Which check, question or observation to do next: expected gain per minute, hazards counted as minutes."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from carbdiag.case_schema import Case
from carbdiag.casework.believed import Belief
from carbdiag.deciding import Likely, deciding
from carbdiag.diagnosis_schema import NextStep, OutcomeMeaning
from carbdiag.engine_state import visited
from carbdiag.knowledge import Knowledge
from carbdiag.open_candidates import cautions_of_asking, open_candidates
from carbdiag.outlook import Outlook
from carbdiag.records.findings import Finding
from carbdiag.safety import first_looks

#: How many of the best steps are looked at for whether they decide, beside the checks of what leads.
_BEST = 60

#: A step that tells less than this many bits a minute is none.
_LEAST = 1e-4


def rank_steps(
    belief: Belief,
    case: Case,
    on: Collection[str],
    most: int,
    look: Outlook | None,
    likely: Likely | None = None,
) -> tuple[NextStep, ...]:
    """The best next steps by expected bits about the cause, per minute, of those that are open.

    Before them come the checks that tell whether an engine may run at all, where that is in question. Where a cause or
    a group is `likely`, the checks and questions that may well decide about it come first, by their chance to, per
    minute: nobody is asked for one more sign where a look tells.
    """
    if look is None:
        return ()
    k, c = belief.model.knowledge, look.candidates
    been, seldom = visited(k, case), k.scales.decision.answered_unvisited
    places, at = c.places
    answered = [seldom if p and p not in been and k.places[p].running else 1.0 for p in places]
    rate = look.gain / c.minutes * np.array(answered).take(at)
    is_open = open_candidates(belief, case, on)
    clusters: set[str] = set()
    chosen: list[int] = []
    kinds: dict[str, int] = {}
    limits = k.scales.decision.most_of_kind
    looks = first_looks(k, case, frozenset(on))
    first = sorted((t for t, (check, _) in enumerate(c.ids) if check in looks), key=lambda t: looks.index(c.ids[t][0]))
    ranked = np.argsort(-rate, kind="stable").tolist()
    if likely is not None:
        ranked = list(dict.fromkeys((*deciding(look, likely, ranked[:_BEST]), *ranked)))
    for t in (*first, *ranked):
        if len(chosen) == most or (rate[t] <= _LEAST and t not in first):
            break
        if kinds.get(c.kind[t], 0) >= limits.get(c.kind[t], most):
            continue
        if c.cluster[t] in clusters or not is_open(t):
            continue
        clusters.add(c.cluster[t])
        kinds[c.kind[t]] = kinds.get(c.kind[t], 0) + 1
        chosen.append(t)
    return tuple(_step(k, look, t, float(rate[t]), on) for t in chosen)


def _step(k: Knowledge, look: Outlook, t: int, rate: float, on: Collection[str]) -> NextStep:
    c, given = look.candidates, look.given(t)
    record, place = c.ids[t]
    marginal = (given @ look.groups.weights).tolist()
    causes = [look.most_raised(row, p) for row, p in zip(given, marginal, strict=True)]
    raised = [k.causes[c].name.lower() if c else "nothing wrong" for c in causes]
    kind = c.kind[t]
    if kind in ("check", "question"):
        check = k.checks[record]
        names = list(check.outcomes)
        means = [o.means for o in check.outcomes.values()]
        name, do, minutes, tools = check.name, check.do, check.minutes, check.tools
        cautions = check.cautions
    else:
        names = ["yes", "no"]
        means = [f"speaks for {raised[0]}", f"speaks for {raised[1]}"]
        ask = k.findings[record] if kind == "finding" else k.contexts[record]
        name, do, minutes, tools, cautions = ask.name, ask.ask, k.scales.decision.ask_minutes, (), ()
        if isinstance(ask, Finding):
            minutes, cautions = ask.minutes or minutes, ask.cautions
    if place is not None:
        where = k.places[place].name
        name = f"{name} ({where})"
        if kind == "finding" and k.places[place].kind == "band":
            do = f"{do} ({where})"
    likely = marginal.index(max(marginal))
    split = [name for n, name in enumerate(raised) if n != likely and name != raised[likely]]
    return NextStep.trusted(
        kind=kind,
        id=record,
        at=place,
        name=name,
        do=do,
        minutes=minutes,
        tools=tuple(x for x in tools if x != "none"),
        outcomes=tuple(
            OutcomeMeaning.trusted(outcome=o, means=m, probability=round(p, 4), raises=c)
            for o, m, p, c in zip(names, means, marginal, causes, strict=True)
        ),
        gain_bits=round(float(look.gain[t]), 4),
        gain_per_minute=round(rate, 4),
        why=f"It helps to tell {split[0]} from {raised[likely]}." if split else "It narrows the field.",
        cautions=k.cautions_for((*cautions_of_asking(k, kind, record, place, on), *cautions)),
    )
