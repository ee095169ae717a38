"""Sheets to print: questions on one, the answer key with its reasons on another; CommonMark or HTML.

The question sheet is made from the student's half of a quiz alone, so no key can get into it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape as html_escape

from carbdiag.quiz.exports.export import Export, FootNotes, one_line
from carbdiag.quiz.stories import closed
from carbdiag.quiz_schema import ItemKey, ItemView, Quiz, StudentQuiz

_TURNS = "Your trainer tells you what your check shows, and what is asked next."
_PUNCTUATION = re.compile(r"([!-/:-@\[-`{-~])")


def markdown_sheet(quiz: StudentQuiz) -> Export:
    """The questions as CommonMark."""
    lines = ["# Quiz", "", f"Name: {'.' * 30}  Date: {'.' * 15}", "", f"*Quiz {quiz.quiz_id}*", ""]
    for n, item in enumerate(quiz.items, 1):
        lines += [f"## {n}\\. {_mark(item.id)}", "", _mark(item.stem), "", f"**{_mark(item.ask)}**", ""]
        lines += [f"- {o.label}\\. {_mark(o.text)}" for o in item.options]
        lines += ["", _mark(_blank(item)), ""]
    return Export("quiz.md", "text/markdown", _text(lines))


def markdown_key(quiz: Quiz) -> Export:
    """The answer key as CommonMark."""
    foot = FootNotes.of_keys(quiz.keys)
    lines = ["# Answer key", "", f"*Quiz {quiz.quiz_id}, seed {_mark(quiz.seed)}, knowledge {_mark(quiz.edition)}*", ""]
    for n, (item, key) in enumerate(zip(quiz.items, quiz.keys, strict=True), 1):
        lines += [f"## {n}\\. {_mark(item.id)}: {_mark(_right(item, key))}", ""]
        lines += [_mark(key.explanation), ""]
        lines += [f"- {_mark(note)}" for note in _notes(item, key, foot)]
        lines += [f"- {_mark(foot.refer_to(key))}", ""]
    for title, letter, texts in _foot(foot):
        lines += [f"## {title}", "", *(f"- **{letter}{n}** {_mark(text)}" for n, text in enumerate(texts, 1)), ""]
    return Export("quiz-key.md", "text/markdown", _text(lines))


def html_sheet(quiz: StudentQuiz) -> Export:
    """The questions as a page to print."""
    name = f"<p>Name: {'.' * 40} Date: {'.' * 20}</p>"
    body = ["<h1>Quiz</h1>", name, f"<p><small>Quiz {_html(quiz.quiz_id)}</small></p>"]
    for n, item in enumerate(quiz.items, 1):
        options = "".join(f"<li>{o.label}. {_html(o.text)}</li>" for o in item.options)
        body.append(
            f"<section><h2>{n}. {_html(item.id)}</h2><p>{_html(item.stem)}</p><p><strong>{_html(item.ask)}</strong></p>"
            + (f"<ul>{options}</ul>" if options else "")
            + f"<p>{_html(_blank(item))}</p></section>"
        )
    return Export("quiz.html", "text/html", _page("Quiz", body))


def html_key(quiz: Quiz) -> Export:
    """The answer key as a page to print."""
    foot = FootNotes.of_keys(quiz.keys)
    about = f"Quiz {quiz.quiz_id}, seed {quiz.seed}, knowledge {quiz.edition}"
    body = ["<h1>Answer key</h1>", f"<p><small>{_html(about)}</small></p>"]
    for n, (item, key) in enumerate(zip(quiz.items, quiz.keys, strict=True), 1):
        notes = "".join(f"<li>{_html(x)}</li>" for x in _notes(item, key, foot))
        notes += f"<li><small>{_html(foot.refer_to(key))}</small></li>"
        body.append(
            f"<section><h2>{n}. {_html(item.id)}: {_html(_right(item, key))}</h2><p>{_html(key.explanation)}</p>"
            f"<ul>{notes}</ul></section>"
        )
    for title, letter, texts in _foot(foot):
        listed = "".join(f"<li><strong>{letter}{n}</strong> {_html(text)}</li>" for n, text in enumerate(texts, 1))
        body.append(f"<h2>{title}</h2><ul>{listed}</ul>")
    return Export("quiz-key.html", "text/html", _page("Answer key", body))


def _blank(item: ItemView) -> str:
    if item.answer_form == "order":
        return f"Order: {' , '.join(['____'] * len(item.options))}"
    if item.answer_form == "number":
        return f"Answer: ____________ ({item.unit})"
    return f"Answer: ____ {_TURNS}" if item.answer_form == "scenario" else "Answer: ____"


def _right(item: ItemView, key: ItemKey) -> str:
    if key.number is not None:
        return f"{key.number.value:g} ({key.number.low:g} to {key.number.high:g})"
    if item.answer_form == "order":
        return ", ".join(key.answer)
    return key.answer[0]


def _notes(item: ItemView, key: ItemKey, foot: FootNotes) -> Iterator[str]:
    worth = {o.label: o for o in key.options}
    for option in item.options:
        told = worth[option.label]
        points = "" if item.answer_form == "order" else f" ({told.credit:g})"
        yield f"{option.label}{points}: {closed(option.text)} {told.feedback}{foot.behind(key, told)}"
    yield f"Difficulty {key.difficulty_word} ({key.difficulty:.2f}, expected); skill {key.skill}"


def _foot(notes: FootNotes) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    yield "Cautions", "C", notes.cautions
    yield "Sources", "S", notes.sources


def _mark(text: str) -> str:
    """Text that CommonMark shows as itself."""
    return _PUNCTUATION.sub(r"\\\1", one_line(text))


def _html(text: str) -> str:
    return html_escape(one_line(text))


def _text(lines: list[str]) -> bytes:
    return ("\n".join(lines).rstrip() + "\n").encode()


def _page(title: str, body: list[str]) -> bytes:
    style = (
        "body{font:11pt/1.4 sans-serif;max-width:48em;margin:2em auto;padding:0 1em}"
        "h2{font-size:1em;margin:1.2em 0 .3em}section{break-inside:avoid}"
        "ul{list-style:none;padding-left:1em}li{margin:.2em 0}"
    )
    head = f'<head><meta charset="utf-8"><title>{title}</title><style>{style}</style></head>'
    head = f'<!doctype html>\n<html lang="en">{head}'
    return f"{head}\n<body>\n{chr(10).join(body)}\n</body></html>\n".encode()
