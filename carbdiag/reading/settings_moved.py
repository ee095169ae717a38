"""Which way a setting was moved: by words beside it, by an amount, by two numbers."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator

from carbdiag.reading.deed_book import Entry, How, Told
from carbdiag.reading.deed_text import AFTER, BACK, LISTED, PAIR, WORD, Item
from carbdiag.reading.matcher import Hit
from carbdiag.reading.part_lists import PartLists
from carbdiag.reading.symbols import COMMA


class SettingsMoved(PartLists):
    """The settings of a text that were moved."""

    def _directions(self, verb: Hit, item: Item) -> Iterator[str]:
        """The way a setting was moved, from the words and numbers around it: "turned the screw in", "168 to 175"."""
        first, last = min(verb.first, item.first), max(verb.last, item.last)
        moves = self.book.moves
        if verb.meaning.record in self.book.moving:
            one, other = min(verb.last, item.last), max(verb.first, item.first)
            beside = self.symbols.sentence_of[one] == self.symbols.sentence_of[other] and not self._break(one, other)
            inner = self.text[self.symbols.ends[one] : self.symbols.starts[other]].lower() if beside else ""
            said = [*WORD.findall(inner), *self._behind_words(last)]
            kind = moves.direction(said) or moves.of_grooves(said)
            if kind:
                yield kind
        sentence = self.symbols.sentences[self.symbols.sentence_of[first]]
        numbers = [
            at
            for at in range(max(first - 2, sentence.first), min(last + AFTER + 2, sentence.last))
            if at in self.symbols.values and not self._break(min(first, at), max(first, at))
        ]
        if len(numbers) == PAIR:
            yield from self._way_of_pair(*numbers)
        elif not numbers:
            yield from self._way_behind(last)

    def _way_of_pair(self, one: int, other: int) -> Iterator[str]:
        symbols = self.symbols
        between = self.text[symbols.ends[one] : symbols.starts[other]]
        kind = self.book.moves.of_numbers(symbols.values[one], symbols.values[other], between)
        if kind:
            yield kind

    def _way_behind(self, last: int) -> Iterator[str]:
        """The way told in the next clause by the number now in it and the one it came from: "160 in place of 165"."""
        values, one = self.symbols.values, last + 1
        if one in values and self._break(last, one) <= COMMA:
            clause = range(one + 1, min(one + 1 + LISTED, self.symbols.sentences[self.symbols.sentence_of[one]].last))
            other = next((at for at in clause if at in values and not self._break(one, at)), None)
            if other is not None and self.book.moves.comes_from(self._words_between(one, other)):
                yield from self._way_of_pair(one, other)

    def moved_at(self, at: int) -> Hit | None:
        """The verb that moves a setting, ending at a symbol."""
        n = bisect_right(self.verb_firsts, at)
        return next((v for v in self.verbs[max(n - 2, 0) : n] if v.last == at and self._moves(v)), None)

    def _moves(self, verb: Hit) -> bool:
        return verb.meaning.record in self.book.moving

    def moves_between(self, one: int, other: int) -> str:
        """The way from one number to the next where nothing but "to" or "from" stands between; otherwise nothing."""
        between = self._words_between(one, other)
        led = self.book.to | self.book.moves.came_from
        if one not in self.symbols.values or other not in self.symbols.values or self._break(one, other):
            return ""
        joined = bool(between & led) and between <= self.book.pair_joins
        return next(self._way_of_pair(one, other), "") if joined else ""

    def ends_an_amount(self, at: int) -> bool:
        """Whether a number counts nothing else: "moved it to 2", "to 2 turns", and no "2 shops"."""
        following = self.text[self.symbols.ends[at] : self.symbols.ends[at] + BACK].lower()
        word = WORD.search(following)
        ends = at + 1 in self.symbols.breaks or at + 1 >= len(self.symbols.sentence_of)
        if ends or self.symbols.sentence_of[at + 1] != self.symbols.sentence_of[at]:
            return True
        return word is None or word[0] in self.book.amounts or at + 1 in self.effects or word[0] in self.book.had

    def _moved(self, item: Item, following: int | None) -> Iterator[Told]:
        """A setting told as moved without a verb: "needle up a notch", "two sizes down on the main"."""
        if self.book.settings.isdisjoint(part.meaning.record for part in item.hits):
            return
        symbols, sentence = self.symbols, self.symbols.sentences[self.symbols.sentence_of[item.first]]
        n = bisect_right(self.breaks, item.last)
        clause = max(self.breaks[bisect_right(self.breaks, item.first) - 1] if n else 0, sentence.first)
        ends = min(self.breaks[n] if n < len(self.breaks) else sentence.last, sentence.last, following or sentence.last)
        moves = self.book.moves
        start, end = symbols.starts[item.first], symbols.ends[item.last]
        until = symbols.starts[ends] if ends < len(symbols.starts) else sentence.end
        way = moves.behind(self.text, end, until) or moves.before(self.text, symbols.starts[clause], start)
        if way is not None:
            kind, low = way.kind, bisect_left(symbols.starts, way.start)
            high = bisect_left(symbols.starts, way.end) - 1
        else:
            kind, (low, high) = self._pair_beside(item, clause, ends)
            told = item.last + 1 < ends and self.book.tells_effect & {*self._behind_words(item.last + 1)[:1]}
            if not kind and (told or item.last + 2 in self.effects):  # "needle up did nothing"
                kind, high = moves.direction([self._word_at(item.last + 1)]), item.last + 1
        if not kind:
            return
        whole = Hit(min(low, item.first), max(high, item.last), item.hits[0].meaning, ())
        back = [w for w in self._back(whole) if w not in self.book.skipped]
        how = How.PLANNED if self._is_a_plan(back) else How.NAMED
        for _, entry in self.changes(item, kind):
            yield Told(Hit(whole.first, whole.last, entry.meaning, ((whole.first, whole.last),)), how, False)

    def changes(self, item: Item, kind: str) -> Iterator[tuple[Hit, Entry]]:
        """The ways a setting goes when it is moved so."""
        for part in item.hits:
            entries = self.book.did.get(part.meaning.record, ())
            yield from ((part, e) for e in entries if kind in e.kinds and e.meaning.kind == "change")

    def _pair_beside(self, item: Item, clause: int, ends: int) -> tuple[str, tuple[int, int]]:
        """The way told by two sizes right beside a part: "pilot 42 to 45", "110 to 115 main"."""
        values = self.symbols.values
        on = 1 if self._word_at(item.first - 1) in self.book.inside else 0  # "170 to 165 on the main"
        for one, other in ((item.last + 1, item.last + 2), (item.first - 2 - on, item.first - 1 - on)):
            if clause <= one and other < ends and one in values and other in values:
                between = WORD.findall(self.text[self.symbols.ends[one] : self.symbols.starts[other]].lower())
                kinds = [*self._way_of_pair(one, other)]
                if kinds and between and {*between} <= self.book.pair_joins:
                    return kinds[0], (one, other)
        one, behind = item.first - 1, range(item.last + 1, min(item.last + 2 + LISTED, ends))
        other = next((at for at in behind if at in values), item.last)
        said = self._words_between(item.last, other)
        joined = said <= self.book.pair_joins and self.book.moves.comes_from(said)
        if clause <= one and one in values and other in values and joined:  # "a 142 main now from a 150"
            return next(self._way_of_pair(one, other), ""), (one, other)
        return "", (item.first, item.last)

    def _sizes_behind(self, last: int) -> int:
        """How many symbols behind a setting moved are the sizes it went from and to: "the main from 180 to 172"."""
        values, sentence_of = self.symbols.values, self.symbols.sentence_of
        n = 0
        while n < PAIR and last + n + 1 in values and sentence_of[last] == sentence_of[last + n + 1]:
            if self._break(last, last + n + 1):
                break
            n += 1
        return n
