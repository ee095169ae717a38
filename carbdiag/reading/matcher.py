"""Many phrases at once, in one pass over the symbols; pieces and gaps are joined hit by hit.

At each symbol the sequences that may end there are looked up, by the few lengths that sequences with these last two
symbols have. A table needs no building beyond itself, which makes the first text of a process quick to read.
"""

from __future__ import annotations

from collections.abc import Collection, Container, Iterable, Sequence
from itertools import chain as chained
from operator import add
from typing import Final, NamedTuple

from carbdiag.reading.notation import Piece, Segment, Segments
from carbdiag.reading.symbols import SymbolText

#: Words that may stand where a phrase has a gap; riders tell signs with more words in between than deeds.
MOST_BETWEEN: Final = 3
MOST_BETWEEN_SIGNS: Final = 5
_FURTHEST: Final = 1 + max(MOST_BETWEEN, MOST_BETWEEN_SIGNS)


class Meaning(NamedTuple):
    """What a phrase says: a kind, and a record or a value with what goes with it."""

    kind: str
    record: str
    more: str = ""


class Hit(NamedTuple):
    """A phrase found: symbols from `first` up to and with `last`; `parts` leaves its gaps out.

    `acts`: the engine must do it; what the rider does ("I stopped") is another thing. `flows`: one thing follows the
    other, and may do so in another clause; without a gap, the phrase itself has a word that ends a clause ("and").
    """

    first: int
    last: int
    meaning: Meaning
    parts: tuple[tuple[int, int], ...]
    acts: bool = False
    flows: bool = False


class Phrase(NamedTuple):
    """A compiled phrase: its segments between gaps, each in pieces that follow each other."""

    segments: Segments
    meaning: Meaning
    acts: bool = False
    flows: bool = False


#: Two symbols -> how long the sequences are that may end there, the longest first.
Lengths = dict[str, tuple[int, ...]]
#: What a phrase found adds: its kind as a number, its meaning, whether it acts and flows.
_Whole = tuple[int, Meaning, bool, bool]
#: What a segment found tells: the phrases it is; the openings it is; openings before it -> those it makes longer;
#: the openings it is and those it can follow, as sets of bits: most segments follow none, which bits tell at once.
_Told = tuple[Sequence[_Whole], Sequence[int], dict[int, list[int]], int, int]
#: What a piece found tells besides: the chains it begins; chains right before it -> those it makes longer.
_Joins = tuple[Sequence[int], dict[int, list[int]]]
_ALONE: Final[_Joins] = ((), {})
_ONE: Final = (1,)


class _Segment:
    """What a segment is: whole phrases, and the openings of longer ones; an opening is what a phrase begins with."""

    __slots__ = ("longer", "opening", "whole")

    def __init__(self) -> None:
        self.whole: dict[_Whole, int] = {}
        """With the number of the first phrase that says so."""
        self.opening: int | None = None
        self.longer: dict[tuple[int, int], int] = {}
        """Opening before it, and how far before it at most -> opening with it."""


class _Piece:
    """What a piece is: a segment, and a link of chains; a chain is what a segment in several pieces begins with."""

    __slots__ = ("chain", "longer", "segment")

    def __init__(self) -> None:
        self.segment: _Segment | None = None
        self.chain: int | None = None
        self.longer: dict[int, int] = {}
        """Chain before it -> chain with it."""


class Matcher:
    """The compiled phrases of one language.

    Args:
        phrases: all of them.
        lengths: those of their sequences, if they are known.
    """

    def __init__(self, phrases: Iterable[Phrase], lengths: Lengths | None = None) -> None:
        self._kinds: dict[str, int] = {}
        pieces: dict[Piece, _Piece] = {}
        chains: list[_Segment | None] = []
        self._apart: list[int] = []
        """Of each opening, the furthest from the one before it."""
        self._ends: list[list[tuple[int, _Whole]]] = []
        """The phrases that each opening is the whole of, with their numbers."""
        for n, (segments, meaning, acts, flows) in enumerate(phrases):
            whole = (self._kinds.setdefault(meaning.kind, len(self._kinds)), meaning, acts, flows)
            found = [self._segment(segment, pieces, chains) for segment in segments]
            if len(found) == 1:
                found[0].whole.setdefault(whole, n)
            else:
                self._ends[self._opening(found, meaning.kind)].append((n, whole))
        self._chains = [self._told((segment,) if segment else ()) for segment in chains]
        self._pieces = tuple(pieces.values())
        self._number, self._of_several = _numbered(pieces)
        self.sequences = len(self._number)
        self._known: dict[str, tuple[_Told, _Joins]] = {}
        self.lengths = _lengths(self._number) if lengths is None else lengths

    @staticmethod
    def _segment(pieces: Segment, known: dict[Piece, _Piece], chains: list[_Segment | None]) -> _Segment:
        first, *more = (known.get(piece) or known.setdefault(piece, _Piece()) for piece in pieces)
        if not more:
            first.segment = first.segment or _Segment()
            return first.segment
        chain = first.chain = len(chains) if first.chain is None else first.chain
        for piece in more:
            if chain == len(chains):
                chains.append(None)
            chain = piece.longer.setdefault(chain, len(chains))
        if chain == len(chains):
            chains.append(None)
        segment = chains[chain] = chains[chain] or _Segment()
        return segment

    def _opening(self, segments: Sequence[_Segment], kind: str) -> int:
        """What a phrase of several segments is found as."""
        apart = 1 + (MOST_BETWEEN_SIGNS if kind == "finding" else MOST_BETWEEN)
        first, *more = segments
        opening = first.opening = len(self._ends) if first.opening is None else first.opening
        for segment in (None, *more):
            if segment is not None:
                opening = segment.longer.setdefault((opening, apart), len(self._ends))
            if opening == len(self._ends):
                self._ends.append([])
                self._apart.append(apart)
        return opening

    def _found(self, sequence: str) -> tuple[_Told, _Joins]:
        """What a sequence found tells, worked out when it is found first: most never are."""
        number = self._number[sequence]
        n = number - len(self._pieces)
        pieces = [self._pieces[number]] if n < 0 else [self._pieces[piece] for piece in self._of_several[n]]
        longer: dict[int, list[int]] = {}
        for piece in pieces:
            for before, grown in piece.longer.items():
                longer.setdefault(before, []).append(grown)
        begun = [piece.chain for piece in pieces if piece.chain is not None]
        told = self._told([piece.segment for piece in pieces if piece.segment is not None])
        found = self._known[sequence] = told, (begun, longer) if begun or longer else _ALONE
        return found

    @staticmethod
    def _told(segments: Sequence[_Segment]) -> _Told:
        """What is told where some segments are found in the same words."""
        whole: dict[_Whole, int] = {}
        longer: dict[int, list[int]] = {}
        for told, n in chained.from_iterable(segment.whole.items() for segment in segments):
            whole[told] = min(n, whole.get(told, n))
        for (before, _), grown in chained.from_iterable(segment.longer.items() for segment in segments):
            longer.setdefault(before, []).append(grown)
        opening = [segment.opening for segment in segments if segment.opening is not None]
        return sorted(whole, key=whole.__getitem__), opening, longer, _bits(opening), _bits(longer)

    def find(self, text: SymbolText) -> dict[str, list[Hit]]:
        """Every phrase in a text by the kind of its meaning, in the order of where it ends."""
        out: dict[str, list[Hit]] = {kind: [] for kind in self._kinds}
        to = [hits.append for hits in out.values()]
        #: the openings found in this sentence, with their parts
        opened: list[tuple[Sequence[int], tuple[tuple[int, int], ...]]] = []
        made, sentence_of = tuple.__new__, text.sentence_of
        sentence, open_now, apart, ends = -1, 0, self._apart, self._ends
        for last, first, (whole, openings, longer, opens, follows) in self._segments(text.symbols):
            part = ((first, last),)
            for kind, meaning, acts, flows in whole:  # a hit every few letters: each step counts
                to[kind](made(Hit, (first, last, meaning, part, acts, flows)))
            if sentence_of[last] != sentence:
                sentence = sentence_of[last]
                open_now = 0
                opened.clear()
            if follows & open_now:
                before = _found_last(opened, first, longer)
                more: list[tuple[int, _Whole, tuple[tuple[int, int], ...]]] = []
                for opening in sorted(before):  # the shorter first: a part stands in a phrase once
                    parts = before[opening]
                    between = first - parts[-1][1]
                    for grown in longer[opening] if between > 0 else ():
                        if between <= apart[grown]:
                            before[grown] = both = (*parts, *part)
                            opened.append(((grown,), both))
                            open_now |= 1 << grown
                            for n, told in ends[grown]:
                                more.append((n, told, both))
                for _, (kind, meaning, acts, flows), parts in sorted(more) if more else ():
                    to[kind](Hit(parts[0][0], last, meaning, parts, acts, flows))
            if opens:
                open_now |= opens
                opened.append((openings, part))
        return out

    def _segments(self, symbols: str) -> list[tuple[int, int, _Told]]:
        """The segments in a text by where they end, the longest first: their last and first symbol, what they tell."""
        out: list[tuple[int, int, _Told]] = []
        known_of, number = self._known.get, self._number
        #: symbol -> the chains that end there, with where they began
        ending: dict[int, list[tuple[int, Sequence[int]]]] = {}
        lengths_at = map(self.lengths.get, map(add, f" {symbols}", symbols))
        for last, lengths in enumerate(lengths_at):
            if lengths is None and symbols[last] not in number:
                continue
            here = len(out)
            chains: dict[tuple[int, int], None] = {}
            for length in lengths or _ONE:
                first = last + 1 - length
                sequence = symbols[first : last + 1] if first >= 0 else ""
                found = known_of(sequence)
                if found is None:
                    if sequence not in number:
                        continue
                    found = self._found(sequence)
                told, joins = found
                out.append((last, first, told))
                if joins is _ALONE:
                    continue
                begun, longer = joins
                for begin, links in ending.get(first - 1, ()) if longer else ():
                    for link in filter(longer.__contains__, links):
                        chains.update(((begin, chain), None) for chain in longer[link])
                if begun:
                    ending.setdefault(last, []).append((first, begun))
            if chains:
                ending.setdefault(last, []).extend((begin, (chain,)) for begin, chain in chains)
                told_from: dict[int, list[_Told]] = {}
                for _, first, told in out[here:]:
                    told_from.setdefault(first, []).append(told)
                for begin, chain in chains:
                    told_from.setdefault(begin, []).append(self._chains[chain])
                out[here:] = [(last, first, _together(told)) for first, told in sorted(told_from.items())]
        return out


def _found_last(
    opened: Sequence[tuple[Sequence[int], tuple[tuple[int, int], ...]]], first: int, longer: Container[int]
) -> dict[int, tuple[tuple[int, int], ...]]:
    """The openings that a segment may make longer, as far back as one may stand, with their parts where found last.

    Of two that end at the same word the one with more words counts: "air screw", not the screw in it.
    """
    out: dict[int, tuple[tuple[int, int], ...]] = {}
    for openings, parts in reversed(opened):
        if first - parts[-1][1] > _FURTHEST:
            break
        for opening in openings:
            if opening in longer and (opening not in out or out[opening][-1][1] == parts[-1][1]):
                out[opening] = parts
    return out


def _together(several: Sequence[_Told]) -> _Told:
    """What is told by the same words in several ways."""
    if len(several) == 1:
        return several[0]
    longer: dict[int, list[int]] = {}
    opens = follows = 0
    for _, _, of_one, opens_one, follows_one in several:
        for before, grown in of_one.items():
            longer.setdefault(before, []).extend(grown)
        opens |= opens_one
        follows |= follows_one
    whole = dict.fromkeys(chained.from_iterable(told[0] for told in several))
    return [*whole], [*chained.from_iterable(told[1] for told in several)], longer, opens, follows


def _bits(numbers: Iterable[int]) -> int:
    """Numbers as a set of bits."""
    bits = 0
    for number in numbers:
        bits |= 1 << number
    return bits


def _numbered(pieces: Iterable[Piece]) -> tuple[dict[str, int], list[list[int]]]:
    """Every sequence with the number of the piece it is one of; what follows those numbers stands for several."""
    number: dict[str, int] = {}
    several: dict[str, list[int]] = {}
    n = -1
    for n, piece in enumerate(pieces):
        for sequence in piece:
            first = number.setdefault(sequence, n)
            if first != n:
                several.setdefault(sequence, [first]).append(n)
    number.update((sequence, n + 1 + at) for at, sequence in enumerate(several))
    return number, list(several.values())


def _lengths(sequences: Collection[str]) -> Lengths:
    bits: dict[str, int] = {}  # of each ending, a bit for each length: endings differ little in them
    for sequence in sequences:
        ending = sequence[-2:]
        bits[ending] = bits.get(ending, 0) | 1 << len(sequence)
    bits = {ending: found | (ending[1] in sequences) << 1 for ending, found in bits.items() if len(ending) > 1}
    lengths = {b: tuple(n for n in range(b.bit_length(), 0, -1) if b >> n & 1) for b in {*bits.values()}}
    return {ending: lengths[found] for ending, found in bits.items()}
