"""What holds of the reading of any text."""

from __future__ import annotations

import itertools
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carbdiag import TextReading, case_of, read_text
from carbdiag.case_check import check_case
from carbdiag.knowledge import shipped_knowledge
from carbdiag.reading.lexicon import Lexicon
from carbdiag.reading.matcher import Matcher, Meaning, Phrase
from carbdiag.reading.notation import Notation, PhraseError
from carbdiag.reading.symbols import Reader
from carbdiag.reading_schema import Said
from carbdiag.strict_yaml import parse_yaml

K = shipped_knowledge()
WORDS = (  # noqa: SIM905 - one line a thought
    "it bogs at half throttle won't idle not no never until and but , . ? ! maybe seems only runs on choke since I"
    " fitted pipe cleaned the carb twice difference plug black wet spark is good dies when give gas still used to two"
    " stroke 250 cc 1/2 3/4 turns out > \n [quote] [/quote] why pops decel smoke left cylinder both 3000 rpm ft"
).split(" ")

#: What notes and posts set between their words.
MARKS = ["->", "=", ":", " - ", ",", ".", "\n", "\n- ", "(", ")", "/", "?", "!", "...", "1/4", "2.5", "178", "L", "H"]
SETTINGS = "L H screw screws needle clip main pilot jet idle air fuel and or up down out in one touch turned".split()  # noqa: SIM905

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


def test_long_choices_side_by_side_are_left_in_pieces_that_stand_for_the_same(notation: Notation) -> None:
    phrase = "[will] {start} [cold|hot|up] {hard} ... {die}"
    (segments,) = notation.pieces(phrase)
    assert [len(pieces) for pieces in segments] == [2, 1]
    assert sum(map(len, segments[0])) < len(notation.expand(phrase)[0][0]) / 10
    (whole, _) = notation.expand(phrase)[0]
    assert set(whole) == {"".join(chosen) for chosen in itertools.product(*segments[0])}


def all_ways(phrase: str) -> Iterator[str]:
    """A phrase of brackets that hold plain words, written out in every way it stands for."""
    choice = re.search(r"\(([^()]*)\)|\[([^\[\]]*)\]", phrase)
    if choice is None:
        yield phrase
        return
    for words in (choice[1] or choice[2]).split("|") + ([] if choice[1] else [""]):
        yield from all_ways(f"{phrase[: choice.start()]}{words}{phrase[choice.end() :]}")


ATOMS = tuple(f"w{letter}" for letter in "abcdefgh")
CHOICE = st.lists(st.sampled_from(ATOMS), min_size=1, max_size=7, unique=True).map("|".join)
SIDE = st.lists(st.one_of(CHOICE.map("({})".format), CHOICE.map("[{}]".format)), min_size=1, max_size=5).map(" ".join)
PHRASE = st.lists(SIDE, min_size=1, max_size=2).map(" ... ".join)


@given(st.lists(PHRASE, min_size=1, max_size=4), st.lists(st.sampled_from((*ATOMS, "zz", ".")), max_size=25))
@settings(max_examples=150, deadline=None)
def test_phrases_left_in_pieces_find_what_their_written_out_ways_find(phrases: list[str], words: list[str]) -> None:
    language = K.reading["en"].model_copy(update={"same": {}, "fillers": (), "endings": ()})
    lexicon = Lexicon(language)
    notation = Notation(lexicon)
    known, written = [], []
    for n, phrase in enumerate(phrases):
        try:
            with patch("carbdiag.reading.notation._WORTH_A_CUT", 2):  # cuts even what these few words stand for
                (segments,) = notation.pieces(phrase)
        except PhraseError:
            continue
        known.append(Phrase(segments, Meaning("finding", str(n))))
        ways = [dict.fromkeys(all_ways(side)) for side in phrase.split("...")]
        written.append(
            Phrase(
                tuple((tuple(dict.fromkeys(notation.expand(way)[0][0][0] for way in side)),) for side in ways),
                Meaning("finding", str(n)),
            )
        )
    text = Reader(lexicon, lambda _: None).read(" ".join(words))
    found, wanted = Matcher(known).find(text), Matcher(written).find(text)
    assert {kind: sorted(set(hits)) for kind, hits in found.items()} == {
        kind: sorted(set(hits)) for kind, hits in wanted.items()
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
        ("bogs (at|under) load", r"fillers alone \(at\)"),
        ("bogs at 17/19", "not among the numbers"),
        ("{die} {die} {die} {die}", "more than"),
    ],
)
def test_a_broken_phrase_says_what_is_wrong(notation: Notation, phrase: str, rule: str) -> None:
    with pytest.raises(PhraseError, match=rule):
        notation.expand(phrase)


def pieces_of_posts(n: int) -> Iterator[str]:
    """Words of real posts, drawn or cut out in a row, with marks among them; always the same ones."""
    folder = Path(__file__).parent / "posts"
    rows = [parse_yaml((folder / f"{name}.yaml").read_text(encoding="utf-8")) for name in ("newcomer_1", "tuner_1")]
    posts = [str(post["text"]).split() for several in rows for post in cast(list[dict[str, Any]], several)]
    drawn, every = random.Random(20261128), [word for post in posts for word in post]
    for _ in range(n):
        post = drawn.choice(posts)
        first = drawn.randrange(len(post))
        cut = post[first : first + drawn.randint(3, 40)]
        loose = [drawn.choice(drawn.choice((every, SETTINGS))) for _ in range(drawn.randint(2, 14))]
        words = drawn.choice((cut, loose))
        for _ in range(drawn.randint(0, 4)):
            words[drawn.randrange(len(words))] = drawn.choice(MARKS)
        yield " ".join(words)


def test_pieces_of_posts_are_read_without_failing() -> None:
    # "L and screws touch." did, and no whole post had met it
    for text in pieces_of_posts(6000):
        for said in every_span(read_text(text, K)):
            assert text[said.start : said.end] == said.words
