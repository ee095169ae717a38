"""An answer as an HTML fragment: no script, no style, no link, nothing that a sanitizer would take out."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from carbdiag.answers.document import Block, Caution, Cautions, Document, Item, Line, Paragraph, Table
from carbdiag.answers.untrusted import printable, unlinked


def render_html(document: Document) -> str:
    """One `div` with its language, with a final line end."""
    lines = [f'<div lang="{escape(document.language)}">', *(_block(b) for b in document.opening)]
    for section in document.sections:
        lines += [f"<h3>{_words(section.title)}</h3>", *(_block(b) for b in section.blocks)]
    return "\n".join([*lines, "</div>"]) + "\n"


def _block(block: Block) -> str:
    if isinstance(block, Paragraph):
        return f"<p>{_line(block.line)}</p>"
    if isinstance(block, Cautions):
        if block.packed:
            return f"<p>{' '.join(f'! {_words(c.text)}' for c in block.entries)}</p>"
        return _cautions(block.entries)
    if isinstance(block, Table):
        head = _row("th", block.head)
        rows = "\n".join(_row("td", row) for row in block.rows)
        return f"<table><thead>\n{head}\n</thead><tbody>\n{rows}\n</tbody></table>"
    name = "ol" if block.numbered else "ul"
    return "\n".join([f"<{name}>", *(_item(i) for i in block.items), f"</{name}>"])


def _row(cell: str, row: Iterable[str]) -> str:
    return "<tr>" + "".join(f"<{cell}>{_words(text)}</{cell}>" for text in row) + "</tr>"


def _item(item: Item) -> str:
    cautions = f"\n{_cautions(item.cautions)}\n" if item.cautions else ""
    more = "".join(f"<br>{_line(line)}" for line in item.more)
    return f"<li>{_line(item.line)}{cautions}{more}</li>"


def _cautions(cautions: Iterable[Caution]) -> str:
    return "\n".join(["<ul>", *(f"<li>! {_words(c.text)}</li>" for c in cautions), "</ul>"])


def _line(line: Line) -> str:
    return "".join(_span(s.text, s.look) for s in line)


def _span(text: str, look: str) -> str:
    words = _words(text)
    if look == "quoted":
        return f"<q>{words}</q>"
    return f"<strong>{words}</strong>" if look == "strong" else words


def _words(text: str) -> str:
    return escape(unlinked(printable(text)), quote=False)
