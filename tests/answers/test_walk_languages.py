"""A walk in another language: nothing that the library composes stays English."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from carbdiag import Case, load_case
from carbdiag.answers.language import answer_language, languages
from carbdiag.answers.walk_text import WalkWords, walk_text
from carbdiag.case_schema import FindingReport, Machine, Trial
from carbdiag.cli import main
from carbdiag.knowledge import load_worked_cases
from carbdiag.terms import Certainty, Change, Effect, Status
from carbdiag.walk_schema import StepAnswer, Walk, WalkRequest
from carbdiag.walking import walk

OTHERS = [code for code in languages() if code != "en"]
#: Words that no Spanish text of ours holds.
ENGLISH = {"the", "of", "is", "with", "not", "it", "and", "what", "knowing", "throttle", "none"}


def walked(seed: int) -> list[Walk]:
    """Ten steps from a worked case, the answers by chance."""
    chance = random.Random(seed)
    told = chance.choice(load_worked_cases())
    case = Case(machine=told.machine, findings=told.findings[:2])
    answer: StepAnswer | None = None
    out: list[Walk] = []
    for _ in range(10):
        now = walk(WalkRequest(case=case, asks=6, steps=3, answer=answer))
        out.append(now)
        if not now.steps:
            break
        step = chance.choice(now.steps)
        outcome = chance.choice([o.outcome for o in step.outcomes])
        case = now.case
        answer = StepAnswer(
            kind=step.kind, id=step.id, at=step.at, direction=step.direction, steps=step.by_steps, outcome=outcome
        )
    return out


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("seed", range(6))
def test_every_text_of_a_walk_is_translated(code: str, seed: int) -> None:
    for now in walked(seed):
        words = WalkWords(now, code)
        lines = [*words.standing(), *words.cause_lines(now.diagnosis.causes[:4]), *words.other_lines(now.steps)]
        for step in now.steps:
            lines += [*words.step_lines(step), words.answer_echo(step, step.outcomes[0].outcome, Certainty.MAYBE)]
        for line in lines:
            assert not ENGLISH & {*line.lower().replace(".", " ").replace(",", " ").split()}, line


@pytest.mark.parametrize("code", OTHERS)
def test_contradictions_and_brackets_are_told_in_the_language(code: str) -> None:
    sizes = {"from_size": 120, "to_size": 130}
    tried = Trial(change="main_jet", direction=Change.RICHER, effect=Effect.OVERSHOT, at="full", **sizes)
    case = Case(
        machine=Machine(family="round_slide", strokes=2),
        findings=(
            FindingReport(finding="bogs", at=("half",)),
            FindingReport(finding="bogs", at=("half",), status=Status.DENIED),
        ),
        trials=(tried,),
    )
    said = walk_text(walk(WalkRequest(case=case)), code).lower()
    assert "contradict" not in said.replace("contradicen", "")
    assert "overshot" not in said
    assert not ENGLISH & {*said.replace(".", " ").split()}


def test_a_name_that_holds_the_words_around_it_is_translated_whole() -> None:
    said = answer_language("es").sentence(
        "The right coasting valve (air cut-off for the overrun) for full throttle lies between where it began and"
        " 2 steps richer than where it began."
    )
    assert said == (
        "El valor correcto (válvula de retención (corte de aire al retener)) para acelerador a fondo está entre donde"
        " estaba al principio y 2 pasos más rico que al principio."
    )


def test_two_names_that_hold_an_and_are_told_apart() -> None:
    said = answer_language("es").sentence(
        "The answer decides between needle and needle jet worn and jet needle clip too low (needle too high)."
    )
    assert not {"and", "worn", "clip too low"} & {*said.split()}
    assert said.count("«") == 2
    assert "(aguja muy baja)" in said or "(aguja muy alta)" in said


def test_a_sitting_in_spanish_finds_signs_without_accents(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    machine, told = ["1", "", "1", "1"], ["acelerador a medias", "ahoga abrir", "1", "4", "", ""]
    typed = iter([*machine, *told, "o", "", "c", "0", "b", "q"])
    asked: list[str] = []

    def answer(prompt: str) -> str:
        asked.append(prompt)
        return next(typed)

    monkeypatch.setattr("builtins.input", answer)
    file = tmp_path / "caso.yaml"
    assert main(["walk", str(file), "--language", "es"]) == 0
    printed = capsys.readouterr().out
    assert load_case(file.read_text(encoding="utf-8")).findings[0].finding == "bogs"
    assert "--language es" in printed
    for line in [*asked, *printed.splitlines()]:
        assert not ENGLISH & {*line.lower().replace(".", " ").split()}, line
