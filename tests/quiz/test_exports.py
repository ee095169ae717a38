"""Every export is read back by somebody else's reader, whatever the texts hold, and says what it leaves out."""

from __future__ import annotations

import csv
import io
import json
import re
import warnings
import zipfile
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path

import html5lib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from markdown_it import MarkdownIt

from carbdiag import Knowledge, make_quiz
from carbdiag.knowledge import shipped_knowledge
from carbdiag.quiz.exports.aiken import to_aiken
from carbdiag.quiz.exports.export import FootNotes, one_line, source_line, why
from carbdiag.quiz.exports.flash_cards import to_flash_cards
from carbdiag.quiz.exports.formats import STUDENT, TRAINER
from carbdiag.quiz.exports.gift import to_gift
from carbdiag.quiz.exports.qti import QTI, to_qti
from carbdiag.quiz.exports.sheets import html_key, html_sheet, markdown_key, markdown_sheet
from carbdiag.quiz_schema import AtLeast, Blueprint, ItemKey, ItemView, OptionKey, OptionView, Quiz

_PLACES = [folder / "shared" / "qti" for folder in Path(__file__).parents[3:5]]
_SCHEMAS = next((folder for folder in _PLACES if folder.is_dir()), _PLACES[0])
needs_schemas = pytest.mark.skipif(not _SCHEMAS.is_dir(), reason="the published QTI schemas are not at hand")

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)  # of the reader, which asks for the locale in an old way
    gift = import_module("pygiftparser.parser")

#: Texts that mean something to one format or another.
HOSTILE = (
    "~=#{}:\\ \\n // $CATEGORY: x", "A. not an option", "ANSWER: B", "=SUM(1)", "-1", "@x",
    "</p><script>alert(1)</script>", "&amp; &#60;", "]]>", "# head", "* a\n* b", "a\tb", "    code",
    "[x](javascript:1)",
    "[html]<b>x</b>", "%50%x", "|a|b|", '"quoted", and\r\nmore', "é ñ ü 中 \u202e \u200b", "->", "::t::", "<!-- -->",
    "1. one", "`x`", "\x00\x1b[31m", "{{}}",
)  # fmt: skip
texts = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40),
    st.lists(st.sampled_from(HOSTILE), min_size=2, max_size=3).map("".join),
).filter(lambda text: one_line(text) != "")


@cache
def real() -> Quiz:
    kinds = ("kind:scenario", "kind:size_it", "kind:order_steps")
    least = tuple(AtLeast(tags=(kind,), items=1) for kind in kinds)
    return make_quiz(Blueprint(items=40, at_least=least), 3, shipped_knowledge())


@st.composite
def hostile_quizzes(draw: st.DrawFn) -> Quiz:
    """One item of every form but the scenario, with texts of the worst kind."""
    items: list[ItemView] = []
    keys: list[ItemKey] = []
    for form in ("choice", "order", "number"):
        view, key = next((v, y) for v, y in zip(real().items, real().keys, strict=True) if v.answer_form == form)
        item_id = f"q{len(items) + 1:02d}"
        options = draw(st.lists(texts, min_size=len(view.options), max_size=len(view.options), unique_by=one_line))
        items.append(
            view.model_copy(
                update={
                    "id": item_id,
                    "stem": draw(texts),
                    "ask": draw(texts),
                    "options": tuple(
                        OptionView.model_construct(label=o.label, text=t)
                        for o, t in zip(view.options, options, strict=True)
                    ),
                }
            )
        )
        keys.append(
            key.model_copy(
                update={
                    "id": item_id,
                    "explanation": draw(texts),
                    "options": tuple(
                        OptionKey.model_construct(label=o.label, credit=o.credit, feedback=draw(texts), sources=())
                        for o in key.options
                    ),
                }
            )
        )
    return real().model_copy(update={"items": tuple(items), "keys": tuple(keys), "edition": "x\ny"})


def shown(text: str) -> str:
    """A text as a reader shows it: blanks of every kind are one blank."""
    return " ".join(text.split())


# ---------------------------------------------------------------------------------------------------------
# QTI


@cache
def schema(name: str) -> etree.XMLSchema:
    return etree.XMLSchema(etree.parse(str(_SCHEMAS / name)))


def files(package: bytes) -> dict[str, etree._Element]:
    with zipfile.ZipFile(io.BytesIO(package)) as found:
        return {name: etree.fromstring(found.read(name)) for name in found.namelist()}


@needs_schemas
def test_every_file_of_the_package_is_valid_by_the_published_schemas(quizzes: list[Quiz]) -> None:
    for quiz in quizzes:
        for name, root in files(to_qti(quiz).content).items():
            xsd = schema("imscp_v1p1.xsd" if name == "imsmanifest.xml" else "qtiv2p1/imsqti_v2p1.xsd")
            assert xsd.validate(root), (name, xsd.error_log.last_error)


@needs_schemas
@given(hostile_quizzes())
@settings(max_examples=60, deadline=None)
def test_hostile_texts_stay_valid_and_themselves_in_qti(quiz: Quiz) -> None:
    found = files(to_qti(quiz).content)
    for view in quiz.items:
        root = found[f"items/{view.id}.xml"]
        assert schema("qtiv2p1/imsqti_v2p1.xsd").validate(root), schema("qtiv2p1/imsqti_v2p1.xsd").error_log.last_error
        read = [shown("".join(e.itertext())) for e in root.iter(f"{{{QTI}}}simpleChoice")]
        assert read == [one_line(o.text) for o in view.options]


def test_the_manifest_lists_every_file(k: Knowledge) -> None:
    package = files(to_qti(real()).content)
    manifest = package["imsmanifest.xml"]
    listed = {e.get("href") for e in manifest.iter("{*}file")}
    assert listed | {"imsmanifest.xml"} == set(package)


def test_the_package_is_the_same_byte_for_byte() -> None:
    assert to_qti(real()).content == to_qti(real()).content


def test_qti_says_which_answer_is_right_and_what_near_ones_earn() -> None:
    package = files(to_qti(real()).content)
    for view, key in zip(real().items, real().keys, strict=True):
        if view.answer_form == "choice":
            root = package[f"items/{view.id}.xml"]
            right = [e.text for e in root.find("{*}responseDeclaration/{*}correctResponse")]
            assert tuple(right) == key.answer
            worth = {e.get("mapKey"): float(e.get("mappedValue")) for e in root.iter("{*}mapEntry")}
            assert worth == {o.label: pytest.approx(o.credit) for o in key.options}


# ---------------------------------------------------------------------------------------------------------
# GIFT


def read_gift(content: bytes) -> list[object]:
    questions = gift.parseFile(io.StringIO(content.decode()))
    assert all(q.valid for q in questions)
    return list(questions)


def test_gift_is_read_by_an_independent_parser(quizzes: list[Quiz]) -> None:
    for quiz in quizzes[:4]:
        found = {q.title: q for q in read_gift(to_gift(quiz).content)}
        wanted = [(v, x) for v, x in zip(quiz.items, quiz.keys, strict=True) if v.answer_form in ("choice", "number")]
        assert set(found) == {v.id for v, _ in wanted}
        for view, key in wanted:
            answers = found[view.id].answers.answers
            if view.answer_form == "choice":
                read = [shown(re.sub(r"\\(.)", r"\1", a.answer)) for a in answers]  # it leaves escapes to its caller
                assert read == [one_line(o.text) for o in view.options]
                full = [o.label for o, a in zip(view.options, answers, strict=True) if a.fraction == 100]
                assert tuple(full) == key.answer


@given(hostile_quizzes())
@settings(max_examples=60, deadline=None)
def test_hostile_texts_keep_their_place_in_gift(quiz: Quiz) -> None:
    """A reader of the documented grammar: unescaped signs are structure, everything else is text."""
    view = quiz.items[0]
    body = to_gift(quiz).content.decode().split("\n\n")
    item = next(b for b in body if b.startswith(f"::{view.id}::"))
    assert not re.search(r"\n\s*\n", item)
    assert len([1 for b in body if b.startswith("::")]) == 2
    structure = re.sub(r"\\.", "", item)
    assert structure.count("{") == structure.count("}") == 1
    assert structure.count("=") + structure.count("~") == len(view.options)
    lines = [line.strip() for line in item.split("\n")[1:-2]]
    marked = [re.sub(r"^[=~](%\d+%)?(\[plain\])?", "", line) for line in lines]
    read = [re.match(r"(?:\\.|[^\\#])*", text)[0] for text in marked]
    assert [re.sub(r"\\(.)", r"\1", text) for text in read] == [one_line(o.text) for o in view.options]


# ---------------------------------------------------------------------------------------------------------
# Aiken: no maintained reader was found, so the test has one of its own, by the rules of the format


def read_aiken(text: str) -> list[tuple[str, dict[str, str], str]]:
    out: list[tuple[str, dict[str, str], str]] = []
    question, options = "", {}
    for line in text.splitlines():
        if match := re.match(r"^ANSWER:\s*([A-Z])\s*$", line):
            out.append((question, options, match[1]))
            question, options = "", {}
        elif match := re.match(r"^([A-Z])[.)]\s+(.*)$", line):
            options[match[1]] = match[2]
        elif line.strip():
            assert not question, f"a question on two lines: {line!r}"
            question = line
    assert not question
    return out


def test_aiken_is_read_back(quizzes: list[Quiz]) -> None:
    for quiz in quizzes[:4]:
        wanted = [(v, x) for v, x in zip(quiz.items, quiz.keys, strict=True) if v.answer_form == "choice"]
        found = read_aiken(to_aiken(quiz).content.decode())
        assert [(o, a) for _, o, a in found] == [
            ({o.label: o.text for o in v.options}, x.answer[0]) for v, x in wanted
        ]


@given(hostile_quizzes())
@settings(max_examples=60, deadline=None)
def test_hostile_texts_keep_their_place_in_aiken(quiz: Quiz) -> None:
    found = read_aiken(to_aiken(quiz).content.decode())
    view, key = quiz.items[0], quiz.keys[0]
    assert [(o, a) for _, o, a in found] == [({o.label: one_line(o.text) for o in view.options}, key.answer[0])]


# ---------------------------------------------------------------------------------------------------------
# Cards, sheets, JSON


@given(hostile_quizzes())
@settings(max_examples=60, deadline=None)
def test_hostile_texts_stay_in_their_cell_and_are_no_formula(quiz: Quiz) -> None:
    rows = list(csv.reader(io.StringIO(to_flash_cards(quiz).content.decode(), newline="")))
    assert rows[0] == ["front", "back", "tags"]
    assert len(rows) == 1 + len(quiz.items)
    for row in rows[1:]:
        assert len(row) == 3
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in row)


def html_text(content: str) -> str:
    tree = html5lib.parse(content, namespaceHTMLElements=False)
    assert tree.find(".//script") is None
    return shown(" ".join(tree.find("body").itertext()))


@given(hostile_quizzes())
@settings(max_examples=60, deadline=None)
def test_hostile_texts_are_shown_as_themselves_on_pages_and_in_markdown(quiz: Quiz) -> None:
    student = quiz.student_view()
    page = html_text(html_sheet(student).content.decode())
    marked = html_text(MarkdownIt("commonmark").render(markdown_sheet(student).content.decode()))
    for item in quiz.items:
        for text in (item.stem, item.ask, *(o.text for o in item.options)):
            assert shown(one_line(text)) in page
            assert shown(one_line(text)) in marked
    for key, said in ((html_key, None), (markdown_key, MarkdownIt("commonmark"))):
        content = key(quiz).content.decode()
        found = html_text(said.render(content) if said else content)
        assert all(shown(one_line(x.explanation)) in found for x in quiz.keys)


def test_markdown_has_one_heading_an_item(k: Knowledge) -> None:
    tokens = MarkdownIt("commonmark").parse(markdown_sheet(real().student_view()).content.decode())
    assert sum(t.type == "heading_open" and t.tag == "h2" for t in tokens) == len(real().items)


def test_json_comes_back_as_the_same_quiz() -> None:
    assert Quiz.model_validate_json(TRAINER["json"](real()).content) == real()


# ---------------------------------------------------------------------------------------------------------
# What is left out is said


@pytest.mark.parametrize(
    ("form", "gone"),
    [
        ("qti", {"scenario"}),
        ("gift", {"scenario", "order"}),
        ("aiken", {"scenario", "order", "number"}),
        ("cards", {"scenario"}),
        ("markdown", set()),
        ("html", set()),
        ("json", set()),
    ],
)
def test_what_a_format_cannot_hold_is_said_item_by_item(form: str, gone: set[str]) -> None:
    forms = {v.id: v.answer_form for v in real().items}
    assert set(forms.values()) == {"choice", "order", "number", "scenario"}, "a quiz with all forms is wanted here"
    notes = " ".join(TRAINER[form](real()).left_out)
    for item, answer_form in forms.items():
        if answer_form in gone:
            assert item in notes, (form, item)
    assert ("left out" in notes) == bool(gone)


def test_lost_partial_credit_is_said() -> None:
    assert "partial credit is lost" in " ".join(to_aiken(real()).left_out)
    assert "partial credit is lost" in " ".join(to_qti(real()).left_out)


def test_student_formats_are_made_from_the_student_half() -> None:
    assert set(STUDENT) == {"markdown", "html", "json"}
    assert set(json.loads(STUDENT["json"](real()).content)) == {"edition", "quiz_id", "items"}


@pytest.mark.parametrize("form", ["markdown", "html"])
def test_a_printed_key_says_every_caution_and_source_once(form: str) -> None:
    """And refers to it at each item that needs it: none is dropped."""
    content = TRAINER[form](real()).content.decode()
    text = html_text(MarkdownIt("commonmark").render(content) if form == "markdown" else content)
    cautions = dict.fromkeys(c.text for key in real().keys for c in key.cautions)
    for n, caution in enumerate(cautions, 1):
        assert text.count(shown(caution)) == 1
        assert f"C{n} {shown(caution)}" in text
    in_list = 1  # the heading of the list stands before its first number too
    assert text.count("Cautions C") - in_list == sum(bool(key.cautions) for key in real().keys)
    notes = FootNotes.of_keys(real().keys)
    for key in real().keys:
        referred = [notes.refer_to(key), *(notes.behind(key, option) for option in key.options)]
        assert all(shown(said) in text for said in referred)
        wanted = {notes.sources.index(source_line(s)) + 1 for s in key.sources}
        assert {n for said in referred for n in numbers(said)} == wanted


def numbers(said: str) -> Iterator[int]:
    """The numbers of the sources that a reference names: "S2, S5 to S7"."""
    for first, last in re.findall(r"S(\d+)(?: to S(\d+))?", said):
        yield from range(int(first), int(last or first) + 1)


def test_feedback_in_one_place_can_be_read_in_half_a_minute(quizzes: list[Quiz]) -> None:
    """All that stands behind four options, address by address, buried the explanation."""
    keys = [key for quiz in quizzes for key in quiz.keys]
    for key in keys:
        told = " ".join(why(key))
        assert told.startswith(key.explanation)
        assert told.count("<http") <= 3
        assert len(told) - len(key.explanation) < 1800, told
        for caution in key.cautions:
            assert (caution.short or caution.text) in told
    assert any("more in the printed key" in why(key)[-1] for key in keys)
