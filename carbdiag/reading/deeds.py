"""What a rider did and found, put together from a verb, a part and a verdict, wherever they stand in a sentence.

A list of phrases would need every verb with every part in every order. Here a verb governs the part behind it and the
parts listed after that ("replaced the plug, lead and coil"), or the part before it ("carb cleaned twice"); a verdict
tells of the part it stands beside ("spark is good", "strong spark", "plug, coil and timing all check out"). Which verbs
and parts make which action, check or circumstance is said by the records.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from enum import Enum
from typing import Final, NamedTuple

from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.moves import Moves
from carbdiag.reading.symbols import AND, BUT, COMMA, SymbolText
from carbdiag.reading.wordlist import any_of
from carbdiag.reading_schema import DeedWords

#: Words that count between a verb and its part, between two parts of a list, between a part and its verdict.
_REACH: Final = 3
_LISTED: Final = 2
_VERDICT: Final = 4
#: Words that count between the verbs of two items of a list.
_IN_A_LIST: Final = 5
#: Parts named before a verb that "it" behind the verb may mean.
_NAMED_BEFORE: Final = 4
#: Words after a verb and its part that may say which way.
_AFTER: Final = 4
#: Characters and words looked back over for "going to", "should have", "since I".
_BACK: Final = 70
_LOOK_BACK: Final = 8
#: Verbs in a row that govern one part.
_MOST_VERBS: Final = 4
#: Numbers that tell a change of size.
_PAIR: Final = 2
#: Parts of one list that share a verb behind them.
_MOST_LISTED: Final = 12
_WORD: Final = re.compile(r"[^\W\d_]+(?:['’`´][^\W\d_]+)*")
_CUT: Final = re.compile(r"[,;:.!?()\n]")


class How(Enum):
    """Whether something told was done."""

    DONE = "done"
    """Plainly done."""
    NAMED = "named"
    """Said in a form that may be advice as well ("clean the carb"): it counts only where its effect is said."""
    PLANNED = "planned"
    """A plan, a wish or advice."""


class Entry(NamedTuple):
    """What a verb, or a verdict, together with a part means."""

    kinds: frozenset[str]
    meaning: Meaning
    only_before: bool = False
    """A circumstance that holds only when it came before the trouble."""


class Told(NamedTuple):
    """A deed or a finding of a check, as a hit, and how it was told."""

    hit: Hit
    how: How
    before: bool
    """Whether the post says that it came before the trouble ("since I ...", "and now it ...")."""
    by_look: bool = False
    """Told as checked, without a verdict."""
    in_vain: bool = False
    """Told as done in vain ("even with a new plug")."""
    only_before: bool = False
    """A circumstance, and one only when it came before the trouble."""


class DeedBook:
    """The words of deeds of one language, and what each part's verbs and verdicts mean."""

    def __init__(
        self,
        words: DeedWords,
        numbers: Mapping[str, float],
        did: dict[str, list[Entry]],
        found: dict[str, list[Entry]],
    ) -> None:
        self.did, self.found, self.words = did, found, words
        self.bare, self.nouns = frozenset(words.bare), frozenset(words.nouns)
        self.same_in_past, self.subjects = frozenset(words.same_in_past), frozenset(words.subjects)
        self.nouns_with_article, self.articles = frozenset(words.nouns_with_article), frozenset(words.articles)
        self.not_done, self.put_back = any_of(words.not_done), any_of(words.put_back)
        self.not_mine = frozenset(words.not_mine)
        self.amounts = frozenset(words.amounts)
        self.ends_with = frozenset(words.ends_with)
        self.new_one, self.list_heads = any_of(words.new_one), any_of(words.list_heads)
        self.adjectives = frozenset(words.adjectives)
        self.to, self.done_before_to = frozenset(words.to), frozenset(words.done_before_to)
        self.plans, self.helpers = frozenset(words.plans), frozenset(words.helpers)
        self.plans_ing, self.had = frozenset(words.plans_before_ing), frozenset(words.had_done)
        self.moves, self.moving = Moves(words, numbers), frozenset(words.moving)
        self.only_behind, self.inside = frozenset(words.only_behind), frozenset(words.inside)
        self.not_across = frozenset(words.not_across)
        self.asking = frozenset(words.asking)
        self.plans_bare = frozenset(words.plans_before_bare)
        self.in_vain, self.pronouns = frozenset(words.in_vain), frozenset(words.pronouns)
        self.similes, self.determiners = frozenset(words.similes), frozenset(words.determiners)
        self.may_stand_at = frozenset(words.may_stand_at)
        self.owners_of, self.people = frozenset(words.owners_of), frozenset(words.people)
        self.tells_effect = frozenset(words.tells_effect)
        self.swapped, self.turning = frozenset(words.swapped), frozenset(words.turning)
        self.pair_joins = frozenset((*words.to, *words.came_from, *words.pair_joins))
        self.copulas, self.tells_next = frozenset(words.copulas), frozenset(words.tells_next)
        self.passive = frozenset(words.passive)
        self.led_by = frozenset(words.led_by)
        self.off, self.whole, self.tails = frozenset(words.off), frozenset(words.whole), frozenset(words.tails)
        self.joins = frozenset(words.joins)
        self.not_verbs = frozenset(words.not_verbs)
        self.skipped = frozenset(words.skipped)
        self.before, self.now = frozenset(words.before), frozenset(words.now)
        self.owners, self.states = frozenset(words.others), frozenset(words.states)


class _Item:
    """A part as it stands in a list of parts, and what is said of it."""

    def __init__(self, hits: list[Hit]) -> None:
        self.hits = hits
        self.first, self.last = hits[0].first, hits[0].last
        self.verbs: list[Hit] = []
        self.before: list[Hit] = []
        self.behind: list[Hit] = []
        """The verdicts before and behind it."""

    @property
    def verdicts(self) -> list[Hit]:
        return [*self.before, *self.behind]


class Deeds:
    """Everything done or found in one text."""

    def __init__(self, book: DeedBook, text: str, symbols: SymbolText, hits: dict[str, list[Hit]]) -> None:
        self.book, self.text, self.symbols = book, text, symbols
        self.breaks = sorted(symbols.breaks)
        # "no change" is an effect, and nothing was changed in it
        self.effects = effects = {at for h in hits.get("effect", ()) for at in range(h.first, h.last + 1)}
        self.verbs, self.parts, self.verdicts = (
            sorted(
                (h for h in hits.get(kind, ()) if h.first not in effects),
                key=lambda h: (h.first, h.last, h.meaning),
            )
            for kind in ("verb", "part", "verdict")
        )
        self.part_firsts = frozenset(p.first for p in self.parts)
        self.verbs = [v for v in self.verbs if not self._is_no_deed(v)]
        self.verb_firsts = [v.first for v in self.verbs]
        # "oiled" and "gapped" are no part
        deeds = {v.first for v in self.verbs if self._form(v) != "bare"}
        self.parts = [p for p in self.parts if p.first < p.last or p.first not in deeds]
        begin = {p.first for p in self.parts}
        self.parts = [p for p in self.parts if not self._names(p, begin)]
        parts = (None, *self.parts)
        self.parts = [p for p, before in zip(self.parts, parts, strict=False) if not self._is_an_amount(p, before)]
        # the last word of "gave the filter a quick clean" is no verdict on it
        spread = {at for v in self.verbs if len(v.parts) > 1 for at in range(v.parts[-1][0], v.parts[-1][1] + 1)}
        self.verdicts = [v for v in self.verdicts if v.first not in spread and self._word(v) not in book.not_verbs]
        self.verdict_firsts = [v.first for v in self.verdicts]
        self.adjectives = {v.first: v for v in self.verbs if v.meaning.record in book.adjectives}
        self._planned: set[int] = set()
        """Where verbs stand that the words before their part make a plan."""
        self._undone: dict[int, bool] = {}
        self._backs: dict[int, list[str]] = {}
        self._hows: dict[tuple[int, int], How] = {}
        self.named: list[_Item] = []
        """The parts in the order of the text, once it is told what was done to them."""

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
            self._share_verdicts(items)
            sentence = self.symbols.sentence_of[items[0].first]
            several = sum(self._was_done(item) for item in items) > 1
            several = several or (sentence in heading and not heading.isdisjoint((sentence - 1, sentence + 1)))
            in_vain = False
            for item in items:
                in_vain = in_vain or any(self.book.in_vain & {*self._back(v)[:3]} for v in item.verbs)
                yield from self._deeds(item, several, in_vain)
                yield from self._found(item, negators)
            if self._announced(items[0]):
                yield from self._replaced(i for i in items if not (i.verbs or i.verdicts))
            for n, item in enumerate(items):
                if not item.verbs:
                    yield from self._moved(item, items[n + 1].first if n + 1 < len(items) else None)
            everything.extend(items)
        yield from self._by_pronoun(everything)

    def _headed_by_an_adjective(self, lists: Iterable[list[_Item]]) -> set[int]:
        """The sentences that begin with what is new: "New carb. New plug off the net."."""
        headed = set()
        for part in (items[0].first for items in lists):
            n = self.symbols.sentence_of[part]
            first = self.symbols.sentences[n].first
            if first in self.adjectives and first < part <= first + _LISTED:
                headed.add(n)
        return headed

    def _announced(self, item: _Item) -> bool:
        """Whether a list is headed as what was replaced: "done so far: plug, coil"."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[item.first]]
        head = self.text[max(sentence.start, self.symbols.starts[item.first] - _BACK) : self.symbols.starts[item.first]]
        ends = head.rstrip().endswith((":", " -", " \u2013"))
        return ends and self.book.list_heads is not None and self.book.list_heads.search(head) is not None

    def _replaced(self, items: Iterable[_Item]) -> Iterator[Told]:
        """The parts of a list as replaced."""
        for item in items:
            for part in item.hits:
                for entry in self.book.did.get(part.meaning.record, ()):
                    if entry.kinds & {self.book.words.replacing, *self.book.words.adjectives[:1]}:
                        yield Told(Hit(part.first, part.last, entry.meaning, part.parts), How.NAMED, False)

    def does_in(self, first: int, last: int) -> bool:
        """Whether a verb told as done, or "new", stands from one symbol up to another, whatever it was done to."""
        n = bisect_left(self.verb_firsts, first)
        for verb in self.verbs[n : bisect_left(self.verb_firsts, last)]:
            word = self._word(verb)
            past = word.endswith(self.book.words.ending_past) or word in self.book.same_in_past
            looks = verb.meaning.record == self.book.words.looking
            done = past and not looks and self.how(verb, True) is not How.PLANNED
            if done or verb.meaning.record == self.book.words.adjectives[0]:
                return True
        return False

    def how_of(self, hit: Hit) -> How:
        """How the words of a phrase are told: as the verb in them or right before them; otherwise as done."""
        looks, acts = hit.meaning.kind == "check", hit.meaning.kind in ("do", "change")
        inside = bisect_left(self.verb_firsts, hit.first)
        before = bisect_left(self.verb_firsts, hit.first - _LISTED)
        for verb in (*self.verbs[inside : inside + 4], *self.verbs[before:inside]):
            if verb.first > (hit.last if acts else hit.first + 1):
                continue
            if looks and verb.meaning.record not in (self.book.words.looking, *self.book.adjectives):
                continue
            same = self.symbols.sentence_of[verb.first] == self.symbols.sentence_of[hit.first]
            if same and (verb.first >= hit.first or not self._break(verb.first, hit.first)):
                described = verb.meaning.record in self.book.adjectives
                return self._how_described(verb) if described else self.how(verb, False)
        return How.DONE

    def _is_an_amount(self, part: Hit, before: Hit | None) -> bool:
        """Whether a part only says how far the one before it was moved: "dropped the needle a clip"."""
        if before is None or part.first != part.last or not 0 < part.first - before.last <= _LISTED:
            return False
        if self._word(part) not in self.book.amounts or self._break(before.last, part.first):
            return False
        counted = part.first - 1 in self.symbols.values
        return counted or bool(self.book.articles & self._words_between(before.last, part.first))

    def _names(self, part: Hit, begin: Container[int]) -> bool:
        """Whether a part only names the one right behind it: "the slide vent", "the carb float"."""
        after = part.last + 1
        if after not in begin or after in self.symbols.breaks:
            return False
        end = self.symbols.ends[part.last]
        several = self.text.endswith(self.book.words.present_ending, 0, end)
        return not several and self.text[end : self.symbols.starts[after]] == " "

    def _is_no_deed(self, verb: Hit) -> bool:
        word = self._word(verb)
        after = _WORD.search(self.text, self.symbols.ends[verb.last])
        if verb.meaning.record == self.book.words.looking and after and after[0].lower() in self.book.similes:
            return True  # "it looked like it got air"
        words = self.book.words
        if verb.meaning.record in words.comparative:
            return not word.endswith(words.comparing)
        ends = word.endswith(words.present_ending) and not word.endswith("ss")
        part = verb.last + 1
        governs = part in self.part_firsts and self.book.determiners & self._words_between(verb.last, part)
        no_verb = word in self.book.not_verbs and verb.first == verb.last and not governs  # "leaning out the low"
        return no_verb or (ends and verb.meaning.record not in self.book.adjectives)

    def _word(self, hit: Hit) -> str:
        """The first word of a hit, as written."""
        return self._word_at(hit.first)

    def _word_at(self, at: int) -> str:
        return self.text[self.symbols.starts[at] : self.symbols.ends[at]].lower() if at >= 0 else ""

    # -- who belongs to whom

    def _lists(self) -> Iterator[list[_Item]]:
        items: list[_Item] = []
        for hit in self.parts:
            if items and items[-1].first == hit.first:
                items[-1].hits.append(hit)
                continue
            if items and not (len(items) < _MOST_LISTED and self._listed(items[-1], hit)):
                yield items
                items = []
            items.append(_Item([hit]))
        if items:
            yield items

    def _listed(self, item: _Item, part: Hit) -> bool:
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
        return between <= _LISTED and self._break(item.last, part.first) < BUT

    def _break(self, first: int, last: int) -> int:
        """The strongest end of a clause after `first`, at or before `last`; 0 for none."""
        low, high = bisect_right(self.breaks, first), bisect_right(self.breaks, last)
        return max(map(self.symbols.breaks.__getitem__, self.breaks[low:high])) if low < high else 0

    def _share_verbs(self, items: list[_Item]) -> None:
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
                    if other.verbs or not self._begins_a_clause(other):
                        break
                    other.verbs = behind
                carried = []
            elif carried and not item.verdicts and self._goes_on(items, n):
                item.verbs = carried
            else:
                carried = []

    def _announces(self, verb: Hit, part: int) -> bool:
        """Whether a colon leads from a verb to a list: "replaced everything: coil, plug"."""
        between = self.text[self.symbols.ends[verb.last] : self.symbols.starts[part]]
        return ":" in between and "," not in between

    def _begins_a_clause(self, item: _Item) -> bool:
        return self.begins_a_clause(item.first)

    def _goes_on(self, items: list[_Item], n: int) -> bool:
        """Whether a part only goes on with a list: nothing is said of it that is not said of the one before."""
        item = items[n]
        sentence = self.symbols.sentences[self.symbols.sentence_of[item.first]]
        following = items[n + 1].first if n + 1 < len(items) else sentence.last
        k = bisect_right(self.breaks, item.last)
        ends = min(self.breaks[k] if k < len(self.breaks) else sentence.last, sentence.last, following)
        before = items[n - 1]
        # "up 2 on the main and 1 on the pilot"
        on = 1 if self._word_at(item.first - 1) in self.book.inside else 0
        apart = item.first - before.last - 1 - (on + 1 if item.first - 1 - on in self.symbols.values else 0)
        joined = self._break(before.last, item.first) or not self._words_between(before.last, item.first)
        tail = _WORD.match(self.text[self.symbols.ends[item.last] :].lstrip(" "))
        # "dropped the needle one and the main one"
        counted = item.last + 1 in self.symbols.values and ends - item.last - 1 == 1
        alone = ends - item.last - 1 <= 0 or counted or self._effect_at(item.last + 1)
        alone = alone or (tail is not None and tail[0].lower() in self.book.tails)
        return bool(joined) and apart <= 1 and alone and not self._has_a_predicate(item)

    def _effect_at(self, at: int) -> bool:
        return at in self.effects

    def _words_between(self, first: int, last: int) -> set[str]:
        return {*_WORD.findall(self.text[self.symbols.ends[first] : self.symbols.starts[last]].lower())}

    def _governing(self, item: _Item, after: int) -> list[Hit]:
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
            # "cleaned the carb, replaced the plug": the carb is the first verb's own
            owned = bool(found) and not self.part_firsts.isdisjoint(range(verb.last + 1, reach))
            # "blubbers up top, so I fitted": an "up" before it is no other verb of the part
            near = near and not (found and self._form(verb) == "bare" != self._form(found[0]))
            if not near or owned or len(found) == _MOST_VERBS or (not found and self._at_the_part(verb, reach)):
                break
            if not any(v.first == verb.first for v in found):
                found.append(verb)
            reach = verb.first
        return found

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
        """How many symbols between two only go on with a name: "new CR8EH9 plugs"."""
        starts, ends = self.symbols.starts, self.symbols.ends
        return sum(starts[at] == ends[at - 1] for at in range(first + 2, last))

    def _at_the_part(self, verb: Hit, part: int) -> bool:
        """Whether something was done at a part, not to it: "put a towel on the pipe"."""
        if verb.meaning.record in self.book.may_stand_at:
            return False
        between = self._words_between(verb.last, part)
        if self.book.whole & between or self._numbers_between(verb, part) == _PAIR:
            return False  # "cleaned everything in the carb", "put a 175 in place of the 168 main"
        if verb.meaning.record in self.book.adjectives:
            # "new jets and adjustments to the carbs": "the" begins another thing
            return bool((self.book.inside | self.book.determiners) & between)
        # "a jet was put in the carb": in the passive, the part behind is only the place
        passive = bool(self.book.passive & {*self._back(verb)[:2]})
        return bool(self.book.inside & between) and (passive or part - verb.last > 1)

    def _behind(self, item: _Item, before: int | None) -> list[Hit]:
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
            new = verb.meaning.record in self.book.adjectives
            if not said and self._has_an_object(verb):
                break  # "the smaller main cleaned it up" did not get clean
            # "plug and filter are new", but no "spark good, new coil"
            if (new and not (said and said <= self.book.copulas)) or self._takes_a_part(verb, before):
                break
            if self._form(verb) == "bare" and not found and (between or not self._noun(verb, item)):
                break
            found.append(verb)
            reach = verb.last
        return found

    def _has_an_object(self, verb: Hit) -> bool:
        """Whether "it" stands right behind a verb, so that the part before it did something."""
        after = _WORD.match(self.text[self.symbols.ends[verb.first] :].lstrip(" ").lower())
        return after is not None and after[0] in self.book.pronouns and self._form(verb) == "past"

    def _noun(self, verb: Hit, item: _Item) -> bool:
        """Whether a bare form behind its part names the deed: "after a carb rebuild"."""
        word = self.text[self.symbols.starts[verb.first] : self.symbols.ends[verb.last]].lower()
        named = word in self.book.nouns_with_article and self.book.articles & {*self._back(item.hits[0])[:1]}
        return word in self.book.nouns or (bool(named) and not self._words_between(item.last, verb.first))

    def _takes_a_part(self, verb: Hit, before: int | None) -> bool:
        """Whether a verb has a part of its own right behind it."""
        return before is not None and before - verb.last <= 2 and not self._break(verb.last, before)

    def _share_verdicts(self, items: list[_Item]) -> None:
        """Give the parts of a list the verdict behind its last, or before its first."""
        carried: list[Hit] = []
        for n, item in enumerate(items):
            if item.behind:
                for other in reversed(items[:n]):
                    if other.verdicts or self._was_done(other) or not self._begins_a_clause(other):
                        break
                    other.behind = item.behind
            elif not item.before and not self._was_done(item):
                item.before = carried
            follows = items[n + 1].first if n + 1 < len(items) else item.last
            carried = item.before if not item.behind and self._break(item.last, follows) < COMMA else []

    def _was_done(self, item: _Item) -> bool:
        return any(v.meaning.record != self.book.words.looking for v in item.verbs)

    def _verdict_before(self, item: _Item, after: int) -> list[Hit]:
        n = bisect_left(self.verdict_firsts, item.first)
        sentence = self.symbols.sentence_of
        found = [v for v in self.verdicts[max(n - 4, 0) : n] if v.first > after and v.last < item.first]
        found = [v for v in found if sentence[v.first] == sentence[item.first]]
        found = [v for v in found if item.first - v.last <= 2 and not self._break(v.last, item.first)]
        found = [v for v in found if not self.book.inside & self._words_between(v.last, item.first)]
        return [v for v in found if self._word(v) not in self.book.only_behind]

    def _verdict_behind(self, item: _Item, before: int | None) -> list[Hit]:
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
        words = {*_WORD.findall(between)}
        colon = last == first + 1 and not words and "," not in between
        named = words & (self.book.pronouns | self.book.tells_next)
        return colon or (bool(named) and words <= self.book.copulas)

    def _told_next(self, item: _Item) -> bool:
        """Whether what was seen of a part is told next, in words not understood: "checked the spark, its greenish"."""
        end = self.symbols.ends[item.last]
        words = [w for w in _WORD.findall(self.text[end : end + 24].lower()) if w not in self.book.joins]
        return bool(words) and words[0] in self.book.tells_next

    def _has_a_predicate(self, item: _Item) -> bool:
        """Whether a part starts a statement of its own: "and the carb is leaking"."""
        rest = self.text[self.symbols.ends[item.last] : self.symbols.ends[item.last] + 24]
        word = _WORD.search(rest)
        return word is not None and not _CUT.search(rest[: word.start()]) and word[0].lower() in self.book.states

    # -- what it says

    def _deeds(self, item: _Item, several: bool, in_vain: bool) -> Iterator[Told]:
        for verb in item.verbs:
            how = self._how_done(verb, item)
            if how is How.PLANNED:
                self._planned.add(verb.first)
            if how is How.NAMED and several and verb.meaning.record in self.book.adjectives:
                how = How.DONE
            before = self._before(verb, item)
            sizes = self._sizes_behind(max(verb.last, item.last)) if verb.meaning.record in self.book.moving else 0
            for part, entry in self._entries(verb, item):
                hit = _joined(verb, part, entry.meaning)
                hit = hit._replace(last=hit.last + sizes)
                yield Told(hit, how, before, in_vain=in_vain, only_before=entry.only_before)

    def _sizes_behind(self, last: int) -> int:
        """How many symbols behind a setting moved are the sizes it went from and to: "the main from 180 to 172"."""
        values, sentence_of = self.symbols.values, self.symbols.sentence_of
        n = 0
        while n < _PAIR and last + n + 1 in values and sentence_of[last] == sentence_of[last + n + 1]:
            if self._break(last, last + n + 1):
                break
            n += 1
        return n

    def _new_one(self, end: int) -> bool:
        """Whether "a new one" stands right behind a verb."""
        found = self.book.new_one.search(self.text, end, end + _BACK) if self.book.new_one is not None else None
        return found is not None and not self.text[end : found.start()].strip()

    def _entries(self, verb: Hit, item: _Item, new: bool = False) -> Iterator[tuple[Hit, Entry]]:
        """What a verb with a part means. A setting moved one way is not told again as set."""
        if verb.meaning.record in self.book.words.places_changed and self.book.swapped & self._after(verb, item):
            return
        ways = {*self._directions(verb, item)}
        # "screwed it out": the verb alone would say in
        turned = verb.meaning.record in self.book.turning and not ways.isdisjoint(self.book.words.of_turns)
        kinds = ways if turned else {verb.meaning.record, *ways}
        kinds |= {self.book.words.replacing} if new else set()
        for part in item.hits:
            entries = [e for e in self.book.did.get(part.meaning.record, ()) if e.kinds & kinds]
            moved = any(e.meaning.kind == "change" for e in entries)
            yield from ((part, e) for e in entries if not (moved and e.meaning.kind == "do"))

    def _how_done(self, verb: Hit, item: _Item) -> How:
        """How a deed is told, from what stands before its verb, and before its part where the verb follows."""
        if self._somebody_elses(verb, item) or self.denied(verb) or self._not_done(verb):
            return How.PLANNED
        if verb.first > item.last:
            back = [w for w in self._back(item.hits[0]) if w not in self.book.skipped]
            if back and back[0] in self.book.plans:
                return How.PLANNED
        return self.how(verb, verb.last < item.first)

    def _not_done(self, verb: Hit) -> bool:
        """Whether the sentence says that its deeds are still to be done: "bought a coil but haven't fitted it"."""
        n = self.symbols.sentence_of[verb.first]
        if n not in self._undone:
            sentence = self.symbols.sentences[n]
            said = self.text[sentence.start : sentence.end].replace("’", "'")
            self._undone[n] = self.book.not_done is not None and self.book.not_done.search(said) is not None
        return self._undone[n]

    def denied(self, verb: Hit) -> bool:
        n = bisect_left(self.negators, verb.first - 2)
        at = self.negators[n] if n < len(self.negators) else verb.first
        same = at < verb.first and self.symbols.sentence_of[at] == self.symbols.sentence_of[verb.first]
        return same and at not in self.effects and not self._break(at, verb.first)

    def _by_pronoun(self, items: Sequence[_Item]) -> Iterator[Told]:
        """Deeds to the part named last: "the pump was stretched, so we rebuilt it"."""
        firsts = [item.first for item in items]
        taken = {(v.first, v.last) for item in items for v in item.verbs}
        sentence_of = self.symbols.sentence_of
        for verb in self.verbs:
            end = self.symbols.ends[verb.last]
            after = None if (verb.first, verb.last) in taken else _WORD.search(self.text, end, end + _BACK)
            if after is None:
                continue
            new_one = self._new_one(end)
            if not new_one and after[0].lower() not in self.book.pronouns:
                continue
            n, own = bisect_left(firsts, verb.first), False
            for item in reversed(items[max(n - _NAMED_BEFORE, 0) : n]):
                apart = sentence_of[verb.first] - sentence_of[item.first]
                own = own or not apart
                if apart > (0 if own else 1):
                    break  # a part of its own sentence is meant first
                entries = [(part, e) for part, e in self._entries(verb, item, new_one) if not e.only_before]
                # "it was in the bottom groove, put it in the middle"
                grooves = self.book.moves.of_grooves([*self._behind_words(item.last), *self._behind_words(verb.last)])
                if grooves:
                    entries = [*self.changes(item, grooves)]
                if entries:
                    how = How.PLANNED if self.denied(verb) else self.how(verb, True)
                    before = self._before(verb, item)
                    at = ((verb.first, verb.last),)
                    yield from (Told(Hit(*at[0], e.meaning, at), how, before) for _, e in entries)
                    break

    def _after(self, verb: Hit, item: _Item) -> set[str]:
        """The words right behind a verb and its part, in their clause."""
        last = max(verb.last, item.last)
        end, n = self.symbols.ends[last], bisect_right(self.breaks, last)
        ends = self.breaks[n] if n < len(self.breaks) else len(self.symbols.starts)
        clause = self.symbols.starts[ends] if ends < len(self.symbols.starts) else end + _BACK
        until = min(clause, end + _BACK)
        return {*_WORD.findall(_CUT.split(self.text[end:until].lower())[0])[:_AFTER]}

    def _directions(self, verb: Hit, item: _Item) -> Iterator[str]:
        """The way a setting was moved, from the words and numbers around it: "turned the screw in", "168 to 175"."""
        first, last = min(verb.first, item.first), max(verb.last, item.last)
        moves = self.book.moves
        if verb.meaning.record in self.book.moving:
            one, other = min(verb.last, item.last), max(verb.first, item.first)
            beside = self.symbols.sentence_of[one] == self.symbols.sentence_of[other] and not self._break(one, other)
            inner = self.text[self.symbols.ends[one] : self.symbols.starts[other]].lower() if beside else ""
            said = [*_WORD.findall(inner), *self._behind_words(last)]
            kind = moves.direction(said) or moves.of_grooves(said)
            if kind:
                yield kind
        sentence = self.symbols.sentences[self.symbols.sentence_of[first]]
        numbers = [
            at
            for at in range(max(first - 2, sentence.first), min(last + _AFTER + 2, sentence.last))
            if at in self.symbols.values and not self._break(min(first, at), max(first, at))
        ]
        if len(numbers) == _PAIR:
            yield from self._way_of_pair(*numbers)
        elif not numbers:
            yield from self._way_behind(last)

    def _way_behind(self, last: int) -> Iterator[str]:
        """The way told in the next clause by the number now in it and the one it came from: "160 in place of 165"."""
        values, one = self.symbols.values, last + 1
        if one in values and self._break(last, one) <= COMMA:
            clause = range(one + 1, min(one + 1 + _LISTED, self.symbols.sentences[self.symbols.sentence_of[one]].last))
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

    def begins_a_clause(self, at: int) -> bool:
        """Whether a symbol is the first of its clause."""
        return at == self.symbols.sentences[self.symbols.sentence_of[at]].first or at in self.symbols.breaks

    def ends_an_amount(self, at: int) -> bool:
        """Whether a number counts nothing else: "moved it to 2", "to 2 turns", and no "2 shops"."""
        following = self.text[self.symbols.ends[at] : self.symbols.ends[at] + _BACK].lower()
        word = _WORD.search(following)
        ends = at + 1 in self.symbols.breaks or at + 1 >= len(self.symbols.sentence_of)
        if ends or self.symbols.sentence_of[at + 1] != self.symbols.sentence_of[at]:
            return True
        return word is None or word[0] in self.book.amounts or at + 1 in self.effects or word[0] in self.book.had

    def _way_of_pair(self, one: int, other: int) -> Iterator[str]:
        symbols = self.symbols
        between = self.text[symbols.ends[one] : symbols.starts[other]]
        kind = self.book.moves.of_numbers(symbols.values[one], symbols.values[other], between)
        if kind:
            yield kind

    def _behind_words(self, last: int) -> list[str]:
        """The words right behind a symbol, in its clause."""
        end = self.symbols.ends[last]
        return _WORD.findall(_CUT.split(self.text[end : end + _BACK].lower())[0])[:_AFTER]

    def _moved(self, item: _Item, following: int | None) -> Iterator[Told]:
        """A setting told as moved without a verb: "needle up a notch", "two sizes down on the main"."""
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

    def changes(self, item: _Item, kind: str) -> Iterator[tuple[Hit, Entry]]:
        """The ways a setting goes when it is moved so."""
        for part in item.hits:
            entries = self.book.did.get(part.meaning.record, ())
            yield from ((part, e) for e in entries if kind in e.kinds and e.meaning.kind == "change")

    def _pair_beside(self, item: _Item, clause: int, ends: int) -> tuple[str, tuple[int, int]]:
        """The way told by two sizes right beside a part: "pilot 42 to 45", "110 to 115 main"."""
        values = self.symbols.values
        on = 1 if self._word_at(item.first - 1) in self.book.inside else 0  # "170 to 165 on the main"
        for one, other in ((item.last + 1, item.last + 2), (item.first - 2 - on, item.first - 1 - on)):
            if clause <= one and other < ends and one in values and other in values:
                between = _WORD.findall(self.text[self.symbols.ends[one] : self.symbols.starts[other]].lower())
                kinds = [*self._way_of_pair(one, other)]
                if kinds and between and {*between} <= self.book.pair_joins:
                    return kinds[0], (one, other)
        one, behind = item.first - 1, range(item.last + 1, min(item.last + 2 + _LISTED, ends))
        other = next((at for at in behind if at in values), item.last)
        said = self._words_between(item.last, other)
        joined = said <= self.book.pair_joins and self.book.moves.comes_from(said)
        if clause <= one and one in values and other in values and joined:  # "a 142 main now from a 150"
            return next(self._way_of_pair(one, other), ""), (one, other)
        return "", (item.first, item.last)

    def _found(self, item: _Item, negators: Sequence[int]) -> Iterator[Told]:
        looked = [v for v in item.verbs if v.meaning.record == self.book.words.looking]
        for part in item.hits:
            for entry in self.book.found.get(part.meaning.record, ()):
                for verdict in self._real_verdicts(item):
                    kind = self._kind(verdict, part, negators)
                    if kind in entry.kinds:
                        adjective = self.adjectives.get(verdict.first) if verdict.last < part.first else None
                        how = How.DONE if adjective is None else self._how_described(adjective)
                        yield Told(_joined(verdict, part, entry.meaning), how, False)
                if not item.verdicts and self.book.words.looking in entry.kinds and not self._told_next(item):
                    for verb in looked:
                        how = self._how_done(verb, item)
                        yield Told(_joined(verb, part, entry.meaning), how, False, by_look=True)

    def _how_described(self, adjective: Hit) -> How:
        """How "a new plug" is told: as the verb before it, otherwise as so."""
        how = self.how(adjective, True)
        return How.DONE if how is How.NAMED and self._verb_before(adjective, _LISTED) is None else how

    def _real_verdicts(self, item: _Item) -> Iterator[Hit]:
        """The verdicts on a part, without verbs that look like one: "clean the filter"."""
        for verdict in item.verdicts:
            n = bisect_left(self.verb_firsts, verdict.first)
            same = n < len(self.verbs) and self.verb_firsts[n] == verdict.first
            if same and verdict.last < item.first and self.verbs[n].meaning.record not in self.book.adjectives:
                determined = self.book.determiners & self._words_between(verdict.last, item.first)
                if determined or self.how(self.verbs[n], True) is How.PLANNED:
                    continue
            yield verdict

    def likened(self, hit: Hit) -> bool:
        """Whether a hit is only likened to: "as if it got no fuel"."""
        return bool(self.book.similes & {*self._back(hit)[:_AFTER]})

    def _kind(self, verdict: Hit, part: Hit, negators: Sequence[int]) -> str:
        """The kind of a verdict, turned where it is denied: "not blocked"."""
        kind = verdict.meaning.record
        low = max(part.last + 1, verdict.first - 2) if part.last < verdict.first else verdict.first - 2
        n = bisect_left(negators, low)
        if n < len(negators) and negators[n] < verdict.first:
            return self.book.words.opposites.get(kind, "")
        return kind

    def _back(self, hit: Hit) -> list[str]:
        """The words before a hit in its clause, as written, the nearest first."""
        known = self._backs.get(hit.first)
        if known is None:
            start = self.symbols.starts[hit.first]
            sentence = self.symbols.sentences[self.symbols.sentence_of[hit.first]]
            before = _CUT.split(self.text[max(sentence.start, start - _BACK) : start].lower())[-1]
            words = _WORD.findall(before.replace("\u2019", "'"))
            known = self._backs[hit.first] = words[: -_LOOK_BACK - 1 : -1]
        return known

    def _form(self, verb: Hit) -> str:
        word = self._word(verb)
        if word in self.book.bare:
            return "bare"
        return "ing" if word.endswith(self.book.words.ending_ing) else "past"

    def how(self, verb: Hit, leads: bool) -> How:
        """Whether what a verb says was done, from its form and the words before it; `leads`: its part follows."""
        key = (verb.first, int(leads))
        if key not in self._hows:
            self._hows[key] = self._how(verb, leads)
        return self._hows[key]

    def _how(self, verb: Hit, leads: bool) -> How:
        back = [w for w in self._back(verb) if w not in self.book.skipped]
        form = self._form(verb)
        if verb.meaning.record in self.book.adjectives:
            governs = self._verb_before(verb, _LISTED)
            if governs is not None:
                sought = governs.meaning.record == self.book.words.looking and "for" in back[:1]
                return How.PLANNED if sought else self.how(governs, True)
            planned = bool(back) and back[0] in self.book.plans
            if not planned and back and back[0] in self.book.had:
                return How.DONE  # "had a new diaphragm last week"
            if not planned and not self._listed_after_a_plan(verb, back):
                # "fresh gas" alone may only describe; in a list of deeds, or with an effect, it was done
                return How.NAMED
        elif form == "ing":
            planned = bool(back) and (back[0] in self.book.plans_ing or back[0] in self.book.plans)
            form = "past"
        else:
            planned = self._is_a_plan(back) or (form == "bare" and bool(back) and back[0] in self.book.plans_bare)
        if planned and {*back[:1]} & self.book.ends_with and self._word(verb).endswith(self.book.words.ending_past):
            planned = False  # "nothing helped until I replaced the coil"
        if planned or self._listed_after_a_plan(verb, back):
            return How.PLANNED
        # "after a carb rebuild", "had the shop clean it"
        told = self._word(verb) in self.book.same_in_past and bool(self.book.subjects & {*self._back(verb)[:1]})
        done = told or form == "past" or not leads or any(w in self.book.had for w in back[:4])
        return How.DONE if done else How.NAMED

    def _is_a_plan(self, back: list[str]) -> bool:
        """Whether the words before a form say that it was not done: "should have", "going to"."""
        n = next((n for n, w in enumerate(back) if w not in self.book.helpers), len(back))
        if n == len(back):
            return False
        if back[n] in self.book.to:
            made = self.book.had & {*back[n + 2 : n + 5]}  # "paid a guy to"
            return n + 1 == len(back) or (back[n + 1] not in self.book.done_before_to and not made)
        return back[n] in self.book.plans

    def _verb_before(self, verb: Hit, reach: int) -> Hit | None:
        """The verb that ends right before another in its clause."""
        n = bisect_left(self.verb_firsts, verb.first) - 1
        near = self.verbs[n] if n >= 0 else None
        if near is None or not 0 < verb.first - near.last <= reach or self._break(near.last, verb.first):
            return None
        return near

    def _listed_after_a_plan(self, verb: Hit, back: list[str]) -> bool:
        """Whether a verb goes on with a list of plans: "going to clean the carb, replace the plug and ..."."""
        if back and back[0] not in self.book.joins:
            return False
        n = bisect_left(self.verb_firsts, verb.first) - 1
        if n < 0:
            return False
        near = self.verbs[n]
        same = self.symbols.sentence_of[near.first] == self.symbols.sentence_of[verb.first]
        if not same or verb.first - near.last > _IN_A_LIST or self._break(near.last, verb.first) >= BUT:
            return False
        if near.first in self._planned:
            return True
        return self._form(near) == self._form(verb) and self.how(near, True) is How.PLANNED

    def _somebody_elses(self, verb: Hit, item: _Item) -> bool:
        first, last = sorted((verb.last, item.first)) if verb.last < item.first else (item.last, verb.first)
        between = self.text[self.symbols.ends[first] : self.symbols.starts[last]].lower()
        words = {*_WORD.findall(between), *self._back(item.hits[0])[:2], *self._back(verb)[:2]}
        behind = {*self._behind_words(max(verb.last, item.last))[:3]}
        if not (self.book.owners_of & words or self.book.not_mine & behind):
            return bool(self.book.owners & words)
        start = self.symbols.starts[min(verb.first, item.first)]
        sentence = self.symbols.sentences[self.symbols.sentence_of[verb.first]]
        before = {*_WORD.findall(self.text[max(sentence.start, start - 2 * _BACK) : start].lower())}
        return bool(self.book.owners & words or self.book.people & before)

    def _before(self, verb: Hit, item: _Item) -> bool:
        """Whether the post says that a deed came before the trouble."""
        hit = verb if verb.first <= item.first else item.hits[0]
        if self.book.before & set(self._back(hit)):
            return True
        end = self.symbols.ends[max(verb.last, item.last)]
        after = _WORD.findall(self.text[end : end + _BACK].lower())[:_LOOK_BACK]
        return bool(self.book.now & set(after))


def _joined(a: Hit, b: Hit, meaning: Meaning) -> Hit:
    parts = tuple(sorted(((a.first, a.last), (b.first, b.last))))
    return Hit(parts[0][0], max(last for _, last in parts), meaning, parts)
