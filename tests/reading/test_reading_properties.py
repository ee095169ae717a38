"""What holds of the reading of any text."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag import Knowledge, TextReading, case_of, read_text
from carbdiag.case_check import check_case
from carbdiag.reading.lexicon import Lexicon
from carbdiag.reading.notation import Notation, PhraseError
from carbdiag.reading_schema import Said

K = Knowledge.load()
WORDS = (  # noqa: SIM905 - one line a thought
    "it bogs at half throttle won't idle not no never until and but , . ? ! maybe seems only runs on choke since I"
    " fitted pipe cleaned the carb twice difference plug black wet spark is good dies when give gas still used to two"
    " stroke 250 cc 1/2 3/4 turns out > \n [quote] [/quote] why pops decel smoke left cylinder both 3000 rpm ft"
).split(" ")

TEXTS = st.one_of(
    st.text(max_size=300),
    st.lists(st.sampled_from(WORDS), max_size=80).map(" ".join),
    st.lists(st.one_of(st.sampled_from(WORDS), st.text(max_size=5)), max_size=60).map(" ".join),
)


def every_span(reading: TextReading) -> Iterator[Said]:
    read = (reading.findings, reading.contexts, reading.checks, reading.trials, reading.facts)
    for statement in itertools.chain(*read):
        yield from statement.said
    yield from (a.said for a in reading.set_aside)
    yield from reading.not_understood


@given(TEXTS)
@settings(max_examples=150, deadline=None)
def test_any_text_is_read_into_a_valid_case_and_words_stand_where_they_are_said_to(text: str) -> None:
    if any("\ud800" <= c <= "\udfff" for c in text):
        text = text.encode("utf-8", "replace").decode()
    reading = read_text(text, K)
    for said in every_span(reading):
        assert 0 <= said.start < said.end <= len(text)
        assert text[said.start : said.end] == said.words
    assert TextReading.model_validate(reading.model_dump()) == reading
    assert read_text(text, K) == reading
    check_case(K, case_of(reading))


@given(st.lists(st.sampled_from(WORDS), max_size=40).map(" ".join))
@settings(max_examples=100, deadline=None)
def test_an_unrelated_sentence_changes_nothing_already_read(text: str) -> None:
    text = text.replace("[quote]", "").replace("[/quote]", "").replace(">", "")
    alone = read_text(text + ".", K)
    more = read_text(text + ".\n\nMy aunt knits elephants.", K)
    for kind in ("findings", "contexts", "checks", "trials", "facts", "set_aside"):
        assert getattr(more, kind) == getattr(alone, kind)


# ---------------------------------------------------------------------------------------------------------
# The notation


@pytest.fixture
def notation() -> Notation:
    return Notation(Lexicon(K.reading["en"]))


def test_the_notation_expands_to_every_way_of_saying_it(notation: Notation) -> None:
    assert len(notation.expand("(bogs|dies) [right] (off|away)")[0][0]) == 8
    assert notation.expand("bog") == notation.expand("bogging") == notation.expand("bogs")
    first, second = notation.expand("dies ... choke")[0]
    assert first == notation.expand("die")[0][0]
    assert second == notation.expand("choke")[0][0]


def test_what_stands_on_both_sides_of_an_ampersand_may_come_in_either_order(notation: Notation) -> None:
    assert set(notation.expand("dies & cold")) == {
        notation.expand("dies ... cold")[0],
        notation.expand("cold ... dies")[0],
    }


@pytest.mark.parametrize(
    ("phrase", "rule"),
    [
        ("bogs (at", "not closed"),
        ("bogs)", "closes nothing"),
        ("{nothing_here} bogs", "no word group"),
        ("<furlongs>", "no slot"),
        ("bogs *", "no meaning"),
        ("the", "only fillers"),
        ("dies & cold & wet", "more than one &"),
        ("bogs ...", "gap at an end"),
        ("bogs (at|under) load", "fillers alone"),
        ("bogs at 17/19", "not among the numbers"),
        ("{die} {die} {die} {die}", "more than"),
    ],
)
def test_a_broken_phrase_says_what_is_wrong(notation: Notation, phrase: str, rule: str) -> None:
    with pytest.raises(PhraseError, match=rule):
        notation.expand(phrase)
