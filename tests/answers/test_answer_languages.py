"""Answer languages: complete templates, no text of a record that is gone, English where one is missing."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from answer_samples import demo

from carbdiag import CaseError, KnowledgeError, diagnose, to_text
from carbdiag.answers import languages
from carbdiag.answers.language import answer_language, load_language
from carbdiag.answers.language_check import check_languages
from carbdiag.answers.phrases import Phrases
from carbdiag.knowledge import default_folder, shipped_knowledge

SHORT_LIMIT = 90


def mistakes(folder: Path) -> str:
    return "\n".join(map(str, check_languages(shipped_knowledge(), folder)[0]))


def write(folder: Path, name: str, text: str) -> None:
    file = folder / "languages" / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")


def change(folder: Path, name: str, old: str, new: str) -> None:
    file = folder / "languages" / name
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def test_the_shipped_languages_have_no_mistake() -> None:
    found, _ = check_languages(shipped_knowledge(), default_folder())
    assert found == []


def test_english_comes_first_and_spanish_is_there() -> None:
    assert languages()[0] == "en"
    assert "es" in languages()


def test_a_language_nobody_wrote_is_refused_with_the_nearest() -> None:
    with pytest.raises(CaseError, match=r"unknown language 'ess'.*es"):
        to_text(diagnose(demo()), language="ess")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('  mind: "Cuidado:"\n', "", "words.mind: is missing; found Mind this:"),
        ("  screwdriver:", "  screwdrivers:", "no check and no job names this tool; found screwdrivers"),
        ("  mind:", "  mindd:", "words.mindd: unknown template; found mindd; did you mean mind?"),
        ("{minutes})", "{minute})", "must have the slots of the English one"),
        ("  - {en: \"idle\", to: \"ralentí\"}", "  - {en: idle, to: \"{x}\"}", "has a slot that"),
    ],
)
def test_templates_that_do_not_fit_the_english_ones_are_listed(folder: Path, old: str, new: str, said: str) -> None:
    change(folder, "answers/es.yaml", old, new)
    assert said in mistakes(folder)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("main_jet_too_smal: {name: x}\n", "unknown id: the record is gone or was renamed; found main_jet_too_smal"),
        ("main_jet_too_small: {nome: x}\n", "main_jet_too_small.nome: no answer shows this field; found nome"),
        ("main_jet_too_small: {name: [x]}\n", "main_jet_too_small.name: must be a text, as in English"),
        ("main_jet_too_small: {name: 3}\n", "main_jet_too_small.name: must be a text, or a list of texts"),
        ("- x\n", "must be a set of fields"),
        ("a: &b c\n", "anchors and aliases are not allowed"),
    ],
)
def test_texts_that_fit_no_record_are_listed(folder: Path, text: str, said: str) -> None:
    write(folder, "es/causes.yaml", text)
    assert said in mistakes(folder)


def test_a_list_of_another_length_is_out_of_date(folder: Path) -> None:
    write(folder, "es/actions.yaml", "change_main_jet: {steps: [uno, dos]}\n")
    assert "change_main_jet.steps: must have 7 entries, as in English; found 2" in mistakes(folder)


def test_a_caution_in_short_stays_short(folder: Path) -> None:
    write(folder, "es/cautions.yaml", f"hot_parts: {{short: {'x' * (SHORT_LIMIT + 1)}}}\n")
    assert f"hot_parts.short: must have at most {SHORT_LIMIT} characters; found {SHORT_LIMIT + 1}" in mistakes(folder)


def test_a_kind_nobody_shows_is_listed(folder: Path) -> None:
    write(folder, "es/sources.yaml", "x_y: {title: z}\n")
    assert "unknown kind of record; found sources" in mistakes(folder)


def test_broken_files_are_refused_when_loaded(folder: Path) -> None:
    write(folder, "es/causes.yaml", "a: [\n")
    with pytest.raises(KnowledgeError, match=r"languages/es/causes\.yaml"):
        load_language(folder, "es")


def test_how_much_is_translated_is_counted(folder: Path) -> None:
    shutil.rmtree(folder / "languages" / "es")
    (none,) = check_languages(shipped_knowledge(), folder)[1]
    assert none.code == "es"
    write(folder, "es/causes.yaml", "main_jet_too_small: {name: Chicler principal demasiado chico}\n")
    (one,) = check_languages(shipped_knowledge(), folder)[1]
    assert (one.translated, one.total) == (none.translated + 1, none.total)
    assert "causes main_jet_too_small.name" in none.missing
    assert "causes main_jet_too_small.name" not in one.missing


def test_a_text_that_is_missing_is_shown_in_english(folder: Path) -> None:
    shutil.rmtree(folder / "languages" / "es")
    write(folder, "es/causes.yaml", "main_jet_too_small: {name: Chicler principal chico}\n")
    d = diagnose(demo())
    phrases = Phrases(d, load_language(folder, "es"))
    assert phrases.cause(d.causes[0]) == "Chicler principal chico"
    assert phrases.cause(d.causes[1]) == d.causes[1].name
    assert phrases.statement(1, d.told[1].text) == d.told[1].text


def test_a_sentence_with_numbers_keeps_its_numbers() -> None:
    said = answer_language("es").sentence("3 % richer at half throttle")
    assert said == "3 % más rico (medio acelerador)"


def test_a_sentence_nobody_translated_stays_as_it_is() -> None:
    assert answer_language("es").sentence("Something else entirely.") == "Something else entirely."


@pytest.mark.parametrize("code", [c for c in languages() if c != "en"])
def test_every_place_and_setting_is_translated_inside_a_sentence(code: str) -> None:
    k, language = shipped_knowledge(), answer_language(code)
    for place in k.places.values():
        assert language.sentence(place.name) == language.find("bands", place.id, "name")
    for circuit in k.circuits.values():
        assert language.sentence(circuit.name.lower()) != circuit.name.lower()


def test_every_caution_is_said_in_every_language() -> None:
    k = shipped_knowledge()
    for code in languages()[1:]:
        language = answer_language(code)
        for caution in k.cautions:
            for field in ("text", "short"):
                assert language.find("cautions", caution, field), f"{code}: {caution}.{field}"
