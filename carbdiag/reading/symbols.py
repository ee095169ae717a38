"""A text as a string of symbols, with the place in the text that each came from."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from carbdiag.reading.arrows import ARROW, NOTE
from carbdiag.reading.lexicon import MOST_COMPARED, SENTENCE, UNKNOWN, Lexicon, folded
from carbdiag.records.place_words import Unit

_TOKEN = re.compile(
    r" ?(?P<word>[^\W\d_]++(?:['’`´][^\W\d_]++)*+"  # with its blank: to find that a blank begins nothing takes time
    r"(?:(?<=[kK][mM])/[hH]\b|(?<=(?<![^\W\d_])[wW])/[oO](?:[uU][tT])?\b)?)"  # "km/h", "w/o"
    r"|(?P<number>(?:[0-9]{1,9}|(?<![\w.,/])(?=\.[0-9]))(?:[.,/][0-9]{1,9})?)(?:(?<=[0-9]{2})['’]?s\b)?|(?P<vulgar>[¼½¾⅛⅓⅔⅜⅝⅞])"
    r"|(?P<quote>\[/?(?:quote|QUOTE)[^\[\]\n]{0,200}\]|</?blockquote[^<>]{0,200}>)"
    r"|(?P<tag><[/a-zA-Z!][^<>]{0,300}>|\[/?[a-zA-Z]{1,5}[^\[\]\n]{0,100}\])|(?P<entity>&[a-zA-Z#][a-zA-Z0-9]{0,9};)"
    r"|(?P<end>[.!?;…]+|\n[ \t\r]*\n|\n[ \t]*[-*•+][ \t])|(?P<line>\n[ \t]*>?)"
    r"|(?P<also>&(?=\s))|(?P<soft>[,:()—–]|[ \t]-+[ \t]|/(?=[^\W\d_]))"
)  # fmt: skip
_NEXT = re.compile(r" *([^\W\d_]+)")
_WORD = 1
"""Its first group."""
_VULGAR = {"¼": 0.25, "½": 0.5, "¾": 0.75, "⅛": 0.125, "⅓": 1 / 3, "⅔": 2 / 3, "⅜": 0.375, "⅝": 0.625, "⅞": 0.875}
#: What stands before a colon or dash in its clause, and what ends a line: a list or another text begins there.
_LABEL = re.compile(r"(?:(?<=[.!?;,\n•|])|^)[^.!?;,:\n•|]+\Z")
_ENDS_LINE = re.compile(r"[ \t]*(?:\r?\n|\Z)")
#: One to three words that end a line.
_RESULT = re.compile(r"[ \t]*([^\W\d_]+)(?: [^\W\d_]+){0,2}[ \t]*[.;]?[ \t]*(?:\r?\n|\Z)")
_LONG_LABEL, _LABEL_WORDS = 40, 4
#: What ends a clause and never stands for "is".
_NO_COPULA = frozenset((",", "(", ")"))
#: From here on two numbers with a slash between them are two numbers.
_NO_FRACTION = 20
#: Turns may go "from 2 to 3", and are no range; characters between the two ends of one.
_NO_RANGE = "turns"
_RANGE = 4
_THOUSANDS = 1000
#: A line with fewer characters was not broken because the page was full.
_SHORT_LINE = 45
#: Words with slashes between, at least three.
_SLASHED, _SLASH = re.compile(r"(?<![\w/.:])[^\W\d_]{2,24}(?:/[^\W\d_]{2,24}){2,12}(?![\w/.])"), re.compile("/")
#: A line with fewer characters may be a note.
_NOTE_LINE = 64
#: How strongly a clause ends: at a word like "and", at a comma, at a word like "until", at a word like "but".
AND, COMMA, BUT, CONTRAST = 1, 2, 3, 4
#: Dots between which a poster takes breath; they end no sentence.
_TRAILS = frozenset(("..", "...", "....", ".....", "…"))
#: A word of a text that was not met before.
_NEW: tuple[str, str, int] = ("", "", 0)
_ENDS_SENTENCE = frozenset({"br", "p", "/p", "li", "/li", "div", "/div", "hr", "td", "tr"})


@dataclass
class Sentence:
    """A sentence: its symbols from `first` up to `last`, and whether it asks or quotes."""

    first: int
    start: int
    last: int = 0
    end: int = 0
    asks: bool = False
    quoted: bool = False


@dataclass
class SymbolText:
    """Symbols of a text, one character each; hard ends of sentences are symbols too."""

    symbols: str = ""
    starts: list[int] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    sentence_of: list[int] = field(default_factory=list)
    breaks: dict[int, int] = field(default_factory=dict)
    """Symbol before which a clause ends -> how strongly: AND, COMMA or BUT."""
    values: dict[int, float] = field(default_factory=dict)
    """Symbol -> the number it stands for, in the unit of its slot."""
    openers: dict[int, str] = field(default_factory=dict)
    """Symbol that starts a clause -> the clause's first word, filler or not."""
    sentences: list[Sentence] = field(default_factory=list)


class Reader:
    """Turns texts into symbols for one language."""

    def __init__(self, lexicon: Lexicon, nearest: Callable[[str], str | None]) -> None:
        self._lexicon = lexicon
        self._nearest = nearest
        language = lexicon.language
        self._breaks = {
            **dict.fromkeys(language.breaks, AND),
            **dict.fromkeys(language.strong_breaks, BUT),
            **dict.fromkeys(language.contrasts, CONTRAST),
        }
        self._only_behind = {word: frozenset(before) for word, before in language.only_behind.items()}

    def read(self, text: str) -> SymbolText:
        """Read a text; time grows with its length alone."""
        run = _Run(text, self._lexicon, self._nearest, self._breaks)
        run.start(quoted=text.lstrip(" \t").startswith(">"))
        words: dict[str, tuple[str, str, int] | None] = {}
        symbols, starts, ends = run.symbols, run.starts, run.ends
        only_behind, before = self._only_behind, ""
        for match in _TOKEN.finditer(text):
            piece = match[_WORD]
            if piece is None:
                kind = match.lastgroup or ""
                start, end = match.span(kind or 0)  # "115s" are jets of 115
                if kind == "line" and (_listed(text, start, end) or _noted(text, start, end)):
                    run.close(start)
                run.take(kind, match[kind or 0], start, end)
                continue
            known = words.get(piece, _NEW)
            if known is _NEW:
                known = words[piece] = run.word(piece)
            if known is None:
                run.number_word(piece, *match.span(_WORD))
                continue
            word, symbol, strength = known
            if strength:
                run.break_(strength)
            if run.fresh:
                run.open(word, still=bool(strength))
            if word in only_behind and before not in only_behind[word]:
                symbol = ""
            before = word
            if symbol:  # as `add` does
                symbols.append(symbol)
                end = match.end()
                starts.append(end - len(piece))
                ends.append(end)
        return run.finish(len(text))


class _Run:
    def __init__(
        self, text: str, lexicon: Lexicon, nearest: Callable[[str], str | None], breaks: dict[str, int]
    ) -> None:
        self._text = text
        self._lexicon, self._breaks, self._nearest = lexicon, breaks, nearest
        self._left = MOST_COMPARED
        self._slashed: frozenset[int] | None = None
        self._no_label = frozenset((*lexicon.language.negation.words, *lexicon.language.not_labels))
        self._out = SymbolText(sentences=[Sentence(0, 0)])
        self.symbols: list[str] = []
        self.starts, self.ends = self._out.starts, self._out.ends
        self._depth = 0
        self._line_quoted = False
        self.fresh = True

    def start(self, *, quoted: bool) -> None:
        """Begin the first line."""
        self._line_quoted = self._out.sentences[0].quoted = quoted

    def take(self, kind: str, piece: str, start: int, end: int) -> None:
        """Take what is no word."""
        if kind == "number":
            top, slash, bottom = piece.partition("/")
            said = self._lexicon.language.numbers_said.get(piece)
            if said is not None:
                self._symbol_of(said, start, end)
            elif slash and min(int(top), int(bottom)) >= _NO_FRACTION:
                # "130/128" is a number for each cylinder
                self._number(float(top), start, start + len(top))
                self._number(float(bottom), end - len(bottom), end)
            else:
                self._number(_value(piece), start, end)
        elif kind == "vulgar":
            self._number(_VULGAR[piece], start, end)
        elif kind == "end":
            if piece in _TRAILS:
                self.break_(COMMA)
                return
            if "?" in piece:
                self._out.sentences[-1].asks = True
            self.close(end)
            if piece[0] == "\n":
                self._line(False, end)
        elif kind == "line":
            quoted = piece.endswith(">")
            if quoted != self._line_quoted:
                self.close(start)
            self._line(quoted, end)
            self.break_(COMMA)
        elif kind == "quote":
            self.close(start)
            closes = piece[1] == "/"
            self._depth = max(self._depth - 1, 0) if closes else self._depth + 1
            self._out.sentences[-1].quoted = self._depth > 0 or self._line_quoted
        elif kind == "tag":
            name = piece[1:-1].partition(" ")[0].lower().rstrip("/")
            if name in _ENDS_SENTENCE:
                self.close(end)
        elif kind == "also":
            self.break_(AND)
        elif piece == "/":
            if self._in_a_list(start):
                self.break_(COMMA)
        elif kind == "soft" and not self._stands_for_is(piece, start, end):
            self.break_(COMMA)

    def _stands_for_is(self, piece: str, start: int, end: int) -> bool:
        """Whether a comma, colon or dash ends no clause."""
        if piece == ",":
            return self._ends_in_a_result(end) and self._label(start, end)
        return piece not in _NO_COPULA and (self._ratio(start, end) or self._label(start, end))

    def _ends_in_a_result(self, end: int) -> bool:
        """Whether the line ends with a result behind a comma, as in notes: "float height checked, ok"."""
        rest = _RESULT.match(self._text, end)
        return rest is not None and rest[1].lower() in self._lexicon.language.results

    def _ratio(self, start: int, end: int) -> bool:
        """Whether a colon stands between numbers: "32:1" is no two clauses."""
        return self._text[start - 1 : start].isdigit() and self._text[end : end + 1].isdigit()

    def _in_a_list(self, start: int) -> bool:
        """Whether a slash is one of several in a row, between words: "tap/hose/filter", and no "needle/seat"."""
        if self._slashed is None:
            self._slashed = frozenset(
                at.start() + m.start()
                for m in _SLASHED.finditer(self._text)
                for at in _SLASH.finditer(m[0])
                if len({*m[0].lower().split("/")}) == m[0].count("/") + 1  # no "on/off/on/off"
            )
        return start in self._slashed

    def _label(self, start: int, end: int) -> bool:
        """Whether a colon or dash stands for "is", as notes are kept: "plug: white", "throttle opened - dies".

        A denial or somebody's sentence before it is no label: "no luck: it bogs" denies no bog.
        """
        label = _LABEL.search(self._text, max(start - _LONG_LABEL, 0), start)
        if label is None or _ENDS_LINE.match(self._text, end):
            return False
        words = label[0].lower().split()
        if not 0 < len(words) <= _LABEL_WORDS or not self._no_label.isdisjoint(words):
            return False
        more = self._lexicon.language.label_adds.get(" ".join(words))
        symbol = self._lexicon.symbol(more, None) if more is not None else None
        if symbol:
            self.add(symbol, start, start)
        return True

    def _line(self, quoted: bool, at: int) -> None:
        self._line_quoted = quoted
        sentence = self._out.sentences[-1]
        if sentence.first == len(self.symbols):
            sentence.quoted = quoted or self._depth > 0
            sentence.start = at

    def break_(self, strength: int) -> None:
        """End a clause here."""
        at = len(self.symbols)
        self._out.breaks[at] = max(self._out.breaks.get(at, 0), strength)
        self.fresh = True

    def word(self, piece: str) -> tuple[str, str, int] | None:
        """A word in small letters, its symbol and whether a clause ends before it; None for a number or a unit."""
        word = folded(piece)
        if word in self._lexicon.language.numbers or word in self._lexicon.unit_of:
            return None
        symbol = self._lexicon.symbol(word, self._compare if self._left else None)
        return word, symbol, self._breaks.get(word, 0)

    def _symbol_of(self, word: str, start: int, end: int) -> None:
        """Take a piece that stands for a word."""
        symbol = self._lexicon.symbol(word, None)
        if symbol:
            self.add(symbol, start, end)

    def number_word(self, piece: str, start: int, end: int) -> None:
        """Take a word that is a number, or a unit when it stands behind one."""
        word = folded(piece)
        unit = self._lexicon.unit_of.get(word)
        at = len(self.symbols) - 1
        if self._text[end : end + 1].isdigit():
            unit = None  # "6F9" is a needle
        if unit is not None and self._plain_number(at) and self._multiplies(unit, end):
            self._out.values[at] *= unit.times  # "10 thousand feet", "9k ft"
            self._out.ends[at] = end
            return
        if unit is not None and (self._plain_number(at) or self._vague_number(at)):
            sign = -1 if unit.signed and self._minus(at) else 1
            self._out.values[at] = sign * self._out.values[at] * unit.times + unit.plus
            self._out.ends[at] = end
            if unit.slot != _NO_RANGE:
                at = self._end_of_range(at)
            if at and at not in self._out.breaks and self.symbols[at - 1] in self._lexicon.about:
                # "maybe 5 seconds" is five, and no doubt
                self._drop(at - 1, keep=at)
                at -= 1
            self.symbols[at] = self._lexicon.slots[unit.slot]
            return
        value = self._lexicon.language.numbers.get(word)
        if value is not None:
            self._number(value, start, end)
            return
        self.open(word, still=False)
        symbol = self._lexicon.symbol(word, None)
        if symbol:
            self.add(symbol, start, end)

    def _multiplies(self, unit: Unit, end: int) -> bool:
        """Whether a unit of thousands only multiplies the one right behind it."""
        behind = _NEXT.match(self._text, end) if unit.times >= _THOUSANDS else None
        following = self._lexicon.unit_of.get(folded(behind[1])) if behind else None
        return following is not None and following.slot != unit.slot

    def _minus(self, at: int) -> bool:
        """Whether a minus stands right before a number, as in "at -10F": no hyphen, and no range."""
        start = self.starts[at]
        before = self._text[max(start - 2, 0) : start]
        return before[-1:] in ("-", "−") and not before[:-1].strip("( ")

    def _vague_number(self, at: int) -> bool:
        """Whether the last word stands for a number before a unit, which it then is: "a few minutes"."""
        value = self._lexicon.vague.get(self.symbols[at]) if at >= 0 and at + 1 not in self._out.breaks else None
        if value is not None:
            self._out.values[at] = value
        return value is not None

    def _end_of_range(self, at: int) -> int:
        """Where a number with a unit stands once the other end of its range is gone: "5 or 6 seconds"."""
        low, values = at - 1, self._out.values
        between = self._text[self.ends[low] : self.starts[at]] if low >= 0 else ""
        leads = any(mark in between for mark in "=>:")  # "350s = 8000 rpm" is no range
        if low in values and self._plain_number(low) and len(between) <= _RANGE and not leads:
            self._drop(low, keep=at)
            return low
        return at

    def _drop(self, at: int, *, keep: int) -> None:
        """Put the last symbol, a number, in the place of the one before it."""
        self._out.values[at] = self._out.values.pop(keep)
        del self.symbols[at], self.starts[at], self.ends[at]

    def open(self, word: str, *, still: bool) -> None:
        """Note the word a clause begins with; `still`: the clause begins with the next word."""
        if self.fresh:
            self._out.openers[len(self.symbols)] = word
            self.fresh = still

    def _compare(self, word: str) -> str | None:
        self._left -= 1
        return self._nearest(word)

    def _number(self, value: float, start: int, end: int) -> None:
        at = len(self.symbols) - 1
        before = self._out.values.get(at, 0.0)
        if 1 <= before < _NO_FRACTION and 0 < value < 1 and self._adds_up(at, start, end):
            del self._out.breaks[at + 1]
        plain = self._plain_number(at) and before >= 1 and before == int(before) and 0 < value < 1
        if plain and self._beside(at, start):
            if self._parts_told(at, before * value, start):
                start = self.starts[at]
                del self.symbols[at], self.starts[at], self.ends[at], self._out.values[at]
                self._number(before * value, start, end)  # "two and (three quarter) turns"
                return
            self._out.values[at] = value = before + value
            self._out.ends[at] = end
            self.symbols[at] = self._lexicon.literals.get(value, self._lexicon.any_number)
            return
        self._out.values[len(self.symbols)] = value
        self.add(self._lexicon.literals.get(value, self._lexicon.any_number), start, end)

    def _beside(self, at: int, start: int) -> bool:
        """Whether nothing stands between a number and the part of one behind it: "from a third to 3/4" is no sum."""
        between = " ".join(self._text[self.ends[at] : start].lower().split())
        return between in ("", "-") or between in self._lexicon.language.adding_numbers

    def _parts_told(self, at: int, value: float, start: int) -> bool:
        """Whether a number tells how many of the parts behind it, both in words: "three quarter", no "1 1/4"."""
        between = self._text[self._out.ends[at] : start]
        return value < 1 and self._text[self._out.starts[at]].isalpha() and between in (" ", "-")

    def _adds_up(self, at: int, start: int, end: int) -> bool:
        """Whether a part of one is told with the number before it, and counts turns: "one and a half out"."""
        if self._out.breaks.get(at + 1) != AND:
            return False
        said, language = " ".join(self._text[self.ends[at] : start].lower().split()), self._lexicon.language
        following = _NEXT.match(self._text, end)
        return said in language.adding_numbers and following is not None and following[1] in language.adding_before

    def _plain_number(self, at: int) -> bool:
        """Whether the last symbol is a number that has no unit yet, in the same clause."""
        return (
            at in self._out.values
            and at + 1 not in self._out.breaks
            and self.symbols[at] not in self._lexicon.slots.values()
        )

    def add(self, symbol: str, start: int, end: int) -> None:
        """Add a symbol and where it came from."""
        self.symbols.append(symbol)
        self.starts.append(start)
        self.ends.append(end)

    def close(self, at: int) -> None:
        """End the sentence here."""
        sentence = self._out.sentences[-1]
        sentence.last, sentence.end = len(self.symbols), at
        if sentence.first < sentence.last:
            self.add(SENTENCE, at, at)
            self._count(len(self.symbols))
            quoted = self._depth > 0 or self._line_quoted
            self._out.sentences.append(Sentence(len(self.symbols), at, quoted=quoted))
        else:
            sentence.start = at
            sentence.asks = False
        self.fresh = True

    def _count(self, upto: int) -> None:
        sentence_of = self._out.sentence_of
        sentence_of.extend([len(self._out.sentences) - 1] * (upto - len(sentence_of)))

    def finish(self, length: int) -> SymbolText:
        """End the text."""
        self._count(len(self.symbols))
        self._out.sentences[-1].last, self._out.sentences[-1].end = len(self.symbols), length
        self._out.symbols = "".join(self.symbols)
        return self._out


def _listed(text: str, end: int, start: int) -> bool:
    """Whether a line that ends at `end` is one of a list: short, and it and the next one begin with a capital."""
    first = max(text.rfind("\n", max(end - _SHORT_LINE, 0), end) + 1, 0)
    return end - first < _SHORT_LINE and text[first : first + 1].isupper() and text[start : start + 1].isupper()


def _noted(text: str, end: int, start: int) -> bool:
    """Whether a line that ends at `end` is a note or comes before one: short lines, each with its own result.

    A line that begins with an arrow tells the result of the one before it.
    """
    first = text.rfind("\n", max(end - _NOTE_LINE, 0), end) + 1
    after = text.find("\n", start, start + _NOTE_LINE)
    last = after if after >= 0 else len(text)
    if end - first >= _NOTE_LINE or last - start >= _NOTE_LINE or ARROW.match(text, start, last):
        return False
    return NOTE.search(text, first, end) is not None


def _value(piece: str) -> float:
    if "/" in piece:
        top, _, bottom = piece.partition("/")
        return float(top) / float(bottom) if float(bottom) else float(top)
    whole, _, rest = piece.partition(",")
    if rest:
        return float(whole + rest) if len(rest) == 3 else float(f"{whole}.{rest}")
    return float(piece)


def clauses(text: SymbolText, sentence: Sentence) -> Iterator[tuple[int, int]]:
    """The clauses of a sentence as ranges of symbols."""
    first = sentence.first
    for at in filter(text.breaks.__contains__, range(sentence.first + 1, sentence.last)):
        yield first, at
        first = at
    if first < sentence.last:
        yield first, sentence.last


__all__ = ["UNKNOWN", "Reader", "Sentence", "SymbolText", "clauses"]
