"""What a post was read as, told in another language: only the poster's own words stay as they are."""

from __future__ import annotations

import re
from typing import get_args

import pytest

from carbdiag import Knowledge, read_text
from carbdiag.answers.language import answer_language, languages
from carbdiag.answers.reading_text import reading_text
from carbdiag.reading_schema import FactRead, SetAside
from carbdiag.terms import Effect

POST = """\
Two-stroke, air cooled, 125cc trail bike at 1500 m, 130 main. It bogs at half throttle, only the left cylinder maybe, no
black smoke. Cleaned the carb, no change. Put in a bigger main, worse, so put it back. The spark is good.
My friend thinks the reeds are bad. It used to run fine. Is it the float?
"""


@pytest.mark.parametrize("code", languages())
def test_every_word_that_may_be_needed_is_there(code: str) -> None:
    words = answer_language(code).words
    for fact in get_args(FactRead.model_fields["fact"].annotation):
        assert f"fact_{fact}" in words
    for why in get_args(SetAside.model_fields["why"].annotation):
        assert f"aside_{why}" in words
    for effect in set(Effect) - {Effect.MOVED}:
        assert f"effect_{effect}" in words


@pytest.mark.parametrize("code", [c for c in languages() if c != "en"])
def test_nothing_but_the_words_of_the_post_stays_english(k: Knowledge, code: str) -> None:
    shown = " ".join(reading_text(read_text(POST, k), k, code).split())
    ours = re.sub(r'"[^"]*"', "", shown).lower()
    assert '"' in shown
    assert not re.search(r"\b(the|of|is|no change|throttle|air|main|it|not|was|two|said)\b", ours), ours
