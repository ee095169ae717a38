"""What a post puts in order in time: the signs seen before a setting was moved or a part was mended, and those after.

Only what the words plainly order is put apart: "went up on the pilot, and *now* it stalls", "*since* I leaned the
screw it dies", "the bog is *gone*". Such signs also tell what the deed did: a sign that is gone says that it cured it,
a new one that it made it worse, and both of a setting, where the new one is of that side, that it went past what is
right.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from operator import attrgetter
from types import MappingProxyType
from typing import Final, NamedTuple

from carbdiag.reading.deed_book import How
from carbdiag.reading.effects import Doing, Outcome, Said
from carbdiag.reading.matcher import Hit
from carbdiag.reading.order_book import BEHIND, OrderBook, finds
from carbdiag.reading.reaches import NEXT_TO
from carbdiag.reading.spans import ends_between
from carbdiag.reading.symbols import CONTRAST, SymbolText
from carbdiag.terms import Change, Effect

#: Sentences behind a deed in which the signs that it brought, or ended, may be told.
_SENTENCES: Final = 2
#: Signs behind a deed that are looked at.
_MOST_SIGNS: Final = 8
#: Sizes of a jet told as changed.
_A_PAIR: Final = 2
#: Words before a deed in which a circumstance in the same words may begin: "did a top end rebuild".
_BESIDE: Final = 2
#: Characters before a sign in which the words stand that put it in order.
_NEAR: Final = 90
#: Effects of a repair after which the engine is another one than before.
_MENDED: Final = frozenset((Effect.CURED, Effect.BETTER, Effect.WORSE, Effect.NOT_TOLD))


class Seen(NamedTuple):
    """A sign where it is told."""

    hit: Hit
    denied: bool
    record: str
    """The sign that is meant."""
    at: tuple[str, ...] = ()
    """Where it is told to show; nowhere in particular if empty."""


class Border(NamedTuple):
    """A deed that parts what was seen before it from what was seen after, told from the symbol `at` on."""

    deed: Hit
    at: int
    effect: Effect


#: Where what a border parts begins to be told from after it.
_AT: Final = attrgetter("at")


class Order:
    """The words of one text that put its signs in order."""

    def __init__(
        self,
        book: OrderBook,
        text: str,
        symbols: SymbolText,
        seen: Iterable[Seen],
        goes_with: Callable[[str, str], bool],
        set_up: Sequence[int] = (),
        circumstances: Sequence[int] = (),
        rejets: Collection[str] = (),
        jets: Sequence[tuple[int, str]] = (),
        far_from: Mapping[str, Collection[str]] = MappingProxyType({}),
        warns: Callable[[str], bool] = lambda sign: False,
    ) -> None:
        self.text, self.symbols = text, symbols
        self.seen = sorted(seen, key=lambda s: s.hit.first)
        self.firsts = [s.hit.first for s in self.seen]
        self.set_up = set_up
        """Where another exhaust, filter or the like is told as fitted, in order."""
        self.circumstances = circumstances
        """Where circumstances are told, in order."""
        self.rejets = rejets
        """Deeds that set the mixture: "jetted at sea level" brings no fault."""
        self.jets = jets
        """Where numbers of jets stand, in order, each with its circuit."""
        self.far_from = far_from
        """The openings far from those at which each setting is felt most."""
        self._at = {s.hit.first: s.at for s in self.seen}
        self.warns = warns
        """Whether a sign warns of a lean mixture: behind a leaner step it is taken for what that brought."""
        self.goes_with = goes_with
        """Whether a sign is one of a mixture that a direction leads to."""
        self.book = book
        self._breaks = sorted(symbols.breaks)
        self._contrasts = sorted(at for at, strength in symbols.breaks.items() if strength == CONTRAST)
        self._meant = {s.hit.first: s.record for s in self.seen if s.record != s.hit.meaning.record}
        self._told_first: dict[str, int] = {}
        for s in self.seen:
            if not s.denied:
                self._told_first.setdefault(s.record, s.hit.first)

    # -- what the signs tell of a deed

    def effects(self, done: Sequence[Doing], stated: Sequence[Said]) -> list[Said]:
        """The effects stated, and those that the signs behind each deed tell where none is stated between.

        Better, with a sign of the other side behind it, is a setting that went past what is right.
        """
        deeds = sorted((d for d in done if d.how is not How.PLANNED), key=lambda d: d.hit.last)
        said = sorted(stated)
        firsts = [s.first for s in said]
        out = dict.fromkeys(said)
        for n, doing in enumerate(deeds):
            if doing.how is How.DONE and not doing.brought_on and self._before_deed(self.book.until, doing.hit):
                out[Said(doing.hit.last, doing.hit.last, Effect.CURED)] = None
                continue
            following = next((d.hit.first for d in deeds[n + 1 : n + 9] if d.hit.first > doing.hit.last), None)
            following = min((at for at in (following, self._next_jet(doing.hit)) if at is not None), default=None)
            gone, new = self._told_behind(doing, following)
            setting = doing.hit.meaning.kind == "change"
            past_right = setting and any(self._past_right(doing.hit, sign) for sign in new)
            k = bisect_right(firsts, doing.hit.last)
            told = said[k] if k < len(said) and (following is None or said[k].first < following) else None
            if told is not None and setting and self._of_the_old(doing.hit, told):
                out.pop(told, None)
                told = None
            again = None if gone or new else self._again(doing, following)
            first = min((h.first for h in (gone, again, *new) if h is not None), default=None)
            if told is not None and told.effect is Effect.NO_CHANGE and self._went(doing.hit, told):
                for same in (s for s in (*out,) if s.first == told.first and s.effect is Effect.NO_CHANGE):
                    out.pop(same)
                    out[same._replace(effect=Effect.BETTER)] = None
            elif told is not None and (first is None or told.first <= first):
                if past_right and told.effect in (Effect.BETTER, Effect.CURED):
                    out.pop(told, None)
                    out[told._replace(effect=Effect.OVERSHOT)] = None
                elif new and told.by_running and not self._trouble_before(doing.hit):
                    out.pop(told, None)  # "cleaned the carb and it ran fine all year. Now it bogs"
                elif told.by_running and self._but(told):
                    out.pop(told, None)  # "new battery in and it fires right up, but it dies off the choke"
            elif again is not None:
                out[Said(again.first, again.last, Effect.NO_CHANGE)] = None
            elif gone is not None:
                far = Effect.OVERSHOT if past_right else self._how_far_gone(gone, setting)
                out[Said(gone.first, gone.last, far)] = None
            elif new and doing.how is How.DONE and self._brought(deeds, n, new[0]):
                begins, ends = self.symbols.starts[new[0].first], self.symbols.ends[new[0].last]
                behind = self.text[ends : ends + _NEAR]
                if self.book.goes_well(self.text, begins, ends):
                    continue
                over = past_right and self._other_side_before(doing.hit, new[0])
                between = self.text[self.symbols.ends[doing.hit.last] : self.symbols.starts[new[0].first]]
                fewer = self._trouble_before(doing.hit) and self.book.only_there(between, behind)
                less = Effect.BETTER if fewer or self.book.lessened(between) else Effect.WORSE
                effect = Effect.OVERSHOT if over else less
                out[Said(new[0].first, new[0].last, effect)] = None
        return list(out)

    def _past_right(self, deed: Hit, sign: Hit) -> bool:
        """Whether a new sign is that of the other side, and not told of an opening far from where a setting is felt.

        "That cured the top end. Now it burbles at quarter" is no main jet that is too large.
        """
        at = self._at[sign.first]
        elsewhere = at and set(at) <= set(self.far_from.get(deed.meaning.record, ()))
        return not elsewhere and self.goes_with(sign.meaning.record, deed.meaning.more)

    def _of_the_old(self, deed: Hit, told: Said) -> bool:
        """Whether an effect is told of the jet it had before: "went from 132 to 138, at 132 it was crisp"."""
        values, low = self.symbols.values, bisect_left(self.jets, (deed.first, ""))
        if low == bisect_right(self.jets, (deed.last, "~")):
            return False
        sizes = {values[at] for at in range(deed.first, deed.last + 1) if at in values}
        between = [values[at] for at in range(deed.last + 1, told.last + 1) if at in values]
        if len(sizes) < _A_PAIR or not between:
            return False
        return between[-1] == (min if deed.meaning.more == Change.RICHER else max)(sizes)

    def _went(self, deed: Hit, told: Said) -> bool:
        """Whether a trouble is told as over since a deed, ahead of what is left: "now it starts, but still bogs"."""
        low, high = bisect_left(self.firsts, deed.last + 1), bisect_left(self.firsts, told.first)
        over = (s for s in self.seen[low : min(high, low + _MOST_SIGNS)] if s.denied)
        return any(self._marked(s.hit, deed) is not None for s in over)

    def _next_jet(self, deed: Hit) -> int | None:
        """Where another jet is told behind one that was changed: "to a 40, better. Then to a (42), now it loads up"."""
        values = self.symbols.values
        own = {values[at] for at in range(deed.first, deed.last + 1) if at in values}
        n = bisect_right(self.jets, (deed.last, "~"))
        last = deed.last
        for at, circuit in self.jets[n : n + _MOST_SIGNS]:
            if at - last <= NEXT_TO and not ends_between(self._breaks, last, at):
                last = at  # its own sizes: "went leaner on the main (from 178 to 172)"
            elif circuit == deed.meaning.record and values[at] not in own:
                return at
        return None

    def _how_far_gone(self, sign: Hit, setting: bool) -> Effect:
        """Cured, or only better where the words say so: "is nearly gone"; of a repair, "but it still dies hot"."""
        after = self._after(sign)
        left = finds(self.book.partly, after) is not None or (not setting and finds(self.book.still, after) is not None)
        return Effect.BETTER if left else Effect.CURED

    def _other_side_before(self, deed: Hit, sign: Hit) -> bool:
        """Whether a sign of the other side is told before: "went richer because it pinged, now it burbles"."""
        other = next(c for c in Change if c != deed.meaning.more)
        n = bisect_left(self.firsts, sign.first)
        return any(not s.denied and self.goes_with(s.record, other) for s in self.seen[max(n - _MOST_SIGNS, 0) : n])

    def _but(self, told: Said) -> bool:
        """Whether a sign that shows is set against an effect, behind it in the same sentence."""
        n = bisect_right(self.firsts, told.last)
        behind = next((s.hit for s in self.seen[n : n + _MOST_SIGNS] if not s.denied), None)
        if behind is None or self.symbols.sentence_of[behind.first] != self.symbols.sentence_of[told.last]:
            return False
        return ends_between(self._contrasts, told.last, behind.first)

    def _told_behind(self, doing: Doing, following: int | None) -> tuple[Hit | None, list[Hit]]:
        """The first sign behind a deed that is gone since, and those that are new."""
        gone: Hit | None = None
        lacking: Hit | None = None
        new: list[Hit] = []
        for s in self._behind(doing.hit, following):
            if s.denied:
                gone = gone or (s.hit if self._is_gone(s.hit, doing.hit) else None)
                lacking = lacking or (s.hit if self._beside(s.hit, doing.hit) else None)
            elif self._is_new(s.hit, doing.hit) or ((new or gone) and not self._told_before(s.hit, doing.hit)):
                new.append(s.hit)
        if not new and self._leads(doing.hit):
            n = bisect_left(self.firsts, self._sentence_first(doing.hit))
            new = [s.hit for s in self.seen[n : n + _MOST_SIGNS] if s.hit.last < doing.hit.first and not s.denied]
        if gone is None and not new and self._leads(doing.hit):
            gone = lacking  # "since I raised the needle it doesn't bog"
        return gone, new

    def _beside(self, sign: Hit, deed: Hit) -> bool:
        return self.symbols.sentence_of[sign.first] == self.symbols.sentence_of[deed.last]

    def _blamed(self, deeds: Sequence[Doing], number: int, sign: Hit) -> bool:
        """Whether a new sign is the doing of one setting: not of several moved together, nor of a set-up changed."""
        deed, sentence_of = deeds[number].hit, self.symbols.sentence_of
        if self._contrast(deed, sign):
            return False
        if self._trouble_before(deed):
            return True
        together = [
            d for d in deeds[max(number - 4, 0) : number + 5]
            if d.hit.meaning[:2] != deed.meaning[:2] and sentence_of[d.hit.first] == sentence_of[deed.first]
        ]  # fmt: skip
        n = bisect_left(self.set_up, deed.first)
        beside = n > 0 and sentence_of[deed.first] - sentence_of[self.set_up[n - 1]] <= _SENTENCES
        beside = beside or (n < len(self.set_up) and sentence_of[self.set_up[n]] == sentence_of[deed.first])
        return not (beside or any(d.hit.meaning.kind == "change" for d in together))

    def _brought(self, deeds: Sequence[Doing], number: int, sign: Hit) -> bool:
        """Whether a new sign is a deed's doing; of a repair, where no circumstance says it ("new plug fitted")."""
        deed = deeds[number].hit
        if deed.meaning.kind == "change":
            return self._blamed(deeds, number, sign)
        if deed.meaning.record in self.rejets:
            return False
        n = bisect_left(self.circumstances, deed.first - _BESIDE)
        told = n < len(self.circumstances) and self.circumstances[n] <= deed.last
        return not told and not self._trouble_before(deed)

    def _again(self, doing: Doing, following: int | None) -> Hit | None:
        """A sign told before a repair and again right behind it: "leaked. New needle. Still leaks"."""
        if doing.hit.meaning.kind == "change":
            return None
        for s in self._behind(doing.hit, following):
            apart = self.symbols.sentence_of[s.hit.first] - self.symbols.sentence_of[doing.hit.last]
            if apart <= 1 and not s.denied and self._told_before(s.hit, doing.hit):
                return s.hit
        return None

    def _contrast(self, deed: Hit, sign: Hit) -> bool:
        """Whether a word like "but" sets a sign against what the deed did well: "now smooth at half but it pops"."""
        return ends_between(self._contrasts, deed.last, sign.first)

    def _behind(self, deed: Hit, following: int | None) -> Iterator[Seen]:
        n = bisect_right(self.firsts, deed.last)
        for s in self.seen[n : n + _MOST_SIGNS]:
            apart = self.symbols.sentence_of[s.hit.first] - self.symbols.sentence_of[deed.last]
            if apart > _SENTENCES or (following is not None and s.hit.first >= following):
                return
            yield s

    def _is_gone(self, sign: Hit, deed: Hit) -> bool:
        """Whether a sign that is denied was there before the deed."""
        over = self.book.ended(self.text, self.symbols.starts[sign.first])
        return over or self._told_before(sign, deed) or finds(self.book.gone, self._after(sign)) is not None

    def _is_new(self, sign: Hit, deed: Hit) -> bool:
        """Whether words say that a sign is seen since the deed: "and now it", "since then"."""
        same = self._beside(sign, deed)
        if (same and self._leads(deed)) or self._warns_since(sign, deed):
            return True
        marked = self._marked(sign, deed) is not None
        return marked and (same or not self._told_before(sign, deed))

    def _warns_since(self, sign: Hit, deed: Hit) -> bool:
        """Whether a sign told behind a leaner step warns that it went too far, be it told since when or not."""
        leaner = deed.meaning.kind == "change" and deed.meaning.more == Change.LEANER
        record = self._meant.get(sign.first, sign.meaning.record)
        warns = leaner and self.warns(record) and not self._in_the_past(sign)
        apart = self.symbols.sentence_of[sign.first] != self.symbols.sentence_of[deed.last] or ends_between(
            self._breaks, deed.last, sign.first
        )  # "lowering it made it ping" says itself what it did
        return warns and apart and deed.last < sign.first and not self._told_before(sign, deed)

    def _told_before(self, sign: Hit, deed: Hit) -> bool:
        record = self._meant.get(sign.first, sign.meaning.record)
        return self._told_first.get(record, sign.first) < deed.first

    def _marked(self, sign: Hit, deed: Hit) -> int | None:
        """The symbol from which on a sign is told as seen since a deed, if words say so."""
        starts, ends = self.symbols.starts, self.symbols.ends
        begin = max(ends[deed.last], self._sentence_start(sign), starts[sign.first] - _NEAR)
        between = self.text[begin : starts[sign.first]]
        word = finds(self.book.now, between)
        if word is not None and finds(self.book.still, between[word:]) is None:
            return min(bisect_left(starts, begin + word), sign.first)
        if finds(self.book.reason, between) is not None:
            return None  # "moved the clip because it was rich, and now ...": why it was done, and no doing of it
        inside = self.text[starts[sign.first] : ends[sign.last]]
        behind = finds(self.book.now_behind, inside) is not None
        return sign.first if behind or finds(self.book.now_behind, self._after(sign)) is not None else None

    def is_reason(self, deed: int, sign: int) -> bool:
        """Whether the words from the end of a deed to a sign make it the reason: "... because it was fouling"."""
        between = self.text[self.symbols.ends[deed] : self.symbols.starts[sign]]
        told = [finds(words, between) is not None for words in (self.book.past, self.book.reason, self.book.now)]
        return told == [True, True, False]

    def _trouble_before(self, deed: Hit) -> bool:
        n = bisect_left(self.firsts, deed.first)
        return any(not s.denied for s in self.seen[max(n - _MOST_SIGNS, 0) : n])

    def _leads(self, deed: Hit) -> bool:
        """Whether a deed says since when: "since I leaned the screw out"."""
        return self._before_deed(self.book.since, deed)

    def _before_deed(self, words: re.Pattern[str] | None, deed: Hit) -> bool:
        begin = max(self._sentence_start(deed), self.symbols.starts[deed.first] - BEHIND)
        return finds(words, self.text[begin : self.symbols.starts[deed.first]]) is not None

    # -- before and after

    def borders(self, told: Iterable[Outcome]) -> tuple[Border, ...]:
        """The deeds that part what is told, in the order of the text."""
        out: list[Border] = []
        tried = sorted((o for o in told if not o.unsaid), key=lambda o: o.doing.hit.first)
        for n, outcome in enumerate(tried):
            deed = outcome.doing.hit
            if deed.meaning.kind != "change" and outcome.effect not in _MENDED:
                continue
            following = next((o.doing.hit.first for o in tried[n + 1 : n + 9] if o.doing.hit.first > deed.last), None)
            border = self._border(outcome, following)
            if border is not None and not (out and out[-1].at >= border.at):
                out.append(border)
        return tuple(out)

    def _border(self, outcome: Outcome, following: int | None) -> Border | None:
        deed = outcome.doing.hit
        if outcome.effect is Effect.NOT_TOLD:  # the damage that it mended was told before it
            return Border(deed, deed.last + 1, outcome.effect)
        if self._leads(deed):
            first = self._sentence_first(deed)
            sentence = self.symbols.sentence_of[deed.first]
            n = bisect_left(self.firsts, first)
            here = [s for s in self.seen[n : n + _MOST_SIGNS] if self.symbols.sentence_of[s.hit.first] == sentence]
            if here:
                return Border(deed, first, outcome.effect)
        for s in self._behind(deed, following):
            at = self._marked(s.hit, deed)
            if at is None and s.denied and self._told_before(s.hit, deed):
                at = s.hit.first
            if at is None and outcome.effect is Effect.WORSE and self._is_so_since(s, outcome):
                at = s.hit.first
            if at is None and outcome.effect is Effect.OVERSHOT and not s.denied and self._warns_since(s.hit, deed):
                at = s.hit.first
            if at is not None:
                return Border(deed, at, outcome.effect)
        return None

    def _is_so_since(self, sign: Seen, outcome: Outcome) -> bool:
        """Whether a setting is told first to have made it worse, and then the sign of it: "worse, it won't clear out".

        A setting that somebody tries on a complaint told before is put back as a rule.
        """
        deed = outcome.doing.hit
        if deed.meaning.kind != "change" or outcome.said is None or sign.denied or self._trouble_before(deed):
            return False
        last = outcome.said[1]
        if last >= sign.hit.first or self._in_the_past(sign.hit) or not self.goes_with(sign.record, deed.meaning.more):
            return False
        apart = self.symbols.sentence_of[sign.hit.first] - self.symbols.sentence_of[last]
        return apart <= 1 and not ends_between(self._contrasts, last, sign.hit.first)

    def epoch(self, borders: Sequence[Border], hit: Hit) -> int:
        """In which stretch of time a sign was seen.

        What is told in the present tense ahead of a deed that made things worse is the complaint, as it is now.
        """
        passed = bisect_right(borders, hit.first, key=_AT)
        while passed < len(borders) and borders[passed].effect is Effect.WORSE and not self._in_the_past(hit):
            apart = self.symbols.sentence_of[hit.first] != self.symbols.sentence_of[borders[passed].deed.first]
            if not apart:
                break
            passed += 1
        return passed

    def epoch_of_deed(self, borders: Sequence[Border], deed: Hit) -> int:
        """In which stretch of time something was done: a border's own deed, and those told with it, end theirs."""
        sentence_of = self.symbols.sentence_of
        here = sentence_of[deed.first]
        begun = bisect_right(borders, deed.first, key=_AT)
        while begun and sentence_of[borders[begun - 1].deed.first] == here:
            begun -= 1
        return begun

    def epoch_of_past(self, borders: Sequence[Border], hit: Hit) -> int | None:
        """In which stretch what "used to be" was seen; None where no border is near."""
        sentence_of = self.symbols.sentence_of
        for n, border in enumerate(borders):
            if abs(sentence_of[hit.first] - sentence_of[min(border.at, len(sentence_of) - 1)]) <= _SENTENCES:
                return n
        return None

    def there_before(self, borders: Sequence[Border]) -> Iterator[tuple[Hit, int]]:
        """Signs that the post only says are gone since a border, with the stretch before it: "the hang is fixed"."""
        for n, border in enumerate(borders):
            for s in self._behind(border.deed, None):
                if s.denied and not self._told_before(s.hit, border.deed) and self._is_gone(s.hit, border.deed):
                    yield s.hit, n

    def not_before(self, borders: Sequence[Border]) -> Iterator[tuple[Hit, int]]:
        """Signs that were not there before a border, as the post says, with the stretch before it."""
        starts, ends = self.symbols.starts, self.symbols.ends
        given: set[tuple[str, int]] = set()
        for n, border in enumerate(borders):
            low, high = bisect_left(self.firsts, border.at), bisect_left(self.firsts, border.at) + _MOST_SIGNS
            for s in self.seen[low:high]:
                if s.denied or self._told_before(s.hit, border.deed) or (s.record, n) in given:
                    continue
                told = self.text[starts[s.hit.first] : ends[s.hit.last] + BEHIND]
                if finds(self.book.not_before, told) is not None:
                    given.add((s.record, n))
                    yield s.hit, n

    def _in_the_past(self, hit: Hit) -> bool:
        """Whether a sign is told in the past tense: "it bogged", "had a flat spot"."""
        starts, ends = self.symbols.starts, self.symbols.ends
        before = self.text[max(self._sentence_start(hit), starts[hit.first] - BEHIND) : starts[hit.first]]
        told = self.text[starts[hit.first] : ends[hit.last]]
        verb = any(w.endswith(self.book.past_ending) for w in told.split()) if self.book.past_ending else False
        return verb or finds(self.book.past, f"{before[-BEHIND // 2 :]} {told}") is not None

    def _after(self, sign: Hit) -> str:
        end = self.symbols.ends[sign.last]
        sentence = self.symbols.sentences[self.symbols.sentence_of[sign.first]]
        return self.text[end : min(sentence.end or len(self.text), end + BEHIND)]

    def _sentence_first(self, hit: Hit) -> int:
        return self.symbols.sentences[self.symbols.sentence_of[hit.first]].first

    def _sentence_start(self, hit: Hit) -> int:
        return self.symbols.sentences[self.symbols.sentence_of[hit.first]].start
