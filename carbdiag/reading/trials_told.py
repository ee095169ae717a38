"""Which deeds of a post were trials: done for the trouble, with what they did to it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from typing import Final

from carbdiag import reading_schema as out
from carbdiag.reading.arrows import BETWEEN
from carbdiag.reading.deed_book import How
from carbdiag.reading.effects import Doing, Outcome, Telling, outcomes
from carbdiag.reading.effects import Said as EffectSaid
from carbdiag.reading.effects_told import EffectsTold
from carbdiag.reading.felt_places import felt_place
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.order import Order
from carbdiag.reading.reaches import CUE_REACH, NEXT_TO, NEXT_WORD, PLACE_REACH
from carbdiag.reading.spans import covered, furthest, meets
from carbdiag.reading.steps_told import steps_told
from carbdiag.terms import Change, Effect, Status

_PAIR: Final = 2
_HELPED: Final = (Effect.CURED, Effect.BETTER)
#: Sentences behind what a repair did in which the trouble that came next is told.
_NEXT_TROUBLE: Final = 2
#: Characters behind it in which that is looked for.
_NEXT_TOLD: Final = 400


class Trials:
    """The deeds of a post with their effects."""

    def __init__(self, found: Found) -> None:
        self.found = found
        self.moved: list[Hit] = []
        """Settings moved before the trouble of which nothing says what it did."""
        self._left_so: list[Hit] = []
        """Those moved at any time and left so."""

    def outcomes(self, done: list[Doing], present: list[Hit], order: Order) -> list[Outcome]:
        """The trials with their effects, in the order of the post; what was only moved is kept under `moved`."""
        done = self._clear(done)
        told_effects = EffectsTold(self.found, present)
        changed = sorted(d.hit.first for d in done if d.hit.meaning.kind == "change")
        said = [*(self._of_the_number(s, changed) for s in told_effects.stated()), *told_effects.still(present)]
        said = order.effects([d for d in done if not d.past], said)
        too_far = frozenset(s.first for s in said if s.effect is Effect.OVERSHOT)
        sized = [
            (d, self._as_far_as(d.hit, told_effects.of_a_size(d.hit), too_far)) for d in done if d.hit in self.found.did
        ]
        said = self._of_no_size(said, done, sized)
        ends = sorted(h.last for h in present)
        trials, left = self._told([d for d in done if d.hit not in self.found.did], said, present, ends)
        self._take_sized(trials, sized)
        left = self._take_in_one_breath(trials, left, sized)
        trials |= self._of_damage(left, present)
        trials = _each_once(trials)
        told_of = {_trial_key(t.doing.hit) for t in trials.values()}
        self._put_aside([d for d in left if _trial_key(d.hit) not in told_of], ends)
        return sorted(trials.values(), key=lambda t: t.doing.hit.first)

    def _clear(self, done: Iterable[Doing]) -> list[Doing]:
        """The deeds without settings told as moved both ways, and without changes that others tell better."""
        done = list(done)
        changes = [d.hit for d in done if d.hit.meaning.kind == "change"]
        unclear = _both_ways(changes, self.found.deeds.part_firsts)
        for hit in filter(unclear.__contains__, changes):
            self.found.put_aside(hit, "contradicted")
        return self._without_changes_told(d for d in done if d.hit not in unclear)

    def _of_no_size(
        self, said: Iterable[EffectSaid], done: Iterable[Doing], sized: Iterable[tuple[Doing, Effect | None]]
    ) -> list[EffectSaid]:
        """Effects that do not belong to a jet tried by its number."""
        spoken = (self.found.did[d.hit] for d, effect in sized if effect is not None)
        taken = {at for hit in spoken for at in range(hit.first, hit.last + 1)}
        lasts = sorted((d.hit.last, d.hit in self.found.did) for d in done)
        sentence_of = self.found.symbols.sentence_of
        # what is told behind a jet tried is told of it: "172 was better, still burbly"
        return [s for s in said if s.first not in taken and not _behind_one(lasts, s.first, sentence_of)]

    def _told(
        self, done: list[Doing], said: Iterable[EffectSaid], present: list[Hit], ends: Sequence[int]
    ) -> tuple[dict[tuple[str, ...], Outcome], list[Doing]]:
        """The deeds with an effect, and those whose effect nobody tells."""
        trials: dict[tuple[str, ...], Outcome] = {}
        left: list[Doing] = []
        known = covered([d.hit for d in done], len(self.found.symbols.symbols))
        said = [s for s in said if not self._of_another(s, known)]
        telling = Telling(self.found.symbols.sentence_of, ends, self._in_vain, self._led, self._commented)
        for told in outcomes(done, said, telling):
            if isinstance(told, Doing):
                left.append(told)
            elif self._of_the_trouble_before(told) or self._only_stands_so(told, present):
                left.append(told.doing)
            elif not told.unsaid or _trial_key(told.doing.hit) not in trials:
                # of each size its own: "125 was better, 130 worse"
                key = (*_trial_key(told.doing.hit), *map(str, self._sizes(told.doing.hit) or ()))
                other = key in trials and not (told.unsaid or trials[key].unsaid or trials[key].effect is told.effect)
                # "needle up 1 = better, needle up 2 = worse"
                own = told.doing.hit.meaning.kind == "change" and (other or told.doing.hit in self.found.again)
                trials[(*key, str(told.doing.hit.first)) if own else key] = told
        return trials, left

    def _take_sized(
        self, trials: dict[tuple[str, ...], Outcome], sized: Iterable[tuple[Doing, Effect | None]]
    ) -> None:
        """Add the jets tried by their numbers."""
        for doing, effect in sized:
            hit = self.found.did[doing.hit]
            if effect is not None and not doing.past and doing.how is not How.PLANNED:
                # a change told without its sizes is the same, told less
                trials.pop(_trial_key(doing.hit), None)
                size = self.found.said(doing.hit.first, doing.hit.last).words
                trials[(*_trial_key(doing.hit), size)] = Outcome(doing, effect, (hit.first, hit.last), False)

    def _take_in_one_breath(
        self,
        trials: dict[tuple[str, ...], Outcome],
        left: Iterable[Doing],
        sized: Sequence[tuple[Doing, Effect | None]],
    ) -> list[Doing]:
        """Add what was moved together with such a jet; the deeds that are left then."""
        out = []
        for doing in left:
            beside = self._in_one_breath(doing, sized)
            if beside is None or _trial_key(doing.hit) in trials:
                out.append(doing)
            else:
                trials[(*_trial_key(doing.hit), str(doing.hit.first), "")] = beside
        return out

    def _of_damage(self, left: Iterable[Doing], present: Sequence[Hit]) -> dict[tuple[str, ...], Outcome]:
        """Repairs of damage told before them, of which nobody says what they did: "seized. Put a new piston in"."""
        out: dict[tuple[str, ...], Outcome] = {}
        for doing in left:
            hit = doing.hit
            mended = [hold for hold in self.found.k.holds.values() if hold.mended_by == hit.meaning.record]
            damage = {sign for hold in mended for sign in hold.when.findings}
            told = [sign.first < hit.first for sign in present if sign.meaning.record in damage]
            # "put a new piston in" is told as often as it is advice, which is PLANNED by the words around it
            word = self.found.small[self.found.symbols.starts[hit.first] : self.found.symbols.ends[hit.first]]
            did = doing.how is How.DONE or (doing.how is How.NAMED and word in self.found.book.deeds.same_in_past)
            if did and not doing.past and told and all(told):
                out[_trial_key(hit)] = Outcome(doing, Effect.NOT_TOLD, None, False)
        return out

    def _put_aside(self, left: Iterable[Doing], ends: Sequence[int]) -> None:
        """Say why deeds are no trials, and keep the settings among them that were moved and left so."""
        for doing in left:
            self.found.put_aside(doing.hit, "no_effect" if doing.how is How.DONE else "supposed")
            # what was moved after the trouble had begun did not bring it on, whatever it did
            first = doing.before or not ends or doing.hit.first < ends[0] or self._set_up(doing.hit)
            moved = doing.hit.meaning.kind == "change" and (doing.how is How.DONE or self._stands(doing))
            if moved and not self.put_back(doing.hit):
                self._left_so.append(doing.hit)
                if first:
                    self.moved.append(doing.hit)

    def _as_far_as(self, hit: Hit, effect: Effect | None, too_far: Container[int]) -> Effect | None:
        """What a jet told by its size did: too far where a new sign of the other side is told behind that."""
        helped = effect in (Effect.BETTER, Effect.CURED)
        did = self.found.did[hit]
        over = helped and any(at in too_far for at in range(did.first, did.last + 1))
        return Effect.OVERSHOT if over else effect

    def _in_one_breath(self, doing: Doing, sized: Sequence[tuple[Doing, Effect | None]]) -> Outcome | None:
        """A setting moved together with a jet that is told by its number: "went (40 pilot) and 178 main, bog gone"."""
        hit = doing.hit
        if hit.meaning.kind != "change" or doing.how is How.PLANNED or doing.past:
            return None
        for other, effect in sized:
            same_way = other.hit.meaning.more == hit.meaning.more
            near = 0 < other.hit.last - hit.last <= CUE_REACH
            if effect is None or not (same_way and near) or self.found.sentence(other.hit) != self.found.sentence(hit):
                continue
            between = self.found.small[self.found.symbols.ends[hit.last] : self.found.symbols.starts[other.hit.last]]
            where, words = self.found.did[other.hit], self.found.book.deeds
            # "went from 105 to 115 to 120, all the same"
            leads = words.joins if other.hit.meaning != hit.meaning else words.to
            if where.first > other.hit.last and not leads.isdisjoint(between.split()):
                return Outcome(doing, effect, (where.first, where.last), False)
        return None

    def _of_the_trouble_before(self, told: Outcome) -> bool:
        """Whether a repair ended a trouble before this one: "cleaned it and the bog is gone. New problem: it pops"."""
        if told.said is None or told.doing.hit.meaning.kind != "do" or told.effect not in _HELPED:
            return False
        new, symbols = self.found.book.order.new_trouble, self.found.symbols
        end = symbols.ends[told.said[1]]
        begins = new.search(self.found.small, end, end + _NEXT_TOLD) if new else None
        if begins is None:
            return False
        at = bisect_right(self.found.sentence_starts, begins.start()) - 1
        return at - symbols.sentence_of[told.said[1]] <= _NEXT_TROUBLE

    def _only_stands_so(self, told: Outcome, present: list[Hit]) -> bool:
        """Whether a trouble is told behind a jet as it stands, of which nobody says that it brought it on.

        "Main was 140, now 150. It surges, worse in the cold": the jet is no trial that made it worse.
        """
        hit, said = told.doing.hit, told.said
        if told.effect is not Effect.WORSE or said is None or self.found.deeds.does_in(hit.first, hit.last + 1):
            return False
        sentence_of = self.found.symbols.sentence_of
        apart = hit.meaning.kind == "change" and sentence_of[said[0]] != sentence_of[hit.last]
        return apart and self._sizes(hit) is not None and any(h.first <= said[0] <= h.last for h in present)

    def _of_the_number(self, said: EffectSaid, changed: Sequence[int]) -> EffectSaid:
        """What "best at 2.5" says of a setting moved: better where it was moved to, worse where it came from."""
        values = self.found.symbols.values
        best = next((values[at] for at in range(said.first, said.last + 1) if at in values), None)
        if said.effect is not Effect.BETTER or best is None:
            return said
        n, sentence_of = bisect_left(changed, said.first), self.found.symbols.sentence_of
        moved = changed[n - 1] if n else -1
        if moved < max(said.first - 4 * PLACE_REACH, 0) or sentence_of[said.first] - sentence_of[moved] > 1:
            return said
        told = [values[at] for at in range(moved, said.first) if at in values]
        return said._replace(effect=Effect.WORSE) if best in told and best != told[-1] else said

    def _without_changes_told(self, done: Iterable[Doing]) -> list[Doing]:
        """Deeds without those that only say that a setting was changed, where the same words tell which way."""
        done, spans = list(done), dict[str, list[tuple[int, int]]]()
        for hit in (d.hit for d in done if d.hit.meaning.kind == "change"):
            spans.setdefault(self.found.k.circuits[hit.meaning.record].richer.action, []).append((hit.first, hit.last))
        told = {action: furthest(where) for action, where in spans.items()}
        return [d for d in done if d.hit.meaning.kind != "do" or not meets(told.get(d.hit.meaning.record), d.hit)]

    def _of_another(self, said: EffectSaid, known: Sequence[int]) -> bool:
        """Whether an effect belongs to a deed that was not made out: a verb in its sentence has no part known here."""
        sentence = self.found.symbols.sentences[self.found.symbols.sentence_of[said.first]]
        first = max(sentence.first, said.first - 2 * PLACE_REACH)
        if not any(known[first : said.first]):
            return self.found.deeds.does_in(first, said.first)
        behind = max(at for at in range(first, said.first) if known[at]) + 1
        return behind < said.first and self.found.deeds.after_something(behind, said.first)

    def _commented(self, hit: Hit) -> bool:
        """Whether what follows a deed goes on about it: "cleaned the jet, that did ...", "... It idles"."""
        start = self.found.symbols.ends[hit.last]
        words = self.found.text[start : start + 2 * NEXT_WORD].lower().replace("’", "'").split()
        return any(word.strip(".,;:!?()-") in self.found.book.comments for word in words[:4])

    def _led(self, said: EffectSaid, hit: Hit) -> bool:
        """Whether words lead from an effect to the deed behind it: "better with a new plug", "cured by"."""
        between = self.found.text[self.found.symbols.starts[said.last] : self.found.symbols.ends[hit.last]].lower()
        if not self.found.book.deeds.not_led_by.isdisjoint(between.replace(",", " ").split()):
            return False  # "ran better with it out so I cleaned it"
        if said.effect is Effect.NO_CHANGE:
            return not self.found.book.order.ends_trouble(between)  # "made no difference cleaning it", but not "until"
        words = between.replace(",", " ").split()
        doing = any(word.endswith(self.found.book.language.deeds.ending_ing) for word in words)
        return ":" in between or doing or bool(self.found.book.deeds.led_by & set(words))

    def _in_vain(self, hit: Hit) -> bool:
        """Whether the words beside a deed say that it was in vain."""
        tried = self.found.cues.lasts("tried")
        n = bisect_right(tried, hit.last)
        first = self.found.sentence(hit).first
        near = bool(n) and tried[n - 1] >= first and hit.first - tried[n - 1] <= CUE_REACH
        return near or (n < len(tried) and tried[n] < self.found.sentence(hit).last and tried[n] - hit.last <= NEXT_TO)

    def fitted(self, trials: Iterable[out.TrialRead]) -> Iterator[tuple[str, float, out.Said]]:
        """The jets changed from a stated size to another, with the size that is in it now."""
        for hit in self._left_so:
            sizes = self._sizes(hit)
            if sizes is not None:
                yield hit.meaning.record, sizes[1], self.found.said(hit.first, hit.last)
        for trial in trials:
            now = trial.from_size if trial.put_back else trial.to_size
            if trial.change is not None and now is not None:
                yield trial.change, now, trial.said[0]

    def reasons(self, order: Order) -> Callable[[Hit], bool]:
        """Whether a sign is only why a setting was moved that nothing says the effect of: "... as it was fouling"."""
        moved = {self.found.symbols.sentence_of[h.last]: h for h in self.moved}

        def is_reason(sign: Hit) -> bool:
            deed = moved.get(self.found.symbols.sentence_of[sign.first])
            return deed is not None and deed.last < sign.first and order.is_reason(deed.last, sign.first)

        return is_reason

    def _set_up(self, hit: Hit) -> bool:
        """Whether a setting moved belongs to how the machine is set up, told with it or with when and why it was."""
        told = (self.found.k.contexts[h.meaning.record] for h in self.found.content if h.meaning.kind == "context")
        if any(context.set_up for context in told):
            return True
        words, sentence = self.found.book.deeds.before_when, self.found.sentence(hit)
        start, end = self.found.symbols.starts[sentence.first], self.found.symbols.ends[sentence.last - 1]
        return words is not None and words.search(self.found.text, start, end) is not None

    def circumstances(self) -> Iterator[tuple[str, Hit]]:
        """The circumstances that settings moved tell; one moved both ways only where one is told as how it stands."""
        by_setting: dict[str, list[Hit]] = {}
        for hit in self.moved:
            by_setting.setdefault(hit.meaning.record, []).append(hit)
        for setting, moved in by_setting.items():
            hits = [hit for hit in moved if hit in self.found.fitted] or moved
            way = hits[0].meaning.more
            for context in self.found.k.contexts.values():
                if all(hit.meaning.more == way for hit in hits) and context.told_by_move.get(setting) == way:
                    yield from ((context.id, hit) for hit in hits)
        # moved after the trouble was told, without a verb: "it bogs. Main 82 to 86 now"
        for hit in self._left_so:
            if hit not in self.moved and self._sizes(hit) is not None:
                ways = (c for c in self.found.k.contexts.values() if not c.told_by_move)
                yield from ((c.id, hit) for c in ways if hit.meaning.record in c.told_by)

    def trial(self, told: Outcome, epoch: int, out_again: bool = False) -> out.TrialRead:
        hit, where = told.doing.hit, told.said
        said = (self.found.said(hit.first, hit.last), *((self.found.said(*where),) if where else ()))
        sizes = self._sizes(hit)
        return out.TrialRead.trusted(
            do=hit.meaning.record if hit.meaning.kind == "do" else None,
            change=hit.meaning.record if hit.meaning.kind == "change" else None,
            direction=Change(hit.meaning.more) if hit.meaning.kind == "change" else None,
            from_size=sizes[0] if sizes else None,
            to_size=sizes[1] if sizes else None,
            steps=None if sizes else steps_told(self.found, hit),
            at=felt_place(self.found, told),
            effect=told.effect,
            unsaid=told.unsaid,
            put_back=hit.meaning.kind == "change" and (out_again or self.put_back(hit)),
            epoch=epoch,
            said=said,
        )

    def _sizes(self, hit: Hit) -> tuple[float, float] | None:
        """The numbers on the old and the new jet, where two that can be its sizes stand beside a jet changed.

        Which of them is the old one follows from the way it went.
        """
        sizes = self.found.k.circuits[hit.meaning.record].sizes if hit.meaning.kind == "change" else None
        if sizes is None or sizes.numbered is None:
            return None
        sentence, symbols = self.found.sentence(hit), self.found.symbols
        low, high = sizes.numbered
        reach = range(max(hit.first - NEXT_TO, sentence.first), min(hit.last + NEXT_TO + 1, sentence.last))
        near = tuple(at for at in reach if self._in_one_clause(hit, at))
        beside: Sequence[int] = (*near, *(first for first, _ in hit.parts if first not in near))
        own = [first for first, last in hit.parts if first == last and first in symbols.values]
        beside = own if len(own) == _PAIR else beside  # one of several changes: "85 to 92 to 88"
        numbered = [at for at in beside if low <= symbols.values.get(at, 0.0) <= high]
        numbered.sort(key=lambda at: max(hit.first - at, at - hit.last, 0))
        if len(numbered) > _PAIR and self._goes_to(*sorted(numbered[:_PAIR])):
            del numbered[_PAIR:]  # what is told further off is the next one tried
        told = {symbols.values[at] for at in numbered}
        if len(told) != _PAIR or max(told) > self.found.book.limits.one_jet * min(told):
            return None
        small, large = min(told), max(told)
        return (small, large) if sizes.larger_is == hit.meaning.more else (large, small)

    def _goes_to(self, first: int, last: int) -> bool:
        """Whether words between two numbers lead from one to the other: "48 pilot to 50"."""
        between = self.found.small[self.found.symbols.ends[first] : self.found.symbols.starts[last]]
        return BETWEEN.fullmatch(between) is not None or not self.found.book.deeds.to.isdisjoint(between.split())

    def _stands(self, doing: Doing) -> bool:
        """Whether a setting told without a verb is how it stands: "Needle one notch up." as a clause of its own."""
        hit, found = doing.hit, self.found
        sentence = found.sentence(hit)
        named = hit.first + (hit.first in found.symbols.values)  # "155 main (was 142.5)"
        if doing.how is not How.NAMED or sentence.asks or sentence.quoted or named not in found.deeds.part_firsts:
            return False
        whole = hit.last + 1 >= sentence.last or hit.last + 1 in found.symbols.breaks
        opener = found.symbols.openers.get(sentence.first, "")
        return whole and found.deeds.begins_a_clause(hit.first) and opener not in found.book.conditions

    def _in_one_clause(self, hit: Hit, at: int) -> bool:
        """Whether a number belongs to a hit: "130 to 140 and a bigger pilot" is no pilot of 140."""
        if at < hit.first:
            return not self.found.broken(at, hit.first)
        if at <= hit.last:
            return True
        return self.found.deeds.part_firsts.isdisjoint(range(hit.last + 1, at + 2))

    def put_back(self, hit: Hit) -> bool:
        """Whether the post says behind a setting moved, before the next, that it is as it was: "back to the 175"."""
        return self._put_back_at(hit) is not None

    def _put_back_at(self, hit: Hit) -> int | None:
        """The character at which the words begin that put a setting back; None where none do."""
        n = bisect_right(self.found.change_lasts, hit.last)
        sentence = min(self.found.symbols.sentence_of[hit.last] + 2, len(self.found.symbols.sentences) - 1)
        end = self.found.symbols.sentences[sentence].end or len(self.found.text)
        if n < len(self.found.change_lasts):
            end = min(end, self.found.symbols.starts[self.found.change_lasts[n]])
        symbols, words, first = self.found.symbols, self.found.book.deeds.put_back, self.found.symbols.ends[hit.last]
        said = words.search(self.found.text, first, max(end, 0)) if words is not None else None
        sizes = self._sizes(hit)
        if said is None and sizes is None and self.found.book.deeds.back_to_an_amount is not None:
            said = self.found.book.deeds.back_to_an_amount.search(self.found.small, first, max(end, 0))
        if said is not None or sizes is None:
            return said.start() if said is not None else None
        small, back_to = self.found.small, self.found.book.deeds.back_to
        behind = range(hit.last + 1, bisect_right(symbols.starts, end))
        sized = [at for at in behind if symbols.values.get(at) == sizes[0]]
        # "back to the 130", "put the 130 back"
        back = (
            symbols.starts[at] for at in sized
            if small[first : symbols.starts[at]].rstrip().endswith(back_to)
            or self.found.book.deeds.sizes.back_again.match(small, symbols.ends[at]) is not None
        )  # fmt: skip
        return next(back, None)

    def over(self, told: Iterable[Outcome]) -> Callable[[Hit], bool]:
        """Whether a sign was only felt while a setting was in that was put back: "160: bogs. Back to 168, it pops"."""
        spans = []
        for hit in (o.doing.hit for o in told if o.doing.hit.meaning.kind == "change" and o.effect is Effect.WORSE):
            back = self._put_back_at(hit)
            if back is not None:
                spans.append((hit.last + 1, bisect_left(self.found.symbols.starts, back) - 1))
        reach = furthest(spans) if spans else None
        return lambda sign: meets(reach, sign)


def untried(
    post: Found, contexts: dict[str, list[tuple[Status, Hit]]], trials: Iterable[out.TrialRead]
) -> dict[str, list[tuple[Status, Hit]]]:
    """The circumstances without what was tried after the trouble began: it is none of its circumstances."""
    told = {h for found in contexts.values() for _, h in found if h in post.told}
    tried = told - {*without_a_trial(post, told, [t for t in trials if not t.unsaid])}
    left = {c: [(status, h) for status, h in found if h not in tried] for c, found in contexts.items()}
    return {context: found for context, found in left.items() if found}


def beside_trials(
    post: Found, checks: Iterable[tuple[out.CheckRead, Hit]], trials: Iterable[out.TrialRead]
) -> Iterator[tuple[out.CheckRead, Hit]]:
    """The checks without what is a trial in the same words: "new plug" tells once that it is new.

    A setting moved is no look at the setting, nor a step tried for a moment: "L screw out a bit, better".
    """
    tried = {s for t in trials for s in t.said[:1]}
    moved = [t.said[0] for t in trials if t.change]
    settings = {c.richer.action for c in post.k.circuits.values()}
    turned = [t.said[0] for t in trials if t.do in settings]  # nobody knows which way
    for read, hit in checks:
        said = read.said[0]
        told = [*moved, *(turned if post.k.checks[read.check].reads == "mixture" else ())]
        if said not in tried and not any(m.start < said.end and said.start < m.end for m in told):
            yield read, hit


def without_a_trial(post: Found, deeds: Iterable[Hit], trials: Iterable[out.TrialRead]) -> Iterator[Hit]:
    """Deeds whose effect is not said: told before any trouble, they are circumstances.

    A setting tried may be told in fewer words: of "tried a richer pilot 42 -> 45, no change" it is the richer pilot.
    """
    trials = list(trials)
    tried = {(s.start, s.end) for t in trials for s in t.said}
    moved = sorted({(s.start, s.end) for t in trials if t.change and t.effect is not Effect.WORSE for s in t.said[:1]})
    for hit in deeds:
        start, end = post.symbols.starts[hit.first], post.symbols.ends[hit.last]
        n = bisect_left(moved, (start, 0))
        if (start, end) not in tried and (n == len(moved) or moved[n][1] > end):
            yield hit


def _each_once(trials: dict[tuple[str, ...], Outcome]) -> dict[tuple[str, ...], Outcome]:
    """The trials without a change told again in the same words with less: "dropped to a 42 pilot", without the 48."""
    least = len(_trial_key(next(iter(trials.values())).doing.hit)) if trials else 0
    sized = [t.doing.hit for key, t in trials.items() if len(key) > least]
    spans = {m: furthest([(s.first, s.last) for s in sized if s.meaning == m]) for m in {s.meaning for s in sized}}
    again = (k for k, t in trials.items() if len(k) == least and meets(spans.get(t.doing.hit.meaning), t.doing.hit))
    dropped = {*again}
    return {key: t for key, t in trials.items() if key not in dropped}


def _both_ways(changes: Sequence[Hit], parts: Container[int]) -> set[Hit]:
    """Changes of one setting that the same words tell both ways: "up one clip" raises the clip, or the needle."""
    spans: dict[Meaning, list[tuple[int, int]]] = {}
    for hit in changes:
        spans.setdefault(hit.meaning, []).append((hit.first, hit.last))
    told = {meaning: furthest(where) for meaning, where in spans.items()}
    others = {m: [told[o] for o in told if o[:2] == m[:2] and o != m] for m in told}
    both = {hit for hit in changes if any(meets(other, hit) for other in others[hit.meaning])}
    # "needle up one clip" names the needle: what begins with the part says which way
    named = {h for h in both if h.first in parts and any(h.first < other.first <= h.last for other in both)}
    # "removed the washer under the needle" holds the words that alone say that there is one
    against = {m: [o for o in both if o.meaning[:2] == m[:2] and o.meaning != m] for m in told}
    whole = {h for h in both if all(_holds(h, other) for other in against[h.meaning])}
    return both - named - whole


def _holds(hit: Hit, other: Hit) -> bool:
    """Whether a hit begins before another and ends no sooner, or the two have nothing to do with each other."""
    apart = hit.last < other.first or other.last < hit.first
    return apart or (hit.first < other.first and other.last <= hit.last)


def _behind_one(lasts: Sequence[tuple[int, bool]], at: int, sentence_of: Sequence[int]) -> bool:
    """Whether the last deed before a symbol, of where they end in order, is one marked and in its sentence."""
    n = bisect_left(lasts, (at, False)) - 1
    return n >= 0 and lasts[n][1] and sentence_of[lasts[n][0]] == sentence_of[at]


def without_repeats(trials: Iterable[out.TrialRead]) -> list[out.TrialRead]:
    """The trials, one jet told twice with the same sizes and effect as one: "a bigger main in, (140 to 150), worse"."""
    once: dict[out.TrialRead | int, out.TrialRead] = {}
    for n, trial in enumerate(trials):
        sized = trial.from_size is not None and trial.to_size is not None
        key = trial.model_copy(update={"said": ()}) if sized else n
        said = (*once[key].said, *trial.said) if key in once else trial.said
        once[key] = trial.model_copy(update={"said": tuple(dict.fromkeys(said))})
    return list(once.values())


def one_after_the_other(trials: Iterable[out.TrialRead]) -> Iterator[out.TrialRead]:
    """The trials, a jet that follows one that helped set against that one: "165 was better, tried a 170, worse"."""
    stands: dict[str, float] = {}
    for trial in trials:
        here = trial
        if trial.change is not None and trial.from_size is not None and trial.to_size is not None:
            last = stands.pop(trial.change, trial.from_size)
            if min(trial.from_size, trial.to_size) < last < max(trial.from_size, trial.to_size):
                here = trial.model_copy(update={"from_size": last})
            if trial.effect is Effect.BETTER and not trial.put_back:
                stands[trial.change] = trial.to_size
        yield here


def _trial_key(hit: Hit) -> tuple[str, str, str]:
    return (hit.meaning.kind, hit.meaning.record, hit.meaning.more)
