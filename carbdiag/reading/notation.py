"""The notation of phrases, expanded to plain sequences of symbols.

    dies {when} i (open|give it) [the] {throttle}

Words stand for all their forms; `(a|b c)` is one of these, `[a]` may be missing, `{name}` is a word group of the
language, `<slot>` a number with its unit, `<n>` one
without that is no fraction, and `...` lets some words stand between; `&` does so too, and its two sides may come in
either order; `>` as well, and what follows may be told in another clause: one thing, then the other. Nothing repeats,
so every phrase is a finite list of sequences and matching never goes back.

Long choices side by side ("{start} [cold|hot] {hard}") stand for their product, thousands of sequences. Such a segment
is left in pieces, each a short list, which the matcher finds one by one and joins where one ends and the next begins.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import product
from math import inf, prod
from string import digits
from typing import Final

from carbdiag.errors import nearest
from carbdiag.reading.lexicon import Lexicon, folded

MOST_SEQUENCES: Final = 6000
_MOST_GAPS: Final = 6
_DEEPEST: Final = 6
_MOST_SIDES: Final = 2
#: A segment is cut in pieces where each cut saves so many sequences.
_WORTH_A_CUT: Final = 500

#: All sequences that a piece stands for; the pieces that follow each other without a gap; the segments between gaps.
Piece = tuple[str, ...]
Segment = tuple[Piece, ...]
Segments = tuple[Segment, ...]
_TOKEN: Final = re.compile(
    r"\.\.\.|[>&()\[\]|]|\{[a-z_0-9]+\}|<[a-z]+>|[0-9]+(?:[./][0-9]+)?|[^\W\d_]+(?:['’][^\W\d_]+)*|\S"
)
_GAPS: Final = ("...", ">")
_EITHER: Final = "&"


class PhraseError(ValueError):
    """A phrase that breaks the notation: the rule, what may be meant, and the word group that is wrong, if one is."""

    def __init__(self, rule: str, nearest: str = "") -> None:
        self.nearest, self.group, self.in_group = nearest, "", ""
        super().__init__(rule)


class Notation:
    """Expands the phrases of one language."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._lexicon = lexicon
        self._atoms: dict[str, Piece] = {}

    def expand(self, phrase: str) -> tuple[tuple[tuple[str, ...], ...], ...]:
        """The segments of a phrase between its gaps, each as all sequences it stands for, in every order it allows.

        Raises:
            PhraseError: with what is wrong.
        """
        return tuple(tuple(tuple(dict.fromkeys(joined(s))) for s in order) for order in self.pieces(phrase))

    def pieces(self, phrase: str) -> tuple[Segments, ...]:
        """The segments of a phrase between its gaps, each in pieces that follow each other, in every order it allows.

        Raises:
            PhraseError: with what is wrong.
        """
        sides: list[list[list[str]]] = [[[]]]
        for token in _TOKEN.findall(phrase):
            if token in _GAPS:
                sides[-1].append([])
            elif token == _EITHER:
                sides.append([[]])
            else:
                sides[-1][-1].append(token)
        if sum(map(len, sides)) > _MOST_GAPS + 1:
            raise PhraseError(f"has more than {_MOST_GAPS} gaps")
        if len(sides) > _MOST_SIDES:
            raise PhraseError("has more than one &")
        forward, *more = (tuple(map(self._segment, side)) for side in sides)
        return (forward,) if not more else tuple(dict.fromkeys(((*forward, *more[0]), (*more[0], *forward))))

    def _segment(self, tokens: Sequence[str]) -> Segment:
        elements, end = self._elements(tokens, 0, 0)
        if end < len(tokens) and tokens[end] == "|":
            found, end = self._choice(tokens, 0, 0)
            elements = [tuple(dict.fromkeys(found))]
        if end != len(tokens):
            raise PhraseError(f"{tokens[end]!r} closes nothing, or a gap stands inside brackets")
        runs = [elements] if prod(map(len, elements)) <= _WORTH_A_CUT else _cut(elements)
        segment = tuple([tuple(dict.fromkeys(joined(run))) for run in runs])
        if any("" in piece for piece in segment):
            raise PhraseError("leaves nothing to look for: only fillers, or a gap at an end")
        return segment

    def _choice(self, tokens: Sequence[str], at: int, depth: int) -> tuple[list[str], int]:
        every: list[str] = []
        while True:
            elements, at = self._elements(tokens, at, depth)
            every += joined(elements)
            if at >= len(tokens) or tokens[at] != "|":
                return every, at
            at += 1

    def _fillers(self, tokens: Sequence[str], begin: int, end: int, depth: int) -> str:
        """The choices of a bracket, from `begin` up to its end, that leave nothing."""
        empty: list[str] = []
        while begin < end:
            elements, at = self._elements(tokens, begin, depth)
            empty += [" ".join(tokens[begin:at])] if "" in joined(elements) else []
            begin = at + 1
        return ", ".join(empty)

    def _elements(self, tokens: Sequence[str], at: int, depth: int) -> tuple[list[Piece], int]:
        """What follows each other up to the end of a choice, each as everything it may be."""
        out: list[Piece] = []
        stands_for = 1
        while at < len(tokens):
            token = tokens[at]
            if token in ("|", ")", "]"):
                break
            at += 1
            if token in ("(", "["):
                begin = at
                inner, at = self._choice(tokens, at, depth)
                closing = ")" if token == "(" else "]"
                if at >= len(tokens) or tokens[at] != closing:
                    raise PhraseError(f"{token!r} is not closed")
                if token == "(" and "" in inner:
                    raise PhraseError(
                        f"has a choice in (...) made of fillers alone ({self._fillers(tokens, begin, at, depth)}), "
                        "which leaves nothing: drop it, or write [...]"
                    )
                at += 1
                found = tuple(dict.fromkeys([*inner, ""] if token == "[" else inner))
            else:
                found = self._atoms.get(token) or self._atom(token, depth)
            out.append(found)
            stands_for *= len(found)
            if stands_for > MOST_SEQUENCES:
                raise PhraseError(f"stands for more than {MOST_SEQUENCES} sequences: split it")
        return out, at

    def _atom(self, token: str, depth: int) -> Piece:
        if token[0] == "{" and token[1:]:
            found = self._group(token[1:-1], depth)
        elif token[0] == "<" and token[1:]:
            found = self._slot(token[1:-1])
        elif token[0].isalpha() or token[0] in digits:
            found = (self._word(token),)
        else:
            raise PhraseError(f"{token!r} has no meaning in a phrase")
        self._atoms[token] = found
        return found

    def _word(self, token: str) -> str:
        lexicon = self._lexicon
        word = folded(token)
        value = lexicon.language.numbers.get(word)
        if value is None and token[0] in digits:
            top, _, bottom = token.partition("/")
            value = float(top) / float(bottom) if bottom else float(top)
        if value is None:
            return lexicon.learn(word)
        if value not in lexicon.literals:
            raise PhraseError(f"the number {token} is not among the numbers of the language")
        return lexicon.literals[value]

    def _group(self, name: str, depth: int) -> Piece:
        groups = self._lexicon.language.word_groups
        phrases = groups.get(name)
        if phrases is None:
            near = nearest(name, groups)
            raise PhraseError(f"there is no word group {{{name}}}", near and f"{{{near}}}")
        if depth >= _DEEPEST:
            raise PhraseError(f"word groups nest too deep at {{{name}}}")
        return tuple(dict.fromkeys(s for phrase in phrases for s in self._group_phrase(name, phrase, depth + 1)))

    def _group_phrase(self, group: str, phrase: str, depth: int) -> list[str]:
        try:
            tokens = _TOKEN.findall(phrase)
            if not {*_GAPS, _EITHER}.isdisjoint(tokens):
                raise PhraseError("a gap stands in the phrase of a word group")
            found, end = self._choice(tokens, 0, depth)
            if end != len(tokens):
                raise PhraseError(f"{tokens[end]!r} closes nothing")
        except PhraseError as error:
            if not error.group:
                error.group, error.in_group = group, phrase
            raise
        return found

    def _slot(self, name: str) -> Piece:
        if name == "n":
            whole = (symbol for value, symbol in self._lexicon.literals.items() if value >= 1)
            return (self._lexicon.any_number, *whole)
        found = self._lexicon.slots_for(name)
        if not found:
            slots = (s for unit in self._lexicon.language.units for s in (unit.slot, unit.also) if s)
            near = nearest(name, slots)
            raise PhraseError(f"there is no slot <{name}>", near and f"<{near}>")
        return found


def joined(pieces: Sequence[Piece]) -> list[str]:
    """Everything that pieces which follow each other stand for."""
    return [*pieces[0]] if len(pieces) == 1 else list(map("".join, product(*pieces)))


def _cut(elements: Sequence[Piece]) -> Iterator[Sequence[Piece]]:
    """Elements in runs that none can leave empty, so that they stand for few sequences together."""
    sizes = [len(element) for element in elements]
    #: how few sequences the elements up to each place stand for, and where their last run begins
    best: list[tuple[float, int]] = [(0.0, 0)]
    for end in range(1, len(elements) + 1):
        runs = (
            (best[begin][0] + _WORTH_A_CUT + prod(sizes[begin:end]), begin)
            for begin in range(end)
            if any("" not in element for element in elements[begin:end])
        )
        best.append(min(runs, default=(inf, 0)))
    begins, end = [], len(elements)
    while end:
        end = best[end][1]
        begins.append(end)
    begins.reverse()
    for begin, end in zip(begins, (*begins[1:], len(elements)), strict=True):
        yield elements[begin:end]
