"""The effects that a post states, of whatever deed: in set words, beside a deed, or in a clause of their own."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from typing import Final

from carbdiag.reading.deed_text import CUT
from carbdiag.reading.effects import Said as EffectSaid
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit
from carbdiag.reading.reaches import CUE_REACH, GONE_REACH, NEXT_TO, NEXT_WORD, PLACE_REACH, SUPPOSED_REACH
from carbdiag.reading.spans import ends_between, furthest, holds
from carbdiag.terms import Effect

#: Symbols from a denial to the effect that it denies: "doesn't seem better".
_NEGATED: Final = 2
#: Signs of a complaint that are looked at.
_COMPLAINT: Final = 8
#: Effects that may hold at one time and not at another.
_GRADED = (Effect.BETTER.value, Effect.WORSE.value)
#: Effects that helped.
_HELPED = (Effect.BETTER.value, Effect.CURED.value)


class EffectsTold:
    """The effects a post states."""

    def __init__(self, found: Found, present: list[Hit]) -> None:
        self.found = found
        self.present = sorted(present, key=lambda h: h.first)
        self.complaints = [h.first for h in self.present]
        signs = (h for h in found.content if h.meaning.kind == "finding" and h.first < h.last)
        self.signs = furthest([(h.first, h.last) for h in signs])
        """Where signs of several words stand: "worse now its cold" is one, and no effect."""
        self.sign_lasts = [h.last for h in found.content if h.meaning.kind == "finding"]
        self.spoken = [*found.book.effects_spoken.standing(found.small.replace("’", "'"))]
        """The effects told by set words, with where they begin and end."""
        self.checks = sorted((h for h in found.content if h.meaning.kind == "check"), key=lambda h: h.first)
        self.check_firsts = [h.first for h in self.checks]
        self.deed_firsts = sorted(h.first for h in found.content if h.meaning.kind in ("do", "change"))
        """Where the signs that show begin, in order."""

    def stated(self) -> Iterator[EffectSaid]:
        spoken = list(self._spoken_effects())
        yield from spoken
        taken = {at for s in spoken for at in range(s.first, s.last + 1)}
        for hit in self.found.effects:
            if not taken.isdisjoint(range(hit.first, hit.last + 1)):
                continue
            sentence = self.found.sentence(hit)
            opener = self.found.symbols.openers.get(self.found.clause_first(hit), "")
            whole = (sentence.first, sentence.last) == (hit.first, hit.last + 1)  # "Sorted?"
            asked = sentence.asks and (whole or opener in self.found.book.openers)
            if hit.meaning.more == "alone" and (not self._alone(hit) or self._never(hit) or self._answers(hit)):
                continue
            if hit.meaning.record in _GRADED and hit.first == hit.last and holds(self.signs, hit):
                continue
            if hit.meaning.record == Effect.CAME_BACK and self.found.book.order.is_habit(self.found.words(hit)):
                continue
            if (hit.meaning.more == "beside" and not self._behind_a_deed(hit)) or self._only_so(hit):
                continue
            if hit.meaning.record == Effect.NO_CHANGE and self._was_earlier(hit):
                continue
            if hit.meaning.record in _HELPED and self.found.denials.holds(hit):
                continue  # "can't (get rid) of the bog"
            if not self._of_a_check(hit) and not asked and self.really(hit):
                running, ahead = hit.meaning.more == "beside", self._names_next(hit)
                yield EffectSaid(hit.first, hit.last, self.effect(hit), running, ahead)

    def _alone(self, hit: Hit) -> bool:
        """Whether a word of an effect is a clause of its own, or leads to its deed: "it's better now with a 120"."""
        if self.found.alone_but_for_an_opening(hit):
            return True
        n = bisect_right(self.deed_firsts, hit.last)
        deed = self.deed_firsts[n] if n < len(self.deed_firsts) else -1
        begins = hit.first == self.found.clause_first(hit) and hit.meaning.record in (*_GRADED, Effect.NO_CHANGE)
        if not begins or not 0 < deed - hit.last <= NEXT_TO + 1 or self.found.broken(hit.last, deed):
            return False
        between = self.found.small[self.found.symbols.ends[hit.last] : self.found.symbols.starts[deed]].split()
        return not self.found.book.deeds.sizes.led_by.isdisjoint(between)

    def _answers(self, hit: Hit) -> bool:
        """Whether "no" only answers to a sign: "stutter at 1/4: no" behind a jet changed tells nothing of the jet."""
        looks, symbols = self.found.book.language.looks, self.found.symbols
        word = self.found.words(hit).lower()
        before = self.found.small[max(symbols.starts[hit.first] - NEXT_TO, 0) : symbols.starts[hit.first]].rstrip()
        if word not in {*looks.answers_no, *looks.answers_none} or not before.endswith((":", "?")):
            return False
        return any(hit.first - CUE_REACH <= last < hit.first for last in self.sign_lasts)

    def really(self, hit: Hit) -> bool:
        """Whether an effect was felt, and is not only supposed or in what somebody else wrote."""
        supposed = self._supposed(hit) or self.found.cues.before(hit, "supposed", SUPPOSED_REACH)
        return not supposed and not self.found.sentence(hit).quoted

    def of_a_size(self, size: Hit) -> Effect | None:
        """What a jet did that is told by its number and its effect alone; None where that is asked or supposed."""
        hit = self.found.did[size]
        return self.effect(hit) if self.really(hit) and not self.found.sentence(hit).asks else None

    def _names_next(self, hit: Hit) -> bool:
        """Whether the words before an effect lead to what is named behind it: "what helps: choke"."""
        words = self.found.book.names_next
        if words is None:
            return False
        small, start = self.found.small, self.found.symbols.starts[hit.first]
        begin = max(self.found.sentence(hit).start, start - NEXT_WORD)
        return any(not small[led.end() : start].strip() for led in words.finditer(small, begin, start))

    def _spoken_effects(self) -> Iterator[EffectSaid]:
        """The effects told by set words: "been fine ever since"."""
        for effect, start, end in self.spoken:
            first = bisect_left(self.found.symbols.starts, start)
            last = bisect_left(self.found.symbols.starts, end) - 1
            n = bisect_right(self.found.sentence_starts, start) - 1
            sentence = self.found.symbols.sentences[n]
            # of words that all carry nothing, the one before them stands for them
            first = min(first, max(last, sentence.first)) if last < first else first
            if first < sentence.last and not sentence.quoted and not sentence.asks:
                if self._only_thought(sentence.start, start, end):
                    continue
                told = self._while_it_lasted(self._unless_denied(effect, first), max(first, last))
                yield EffectSaid(first, max(first, last), told)

    def _unless_denied(self, effect: Effect, first: int) -> Effect:
        """A cure, or no change where it is denied: "it didn't do the trick"."""
        n = bisect_left(self.found.negators, first)
        denied = (
            n > 0
            and first - self.found.negators[n - 1] <= NEXT_TO
            and not self.found.broken(self.found.negators[n - 1], first)
        )
        return Effect.NO_CHANGE if denied and effect in (Effect.CURED, Effect.BETTER) else effect

    def effect(self, hit: Hit) -> Effect:
        """The effect as meant: what is nearly gone is better."""
        effect = self._while_it_lasted(Effect(hit.meaning.record), hit.last)
        if effect is Effect.WORSE and hit.meaning.more == "brought" and self._lessened(hit):
            return Effect.BETTER
        if effect is Effect.CAME_BACK and self.found.book.spells.soon(self.found.words(hit)):
            return Effect.CURED
        if effect not in (Effect.NO_CHANGE, Effect.CAME_BACK) and self._negated(hit):
            return Effect.NO_CHANGE
        if effect is Effect.NO_CHANGE:
            return Effect.CAME_BACK if self._well_until(hit) else self.though_better(effect, hit.last)
        if effect is not Effect.CURED or self.found.book.partly is None:
            return effect
        start = max(self.found.symbols.starts[hit.first] - NEXT_WORD, self.found.sentence(hit).start)
        partly = self.found.book.partly.search(self.found.text, start, self.found.symbols.ends[hit.last] + NEXT_WORD)
        return effect if partly is None else Effect.BETTER

    def though_better(self, effect: Effect, last: int) -> Effect:
        """An effect as it is with what is set against it behind a symbol: "still there, but less" is better."""
        return Effect.BETTER if effect is Effect.NO_CHANGE and self._better_though(last) else effect

    def _better_though(self, last: int) -> bool:
        """Whether words behind "the same" or "still" set against it that it is better: "the same, but not as bad"."""
        text, end = self.found.small, self.found.symbols.ends[last]
        n = bisect_right(self.found.sentence_starts, end) - 1
        stop = min(end + 3 * NEXT_WORD, self.found.symbols.sentences[n].end or len(text))
        but = self.found.book.but_better
        if but is not None and but.search(text, end, stop) is not None:
            return True
        better = [e for effect, s, e in self.spoken if effect is Effect.BETTER and end <= s and e <= stop]
        contrasts = self.found.book.language.contrasts
        return any(not set(contrasts).isdisjoint(text[end:e].replace(",", " ").split()) for e in better)

    def _lessened(self, hit: Hit) -> bool:
        """Whether only little is left of a trouble: "... and now it is only a (slight hesitation)"."""
        start, end, small = self.found.symbols.starts[hit.first], self.found.symbols.ends[hit.last], self.found.small
        before, behind = small[max(start - 2 * NEXT_WORD, 0) : start], small[end : end + 3 * NEXT_WORD]
        fewer = bisect_left(self.complaints, hit.first) > 0 and self.found.book.order.only_there(before, behind)
        return fewer or self.found.book.order.lessened(before)

    def _negated(self, hit: Hit) -> bool:
        """Whether a denial stands right before an effect, or in its gap: "no less pinging", "idles no smoother"."""
        found = self.found
        own = {at for first, last in hit.parts for at in range(first, last + 1)}
        n = bisect_left(found.negators, hit.first)
        if any(at not in own for at in found.negators[n : bisect_right(found.negators, hit.last)]):
            return True
        at = found.negators[n - 1] if n else -1
        if n == 0 or hit.first - at > _NEGATED or found.inside[at] or found.broken(at, hit.first):
            return False
        between = found.symbols.symbols[at + 1 : hit.first]
        told = any(found.inside[at + 1 : hit.first])  # "no bog now, better"
        return not told and not any(s in found.book.not_before for s in between)

    def _well_until(self, hit: Hit) -> bool:
        """Whether it ran well for a while since the last deed: "... ran great for two rides. Now it's the same"."""
        n = bisect_left(self.found.done_lasts, hit.first) - 1
        if n < 0:
            return False
        last, sentence_of = self.found.done_lasts[n], self.found.symbols.sentence_of
        if sentence_of[hit.first] - sentence_of[last] > 1:
            return False
        start, end = self.found.symbols.ends[last], self.found.symbols.starts[hit.first]
        return self.found.book.spells.well(self.found.small, max(start, end - 4 * NEXT_WORD), end)

    def _while_it_lasted(self, effect: Effect, last: int) -> Effect:
        """The effect as it was in the end: what helped for a span of time, and then no more, came back."""
        symbols, lasts = self.found.symbols, self.found.done_lasts
        if effect not in (Effect.CURED, Effect.BETTER):
            return effect
        ended = self.found.book.spells.ended(self.found.small, symbols.ends[last])
        if ended is None:
            return effect
        at = min(bisect_left(symbols.starts, ended), len(symbols.starts) - 1)
        other_deed = bisect_right(lasts, last) != bisect_left(lasts, at)
        apart = symbols.sentence_of[at] - symbols.sentence_of[last]
        return effect if other_deed or apart > 1 else Effect.CAME_BACK

    def _never(self, hit: Hit) -> bool:
        """Whether a clause tells what never was, and no effect: "it never did that before"."""
        return (
            self.found.text[self.found.symbols.starts[hit.first] : self.found.symbols.ends[hit.first]].lower()
            in self.found.book.turned_by
        )

    def _behind_a_deed(self, hit: Hit) -> bool:
        """Whether a deed stands shortly before, in the same sentence, and nothing sets the two against each other.

        In the next sentence, alone there, it must say that it is so now, or end the trouble: "Replaced the coil. Runs
        great now."
        """
        n = bisect_left(self.found.done_lasts, hit.first) - 1
        last = self.found.done_lasts[n] if n >= 0 else -1
        sentence = self.found.sentence(hit)
        if (
            last >= 0
            and self.found.symbols.sentence_of[hit.first] - self.found.symbols.sentence_of[last] == 1
            and self.found.alone(hit, self.found.deed_ends)
        ):
            if self.found.book.order.says_now(self.found.text[sentence.start : sentence.end]):
                return True
            n = bisect_left(self.complaints, last)
            behind = n == len(self.complaints) or self.complaints[n] >= sentence.last + PLACE_REACH
            return n > 0 and behind and self._of_that_trouble(hit, self.present[:n])
        near = last >= self.found.sentence(hit).first and hit.first - last <= PLACE_REACH
        return near and not self.found.contrast(last, hit.first)

    def _of_that_trouble(self, hit: Hit, complaint: list[Hit]) -> bool:
        """Whether words of a cure speak of where the trouble is: "idles perfect" is none for a blower without revs."""
        signs = self.found.k.findings
        spoken = {
            p for h in self.found.content if h.meaning.kind == "finding" and h.first <= hit.last and hit.first <= h.last
            for p in signs[h.meaning.record].at
        }  # fmt: skip
        told = {p for h in complaint[-_COMPLAINT:] for p in signs[h.meaning.record].at}
        return not spoken or not spoken.isdisjoint(told)

    def _only_thought(self, begin: int, start: int, end: int) -> bool:
        """Whether the words before set words make them a hope: "thought that was it, but ..."."""
        supposed = self.found.book.effect_supposed
        return supposed is not None and bool(supposed.search(self.found.text, max(begin, start - NEXT_WORD), end))

    def _supposed(self, hit: Hit) -> bool:
        """Whether the words before an effect say that it is only supposed: "would only make it worse"."""
        supposed, starts = self.found.book.effect_supposed, self.found.symbols.starts
        if supposed is None:
            return False
        cure = hit.meaning.record == Effect.CURED and hit.first == hit.last
        reach = 2 * NEXT_WORD if cure else NEXT_WORD  # "I thought I had it sorted"
        start = max(self.found.sentence(hit).start, starts[hit.first] - reach, starts[self.found.clause_first(hit)])
        return supposed.search(self.found.text, start, self.found.symbols.ends[hit.first]) is not None

    def _told_as_past(self, cue: Hit) -> bool:
        """Whether "keeps fouling" stands before any deed of its sentence: it tells of the trouble, and no effect."""
        n = bisect_left(self.found.done_lasts, cue.first) - 1
        after_a_deed = n >= 0 and self.found.done_lasts[n] >= self.found.sentence(cue).first
        return not after_a_deed and self.found.words(cue).lower() in self.found.book.language.order.keeps

    def _of_a_check(self, hit: Hit) -> bool:
        """Whether an effect is only the end of what a check showed: "the screws don't change anything".

        Of a deed listed before the check it tells as well: "new fuel filter, gas cap loose, no change".
        """
        n = bisect_right(self.check_firsts, hit.first)
        told = [c for c in self.checks[max(n - 4, 0) : n] if c.first < hit.first <= c.last]
        return any(self._first_deed(self.found.sentence(c).first, hit.first) > c.first for c in told)

    def _first_deed(self, first: int, last: int) -> int:
        """Where the first deed from one symbol up to another begins; the other, where there is none."""
        n = bisect_left(self.deed_firsts, first)
        return self.deed_firsts[n] if n < len(self.deed_firsts) and self.deed_firsts[n] < last else last

    def _only_so(self, hit: Hit) -> bool:
        """Whether an effect only holds at a time or with a thing, and no deed follows: "runs better with choke"."""
        if hit.meaning.more != "beside" and hit.meaning.record not in _GRADED:
            return False
        sentence = self.found.sentence(hit)
        # "at full it is improved" tells where; "if I put the lid back on it pulls better" tells when
        clause, book = self.found.clause_first(hit), self.found.book
        for first, conditions in ((sentence.first, book.conditions), (clause, book.conditioned_by)):
            if self.found.symbols.openers.get(first, "") not in conditions:
                continue
            n = bisect_left(self.found.done_lasts, first)
            if not (n < len(self.found.done_lasts) and self.found.done_lasts[n] < hit.first):
                return True  # "if I pull the choke it goes better"
        end = self.found.symbols.starts[hit.last + 1] if hit.last + 1 < sentence.last else sentence.end
        start = self.found.symbols.ends[hit.last]
        following = self.found.text[start : start + NEXT_WORD].lower().replace("’", "'").split()
        if not following or following[0].strip(",.;:!?") not in self.found.book.effect_unless or start > end:
            return False
        n = bisect_left(self.found.done_lasts, hit.last + 1)
        return not (n < len(self.found.done_lasts) and self.found.done_lasts[n] - hit.last <= CUE_REACH)

    def _was_earlier(self, hit: Hit) -> bool:
        """Whether the clause of an effect ends by saying that it was so earlier: "it didn't do this before"."""
        end = self.found.symbols.ends[hit.last]
        said = CUT.split(self.found.small[end : min(end + 2 * NEXT_WORD, self.found.sentence(hit).end)])[0]
        return said.strip() in self.found.book.effect_earlier

    def _though(self, hit: Hit) -> bool:
        """Whether a sentence ends in "though": "still sooty though" says that it is better otherwise."""
        sentence = self.found.sentence(hit)
        said = self.found.small[max(sentence.start, sentence.end - NEXT_WORD) : sentence.end].rstrip(" .!?,;\n")
        return said.endswith(self.found.book.language.order.though)

    def _less_but(self, cue: Hit) -> bool:
        """Whether it is better, though not right, since the deed before: "comes down quicker now but still hangs"."""
        found, words = self.found, self.found.book.comparatives
        n = bisect_left(found.done_lasts, cue.first) - 1
        sentence = found.sentence(cue)
        if n < 0 or words is None:
            return False
        last = max(found.done_lasts[n], sentence.first - 1)
        far = found.symbols.sentence_of[cue.first] - found.symbols.sentence_of[found.done_lasts[n]] > 1
        denied = ends_between(found.negators, last, cue.first)
        if far or denied or last >= cue.first or not found.broken(last, cue.first):
            return False
        start, end = max(found.symbols.ends[last] if last >= 0 else 0, sentence.start), found.symbols.starts[cue.first]
        return words.search(found.text, max(start, end - 4 * NEXT_WORD), end) is not None

    def _still(self, cue: Hit, last: int) -> Effect:
        """What "still" tells of the deed before it: nothing changed, unless it is better all the same."""
        return Effect.BETTER if self._less_but(cue) or self._better_though(last) else Effect.NO_CHANGE

    def _stays_in(self, cue: Hit) -> bool:
        """Whether "still" is told of the part before it, and of nothing behind it: "38 pilot still in"."""
        breaks, behind = self.found.symbols.breaks, cue.last + 1
        of_a_part = cue.first - 1 in self.found.deeds.part_lasts and cue.first not in breaks
        return of_a_part and (behind in breaks or behind == self.found.sentence(cue).last)

    def still(self, present: list[Hit]) -> Iterator[EffectSaid]:
        """ "Still" before a sign, or at the head of a clause: what was done before changed nothing."""
        lasts = self.found.cues.lasts("still")
        present = [h for h in present if not self._though(h)]
        for hit in present:
            n = bisect_right(lasts, hit.first)
            if n and 0 <= hit.first - lasts[n - 1] <= GONE_REACH and lasts[n - 1] >= self.found.sentence(hit).first:
                cue = self.found.cues.of("still")[n - 1]
                if self._told_as_past(cue):
                    continue
                yield EffectSaid(cue.last, hit.last, self._still(cue, hit.last))
        good = sorted(v.first for v in self.found.deeds.verdicts if v.meaning.record == "good")
        inside = {at for e in self.found.effects if e.meaning.record in _GRADED for at in range(e.first, e.last)}
        for cue in self.found.cues.of("still"):
            n = bisect_left(good, cue.last)
            well = n < len(good) and good[n] - cue.last <= GONE_REACH
            own = cue.last + 1 in self.found.deeds.part_firsts  # "kept the main jet"
            own = own or self._stays_in(cue)
            graded = cue.last in inside  # "still better the further I go"
            if self._told_as_past(cue) or self._though(cue):
                continue
            if cue.first - self.found.clause_first(cue) <= NEXT_TO and not (
                self.found.sentence(cue).quoted or well or own or graded
            ):
                yield EffectSaid(cue.first, cue.last, self._still(cue, cue.last))
