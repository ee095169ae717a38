"""An item before it is numbered and its options are shuffled, and how it becomes one."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from string import ascii_uppercase

from carbdiag.answers.phrases import capital
from carbdiag.case_schema import Case
from carbdiag.knowledge import Knowledge
from carbdiag.quiz.dice import Dice
from carbdiag.quiz.difficulty import difficulty, nearness, rarity
from carbdiag.quiz.stories import tidy
from carbdiag.quiz_schema import (
    DifficultyWord,
    Hidden,
    ItemKey,
    ItemView,
    NumberKey,
    OptionKey,
    OptionView,
    SourceText,
)
from carbdiag.records.quiz import QuizKind, QuizRules
from carbdiag.records.sources import Citation

#: Beyond this, how far the key leads says nothing more.
_MOST_SUPPORT = 1000.0


@dataclass(frozen=True)
class DraftOption:
    """One option; `support` is how well it is supported, on any scale on which ratios make sense."""

    text: str
    feedback: str
    support: float
    credit: float = 0.0
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Draft:
    """An item as a kind makes it. For a choice the first option is the key; for an order they stand in order."""

    kind: QuizKind
    form: str
    stem: str
    ask: str
    explanation: str
    about: frozenset[str]  # what it is about, for finding near-duplicates
    tags: frozenset[str]
    options: tuple[DraftOption, ...] = ()
    shown: tuple[int, ...] = ()  # the order in which options are shown, where it is settled already
    number: NumberKey | None = None
    hidden: Hidden | None = None
    case: Case | None = None  # what the stem tells, as a case
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    usual: tuple[float, ...] = ()  # usual chance of each fact in the stem
    near: float | None = None  # nearness of the best wrong answer, where there are no ratios

    @property
    def support(self) -> float | None:
        """How many times as well supported the key is as the best other option; none where nothing is to compare."""
        if self.form not in ("choice", "scenario") or len(self.options) < 2:
            return None
        best = max(o.support for o in self.options[1:])
        return self.options[0].support / best if best > 0 else math.inf

    @property
    def lead(self) -> float:
        """1 where the key of a choice is the longest option, -1 where the shortest, less where others are as long."""
        if self.form != "choice":
            return 0.0
        key, *others = (len(o.text) for o in self.options)
        longest, shortest = (1 / (1 + others.count(key)) if key == of((key, *others)) else 0.0 for of in (max, min))
        return longest - shortest

    @property
    def is_defensible(self) -> bool:
        """Whether exactly one answer can be defended: the key leads by the ratio of its kind, no text repeats, and
        the stem names none of the options.
        """
        texts = [o.text.casefold() for o in self.options]
        if len(texts) != len(set(texts)) or any(t in self.stem.casefold() for t in texts):
            return False
        return self.support is None or self.support >= self.kind.ratio

    def rated(self, rules: QuizRules) -> tuple[float, DifficultyWord]:
        """Expected difficulty."""
        near = self.near
        if near is None:
            near = nearness(rules.difficulty, min(self.support or self.kind.ratio, 1e6), self.kind.ratio)
        return difficulty(rules.difficulty, self.kind.base_difficulty, near, rarity(rules.difficulty, self.usual))


def all_tags(draft: Draft) -> frozenset[str]:
    """Tags of an item, its kind and skill included."""
    return draft.tags | {f"kind:{draft.kind.id}", f"skill:{draft.kind.skill}"}


def finish(k: Knowledge, rules: QuizRules, draft: Draft, item_id: str, dice: Dice) -> tuple[ItemView, ItemKey]:
    """Shuffle the options, label them, and part the item into what is shown and what is kept."""
    order = list(draft.shown) or dice.shuffled(range(len(draft.options)))
    label = {n: ascii_uppercase[place] for place, n in enumerate(order)}
    value, word = draft.rated(rules)
    view = ItemView(
        id=item_id,
        kind=draft.kind.id,
        answer_form=draft.form,
        stem=draft.stem,
        ask=draft.ask,
        options=tuple(OptionView(label=label[n], text=draft.options[n].text) for n in order),
        unit=draft.number.unit if draft.number else None,
    )
    ranked = draft.form == "order"
    support = draft.support
    key = ItemKey(
        id=item_id,
        answer=tuple(label[n] for n in range(len(draft.options)))
        if ranked
        else (label[0],)
        if draft.options
        else (),
        options=tuple(
            OptionKey(
                label=label[n],
                credit=0.0 if ranked else draft.options[n].credit,
                feedback=draft.options[n].feedback,
                sources=draft.options[n].sources,
            )
            for n in order
        ),
        number=draft.number,
        hidden=draft.hidden,
        case=draft.case,
        explanation=draft.explanation,
        cautions=k.cautions_for(draft.cautions),
        sources=source_texts(k, (*draft.sources, *(s for o in draft.options for s in o.sources))),
        skill=draft.kind.skill,
        tags=tuple(sorted(all_tags(draft))),
        difficulty=value,
        difficulty_word=word,
        support=None if support is None else float(f"{min(support, _MOST_SUPPORT):.3g}"),
    )
    return view, key


def source_texts(k: Knowledge, ids: Iterable[str]) -> tuple[SourceText, ...]:
    """Sources with title and address, each once; published ones first."""
    found = [k.sources[i] for i in dict.fromkeys(ids)]
    found.sort(key=lambda s: s.kind != "published")
    return tuple(SourceText(id=s.id, title=s.title, url=s.url) for s in found)


def cited(citations: Iterable[Citation]) -> tuple[str, ...]:
    """Ids of the sources of a record, each once."""
    return tuple(dict.fromkeys(c.source for c in citations))


def fill(template: str, **slots: str) -> str:
    """A template with its slots filled; what opens the text, or a quotation, gets a capital."""
    text = tidy(template.format(**slots)).replace(".”.", ".”").replace("..", ".")
    head, *quoted = text.split("“")
    return capital("“".join([head, *(capital(q) for q in quoted)]))
