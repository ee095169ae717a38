"""Which way a setting was moved, from the words and numbers beside it: "in half a turn", "up a notch", "168 to 175"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from itertools import islice
from typing import Final, NamedTuple

from carbdiag.reading.counted_grooves import CountedGrooves, Groove
from carbdiag.reading.lexicon import folded
from carbdiag.reading.wordlist import one_of
from carbdiag.records.deed_words import DeedWords
from carbdiag.records.scales import ReadingScale

#: Words beside a part in which the way and the amount stand.
_NEAR: Final = 6
#: Characters that so many words hardly fill, each.
_LONG: Final = 20
_TOKEN: Final = re.compile(r"[^\W\d_]+(?:['’`´][^\W\d_]+)*|[0-9]+(?:[.,/][0-9]+)*|[¼½¾⅛⅓⅔⅜⅝⅞]")
_VULGAR: Final = "¼½¾⅛⅓⅔⅜⅝⅞"
_DIGIT: Final = re.compile(r"[0-9¼½¾⅛⅓⅔⅜⅝⅞]")


class Way(NamedTuple):
    """A way told beside a part: its kind, and where the words that tell it end and begin."""

    kind: str
    start: int
    end: int


def _one_way(words: DeedWords, ways: Iterable[str]) -> re.Pattern[str] | None:
    """What says, without a name, which way a setting went: "(so I went a turn out), hang gone", "(the other way)"."""
    if not words.other_way:
        return None
    small = one_of((*words.amounts, *words.small_amounts, *words.determiners, *words.counted, *words.more))
    far = rf"(?:(?:{small}|\d+(?:[./]\d+)?|[{_VULGAR}])\s+){{0,3}}"
    joined = rf"(?:(?:{one_of((*words.joins, *words.therefore, *words.subjects, *words.way_opens))})\s+)*"
    led = rf"(?:(?P<led>{one_of(words.way_leads)})\s+)?(?:(?:{one_of((*words.pronouns, *words.way_opens))})\s+)*"
    way = rf"(?P<far>{far})(?:(?P<way>{one_of(ways)})|(?:{one_of(words.other_way)}))(?![\w'-])"
    behind = rf"(?P<behind>(?:\s+(?:{small}|\d+(?:[./]\d+)?|[{_VULGAR}])(?![\w'])){{0,3}})"
    again = rf"(?:\s+(?:{one_of(words.way_ends)}))*"
    opens = r"(?P<open>^|[.,;:!?(\n=>-]\s*|(?<=[\w)])\s+)(?<![\w'])"
    return re.compile(rf"{opens}{joined}(?P<said>{led}{way}{behind}){again}(?=\s*(?:$|[,.;:=)\n>-]|\w))", re.IGNORECASE)


class Moves:
    """The words of one language that tell which way, and how far."""

    def __init__(self, words: DeedWords, numbers: Mapping[str, float], limits: ReadingScale) -> None:
        self.words, self._least_size = words, limits.jet_number_from
        #: how a screw goes out
        self.outward = frozenset(words.directions.get(words.of_turns[-1], ()) if words.of_turns else ())
        self._kind_of = {folded(w): kind for kind, said in words.directions.items() for w in said}
        self._amounts, self._more = frozenset(words.amounts), frozenset(words.more)
        self._numbers = frozenset(n for n in numbers if not _DIGIT.match(n))
        self._whole = frozenset(n for n in self._numbers if numbers[n] >= 1)
        self._between = frozenset(words.between_amounts)
        self._it = frozenset((*words.pronouns, *words.determiners)) - {*words.both_ways, *self._kind_of}
        self._both, self._is, self._now = (frozenset(w) for w in (words.both_ways, words.passive, words.now))
        self.came_from, self._at = frozenset(words.came_from), frozenset(words.inside)
        self._was = frozenset((*words.passive, *words.had_done))
        self._goes_to = frozenset(words.goes_to)
        self._grooves = {folded(w): float(n) for w, n in words.grooves.items()}
        outer = (min(self._grooves.values(), default=0.0), max(self._grooves.values(), default=0.0))
        passed = (*words.determiners, *words.amounts, *words.ordinals)
        self.counted = CountedGrooves(self._grooves, {*map(folded, passed)} - {*self._grooves}, words.came_from)
        self.last_grooves = frozenset(w for w, n in self._grooves.items() if n == outer[1])
        self._ends = frozenset(w for w, n in self._grooves.items() if n in outer)
        #: "(two sizes bigger and two smaller)", "(in and out)"
        ways = one_of(self._kind_of)
        far = one_of((*words.amounts, *self._numbers, *words.determiners, *words.between_both))
        far = rf"(?:(?:{far}|\d+(?:[./]\d+)?)\s+){{0,3}}"
        both = rf"(?<![\w'])(?P<one>{ways})\s+{far}(?:{one_of(words.both_ways)})\s+{far}(?P<two>{ways})(?![\w'])"
        either = rf"(?<![\w'])(?:{one_of(words.either_way)})(?![\w'])"
        self.both = tuple(re.compile(told, re.IGNORECASE) for told in (both, either))
        self.kinds = frozenset(frozenset((kind,)) for kind in words.directions)
        self.one_way, self.leads_to_effect = _one_way(words, self._kind_of), frozenset(words.leads_to_effect)
        turns = one_of(w for kind in words.of_turns for w in words.directions.get(kind, ()))
        #: at the head of a clause, it is a screw: "(in to) 3/4 and it's clean"
        self.turned_to = re.compile(rf"(?:\A|[.,;:!?\n]\s*)(?:{turns})\s+(?:{one_of(words.to)})\s+\Z")
        self._outer = {outer[0]: words.earlier, outer[1]: words.later}

    def tells_a_way(self, word: str) -> bool:
        """Whether a word tells which way: "up", "leaner"."""
        return word in self._kind_of

    def tells_how_far(self, word: str) -> bool:
        """Whether a word beside a setting moved tells nothing but the way or the amount: "out", "1/4"."""
        return word in self._kind_of or self._is_amount(word)

    def direction(self, said: Sequence[str]) -> str:
        """The kind of the first word that tells a way, or nothing: also where it was moved both ways."""
        for n, word in enumerate(said):
            kind = self._kind_of.get(word)
            if kind:
                # "out and in", but not "out and it is better", nor "out and" before what is no way
                both = n + 2 < len(said) and said[n + 1] in self._both and said[n + 2] not in self._it
                return "" if both else kind
        return ""

    def of_numbers(self, first: float, second: float, between: str, behind: str = "") -> str:
        """The kind told by two numbers, the old one first unless the words between turn them round.

        Grooves may be counted from either end: "from the 3rd from the bottom to the 2nd".
        """
        said, rest = ([folded(w) for w in _TOKEN.findall(text)] for text in (between, behind))
        (one, told), (other, _) = self.counted.end_behind(said), self.counted.end_behind(rest)
        said = said[told:]
        if self.comes_from(said):
            first, second = second, first
            one, other = other, one
        if one or other:
            ends = (one or other, other or one)
            return self._lower_by(*(self.counted.counted(n, end) for n, end in zip((first, second), ends, strict=True)))
        if first == second:
            return ""
        kinds = self.words
        sizes = min(first, second) >= self._least_size
        if second > first:
            return kinds.larger if sizes else kinds.later
        return kinds.smaller if sizes else kinds.earlier

    def comes_from(self, between: Sequence[str]) -> bool:
        """Whether the words between two numbers say that the second is the old one: "in place of", "was a".

        The last of them decides: "was replaced with a" leads to the new one. A mere "was" stands right before the
        second number: "the 75 was in it, now a 70".
        """
        words = [*map(folded, between)]
        told = [n for n, word in enumerate(words) if word in self.came_from or word in self._goes_to]
        if not told or words[told[-1]] not in self.came_from:
            return False
        return words[told[-1]] not in self._was or {*words[told[-1] + 1 :]} <= {*self.words.determiners}

    def of_grooves(self, said: Sequence[str]) -> str:
        """The kind told by two named grooves: "from the top to the middle groove"."""
        named = [*self.counted.named(said)]
        return self._lower_by(*named) if len(named) == 2 else ""

    def _lower_by(self, one: Groove, other: Groove) -> str:
        down = one.down_to(other)
        return "" if not down else self.words.later if down > 0 else self.words.earlier

    def says_now(self, said: Sequence[str]) -> bool:
        """Whether words say that it is so now: "in the top groove now"."""
        return not self._now.isdisjoint(said)

    def of_end(self, said: Sequence[str]) -> str:
        """The kind told by one of the two last grooves, from wherever it came: "in the top groove"."""
        at = next((n for n, word in enumerate(said) if word in self._grooves), len(said))
        led = [word for word in said[:at] if word not in self.words.determiners]
        led_in = len(led) == 1 and (led[0] in self._at or led[0] in self.words.to) and led[0] not in self.came_from
        counted = at + 1 < len(said) and said[at + 1] in self._amounts
        return self._outer[self._grooves[said[at]]] if led_in and counted and said[at] in self._ends else ""

    def behind(self, text: str, start: int, end: int) -> Way | None:
        """The way and the amount told right behind a part: "needle up one notch", "screw out a bit"."""
        nearest = _TOKEN.search(text, start, end)
        said = {folded(m[0]) for m in islice(_TOKEN.finditer(text, start, end), 2 * _NEAR)}
        if nearest is not None and folded(nearest[0]) in self._is and said & self._now:
            start = nearest.end()  # "the needle is up a notch now"
            nearest = _TOKEN.search(text, start, end)
        if nearest is None or not self._may_stand(folded(nearest[0])):
            return None
        found = islice(_TOKEN.finditer(text, start, end), _NEAR)
        return self._way([(folded(m[0]), m.start(), m.end()) for m in found])

    def before(self, text: str, start: int, end: int) -> Way | None:
        """The way and the amount told right before a part: "two sizes up on the main"."""
        start = max(start, end - _NEAR * _LONG)
        found = [(folded(m[0]), m.start(), m.end()) for m in [*_TOKEN.finditer(text, start, end)][-_NEAR - 1 :]]
        while found and found[-1][0] in self.words.determiners:
            found.pop()
        if not found or found[-1][0] not in self._at or found[-1][0] in self._kind_of:
            return None
        found.pop()
        first = next((n + 1 for n in range(len(found) - 1, -1, -1) if not self._may_stand(found[n][0])), 0)
        return self._way(found[first:])

    def _may_stand(self, word: str) -> bool:
        return self._is_amount(word) or word in self._between or word in self._kind_of or word in self._more

    def _is_amount(self, word: str) -> bool:
        return word in self._amounts or word in self._numbers or bool(_DIGIT.match(word))

    def _way(self, found: list[tuple[str, int, int]]) -> Way | None:
        last = next((n for n, (word, _, _) in enumerate(found) if not self._may_stand(word)), len(found))
        said = [word for word, _, _ in found[:last]]
        if last < len(found) and found[last][0] in self._grooves:
            led = [word for word in said if word not in self.words.determiners]
            kind = self.direction(said) if led and led[-1] in self.words.to else ""
            if kind:
                return Way(kind, found[0][1], found[last][2])  # "up to the top groove"
            if found[last][0] in self._ends:
                return None  # "one notch down from the top" tells where it stands
        if any(word in self._grooves or word in self.words.ordinals for word in said):
            return None  # "second notch down" tells where it stands
        amounts = [n for n, word in enumerate(said) if self._is_amount(word)]
        ways = [n for n, word in enumerate(said) if word in self._kind_of]
        if not amounts or not ways:
            return None
        # "2 turns out" tells where a screw stands, "half a turn out" and "out 2 turns" how far it went
        stands = amounts[0] < ways[0] and not self._more & {*said} and not self._small(said[: ways[0]])
        if stands and self._kind_of[said[ways[0]]] in self.words.of_turns:
            return None
        kind = self.direction(said)
        ends = max(amounts[-1], ways[-1])
        return Way(kind, found[0][1], found[ends][2]) if kind else None

    def stands(self, way: str, far: Sequence[str]) -> bool:
        """Whether an amount before a way tells where a screw stands: "2 turns out", and no "half a turn out"."""
        turns = self._kind_of.get(way.lower()) in self.words.of_turns
        return turns and not self._small([*map(folded, far)]) and not self._more & {*map(folded, far)}

    def _small(self, said: Sequence[str]) -> bool:
        """Whether an amount is less than a whole turn: "half a turn", and no "2 1/2 turns"."""
        small = any(word in self.words.small_amounts or "/" in word or word[0] in _VULGAR for word in said)
        return small and not any(word.isdecimal() or word in self._whole for word in said)
