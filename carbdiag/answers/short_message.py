"""The short answer: one chat message of at most 900 characters in every markup, its cautions kept."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from carbdiag.answers.document import Block, Cautions, Document, Paragraph, listing, paragraph, strong
from carbdiag.answers.essentials import (
    cautions_of_questions,
    first_steps,
    from_to,
    headline,
    must_not_be_used,
    observed_hazard,
    other_brackets,
    pressing,
    put_back,
    question,
    questions,
    settled,
    to_do,
    use_as_it_is,
    verdict,
    which_way,
)
from carbdiag.answers.phrases import BETWEEN, Phrases, small
from carbdiag.diagnosis_schema import Correction, NextStep, left_to_do
from carbdiag.records.safety import CautionText

#: Longest short answer, in characters, markup included.
MOST_CHARACTERS = 900

_BRACKETS = re.compile(r" \([^()]*\)")


def short_message(
    p: Phrases, longest: Callable[[Document], int], *, read: bool = False, asked: bool = False
) -> Document:
    """What to do now with its cautions, what is likely, where it comes from; more as far as there is room.

    Args:
        longest: the length of a document in the markup that makes it longest.
        read: whether the case was read from a post, so that it must be told what was read.
        asked: whether the post asks if it can be used as it is.
    """
    message = None
    told = tuple(_told(p)) if read else ()
    for parts in (tuple(_certain(p, asked)), tuple(_parts(p, asked))):
        if parts:
            message = _fitted(p, (*parts[:-1], *told, parts[-1]), longest)
            if longest(message) <= MOST_CHARACTERS:
                break
    assert message is not None
    return message


def _fitted(p: Phrases, parts: Sequence[_Part], longest: Callable[[Document], int]) -> Document:
    """The parts, each as long as there is room for in its turn."""
    chosen = [part.choices[-1] for part in parts]

    def document(blocks: Iterable[Blocks]) -> Document:
        return Document(p.language.code, tuple(b for some in blocks for b in some))

    for n in sorted(range(len(parts)), key=lambda n: parts[n].turn):
        for choice in parts[n].choices:
            more = [*chosen[:n], choice, *chosen[n + 1 :]]
            if longest(document(more)) <= MOST_CHARACTERS:
                chosen = more
                break
    return document(chosen)


Blocks: TypeAlias = tuple[Block, ...]


@dataclass(frozen=True)
class _Part:
    """Blocks in one of several lengths, the longest first; it is lengthened in its turn, while there is room."""

    choices: tuple[Blocks, ...]
    turn: int = 0


def _parts(p: Phrases, asked: bool) -> Iterator[_Part]:
    """The parts in reading order. What is asked to be done keeps its cautions."""
    first, after = first_steps(p)
    cautions = p.in_short(first.cautions) if first else ()
    printed = first.cautions if first else ()
    looks = first is not None and first.kind == "check"
    known = None if looks or p.d.put_back_first else settled(p)
    if known is not None:  # its cautions leave no room for what to change, and no question leads in its place
        cautions, printed = (), ()
    hazard = observed_hazard(p) or must_not_be_used(p)
    if hazard:
        yield from _mind(p, printed, asked)
    heading = _headline(p) if known is None else f"{verdict(p)} {p.say('how_in_full')}"
    head = Paragraph(strong(heading))
    headed = tuple((head, Cautions(cautions, packed=packed)) for packed in (False, True)) if cautions else ((head,),)
    undo = p.d.put_back_first[-1:]  # there is room for the cautions of one, and not always for those
    for moved in undo:
        lines = (tuple(put_back(p, sizes=sizes))[-1][0] for sizes in (True, False))
        told = tuple((Paragraph(strong(line)), Cautions(p.in_short(moved.cautions))) for line in lines)
        mention = (Paragraph(strong(p.say("back_in_full", part=p.circuit(moved.circuit)))),)
        yield _Part((*told, mention))
    yield _Part((*headed, ()) if undo else headed, 2 if undo else 0)
    do = p.step_do(first) if first and known is None else ""
    if first and do:
        # how to do a check comes before anything else; how to answer a question is mostly said by its answers
        yield _Part(((paragraph(do),), ()), 2 if first.kind == "check" else 5)
    if not hazard:
        yield from _mind(p, printed, asked)
    if p.d.next_steps and known is None:
        yield _Part(_verdicts(p), 1)
    sizes = tuple(paragraph(text) for text in other_brackets(p))
    if sizes:
        # whoever tells sizes asks whether to go on with them
        yield _Part((sizes, sizes[:1], ()), 1)
    yield _Part((_change(p), ()), 3)
    yield from _ending(p, after if known is None else tuple(s for s in p.d.next_steps if s.kind != "check"))


def _verdicts(p: Phrases) -> tuple[Blocks, ...]:
    """What is likely, the longest first."""
    shortest = _in_a_few_words(p)
    few = (verdict(p), verdict(p, 1), *((shortest,) if shortest else ()))
    return tuple((paragraph(line),) for line in few)


def _in_a_few_words(p: Phrases) -> str | None:
    """What is likely without what may be left out; None where nothing may."""
    d = p.d
    if d.answer == "open":
        return p.say("open_shortest")
    if d.answer != "likely" or d.area is not None:
        return None
    if d.several_settings is not None and d.several_settings.leads:
        return p.say("several_shortest", percent=p.percent(d.several_settings.probability))
    top = left_to_do(d.causes)[0]
    return p.say("likely_shortest", cause=small(p.cause(top)), percent=p.percent(top.probability))


def _certain(p: Phrases, asked: bool) -> Iterator[_Part]:
    """The parts where a cause is as good as certain: the change leads, if its cautions leave room for it."""
    cause = settled(p)
    if cause is None:
        return
    fix = cause.correction
    heading, cautions = Paragraph(strong(headline(p))), p.in_short((*fix.cautions, *cause.cautions))
    yield _Part(((heading, Cautions(cautions)), (heading, Cautions(cautions, packed=True))), 3)
    if fix.sized:
        amount = paragraph(p.say("worked_out", amount=p.language.sentence(fix.sized.amount)))
        if fix.sized.present and fix.sized.proposed:
            sizes = from_to(p, fix, fix.sized.present, fix.sized.proposed)
            # a size is what the rider came for: it is told in ever fewer words before it is left out
            fewest = from_to(p, fix, fix.sized.present, fix.sized.proposed, part_once=True)
            shorter = (sizes, *(_BRACKETS.sub("", told) for told in (sizes, fewest)))
            yield _Part((*((paragraph(told),) for told in dict.fromkeys(shorter)), (amount,), ()), 1)
        elif not fix.sized.refused:
            # which way to move a setting comes first: percents help nobody who turns the clip the wrong way
            yield _Part(((amount,), ()), 1 if fix.direction is None else 3)
    yield _Part((*_how(p, fix), ()), 2)
    yield from _mind(p, (*fix.cautions, *cause.cautions), asked)
    yield _Part(_verdicts(p), 1)
    yield from _ending(p, tuple(s for s in p.d.next_steps if s.kind != "check"), 5)


def _how(p: Phrases, fix: Correction) -> Iterator[Blocks]:
    """How it is done, the longest first: a setting in a sentence, a repair in as many of its steps as there is room."""
    if fix.direction is not None:
        if fix.size:
            way = which_way(p, fix)  # how far stands in the headline
            yield (paragraph(way),)
            yield (paragraph(_BRACKETS.sub("", way)),)
        return
    steps = p.language.texts("actions", fix.action, "steps", fix.steps)
    yield (listing(*steps, numbered=True),)
    numbered = [f"{n}. {step}" for n, step in enumerate(steps, 1)]
    for n in range(len(steps) - 1, 0, -1):
        yield (paragraph(" ".join((*numbered[:n], p.say("steps_go_on")))),)


def _told(p: Phrases) -> Iterator[_Part]:
    """What a post was read as, as much of it as there is room for; the sender must be able to put it right."""
    told = [f"{p.when(n)} {p.statement(n, s.text)}".strip() for n, s in enumerate(p.d.told)]
    if told:
        lines = (BETWEEN.join((*told[:n], *(("…",) if n < len(told) else ()))) for n in (len(told), 6, 4, 3, 2, 1))
        choices = tuple((paragraph(p.say("read_as", told=line)),) for line in lines)
        cause = settled(p)
        sized = None if cause is None else cause.correction.sized
        # one statement of many is worth less than the size that the poster asks for, and than nothing else
        yield _Part((*choices, ()) if sized and sized.proposed else choices, 2)


def _mind(p: Phrases, printed: Sequence[CautionText], asked: bool) -> Iterator[_Part]:
    """What must not be done just now, and what the kind of machine asks for, unless it is printed anyway.

    Whether it may be used is said where somebody `asked`, or must not.

    A caution of the machine that also stands beside a correction which is not spelled out here must not be lost.
    """
    holds = [f"{name}." for name, _ in pressing(p)]
    if holds:
        yield _Part(((Paragraph(strong(f"{p.say('mind')} {' '.join(holds)}")),),))
    if asked or must_not_be_used(p):
        said = list(use_as_it_is(p))
        few = (Paragraph(strong(f"{p.say('use_question')} {' '.join(said[:n])}")) for n in range(len(said), 0, -1))
        yield _Part(tuple((line,) for line in few), 1)
    there = {c.id for c in printed}
    general = tuple(c for c in p.d.cautions if c.id in p.d.of_machine and c.id not in there)
    if general:
        yield _Part(((Cautions(p.in_short(general)),),))


def _ending(p: Phrases, steps: Sequence[NextStep], origin_turn: int = 1) -> Iterator[_Part]:
    """What to ask, and where this comes from."""
    asked = questions(p, steps)
    title = paragraph(p.say("title_ask"))
    lists = (listing(*asked[:n], numbered=True) for n in range(len(asked), 0, -1))
    cautions = cautions_of_questions(steps)
    mind = (Cautions(p.in_short(cautions)),) if cautions else ()
    yield _Part((*((title, some, *mind) for some in lists), ()), 4)
    origin = (p.say(name, edition=p.d.edition) for name in ("origin_short", "origin_shortest"))
    yield _Part(tuple((paragraph(line),) for line in origin), origin_turn)


def _headline(p: Phrases) -> str:
    """The step to do first, a question with the answers to choose from."""
    first, _ = first_steps(p)
    if first is None:
        return headline(p)
    return to_do(p, first, question(p, first) if first.kind == "question" else p.step_name(first))


def _change(p: Phrases) -> Blocks:
    """The change, if the likely cause is a setting, with its cautions."""
    d = p.d
    if not d.causes or d.answer != "likely" or not left_to_do(d.causes)[0].spelled_out:
        return ()
    cause = left_to_do(d.causes)[0]
    fix = cause.correction
    if fix.direction is None or fix.held_back:
        return ()
    name = small(p.language.text("actions", fix.action, "name", fix.name))
    return (
        paragraph(p.say("change_in_short", name=name, way=p.say(str(fix.direction)))),
        Cautions(p.in_short((*fix.cautions, *cause.cautions))),
    )
