"""Answers as a mechanic reads them: invented cases, in each markup, in both forms, in English and Spanish.

Write them anew, then read them as a rider would: CARBDIAG_GOLDEN=write python -m pytest tests/answers
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from answer_samples import GOLDEN_CASES

from carbdiag import diagnose
from carbdiag.answers import FORMS, MARKUPS, render
from carbdiag.answers.forms import Form, Markup

FOLDER = Path(__file__).parent / "pages"
WRITE = os.environ.get("CARBDIAG_GOLDEN") == "write"
ENDINGS: dict[Markup, str] = {"text": "txt", "markdown": "md", "bbcode": "bbcode", "html": "html"}

#: Every case as plain text in both languages and forms; two of them in every markup.
PAGES: list[tuple[str, Markup, Form, str]] = [
    (case, markup, form, language)
    for case in GOLDEN_CASES
    for language in ("en", "es")
    for form in FORMS
    for markup in MARKUPS
    if markup == "text" or (case, language) in (("demo", "en"), ("weak_pump", "es"))
]


@pytest.mark.parametrize(("case", "markup", "form", "language"), PAGES)
def test_an_answer_reads_as_its_golden_page(case: str, markup: Markup, form: Form, language: str) -> None:
    page = render(diagnose(GOLDEN_CASES[case]), markup, form, language)
    file = FOLDER / f"{case}.{form}.{language}.{ENDINGS[markup]}"
    if WRITE:
        file.parent.mkdir(exist_ok=True)
        file.write_text(page, encoding="utf-8")
    assert page == file.read_text(encoding="utf-8"), "reads differently; see the top of this file"


def test_no_golden_page_is_left_over() -> None:
    wanted = {f"{case}.{form}.{language}.{ENDINGS[markup]}" for case, markup, form, language in PAGES}
    assert {f.name for f in FOLDER.iterdir()} == wanted
