"""Which phrases found in a post are what they seem: not the torn, those denied inside, the ordinary words."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

from carbdiag.knowledge import Knowledge
from carbdiag.reading.arrows import mark_before
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.post import Post
from carbdiag.reading.reaches import NEAR, NEXT_TO
from carbdiag.reading.spans import ends_between, furthest, meets
from carbdiag.reading.symbols import BUT, COMMA
from carbdiag.records.checks import Measured

#: Parts of a sign that is told as a part of the machine and how it is.
_PART_AND_STATE = 2
#: Words behind a measured number in which those of the other cylinders may stand.
_MORE_NUMBERS = 4
#: What is read of the machine as it is.
_SIGNS = ("finding", "context", "check")
#: Characters before a word in which stands who does it.
_NEAR_A_PERSON = 40


class Sieve:
    """Tells which phrases found in a post count."""

    def __init__(self, k: Knowledge, post: Post, negators: list[int], verbs: Iterable[Hit]) -> None:
        self._k, self._post, self._negators = k, post, negators
        self._denials = frozenset(negators)
        self._verb_firsts = frozenset(verb.first for verb in verbs)
        self._bounded = post.book.least_of.keys() | post.book.most_of.keys()
        # words that name another thing with the word, or the symbol, behind them
        symbols, compounds = post.symbols.symbols, post.book.compounds
        heads = [(at, symbols[at]) for at in map(re.Match.start, post.book.heads.finditer(symbols))]
        self._before_a_word = [at for at, head in heads if head in post.book.said_behind and self._said_behind(at)]
        things = [(at, symbols[at]) for at in map(re.Match.start, post.book.things.finditer(symbols)) if at]
        self._behind_a_symbol = [
            at for at, thing in things
            if symbols[at - 1] in post.book.of_another[thing] and not post.broken(at - 1, at)
        ]  # fmt: skip
        self._before_a_symbol = {
            at for at, head in heads
            if symbols[at + 1 : at + 2] in compounds.get(head, ())
            and post.symbols.breaks.get(at + 1) in (None, BUT)  # "right after" is none
        }  # fmt: skip

    def content(self, hits: Iterable[Hit], helpers: Iterable[Hit]) -> list[Hit]:
        """The statements among hits; `helpers` are verbs that only help the one behind them."""
        helped = {h.first: h.last for h in helpers if not self._post.broken(h.first, h.last)}
        helped.update(self._helping())
        return [
            h
            for h in hits
            if not self._torn(h)
            and not self._denied_inside(h)
            and not self.in_a_compound(h)
            and not self._apart(h)
            and not self._own_deed(h)
            and not self._of_a_person(h)
            and not self._out_of_bounds(h)
            and not _helps(h, helped)
        ]

    def _torn(self, hit: Hit) -> bool:
        """Whether words that belong together are spread over two clauses ("varies at idle, fine in gear")."""
        if (
            hit.first == hit.last
            or len(hit.parts) > 1
            or hit.meaning.kind not in ("do", "change", "check", "finding", "context")
        ):
            return False
        sure = hit.meaning.kind in ("finding", "context") and not hit.meaning.more
        if ends_between(self._post.apart if sure else self._post.commas, hit.first, hit.last):
            return True
        told = hit.meaning.kind in ("finding", "context", "check")
        return told and not hit.flows and self._post.broken(hit.first, hit.last)

    def _denied_inside(self, hit: Hit) -> bool:
        """Whether a denial stands in a gap of a check told by a phrase: "the reeds look fine, no (chips)"."""
        if hit.meaning.kind in ("finding", "context") and not hit.meaning.more and len(hit.parts) > 1:
            # "let it cool, and it would not start": the last word of the sign is what is denied
            last = hit.parts[-1][0] - 1
            if hit.meaning.kind == "context" and self._post.symbols.breaks.get(last, 0) < COMMA:
                return self._of_no_thing(hit)  # "sat there for I don't know how long"; but "still soft, not hard"
            ends = last in self._denials and last > hit.parts[-2][1]
            return (ends and not denied_at_its_end(hit, self._negators)) or self._of_no_thing(hit)
        told = hit.meaning.kind == "check"
        return told and any(ends_between(self._negators, a[1], b[0] - 1) for a, b in pairwise(hit.parts))

    def _of_no_thing(self, hit: Hit) -> bool:
        """Whether a thing in the middle of a sign is told not to be there: "smelled no (gas) while it cranked"."""
        symbols, small = self._post.symbols, self._post.small
        things = self._post.book.language.negation.of_things
        before = (b[0] - 1 for a, b in pairwise(hit.parts[:-1]) if b[0] - 1 > a[1])
        return any(
            at in self._denials and small[symbols.starts[at] : symbols.ends[at]] in things
            and not self._post.broken(at, at + 1)
            for at in before
        )  # fmt: skip

    def in_a_compound(self, hit: Hit) -> bool:
        """Whether a word of a hit names another thing with the word behind it: "open the gas (cap)", or before it."""
        for first, last in hit.parts:
            if ends_between(self._before_a_word, first - 1, last):
                return True
            another = hit.meaning.kind in _SIGNS and ends_between(self._behind_a_symbol, first - 1, first)
            if another and all(last != first - 1 for _, last in hit.parts):
                return True  # "the oil (tank was empty)"
            if last in self._before_a_symbol and all(first != last + 1 for first, _ in hit.parts):
                return True
        return False

    def _said_behind(self, at: int) -> bool:
        """Whether a word that carries nothing by itself makes another thing of the one before it: "dirt (bike)"."""
        behind = self._post.book.said_behind[self._post.symbols.symbols[at]]
        end = self._post.symbols.ends[at]
        word = self._post.small[end : end + NEAR].split(maxsplit=1)[:1]
        return bool(word) and word[0].strip(".,;:!?") in behind

    def is_a_place(self, hit: Hit) -> bool:
        """Whether a place is one: "half throttle, pin it" names no "throttle pinned"; "clean until half" is one."""
        if self.in_a_compound(hit) or ends_between(self._post.apart, hit.first, hit.last):
            return False
        if any("." in self._post.small[a:b] for a, b in self._numbers_in(hit)):
            return False  # "added .5 and it burbles" names no opening
        start = self._post.symbols.starts[hit.first]
        if self._post.book.deeds.moves.turned_to.search(self._post.small, max(start - NEAR, 0), start):
            return False  # "in to 3/4 and it's clean" is how far out a screw is
        onto, start = self._post.book.openings.onto, self._post.symbols.starts[hit.last]
        # "1/4 on the uphill" is no "1/4 on"
        return hit.first == hit.last or onto is None or not onto.match(self._post.small, start)

    def _numbers_in(self, hit: Hit) -> Iterator[tuple[int, int]]:
        symbols = self._post.symbols
        numbers = (at for at in range(hit.first, hit.last + 1) if at in symbols.values)
        return ((symbols.starts[at], symbols.ends[at]) for at in numbers)

    def _out_of_bounds(self, hit: Hit) -> bool:
        """Whether a number is an ordinary one: "idles at 1,100" is no high idle."""
        if hit.meaning.more or hit.meaning.record not in self._bounded:
            return False
        least = self._post.book.least_of.get(hit.meaning.record, -1.0)
        most = self._post.book.most_of.get(hit.meaning.record, float("inf"))
        values, symbols, speeds = self._post.symbols.values, self._post.symbols.symbols, self._post.book.speeds
        said = [values[i] for i in range(hit.first, hit.last + 1) if i in values and symbols[i] in speeds]
        # "one" may count no thing, unless it is all there is
        counts = hit.first == hit.last or max(said, default=0) > 1
        return bool(said) and counts and not least <= max(said) <= most

    def _own_deed(self, hit: Hit) -> bool:
        """Whether the rider did what is a sign only when the engine does it: "I stopped at the lights"."""
        if not hit.acts:
            return False
        symbols = self._post.symbols
        told = {symbols.symbols[i] for first, last in hit.parts for i in range(first, last + 1)}
        if not told.isdisjoint(self._post.book.engine_deeds):
            return False
        for symbol in (i for first, last in hit.parts for i in range(first, min(first + 1, last) + 1)):
            if symbols.symbols[symbol] in self._post.book.own_deeds:
                at = symbols.starts[symbol]
                before = self._post.text[max(at - NEAR, 0) : at].lower().split()
                if before and before[-1] in self._post.book.persons:
                    return True
                said = " ".join(self._post.small[at : at + 2 * NEAR].split()[:3]).rstrip(".,;:!?")
                if said in self._post.book.done_to_it:
                    return True  # "shut it off after ten minutes"
        return False

    def _of_a_person(self, hit: Hit) -> bool:
        """Whether somebody does what is a sign only when the engine does it: "we've missed one", "I got lazy"."""
        if hit.meaning.kind != "finding" or hit.first != hit.last:
            return False
        book, start = self._post.book, self._post.symbols.starts[hit.first]
        if self._post.small[start : self._post.symbols.ends[hit.first]] not in book.people_too:
            return False
        sentence = self._post.sentence(hit)
        before = self._post.small[max(sentence.start, start - _NEAR_A_PERSON) : start].replace("’", "'").split()
        while before and before[-1] in book.helping_people:
            before.pop()
        return bool(before) and before[-1] in book.people

    def _apart(self, hit: Hit) -> bool:
        """Whether parts that belong together stand in two clauses, the first not saying when the second holds."""
        if len(hit.parts) == 1:
            return False
        n = bisect_right(self._post.apart, hit.first)
        first = max(self._post.apart[n - 1] if n else 0, self._post.sentence(hit).first)
        if hit.flows:
            return any(b[0] - a[1] > NEXT_TO and self._post.contrast(a[1], b[0]) for a, b in pairwise(hit.parts))
        if hit.meaning.kind != "finding":
            return False
        if self._post.symbols.openers.get(first, "") in self._post.book.conditions:
            # "if I hold the throttle it keeps going but won't take more"
            return any(self._post.contrast(a[1], b[0]) for a, b in pairwise(hit.parts))
        return any(ends_between(self._post.apart, a[1], b[0]) for a, b in pairwise(hit.parts))

    def _helping(self) -> Iterator[tuple[int, int]]:
        """Where "start" only helps the verb behind it, and that verb: "starts to smoke", "starts mowing"."""
        language, symbols = self._post.book.language, self._post.symbols
        for at in map(re.Match.start, self._post.book.helped.finditer(symbols.symbols)):
            if at + 1 == len(symbols.symbols) or at + 1 in symbols.breaks:
                continue
            words = self._post.text[symbols.ends[at] : symbols.ends[at + 1]].lower().split()
            verb = words[-1] if words else ""
            joined = len(words) == 2 and words[0] in self._post.book.helped_by
            ending = len(words) == 1 and bool(language.helped_ending) and verb.endswith(language.helped_ending)
            if (joined or ending) and verb not in self._post.book.not_helped:
                yield at, at + 1

    def counted(self, kind: str, hits: Iterable[Hit]) -> list[Hit]:
        """The verbs, parts, verdicts or effects among hits that are such: "plug, cap" is no plug cap."""
        if kind == "effect":
            return [h for h in hits if (self._of_its_own(h) if h.meaning.more else self._in_one_clause(h))]
        whole = filter(self._in_one_clause, hits)
        if kind == "verb":
            return [*whole]
        return [h for h in whole if not (self.in_a_compound(h) or (kind == "part" and self._is_no_part(h)))]

    def _of_its_own(self, effect: Hit) -> bool:
        led = mark_before(self._post.text, self._post.symbols.starts[effect.first])
        beside = effect.meaning.more == "beside" and led and effect.first < effect.last
        return (beside or effect.meaning.more == "alone") and self._post.alone(effect)

    def _in_one_clause(self, hit: Hit) -> bool:
        return hit.first == hit.last or len(hit.parts) > 1 or not ends_between(self._post.commas, hit.first, hit.last)

    def _is_no_part(self, hit: Hit) -> bool:
        """Whether the words of a part tell what was done: "lowered the needle" tells of no low needle."""
        if hit.first == hit.last:
            return False
        if hit.first in self._verb_firsts:
            words = self._post.book.language.deeds
            first = self._post.text[self._post.symbols.starts[hit.first] : self._post.symbols.ends[hit.first]].lower()
            if first.endswith((words.ending_past, words.ending_ing)):
                return True
        return self._by_an_amount(hit)

    def _by_an_amount(self, hit: Hit) -> bool:
        """Whether the last word of a part only says how far another went: "dropped the needle a clip"."""
        *_, last = said = self._post.words(hit).lower().split()
        words = self._post.book.language.deeds
        return len(said) > 1 and last in words.amounts and not {*words.articles}.isdisjoint(said[1:-1])

    def measured(self, hits: Iterable[Hit]) -> Iterator[Hit]:
        """Hits that tell a number, as the outcome it makes, or not at all."""
        for hit in hits:
            measured = self._k.checks[hit.meaning.record].measured
            values, breaks = self._post.symbols.values, self._post.symbols.breaks
            end = min(hit.last + 1 + _MORE_NUMBERS, self._post.sentence(hit).last)
            # "compression 150, 60 on the right" goes on, "compression 150, jets 160 and 48" does not
            end = next((i for i in range(hit.last + 1, end) if breaks.get(i, 0) >= COMMA and i not in values), end)
            numbers = [values[i] for i in range(hit.first, end) if i in values]
            if measured and measured.unequal and self._unequal(hit, measured):
                yield hit._replace(meaning=Meaning("check", hit.meaning.record, measured.unequal.outcome))
                continue
            for outcome, span in measured.outcomes.items() if measured else ():
                # of several cylinders one bad number makes the outcome that is listed first
                if any(span.at_least <= n <= span.at_most for n in numbers):
                    yield hit._replace(meaning=Meaning("check", hit.meaning.record, outcome))
                    break

    def _unequal(self, hit: Hit, measured: Measured) -> bool:
        """Whether the number measured and the next one, joined to it, are far apart: "compression 95 and 120"."""
        symbols, joins = self._post.symbols, self._post.book.language.swapped_over.numbers_joined_by
        one = next((i for i in range(hit.first, hit.last + 1) if i in symbols.values), None)
        if one is None or measured.unequal is None or one + 1 not in symbols.values:
            return False
        between = self._post.text[symbols.ends[one] : symbols.starts[one + 1]].strip().lower()
        pair = sorted((symbols.values[one], symbols.values[one + 1]))
        spans = measured.outcomes.values()
        told = all(min(s.at_least for s in spans) <= n <= max(s.at_most for s in spans) for n in pair)
        return told and between in joins and pair[0] < measured.unequal.below * pair[1]

    def narrowed(self, content: Iterable[Hit]) -> Iterator[Hit]:
        """Hits without what is broader and shares words with a narrower one: "pops when I let off" is no bang."""
        every = list(self._one_way(content))
        ends: dict[str, list[tuple[int, int]]] = {}
        for hit in every:
            for broader in self._broader(hit.meaning):
                ends.setdefault(broader, []).append((hit.first, hit.last))
        reach = {broader: furthest(spans) for broader, spans in ends.items()}
        return (hit for hit in every if not meets(reach.get(hit.meaning.record), hit))

    def _broader(self, meaning: Meaning) -> tuple[str, ...]:
        """The signs and checks that the same words do not tell."""
        if meaning.kind == "check":
            return self._k.checks[meaning.record].narrows.get(meaning.more, ())
        return self._k.findings[meaning.record].narrows if meaning.kind == "finding" and not meaning.more else ()

    def _one_way(self, content: Iterable[Hit]) -> Iterator[Hit]:
        """Hits without a move up that is only the beginning of one down: "(from the mountains) to the sea".

        Nor one that holds the other, told in one piece: "(the mountains, (back home at sea level))".
        """
        every = list(content)
        moves = [(h, self._k.contexts[h.meaning.record].moved) for h in every if h.meaning.kind == "context"]
        begun: set[Hit] = set()
        for way in {way for _, way in moves if way}:
            these = [h for h, other in moves if other == way]
            firsts, lasts = furthest([(h.first, h.last) for h in these])
            whole = {h.last for h in these if len(h.parts) == 1}
            for hit, other in moves:
                n = bisect_right(firsts, hit.last + 1) - 1
                held = len(hit.parts) > 1 and hit.last in whole
                if other not in (None, way) and n >= 0 and (lasts[n] > hit.last or held):
                    begun.add(hit)
        return (h for h in every if h not in begun)


def _helps(hit: Hit, helped: Mapping[int, int]) -> bool:
    """Whether a word of a hit only helps the verb behind it; `helped`: where such a word stands -> its verb."""
    return any(helped.get(first, 0) > last or helped.get(last, 0) > last for first, last in hit.parts)


def denied_at_its_end(hit: Hit, negators: list[int]) -> bool:
    """Whether nothing but a denial stands between a part and its state: "the plug is not black"."""
    if hit.meaning.kind != "finding" or hit.meaning.more or len(hit.parts) != _PART_AND_STATE or hit.flows:
        return False
    part, state = hit.parts[0][1], hit.parts[1][0]
    return state - part == NEXT_TO and ends_between(negators, part, state - 1)
