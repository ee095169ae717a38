"""An answer as plain text: words and spacing carry the meaning, and a line that starts with `!` is a caution."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from carbdiag.answers.document import Block, Caution, Cautions, Document, Line, Listing, Paragraph, Table
from carbdiag.answers.layout import INDENT, columns, page, section, wrap
from carbdiag.answers.untrusted import printable, unlinked


def render_text(document: Document) -> str:
    """Lines of at most 88 columns, with a final line end; an address of a poster is broken by a space."""
    return page(_lines(document))


def _lines(document: Document) -> Iterator[str]:
    for number, block in enumerate(document.opening):
        if number:
            yield ""
        yield from _block(block, "")
    for part in document.sections:
        yield from section(_words(part.title), _blocks(part.blocks))


def _blocks(blocks: Iterable[Block]) -> Iterator[str]:
    before: Block | None = None
    for block in blocks:
        if before is not None and not (isinstance(before, Cautions) and isinstance(block, Paragraph)):
            yield ""
        yield from _block(block, INDENT)
        before = block


def _block(block: Block, indent: str) -> Iterator[str]:
    if isinstance(block, Paragraph):
        yield from wrap(_line(block.line), indent)
    elif isinstance(block, Cautions) and block.packed:
        yield from wrap(" ".join(f"! {_words(c.text)}" for c in block.entries), indent)
    elif isinstance(block, Cautions):
        yield from _cautions(block.entries, indent)
    elif isinstance(block, Table):
        yield from columns([tuple(_words(c) for c in row) for row in (block.head, *block.rows)])
    elif isinstance(block, Listing):
        yield from _items(block, indent)


def _items(block: Listing, indent: str) -> Iterator[str]:
    for number, item in enumerate(block.items, 1):
        mark = f"{number}. " if block.numbered else "- "
        under = indent + " " * len(mark)
        yield from wrap(_line(item.line), indent + mark, under)
        yield from _cautions(item.cautions, under)
        for line in item.more:
            yield from wrap(_line(line), under, under + INDENT)


def _cautions(cautions: Iterable[Caution], indent: str) -> Iterator[str]:
    for caution in cautions:
        yield from wrap(f"! {_words(caution.text)}", indent, indent + INDENT)


def _line(line: Line) -> str:
    return "".join(f"“{_words(s.text)}”" if s.look == "quoted" else _words(s.text) for s in line)


def _words(text: str) -> str:
    return unlinked(printable(text), " ")
