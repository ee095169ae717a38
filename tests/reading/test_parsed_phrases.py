"""Phrases parsed when the package is built: the same as parsing now, and never used once anything has changed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.knowledge import shipped_knowledge
from carbdiag.reading import phrasebook as book
from carbdiag.reading.lexicon import Lexicon
from carbdiag.reading.matcher import Lengths, Matcher, Meaning
from carbdiag.reading.parsed_phrases import Kept, Parsed, digest_of, file_of, keep, kept
from carbdiag.reading.record_phrases import phrases_of

K = shipped_knowledge()
POST = "Bogs at half throttle, black smoke. Cleaned the carb twice, no change. Main jet is 140, I live at 5000 ft."


def lengths_of(phrases: list[tuple[str, str, Meaning]], parsed: list[Parsed]) -> Lengths:
    """Those that a matcher works out when nothing was kept."""
    return Matcher(book._compiled(phrases, parsed)[0]).lengths


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the shipped phrases as parsed."""
    folder = tmp_path_factory.mktemp("prepared")
    for language in K.reading.values():
        phrases, lexicon = [*phrases_of(K, language)], Lexicon(language)
        parsed, _ = book._parsed(phrases, language, lexicon)
        keep(folder, digest_of(language, phrases), lexicon, Kept(parsed, lengths_of(phrases, parsed)))
    return folder


@pytest.mark.parametrize("language", K.reading)
def test_every_phrase_is_kept_as_it_is_parsed(prepared: Path, language: str) -> None:
    phrases = [*phrases_of(K, K.reading[language])]
    now, again = Lexicon(K.reading[language]), Lexicon(K.reading[language])
    parsed, mistakes = book._parsed(phrases, K.reading[language], now)
    assert not mistakes
    wanted = Kept(parsed, lengths_of(phrases, parsed))
    assert kept(prepared, digest_of(K.reading[language], phrases), again) == wanted
    assert again.learned == now.learned


def test_what_is_kept_is_not_parsed_again_and_reads_alike(prepared: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = Knowledge.load()
    monkeypatch.setattr(book, "shipped_folder", lambda: prepared)
    monkeypatch.setattr(book, "_parsed", lambda *_: pytest.fail("parsed again"))
    again = read_text(POST, fresh)
    monkeypatch.undo()
    assert all((again.findings, again.trials, again.facts))
    assert again == read_text(POST, K)


def test_phrases_are_parsed_once_any_of_them_or_their_language_has_changed(prepared: Path) -> None:
    language = K.reading["en"]
    phrases = [*phrases_of(K, language)]
    of_now = digest_of(language, phrases)
    where, phrase, meaning = phrases[0]
    others = (
        digest_of(language, [(where, f"{phrase} again", meaning), *phrases[1:]]),
        digest_of(language, [(where, phrase, meaning._replace(record="another")), *phrases[1:]]),
        digest_of(language.model_copy(update={"fillers": language.fillers[1:]}), phrases),
    )
    assert kept(prepared, of_now, Lexicon(language)) is not None
    assert all(kept(prepared, other, Lexicon(language)) is None for other in others)


@pytest.mark.parametrize("text", ["", "{", "[]", "7", '[["a"], ["x"], [[[[[1]]], 0, 0]]]', "[" * 100_000])
def test_a_broken_file_is_as_good_as_none_and_teaches_nothing(tmp_path: Path, text: str) -> None:
    language = K.reading["en"]
    lexicon = Lexicon(language)
    before = lexicon.learned
    file_of(tmp_path, "en").write_text(f"digest\n{text}")
    assert kept(tmp_path, "digest", lexicon) is None
    assert lexicon.learned == before


def test_what_is_written_of_a_language_is_the_same_in_every_process() -> None:
    """Sets have another order under another hash seed; the wheel's phrases would be parsed again each time."""
    code = "import carbdiag, sys; sys.stdout.write(carbdiag.Knowledge.load().reading['en'].model_dump_json())"
    written = {
        subprocess.run(
            [sys.executable, "-c", code], check=True, capture_output=True, env={**os.environ, "PYTHONHASHSEED": seed}
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(written) == 1
