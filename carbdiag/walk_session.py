"""A walk in the terminal, keyboard only: asks, and writes the case file whole after every answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, TypeVar

from carbdiag.answers.layout import wrap
from carbdiag.answers.walk_text import answer_echo, cause_lines, other_lines, rule, standing, step_lines
from carbdiag.case_check import check_case
from carbdiag.case_file import case_text, write_whole
from carbdiag.case_schema import Case, ContextReport, Epoch, FindingReport
from carbdiag.errors import CaseError
from carbdiag.knowledge import Knowledge
from carbdiag.records.circuits import Circuit
from carbdiag.records.contexts import Context
from carbdiag.records.findings import Finding
from carbdiag.terms import Certainty, Effect, RepairHow
from carbdiag.walk import walk
from carbdiag.walk_answer import with_answer
from carbdiag.walk_schema import UNKNOWN, StepAnswer, Walk, WalkRequest, WalkStep

_R = TypeVar("_R", Finding, Context)

_HELP: Final = (
    "A number answers; ? after it means probably, ?? maybe. Or a letter: o other steps, a add something you saw,"
    " c causes and why, b take the last answer back, q save and stop. ? alone shows this again."
)
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
    before: list[Case] = field(default_factory=list)

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


def sit(k: Knowledge, case: Case, file: Path, heading: str, asks: int) -> None:
    """Ask until it is cured, or the rider stops.

    Raises:
        OSError: the case file cannot be written.
        CaseError: the case cannot be used as it stands.
    """
    check_case(k, case)
    session = _Session(k, case, file, heading, asks)
    to_go_on = f"The case is in {file}. To go on: carbdiag walk {file}"
    _show(wrap(_HELP, ""))
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
    print(f"\n{rule()}")
    _show(standing(now))
    if now.advice.kind == "done" or not now.steps:
        return False
    if now.advice.kind in ("workshop", "unexplained") and _line("Enter to go on all the same, q to stop: ") == "":
        print()
    return _ask(s, now, now.steps[0])


def _ask(s: _Session, now: Walk, step: WalkStep) -> bool:
    print()
    _show(step_lines(step, now))
    while True:
        said = _line("\nAnswer (? for help): ")
        if said == "?":
            _show(wrap(_HELP))
            continue
        if said == "o":
            others = [x for x in now.steps if x is not step]
            _show(other_lines(others))
            chosen = _number("Which one? (Enter for none) ", len(others))
            return _ask(s, now, others[chosen - 1] if chosen else step)
        if said == "c":
            _show(cause_lines(now.diagnosis.causes[:4]))
        elif said == "a":
            return _tell(s, "What else did you see", s.k.findings, _finding) or True
        elif said == "b":
            print("  Taken back." if s.back() else "  There is nothing to take back in this sitting.")
            return True
        elif (answer := _answer(s.k, step, said)) is not None:
            try:
                s.keep(with_answer(s.k, s.case, answer))
            except CaseError as error:
                _show(line for p in error.problems for line in wrap(str(p)))
                continue
            print(answer_echo(step, answer.outcome, answer.certainty))
            return True
        else:
            print(f"  {said!r} is none of these.")


def _answer(k: Knowledge, step: WalkStep, said: str) -> StepAnswer | None:
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
        how = _number("How? 1 new part, 2 used part, 3 the old one cleaned, Enter as described: ", len(ways))
        more["how"] = ways[how - 1] if how else None
    if step.kind == "trial":
        sizes = _sizes(k.circuits[step.id])
        more |= sizes
        if sizes:
            common["direction"] = None  # the sizes say it
        if outcome not in (Effect.CURED, Effect.BETTER):
            more["put_back"] = _line("Is it back as it was? Enter for yes, n for no: ") != "n"
    return StepAnswer.model_validate({**common, **more, "outcome": outcome})


def _sizes(circuit: Circuit) -> dict[str, object]:
    if circuit.sizes is None:
        return {}
    while True:
        said = _line(f"From and to which {circuit.sizes.name}? Two numbers, or Enter if you don't know: ").split()
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
    _show(wrap("Tell what you know; Enter skips any question. Everything is written to the case file as you go.", ""))
    machine = s.case.machine
    facts: dict[str, object] = {}
    if machine.strokes is None:
        chosen = _number("\nTwo-stroke or four-stroke? 1 two-stroke, 2 four-stroke: ", 2)
        facts["strokes"] = (None, 2, 4)[chosen]
    families = list(s.k.families.values())
    if machine.family not in s.k.families:
        print("\nWhich kind of carburetor?")
        for n, family in enumerate(families, 1):
            _show(wrap(f"{family.name}: {family.what}", f"  {n}  ", "     "))
        chosen = _number("Number: ", len(families))
        if chosen:
            facts["family"] = families[chosen - 1].id
    if machine.cylinders is None:
        facts["cylinders"] = _number("\nHow many cylinders? ", 12) or None
    if any(v is not None for v in facts.values()):
        # fields left as they are stay unset, so that the file says only what was told
        kept = {k: v for k, v in facts.items() if v is not None}
        s.keep(s.case.model_copy(update={"machine": machine.model_copy(update=kept)}))
    while _tell(s, "What does it do", s.k.findings, _finding):
        pass
    while _tell(s, "What was changed, or happened before", s.k.contexts, _context):
        pass


def _tell(
    s: _Session, question: str, records: Mapping[str, _R], add: Callable[[_Session, _R], Case]
) -> bool:
    """Find a record by a word and add it to the case; false when the rider has no more to tell."""
    said = _line(f"\n{question}? Type a word of it (smoke, idle, carburetor ...), or Enter when done: ")
    if not said:
        return False
    words = said.casefold().split()
    hits = [r for r in records.values() if all(w in f"{r.id} {r.name} {r.ask}".casefold() for w in words)]
    hits.sort(key=lambda r: not all(w in f"{r.id} {r.name}".casefold() for w in words))
    hits.sort(key=lambda r: r.id != "_".join(words))
    if not hits:
        print("  Nothing known here says that; try another word.")
        return True
    if len(hits) > _MOST_HITS:
        print(f"  {len(hits)} signs say that; the first {_MOST_HITS} are shown. A second word narrows it.")
    hits = hits[:_MOST_HITS]
    for n, record in enumerate(hits, 1):
        _show(wrap(f"{record.name}: {record.ask}", f"  {n}  ", "     "))
    chosen = _number("Which one? (Enter for none) ", len(hits))
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
        print("  Where?")
        for n, place in enumerate(at, 1):
            print(f"  {n}  {s.k.places[place].name}")
        chosen = _number("Number (Enter if you can't say): ", len(at))
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


def _show(lines: Iterable[str]) -> None:
    for line in lines:
        print(line.rstrip())


def _line(prompt: str) -> str:
    said = input(prompt).strip()
    if said == "q":
        raise _StopError
    return said


def _number(prompt: str, most: int) -> int:
    """A whole number from 1 to `most`, or 0 for none."""
    while True:
        said = _line(prompt)
        if not said:
            return 0
        if said.isdecimal() and len(said) < 4 and int(said) <= most:
            return int(said)
        print(f"  A number from 1 to {most}, or Enter.")
