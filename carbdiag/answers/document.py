"""An answer as blocks: what is said, in which order, and which cautions stand where.

Built once from a diagnosis; a renderer only marks it up. Every text in it counts as hostile: it may hold words of
a poster, so each renderer escapes all of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias


@dataclass(frozen=True)
class Span:
    """A run of words: plain, stressed, or in the words of a poster."""

    text: str
    look: Literal["plain", "strong", "quoted"] = "plain"


Line: TypeAlias = tuple[Span, ...]


@dataclass(frozen=True)
class Caution:
    """A caution by its id, in full or in short."""

    id: str
    text: str


@dataclass(frozen=True)
class Paragraph:
    """A paragraph."""

    line: Line


@dataclass(frozen=True)
class Cautions:
    """What to obey at the next thing that is said to be done."""

    entries: tuple[Caution, ...]
    packed: bool = False
    """One after the other in a paragraph, where a line for each would leave no room."""


@dataclass(frozen=True)
class Item:
    """An entry of a list, with the cautions and the lines that belong to it."""

    line: Line
    cautions: tuple[Caution, ...] = ()
    more: tuple[Line, ...] = ()


@dataclass(frozen=True)
class Listing:
    """A list, of steps in order where it is numbered."""

    items: tuple[Item, ...]
    numbered: bool = False


@dataclass(frozen=True)
class Table:
    """Rows under a head; markup that has no tables makes a list of it."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


Block: TypeAlias = Paragraph | Cautions | Listing | Table


@dataclass(frozen=True)
class Section:
    """Blocks under a title."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Document:
    """An answer in one language: what comes first, then titled sections."""

    language: str
    opening: tuple[Block, ...]
    sections: tuple[Section, ...] = ()

    def cautions(self) -> Iterator[Caution]:
        """Every caution, in reading order; one that stands in several places comes several times."""
        for block in (*self.opening, *(b for s in self.sections for b in s.blocks)):
            if isinstance(block, Cautions):
                yield from block.entries
            elif isinstance(block, Listing):
                for item in block.items:
                    yield from item.cautions


def plain(text: str) -> Line:
    """A line of plain words."""
    return (Span(text),)


def strong(text: str) -> Line:
    """A line that is stressed as a whole."""
    return (Span(text, "strong"),)


def paragraph(text: str) -> Paragraph:
    """A paragraph of plain words."""
    return Paragraph(plain(text))


def listing(*texts: str, numbered: bool = False) -> Listing:
    """A list of plain lines."""
    return Listing(tuple(Item(plain(t)) for t in texts), numbered)
