"""A whole case with a hidden fault: choose a check, see its result, choose again, then name the fault.

Every turn is computed from the choices made so far, so any way through can be graded; nothing is stored. What a check
shows is its usual result under the hidden fault.
"""

from __future__ import annotations

from dataclasses import dataclass
from string import ascii_uppercase

from carbdiag.answers.phrases import small
from carbdiag.case_schema import Machine
from carbdiag.knowledge import Knowledge
from carbdiag.model import Strokes
from carbdiag.quiz.bench import Bench, Fact, believe, bench, case_of, outcomes_of, sketch
from carbdiag.quiz.cause_items import cause_options
from carbdiag.quiz.check_items import check_option, check_options, checks_ranked
from carbdiag.quiz.dice import Dice
from carbdiag.quiz.draft import Draft, DraftOption, cited, fill
from carbdiag.quiz.kinds import Work
from carbdiag.quiz.stories import (
    cause_tags,
    fact_tags,
    machine_words,
    result_words,
    tell,
)
from carbdiag.quiz_schema import Hidden, OptionView
from carbdiag.records.quiz import QuizRules
from carbdiag.terms import Status


@dataclass(frozen=True)
class Node:
    """One turn: what is asked, the options in the order shown, and what each check would show."""

    ask: str
    options: tuple[DraftOption, ...]
    results: tuple[Fact | None, ...]  # of each option; None where the fault is named

    def views(self) -> tuple[OptionView, ...]:
        """The options as shown."""
        return tuple(OptionView(label=ascii_uppercase[n], text=o.text) for n, o in enumerate(self.options))


@dataclass(frozen=True, eq=False)
class Walkable:
    """A scenario ready to be walked through."""

    k: Knowledge
    rules: QuizRules
    hidden: Hidden
    machine_bench: Bench

    @classmethod
    def of(cls, k: Knowledge, rules: QuizRules, hidden: Hidden) -> Walkable:
        """Set up a scenario from its hidden half."""
        machine = hidden.case.machine
        strokes: Strokes = machine.strokes or 2
        return cls(k, rules, hidden, bench(k, machine.family, strokes))

    def turns(self) -> int:
        """Questions in all."""
        return self.rules.scenario_checks + 1

    def after(self, results: tuple[Fact, ...]) -> Node | None:
        """What is asked once these results are known; None where no check is left worth asking about."""
        facts = (*facts_of(self.hidden), *results)
        work = self._work(facts)
        if len(results) == self.rules.scenario_checks:
            return self._naming(work, facts)
        case = case_of(self.hidden.case.machine, facts)
        steps = checks_ranked(work, case)
        if len(steps) < 3:
            return None
        options = check_options(work, steps) or tuple(
            check_option(work, s, steps[0]) for s in steps[: self.rules.options]
        )
        at = {s.name: (s.id, s.at) for s in steps}
        order = work.dice.shuffled(options)
        return Node(
            work.kind.asks[0] if not results else self.rules.next_check,
            tuple(order),
            tuple(self._result(*at[o.text]) for o in order),
        )

    def _work(self, facts: tuple[Fact, ...]) -> Work:
        kind = next(q for q in self.rules.kinds if q.id == "scenario")
        seed = "|".join(f"{f.record} {f.at} {f.value}" for f in facts)
        return Work(self.k, self.rules, kind, self.machine_bench, frozenset(), Dice(f"{self.hidden.turn_seed}|{seed}"))

    def _result(self, check: str, at: str | None) -> Fact:
        b = self.machine_bench
        column = b.cause_number(self.hidden.cause)
        return b.facts[max(outcomes_of(b, (check, at)), key=lambda n: float(b.chance[n, column]))]

    def _naming(self, work: Work, facts: tuple[Fact, ...]) -> Node:
        """Name the fault. Where no cause leads clearly after these checks, saying so is the right answer."""
        b = self.machine_bench
        found = believe(b, case_of(self.hidden.case.machine, facts))
        ranked = sorted(range(len(found.by_cause)), key=lambda n: -float(found.by_cause[n]))
        first, second = (float(found.by_cause[n]) for n in ranked[:2])
        clear = first >= work.kind.ratio * second and first >= self.rules.top_cause_at_least
        options = [*cause_options(work, found, b.model.cause_ids[ranked[0]])[: self.rules.options - 1]]
        if not clear:
            half = DraftOption(
                options[0].text, f"Likeliest so far, but not clearly. {options[0].feedback}", first, 0.5,
                options[0].sources,
            )  # fmt: skip
            options = [half, *options[1:]]
        text = "A clear leader was there." if clear else "Right: nothing leads clearly yet, and guessing costs parts."
        options.append(DraftOption(self.rules.cannot_tell, text, 0.0, 0.0 if clear else 1.0))
        order = work.dice.shuffled(options)
        return Node(self.rules.name_fault, tuple(order), (None,) * len(order))


def facts_of(hidden: Hidden) -> tuple[Fact, ...]:
    """The complaint that a scenario begins with."""
    return tuple(
        Fact("finding", f.finding, f.at[0] if f.at else None, "present" if f.status is Status.PRESENT else "denied")
        for f in hidden.case.findings
    )


#: One check seldom makes the fault more than so many times as likely.
_ONE_CHECK = 3.0


def _in_reach(w: Work, machine: Machine, cause: str, facts: tuple[Fact, ...], checks_left: int) -> bool:
    """Whether the checks left may still bring the fault out, roughly: what cannot work is dropped before the work."""
    chance = float(sketch(w.bench, machine, facts)[w.bench.cause_number(cause)])
    return chance >= w.rules.top_cause_at_least / _ONE_CHECK**checks_left


def scenario(w: Work) -> Draft | None:
    """A hidden fault that the best checks bring out clearly."""
    k, b = w.k, w.bench
    picked = w.machine_with_a_cause()
    if picked is None:
        return None
    cause, machine = picked
    complaint = tell(b, machine, cause.id, w.dice, 2)
    if len(complaint) < 2 or not _in_reach(w, machine, cause.id, complaint, w.rules.scenario_checks):
        return None
    hidden = Hidden(
        cause=cause.id, case=case_of(machine, complaint), turn_seed=w.dice.token(), short_way=()
    )
    walk = Walkable(k, w.rules, hidden, b)
    results: list[Fact] = []
    first = node = walk.after(())
    for turn in range(w.rules.scenario_checks):
        node = walk.after(tuple(results)) if turn else first
        if first is None or node is None:
            return None
        best = max(range(len(node.options)), key=lambda n: node.options[n].credit)
        result = node.results[best]
        assert result is not None
        results.append(result)
        if not _in_reach(w, machine, cause.id, (*complaint, *results), w.rules.scenario_checks - len(results)):
            return None
    naming = walk.after(tuple(results))
    if naming is None or not any(o.credit == 1.0 and o.text == cause.name for o in naming.options):
        return None
    assert first is not None
    by_credit = sorted(range(len(first.options)), key=lambda n: -first.options[n].credit)
    way = "; ".join(result_words(k, f) for f in results)
    return Draft(
        kind=w.kind,
        form="scenario",
        stem=w.stem(machine_words(k, machine), complaint),
        ask=fill(w.ask()),
        explanation=fill(w.kind.explains, cause=small(cause.name), list=f"{way}. {cause.summary}"),
        about=frozenset({f"case:{cause.id}", *(f"{f.record} at {f.at}" for f in complaint)}),
        tags=w.machine_tags | fact_tags(complaint) | cause_tags(k, cause.id),
        options=tuple(first.options[n] for n in by_credit),
        shown=tuple(by_credit.index(n) for n in range(len(by_credit))),
        hidden=hidden.model_copy(update={"short_way": tuple(f.record for f in results)}),
        cautions=tuple(dict.fromkeys((*cause.cautions, *(c for f in results for c in k.checks[f.record].cautions)))),
        sources=cited(cause.sources),
        usual=tuple(float(b.usual[b.row_of[f]]) for f in complaint),
    )
