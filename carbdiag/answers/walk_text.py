"""A step of a walk as plain text, for a minute's reading with greasy hands."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from carbdiag.answers.essentials import must_not_be_used, other_brackets, pressing, put_back, use_as_it_is
from carbdiag.answers.language import ENGLISH, answer_language
from carbdiag.answers.layout import INDENT, WIDTH, caution_lines, page, wrap
from carbdiag.answers.phrases import Phrases, small
from carbdiag.answers.untrusted import printable
from carbdiag.diagnosis_schema import CauseBelief, WouldLower
from carbdiag.records.safety import CautionText
from carbdiag.terms import Certainty
from carbdiag.walk_schema import UNKNOWN, Walk, WalkStep

_SHOWN_CAUSES = 3
_STROKES = {"2": "two_stroke", "4": "four_stroke"}


def walk_text(walk: Walk, language: str = ENGLISH) -> str:
    """Where the walk stands, and its first step in full."""
    words = WalkWords(walk, language)
    lines = [*words.standing()]
    if walk.steps and walk.advice.kind != "done":
        lines += ["", *words.step_lines(walk.steps[0])]
    return page(lines)


class WalkWords:
    """One state of a walk in one language."""

    def __init__(self, walk: Walk, language: str = ENGLISH) -> None:
        self.walk = walk
        self.p = Phrases(walk.diagnosis, answer_language(language))
        self.say, self.sentence = self.p.say, self.p.language.sentence

    def standing(self) -> Iterator[str]:
        """What must not be done just now, what to put back, the likeliest causes, and what to do about it."""
        walk, p = self.walk, self.p
        for name, why in pressing(p):
            yield from wrap(f"! {name}. {why}", "", INDENT)
        if must_not_be_used(p):
            yield from self.use_lines(alone=False)
        for line, cautions in put_back(p):
            yield from wrap(line, "")
            yield from caution_lines(self._cautions(cautions), INDENT)
        done = walk.advice.kind == "done"
        if done:
            yield from wrap(self.sentence(walk.advice.text), "")
        causes = [(c.id, c.name, c.probability) for c in walk.left or walk.diagnosis.causes[:_SHOWN_CAUSES]]
        if causes:
            said = ", ".join(f"{self._cause(i, name)} {p.percent(chance)}" for i, name, chance in causes)
            which = "walk_was" if done else "walk_left" if walk.left else "walk_likeliest"
            yield from wrap(self.say(which, causes=said), "")
        for note in walk.diagnosis.notes:
            if note.startswith("Two answers contradict"):
                yield from wrap(self.sentence(note), "")
        for bracket in other_brackets(p):
            yield from wrap(bracket, "")
        shown = walk.advice.kind in ("ask", "try_setting") and walk.steps  # in the heading of the step
        if not (shown or done):
            yield from wrap(self.sentence(walk.advice.text), "")
        if walk.advice.tell and walk.steps:
            yield from wrap(self.sentence(walk.advice.tell), "")
        if walk.advice.waits and not done:
            yield from wrap(self.sentence(walk.advice.waits), "")
        for fact in walk.advice.facts:
            yield from wrap(self.sentence(fact), f"{INDENT}- ", INDENT * 2)

    def step_lines(self, step: WalkStep, read: Collection[str] = ()) -> Iterator[str]:
        """One step: cautions, what to do, why now, and what may be answered.

        Cautions that were `read` in full before, by id, are given in one short sentence: twenty lines of what one has
        just read hide the line that matters.
        """
        walk = self.walk
        observing = step.kind not in ("repair", "trial")
        if step.kind == "machine":
            count = self.say("walk_machine")  # what it is counts as none of the questions about its trouble
        elif observing:
            count = self.say("walk_question", n=walk.asked + 1, most=walk.asked + walk.asks_left)
        else:
            count = self.say("walk_to_do" if step.kind == "repair" else "walk_to_try")
        yield from wrap(f"{count}: {self._headed(step)}", "")
        yield from caution_lines(self._cautions(step.cautions, read), INDENT)
        for line in step.aim:
            yield from wrap(self.sentence(line))
        for n, line in enumerate(step.do, 1):
            head = f"{n}. " if len(step.do) > 1 else ""
            yield from wrap(f"{head}{self.sentence(line)}", INDENT, INDENT + " " * len(head))
        if step.tools:
            yield from wrap(self.say("you_need", tools=self.p.language.tools(step.tools)))
        yield from wrap(self.say("walk_why", why=self.sentence(step.why)))
        if step.verify:
            yield from wrap(self.say("walk_right_when", verify=self.sentence(step.verify)))
        if step.put_back:
            yield from wrap(self.say("walk_put_back", put_back=self.sentence(step.put_back)))
        yield ""
        widest = min(max(len(self._outcome(step, o.outcome)) for o in step.outcomes), 26)
        for n, outcome in enumerate(step.outcomes, 1):
            head = f"{INDENT}{n}  {self._outcome(step, outcome.outcome):<{widest}}  "
            hang = " " * len(head)
            yield from wrap(self._means(step, outcome.outcome, outcome.means), head, hang)
            moved = [c for c in outcome.causes if round(c.now, 2) != round(c.after, 2)]
            if moved and step.kind != "machine":
                said = ", ".join(
                    f"{self._cause(c.id, c.name)} {self.p.percent(c.now)} → {self.p.percent(c.after)}" for c in moved
                )
                yield from wrap(said, hang, hang)
        yield f"{INDENT}0  {self._cannot(step)}"

    def use_lines(self, *, alone: bool = True) -> Iterator[str]:
        """Whether it can be used as it is; what is pressing is named, too, where this stands alone."""
        said = " ".join(use_as_it_is(self.p, alone=alone))
        yield from wrap(f"{'' if alone else '! '}{self.say('use_question')} {said}", "", INDENT)

    def cause_lines(self, causes: Sequence[CauseBelief]) -> Iterator[str]:
        """The leading causes, with what speaks for and against each and what would change one's mind."""
        p = self.p
        for cause in causes:
            head = f"{INDENT}{p.percent(cause.probability):>5}  "
            yield from wrap(f"{p.cause(cause)}: {self.sentence(cause.words)}", head, INDENT * 4)
            rival = next((small(p.cause(c)) for c in causes if c.id == cause.rival), "")
            beside = self.say("walk_beside", rival=rival) if rival else ""
            for label, said in (
                (self.say("walk_for", beside=beside), [p.statement(r.statement, r.observation) for r in cause.because]),
                (self.say("walk_fits"), [p.statement(r.statement, r.observation) for r in cause.against if r.fits]),
                (
                    self.say("walk_against", beside=beside),
                    [p.statement(r.statement, r.observation) for r in cause.against if not r.fits],
                ),
                (self.say("walk_mind"), [self._would(w) for w in cause.would_change]),
            ):
                if said:
                    yield from wrap(f"{label}: {'; '.join(said)}", INDENT * 4, INDENT * 5)

    def other_lines(self, steps: Iterable[WalkStep]) -> Iterator[str]:
        """The other steps on offer, numbered."""
        for n, step in enumerate(steps, 1):
            yield from wrap(f"{self._headed(step)}. {self.sentence(step.why)}", f"{INDENT}{n}  ", INDENT + "   ")

    def answer_echo(self, step: WalkStep, outcome: str, certainty: Certainty) -> str:
        """What was understood, in one line."""
        unsure = "" if certainty is Certainty.SURE else f", {self.say(f'certainty_{certainty}')}"
        meant = self._outcome(step, outcome) if outcome != UNKNOWN else self._cannot(step)
        said = f"{self.sentence(step.name)}: {meant}{unsure}"
        return printable(f"{INDENT}{self.say('walk_noted', said=said)}")

    def _cannot(self, step: WalkStep) -> str:
        return self.say("walk_not_done" if step.kind in ("repair", "trial") else "walk_cannot")

    def _headed(self, step: WalkStep) -> str:
        minutes = self.say("under_a_minute") if step.minutes < 1 else self.say("walk_min", n=f"{step.minutes:g}")
        return f"{self.sentence(step.name)} ({minutes})"

    def _cause(self, identity: str, name: str) -> str:
        return self.p.language.text("causes", identity, "name", name)

    def _would(self, lower: WouldLower) -> str:
        kind = {"finding": "findings", "context": "contexts"}.get(lower.kind, "checks")
        name = self.p.language.find(kind, lower.id, "name")
        said = lower.text
        if name is not None:
            where = f" ({self.p.place(lower.at)})" if lower.at else ""
            if kind == "checks":
                said = f"{name}{where}: {self._outcome_of(lower.id, lower.outcome)}"
            else:
                said = f"{name}{where}" if lower.outcome == "yes" else f"{self.say('not_so', name=small(name))}{where}"
        return self.say("walk_then", said=said, percent=self.p.percent(lower.probability))

    def _cautions(self, cautions: Iterable[CautionText], read: Collection[str] = ()) -> Iterator[CautionText]:
        for c in cautions:
            told = self.p.in_short((c,))[0] if c.id in read else self.p.caution(c)
            yield c.model_copy(update={"text": told.text})

    def _outcome(self, step: WalkStep, outcome: str) -> str:
        words = outcome.replace("_", " ")
        if step.kind in ("check", "question") and outcome != UNKNOWN:
            return self._outcome_of(step.id, outcome)
        if outcome in ("yes", "no"):
            return self.say(outcome)
        if step.kind == "machine" and step.id == "family":
            return self.p.language.text("families", outcome, "name", words)
        if step.kind == "machine" and outcome in _STROKES:
            return self.say(_STROKES[outcome])
        return self.sentence(words)

    def numbered(self, step: WalkStep) -> Mapping[str, int]:
        """The outcomes of a step as they are shown, each with the number that answers it."""
        return {self._outcome(step, o.outcome).casefold(): n for n, o in enumerate(step.outcomes, 1)}

    def _outcome_of(self, check: str, outcome: str) -> str:
        return self.p.language.text("checks", check, f"outcomes.{outcome}.name", outcome.replace("_", " "))

    def _means(self, step: WalkStep, outcome: str, given: str) -> str:
        if step.kind in ("check", "question"):
            return self.p.language.text("checks", step.id, f"outcomes.{outcome}.means", given)
        return self.sentence(given)


def rule() -> str:
    """A line between two steps."""
    return "-" * WIDTH


__all__ = ["WalkWords", "rule", "walk_text"]
