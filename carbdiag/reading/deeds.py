"""What a rider did and found, put together from a verb, a part and a verdict, wherever they stand in a sentence.

A list of phrases would need every verb with every part in every order. Here a verb governs the part behind it and the
parts listed after that ("replaced the plug, lead and coil"), or the part before it ("carb cleaned twice"); a verdict
tells of the part it stands beside ("spark is good", "strong spark", "plug, coil and timing all check out"). Which verbs
and parts make which action, check or circumstance is said by the records.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Final

from carbdiag.reading.arrows import arrow_before, mark_before
from carbdiag.reading.deed_book import Entry, How, Told
from carbdiag.reading.deed_text import AFTER, BACK, BLANK, LOOK_BACK, WORD, Item
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.settings_moved import SettingsMoved

#: Parts named before a verb that "it" behind the verb may mean.
_NAMED_BEFORE: Final = 4

#: Characters before a number in which the book is named: "the book says pilot 50 main (178)".
_BOOK_BACK: Final = 64


class Deeds(SettingsMoved):
    """Everything done or found in one text."""

    def told(self, negators: Sequence[int]) -> Iterator[Told]:
        """Every deed and every verdict, part by part."""
        self.negators = negators
        everything = self.named
        lists = [*self._lists()]
        heading = self._headed_by_an_adjective(lists)
        for items in lists:
            for n, item in enumerate(items):
                after, before = items[n - 1].last if n else -1, items[n + 1].first if n + 1 < len(items) else None
                item.before = self._verdict_before(item, after)
                item.behind = self._verdict_behind(item, before)
                item.verbs = self._governing(item, after)
            self._share_verbs(items)
            self._without_results(items)
            self._share_verdicts(items)
            several = len(items) > 1 and sum(self._was_done(item) for item in items) > 1
            if not several and heading:
                sentence = self.symbols.sentence_of[items[0].first]
                several = sentence in heading and not heading.isdisjoint((sentence - 1, sentence + 1))
            in_vain, told, done = False, set[int](), False
            for item in items:
                if item.verbs:
                    in_vain = in_vain or any(not self.book.in_vain.isdisjoint(self._back(v)[:3]) for v in item.verbs)
                    deeds = [*self._deeds(item, several, in_vain)]
                    told |= {item.first} if any(deed.hit.meaning.kind != "context" for deed in deeds) else set()
                    changes = [deed.how for deed in deeds if deed.hit.meaning.kind == "change"]
                    done = {*changes} == {How.DONE} if changes else done
                    yield from deeds
                if item.verbs or item.verdicts:
                    yield from self._found(item, negators)
            bare = [item for item in items if not (item.verbs or item.verdicts)]
            if bare and self._announced(items[0]):
                yield from self._replaced(bare)
            elif len(bare) == len(items) and self._only_result(items):
                yield from self._replaced(item for item in items if self._said[item.first] not in self.book.operated)
            for n, item in enumerate(items):
                yield from self._different(item)
                yield from self._chained(item)
                if not item.verbs or item.first not in told:  # "an open pipe, main from 130 to 140"
                    yield from self._moved(item, items[n + 1].first if n + 1 < len(items) else None, done)
            everything.extend(items)
        yield from self._by_pronoun(everything)

    def _without_results(self, items: Iterable[Item]) -> None:
        """Drop the verdicts that an arrow leads to from a deed: they tell what it did, "jet cleaned -> fine"."""
        for item in items:
            starts = self.symbols.starts
            if self._was_done(item) and any(arrow_before(self.text, starts[v.first]) for v in item.behind):
                item.behind = []

    def _only_result(self, items: Sequence[Item]) -> bool:
        """Whether notes name nothing but parts and what came of them: "coil, plug, lead: no effect"."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[items[0].first]]
        at = self._behind_brackets(items[-1].last + 1)
        if sentence.asks or items[0].first != sentence.first or at >= sentence.last or at not in self.results:
            return False
        start, ends = self.symbols.starts[at], self.plain_results.get(at)
        if ends is None:
            return arrow_before(self.text, start)
        # "plug: no change in color" tells of its color
        return mark_before(self.text, start) and (ends + 1 >= sentence.last or ends + 1 in self.symbols.breaks)

    def _behind_brackets(self, at: int) -> int:
        """The first symbol from one on that stands outside brackets: "crank seals (both) -> cured"."""
        before = self.symbols.ends[at - 1]
        opened = BLANK.match(self.text, before)
        if opened is None or self.text[opened.end() : opened.end() + 1] != "(":
            return at
        closed = self.text.find(")", before, before + BACK)
        return bisect_left(self.symbols.starts, closed) if closed >= 0 else at

    def _replaced(self, items: Iterable[Item]) -> Iterator[Told]:
        """The parts of a list as replaced."""
        for item in items:
            for part in item.hits:
                for entry in self.book.did.get(part.meaning.record, ()):
                    if entry.kinds & {self.book.words.replacing, *self.book.words.adjectives[:1]}:
                        yield Told(Hit(part.first, part.last, entry.meaning, part.parts), How.NAMED, False)

    def _different(self, item: Item) -> Iterator[Told]:
        """A part told as the one that is not stock: "all stock but a header", "a header is the only mod"."""
        kinds = {self.book.words.replacing, *self.book.words.adjectives[:1]}
        entries = [
            (part, e) for part in item.hits for e in self.book.did.get(part.meaning.record, ())
            if e.meaning.kind == "context" and not e.only_before and not e.kinds.isdisjoint(kinds)
        ]  # fmt: skip
        if not entries:
            return
        sentence = self.symbols.sentences[self.symbols.sentence_of[item.first]]
        start, end = self.symbols.starts[item.first], self.symbols.ends[item.last]
        before = self.text[max(sentence.start, start - BACK) : start].lower()
        if self.book.differs.search(before) or self.book.is_only_mod.match(self.text[end : end + BACK].lower()):
            yield from (Told(Hit(p.first, p.last, e.meaning, p.parts), How.DONE, False) for p, e in entries)

    def _deeds(self, item: Item, several: bool, in_vain: bool) -> Iterator[Told]:
        for verb in item.verbs:
            how = self._how_done(verb, item)
            if how is How.PLANNED:
                self._planned.add(verb.first)
            before = self._before(verb, item)
            # one of several new parts, or "new reeds, now it is hard to start", or "new reeds already"
            bought = self._only_bought(verb)
            already = self._word_right_behind(item.last) in self.book.already and not bought
            if how is How.NAMED and (several or before or already) and verb.meaning.record in self.book.adjectives:
                how = How.DONE
            sizes = self._sizes_behind(max(verb.last, item.last)) if verb.meaning.record in self.book.moving else 0
            for part, entry in self._entries(verb, item):
                hit = _joined(verb, part, entry.meaning)
                hit = hit._replace(last=hit.last + sizes)
                on = self.brought_on(verb, item)
                own = How.PLANNED if bought and entry.meaning.kind == "context" else how
                yield Told(hit, own, before, in_vain=in_vain, only_before=entry.only_before, brought_on=on)

    def _only_bought(self, verb: Hit) -> bool:
        """Whether another size was got, and nothing says that it is in: "(bought a bigger) main already"."""
        bought, back = self.book.sizes.bought, " ".join(reversed(self._back(verb)[:LOOK_BACK]))
        other_size = verb.meaning.record in self.book.adjectives and verb.meaning.record in self.book.words.directions
        return other_size and bought is not None and bought.search(back) is not None

    def _new_one(self, end: int) -> bool:
        """Whether "a new one" stands right behind a verb."""
        blank = BLANK.match(self.text, end)
        start = blank.end() if blank else end
        return self.book.new_one is not None and self.book.new_one.match(self.text, start, end + BACK) is not None

    def _entries(self, verb: Hit, item: Item, new: bool = False) -> Iterator[tuple[Hit, Entry]]:
        """What a verb with a part means. A setting moved one way is not told again as set."""
        if verb.meaning.record in self.book.words.places_changed and self.book.swapped & self._after(verb, item):
            return
        ways = {*self._directions(verb, item)}
        end = self._end_reached(verb, item)
        if end:  # "dropped the clip to the top groove": the verb alone would say the other way
            yield from ((part, e) for part, e in self.changes(item, end))
            return
        # "screwed it out": the verb alone would say in
        turned = verb.meaning.record in self.book.turning and not ways.isdisjoint(self.book.words.of_turns)
        kinds = ways if turned else {verb.meaning.record, *ways}
        kinds |= {self.book.words.replacing} if new or self._another_kind(verb, item) else set()
        for part in item.hits:
            entries = [e for e in self.book.did.get(part.meaning.record, ()) if not e.kinds.isdisjoint(kinds)]
            moved = any(e.meaning.kind == "change" for e in entries)
            yield from ((part, e) for e in entries if not (moved and e.meaning.kind == "do"))

    def _another_kind(self, verb: Hit, item: Item) -> bool:
        """Whether a note says what a part of another make did: "aftermarket coil -> worse"."""
        sentence, at = self.symbols.sentences[self.symbols.sentence_of[item.first]], item.last + 1
        if verb.meaning.record != self.book.words.another or verb.first != sentence.first or at >= sentence.last:
            return False
        follows = any(n in self.results for n in range(at, sentence.last))
        return follows and mark_before(self.text, self.symbols.starts[at])

    def _by_pronoun(self, items: Sequence[Item]) -> Iterator[Told]:
        """Deeds to the part named last: "the pump was stretched, so we rebuilt it"."""
        firsts = [item.first for item in items]
        taken = {(v.first, v.last) for item in items for v in item.verbs}
        sentence_of = self.symbols.sentence_of
        for verb in self.verbs:
            if (verb.first, verb.last) in taken:
                continue
            new_one = self._new_one(self.symbols.ends[verb.last])
            if not new_one and not self._of_it(verb):
                continue
            n, own = bisect_left(firsts, verb.first), False
            for item in reversed(items[max(n - _NAMED_BEFORE, 0) : n]):
                apart = sentence_of[verb.first] - sentence_of[item.first]
                own = own or not apart
                if apart > (0 if own else 1):
                    break  # a part of its own sentence is meant first
                entries = [(part, e) for part, e in self._entries(verb, item, new_one) if not e.only_before]
                # "it was in the bottom groove, put it in the middle"
                said = [w for last in (item.last, verb.last) for w in self._behind_words(last, 2 * AFTER)]
                grooves = self.book.moves.of_grooves(said)
                behind = [w for w in self._behind_words(verb.last, 2 * AFTER) if w not in self.book.pronouns]
                grooves = grooves or (self.book.moves.of_end(behind) if self._moves(verb) else "")
                if grooves:
                    entries = [*self.changes(item, grooves)]
                if entries:
                    how = How.PLANNED if self.denied(verb) else self.how(verb, True)
                    before = self._before(verb, item)
                    at = ((verb.first, verb.last),)
                    self.meant[at[0]] = item
                    yield from (Told(Hit(*at[0], e.meaning, at), how, before) for _, e in entries)
                    break

    def _of_it(self, verb: Hit) -> bool:
        """Whether "it" stands right behind a verb, or inside it: "cleaned it", "sprayed it out"."""
        if verb.meaning.record in self.book.words.not_of_it:
            return False
        if self.book.moves.tells_a_way(self._word(verb)) and not self.begins_a_clause(verb.first):
            return False  # "from half throttle (up) it stutters"
        at = next((p for p in range(verb.last + 1, verb.last + 4) if p in self.part_firsts), None)
        moves = verb.meaning.record in self.book.moving
        near = moves and at is not None and not self._break(verb.last, at)
        if near and at is not None and self.book.inside & self._words_between(verb.last, at):
            return False  # "wound it down on the air screw"
        inside = verb.first < verb.last and self.book.pronouns & self._words_between(verb.first, verb.last)
        return bool(inside) or self._word_right_behind(verb.last) in self.book.pronouns

    def _found(self, item: Item, negators: Sequence[int]) -> Iterator[Told]:
        looked = [v for v in item.verbs if v.meaning.record == self.book.words.looking]
        if not looked and not item.verdicts:
            return
        for part in item.hits:
            entries = self.book.found.get(part.meaning.record, ())
            verdicts = [(v, self._kind(v, part, negators)) for v in self._real_verdicts(item)] if entries else ()
            turned = [(v, kind) for v, kind in verdicts if kind != v.meaning.record]
            for entry in entries:
                for verdict, kind in verdicts:
                    if (verdict, kind) in turned and not self._may_turn(verdict.meaning.record, entry, entries):
                        continue
                    if verdict.last < part.first and self.of_the_book(verdict, part):
                        continue
                    if kind in entry.kinds:
                        adjective = self.adjectives.get(verdict.first) if verdict.last < part.first else None
                        how = How.DONE if adjective is None else self._how_described(adjective)
                        yield Told(_joined(verdict, part, entry.meaning), how, False)
                if not item.verdicts and self.book.words.looking in entry.kinds and not self._told_next(item):
                    for verb in looked:
                        how = self._how_done(verb, item)
                        yield Told(_joined(verb, part, entry.meaning), how, False, by_look=True)

    def _may_turn(self, denied: str, entry: Entry, entries: Sequence[Entry]) -> bool:
        """Whether a denied verdict may say what its opposite says: a valve that is not tight need not be loose."""
        of_it = [e for e in entries if e.meaning.record == entry.meaning.record]
        good = {e.meaning.more for e in of_it if self.book.words.good in e.kinds}
        told = {e.meaning.more for e in of_it if denied in e.kinds}
        return entry.meaning.more in good or (bool(told) and (not good or not told.isdisjoint(good)))

    def _real_verdicts(self, item: Item) -> Iterator[Hit]:
        """The verdicts on a part, without verbs that look like one: "clean the filter"."""
        for verdict in item.verdicts:
            n = bisect_left(self.verb_firsts, verdict.first)
            same = n < len(self.verbs) and self.verb_firsts[n] == verdict.first
            if same and verdict.last < item.first and self.verbs[n].meaning.record not in self.book.adjectives:
                determined = self.book.determiners & self._words_between(verdict.last, item.first)
                if determined or self.how(self.verbs[n], True) is How.PLANNED:
                    continue
            if verdict.last < item.first and self.book.parts_when & self._words_between(verdict.last, item.first):
                continue  # "fine when the cap is open"
            if item.last < verdict.first and self._tells_when(item.last, verdict.first):
                continue  # "new float and needle three years back when the secondaries (stuck)"
            past = self._word(verdict).endswith(self.book.words.ending_past) and verdict.last + 1 == item.first
            if past and self.book.determiners & self._words_between(verdict.last, item.first):
                continue  # "advanced the timing"
            yield verdict

    def _tells_when(self, first: int, last: int) -> bool:
        """Whether something else is told of between a part and what could be its state: "when the", "after my"."""
        said = self._said_between(first, last)
        return any(a in self.book.parts_when and b in self.book.determiners for a, b in pairwise(said))

    def of_the_book(self, verdict: Hit, part: Hit) -> bool:
        """Whether "stock" with a jet only names the number of the book: "stock main is 140"."""
        told = any(self.is_told_of(part.last, part.last + n) for n in (1, 2))  # "stock main in the manual is 140"
        return self._word(verdict) in self.book.words.book_says and told

    def leads_to_the_book(self, at: int) -> bool:
        """Whether a word leads to the number of the book, and judges nothing: "checked .05, (spec) is .10-.15"."""
        if at + 1 not in self.symbols.values:
            return False
        end = self.symbols.ends[at]
        said = f" {self.text[max(end - BACK, 0) : end].lower()}"  # "the manual lists (a 42 pilot)"
        says = said.endswith(tuple(f" {words}" for words in self.book.words.book_says if " " in words))
        return says or (self.word_at(at) in self.book.words.book_says and self.is_told_of(at, at + 1))

    def book_gives(self, at: int) -> bool:
        """Whether a number goes on with what the book gives: "(book says) 125 main and (38) pilot"."""
        symbols, sizes = self.symbols, self.book.sizes
        begin = symbols.sentences[symbols.sentence_of[at]].start
        begin = max(begin, symbols.starts[at] - _BOOK_BACK)
        given = sizes.book_gives.search(self.text[begin : symbols.starts[at]].lower())
        small = sizes.names | sizes.joins | self.book.joins | self.book.determiners
        return given is not None and small.issuperset(WORD.findall(given["rest"]))

    def is_told_of(self, first: int, number: int) -> bool:
        """Whether a number is told of what stands before it by "is" or "was"."""
        if number not in self.symbols.values or self._break(first, number):
            return False
        said = self._words_between(first, number) - self.book.determiners
        if said & self.book.passive:  # "stock main in the manual is 140"
            said = said - self.book.inside - {*self.book.words.book_says}
        return bool(said) and said <= self.book.passive

    def _kind(self, verdict: Hit, part: Hit, negators: Sequence[int]) -> str:
        """The kind of a verdict, turned where it is denied: "not blocked"."""
        kind = verdict.meaning.record
        low = max(part.last + 1, verdict.first - 2) if part.last < verdict.first else verdict.first - 2
        n = bisect_left(negators, low)
        if n < len(negators) and negators[n] < verdict.first:
            return self.book.words.opposites.get(kind, "")
        return kind


def _joined(a: Hit, b: Hit, meaning: Meaning) -> Hit:
    parts = tuple(sorted(((a.first, a.last), (b.first, b.last))))
    return Hit(parts[0][0], max(last for _, last in parts), meaning, parts)
