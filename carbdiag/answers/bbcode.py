"""An answer as BBCode with only the tags that every board shares: [b], [i] and [list]."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from carbdiag.answers.document import Block, Caution, Cautions, Document, Line, Listing, Paragraph, Table
from carbdiag.answers.untrusted import ZERO_WIDTH, printable, unlinked

#: BBCode has no escape, and some boards take HTML besides: a tag or an entity is broken from inside.
_OPENERS: Final = re.compile(r"[\[<&](?=\S)")


def render_bbcode(document: Document) -> str:
    """BBCode, one line a paragraph, with a final line end."""
    blocks = [_block(b) for b in document.opening]
    for section in document.sections:
        title = f"[b]{_words(section.title)}[/b]"
        blocks.append("\n".join([title, *(_block(b) for b in section.blocks)]))
    return "\n\n".join(blocks) + "\n"


def _block(block: Block) -> str:
    if isinstance(block, Paragraph):
        return _line(block.line)
    if isinstance(block, Cautions):
        said = map(_caution, block.entries)
        return " ".join(said) if block.packed else _list(said)
    if isinstance(block, Table):
        return _list(_row(block.head, row) for row in block.rows)
    return _list(_items(block), "[list=1]" if block.numbered else "[list]")


def _list(items: Iterator[str], opener: str = "[list]") -> str:
    return "\n".join([opener, *(f"[*]{item}" for item in items), "[/list]"])


def _row(head: tuple[str, ...], row: tuple[str, ...]) -> str:
    first, *others = row
    named = (f"{_words(name)}: {_words(cell)}" for name, cell in zip(head[1:], others, strict=True))
    return f"[b]{_words(first)}[/b]: {'; '.join(named)}"


def _items(block: Listing) -> Iterator[str]:
    for item in block.items:
        cautions = (_caution(c) for c in item.cautions)
        yield "\n".join([_line(item.line), *cautions, *(_line(line) for line in item.more)])


def _caution(caution: Caution) -> str:
    return f"! {_words(caution.text)}"


def _line(line: Line) -> str:
    return "".join(_span(s.text, s.look) for s in line)


def _span(text: str, look: str) -> str:
    words = _words(text)
    if look == "quoted":
        return f"“[i]{words}[/i]”"
    return f"[b]{words}[/b]" if look == "strong" else words


def _words(text: str) -> str:
    return _OPENERS.sub(rf"\g<0>{ZERO_WIDTH}", unlinked(printable(text)))
