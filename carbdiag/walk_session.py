"""A walk in the terminal, keyboard only: asks, and writes the case file whole after every answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar
from unicodedata import combining, normalize

from carbdiag.answers.language import ENGLISH, AnswerLanguage, answer_language
from carbdiag.answers.layout import wrap
from carbdiag.answers.reading_text import statements_text
from carbdiag.answers.walk_text import WalkWords, rule
from carbdiag.case_check import check_case
from carbdiag.case_file import case_text, write_whole
from carbdiag.case_schema import Case, ContextReport, Epoch, FindingReport, Machine
from carbdiag.casework.machine_kinds import machine_kinds, with_family_id
from carbdiag.errors import CaseError
from carbdiag.knowledge import Knowledge
from carbdiag.records.circuits import Circuit
from carbdiag.records.contexts import Context
from carbdiag.records.families import Family
from carbdiag.records.findings import Finding
from carbdiag.terms import Certainty, Effect, RepairHow
from carbdiag.walk_answer import with_answer
from carbdiag.walk_in_words import told_in_words
from carbdiag.walk_schema import UNKNOWN, StepAnswer, WalkRequest, WalkStep
from carbdiag.walking import walk

_R = TypeVar("_R", Finding, Context)

_MOST_HITS = 9


class _StopError(Exception):
    """The rider wants to stop."""


@dataclass
class _Session:
    """One sitting: the case as it stands, and how it stood before each answer."""

    k: Knowledge
    case: Case
    file: Path
    heading: str
    asks: int
    language: AnswerLanguage
    before: list[Case] = field(default_factory=list)
    read: set[str] = field(default_factory=set)  # cautions given in full

    def say(self, template: str, **values: object) -> str:
        """A template of the language, filled in."""
        return self.language.say(template, **values)

    def keep(self, case: Case) -> None:
        """Take a new case over and write it."""
        self.before.append(self.case)
        self._write(case)

    def back(self) -> bool:
        """Undo the last answer of this sitting; false where there is none."""
        if not self.before:
            return False
        self._write(self.before.pop())
        return True

    def _write(self, case: Case) -> None:
        write_whole(self.file, case_text(case, as_json=self.file.suffix == ".json", heading=self.heading))
        self.case = case


def sit(k: Knowledge, case: Case, file: Path, heading: str, asks: int, language: str = ENGLISH) -> None:
    """Ask until it is cured, or the rider stops.

    Raises:
        OSError: the case file cannot be written.
        CaseError: the case cannot be used as it stands.
    """
    case = with_family_id(k, case)
    check_case(k, case)
    session = _Session(k, case, file, heading, asks, answer_language(language))
    chosen = "" if language == ENGLISH else f" --language {language}"
    to_go_on = session.say("walk_go_on", file=file, command=f"carbdiag walk {file}{chosen}")
    _show(wrap(session.say("walk_help"), ""))
    try:
        if not any(e.findings or e.checks or e.readings for e in case.history()):
            _intake(session)
        while _one_step(session):
            pass
    except (_StopError, EOFError):
        print()
    except KeyboardInterrupt:
        print(f"\n{to_go_on}")
        raise
    print(to_go_on)


def _one_step(s: _Session) -> bool:
    """Show where it stands and take one answer; false at the end."""
    now = walk(WalkRequest(case=s.case, asks=s.asks, steps=5), s.k)
    words = WalkWords(now, s.language.code)
    print(f"\n{rule()}")
    _show(words.standing())
    if now.advice.kind == "done" or not now.steps:
        return _at_the_end(s)
    if now.advice.kind in ("workshop", "unexplained") and _line(s.say("walk_all_the_same")) == "":
        print()
    return _ask(s, words, now.steps[0])


def _at_the_end(s: _Session) -> bool:
    """Nothing is left to do: it ends, unless it came back, or the last answer was a slip of the finger."""
    while True:
        said = _line(f"\n{s.say('walk_at_the_end')}").casefold()
        if said == "a":
            return _add(s)
        if said == "b" and s.back():
            print(f"  {s.say('walk_taken_back')}")
            return True
        if said == "b":
            print(f"  {s.say('walk_nothing_back')}")
        elif not said:
            return False


def _add(s: _Session) -> bool:
    """Take down one sign more; the walk goes on, whether there was one or not."""
    return _tell(s, s.say("walk_what_else"), "findings", s.k.findings, _finding) or True


def _ask(s: _Session, words: WalkWords, step: WalkStep) -> bool:
    print()
    _show(words.step_lines(step, s.read))
    s.read.update(c.id for c in step.cautions)
    while True:
        said = _line(f"\n{s.say('walk_answer')}").casefold()
        if said in ("", "?"):
            _show(wrap(s.say("walk_help")))
            continue
        if said == "o":
            others = [x for x in words.walk.steps if x is not step]
            _show(words.other_lines(others))
            chosen = _number(s, s.say("walk_which"), len(others))
            return _ask(s, words, others[chosen - 1] if chosen else step)
        if said == "c":
            _show(words.cause_lines(words.walk.diagnosis.causes[:4]))
        elif said == "u":
            _show(words.use_lines())
        elif said == "a":
            return _add(s)
        elif said == "b":
            print(f"  {s.say('walk_taken_back' if s.back() else 'walk_nothing_back')}")
            return True
        elif (answer := _answer(s, step, _number_of(words.numbered(step), said))) is not None:
            try:
                s.keep(with_answer(s.k, s.case, answer))
            except CaseError as error:
                _show(line for p in error.problems for line in wrap(str(p)))
                continue
            print(words.answer_echo(step, answer.outcome, answer.certainty))
            return True
        elif _are_words(said):
            if _in_words(s, said):
                return True
        else:
            print(f"  {s.say('walk_none_of_these', said=repr(said))}")


def _number_of(numbered: Mapping[str, int], said: str) -> str:
    """An outcome typed out as its number; what marks it as unsure stays."""
    name = said.rstrip("?")
    return f"{numbered[name]}{said[len(name):]}" if name in numbered else said


def _are_words(said: str) -> bool:
    """Whether something typed is there to be read, and no number or letter of the walk."""
    return any(len(word) > 2 and word[0].isalpha() for word in said.split())


def _in_words(s: _Session, said: str) -> bool:
    """Take down what was told in words; false where nothing of it was understood, or it does not fit."""
    try:
        new, reading = told_in_words(s.k, s.case, said, s.language.code)
    except CaseError as error:
        _show(line for p in error.problems for line in wrap(str(p)))
        return False
    lines = statements_text(reading, s.k, s.language.code)
    _show(wrap(s.say("walk_read" if lines else "walk_not_read")))
    _show(lines)
    if lines:
        s.keep(new)
    return bool(lines)


def _answer(s: _Session, step: WalkStep, said: str) -> StepAnswer | None:
    """What a typed answer means, with the questions that a repair or trial still needs; None where it means nothing."""
    marks = len(said) - len(said.rstrip("?"))
    number = said.rstrip("?")
    if not number.isdecimal() or len(number) > 2 or marks > 2 or int(number) > len(step.outcomes):
        return None
    common = {"kind": step.kind, "id": step.id, "at": step.at, "direction": step.direction, "steps": step.by_steps}
    if int(number) == 0:
        return StepAnswer.model_validate({**common, "outcome": UNKNOWN})
    outcome = step.outcomes[int(number) - 1].outcome
    more: dict[str, object] = {"certainty": (Certainty.SURE, Certainty.PROBABLY, Certainty.MAYBE)[marks]}
    if step.kind == "repair":
        ways = tuple(RepairHow)
        how = _number(s, s.say("walk_how"), len(ways))
        more["how"] = ways[how - 1] if how else None
    if step.kind == "trial":
        sizes = _sizes(s, s.k.circuits[step.id])
        more |= sizes
        if sizes:
            common["direction"] = None  # the sizes say it
        if outcome not in (Effect.CURED, Effect.BETTER):
            more["put_back"] = _line(s.say("walk_is_back")) != "n"
    return StepAnswer.model_validate({**common, **more, "outcome": outcome})


def _sizes(s: _Session, circuit: Circuit) -> dict[str, object]:
    if circuit.sizes is None:
        return {}
    while True:
        said = _line(s.say("walk_sizes", part=s.language.sentence(circuit.sizes.name))).split()
        if not said:
            return {}
        try:
            first, second = (float(word) for word in said)
        except ValueError:
            continue
        if first != second and min(first, second) >= 0 and max(first, second) <= 1500:
            return {"from_size": first, "to_size": second}


# ---------------------------------------------------------------------------------------------------------
# The first questions of a new case


def _intake(s: _Session) -> None:
    """The machine, what it does, and what happened before."""
    _show(wrap(s.say("walk_intake"), ""))
    machine = s.case.machine
    facts: dict[str, object] = {}
    if machine.strokes is None:
        chosen = _number(s, f"\n{s.say('walk_strokes')}", 2)
        facts["strokes"] = (None, 2, 4)[chosen]
    if machine.use is None:
        uses = list(s.k.uses.values())
        print(f"\n{s.say('walk_use')}")
        for n, use in enumerate(uses, 1):
            _show(wrap(s.language.text("uses", use.id, "name", use.name), f"  {n:2}  ", "      "))
        chosen = _number(s, s.say("walk_number"), len(uses))
        if chosen:
            facts["use"] = uses[chosen - 1].id
    if machine.family not in s.k.families:
        families = _likeliest_families(s.k, machine.model_copy(update=facts))
        print(f"\n{s.say('walk_family')}")
        for n, family in enumerate(families, 1):
            name, what = (s.language.text("families", family.id, f, getattr(family, f)) for f in ("name", "what"))
            _show(wrap(f"{name}: {what}", f"  {n}  ", "     "))
        chosen = _number(s, s.say("walk_number"), len(families))
        if chosen:
            facts["family"] = families[chosen - 1].id
    if machine.cylinders is None:
        facts["cylinders"] = _number(s, f"\n{s.say('walk_cylinders')}", 12) or None
    if any(v is not None for v in facts.values()):
        # fields left as they are stay unset, so that the file says only what was told
        kept = {k: v for k, v in facts.items() if v is not None}
        s.keep(s.case.model_copy(update={"machine": machine.model_copy(update=kept)}))
    while _tell(s, s.say("walk_what_does_it"), "findings", s.k.findings, _finding):
        pass
    while _tell(s, s.say("walk_what_changed"), "contexts", s.k.contexts, _context):
        pass


def _likeliest_families(k: Knowledge, machine: Machine) -> list[Family]:
    """Every kind of carburetor, those that such a machine mostly has first."""
    chances: dict[str, float] = {}
    for family, _, chance in machine_kinds(k, machine):
        chances[family] = chances.get(family, 0.0) + chance
    return sorted(k.families.values(), key=lambda family: -chances.get(family.id, 0.0))


def _tell(
    s: _Session, question: str, kind: str, records: Mapping[str, _R], add: Callable[[_Session, _R], Case]
) -> bool:
    """Find a record by a word and add it to the case; false when the rider has no more to tell."""
    said = _line(f"\n{s.say('walk_tell', question=question)}")
    if not said:
        return False
    words = _plain(said).split()
    told = {r.id: (s.language.text(kind, r.id, "name", r.name), s.language.text(kind, r.id, "ask", r.ask))
            for r in records.values()}  # fmt: skip
    named = {i: _plain(f"{i} {name} {records[i].name}") for i, (name, _) in told.items()}
    asked = {i: _plain(f"{named[i]} {ask} {records[i].ask}") for i, (_, ask) in told.items()}
    hits = [r for r in records.values() if all(w in asked[r.id] for w in words)]
    hits.sort(key=lambda r: not all(w in named[r.id] for w in words))
    hits.sort(key=lambda r: r.id != "_".join(words))
    if not hits:
        if not (_are_words(said) and _in_words(s, said)):
            print(f"  {s.say('walk_no_hit')}")
        return True
    if len(hits) > _MOST_HITS:
        print(f"  {s.say('walk_many_hits', n=len(hits), shown=_MOST_HITS)}")
    hits = hits[:_MOST_HITS]
    for n, record in enumerate(hits, 1):
        _show(wrap(": ".join(told[record.id]), f"  {n}  ", "     "))
    chosen = _number(s, s.say("walk_which"), len(hits))
    if chosen:
        new = add(s, hits[chosen - 1])
        try:
            check_case(s.k, new)
        except CaseError as error:
            _show(line for p in error.problems for line in wrap(str(p)))
        else:
            s.keep(new)
    return True


def _finding(s: _Session, finding: Finding) -> Case:
    at: tuple[str, ...] = finding.at
    if len(at) > 1:
        print(f"  {s.say('walk_where')}")
        for n, place in enumerate(at, 1):
            print(f"  {n}  {s.language.text('bands', place, 'name', s.k.places[place].name)}")
        chosen = _number(s, s.say("walk_where_number"), len(at))
        at = (at[chosen - 1],) if chosen else ()
    report = FindingReport(finding=finding.id, at=at)
    history = s.case.history()
    if not s.case.epochs and not s.case.trials:
        return s.case.model_copy(update={"findings": (*s.case.findings, report)})
    last = history[-1]
    if last.trials:
        history, last = (*history, Epoch()), Epoch()
    last = last.model_copy(update={"findings": (*last.findings, report)})
    nothing: dict[str, object] = dict.fromkeys(("findings", "checks", "readings", "trials"), ())
    return s.case.model_copy(update={**nothing, "epochs": (*history[:-1], last)})


def _context(s: _Session, context: Context) -> Case:
    told = ContextReport(context=context.id)
    return s.case.model_copy(update={"contexts": (*s.case.contexts, told)})


# ---------------------------------------------------------------------------------------------------------
# Lines in and out


def _plain(text: str) -> str:
    """In small letters and without accents, as they are typed with greasy hands."""
    return "".join(c for c in normalize("NFD", text.casefold()) if not combining(c))


def _show(lines: Iterable[str]) -> None:
    for line in lines:
        print(line.rstrip())


def _line(prompt: str) -> str:
    said = input(f"{prompt} ").strip()
    if said.casefold() == "q":
        raise _StopError
    return said


def _number(s: _Session, prompt: str, most: int) -> int:
    """A whole number from 1 to `most`, or 0 for none."""
    while True:
        said = _line(prompt)
        if not said:
            return 0
        if said.isdecimal() and len(said) < 4 and int(said) <= most:
            return int(said)
        print(f"  {s.say('walk_a_number', n=most)}")
