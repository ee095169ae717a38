"""Plain-text layout that every answer shares: width, wrapping, sections, columns, cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from carbdiag.answers.untrusted import printable
from carbdiag.records.safety import CautionText

WIDTH = 88
INDENT = "  "


def page(lines: Iterable[str]) -> str:
    """Lines as a text with no trailing blanks and one final line end."""
    return "\n".join(line.rstrip() for line in lines).rstrip("\n") + "\n"


def section(title: str, lines: Iterable[str]) -> Iterator[str]:
    """A titled block after a blank line; nothing at all when it has no lines."""
    body = list(lines)
    if body:
        yield ""
        yield from wrap(title, "")
        yield from body


def wrap(text: str, indent: str = INDENT, hang: str | None = None) -> Iterator[str]:
    """A paragraph, its further lines indented by `hang`."""
    yield from textwrap.wrap(
        printable(text),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent if hang is None else hang,
        break_on_hyphens=False,
    )


def columns(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """Rows as aligned columns, the last one wrapped."""
    printed = [tuple(printable(cell) for cell in row) for row in rows]
    widths = [max(len(row[n]) for row in printed) for n in range(len(printed[0]) - 1)]
    for row in printed:
        head = "".join(f"{cell:<{width}}   " for cell, width in zip(row[:-1], widths, strict=True))
        yield from wrap(row[-1], INDENT + head, INDENT + " " * len(head))


def caution_lines(cautions: Iterable[CautionText], indent: str = INDENT * 2) -> Iterator[str]:
    """One paragraph a caution, each marked with `!`."""
    for caution in cautions:
        yield from wrap(f"! {caution.text}", indent, indent + INDENT)
