"""A choice about one machine: what every such item says of it alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from carbdiag.case_schema import Case, Machine
from carbdiag.quiz.bench import Fact, case_of
from carbdiag.quiz.draft import Draft, DraftOption, fill
from carbdiag.quiz.kinds import Work
from carbdiag.quiz.stories import fact_tags, machine_words

#: With fewer options than this there is no choice.
_FEWEST = 3


@dataclass(frozen=True, eq=False)
class Told:
    """A machine, and what a stem tells of it."""

    work: Work
    machine: Machine
    facts: tuple[Fact, ...]

    @property
    def case(self) -> Case:
        """What is told, as a case."""
        return case_of(self.machine, self.facts)

    @property
    def topics(self) -> frozenset[str]:
        """What is told, for finding near-duplicates."""
        return frozenset(f"{f.record} at {f.at}" for f in self.facts)

    @property
    def usual(self) -> tuple[float, ...]:
        """Usual chance of each fact."""
        bench = self.work.bench
        return tuple(float(bench.usual[bench.row_of[f]]) for f in self.facts)

    def choice(
        self,
        options: tuple[DraftOption, ...],
        *,
        about: Iterable[str],
        tags: frozenset[str],
        cautions: tuple[str, ...],
        sources: tuple[str, ...] = (),
        usual: tuple[float, ...] | None = None,
        **slots: str,
    ) -> Draft | None:
        """The item, its first option the key; None where too few options are left to choose among.

        Args:
            options: the key, then its rivals.
            about: what it is about, for finding near-duplicates.
            tags: those beside the tags of the machine and of the places told.
            cautions: ids of what the explanation must warn of.
            sources: ids of what it rests on, beside the sources of the options.
            usual: how usual what it hinges on is, where that is not the facts told.
            slots: what stem, question and explanation name.
        """
        w = self.work
        if len(options) < _FEWEST:
            return None
        return Draft(
            kind=w.kind,
            form="choice",
            stem=w.stem(machine_words(w.k, self.machine), self.facts, **slots),
            ask=fill(w.ask(), **slots),
            explanation=fill(w.kind.explains, **slots),
            about=frozenset(about),
            tags=w.machine_tags | fact_tags(self.facts) | tags,
            options=options,
            cautions=cautions,
            sources=sources,
            case=self.case,
            usual=self.usual if usual is None else usual,
        )
