"""What the full and the short answer share: the headline, the verdict, what to mind, and what to ask."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from carbdiag.answers.phrases import ARROW, BETWEEN, Phrases, capital, small
from carbdiag.diagnosis_schema import CauseBelief, Correction, Diagnosis, NextStep, left_to_do
from carbdiag.field_types import Id
from carbdiag.frozen import Frozen
from carbdiag.records.safety import CautionText
from carbdiag.terms import Status

if TYPE_CHECKING:
    from carbdiag.reading_schema import TextReading

_MOST_QUESTIONS = 3
#: From this chance a kind of carburetor is asked about where the use is told: a mower has no vacuum slide.
_COMES_INTO_QUESTION = 0.1


#: Facts of a post that are no part of a case, or only in part, and shown as understood.
_AIR = ("elevation_m", "temperature_c")
_SET_UP = ("main_jet", "pilot_jet", "clip_groove", "screw_turns", "high_needle_turns", *_AIR)


class PostWords(Frozen):
    """The words of a poster that a case was read from, to be shown beside what was understood."""

    said: Mapping[Id, tuple[str, ...]] = {}
    """Id of a finding, check, circumstance, action or circuit -> the words read as it."""
    denied: Mapping[Id, tuple[str, ...]] = {}
    """The same for findings and circumstances that the poster says are not there."""
    set_up: tuple[tuple[str, str, str], ...] = ()
    """The jets, groove, turns and air of the poster: the fact, its number and the words."""
    asks_to_use: bool = False
    """Whether the poster asks if it can be used as it is."""
    not_understood: tuple[str, ...] = ()

    @classmethod
    def of(cls, diagnosis: Diagnosis) -> PostWords:
        """The words a diagnosis was read from; none where it was not read from a post."""
        # of a `ReadDiagnosis`; asking for that would load it for every case that no post was read for
        reading: TextReading | None = getattr(diagnosis, "reading", None)
        if reading is None:
            return cls()
        said: dict[str, tuple[str, ...]] = {}
        denied: dict[str, tuple[str, ...]] = {}
        read = (
            *((f.finding, f.said, f.status) for f in reading.findings),
            *((c.context, c.said, c.status) for c in reading.contexts),
            *((c.check, c.said, Status.PRESENT) for c in reading.checks),
            *((t.do or t.change or "", t.said, Status.PRESENT) for t in reading.trials),
            *((measured(g.at), g.said, Status.PRESENT) for g in reading.gauges),
        )
        for record, words, status in read:
            longest = max((w.words for w in words), key=len, default="")
            kept = denied if status is Status.DENIED else said
            if longest and longest not in kept.get(record, ()):
                kept[record] = (*kept.get(record, ()), longest)
        told = diagnosis.air is not None  # the change of air says more than its numbers
        facts = {
            (f.fact, f"{f.value:.0f}" if f.fact in _AIR else f"{f.value:.4g}"): f.said[0].words
            for f in reading.facts
            if f.fact in _SET_UP and not isinstance(f.value, str) and not (told and f.fact in _AIR)
        }
        return cls(
            said=said,
            denied=denied,
            set_up=tuple((fact, value, words) for (fact, value), words in facts.items()),
            asks_to_use=any(f.fact == "asks_to_use" for f in reading.facts),
            not_understood=tuple(w.words for w in reading.not_understood),
        )


def measured(at: str) -> str:
    """The key of a measured lambda, which has no record."""
    return f"lambda_{at}"


def settled(p: Phrases) -> CauseBelief | None:
    """The cause that is as good as certain, where putting it right may be done now."""
    return next((c for c in p.d.causes if c.id == p.d.do_now), None)


def observed_hazard(p: Phrases) -> bool:
    """Whether a hold is on for what was observed, not for what is only likely."""
    return any(hold.chance >= 1 for hold in p.d.holds)


def first_steps(p: Phrases) -> tuple[NextStep | None, tuple[NextStep, ...]]:
    """The step that leads, if any, and those after it; where nothing was told, no step leads."""
    steps = p.d.next_steps
    return (steps[0], steps[1:]) if steps and p.d.answer != "ask_first" else (None, steps)


def headline(p: Phrases) -> str:
    """What to do now, in one line; where there is nothing to do, what is likely."""
    if p.d.answer == "ask_first":
        return p.say("answer_first", question=p.say("ask_complaint"))
    cause = settled(p)
    if cause is not None:
        fix = cause.correction
        name = p.language.text("actions", fix.action, "name", fix.name)
        if fix.direction is not None:
            way = p.say(str(fix.direction))
            return p.say("try_now", change=small(name), way=way, minutes=p.minutes(fix.minutes))
        return p.say("do_now", change=name, minutes=p.minutes(fix.minutes))
    step, _ = first_steps(p)
    return verdict(p) if step is None else to_do(p, step, p.step_name(step))


def which_way(p: Phrases, fix: Correction) -> str:
    """What the hand does to go richer or leaner."""
    # in English the record is at hand only as what the correction says: the step, then how it is made
    return p.language.find("circuits", fix.circuit, f"{fix.direction}.do") or (fix.size or "").partition(". ")[2]


def from_to(p: Phrases, fix: Correction, present: str, proposed: str, *, part_once: bool = False) -> str:
    """The size that is in and the one to go to: a setting step by step, a jet for other air to start with.

    With `part_once` the name of the part is not said again before the second: "from main jet 170: 165 first".
    """
    now, then = p.language.sentence(present), p.language.sentence(proposed)
    if part_once:
        then = then.removeprefix(now.rstrip("0123456789."))
    return p.say("from_start" if fix.direction is None else "from_to", present=now, proposed=then)


def to_do(p: Phrases, step: NextStep, name: str) -> str:
    """A step, under this name, as what to do first."""
    if step.kind == "check":
        return p.say("do_first", step=name, minutes=p.minutes(step.minutes))
    return p.say("answer_first", question=name)


def verdict(p: Phrases, leading: int = 3) -> str:
    """What is likely, or that nothing can be said yet; where it is open, so many leading causes."""
    d = p.d
    if d.answer == "ask_first" or not d.causes:
        return p.say("nothing_observed")
    top = left_to_do(d.causes)[0]
    if d.answer == "unexplained":
        return p.say("unexplained", cause=small(p.cause(top)))
    return _likely(p, top) or _open(p, leading)


def _likely(p: Phrases, top: CauseBelief) -> str | None:
    """What stands out: several settings, a group, or the leading cause; None where nothing does."""
    d = p.d
    if d.several_settings is not None and d.several_settings.leads:
        return p.say("several_likely", percent=p.percent(d.several_settings.probability), order=in_turn(p))
    for group in d.groups:
        if group.group == d.area:
            name = p.language.text("groups", group.group, "name", group.name)
            which = "likely_group" if d.answer == "likely" else "open_group"
            return p.say(which, group=name, percent=p.percent(group.probability))
    if d.answer != "likely":
        return None
    if d.only_air:
        return p.say("other_air_only", cause=small(p.cause(top)))
    likely = p.say("likely_cause", cause=p.cause(top), odds=p.odds(top))
    return f"{likely} {capital(p.say('put_right_already'))}." if top.is_put_right else likely


def _open(p: Phrases, leading: int) -> str:
    """That it cannot be told yet, and what leads so far."""
    d = p.d
    few = BETWEEN.join(f"{small(p.cause(c))} ({p.percent(c.probability)})" for c in left_to_do(d.causes)[:leading])
    if d.off is None:
        return p.say("open", causes=few)
    first, last = (p.place(d.off.places[n]) for n in (0, -1))
    where = p.say("place_one", place=first) if first == last else p.say("place_range", first=first, last=last)
    return p.say(f"open_{d.off.direction}", where=where, percent=p.percent(d.off.probability), causes=few)


def in_turn(p: Phrases) -> str:
    """The settings that are likely off together, each with its way, in the order in which to set them."""
    settings = p.d.several_settings.settings if p.d.several_settings is not None else ()
    return ARROW.join(p.say(f"setting_{s.direction}", part=p.circuit(s.circuit)) for s in settings)


def put_back(p: Phrases, *, sizes: bool = True) -> Iterator[tuple[str, tuple[CautionText, ...]]]:
    """What to put back before anything else because moving it made it worse, each with its cautions.

    Where what was tried brackets the right setting, that is said beside it, unless without `sizes`.
    """
    lies = {b.circuit: p.language.sentence(b.text) for b in p.d.brackets if sizes}
    for moved in p.d.put_back_first:
        which = "half_back_first" if moved.too_far else "put_back_first"
        line = p.say(which, part=p.circuit(moved.circuit))
        yield f"{line} {lies[moved.circuit]}" if moved.circuit in lies else line, moved.cautions


def other_brackets(p: Phrases) -> Iterator[str]:
    """Between what the right setting lies, of the settings that need not be put back."""
    back = {moved.circuit for moved in p.d.put_back_first}
    yield from (p.language.sentence(b.text) for b in p.d.brackets if b.circuit not in back)


def pressing(p: Phrases) -> Iterator[tuple[str, str]]:
    """Name and reason of what must not be done just now."""
    for hold in p.d.holds:
        if hold.pressing:
            text = p.language.text
            yield text("safety", hold.id, "name", hold.name), text("safety", hold.id, "why", hold.why)


def must_not_be_used(p: Phrases) -> bool:
    """Whether it must not be used as it is, which is said though nobody asks."""
    return p.d.may_use.how in ("not_at_all", "standing_only")


def use_as_it_is(p: Phrases, *, alone: bool = False) -> Iterator[str]:
    """Whether it may be used as it is, and the names of what limits that.

    Unless it stands `alone`, what is pressing stands above it anyway and is not named twice.
    """
    use, told = p.d.may_use, set() if alone else {name for name, _ in pressing(p)}
    limits = [(p.language.text("safety", limit.id, "name", limit.name), limit.chance) for limit in use.because]
    named = [(name, chance) for name, chance in limits if name not in told]
    if use.how == "gently" and limits:
        yield p.say("use_gently_because" if named else "use_gently_minding")
    else:
        yield p.say(f"use_{use.how}")
    for name, chance in named:
        yield f"{p.say('use_chance', name=name, percent=p.percent(chance)) if chance < 1 else name}."


def of_the_machine(p: Phrases) -> tuple[CautionText, ...]:
    """Cautions of the answer as a whole, which belong to no step and no cause: the kind of machine asks for them."""
    d = p.d
    tied = {c.id for s in d.next_steps for c in s.cautions}
    tied |= {c.id for cause in d.causes for c in (*cause.cautions, *cause.correction.cautions)}
    return tuple(c for c in d.cautions if c.id not in tied)


def questions(p: Phrases, steps: Iterable[NextStep]) -> tuple[str, ...]:
    """Up to three questions for the poster: what the machine is, then what would tell most."""
    asked = []
    least = 0.0 if p.d.machine.use is None else _COMES_INTO_QUESTION
    kinds = tuple(f for f, chance in p.d.families.items() if chance >= least)
    if len(kinds) > 1:
        asked.append(p.say("ask_family", kinds=BETWEEN.join(dict.fromkeys(map(p.kind, kinds)))))
    if p.d.machine.strokes is None:
        how_many = p.d.machine.cylinders is None and p.d.machine.use is None
        asked.append(p.say("ask_strokes_and_cylinders" if how_many else "ask_strokes"))
    asked += [question(p, s) for s in steps if s.kind != "check"]
    return tuple(asked[:_MOST_QUESTIONS])


def cautions_of_questions(steps: Iterable[NextStep]) -> tuple[CautionText, ...]:
    """What to mind when answering questions, such as not to start an engine that must stay off."""
    return tuple(dict.fromkeys(c for s in steps if s.kind != "check" for c in s.cautions))


def question(p: Phrases, step: NextStep) -> str:
    """A step as a question, with the answers to choose from where they are not yes and no."""
    if step.kind != "question":
        return capital(p.step_name(step))
    choices = " / ".join(p.outcome(step, o) for o in step.outcomes)
    return f"{p.step_name(step)} ({choices})"


def checks_after(p: Phrases) -> tuple[NextStep, ...]:
    """The checks to do after the first step."""
    return tuple(s for s in first_steps(p)[1] if s.kind == "check")
