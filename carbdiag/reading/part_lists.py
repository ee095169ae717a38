"""Which verbs and verdicts belong to which part, alone and in lists: "replaced the plug, lead and coil"."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from typing import Final

from carbdiag.reading.arrows import arrow_before, mark_before
from carbdiag.reading.deed_manner import DeedManner
from carbdiag.reading.deed_text import BACK, CUT, LISTED, PAIR, WORD, Item
from carbdiag.reading.matcher import Hit
from carbdiag.reading.symbols import AND, BUT, COMMA

#: Words that count between a verb and its part, between two parts of a list, between a part and its verdict.
_REACH: Final = 3
_VERDICT: Final = 4
#: Verbs in a row that govern one part.
_MOST_VERBS: Final = 4
#: Parts of one list that share a verb behind them.
_MOST_LISTED: Final = 12


class PartLists(DeedManner):
    """The parts of a text with what is said of each."""

    def _lists(self) -> Iterator[list[Item]]:
        items: list[Item] = []
        for hit in self.parts:
            if items and items[-1].first == hit.first:
                items[-1].hits.append(hit)
                continue
            if items and not (len(items) < _MOST_LISTED and self._listed(items[-1], hit)):
                yield items
                items = []
            items.append(Item([hit]))
        if items:
            yield items

    def _listed(self, item: Item, part: Hit) -> bool:
        """Whether a part goes on with the list another part stands in."""
        if self.symbols.sentence_of[item.first] != self.symbols.sentence_of[part.first]:
            return False
        # what verbs and verdicts stand between do not count: "new plug, spark is good, cleaned the carb"
        known = sum(
            h.last - h.first + 1
            for firsts, hits in ((self.verb_firsts, self.verbs), (self.verdict_firsts, self.verdicts))
            for h in hits[bisect_right(firsts, item.last) : bisect_left(firsts, part.first)]
            if h.last < part.first
        )
        between = part.first - item.last - 1 - known
        return between <= LISTED and self._break(item.last, part.first) < BUT

    def _headed_by_an_adjective(self, lists: Iterable[list[Item]]) -> set[int]:
        """The sentences that begin with what is new: "New carb. New plug off the net."."""
        headed = set()
        for part in (items[0].first for items in lists):
            n = self.symbols.sentence_of[part]
            first = self.symbols.sentences[n].first
            if first in self.adjectives and first < part <= first + LISTED:
                headed.add(n)
        return headed

    def _announced(self, item: Item) -> bool:
        """Whether a list is headed as what was replaced: "done so far: plug, coil"."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[item.first]]
        head = self.text[max(sentence.start, self.symbols.starts[item.first] - BACK) : self.symbols.starts[item.first]]
        ends = head.rstrip().endswith((":", " -", " \u2013"))
        return ends and self.book.list_heads is not None and self.book.list_heads.search(head) is not None

    def _announces(self, verb: Hit, part: int) -> bool:
        """Whether a colon leads from a verb to a list: "replaced everything: coil, plug"."""
        between = self.text[self.symbols.ends[verb.last] : self.symbols.starts[part]]
        return ":" in between and "," not in between

    def _share_verbs(self, items: list[Item]) -> None:
        """Give each part of a list the verb before it, or the one behind it."""
        carried: list[Hit] = []
        for n, item in enumerate(items):
            if item.verbs:
                carried = item.verbs
                continue
            behind = self._behind(item, items[n + 1].first if n + 1 < len(items) else None)
            if behind:
                item.verbs = behind
                for other in reversed(items[:n]):
                    if other.verbs or not self.begins_a_clause(other.first):
                        break
                    other.verbs = behind
                carried = []
            elif carried and not item.verdicts and self._goes_on(items, n):
                item.verbs = carried
            else:
                carried = []

    def _goes_on(self, items: list[Item], n: int) -> bool:
        """Whether a part only goes on with a list: nothing is said of it that is not said of the one before."""
        item = items[n]
        sentence = self.symbols.sentences[self.symbols.sentence_of[item.first]]
        following = items[n + 1].first if n + 1 < len(items) else sentence.last
        k = bisect_right(self.breaks, item.last)
        ends = min(self.breaks[k] if k < len(self.breaks) else sentence.last, sentence.last, following)
        before = items[n - 1]
        if any(map(self.book.moves.tells_a_way, self._words_between(before.last, item.first))):
            return False  # "up one on the pilot, down one on the clip"
        # "up 2 on the main and 1 on the pilot"
        on = 1 if self.word_at(item.first - 1) in self.book.inside else 0
        apart = item.first - before.last - 1 - (on + 1 if item.first - 1 - on in self.symbols.values else 0)
        joined = self._break(before.last, item.first) or not self._words_between(before.last, item.first)
        # "dropped the needle one and the main one"
        counted = item.last + 1 in self.symbols.values and ends - item.last - 1 == 1
        alone = ends - item.last - 1 <= 0 or counted or self._effect_at(item.last + 1)
        alone = alone or self._word_right_behind(item.last) in self.book.tails
        return bool(joined) and apart <= 1 and alone and not self._has_a_predicate(item)

    def _governing(self, item: Item, after: int) -> list[Hit]:
        """The verbs right before a part, the nearest first: "cleaned and rebuilt the carb"."""
        found: list[Hit] = []
        reach = item.first
        sentence = self.symbols.sentence_of[item.first]
        n = bisect_left(self.verb_firsts, item.first)
        while n:
            n -= 1
            verb = self.verbs[n]
            if verb.first <= after or self.symbols.sentence_of[verb.first] != sentence:
                break
            if verb.last >= reach:
                if len(verb.parts) > 1 and verb.parts[0][1] < item.first and item.last < verb.parts[-1][0]:
                    found.append(verb)  # "gave the carb a clean", "took it apart", and no mere "put"
                continue
            numbers = self._numbers_between(verb, reach)
            between = reach - verb.last - 1 - (numbers or self._glued(verb.last, reach))
            ends = 0 if not found and self._announces(verb, reach) else self._break(verb.last, reach)
            near = between <= _REACH and ends == 0 if not found else between <= 1 and ends <= COMMA
            if not found and verb.first in self.adjectives and self._tells_a_way(n, reach):
                continue  # "went bigger on the main": the way it went
            if not found and self._moves_nothing(verb, reach):
                break  # "loads (up) when idling"
            # "cleaned the carb, replaced the plug": the carb is the first verb's own
            owned = bool(found) and not self.part_firsts.isdisjoint(range(verb.last + 1, reach))
            owned = owned or bool(found and self.book.persons & self._words_between(verb.last, reach))
            # "fuel fresh, cleaned the carb": no fresh carburetor
            adjective = bool(found) and verb.meaning.record in self.book.adjectives
            owned = owned or (adjective and bool(self.book.determiners & self._words_between(verb.last, item.first)))
            # "blubbers up top, so I fitted": an "up" before it is no other verb of the part
            near = near and not (found and self._form(verb) == "bare" != self._form(found[0]))
            if not near or owned or len(found) == _MOST_VERBS or (not found and self._at_the_part(verb, reach)):
                break
            if not any(v.first == verb.first for v in found):
                found.append(verb)
            reach = verb.first
        return found

    def _moves_nothing(self, verb: Hit, part: int) -> bool:
        """Whether a word that only tells a way stands apart from a part by "at", "when" or the like."""
        if not self.book.moves.tells_a_way(self._word(verb)):
            return False
        return bool(self.book.no_move & self._words_between(verb.last, part))

    def _tells_a_way(self, number: int, part: int) -> bool:
        """Whether an adjective right behind a verb that moves a setting says which way: "went bigger on the main"."""
        verb, before = self.verbs[number], self.verbs[number - 1] if number else None
        moved = before is not None and before.meaning.record in self.book.moving and before.last + 1 == verb.first
        return moved and bool(self.book.inside & self._words_between(verb.last, part))

    def _numbers_between(self, verb: Hit, part: int) -> int:
        """How many numbers a verb that moves a setting has before its part: "went from 168 to 175 on the main"."""
        if verb.meaning.record not in self.book.moving:
            return 0
        return sum(at in self.symbols.values for at in range(verb.last + 1, part))

    def _glued(self, first: int, last: int) -> int:
        """How many symbols between two only go on with a name: "new X8Y9 plugs"."""
        starts, ends = self.symbols.starts, self.symbols.ends
        return sum(starts[at] == ends[at - 1] for at in range(first + 2, last))

    def _has_a_subject(self, last: int, verb: int) -> bool:
        """Whether behind a colon something else than the part does it: "needle one: hiccup (moved) down"."""
        _, colon, said = self.text[self.symbols.ends[last] : self.symbols.starts[verb]].lower().rpartition(":")
        known = self.book.copulas | self.book.skipped | self.book.determiners | self.book.persons
        return bool(colon) and not known.issuperset(WORD.findall(said))

    def _at_the_part(self, verb: Hit, part: int) -> bool:
        """Whether something was done at a part, not to it: "put a towel on the pipe"."""
        if verb.meaning.record in self.book.may_stand_at:
            return False
        between = self._words_between(verb.last, part)
        if self.book.whole & between or self._numbers_between(verb, part) == PAIR:
            return False  # "cleaned everything in the carb", "put a 175 in place of the 168 main"
        if verb.meaning.record in self.book.adjectives:
            # "new jets and adjustments to the carbs": "the" begins another thing
            return bool((self.book.inside | self.book.determiners) & between)
        # "a jet was put in the carb": in the passive, the part behind is only the place
        passive = bool(self.book.passive & {*self._back(verb)[:2]})
        return bool(self.book.inside & between) and (passive or part - verb.last > 1)

    def _behind(self, item: Item, before: int | None) -> list[Hit]:
        """The verbs right behind a part: "carb cleaned", "carb off and cleaned"."""
        found: list[Hit] = []
        reach = item.last
        n = bisect_right(self.verb_firsts, item.last)
        while n < len(self.verbs):
            verb = self.verbs[n]
            n += 1
            if self.symbols.sentence_of[verb.first] != self.symbols.sentence_of[item.first]:
                break
            if before is not None and verb.last >= before:
                break
            between = verb.first - reach - 1
            ends = self._break(reach, verb.first)
            said = self._words_between(reach, verb.first)
            apart = ends > (0 if not found else AND) and not (said and said <= self.book.off)
            if apart or between > (_REACH if not found else 1):
                break
            if self._has_a_subject(reach, verb.first):
                break
            new = verb.meaning.record in self.book.adjectives
            if not said and self._has_an_object(verb):
                break  # "the smaller main cleaned it up" did not get clean
            # "plug and filter are new", but no "spark good, new coil"
            ends_there = new and ends == 0 and not said and not found and self._ends_with(verb)
            joined = ends_there or (said and said <= self.book.copulas)
            if (new and not joined) or self._takes_a_part(verb, before):
                break
            if self._form(verb) == "bare" and not found and (between or not self._noun(verb, item)):
                break
            found.append(verb)
            reach = verb.last
        return found

    def _ends_with(self, verb: Hit) -> bool:
        """Whether "new" right behind its part ends the clause, or leads to what it did: "gasket new -> dry"."""
        if verb.meaning.record != self.book.words.adjectives[0]:
            return False
        at = verb.last + 1
        starts, ends = self.symbols.starts, self.symbols.sentences[self.symbols.sentence_of[verb.first]].last
        if at >= len(starts) or not (self._result_follows(verb) or arrow_before(self.text, starts[at])):
            return False  # "spark yes, filter new" tells how it is
        return at in self.symbols.breaks or at == ends or at in self.effects or mark_before(self.text, starts[at])

    def _has_an_object(self, verb: Hit) -> bool:
        """Whether "it" stands right behind a verb, so that the part before it did something."""
        return self._word_right_behind(verb.first) in self.book.pronouns and self._form(verb) == "past"

    def _noun(self, verb: Hit, item: Item) -> bool:
        """Whether a bare form behind its part names the deed: "after a carb rebuild"."""
        word = self.text[self.symbols.starts[verb.first] : self.symbols.ends[verb.last]].lower()
        if self._words_between(item.last, verb.first):
            return word in self.book.nouns
        named = word in self.book.nouns_with_article
        with_article = named and self.book.articles & {*self._back(item.hits[0])[:1]}
        told = (named or word in self.book.same_in_past) and self._is_label(item, verb)
        return word in self.book.nouns or bool(with_article) or told

    def _is_label(self, item: Item, verb: Hit) -> bool:
        """Whether a note begins with a part and its verb, and tells what came of it: "carb clean -> no change"."""
        if arrow_before(self.text, self.symbols.starts[verb.first]) or self._back(item.hits[0])[1:]:
            return False
        if not self._result_follows(verb):
            return False
        past = self._word(verb) in self.book.same_in_past  # "timing reset to marks -> same"
        return past or mark_before(self.text, self.symbols.starts[verb.last + 1])

    def _result_follows(self, verb: Hit) -> bool:
        """Whether the sentence goes on to an effect behind a verb."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[verb.first]]
        return any(at in self.results for at in range(verb.last + 1, sentence.last + 2))  # "new hose: fitted. Same"

    def _takes_a_part(self, verb: Hit, before: int | None) -> bool:
        """Whether a verb has a part of its own right behind it."""
        if before is None or self._break(verb.last, before):
            return False
        if verb.meaning.record == self.book.words.replacing and self._words_between(verb.last, before) & self.book.by:
            return False  # "reeds replaced with carbon ones"
        on = self.book.inside & self._words_between(verb.last, before)  # "went up two on the pilot"
        return before - verb.last - (self._numbers_between(verb, before) if on else 0) <= 2

    def _share_verdicts(self, items: list[Item]) -> None:
        """Give the parts of a list the verdict behind its last, or before its first."""
        carried: list[Hit] = []
        for n, item in enumerate(items):
            if item.behind:
                for other in reversed(items[:n]):
                    if other.verdicts or self._was_done(other) or not self.begins_a_clause(other.first):
                        break
                    other.behind = item.behind
            elif not item.before and not self._was_done(item):
                item.before = carried
            follows = items[n + 1].first if n + 1 < len(items) else item.last
            carried = item.before if not item.behind and self._break(item.last, follows) < COMMA else []

    def _was_done(self, item: Item) -> bool:
        return any(v.meaning.record != self.book.words.looking for v in item.verbs)

    def _verdict_before(self, item: Item, after: int) -> list[Hit]:
        n = bisect_left(self.verdict_firsts, item.first)
        sentence = self.symbols.sentence_of
        found = [v for v in self.verdicts[max(n - 4, 0) : n] if v.first > after and 0 < item.first - v.last <= 2]
        if not found:
            return found
        found = [v for v in found if sentence[v.first] == sentence[item.first]]
        found = [v for v in found if not self._break(v.last, item.first)]
        found = [v for v in found if not self.book.inside & self._words_between(v.last, item.first)]
        return [v for v in found if self._word(v) not in self.book.only_behind]

    def _verdict_behind(self, item: Item, before: int | None) -> list[Hit]:
        n = bisect_right(self.verdict_firsts, item.last)
        for verdict in self.verdicts[n : n + 2]:
            if self.symbols.sentence_of[verdict.first] != self.symbols.sentence_of[item.first]:
                break
            if (before is not None and verdict.last >= before) or verdict.first - item.last - 1 > _VERDICT:
                break
            beside = before is not None and before - verdict.last == 1 and not self._break(verdict.last, before)
            if before is not None and beside and self._words_between(verdict.last, before) <= self.book.determiners:
                break  # "spark good compression": it belongs to the next
            if self._break(item.last, verdict.first) and not self._told_of(item.last, verdict.first):
                break
            if self.book.not_across & self._words_between(item.last, verdict.first):
                break  # "checked the float for cracks", "spark, no idea whether weak"
            return [v for v in self.verdicts[n : n + 4] if v.first == verdict.first]
        return []

    def _told_of(self, first: int, last: int) -> bool:
        """Whether a verdict in the next clause still tells of a part: "spark: strong", "the jet, it was clear"."""
        between = self.text[self.symbols.ends[first] : self.symbols.starts[last]].lower()
        words = {*WORD.findall(between)}
        colon = last == first + 1 and not words and "," not in between
        named = words & (self.book.pronouns | self.book.tells_next)
        return colon or (bool(named) and words <= self.book.copulas)

    def _told_next(self, item: Item) -> bool:
        """Whether what was seen of a part is told next, in words not understood: "checked the spark, its greenish"."""
        end = self.symbols.ends[item.last]
        words = [w for w in WORD.findall(self.text[end : end + 24].lower()) if w not in self.book.joins]
        return bool(words) and words[0] in self.book.tells_next

    def _has_a_predicate(self, item: Item) -> bool:
        """Whether a part starts a statement of its own: "and the carb is leaking"."""
        rest = self.text[self.symbols.ends[item.last] : self.symbols.ends[item.last] + 24]
        word = WORD.search(rest)
        return word is not None and not CUT.search(rest[: word.start()]) and word[0].lower() in self.book.states
