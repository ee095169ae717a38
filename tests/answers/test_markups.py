"""The four markups: real parsers read them, and nothing that a poster writes changes what they read."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from html import unescape

import bbcode
import html5lib
import nh3
import pytest
from answer_samples import CASES, by_hand, demo, one_line
from hypothesis import example, given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from carbdiag import Diagnosis, diagnose
from carbdiag.answers import FORMS, MARKUPS, PostWords, languages, printable, render, to_document
from carbdiag.answers.forms import Form, Markup
from carbdiag.answers.untrusted import ZERO_WIDTH, unlinked

# ---------------------------------------------------------------------------------------------------------
# What a reader of each markup sees: its skeleton (tags in order) and its words


def markdown_skeleton(text: str) -> list[str]:
    parser = MarkdownIt("commonmark").enable(["table", "strikethrough"])
    out = []
    for token in parser.parse(text):
        out += [t.type for t in (token, *(token.children or ())) if t.type not in ("text", "text_special", "inline")]
    return out


def bbcode_skeleton(text: str) -> list[str]:
    parser = bbcode.Parser()
    tokens = parser.tokenize(text)
    return [t[1] + ("" if t[0] == bbcode.Parser.TOKEN_TAG_START else "/") for t in tokens if t[1]]


def html_skeleton(text: str) -> list[str]:
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parseFragment(text)
    return [str(node.tag) + "".join(sorted(node.attrib)) for node in tree.iter()]


def plain_skeleton(text: str) -> list[str]:
    return [line for line in text.splitlines() if line and not line.startswith(" ")]


SKELETONS: dict[Markup, Callable[[str], list[str]]] = {
    "text": plain_skeleton,
    "markdown": markdown_skeleton,
    "bbcode": bbcode_skeleton,
    "html": html_skeleton,
}


def html_words(text: str) -> str:
    tree = html5lib.parseFragment(text, namespaceHTMLElements=False)
    return one_line(" ".join(tree.itertext()))


def words(markup: Markup, text: str) -> str:
    """What a person reads, on one line, without what is unseen."""
    if markup == "markdown":
        text = html_words(MarkdownIt("commonmark").render(text))
    elif markup == "bbcode":
        text = unescape(bbcode.Parser().strip(text))
    elif markup == "html":
        text = html_words(text)
    return one_line(text.replace(ZERO_WIDTH, "").replace("&amp;", "&"))


TAGS = {
    "markdown": {
        "paragraph", "heading", "bullet_list", "ordered_list", "list_item", "strong",
    },
    "bbcode": {"b", "i", "list", "*"},
    "html": {
        "DOCUMENT_FRAGMENT", "divlang", "p", "h3", "ul", "ol", "li", "strong", "q", "br",
        "table", "thead", "tbody", "tr", "th", "td",
    },
}  # fmt: skip


@pytest.fixture(scope="module", params=CASES)
def answer(request: pytest.FixtureRequest) -> Diagnosis:
    return diagnose(CASES[request.param])


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("markup", ["markdown", "bbcode", "html"])
def test_only_the_few_tags_that_every_reader_knows_are_used(
    answer: Diagnosis, markup: Markup, form: Form, language: str
) -> None:
    found = SKELETONS[markup](render(answer, markup, form, language))
    assert {re.sub(r"(_open|_close|/)$", "", tag) for tag in found} <= TAGS[markup]


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("markup", MARKUPS)
def test_no_markup_drops_a_caution(answer: Diagnosis, markup: Markup, form: Form, language: str) -> None:
    shown = words(markup, render(answer, markup, form, language))
    for caution in to_document(answer, form, language).cautions():
        assert f"! {one_line(caution.text)}" in shown


@pytest.mark.parametrize("form", FORMS)
def test_a_sanitizer_takes_nothing_out_of_the_html(answer: Diagnosis, form: Form) -> None:
    text = render(answer, "html", form)
    assert html_skeleton(nh3.clean(text)) == html_skeleton(text)
    assert html_words(nh3.clean(text)) == html_words(text)


@pytest.mark.parametrize("markup", MARKUPS)
def test_every_section_and_every_line_of_the_document_is_there(answer: Diagnosis, markup: Markup) -> None:
    shown = words(markup, render(answer, markup))
    for part in to_document(answer).sections:
        assert one_line(part.title) in shown
    for cause in answer.causes[:5]:
        assert cause.name in shown


# ---------------------------------------------------------------------------------------------------------
# Text from outside

NASTY = [
    "[url=http://evil.example]x[/url]", "[b]", "[/b]", "[/list]", "[*]", "[img]x[/img]", "[code]", "[quote]",
    "<script>alert(1)</script>", "<b>", "</div>", "<!--", "<img src=x onerror=y>", "&lt;", "&#60;b&#62;", "&",
    "](http://evil.example)", "[x]: http://evil.example", "[x][x]", "![x](y)", "<http://evil.example>",
    "**", "__x__", "*x*", "`", "```", "~~~", "~~x~~", "# x", "===", "---", "> x", "- x", "+ x", "1. x", "1) x",
    "| a | b |", "|---|---|", "\\", "\\[", "$x$", "^[x]", "{{x}}", "{% x %}", "==x==", "    x", "\tx",
    "http://evil.example/a", "https://evil.example", "www.evil.example", "WWW.EVIL.EXAMPLE", "evil.example",
    "mailto:a@evil.example", "a@evil.example", "@everyone", "javascript:alert(1)", ":)", ":smile:", ";)",
    "\n\n", "\r", "\n# x\n", "\x1b[31m", "\u202e", "\u2066", "\ufeff", "\u200b", "\x00", "\u2028", "\ud800",
    "x", " ", "ü", "λ", "1.5", "!", "'", '"', "(", ")",
]  # fmt: skip
HOSTILE = st.one_of(
    st.text(st.characters(codec=None), max_size=40),
    st.lists(st.sampled_from(NASTY), max_size=8).map("".join),
)


def with_words(text: str) -> tuple[Diagnosis, PostWords]:
    """An answer in which a poster, and knowledge from elsewhere, said this in every place there is for it."""
    d = by_hand()
    causes = (d.causes[0].model_copy(update={"name": f"x{text}", "summary": f"x{text}"}), *d.causes[1:])
    told = tuple(s.model_copy(update={"text": f"x{text}"}) for s in d.told)
    changed = d.model_copy(update={"title": f"x{text}", "case_id": f"x{text}", "causes": causes, "told": told})
    return changed, PostWords(said={"bogs": (f"x{text}",)}, not_understood=(f"x{text}",))


PLAIN_WORDS = with_words("yz")


@pytest.mark.parametrize("markup", ["markdown", "bbcode", "html"])
@pytest.mark.parametrize("form", FORMS)
@given(text=HOSTILE)
@example(text="\n\n[x]: http://evil.example\n\n===")
@example(text="](javascript:alert(1)) <b> [/b][/list]")
def test_no_words_of_a_poster_become_markup(markup: Markup, form: Form, text: str) -> None:
    read = SKELETONS[markup]
    hostile, post = with_words(text)
    found, plain = (read(render(d, markup, form, post=p)) for d, p in ((hostile, post), PLAIN_WORDS))
    if form == "full":
        assert found == plain
    else:  # longer words leave less room, so the message may have fewer parts, but none of another kind
        assert len(found) <= len(plain)
        assert set(found) <= set(plain)


@pytest.mark.parametrize("markup", MARKUPS)
@given(text=HOSTILE)
def test_no_words_of_a_poster_become_a_link_where_addresses_are_linked(markup: Markup, text: str) -> None:
    hostile, post = with_words(text)
    shown = render(hostile, markup, post=post)
    if markup == "markdown":
        shown = MarkdownIt("commonmark").render(shown)
    for address in (r"\w://", r"www\.\w", r"\w@\w", r"\w\.[^\W\d_]{2,}\b(?<!carbdiag)", r"\w:[^\W\d_]"):
        found = re.search(address, re.sub(r"</?\w[^>]*>", "\n", shown))
        assert found is None, found
    assert "<a " not in bbcode.Parser().format(render(hostile, "bbcode", post=post))


@pytest.mark.parametrize("markup", MARKUPS)
@given(text=HOSTILE)
def test_no_words_of_a_poster_steer_a_terminal_or_reorder_letters(markup: Markup, text: str) -> None:
    hostile, post = with_words(text)
    shown = render(hostile, markup, post=post).replace("\n", "").replace(ZERO_WIDTH if markup != "text" else "\n", "")
    assert {c for c in shown if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")} == set()


@given(text=st.text(st.sampled_from("ab c.é1,:;()!?-"), max_size=40))
def test_plain_words_are_read_as_they_were_written(text: str) -> None:
    said = f"x{text}z"
    hostile, post = with_words(f"{text}z")
    for markup in ("markdown", "bbcode", "html"):
        assert one_line(said) in words(markup, render(hostile, markup, post=post))


def test_no_text_of_a_user_can_pose_as_a_heading() -> None:
    page = render(by_hand().model_copy(update={"case_id": "x\n\nThen check\n  Drink it"}), "text")
    assert page.splitlines().count("Then check") == 1


@pytest.mark.parametrize(
    ("given_text", "shown"),
    [
        ("\x1b[2J\x1b]0;title\x07", "\\x1b[2J\\x1b]0;title\\x07"),
        ("\x9b31m", "\\x9b31m"),
        ("a\u202egpj.exe\u2066", "a\\u202egpj.exe\\u2066"),
        ("zero\u200bwidth\ufeff", "zero\\u200bwidth\\ufeff"),
        ("tag\U000e0041", "tag\\U000e0041"),
        ("line\u2028end\u2029", "line\\u2028end\\u2029"),
        ("half\ud800", "half\\ud800"),
        ("tab\tand\r\nline", "tab and line"),
        ("λ = 0,9 · 25 °C → größer", "λ = 0,9 · 25 °C → größer"),
    ],
)
def test_what_steers_a_terminal_is_spelled_out_and_the_rest_is_left_alone(given_text: str, shown: str) -> None:
    assert printable(given_text) == shown


@pytest.mark.parametrize("text", ["main jet 1.25 mm", "at 10:30", "see e.g. it", "1:25, 0.8 bar.", "half; full: ok"])
def test_numbers_times_and_sentences_are_no_addresses(text: str) -> None:
    assert unlinked(text) == text


def test_a_title_of_the_demo_is_shown_as_the_words_of_its_poster() -> None:
    assert f"<q>{demo().title}</q>" in render(diagnose(demo()), "html")
