"""What every kind of item gets: the knowledge, the bench of one machine, what is wanted, and chance."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from carbdiag.case_schema import Machine
from carbdiag.knowledge import Knowledge
from carbdiag.quiz.bench import Bench, Fact
from carbdiag.quiz.dice import Dice
from carbdiag.quiz.draft import Draft, DraftOption, fill
from carbdiag.quiz.stories import asked_words, cause_tags, checked_words, complaint_words, machine_for
from carbdiag.records.causes import Cause
from carbdiag.records.quiz import QuizKind, QuizRules

#: Near rivals kept in reserve beyond the options wanted, to choose among by length.
_SPARE_RIVALS = 6


@dataclass(frozen=True, eq=False)
class Work:
    """One attempt at an item."""

    k: Knowledge
    rules: QuizRules
    kind: QuizKind
    bench: Bench
    wanted: frozenset[str]  # tags of which the item must have one; empty: any
    dice: Dice
    lead: float = 0.0  # by how many items the key was the longest option of the quiz so far rather than the shortest

    @property
    def machine_tags(self) -> frozenset[str]:
        """Tags of the kind of machine."""
        return frozenset({f"family:{self.bench.family.id}", f"strokes:{self.bench.model.strokes}"})

    def machine_with_a_cause(self, suits: Callable[[Cause], bool] = lambda _: True) -> tuple[Cause, Machine] | None:
        """One of the causes that an item may be about, and a machine that can have it."""
        causes = [c for c in self.causes() if suits(self.k.causes[c])]
        if not causes:
            return None
        cause = self.k.causes[self.dice.pick(causes)]
        return cause, machine_for(self.bench, cause, self.dice)

    def stem(self, machine: str = "", facts: Sequence[Fact] = (), **slots: str) -> str:
        """One of the stems, filled: the rider's words in it, what was checked after it."""
        told = fill(self.dice.pick(self.kind.stems), machine=machine, complaint=complaint_words(self.k, facts), **slots)
        return told + asked_words(self.k, facts) + checked_words(self.k, facts)

    def ask(self) -> str:
        """One of the questions."""
        return self.dice.pick(self.kind.asks)

    def causes(self) -> list[str]:
        """Causes of this kind of machine about a circuit or group that is wanted; all, where none is."""
        about = frozenset(t for t in self.wanted if t.startswith(("circuit:", "group:")))
        return [c for c in self.bench.model.cause_ids if not about or cause_tags(self.k, c) & about]

    def with_rivals(self, key: DraftOption, near: Sequence[DraftOption]) -> tuple[DraftOption, ...]:
        """The key, and as many of the near rivals, given nearest first, as there are to be options.

        How many of them are longer than the key is drawn, so that its length gives nothing away; where keys have mostly
        been long, or short, the draw leans the other way.
        """
        count = self.rules.options - 1
        pool = near[: count + _SPARE_RIVALS]
        longer = [o for o in pool if len(o.text) > len(key.text)]
        others = [o for o in pool if len(o.text) <= len(key.text)]
        drawn = sorted((self.dice.below(count + 1), self.dice.below(count + 1)))
        wished = drawn[0] if self.lead < 0 else drawn[1] if self.lead > 0 else self.dice.pick(drawn)
        many = min(max(wished, count - len(others)), len(longer))
        return (key, *longer[:many], *others[: count - many])


Maker = Callable[[Work], Draft | None]


def percent(p: float) -> str:
    """A chance as shown: whole percent, never 0 or 100."""
    return "under 1%" if p < 0.01 else "over 99%" if p > 0.99 else f"{p:.0%}"
