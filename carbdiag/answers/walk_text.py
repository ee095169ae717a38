"""A step of a walk as plain text, for a minute's reading with greasy hands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from carbdiag.answers.essentials import other_brackets, pressing, put_back
from carbdiag.answers.language import ENGLISH, answer_language
from carbdiag.answers.layout import INDENT, WIDTH, caution_lines, page, wrap
from carbdiag.answers.phrases import Phrases
from carbdiag.answers.untrusted import printable
from carbdiag.diagnosis_schema import CauseBelief
from carbdiag.terms import Certainty
from carbdiag.walk_schema import Walk, WalkStep

_SHOWN_CAUSES = 3


def walk_text(walk: Walk) -> str:
    """Where the walk stands, and its first step in full."""
    lines = [*standing(walk)]
    if walk.steps and walk.advice.kind != "done":
        lines += ["", *step_lines(walk.steps[0], walk)]
    return page(lines)


def standing(walk: Walk) -> Iterator[str]:
    """What must not be done just now, what to put back, the likeliest causes, and what to do about it."""
    phrases = Phrases(walk.diagnosis, answer_language(ENGLISH))
    for name, why in pressing(phrases):
        yield from wrap(f"! {name}. {why}", "", INDENT)
    for line, cautions in put_back(phrases):
        yield from wrap(line, "")
        yield from caution_lines(cautions, INDENT)
    causes = walk.left or walk.diagnosis.causes[:_SHOWN_CAUSES]
    if causes:
        said = ", ".join(f"{c.name} {c.probability:.0%}" for c in causes)
        yield from wrap(f"Likeliest {'of what is left' if walk.left else 'so far'}: {said}.", "")
    for note in walk.diagnosis.notes:
        if note.startswith("Two answers contradict"):
            yield from wrap(note, "")
    for bracket in other_brackets(phrases):
        yield from wrap(bracket, "")
    if walk.advice.kind != "ask" or not walk.steps:
        yield from wrap(walk.advice.text, "")
    for fact in walk.advice.facts:
        yield from wrap(fact, f"{INDENT}- ", INDENT * 2)


def step_lines(step: WalkStep, walk: Walk) -> Iterator[str]:
    """One step: cautions, what to do, why now, and what may be answered."""
    observing = step.kind not in ("repair", "trial")
    if step.kind == "machine":
        count = "About the machine"  # what it is counts as none of the questions about its trouble
    elif observing:
        count = f"Question {walk.asked + 1} of at most {walk.asked + walk.asks_left}"
    else:
        count = "To do"
    yield from wrap(f"{count}: {step.name} ({_minutes(step.minutes)})", "")
    yield from caution_lines(step.cautions, INDENT)
    for n, line in enumerate(step.do, 1):
        head = f"{n}. " if len(step.do) > 1 else ""
        yield from wrap(f"{head}{line}", INDENT, INDENT + " " * len(head))
    if step.tools:
        yield from wrap(f"You need: {', '.join(step.tools)}.")
    yield from wrap(f"Why now: {step.why}")
    if step.verify:
        yield from wrap(f"It is right when: {step.verify}")
    if step.put_back:
        yield from wrap(f"To put it back: {step.put_back}")
    yield ""
    widest = min(max(len(_word(o.outcome)) for o in step.outcomes), 26)
    for n, outcome in enumerate(step.outcomes, 1):
        head = f"{INDENT}{n}  {_word(outcome.outcome):<{widest}}  "
        hang = " " * len(head)
        yield from wrap(f"{outcome.means}", head, hang)
        moved = [c for c in outcome.causes if round(c.now, 2) != round(c.after, 2)]
        if moved and step.kind != "machine":
            said = ", ".join(f"{c.name} {c.now:.0%} → {c.after:.0%}" for c in moved)
            yield from wrap(said, hang, hang)
    cannot = "don't know, or can't" if observing else "not done, or can't"
    yield f"{INDENT}0  {cannot}"


def cause_lines(causes: Sequence[CauseBelief]) -> Iterator[str]:
    """The leading causes, with what speaks for and against each and what would change one's mind."""
    for cause in causes:
        yield from wrap(f"{cause.name}: {cause.words}", f"{INDENT}{cause.probability:>4.0%}  ", INDENT * 4)
        rival = next((c.name.lower() for c in causes if c.id == cause.rival), "")
        beside = f", beside {rival}" if rival else ""
        for label, said in (
            (f"for it{beside}", [r.observation for r in cause.because]),
            ("fits it, and the other better", [r.observation for r in cause.against if r.fits]),
            (f"against it{beside}", [r.observation for r in cause.against if not r.fits]),
            ("what would change my mind", [f"{w.text} (then {w.probability:.0%})" for w in cause.would_change]),
        ):
            if said:
                yield from wrap(f"{label}: {'; '.join(said)}", INDENT * 4, INDENT * 5)


def other_lines(steps: Iterable[WalkStep]) -> Iterator[str]:
    """The other steps on offer, numbered."""
    for n, step in enumerate(steps, 1):
        yield from wrap(f"{step.name} ({_minutes(step.minutes)}). {step.why}", f"{INDENT}{n}  ", INDENT + "   ")


def rule() -> str:
    """A line between two steps."""
    return "-" * WIDTH


def answer_echo(step: WalkStep, outcome: str, certainty: Certainty) -> str:
    """What was understood, in one line."""
    unsure = "" if certainty is Certainty.SURE else f", {certainty}"
    return printable(f"{INDENT}Noted: {step.name}: {_word(outcome)}{unsure}.")


def _word(outcome: str) -> str:
    return outcome.replace("_", " ")


def _minutes(minutes: float) -> str:
    return "under a minute" if minutes < 1 else f"{minutes:g} min"
