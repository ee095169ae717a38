"""`carbdiag diagnose` and `carbdiag demo` print an answer in the markup, form and language asked for."""

from __future__ import annotations

from pathlib import Path

import pytest
from answer_samples import demo

from carbdiag import diagnose
from carbdiag.answers import FORMS, MARKUPS, languages, render
from carbdiag.answers.forms import Form, Markup
from carbdiag.cli import main
from carbdiag.command_tools import BAD_INPUT, FINE


@pytest.mark.parametrize("markup", MARKUPS)
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("language", languages())
def test_the_command_prints_what_the_library_renders(
    markup: Markup, form: Form, language: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", "--as", markup, "--form", form, "--language", language]) == FINE
    assert capsys.readouterr().out == render(diagnose(demo()), markup, form, language)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--as", "wordpad"], "invalid choice: 'wordpad' (choose from"),
        (["--form", "tiny"], "invalid choice: 'tiny' (choose from"),
        (["--language", "fr"], "invalid choice: 'fr' (choose from"),
        (["--json", "--as", "html"], "give either --json or --as, not both"),
    ],
)
def test_what_cannot_be_printed_is_refused(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", *arguments]) == BAD_INPUT
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err


def test_a_post_of_which_nothing_is_read_may_be_in_another_language(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    post = tmp_path / "post.txt"
    post.write_text("It bogs at half throttle and smokes black.", encoding="utf-8")
    assert main(["diagnose", "--text", str(post), "--language", "es"]) == FINE
    assert "Nothing was read in the post as es" in capsys.readouterr().err
    assert main(["diagnose", "--text", str(post), "--language", "es", "--text-language", "en"]) == FINE
    assert "Nothing was read" not in capsys.readouterr().err
