"""What was found in a post and counts: statements, deeds, places, effects and the small words that set them aside."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain

from carbdiag import reading_schema as out
from carbdiag.knowledge import Knowledge
from carbdiag.reading.arrows import arrow_before
from carbdiag.reading.beside_openings import BesideOpenings, is_open
from carbdiag.reading.book_numbers import beside_the_book
from carbdiag.reading.both_ways import both_ways
from carbdiag.reading.cues import Cues
from carbdiag.reading.deed_book import How, Told
from carbdiag.reading.deeds import Deeds
from carbdiag.reading.denials import Denials
from carbdiag.reading.further_turned import further_turned
from carbdiag.reading.jet_numbers import changed_by_number, changed_without_a_name, put_in_for_another
from carbdiag.reading.jet_sizes import JetSizes, told_by_a_change
from carbdiag.reading.jets_in_it import jets_taken_out
from carbdiag.reading.long_ago import sentences_long_ago
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.moved_again import moved_again
from carbdiag.reading.openings import bare_openings, stretches
from carbdiag.reading.phrasebook import Phrasebook
from carbdiag.reading.post import Post
from carbdiag.reading.ranges_told import as_openings
from carbdiag.reading.reaches import GONE_REACH, NEXT_WORD, PLACE_REACH
from carbdiag.reading.relative_places import resolved
from carbdiag.reading.sieve import Sieve
from carbdiag.reading.spans import covered, ends_between, longest, unless_taken, without_decoys
from carbdiag.reading.spoken import Turn
from carbdiag.reading.symbols import SymbolText
from carbdiag.reading.turns_compared import turns_compared
from carbdiag.reading.ways_compared import ways_compared
from carbdiag.terms import Effect

_KIND = {
    **dict.fromkeys(("finding", "context", "check", "do", "change"), "content"),
    **dict.fromkeys(("kept", "fact", "quantity"), "fact"),
}
#: What may stand before the first words of a clause; nothing at the beginning of a text.
_CLAUSE_BEGINS = ("", *".,;:!?-)")
_OF_DEEDS = ("verb", "part", "verdict", "effect")
#: Effects that say by themselves what something did.
_PLAIN_EFFECTS = ("", "alone", "same")


class Found(Post):
    """A post with what was found in it."""

    def __init__(self, k: Knowledge, book: Phrasebook, text: str, symbols: SymbolText) -> None:
        super().__init__(book, text, symbols)
        self.k = k
        self.aside: list[out.SetAside] = []
        found = book.matcher.find(symbols)
        by_kind = _by_kind(found)
        # "nothing but bog" is no "nothing"
        decoys = [h for h in by_kind.get("decoy", []) if len(h.parts) > 1 or not self.contrast(h.first, h.last)]
        self._find_turns()
        self._find_denials(decoys)
        self.deed_ends: frozenset[int] = frozenset()
        sieve = Sieve(k, self, self.negators, by_kind.get("verb", []))
        named = without_decoys(filter(sieve.is_a_place, by_kind.get("place", [])), decoys)
        named += bare_openings(book.openings, self.small, symbols)
        alone, self.ranges = as_openings(book.ranges, longest(named), self.ranges, symbols)
        openings = stretches(k, book.openings, self.small, symbols, alone)
        openings = sorted([*openings, *(r.hit for r in self.ranges)], key=lambda p: (p.first, -p.last))
        self._openings = [p for p in openings if not p.meaning.more]
        measured = sieve.measured(found.get("measured", []))
        content = without_decoys([*by_kind.get("content", []), *measured], decoys)
        beside = BesideOpenings(k, self, openings, self.ranges, self.scarcely)
        #: Openings at which it is told to run right: no trouble is there.
        self.well = beside.well
        content = [h for h in content if not beside.across_a_range(h)]
        content = beside.statements(sieve.content(content, by_kind.get("helper", [])), named)
        self.deeds = Deeds(book.deeds, text, symbols, self._words_of_deeds(sieve, by_kind, openings))
        effects = self._whole_effects(by_kind.get("effect", []), decoys)
        self.content = self._stated(content, sieve, [h for h in effects if h.meaning.more in _PLAIN_EFFECTS])
        self.inside = covered(self.content, len(symbols.symbols))
        self._shared = self._denials_shared()
        #: Where words of denial stand that are part of no statement.
        self.free_negators = [at for at in self.negators if at not in self._shared]
        self._find_places(openings)
        others = without_decoys(by_kind.get("fact", []), decoys)
        # "the high speed screw" tells of no speed
        self.others = [h for h in others if h.meaning.kind != "kept" or not sieve.in_a_compound(h)]
        self.effects = self._effects_of_deeds(effects)
        # "between a quarter and maybe half" is not said with doubt
        long = covered([r.hit for r in self.ranges if not r.apart], len(symbols.symbols))
        cues = [h for h in by_kind.get("cue", []) if not any(all(long[a : b + 1]) for a, b in h.parts)]
        cues = longest(without_decoys(cues, decoys), by_record=True)
        # "it never used to, but now it surges" tells of no surging that is past
        cues = [h for h in cues if h.first == h.last or not self.contrast(h.first, h.last)]
        self.cues = Cues(self, [h for h in cues if h.meaning.record != "gone" or self._goes(h)])

    def _find_denials(self, decoys: Iterable[Hit]) -> None:
        # A circumstance may be told inside a sign ("harder and harder to start"), so the two do not hide each other.
        hidden = {at for h in decoys for first, last in h.parts for at in range(first, last + 1) if first < last}
        # "barely open" is an opening, and denies nothing
        in_ranges = {at for r in self.ranges if not r.apart for at in range(r.hit.first, r.hit.last + 1)}
        self.scarcely = {at for at in in_ranges if self.book.negators.match(self.symbols.symbols[at])}
        hidden |= in_ranges
        self.denials = Denials(self)
        self.negators = [
            at for at in map(re.Match.start, self.book.negators.finditer(self.symbols.symbols))
            if at not in hidden and not self.denials.seems(self.symbols.starts[at])
        ]  # fmt: skip

    def _words_of_deeds(
        self, sieve: Sieve, by_kind: Mapping[str, Sequence[Hit]], openings: Iterable[Hit]
    ) -> dict[str, list[Hit]]:
        of_deeds = {kind: longest(_unpointed(sieve.counted(kind, by_kind.get(kind, ())))) for kind in _OF_DEEDS}
        # "worse at wide open" finds nothing wide, "better flat out" nothing flat
        long = covered([p for p in openings if p.first < p.last], len(self.symbols.symbols))
        of_deeds["verdict"] = [v for v in of_deeds["verdict"] if not all(long[v.first : v.last + 1])]
        return of_deeds

    def _whole_effects(self, effects: Iterable[Hit], decoys: list[Hit]) -> list[Hit]:
        kept = without_decoys(effects, decoys)
        # "dies coming to a stop, pops" tells of no popping that stopped
        kept = [h for h in kept if h.flows or not ends_between(self.commas, h.first, h.last)]
        # nor does "fine otherwise, 20000 km on it" tell of a fault that came back
        return [h for h in kept if len(h.parts) > 1 or "," not in self.words(h)]

    def _effects_of_deeds(self, effects: Iterable[Hit]) -> list[Hit]:
        # "went from a 2.5 to a 3.0, cleaner" does not say that it went cleaner
        kept = [h for h in effects if not (self._tells_two_sizes(h) or self.deeds.moves_a_size(h))]
        kept = [h for h in kept if not self._helps_somebody(h) and not self._is_a_deed(h)]
        kept = [h for h in kept if h.meaning.more != "pointed" or self._pointed_at(h)]
        return longest([h for h in kept if h.meaning.more != "brought" or self._brought(h)])

    def _find_places(self, openings: Iterable[Hit]) -> None:
        # "opened the screw a quarter" names no opening
        places = [p for p in openings if p.first < p.last or p.last not in self.deed_ends]
        # the border of a limit is the trouble's, and not what runs right
        told = {r.hit: r for r in self.ranges}
        places = [told[p].inside() if p in told and p.first in self.well else p for p in places]
        self.places = list(resolved(self.k, self.symbols, places, {*told}))
        #: Where all that follows a limit is told, and nothing before it: "fine to half, (then) it bogs".
        self.then_firsts = frozenset(r.hit.first for r in self.ranges if r.apart and not r.hit.meaning.more)
        #: Where an opening is told by another: "everywhere else".
        self.relative_firsts = sorted(p.first for p in places if p.meaning.more)
        self.place_firsts = [p.first for p in self.places]

    def _denials_shared(self) -> dict[int, list[tuple[str, int, int]]]:
        """Where words of denial stand in statements -> what each states, how far its part and its next one reach."""
        shared: dict[int, list[tuple[str, int, int]]] = {}
        denials = frozenset(self.negators)
        for hit in self.content:
            for n, (first, last) in enumerate(hit.parts):
                behind = hit.parts[n + 1][1] if n + 1 < len(hit.parts) else -1
                for at in denials.intersection(range(first, last + 1)):
                    shared.setdefault(at, []).append((hit.meaning.record, last, behind if first == last else -1))
        return shared

    def is_shared(self, negator: int, hit: Hit) -> bool:
        """Whether a denial that is part of another statement denies this one too: "never (runs dry)".

        What begins in the part that it denies there, or holds the part it denies from afar: "no (oil in the airbox)".
        """
        return any(
            negator < hit.first <= last or negator + 1 == hit.first <= behind <= hit.last
            for record, last, behind in self._shared.get(negator, ())
            if record != hit.meaning.record
        )

    def alone_but_for_an_opening(self, hit: Hit) -> bool:
        """Whether a hit is a clause of its own, or one with the opening it is told of: "(the same) at half"."""
        n = bisect_left(self.place_firsts, hit.first)
        first, last = hit.first, hit.last
        behind = self.places[n] if n < len(self.places) and not self.inside[self.places[n].first] else None
        if behind is not None and behind.first == last + 1 and last + 1 not in self.symbols.breaks:
            last = behind.last
        if n and self.places[n - 1].last == first - 1 and first not in self.symbols.breaks:
            first = self.places[n - 1].first
        return any(self.alone(hit._replace(first=f, last=last), self.deed_ends) for f in (hit.first, first))

    def _tells_two_sizes(self, effect: Hit) -> bool:
        """Whether two numbers stand in the gap of an effect, so that its verb moved a setting."""
        inside = {at for first, last in effect.parts for at in range(first, last + 1)}
        gap = (at for at in range(effect.first, effect.last) if at not in inside)
        return sum(at in self.symbols.values for at in gap) > 1

    def _goes(self, cue: Hit) -> bool:
        """Whether "gone" says that a sign went, and is no part of one: "the power went away", "won't pull anymore"."""
        if all(self.inside[cue.first : cue.last + 1]):
            return False
        of_denied = self.words(cue).lower() in self.book.language.order.gone
        n = bisect_left(self.negators, cue.first) - 1
        near = n >= 0 and cue.first - self.negators[n] <= GONE_REACH + 1
        return not (of_denied and near and self.inside[self.negators[n]])

    def _stated(self, content: list[Hit], sieve: Sieve, effects: Sequence[Hit]) -> list[Hit]:
        """The statements, with what was done and found put together from verbs, parts and verdicts."""
        self.spoken = self.book.expressions.find(self.text)
        told, is_a_change = self._told_deeds(effects, content)
        self.told = told
        self.jets_out = jets_taken_out(self)
        content = [h for h in content if not is_a_change(h)]
        done = [h for h in told if h.meaning.kind != "context"]
        # settings moved that a phrase tells: "two washers under the needle"
        phrased = [h for h in content if h.meaning.kind == "change" and not self.deeds.denied(h)]
        acts = [h for h in done if h.meaning.kind != "check"]
        self.deed_ends = frozenset(at for h in (*acts, *phrased) for at in self._ends_of(h))
        told_done = [h for h in acts if _done(told[h])] + phrased
        self.done_lasts = sorted(h.last for h in told_done)
        self.change_lasts = sorted(h.last for h in told_done if h.meaning.kind == "change")
        self.set_up = {h.first for h, t in told.items() if h.meaning.kind == "context" and not t.only_before}
        # "no spark at the plug" tells of none, and "a good spark plug" of no spark
        spoken = (h for h in self._spoken("check") if h.first - 1 not in self.negators)
        done += [h for h in spoken if not sieve.in_a_compound(h)]
        moved = [part for h in done if h.meaning.kind == "change" for part in h.parts]
        contexts = longest(self._contexts_beside(done, moved, content), by_record=True)
        of_signs = [*self._signs_beside(done, moved, content), *self._spoken("finding")]
        signs = longest(of_signs)
        signs += self._faults_in_a_state(of_signs, signs)
        content = [h for h in (*done, *signs) if not self._names_the_book(h)]
        content = sorted([*content, *contexts], key=lambda h: (h.first, -h.last, h.meaning))
        return list(sieve.narrowed(unless_taken(content, set(self.negators))))

    def _faults_in_a_state(self, signs: Iterable[Hit], kept: Sequence[Hit]) -> list[Hit]:
        """The faults inside the words of a state of the engine, each at its opening: "hot it (bogs) at half"."""
        findings = self.k.findings
        states = [h for h in kept if h.meaning.kind == "finding" and findings[h.meaning.record].in_state]
        if not states:
            return []
        inner = (h for h in signs if h.meaning.kind == "finding" and not findings[h.meaning.record].in_state)
        inside = [h for h in inner if h not in kept and any(s.first <= h.first and h.last <= s.last for s in states)]
        return [h for h in longest(inside) if any(self._beside_an_opening(h, p) for p in self._openings)]

    def _beside_an_opening(self, hit: Hit, place: Hit) -> bool:
        """Whether an opening above idle stands shortly behind a sign, in its clause."""
        near = 0 < place.first - hit.last <= PLACE_REACH and not self.broken(hit.last, place.first)
        return near and is_open(self.k, place)

    def _told_deeds(
        self, effects: Sequence[Hit], content: Sequence[Hit]
    ) -> tuple[dict[Hit, Told], Callable[[Hit], bool]]:
        """What was done, by its words; and whether what else they tell is only a jet's change."""
        signs = [h for h in content if h.meaning.kind == "finding"]
        looks = [h for h in content if h.meaning.kind == "check"]
        by_number = chain(changed_by_number(self.deeds), changed_without_a_name(self.k, self.deeds))
        told = [*self.deeds.told(self.negators), *by_number, *put_in_for_another(self.k, self.deeds)]
        jets = JetSizes(self.k, self.deeds, {h.first for h in (*signs, *effects)}, told)
        self.jets, self.jets_since = jets.sizes, jets.since()
        """The numbers that stand for jets, in order."""
        # "102 no pinging" is no jet that changed nothing
        shown = covered(signs, len(self.symbols.symbols))
        tried = dict(jets.tried(told, [h for h in effects if not all(shown[h.first : h.last + 1])]))
        tried.update(further_turned(self.deeds, effects))
        tried.update(turns_compared(self.k, self.deeds, effects))
        said = [*effects, *self._effects_spoken()]
        for way, effect, item in list(ways_compared(self.deeds, [*told, *tried], said)):
            tried[way] = effect
            told = [t for t in told if t.hit.meaning.kind != "do" or t.hit.last < item.first or item.last < t.hit.first]
        for both in both_ways(self.deeds, effects):
            if any(both.first <= h.last and h.first <= both.last for h in looks):
                continue  # "air screw out or in makes no difference" is what a check found
            told = [
                t for t in told
                if t.hit.meaning[:2] != ("change", both.circuit) or t.hit.last < both.first or both.last < t.hit.first
            ]
            tried.update(both.told)
        self.did = {t.hit: effect for t, effect in tried.items()}
        """What the jets did that are told by their numbers and that alone."""
        told += tried
        told += jets.put_in(told)
        beside = list(beside_the_book(self.k, self.deeds, [t.hit for t in told if t.hit.meaning.kind == "change"]))
        fitted = list(jets.fitted([*told, *beside]))
        self.fitted = {t.hit for t in fitted}
        """The jets told as in it now beside the ones that were."""
        told += fitted
        again = list(moved_again(self.deeds, told))
        self.again = {t.hit for t in again}
        """Settings moved once more, of which each tells its own effect."""
        told += again
        is_a_change = told_by_a_change(self.k, self.symbols.values, told)
        told = [t for t in told if not is_a_change(t.hit)]
        # "a 142 main (stock is 135)" is no stock main
        taken = {(t.hit.meaning.record, self.symbols.sentence_of[t.hit.first]) for t in beside}
        told = [t for t in told if (t.hit.meaning.record, self.symbols.sentence_of[t.hit.first]) not in taken]
        return _surest([*told, *beside]), is_a_change

    def _effects_spoken(self) -> Iterator[Hit]:
        """The effects told by set words: "it cleared up"."""
        for effect, start, end in self.book.effects_spoken.standing(self.small.replace("\u2019", "'")):
            first = bisect_left(self.symbols.starts, start)
            last = max(bisect_left(self.symbols.starts, end) - 1, first)
            if last < len(self.symbols.starts):
                yield Hit(first, last, Meaning("effect", effect.value), ((first, last),))

    def _contexts_beside(
        self, done: Iterable[Hit], moved: Iterable[tuple[int, int]], content: Iterable[Hit]
    ) -> list[Hit]:
        """The circumstances told, without those that the words of a deed only seem to tell."""
        stated = [h for h in content if h.meaning.kind in ("context", "finding")]
        # "it picked up a slight miss" is no machine picked up, nor is "picked up a new plug"
        things = {h.first for h in stated if h.meaning.kind == "finding"} | {*self.deeds.part_firsts}
        contexts = [h for h in stated if h.meaning.kind == "context"]
        contexts += [h for h in self._spoken("context") if not (self._leads_to_a_thing(h) and self._next(h) & things)]
        contexts += [h for h in self.told if h.meaning.kind == "context"]
        # nor does "the clip was moved down" tell that somebody went down a mountain
        begin = {*self.deeds.verb_firsts}
        verbs = {at for first, last in moved if first in begin for at in range(first, last + 1)}
        contexts = [h for h in contexts if h in self.told or not verbs.issuperset(range(h.first, h.last + 1))]
        # nor "washed the filter" that the whole machine was washed
        acts = {h.first for h in done if h.meaning.kind == "do" and h.first in begin}
        return [h for h in contexts if h.first < h.last or h.first not in acts or self._may_be_done(h)]

    def _signs_beside(
        self, done: Iterable[Hit], moved: Iterable[tuple[int, int]], content: Iterable[Hit]
    ) -> list[Hit]:
        """All but the circumstances told, without the signs that the words of a deed or check only seem to tell."""
        # "spark is good when cold" tells of the spark, and not how it runs when cold
        judged = {h.parts[-1][0] for h in done if h.meaning.kind == "check" and len(h.parts) > 1}
        # "leaned out the screw" tells what was done, and not how it runs
        judged |= {at for first, last in moved for at in range(first, last + 1)}
        # nor is "stumbled off idle so I went up two on the pilot" a sign that the idle went up
        begin = {*self.deeds.verb_firsts}
        verbs = {at for first, last in moved if first in begin for at in range(first, last + 1)}
        return [
            h for h in content
            if h.meaning.kind != "context"
            and (h.meaning.kind != "finding" or (h.first not in judged and verbs.isdisjoint(h.parts[-1])))
        ]  # fmt: skip

    def _may_be_done(self, context: Hit) -> bool:
        """Whether a circumstance is work on the machine, which a deed of the same words tells too: "rejetted"."""
        record = self.k.contexts[context.meaning.record]
        return record.set_up or bool(record.told_by) or bool(record.deeds)

    def _names_the_book(self, hit: Hit) -> bool:
        """Whether what could be jets as the book has them only names the book's: "stock jetting is 155"."""
        outcomes = self.k.checks[hit.meaning.record].beside_book if hit.meaning.kind == "check" else None
        if not outcomes or hit.meaning.more != outcomes["same"] or hit in self.told:
            return False
        return any(self.deeds.is_told_of(at, at + 1) for at in (hit.last - 1, hit.last) if at >= hit.first)

    def _ends_of(self, deed: Hit) -> Iterator[int]:
        """Where the words of a deed may end: "turned the screw out" and, with how far, "... out 1/4"."""
        symbols, last = self.symbols, deed.last
        yield last
        sentence = self.sentence(deed)
        while deed.meaning.kind != "context" and last + 1 < sentence.last and last + 1 not in symbols.breaks:
            last += 1
            if not self.book.deeds.moves.tells_how_far(self.text[symbols.starts[last] : symbols.ends[last]].lower()):
                return
            yield last

    def _find_turns(self) -> None:
        """Find the turns of speech that set signs aside, and those that put deeds long ago."""
        turns = self._of_another_machine(self.book.turns.find(self.text, self.symbols))
        self.long_ago = sentences_long_ago(self, turns)
        self.turns = [turn for turn in turns if turn.reach not in ("deed", "deed_before", "all_before")]
        #: Where words say that all before them in their sentence is over.
        self.over_since = sorted(turn.before for turn in turns if turn.reach == "all_before")
        self.turn_firsts = [turn.before for turn in self.turns]

    def _of_another_machine(self, turns: Iterable[Turn]) -> list[Turn]:
        """The turns, without somebody's machine that the post is about: "my dad's old twin won't pull"."""
        book, first = self.book, self.symbols.sentences[0] if self.symbols.sentences else None
        asked = book.asked_for.search(self.small) if book.asked_for and first else None
        own = book.of_ones_own is not None and book.of_ones_own.search(self.small) is not None
        if asked is None or first is None or own or (first.end and asked.start() > first.end):
            return list(turns)
        if self.small[: asked.start()].rstrip()[-1:] not in _CLAUSE_BEGINS:
            return list(turns)  # "on my buddy's bike the main jet was loose"
        return [t for t in turns if t.why != "other_machine" or t.end != asked.end()]

    def _spoken(self, kind: str) -> Iterator[Hit]:
        """What set expressions tell, where the words in them that count stand."""
        effects = [(start, end) for _, start, end in self.book.effects_spoken.standing(self.small)]
        for found in self.spoken:
            # "it picked up a bit" is no machine picked up
            inside = any(start <= found.start and found.end <= end for start, end in effects)
            if found.meaning.kind == kind and not inside:
                first = bisect_left(self.symbols.starts, found.start)
                last = bisect_left(self.symbols.starts, found.end) - 1
                hit = Hit(first, last, found.meaning, ((first, last),))
                # nor is "dies like it ran out of gas" a tank run dry
                likened = kind == "context" and first <= last and self.deeds.likened(hit)
                if first <= last and not likened and self._much(first, last, found.meaning.record):
                    yield hit

    def asked_to_use(self) -> Iterator[Hit]:
        """Where it is asked whether the machine may be used as it is."""
        return (hit for hit in self._spoken("fact") if hit.meaning.record == "asks_to_use")

    def _leads_to_a_thing(self, spoken: Hit) -> bool:
        """Whether a set expression ends with "a", so that what it is said of stands behind it."""
        end = self.symbols.ends[spoken.last]
        return not self.book.language.looks.articles.isdisjoint(self.small[end : end + NEXT_WORD].split()[:1])

    def _next(self, hit: Hit) -> set[int]:
        return {at for at in (hit.last + 1, hit.last + 2) if not self.broken(hit.last, at)}

    def _much(self, first: int, last: int, record: str) -> bool:
        """Whether the number at or before a set expression is enough: "60,000 miles on it"."""
        least = self.book.language.spoken_least.get(record)
        said = [self.symbols.values[at] for at in range(max(first - 1, 0), last + 1) if at in self.symbols.values]
        return least is None or not said or max(said) >= least

    def _helps_somebody(self, effect: Hit) -> bool:
        """Whether somebody was helped with the work, and not the engine by it: "a friend helped me change it"."""
        end, whom = self.symbols.ends[effect.last], self.book.deeds.words.helped_whom
        behind = self.small[end : end + NEXT_WORD].split()
        return effect.first == effect.last and bool(behind) and behind[0].strip(".,;:!?") in whom

    def _is_a_deed(self, effect: Hit) -> bool:
        """Whether a word of a cure, a clause by itself, tells of another deed: "fixed the chain guard"."""
        if effect.meaning.more != "alone" or effect.first != effect.last:
            return False
        end = self.symbols.ends[effect.last]
        behind = self.small[end : end + NEXT_WORD].split()
        return bool(behind) and behind[0] in self.book.deeds.determiners

    def _brought(self, hit: Hit) -> bool:
        """Whether a setting moved shortly before, in the same sentence, brought some trouble: "and now it stalls"."""
        n = bisect_left(self.change_lasts, hit.first) - 1
        last = self.change_lasts[n] if n >= 0 else -1
        if last < self.sentence(hit).first or hit.first - last > PLACE_REACH or self.contrast(last, hit.first):
            return False
        n = bisect_left(self.negators, last)
        denied = n < len(self.negators) and self.negators[n] <= hit.last
        between = self.text[self.symbols.ends[last] : self.symbols.starts[hit.first]]
        start, end = self.symbols.starts[hit.first], self.symbols.ends[hit.last]
        # "now it four strokes and cuts well" is as it should be
        well = hit.meaning.record == Effect.WORSE and self.book.order.goes_well(self.small, start, end)
        return not denied and self.book.order.says_now(between) and not well

    def _pointed_at(self, hit: Hit) -> bool:
        """Whether an arrow leads from a deed to words that tell its effect only so: "vent drilled out -> ok".

        Where more follows it was no cure: "new plug -> idles, still dies".
        """
        if hit.last + 1 < self.sentence(hit).last:
            return False
        n = bisect_left(self.done_lasts, hit.first) - 1
        done = n >= 0 and self.done_lasts[n] >= self.sentence(hit).first
        return done and arrow_before(self.text, self.symbols.starts[hit.first]) and self.alone(hit)

    def put_aside(self, hit: Hit, why: str) -> None:
        """Note that something is no statement, and why: a reason of `SetAside`."""
        self.aside.append(out.SetAside.trusted(record=hit.meaning.record, why=why, said=self.said(hit.first, hit.last)))


def _unpointed(hits: Iterable[Hit]) -> list[Hit]:
    """Hits without the words that are an effect only behind an arrow; elsewhere they judge a part."""
    return [h for h in hits if h.meaning.more != "pointed"]


def _by_kind(found: Mapping[str, list[Hit]]) -> dict[str, list[Hit]]:
    out: dict[str, list[Hit]] = {}
    for kind, hits in found.items():
        out.setdefault(_KIND.get(kind, kind), []).extend(hits)
    return out


def _surest(everything: Iterable[Told]) -> dict[Hit, Told]:
    """Everything told by its hit; what was told twice, as it was told more surely."""
    surest: dict[Hit, Told] = {}
    for told in everything:
        known = surest.get(told.hit)
        if known is None or _HOW_SURE[told.how] > _HOW_SURE[known.how]:
            surest[told.hit] = told
    return surest


_HOW_SURE = {How.PLANNED: 0, How.NAMED: 1, How.DONE: 2}


def _done(told: Told) -> bool:
    return told.how is not How.PLANNED
