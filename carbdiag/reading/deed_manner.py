"""Whether what a verb says was done: told as done, named, planned, denied, somebody else's, or done before."""

from __future__ import annotations

from bisect import bisect_left
from itertools import pairwise
from typing import Final

from carbdiag.reading.deed_book import How
from carbdiag.reading.deed_text import AFTER, BACK, CUT, LISTED, LOOK_BACK, WORD, DeedText, Item
from carbdiag.reading.matcher import Hit
from carbdiag.reading.symbols import BUT

#: Words that count between the verbs of two items of a list.
_IN_A_LIST: Final = 5
#: Words of a label: "my mate's quad:".
_IN_A_LABEL: Final = 4


class DeedManner(DeedText):
    """How the verbs of a text are told."""

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
            governs = self._verb_before(verb, LISTED)
            if governs is not None:
                sought = governs.meaning.record == self.book.words.looking and "for" in back[:1]
                # "put a new cap on" may be advice
                sized = verb.meaning.record != self.book.words.adjectives[0]
                begun = How.DONE if sized and self._begins_told(governs) else self.how(governs, True)
                return How.PLANNED if sought else begun
            planned = bool(back) and back[0] in self.book.plans
            if not planned and back and back[0] in self.book.had:
                return How.DONE  # "had a new diaphragm last week"
            if not planned and not self._listed_after_a_plan(verb, back):
                # "fresh gas" alone may only describe; in a list of deeds, or with an effect, it was done
                return How.NAMED
        elif form == "ing":
            planned = bool(back) and (back[0] in self.book.plans_ing or back[0] in self.book.plans)
            planned = planned or self._asks_if(verb)
            form = "past"
        else:
            planned = self._is_a_plan(back) or (form == "bare" and bool(back) and back[0] in self.book.plans_bare)
        if planned and {*back[:1]} & self.book.ends_with and self._is_past(verb, form):
            planned = False  # "nothing helped until I replaced the coil"
        elif planned and self._had_done(verb):
            planned = False
        if planned or self._listed_after_a_plan(verb, back):
            return How.PLANNED
        # "after a carb rebuild", "had the shop clean it"
        done = self._notes_a_step(verb) or self._is_told(verb)
        done = done or form == "past" or not leads or any(w in self.book.had for w in back[:4])
        return How.DONE if done else How.NAMED

    def _notes_a_step(self, verb: Hit) -> bool:
        """Whether a clause begins with the way and the number of steps: "up two on the main", "1 up on the pilot"."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[verb.first]]
        values, first = self.symbols.values, verb.first
        behind = verb.first == verb.last and verb.last + 1 in values and self.begins_a_clause(first)
        before = first - 1 in values and not self._break(first - 1, first) and self.begins_a_clause(first - 1)
        counted = (behind or before) and self.book.moves.tells_a_way(self._word(verb))
        return counted and not (sentence.asks or sentence.quoted)

    def _asks_if(self, verb: Hit) -> bool:
        """Whether a clause that begins with a deed asks whether it would be right: "going down to 135 ok?"."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[verb.first]]
        if not sentence.asks or not self.begins_a_clause(verb.first):
            return False
        asked = self.text[self.symbols.starts[verb.first] : sentence.end or len(self.text)].lower().rstrip("?!. ")
        return asked.endswith(self.book.asked_if)

    def _is_told(self, verb: Hit) -> bool:
        """Whether a form that may be the past stands behind who did it: "I put", "they set"."""
        return self._word(verb) in self.book.same_in_past and bool(self.book.subjects & {*self._back(verb)[:1]})

    def _begins_told(self, verb: Hit) -> bool:
        """Whether a form that may be the past begins a sentence: "Put a smaller pilot in"."""
        sentence = self.symbols.sentences[self.symbols.sentence_of[verb.first]]
        first = verb.first == sentence.first and not sentence.asks and not sentence.quoted
        return first and self._word(verb) in self.book.same_in_past

    def _is_past(self, verb: Hit, form: str) -> bool:
        """Whether a form behind "until" tells what was done, not what is waited for."""
        return (form == "past" and not self._present(verb)) or self._is_told(verb)

    def _had_done(self, verb: Hit) -> bool:
        """Whether "I'd" is "I had": "I'd replaced the coil", but "I'd replace it" and "I'd have replaced it"."""
        back = self._back(verb)
        n = next((n for n, w in enumerate(back) if w in self.book.had_or_would), len(back))
        near = n < len(back) and self.book.helpers.isdisjoint(back[:n]) and self.book.skipped.issuperset(back[:n])
        return near and self._word(verb).endswith(self.book.words.ending_past)

    def _present(self, verb: Hit) -> bool:
        return self._word(verb).endswith(self.book.words.present_ending)

    def brought_on(self, verb: Hit, item: Item) -> bool:
        """Whether all was well until it was done: "ran fine until I cleaned the carb"."""
        return self.began_with(verb if verb.first <= item.first else item.hits[0])

    def began_with(self, deed: Hit) -> bool:
        """Whether the words before a deed say that all was well until then: "never surged until I"."""
        start = self.symbols.starts[deed.first]
        sentence = self.symbols.sentences[self.symbols.sentence_of[deed.first]]
        said = CUT.split(self.text[max(sentence.start, start - 2 * BACK) : start].lower())[-1]
        said = said.replace("\u2019", "'")
        back = WORD.findall(said)[::-1]
        until = next((n for n, w in enumerate(back[:LOOK_BACK]) if w in self.book.ends_with), len(back))
        before = back[until + 1 :]
        if before and self.book.not_so is not None and self.book.not_so.search(said):
            return True
        never = next((n for n, w in enumerate(before) if w in self.book.never), 0)
        if never:
            return before[never - 1] not in self.book.runs  # but "it never started until"
        no_trouble = any(w in self.book.troubles and v in self.book.none for w, v in pairwise(before))
        return no_trouble or not self.book.well.isdisjoint(before[:1])

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
        if (back and back[0] not in self.book.joins) or not self.book.therefore.isdisjoint(self._back(verb)[:1]):
            return False  # "the shop said two up, so went 160 to 165"
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

    def _somebody_elses(self, verb: Hit, item: Item) -> bool:
        if self.book.tell_whose.isdisjoint(self._sentence_words(verb)):
            return False
        first, last = sorted((verb.last, item.first)) if verb.last < item.first else (item.last, verb.first)
        between = self.text[self.symbols.ends[first] : self.symbols.starts[last]].lower()
        words = {*WORD.findall(between), *self._back(item.hits[0])[:2], *self._back(verb)[:2]}
        if self._of_another_rider(verb) or self._labeled_as_anothers(min(verb.first, item.first)):
            return True
        behind = {*self._behind_words(max(verb.last, item.last))[:3]}
        if not (self.book.owners_of & words or self.book.not_mine & behind):
            return bool(self.book.owners & words)
        start = self.symbols.starts[min(verb.first, item.first)]
        sentence = self.symbols.sentences[self.symbols.sentence_of[verb.first]]
        before = {*WORD.findall(self.text[max(sentence.start, start - 2 * BACK) : start].lower())}
        return bool(self.book.owners & words or self.book.people & before)

    def _labeled_as_anothers(self, at: int) -> bool:
        """Whether a note is about somebody else's machine: "mate's quad: new coil cured it"."""
        start = self.symbols.starts[at]
        sentence = self.symbols.sentences[self.symbols.sentence_of[at]]
        label = self.text[max(sentence.start, start - BACK) : start].lower().replace("\u2019", "'")
        words = WORD.findall(label.partition(":")[0]) if ":" in label else []
        return len(words) <= _IN_A_LABEL and not self.book.not_mine.isdisjoint(words)

    def _of_another_rider(self, verb: Hit) -> bool:
        """Whether somebody with a machine of his own did it: "my buddy with the same bike went down"."""
        said = self._back(verb)
        return not self.book.people.isdisjoint(said) and not self.book.alike.isdisjoint(said)

    def _sentence_words(self, verb: Hit) -> set[str]:
        """The words of the sentence of a verb."""
        n = self.symbols.sentence_of[verb.first]
        known = self._words_of.get(n)
        if known is None:
            sentence = self.symbols.sentences[n]
            said = self.text[sentence.start : sentence.end].lower().replace("’", "'")
            known = self._words_of[n] = {*WORD.findall(said)}
        return known

    def _before(self, verb: Hit, item: Item) -> bool:
        """Whether the post says that a deed came before the trouble."""
        hit = verb if verb.first <= item.first else item.hits[0]
        if not self.book.before.isdisjoint(self._back(hit)) or self.brought_on(verb, item):
            return True
        end = self.symbols.ends[max(verb.last, item.last)]
        after = WORD.findall(self.text[end : end + BACK].lower())[:LOOK_BACK]
        return not self.book.now.isdisjoint(after)

    def denied(self, verb: Hit) -> bool:
        """Whether a word of denial stands right before a verb in its clause: "never cleaned the carb"."""
        n = bisect_left(self.negators, verb.first - 2)
        at = self.negators[n] if n < len(self.negators) else verb.first
        same = at < verb.first and self.symbols.sentence_of[at] == self.symbols.sentence_of[verb.first]
        return same and at not in self.effects and not self._break(at, verb.first)

    def _not_done(self, verb: Hit) -> bool:
        """Whether the sentence says that its deeds are still to be done: "bought a coil but haven't fitted it"."""
        return self.not_done_at(verb.first)

    def not_done_at(self, at: int) -> bool:
        """Whether the sentence of a symbol says that its deeds are still to be done."""
        n = self.symbols.sentence_of[at]
        if n not in self._undone:
            sentence = self.symbols.sentences[n]
            said = self.text[sentence.start : sentence.end].replace("’", "'")
            self._undone[n] = self.book.not_done is not None and self.book.not_done.search(said) is not None
        return self._undone[n]

    def _how_done(self, verb: Hit, item: Item) -> How:
        """How a deed is told, from what stands before its verb, and before its part where the verb follows."""
        if self._somebody_elses(verb, item) or self.denied(verb) or self._not_done(verb):
            return How.PLANNED
        if verb.first > item.last:
            back = [w for w in self._back(item.hits[0]) if w not in self.book.skipped]
            if back and back[0] in self.book.plans:
                return How.PLANNED
        return self.how(verb, verb.last < item.first)

    def _how_described(self, adjective: Hit) -> How:
        """How "a new plug" is told: as the verb before it, otherwise as so."""
        how = self.how(adjective, True)
        return How.DONE if how is How.NAMED and self._verb_before(adjective, LISTED) is None else how

    def how_of(self, hit: Hit) -> How:
        """How the words of a phrase are told: as the verb in them or right before them; otherwise as done."""
        looks, acts = hit.meaning.kind == "check", hit.meaning.kind in ("do", "change")
        if looks and self._tells_to(hit):
            return How.PLANNED
        inside = bisect_left(self.verb_firsts, hit.first)
        before = bisect_left(self.verb_firsts, hit.first - LISTED)
        for verb in (*self.verbs[inside : inside + 4], *self.verbs[before:inside]):
            if verb.first > (hit.last if acts else hit.first + 1):
                continue
            if looks and verb.meaning.record not in (self.book.words.looking, *self.book.adjectives):
                continue
            if hit.meaning.kind == "context" and hit.first < verb.first and self._of_a_thing(hit.first, verb.first):
                continue  # "jets from the kit" names a thing
            described = verb.meaning.record in self.book.adjectives
            led = not self.book.articles.isdisjoint(self._back(verb)[:1])
            if led and hit.meaning.kind == "context" and not described:
                continue  # "stock apart from an (open) filter"
            same = self.symbols.sentence_of[verb.first] == self.symbols.sentence_of[hit.first]
            if same and (verb.first >= hit.first or not self._break(verb.first, hit.first)):
                if hit.meaning.kind == "context" and self._is_told(verb) and not self._is_a_plan(self._back(verb)):
                    return How.DONE  # "it ran when I (put it away last fall)"
                return self._how_described(verb) if described else self.how(verb, False)
        return How.DONE

    def _of_a_thing(self, first: int, last: int) -> bool:
        """Whether words between two symbols make the second a thing that the first is of: "jets from the (kit)"."""
        return bool(self.book.inside & self._words_between(first, last))

    def _tells_to(self, hit: Hit) -> bool:
        """Whether what could be how a part is tells somebody to do it: "mate says (clean the tank)"."""
        n = bisect_left(self.verb_firsts, hit.first)
        verb = self.verbs[n] if n < len(self.verbs) and self.verb_firsts[n] == hit.first else None
        if verb is None or hit.last != verb.last + 1 or verb.meaning.record in self.book.adjectives:
            return False
        if self._word(verb) in self.book.same_in_past:
            return False  # "set the valves"
        between = self._words_between(verb.last, hit.last)
        return self._form(verb) == "bare" and bool(between) and between <= self.book.determiners

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

    def led_by_after(self, deed: Hit) -> bool:
        """Whether a deed is told as what came before the one named first: "a coil after a new plug"."""
        return not self.book.after.isdisjoint(self._back(deed)[:2])

    def after_something(self, first: int, last: int) -> bool:
        """Whether from one symbol up to another some deed is told so, whatever it was: "after cleaning the old one"."""
        start, end = self.symbols.starts[first], self.symbols.starts[last]
        words = WORD.findall(CUT.split(self.text[start:end].lower())[-1])
        ending = self.book.words.ending_ing
        return any(w in self.book.after and v.endswith(ending) for w, v in pairwise(words))

    def likened(self, hit: Hit) -> bool:
        """Whether a hit is only likened to: "as if it got no fuel"."""
        words = self._back(hit)[: AFTER + 1]
        turns = {f"{before} {word}" for word, before in pairwise(words)}
        return not self.book.similes.isdisjoint({*words[:AFTER]} | turns)
