"""Which way a setting was moved: by words beside it, by an amount, by two numbers."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from itertools import pairwise

from carbdiag.reading.arrows import BETWEEN
from carbdiag.reading.deed_book import Entry, How, Told
from carbdiag.reading.deed_text import AFTER, BACK, CUT, LISTED, PAIR, WORD, Item
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
            said = WORD.findall(inner)
            if verb.meaning.record not in self.book.words.directions:  # "went up two on the main and down one on"
                said += self._behind_words(last)
            kind = moves.of_end(said) or moves.direction(said) or moves.of_grooves(said)
            if kind:
                yield kind
        sentence = self.symbols.sentences[self.symbols.sentence_of[first]]
        numbers = [
            at
            for at in range(max(first - 2, sentence.first), min(last + AFTER + 2, sentence.last))
            if at in self.symbols.values and not self._break(min(first, at), max(first, at))
            # "screw from 1.5 to 2.5, worse, turned it in": those were the turn before
            and not self._break(min(verb.first, at), max(verb.first, at))
        ]
        if len(numbers) > 1 and any(at in self.effects for at in range(*numbers[:PAIR])):
            del numbers[1:]  # "one groove -> worse at 3/4"
        if len(numbers) == PAIR:
            yield from self._way_of_pair(*numbers)
        elif not numbers:
            yield from self._way_behind(last)

    def _end_reached(self, verb: Hit, item: Item) -> str:
        """The way told by the last groove that it was put in, whatever the verb says: "dropped (to the top groove)"."""
        if not self._moves(verb) or verb.meaning.record not in self.book.words.directions:
            return ""
        kind = self.book.moves.of_end(self._behind_words(max(verb.last, item.last)))
        return kind if any(self.changes(item, kind)) else ""

    def _way_of_pair(self, one: int, other: int) -> Iterator[str]:
        symbols = self.symbols
        between = self.text[symbols.ends[one] : symbols.starts[other]]
        sizes, limits = (symbols.values[one], symbols.values[other]), self.book.limits
        if max(sizes) >= limits.jet_number_from and max(sizes) > limits.one_jet * min(sizes):
            return  # two jets: "new 132 main 40 pilot"
        if self._fitted_for(one, other):
            sizes = sizes[::-1]
        behind = CUT.split(self.text[symbols.ends[other] : symbols.ends[other] + BACK])[0]
        kind = self.book.moves.of_numbers(*sizes, between, behind)
        if kind:
            yield kind

    def _fitted_for(self, one: int, other: int) -> bool:
        """Whether the second size is the old one by its verb: "put a 35 in for the 38", and no "swapped a 38 for"."""
        said = [word for word in self._said_between(one, other) if word not in self.book.determiners]
        if not said or said[-1] not in self.book.fitted_for:
            return False
        n = bisect_right(self.verb_firsts, one) - 1
        verb = self.verbs[n] if n >= 0 else None
        if verb is None or verb.meaning.record not in self.book.words.fitting:
            return False
        return one - verb.last <= AFTER and not self._break(verb.last, other)

    def _way_behind(self, last: int) -> Iterator[str]:
        """The way told in the next clause by the number now in it and the one it came from: "160 in place of 165"."""
        values, one = self.symbols.values, last + 1
        if one in values and self._break(last, one) <= COMMA:
            clause = range(one + 1, min(one + 1 + LISTED, self.symbols.sentences[self.symbols.sentence_of[one]].last))
            other = next((at for at in clause if at in values and not self._break(one, at)), None)
            if other is not None and self.book.moves.comes_from(self._said_between(one, other)):
                yield from self._way_of_pair(one, other)

    def moved_at(self, at: int) -> Hit | None:
        """The verb that moves a setting, ending at a symbol."""
        n = bisect_right(self.verb_firsts, at)
        return next((v for v in self.verbs[max(n - 2, 0) : n] if v.last == at and self._moves(v)), None)

    def _moves(self, verb: Hit) -> bool:
        return verb.meaning.record in self.book.moving

    def moves_between(self, one: int, other: int) -> str:
        """The way from one number to the next where nothing but "to" or "from" stands between; otherwise nothing."""
        if one not in self.symbols.values or other not in self.symbols.values or self._break(one, other):
            return ""
        between = self._words_between(one, other)
        led = self.book.to | self.book.moves.came_from
        joined = (bool(between & led) or not between) and self._joined(one, other)
        return next(self._way_of_pair(one, other), "") if joined else ""

    def from_behind(self, verb: int, number: int) -> bool:
        """Whether the number behind a verb is the old one: "went from a 175", "put in over the 70", "175 to 180"."""
        led = [word for word in self._said_between(verb, number) if word not in self.book.determiners]
        return (bool(led) and led[-1] in self.book.moves.came_from) or bool(self.moves_between(number, number + 1))

    def counts_itself(self, at: int) -> bool:
        """Whether a number stands with what it counts of a setting: "2.5 turns"."""
        if at not in self.symbols.values:
            return False
        _, _, unit = self.text[self.symbols.starts[at] : self.symbols.ends[at]].lower().rpartition(" ")
        return unit in self.book.amounts

    def ends_an_amount(self, at: int) -> bool:
        """Whether a number counts nothing else: "moved it to 2", "to 2 turns", and no "2 shops"."""
        following = self.text[self.symbols.ends[at] : self.symbols.ends[at] + BACK].lower()
        word = WORD.search(following)
        ends = at + 1 in self.symbols.breaks or at + 1 >= len(self.symbols.sentence_of)
        if ends or self.symbols.sentence_of[at + 1] != self.symbols.sentence_of[at]:
            return True
        out = word is not None and self.book.moves.tells_a_way(word[0])  # "went to 2.5 out"
        counted = word is None or word[0] in self.book.amounts or self.counts_itself(at)
        return counted or out or at + 1 in self.effects or (word is not None and word[0] in self.book.had)

    def _moved(self, item: Item, following: int | None, goes_on: bool) -> Iterator[Told]:
        """A setting told as moved without a verb: "needle up a notch", "two sizes down on the main".

        With its two sizes it was done where it goes on with a list of deeds: "main from 125 to 130 and 40 to 42 pilot".
        """
        if self.book.settings.isdisjoint(part.meaning.record for part in item.hits):
            return
        symbols, sentence = self.symbols, self.symbols.sentences[self.symbols.sentence_of[item.first]]
        before, n = bisect_right(self.breaks, item.first), bisect_right(self.breaks, item.last)
        clause = max(self.breaks[before - 1] if before else 0, sentence.first)
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
            # "main up, pilot down": each beside the other
            beside = following == item.last + 2 and following + 1 < sentence.last
            listed = beside and bool(moves.direction([self.word_at(item.last + 3)]))
            said = WORD.findall(self.text[end:until].lower())[: 2 * AFTER]
            if not kind and moves.says_now(said):
                kind = moves.of_end(said)  # "clip in the top groove now"
                high = item.last + bool(kind)
            if not kind and (told or listed or item.last + 2 in self.effects):  # "needle up did nothing"
                behind = self._behind_words(item.last)  # "out or in did nothing" is both ways
                kind, high = moves.direction(behind) if any(map(moves.tells_a_way, behind[:1])) else "", item.last + 1
        if not kind:
            return
        whole = Hit(min(low, item.first), max(high, item.last), item.hits[0].meaning, ())
        back = [w for w in self._back(whole) if w not in self.book.skipped]
        back = back[1:] if back and back[0] in self.book.moves.came_from else back  # "from a 135 to a 145 main"
        # "put in a 120 main (was 112)" tells what is in it
        was = way is None and not self.book.sizes.was.isdisjoint(self._said_between(low, high))
        noted = way is not None or high > low
        done = was or (goes_on and way is None) or (noted and self._notes_what_was_done(whole))
        how = How.PLANNED if self._is_a_plan(back) else How.DONE if done else How.NAMED
        for _, entry in self.changes(item, kind):
            yield Told(Hit(whole.first, whole.last, entry.meaning, ((whole.first, whole.last),)), how, False)

    def _jetted(self, moved: Hit) -> bool:
        """Whether nothing but that it was jetted leads to a pair of sizes: "rejetted from 132 to 138 main"."""
        words = self.book.words
        led = [w for w in self._back(moved) if w not in words.came_from and w not in words.determiners]
        joined = self.book.to & {*self._said_between(moved.first, moved.last)}
        return bool(joined and led) and led[0] in words.jetted and not {*led[1:]} & self.book.plans

    def _notes_what_was_done(self, moved: Hit) -> bool:
        """Whether how far a setting went is a clause of its own, and no advice: "up one on the pilot, so far ok"."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[moved.first]]
        jetted = self._jetted(moved)
        begins = jetted or self.begins_a_clause(moved.first) or moved.first - 1 in self.part_lasts
        if sentence.asks or sentence.quoted or not begins:
            return False
        planned, before = self.book.still_planned, self.text[sentence.start : self.symbols.starts[moved.first]]
        if planned is not None and planned.search(before.lower()):
            return False  # "going to go from 125 to 130 main and 40 to 42 pilot"
        behind = self._behind_words(moved.last)
        # "a 42 to 45 pilot is typical", "main jet two down did nothing for the middle"
        no_step = self.book.states | self.book.tells_effect
        return (jetted or self.book.plans.isdisjoint(behind[:2])) and no_step.isdisjoint(behind[:1])

    def changes(self, item: Item, kind: str) -> Iterator[tuple[Hit, Entry]]:
        """The ways a setting goes when it is moved so."""
        for part in item.hits:
            entries = self.book.did.get(part.meaning.record, ())
            yield from ((part, e) for e in entries if kind in e.kinds and e.meaning.kind == "change")

    def _pair_beside(self, item: Item, clause: int, ends: int) -> tuple[str, tuple[int, int]]:
        """The way told by two sizes right beside a part: "pilot 42 to 45", "110 to 115 main", "175 main to 180"."""
        values = self.symbols.values
        on = 1 if self.word_at(item.first - 1) in self.book.inside else 0  # "170 to 165 on the main"
        pairs = [(item.last + 1, item.last + 2), (item.first - 2 - on, item.first - 1 - on)]
        if item.last + 3 in self.part_firsts and item.last + 3 not in self.symbols.breaks:
            pairs.reverse()  # "42 to 45 pilot 112 to 120 main"
        for one, other in pairs:
            if clause <= one and other < ends and one in values and other in values:
                kinds = [*self._way_of_pair(one, other)]
                if kinds and self._joined(one, other):
                    return kinds[0], (one, other)
        around = item.first - 1, item.last + 1
        if clause <= around[0] and around[1] < ends and {*around} <= values.keys():
            led = {*self._said_between(item.last, around[1])} - self.book.determiners
            if led and led <= self.book.to:
                return next(self._way_of_pair(*around), ""), around
        for one in (item.last + 1, item.first - 1):
            size = self._size_beside(item, one) if clause <= one and one in values else None
            if size is not None:
                return next(self._way_of_pair(one, size), ""), (one, size)
        return "", (item.first, item.last)

    def _joined(self, one: int, other: int) -> bool:
        """Whether nothing but "to", "from" or an arrow stands between two sizes."""
        words = self._words_between(one, other)
        if words:
            return words <= self.book.pair_joins and bool(words & self.book.pair_leads)  # no "4th of 5"
        return BETWEEN.fullmatch(self.text[self.symbols.ends[one] : self.symbols.starts[other]]) is not None

    def _size_beside(self, item: Item, one: int) -> int | None:
        """The other size of a part that has one: "a 142 main now from a 150", "..., was a 135", "..., now a 135"."""
        values, sentence = self.symbols.values, self.symbols.sentences[self.symbols.sentence_of[item.first]]
        low = max(one, item.last)
        other = next((at for at in range(low + 1, min(low + 2 + LISTED, sentence.last)) if at in values), None)
        if other is None or (other + 1 in self.part_firsts and not self._break(other, other + 1)):
            return None
        said, apart = self._said_between(low, other), self._break(low, other)
        # "155 main (was 142.5)"
        in_brackets = self.text[self.symbols.ends[low] : self.symbols.starts[other]].lstrip().startswith("(")
        if not {*said} - self.book.pronouns <= self.book.pair_joins or (apart > COMMA and not in_brackets):
            return None
        led = [word for word in said if word not in self.book.determiners]
        now = bool(led) and apart == COMMA and led[-1] in self.book.fitted_now
        return other if self.book.moves.comes_from(said) or now else None

    def _chained(self, item: Item) -> Iterator[Told]:
        """A setting moved several times in one breath: "main went 85 to 92 to 88"."""
        if self.book.settings.isdisjoint(part.meaning.record for part in item.hits):
            return
        n = bisect_left(self.verb_firsts, item.last + 1)
        verb = self.verbs[n] if n < len(self.verbs) and self.verbs[n].first == item.last + 1 else None
        if verb is not None and not self._moves(verb):
            return
        at = (verb or item).last + 1
        sizes = [at]
        while sizes[-1] + 1 in self.symbols.values and self._next_size(sizes[-1], verb is not None):
            sizes.append(sizes[-1] + 1)
        apart = self._break(item.last, at)
        if len(sizes) <= PAIR or at not in self.symbols.values or apart > (COMMA if verb else 0):
            yield from self._chained_before(item)
            return
        how = self._how_done(verb, item) if verb else How.NAMED
        first = item.first
        for one, other in pairwise(sizes):
            for kind in self._way_of_pair(one, other):
                for _, entry in self.changes(item, kind):
                    yield Told(Hit(first, other, entry.meaning, ((one, one), (other, other))), how, False)
            first = other + 1

    def _chained_before(self, item: Item) -> Iterator[Told]:
        """A setting moved several times, named behind its sizes: "I went from 35 to 38 to 40 pilot"."""
        values, at = self.symbols.values, item.first - 1
        sizes = [at] if at in values and not self._break(at, item.first) else []
        while sizes and sizes[0] - 1 in values and self._joined(sizes[0] - 1, sizes[0]):
            sizes.insert(0, sizes[0] - 1)
        if len(sizes) <= PAIR or self._break(sizes[0], item.first):
            return
        verb = self.moved_at(sizes[0] - 1)
        how = self._how_done(verb, item) if verb else How.NAMED
        first = verb.first if verb else sizes[0]
        for one, other in pairwise(sizes):
            for kind in self._way_of_pair(one, other):
                for _, entry in self.changes(item, kind):
                    yield Told(Hit(first, other, entry.meaning, ((one, one), (other, other))), how, False)
            first = other + 1 if other < sizes[-1] else first

    def _next_size(self, one: int, moved: bool) -> bool:
        """Whether the next number is the next size it was moved to; behind a verb commas will do: "went 165, 170"."""
        listed = moved and not self.text[self.symbols.ends[one] : self.symbols.starts[one + 1]].strip(" ,")
        return listed or self._joined(one, one + 1)

    def _sizes_behind(self, last: int) -> int:
        """How many symbols behind a setting moved are the sizes it went from and to: "the main from 180 to 172"."""
        values, sentence_of = self.symbols.values, self.symbols.sentence_of
        n = 0
        while n < PAIR and last + n + 1 in values and sentence_of[last] == sentence_of[last + n + 1]:
            if self._break(last, last + n + 1):
                break
            n += 1
        return n
