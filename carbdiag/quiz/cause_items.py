"""Items about causes: the most likely one, what would rule one out, and what tells two look-alikes apart."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from carbdiag.answers.phrases import capital, small
from carbdiag.case_schema import Machine
from carbdiag.explanation import likelihoods, reasons
from carbdiag.quiz.bench import Believed, Fact, average, case_of, outcomes_of, possible, two_way_bits
from carbdiag.quiz.draft import Draft, DraftOption, cited, fill
from carbdiag.quiz.kinds import Work, percent
from carbdiag.quiz.stories import (
    cause_tags,
    check_words,
    closed,
    fact_tags,
    goes_not_with,
    machine_for,
    machine_words,
    makes_sense,
    result_words,
    sharpen,
    tell,
)
from carbdiag.records.causes import Cause

#: A result that comes less often than this, whatever the cause, is nothing to ask about.
_MEETS = 0.02
#: A check must come out this differently under two causes, in bits, to tell them apart.
_TELLS_BITS = 0.15


def told_case(
    w: Work, ratio: float, suits: Callable[[Cause], bool] = lambda _: True
) -> tuple[str, Machine, tuple[Fact, ...], Believed] | None:
    """A cause, a machine, and statements under which the cause is likeliest by the ratio."""
    b = w.bench
    picked = w.machine_with_a_cause(suits)
    if picked is None:
        return None
    cause, machine = picked[0].id, picked[1]
    facts = tell(b, machine, cause, w.dice, 2 + w.dice.below(2))
    if len(facts) < 2:
        return None
    least = w.rules.top_cause_at_least
    facts, found = sharpen(b, machine, facts, cause, w.dice, ratio, least)
    best = int(found.by_cause.argmax())
    if b.model.cause_ids[best] != cause or found.by_cause[best] < least:
        return None
    return cause, machine, facts, found


def likely_cause(w: Work) -> Draft | None:
    """The key is the likeliest cause; the others are its nearest rivals that lie far enough behind."""
    k, b = w.k, w.bench
    story = told_case(w, w.kind.ratio)
    if story is None:
        return None
    cause, machine, facts, found = story
    options = cause_options(w, found, cause)
    if len(options) < 3:
        return None
    listed = ", ".join(
        f"{small(k.causes[c].name)} {percent(p)}"
        for c, p in sorted(zip(b.model.cause_ids, found.by_cause.tolist(), strict=True), key=lambda i: -i[1])[:4]
    )
    return Draft(
        kind=w.kind,
        form="choice",
        stem=w.stem(machine_words(k, machine), facts),
        ask=fill(w.ask()),
        explanation=fill(w.kind.explains, cause=k.causes[cause].name, list=listed),
        about=frozenset({f"cause:{cause}", *(f"{f.record} at {f.at}" for f in facts)}),
        tags=w.machine_tags | fact_tags(facts) | cause_tags(k, cause),
        options=options,
        cautions=k.causes[cause].cautions,
        case=case_of(machine, facts),
        usual=tuple(float(b.usual[b.row_of[f]]) for f in facts),
    )


def cause_options(w: Work, found: Believed, cause: str) -> tuple[DraftOption, ...]:
    """The cause first, then near rivals that it leads by the ratio of the kind."""
    k, b = w.k, w.bench
    ids = b.model.cause_ids
    top = float(found.by_cause[b.cause_number(cause)])
    order = [ids[int(n)] for n in np.argsort(-found.by_cause, kind="stable")]
    rivals = [c for c in order if c != cause and found.by_cause[b.cause_number(c)] * w.kind.ratio <= top]
    near = rivals[: w.rules.options + 5]
    compared = likelihoods(found.belief, (cause, *near), found.by_state)

    def option(c: str, credit: float) -> DraftOption:
        p = float(found.by_cause[b.cause_number(c)])
        other = near[0] if c == cause else cause
        speaking, against = reasons(found.belief, compared, c, other, small(k.causes[other].name))
        said = [r.text for r in (speaking if c == cause else against)][:2]
        words = f" {'. '.join(capital(s) for s in said)}." if said else ""
        text = f"{k.causes[c].summary} Chance here: {percent(p)}.{words}"
        return DraftOption(k.causes[c].name, text, p, credit, cited(k.causes[c].sources))

    return w.with_rivals(option(cause, 1.0), [option(c, 0.0) for c in near])


# ---------------------------------------------------------------------------------------------------------


def rules_out(w: Work) -> Draft | None:
    """A suspicion; the key is the result that it gives far more seldom than its rivals do."""
    k, b = w.k, w.bench
    story = told_case(w, 1.0)
    if story is None:
        return None
    cause, machine, facts, found = story
    mine = b.cause_number(cause)
    rest = found.by_cause.copy()
    rest[mine] = 0.0
    under, elsewhere = b.chance[:, mine], average(b.chance, rest)
    asked = {(f.record, f.at) for f in facts} | {(f.record, None) for f in facts}
    rows = [
        n
        for n, f in enumerate(b.facts)
        if f.kind == "check"
        and k.checks[f.record].kind == "check"
        and elsewhere[n] >= _MEETS
        and possible(b, machine, f)
        and makes_sense(k, f, facts)
        and (f.record, None) not in asked
    ]
    against = {n: float(elsewhere[n] / under[n]) for n in rows}
    strong = sorted((n for n in rows if elsewhere[n] >= 0.15 and against[n] >= 3.0), key=lambda n: -against[n])[:6]
    if not strong:
        return None
    key = w.dice.pick(strong)
    speaking = {s.check for s in k.causes[cause].checks}
    near = sorted(
        (n for n in rows if against[n] * w.kind.ratio <= against[key] and against[n] <= w.rules.may_speak_against),
        key=lambda n: (b.facts[n].record not in speaking, -against[n]),
    )
    best_of: dict[str, int] = {}
    for n in near:
        best_of.setdefault(b.facts[n].record, n)

    def option(n: int, credit: float) -> DraftOption:
        fact = b.facts[n]
        check = k.checks[fact.record]
        text = (
            f"{closed(check.outcomes[fact.value].means)} Comes in {percent(float(under[n]))} of cases of"
            f" {small(k.causes[cause].name)}, in {percent(float(elsewhere[n]))} of its rivals here."
        )
        return DraftOption(result_words(k, fact), text, against[n], credit, cited(check.sources))

    options = w.with_rivals(option(key, 1.0), [option(n, 0.0) for n in [*best_of.values()][: w.rules.options + 5]])
    if len(options) < 3:
        return None
    fact = b.facts[key]
    listed = (
        f"“{result_words(k, fact)}” comes {against[key]:.0f} times as often with the rivals here as with"
        f" {small(k.causes[cause].name)}"
    )
    return Draft(
        kind=w.kind,
        form="choice",
        stem=w.stem(machine_words(k, machine),
            facts,
            cause=small(k.causes[cause].name),
        ),
        ask=fill(w.ask()),
        explanation=fill(w.kind.explains, list=listed + "."),
        about=frozenset({f"against:{cause}", f"{fact.record}: {fact.value}"}),
        tags=w.machine_tags | fact_tags(facts) | cause_tags(k, cause),
        options=options,
        cautions=k.checks[fact.record].cautions,
        sources=cited(k.causes[cause].sources),
        case=case_of(machine, facts),
        usual=(float(b.usual[key]),),
    )


# ---------------------------------------------------------------------------------------------------------


def look_alikes(w: Work) -> Draft | None:
    """Two causes that are mistaken for each other; the key is the check that tells them apart best."""
    k, b = w.k, w.bench
    causes = frozenset(w.causes())
    pairs = [(c, m) for c, m in b.mistaken if c in causes]
    if not pairs:
        return None
    cause, mistaken = w.dice.pick(pairs)
    machine = machine_for(b, k.causes[cause], w.dice)
    one, two = b.cause_number(cause), b.cause_number(mistaken.cause)
    shared = _shared_signs(w, machine, one, two)
    bits = _check_bits(w, machine, shared, one, two)
    told_by = mistaken.told_apart_by
    key = max(((c, p) for c, p in bits if c == told_by), key=lambda i: bits[i], default=None)
    if len(shared) < 2 or key is None or bits[key] < _TELLS_BITS:
        return None
    speaking = {s.check for c in (cause, mistaken.cause) for s in k.causes[c].checks}
    best_place: dict[str, tuple[str, str | None]] = {}
    for check in bits:
        if check[0] not in best_place or bits[check] > bits[best_place[check[0]]]:
            best_place[check[0]] = check
    near = sorted(
        (c for c in best_place.values() if c[0] != told_by and bits[c] * w.kind.ratio <= bits[key]),
        key=lambda c: (-round(bits[c], 2), c[0] not in speaking),
    )

    def option(check: tuple[str, str | None], credit: float) -> DraftOption:
        record = k.checks[check[0]]
        usual = [_usual_outcome(w, check, n) for n in (one, two)]
        text = f"Usual result with (1): {usual[0]}; with (2): {usual[1]}. Tells them apart by {bits[check]:.2f} bit."
        return DraftOption(check_words(k, *check), text, bits[check], credit, cited(record.sources))

    options = w.with_rivals(option(key, 1.0), [option(c, 0.0) for c in near[: w.rules.options + 5]])
    if len(options) < 3:
        return None
    first, second = k.causes[cause], k.causes[mistaken.cause]
    separating = k.checks[told_by]
    listed = (
        f"(1) {first.name}: {first.summary} (2) {second.name}: {second.summary} {separating.name}: {separating.do}"
        f" With (1) it usually gives: {_usual_outcome(w, key, one)}; with (2): {_usual_outcome(w, key, two)}."
    )
    return Draft(
        kind=w.kind,
        form="choice",
        stem=w.stem(machine_words(k, machine),
            shared,
            cause=small(first.name),
            other=small(second.name),
        ),
        ask=fill(w.ask()),
        explanation=fill(w.kind.explains, list=listed),
        about=frozenset({f"pair:{'/'.join(sorted((cause, mistaken.cause)))}", f"by:{told_by}"}),
        tags=w.machine_tags | fact_tags(shared) | cause_tags(k, cause) | cause_tags(k, mistaken.cause),
        options=options,
        cautions=separating.cautions,
        sources=tuple(dict.fromkeys((*cited(first.sources), *cited(second.sources)))),
        case=case_of(machine, shared),
        usual=tuple(float(b.usual[b.row_of[f]]) for f in shared),
    )


def _shared_signs(w: Work, machine: Machine, one: int, two: int) -> tuple[Fact, ...]:
    """Signs that both causes show often and others seldom: at most three, of different findings."""
    b = w.bench
    both = np.minimum(b.chance[:, one], b.chance[:, two])
    score = both * np.log(np.maximum(both / b.usual, 1e-9))
    out: list[Fact] = []
    for n in np.argsort(-score, kind="stable"):
        fact = b.facts[int(n)]
        if score[n] <= 0.05 or len(out) == 3:
            break
        if fact.kind != "finding" or fact.value != "present" or not possible(b, machine, fact):
            continue
        if not any(goes_not_with(w.k, fact, f) for f in out):
            out.append(fact)
    return tuple(out)


def _check_bits(
    w: Work, machine: Machine, told: tuple[Fact, ...], one: int, two: int
) -> dict[tuple[str, str | None], float]:
    """Bits that each check that can be done on this machine, so told, gives about which of two causes it is."""
    b = w.bench
    checks = {c: Fact("check", c, None, "") for c in dict.fromkeys(c for c, _ in b.checks)}
    fit = {c: possible(b, machine, f) and makes_sense(w.k, f, told) for c, f in checks.items()}
    return {
        check: bits
        for check, bits in zip(b.checks, two_way_bits(b, one, two).tolist(), strict=True)
        if fit[check[0]] and w.k.checks[check[0]].kind == "check"
    }


def _usual_outcome(w: Work, check: tuple[str, str | None], cause: int) -> str:
    b = w.bench
    best = max(outcomes_of(b, check), key=lambda n: float(b.chance[n, cause]))
    return f"{b.facts[best].value.replace('_', ' ')} ({percent(float(b.chance[best, cause]))})"
