"""Whether a blueprint makes sense with the knowledge, and the places of a quiz that it asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from carbdiag.errors import CaseError, Problem, nearest
from carbdiag.knowledge import Knowledge
from carbdiag.model import Strokes
from carbdiag.quiz_schema import Blueprint
from carbdiag.records.quiz import QuizRules


@dataclass(frozen=True)
class Slot:
    """One place in a quiz: tags of which its item must have one, and tags it must not have."""

    wanted: frozenset[str]
    unwanted: frozenset[str]
    field: str  # the wish of the blueprint that it serves


def known_tags(k: Knowledge, rules: QuizRules) -> dict[str, tuple[str, ...]]:
    """Every tag there is: bare word -> full tags."""
    full = [
        *(f"circuit:{c}" for c in k.circuits),
        *(f"group:{g}" for g in k.groups),
        *(f"band:{p}" for p in k.places),
        *(f"family:{f}" for f in k.families),
        *(f"skill:{s.id}" for s in rules.skills),
        *(f"kind:{q.id}" for q in rules.kinds),
    ]
    out: dict[str, tuple[str, ...]] = {tag: (tag,) for tag in full}
    for tag in full:
        word = tag.split(":")[1]
        out[word] = (*out.get(word, ()), tag)
    return out


def rules_of(k: Knowledge) -> QuizRules:
    """The quiz rules of a knowledge.

    Raises:
        CaseError: the knowledge has none.
    """
    if k.quiz is None:
        raise CaseError([Problem("knowledge", "has no quiz.yaml, so no quiz can be made from it")])
    return k.quiz


def machines(k: Knowledge, wish: Blueprint) -> list[tuple[str, Strokes]]:
    """The kinds of machine a blueprint allows."""
    return [
        (f, s)
        for f in wish.families or k.families
        for s in k.families[f].strokes
        if wish.strokes is None or s == wish.strokes
    ]


def slots(k: Knowledge, wish: Blueprint) -> tuple[Slot, ...]:
    """The places of the quiz, those with a wish first.

    Raises:
        CaseError: unknown ids or tags, or wishes that together need more items than there are.
    """
    rules = rules_of(k)
    problems = list(_problems(k, rules, wish))
    if problems:
        raise CaseError(problems)
    tags = known_tags(k, rules)

    def full(words: tuple[str, ...]) -> frozenset[str]:
        return frozenset(t for w in words for t in tags[w])

    shared = [full(s.tags) for s in wish.shares]
    out: list[Slot] = []
    for n, share in enumerate(wish.shares):
        others = frozenset[str]().union(*(t for m, t in enumerate(shared) if m != n)) - shared[n]
        count = round(wish.items * share.percent / 100)
        out += [Slot(shared[n], others, f"shares[{n}]")] * count
    unwanted = frozenset[str]().union(*shared)
    for n, least in enumerate(wish.at_least):
        wanted = full(least.tags)
        out += [Slot(wanted, unwanted - wanted, f"at_least[{n}]")] * least.items
    if len(out) > wish.items:
        raise CaseError(
            [
                Problem(
                    "items",
                    f"the shares and least numbers need {len(out)} items, but the quiz has {wish.items}. Nearest"
                    f" possible: {len(out)} items",
                    str(wish.items),
                )
            ]
        )
    total = sum(s.percent for s in wish.shares)
    if total >= 100 and len(out) < wish.items:
        out += [Slot(shared[0], frozenset(), "shares[0]")] * (wish.items - len(out))
    return (*out, *[Slot(frozenset(), unwanted, "items")] * (wish.items - len(out)))


def _problems(k: Knowledge, rules: QuizRules, wish: Blueprint) -> Iterator[Problem]:
    for n, f in enumerate(wish.families):
        if f not in k.families:
            yield Problem(f"families[{n}]", f"unknown family {f!r}", f, tuple(k.families), nearest(f, k.families))
    if not any(f not in k.families for f in wish.families) and not machines(k, wish):
        strokes = sorted({s for f in wish.families for s in k.families[f].strokes})
        yield Problem(
            "strokes",
            f"no family asked for is known on a {wish.strokes}-stroke here",
            str(wish.strokes),
            tuple(str(s) for s in strokes),
        )
    made = {q.id for q in rules.kinds}
    for n, kind in enumerate(wish.kinds):
        if kind not in made:
            yield Problem(f"kinds[{n}]", f"this knowledge has no item kind {kind!r}", kind, tuple(sorted(made)))
    tags = known_tags(k, rules)
    asked = {"shares": [s.tags for s in wish.shares], "at_least": [a.tags for a in wish.at_least]}
    for name, wishes in asked.items():
        for n, words in enumerate(wishes):
            for m, tag in enumerate(words):
                if tag not in tags:
                    yield Problem(
                        f"{name}[{n}].tags[{m}]", f"unknown tag {tag!r}", tag, tuple(tags), nearest(tag, tags)
                    )
    together = sum(s.percent for s in wish.shares)
    if together > 100:
        message = f"ask for {together:g} percent together. Nearest possible: 100 percent"
        yield Problem("shares", message, f"{together:g}")
