"""An answer as CommonMark without tables, HTML or links: headings, paragraphs, lists, strong."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from carbdiag.answers.document import Block, Caution, Cautions, Document, Line, Listing, Paragraph, Table
from carbdiag.answers.untrusted import printable, unlinked

#: What means something anywhere in CommonMark or a usual extension of it, and what does only at the start of a line.
_ANYWHERE: Final = re.compile(r"[\\`*_\[\]<>{}&#|~^$=]")
_AT_START: Final = re.compile(r"^(\s*)([-+]|\d+(?=[.)]))")


def render_markdown(document: Document) -> str:
    """CommonMark, one line a paragraph, with a final line end."""
    blocks = [_block(b) for b in document.opening]
    for section in document.sections:
        blocks.append(f"### {_words(section.title)}")
        blocks += [_block(b) for b in section.blocks]
    return "\n\n".join(blocks) + "\n"


def _block(block: Block) -> str:
    if isinstance(block, Paragraph):
        return _line(block.line)
    if isinstance(block, Cautions):
        if block.packed:
            return " ".join(map(_caution, block.entries))
        # a bullet of their own keeps them apart from a list that follows
        return "\n".join(f"* {_caution(c)}" for c in block.entries)
    if isinstance(block, Table):
        return "\n".join(f"- {_row(block.head, row)}" for row in block.rows)
    return "\n".join(_items(block))


def _row(head: tuple[str, ...], row: tuple[str, ...]) -> str:
    first, *others = row
    named = (f"{_words(name)}: {_words(cell)}" for name, cell in zip(head[1:], others, strict=True))
    return f"**{_words(first)}**: {'; '.join(named)}"


def _items(block: Listing) -> Iterator[str]:
    for number, item in enumerate(block.items, 1):
        mark = f"{number}. " if block.numbered else "- "
        yield f"{mark}{_line(item.line)}"
        under = " " * len(mark)
        yield from (f"{under}* {_caution(c)}" for c in item.cautions)
        yield from _under(item.more, under)


def _under(lines: Iterable[Line], under: str) -> Iterator[str]:
    yield from (f"{under}- {_line(line)}" for line in lines)


def _caution(caution: Caution) -> str:
    return f"! {_words(caution.text)}"


def _line(line: Line) -> str:
    return "".join(_span(s.text, s.look) for s in line).strip()


def _span(text: str, look: str) -> str:
    words = _words(text)
    if look == "quoted":
        return f"“{words}”"
    if look != "strong" or not words.strip():
        return words
    # stress must begin and end at a word
    return f"**{words.strip()}**" + (" " if words[-1:].isspace() else "")


def _words(text: str) -> str:
    escaped = _ANYWHERE.sub(r"\\\g<0>", unlinked(printable(text)))
    return _AT_START.sub(lambda m: f"{m[1]}\\{m[2]}" if m[2] in "-+" else f"{m[1]}{m[2]}\\", escaped)
