"""Items about causes: the most likely one, what would rule one out, and what tells two look-alikes apart."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from carbdiag.answers.phrases import capital, small
from carbdiag.belief.lattice import Floats
from carbdiag.case_schema import Machine
from carbdiag.explanation import likelihoods, reasons
from carbdiag.quiz.bench import Believed, Fact, average, outcomes_of, possible, two_way_bits
from carbdiag.quiz.draft import Draft, DraftOption, cited
from carbdiag.quiz.kinds import Work, percent
from carbdiag.quiz.stories import (
    cause_tags,
    check_words,
    closed,
    goes_not_with,
    machine_for,
    makes_sense,
    result_words,
    sharpen,
    tell,
)
from carbdiag.quiz.told import Told
from carbdiag.records.causes import Cause

#: A result that comes less often than this, whatever the cause, is nothing to ask about.
_MEETS = 0.02
#: A result rules a cause out that comes this often, and this many times as often, with its rivals.
_COMES, _RULES_OUT = 0.15, 3.0
#: Of the results that rule it out most strongly, one of so many is the key.
_STRONGEST = 6
#: A check must come out this differently under two causes, in bits, to tell them apart.
_TELLS_BITS = 0.15


def told_case(
    w: Work, ratio: float, suits: Callable[[Cause], bool] = lambda _: True
) -> tuple[str, Told, Believed] | None:
    """A cause, and a machine and statements under which the cause is likeliest by the ratio."""
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
    return cause, Told(w, machine, facts), found


def likely_cause(w: Work) -> Draft | None:
    """The key is the likeliest cause; the others are its nearest rivals that lie far enough behind."""
    k, b = w.k, w.bench
    story = told_case(w, w.kind.ratio)
    if story is None:
        return None
    cause, told, found = story
    listed = ", ".join(
        f"{small(k.causes[c].name)} {percent(p)}"
        for c, p in sorted(zip(b.model.cause_ids, found.by_cause.tolist(), strict=True), key=lambda i: -i[1])[:4]
    )
    return told.choice(
        cause_options(w, found, cause),
        about={f"cause:{cause}", *told.topics},
        tags=cause_tags(k, cause),
        cautions=k.causes[cause].cautions,
        cause=k.causes[cause].name,
        list=listed,
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


class _Against(NamedTuple):
    """How often each result, by its row, comes under one cause, and under the rivals left beside it."""

    under: Floats
    elsewhere: Floats

    def times(self, row: int) -> float:
        """How many times as often with the rivals."""
        return float(self.elsewhere[row] / self.under[row])

    def percents(self, row: int) -> tuple[str, str]:
        """Both chances in words."""
        return percent(float(self.under[row])), percent(float(self.elsewhere[row]))


def rules_out(w: Work) -> Draft | None:
    """A suspicion; the key is the result that it gives far more seldom than its rivals do."""
    k, b = w.k, w.bench
    story = told_case(w, 1.0)
    if story is None:
        return None
    cause, told, found = story
    mine = b.cause_number(cause)
    rest = found.by_cause.copy()
    rest[mine] = 0.0
    comes = _Against(b.chance[:, mine], average(b.chance, rest))
    rows = _results_to_ask(told, comes)
    strong = [n for n in rows if comes.elsewhere[n] >= _COMES and comes.times(n) >= _RULES_OUT]
    if not strong:
        return None
    key = w.dice.pick(sorted(strong, key=lambda n: -comes.times(n))[:_STRONGEST])
    options = w.with_rivals(
        _result_option(w, comes, cause, key, 1.0),
        [_result_option(w, comes, cause, n, 0.0) for n in _weaker_results(w, comes, cause, rows, key)],
    )
    fact = b.facts[key]
    suspected = small(k.causes[cause].name)
    return told.choice(
        options,
        about={f"against:{cause}", f"{fact.record}: {fact.value}"},
        tags=cause_tags(k, cause),
        cautions=k.checks[fact.record].cautions,
        sources=cited(k.causes[cause].sources),
        usual=(float(b.usual[key]),),
        cause=suspected,
        list=f"“{result_words(k, fact)}” comes {comes.times(key):.0f} times as often with the rivals here as with"
        f" {suspected}.",
    )


def _results_to_ask(told: Told, comes: _Against) -> list[int]:
    """Rows of the results that a check, not yet told, may give on this machine and that do come."""
    k, b = told.work.k, told.work.bench
    asked = {f.record for f in told.facts}
    return [
        n
        for n, f in enumerate(b.facts)
        if f.kind == "check"
        and k.checks[f.record].kind == "check"
        and comes.elsewhere[n] >= _MEETS
        and possible(b, told.machine, f)
        and makes_sense(k, f, told.facts)
        and f.record not in asked
    ]


def _weaker_results(w: Work, comes: _Against, cause: str, rows: Sequence[int], key: int) -> list[int]:
    """Results that speak far less against the cause than the key, one of each check, the nearest first."""
    speaking = {s.check for s in w.k.causes[cause].checks}
    facts, strongest = w.bench.facts, comes.times(key)
    weaker = (n for n in rows if comes.times(n) * w.kind.ratio <= strongest)
    near = [n for n in weaker if comes.times(n) <= w.rules.may_speak_against]
    near.sort(key=lambda n: (facts[n].record not in speaking, -comes.times(n)))
    best_of: dict[str, int] = {}
    for n in near:
        best_of.setdefault(facts[n].record, n)
    return [*best_of.values()][: w.rules.options + 5]


def _result_option(w: Work, comes: _Against, cause: str, row: int, credit: float) -> DraftOption:
    fact = w.bench.facts[row]
    check = w.k.checks[fact.record]
    under, elsewhere = comes.percents(row)
    text = (
        f"{closed(check.outcomes[fact.value].means)} Comes in {under} of cases of"
        f" {small(w.k.causes[cause].name)}, in {elsewhere} of its rivals here."
    )
    return DraftOption(result_words(w.k, fact), text, comes.times(row), credit, cited(check.sources))


def look_alikes(w: Work) -> Draft | None:
    """Two causes that are mistaken for each other; the key is the check that tells them apart best."""
    k, b = w.k, w.bench
    causes = frozenset(w.causes())
    pairs = [(c, m) for c, m in b.mistaken if c in causes]
    if not pairs:
        return None
    cause, mistaken = w.dice.pick(pairs)
    machine = machine_for(b, k.causes[cause], w.dice)
    first, second = k.causes[cause], k.causes[mistaken.cause]
    numbers = b.cause_number(cause), b.cause_number(mistaken.cause)
    shared = _shared_signs(w, machine, *numbers)
    bits = _check_bits(w, machine, shared, *numbers)
    told_by = mistaken.told_apart_by
    key = max(((c, p) for c, p in bits if c == told_by), key=lambda i: bits[i], default=None)
    if len(shared) < 2 or key is None or bits[key] < _TELLS_BITS:
        return None

    def option(check: tuple[str, str | None], credit: float) -> DraftOption:
        usual = [_usual_outcome(w, check, n) for n in numbers]
        text = f"Usual result with (1): {usual[0]}; with (2): {usual[1]}. Tells them apart by {bits[check]:.2f} bit."
        return DraftOption(check_words(k, *check), text, bits[check], credit, cited(k.checks[check[0]].sources))

    weaker = _weaker_checks(w, bits, key, {s.check for c in (first, second) for s in c.checks})
    options = w.with_rivals(option(key, 1.0), [option(c, 0.0) for c in weaker])
    separating = k.checks[told_by]
    with_first, with_second = (_usual_outcome(w, key, n) for n in numbers)
    return Told(w, machine, shared).choice(
        options,
        about={f"pair:{'/'.join(sorted((cause, mistaken.cause)))}", f"by:{told_by}"},
        tags=cause_tags(k, cause) | cause_tags(k, mistaken.cause),
        cautions=separating.cautions,
        sources=tuple(dict.fromkeys((*cited(first.sources), *cited(second.sources)))),
        cause=small(first.name),
        other=small(second.name),
        list=f"(1) {first.name}: {first.summary} (2) {second.name}: {second.summary}"
        f" {separating.name}: {separating.do}"
        f" With (1) it usually gives: {with_first}; with (2): {with_second}.",
    )


def _weaker_checks(
    w: Work, bits: Mapping[tuple[str, str | None], float], key: tuple[str, str | None], speaking: Container[str]
) -> list[tuple[str, str | None]]:
    """Checks that tell far less than the key, each where it tells most, the best first."""
    best_place: dict[str, tuple[str, str | None]] = {}
    for check in bits:
        if check[0] not in best_place or bits[check] > bits[best_place[check[0]]]:
            best_place[check[0]] = check
    weaker = [c for c in best_place.values() if c[0] != key[0] and bits[c] * w.kind.ratio <= bits[key]]
    weaker.sort(key=lambda c: (-round(bits[c], 2), c[0] not in speaking))
    return weaker[: w.rules.options + 5]


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
