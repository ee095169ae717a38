"""A translation older than its English is named until it is translated anew, or said to be still right."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from carbdiag import Knowledge
from carbdiag.answers.translation_marks import old_translations, write_marks
from carbdiag.knowledge import default_folder, shipped_knowledge

K = shipped_knowledge()
CAUSE = "pilot_passage_blocked"


def with_other_verify() -> Knowledge:
    """The shipped knowledge after somebody changed one English text."""
    changed = K.causes[CAUSE].model_copy(update={"verify": "It idles at once when cold."})
    return replace(K, causes={**K.causes, CAUSE: changed})


def old(k: Knowledge, folder: Path) -> list[tuple[str, str]]:
    return [(m.file, m.field) for m in old_translations(k, folder)]


def translate_anew(folder: Path) -> None:
    file = folder / "languages" / "es" / "causes.yaml"
    head, rest = file.read_text(encoding="utf-8").split(f"\n{CAUSE}:\n")
    before, after = rest.split("  verify: ", 1)
    text = f'{head}\n{CAUSE}:\n{before}  verify: "En frío mantiene el ralentí enseguida."\n{after.split(chr(10), 1)[1]}'
    file.write_text(text, encoding="utf-8")


def test_no_shipped_translation_is_older_than_its_english() -> None:
    assert old(K, default_folder()) == []


def test_a_changed_english_text_tells_that_its_translation_is_old(folder: Path) -> None:
    (mistake,) = old_translations(with_other_verify(), folder)
    assert (mistake.file, mistake.field) == ("languages/es/causes.yaml", f"{CAUSE}.verify")
    assert "the English has changed since" in mistake.rule


def test_it_stays_old_until_it_is_translated_anew(folder: Path) -> None:
    k = with_other_verify()
    assert write_marks(k, folder, "es") == [f"causes {CAUSE}.verify"]
    assert len(old(k, folder)) == 1
    translate_anew(folder)
    assert write_marks(k, folder, "es") == []
    assert old(k, folder) == []


def test_it_can_be_said_to_be_still_right(folder: Path) -> None:
    k = with_other_verify()
    assert write_marks(k, folder, "es", [f"causes {CAUSE}.verify"]) == []
    assert old(k, folder) == []


def test_other_line_breaks_are_no_other_text(folder: Path) -> None:
    broken = K.causes[CAUSE].model_copy(update={"verify": K.causes[CAUSE].verify.replace(" ", "\n", 2)})
    assert old(replace(K, causes={**K.causes, CAUSE: broken}), folder) == []


def test_a_translation_without_a_mark_is_named(folder: Path) -> None:
    file = folder / "languages" / "marks" / "es.yaml"
    file.write_text(file.read_text().replace(f"  {CAUSE}:", "  # "), encoding="utf-8")
    assert {m.field.split(".")[0] for m in old_translations(K, folder)} == {CAUSE}


def test_writing_the_marks_twice_gives_the_same_file(folder: Path) -> None:
    file = folder / "languages" / "marks" / "es.yaml"
    shipped = file.read_bytes()
    write_marks(K, folder, "es")
    assert file.read_bytes() == shipped
