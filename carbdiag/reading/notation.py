"""The notation of phrases, expanded to plain sequences of symbols.

    dies {when} i (open|give it) [the] {throttle}

Words stand for all their forms; `(a|b c)` is one of these, `[a]` may be missing, `{name}` is a word group of the
language, `<slot>` a number with its unit, `<n>` one
without that is no fraction, and `...` lets some words stand between; `&` does so too, and its two sides may come in
either order; `>` as well, and what follows may be told in another clause: one thing, then the other. Nothing repeats,
so every phrase is a finite list of sequences and matching never goes back.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from carbdiag.reading.lexicon import Lexicon, folded

MOST_SEQUENCES: Final = 6000
MOST_GAPS: Final = 6
_DEEPEST: Final = 6
_MOST_SIDES: Final = 2
_PIECE = re.compile(
    r"\s+|(?P<gap>\.\.\.|>)|(?P<either>&)|(?P<group>\{[a-z_0-9]+\})|(?P<slot><[a-z]+>)|(?P<mark>[()\[\]|])"
    r"|(?P<number>[0-9]+(?:[./][0-9]+)?)|(?P<word>[^\W\d_]+(?:['’][^\W\d_]+)*)|(?P<bad>.)"
)


class PhraseError(ValueError):
    """A phrase that breaks the notation."""


class Notation:
    """Expands the phrases of one language."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._lexicon = lexicon
        self._groups: dict[str, tuple[str, ...]] = {}
        self._words: dict[str, tuple[str, ...]] = {}

    def expand(self, phrase: str) -> tuple[tuple[tuple[str, ...], ...], ...]:
        """The segments of a phrase between its gaps, each as all sequences it stands for, in every order it allows.

        Raises:
            PhraseError: with what is wrong.
        """
        pieces = [(m.lastgroup, m[0]) for m in _PIECE.finditer(phrase) if m.lastgroup]
        sides: list[list[list[tuple[str | None, str]]]] = [[[]]]
        for kind, piece in pieces:
            if kind == "bad":
                raise PhraseError(f"{piece!r} has no meaning in a phrase")
            if kind == "gap":
                sides[-1].append([])
            elif kind == "either":
                sides.append([[]])
            else:
                sides[-1][-1].append((kind, piece))
        if sum(len(side) for side in sides) > MOST_GAPS + 1:
            raise PhraseError(f"has more than {MOST_GAPS} gaps")
        if len(sides) > _MOST_SIDES:
            raise PhraseError("has more than one &")
        out = [tuple(self._segment(segment, 0) for segment in side) for side in sides]
        if not all(segment and all(segment) for side in out for segment in side):
            raise PhraseError("leaves nothing to look for: only fillers, or a gap at an end")
        forward = tuple(segment for side in out for segment in side)
        if len(sides) == 1:
            return (forward,)
        backward = tuple(segment for side in reversed(out) for segment in side)
        return tuple(dict.fromkeys((forward, backward)))

    def _segment(self, pieces: Sequence[tuple[str | None, str]], depth: int) -> tuple[str, ...]:
        found, end = self._choice(pieces, 0, depth)
        if end != len(pieces):
            raise PhraseError(f"{pieces[end][1]!r} closes nothing, or a gap stands inside brackets")
        return tuple(dict.fromkeys(found))

    def _choice(self, pieces: Sequence[tuple[str | None, str]], at: int, depth: int) -> tuple[list[str], int]:
        every: list[str] = []
        while True:
            some, at = self._sequence(pieces, at, depth)
            every += some
            if at >= len(pieces) or pieces[at][1] != "|":
                return every, at
            at += 1

    def _sequence(self, pieces: Sequence[tuple[str | None, str]], at: int, depth: int) -> tuple[list[str], int]:
        out = [""]
        while at < len(pieces):
            kind, piece = pieces[at]
            if piece in ("|", ")", "]"):
                break
            at += 1
            if piece in ("(", "["):
                inner, at = self._choice(pieces, at, depth)
                closing = ")" if piece == "(" else "]"
                if at >= len(pieces) or pieces[at][1] != closing:
                    raise PhraseError(f"{piece!r} is not closed")
                if piece == "(" and "" in inner:
                    raise PhraseError(
                        "has a choice in (...) made of fillers alone, which leaves nothing: drop it, or write [...]"
                    )
                at += 1
                options: Sequence[str] = [*inner, ""] if piece == "[" else inner
            else:
                options = self._atom(kind, piece, depth)
            if len(options) == 1:
                out = [a + options[0] for a in out]
                continue
            choices = dict.fromkeys(options)
            out = list(dict.fromkeys([a + b for a in out for b in choices]))
            if len(out) > MOST_SEQUENCES:
                raise PhraseError(f"stands for more than {MOST_SEQUENCES} sequences: split it")
        return out, at

    def _atom(self, kind: str | None, piece: str, depth: int) -> Sequence[str]:
        if kind == "group":
            return self._group(piece[1:-1], depth)
        if kind == "slot":
            return self._slot(piece[1:-1])
        if piece not in self._words:
            self._words[piece] = self._word(kind, piece)
        return self._words[piece]

    def _word(self, kind: str | None, piece: str) -> tuple[str, ...]:
        lexicon = self._lexicon
        word = folded(piece)
        value = lexicon.language.numbers.get(word)
        if value is None and kind == "number":
            top, _, bottom = piece.partition("/")
            value = float(top) / float(bottom) if bottom else float(top)
        if value is None:
            return (lexicon.learn(word),)
        if value not in lexicon.literals:
            raise PhraseError(f"the number {piece} is not among the numbers of the language")
        return (lexicon.literals[value],)

    def _group(self, name: str, depth: int) -> Sequence[str]:
        if name not in self._groups:
            phrases = self._lexicon.language.word_groups.get(name)
            if phrases is None:
                raise PhraseError(f"there is no word group {{{name}}}")
            if depth >= _DEEPEST:
                raise PhraseError(f"word groups nest too deep at {{{name}}}")
            expanded = [s for phrase in phrases for s in self._group_phrase(phrase, depth + 1)]
            self._groups[name] = tuple(dict.fromkeys(expanded))
        return self._groups[name]

    def _group_phrase(self, phrase: str, depth: int) -> tuple[str, ...]:
        pieces = [(m.lastgroup, m[0]) for m in _PIECE.finditer(phrase) if m.lastgroup]
        if any(kind in ("gap", "either", "bad") for kind, _ in pieces):
            raise PhraseError(f"a gap or a sign without meaning stands in the word group phrase {phrase!r}")
        return self._segment(pieces, depth)

    def _slot(self, name: str) -> Sequence[str]:
        if name == "n":
            whole = (symbol for value, symbol in self._lexicon.literals.items() if value >= 1)
            return (self._lexicon.any_number, *whole)
        found = self._lexicon.slots_for(name)
        if not found:
            raise PhraseError(f"there is no slot <{name}>")
        return found
