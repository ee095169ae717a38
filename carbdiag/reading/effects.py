"""Which effect belongs to which deed: said in the same clause, at the end of a list, before it, or not at all.

People complain, list what they did, and ask. A repair told after the trouble and near the end of the post, with nothing
said of what it did, changed nothing; such a trial is marked as taken so. Earlier in a post a deed without an effect
tells nothing: on posts not looked at, one in four such deeds was done in vain. A change of set-up (pipe, filter, jets)
is never taken so: it may be the cause.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter, deque
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from itertools import islice, pairwise
from typing import Final, NamedTuple

from carbdiag.reading.deed_book import How
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.terms import Effect

#: Sentences back from an effect in which the deeds it speaks of may stand.
_SENTENCES: Final = 2
#: Words that count in a note, with the end of its sentence.
_NOTE: Final = 6
#: Words that count between an effect said first and its deed: "no change with a new plug".
_SAID_FIRST: Final = 4


#: Deeds back that are looked at for settings moved together.
_TOGETHER: Final = 6


class Doing(NamedTuple):
    """Something done, and how it was told."""

    hit: Hit
    how: How = How.DONE
    before: bool = False
    """It came before the trouble."""
    in_vain: bool = False
    """It is told as done in vain ("even with a new plug")."""
    set_up: bool = False
    """It changed the set-up, and may be what brought the trouble on."""
    past: bool = False
    """It was done long ago: what it did then tells nothing of the trouble now."""
    brought_on: bool = False
    """All was well until it was done."""
    earlier: bool = False
    """It came before the deed told before it: "a coil after a new plug made no difference"."""


class Said(NamedTuple):
    """An effect where it is said, from the symbol `first` to `last`."""

    first: int
    last: int
    effect: Effect
    by_running: bool = False
    """Told only as how it runs: "and it ran fine"."""
    ahead: bool = False
    """It can only belong to what is named behind it: "what helped: a new plug"."""


class Outcome(NamedTuple):
    """A deed with its effect, and where the effect was said; nowhere: it was taken so."""

    doing: Doing
    effect: Effect
    said: tuple[int, int] | None
    unsaid: bool


class Telling(NamedTuple):
    """How a post tells of its deeds: where its sentences and complaints are, and what the words beside a deed say."""

    sentence_of: Sequence[int]
    """The number of the sentence of each symbol."""
    complaints: Sequence[int]
    """Where signs told as present end, in order."""
    tried: Callable[[Hit], bool]
    """Whether the words beside a deed say that it was in vain ("already", "twice")."""
    led: Callable[[Said, Hit], bool]
    """Whether the words between an effect and a deed behind it lead from one to the other ("no change with")."""
    commented: Callable[[Hit], bool]
    """Whether the words behind a deed go on about how it was then ("it", "that", "which")."""


def outcomes(done: Iterable[Doing], said: Iterable[Said], telling: Telling) -> Iterator[Outcome | Doing]:
    """Every deed, in any order, with its effect; a deed whose effect nothing tells comes back as it is."""
    said, done = tuple(said), tuple(done)
    yield from (d for d in done if d.past)
    events: list[tuple[int, int, Doing | Said]] = [
        *((d.hit.last, 0, d) for d in done if not d.past),
        *((s.first, 1, s) for s in said),
    ]
    sentence_of = telling.sentence_of
    reader = _Reader(telling)
    for _, _, event in _without_repeats(sorted(events, key=lambda e: e[:2]), sentence_of):
        yield from reader.deed(event) if isinstance(event, Doing) else reader.effect(event)
    # "new line, new filter, no more problems": one of them helped, and nobody said which
    helped = {sentence_of[s.first] for s in said if s.effect in (Effect.CURED, Effect.BETTER)}
    yield from reader.rest(helped)


class _Reader:
    """One who reads deeds and effects in the order they are told, and keeps in mind which deeds still want one."""

    def __init__(self, telling: Telling) -> None:
        self._telling = telling
        self._pending: deque[Doing] = deque()
        self._left: list[Doing] = []
        self._free: Said | None = None
        """The last effect, if it may belong to a deed behind it."""
        self._earlier_told = -_SAID_FIRST - 1
        """Where the effect was said of a deed that came before the one told before it."""

    def deed(self, doing: Doing) -> Iterator[Outcome]:
        """What a deed did, where it was told ahead of it; else the deed waits."""
        free, telling = self._free, self._telling
        if doing.in_vain and doing.how is not How.PLANNED:
            yield Outcome(doing, Effect.NO_CHANGE, None, False)
        elif free is not None and _leads(free, doing, telling.sentence_of) and telling.led(free, doing.hit):
            yield Outcome(doing, free.effect, (free.first, free.last), False)
        else:
            self._pending.append(doing)

    def effect(self, said: Said) -> Iterator[Outcome]:
        """The deeds told before an effect of which it speaks."""
        at, pending = said.first, self._pending
        sentence_of, complaints = self._telling.sentence_of, self._telling.complaints
        if at - self._earlier_told <= _SAID_FIRST:
            return  # the same effect, in the words that follow
        while pending and _is_far(pending, at, sentence_of) and not _in_a_row(pending, at, sentence_of, said):
            self._left.append(pending.popleft())
        behind = pending and not said.ahead and sentence_of[pending[-1].hit.last] == sentence_of[at]
        self._free = None if behind else said
        if _of_none(pending, said, complaints, sentence_of):
            return
        last = pending[-1].hit if pending else None
        told = list(_of_its_deeds(pending, said, complaints, sentence_of))
        yield from told
        if told and told[-1].doing.earlier:
            self._earlier_told = at
        nearest = told[-1].doing.hit if told else last
        helps = said.effect in (Effect.BETTER, Effect.CURED)
        if helps and last is not None and nearest is not None and sentence_of[at] == sentence_of[nearest.first]:
            yield from _together(pending, said, last.meaning, sentence_of, self._left)

    def rest(self, helped: Container[int]) -> Iterator[Outcome | Doing]:
        """The deeds of which no effect was told: those taken as done in vain, and the others as they are.

        Args:
            helped: the sentences in which something is said to have helped.
        """
        telling, rest = self._telling, (*self._left, *self._pending)
        sentence_of = telling.sentence_of
        ends = {d.hit.last for d in rest if not d.set_up}
        listed = Counter(sentence_of[at] for at in ends)
        for doing in rest:
            hit, sentence = doing.hit, sentence_of[doing.hit.last]
            plain = doing.how is How.DONE and not doing.before
            if plain and telling.tried(hit):
                yield Outcome(doing, Effect.NO_CHANGE, None, False)
                continue
            last_said = sentence_of[-1] - sentence <= _SENTENCES and bisect_right(telling.complaints, hit.first) > 0
            in_vain = last_said and not (listed[sentence] == 1 and telling.commented(hit))
            no_set_up = not doing.set_up and hit.meaning.kind != "change"
            if plain and in_vain and no_set_up and sentence not in helped:
                yield Outcome(doing, Effect.NO_CHANGE, None, True)
            else:
                yield doing


def _of_its_deeds(
    pending: deque[Doing], said: Said, complaints: Sequence[int], sentence_of: Sequence[int]
) -> Iterator[Outcome]:
    """The last of the deeds with an effect, and those before it of which it speaks too; they pend no longer."""
    last = pending[-1].hit.meaning if pending else None
    nearest = pending[-1].hit.first if pending else 0
    while pending and (said.effect is Effect.NO_CHANGE or pending[-1].hit.meaning == last):
        between = bisect_right(complaints, nearest) - 1
        other = pending[-1].before and sentence_of[pending[-1].hit.last] != sentence_of[said.first]
        if other and not said.by_running and said.effect is Effect.NO_CHANGE and last != pending[-1].hit.meaning:
            break  # "new reeds, now it spits. Main up, no change": that was the main
        if between >= 0 and sentence_of[complaints[between]] > sentence_of[pending[-1].hit.last]:
            break  # "set the float. Now it floods. Leaned the needle, no difference": that was the needle
        nearest = pending[-1].hit.first
        told = pending.pop()
        yield Outcome(told, said.effect, (said.first, said.last), False)
        if told.earlier and pending and not pending[-1].earlier:
            break  # "a coil after a new plug made no difference": what was done because of it had another effect


def _long(sentence_of: Sequence[int], sentence: int) -> bool:
    """Whether a sentence has more words than a note: its deeds are told with much else."""
    return bisect_right(sentence_of, sentence) - bisect_left(sentence_of, sentence) > _NOTE


def _is_far(pending: deque[Doing], at: int, sentence_of: Sequence[int]) -> bool:
    """Whether the first of the deeds is too many sentences away for an effect to speak of it."""
    return sentence_of[at] - sentence_of[pending[0].hit.last] > _SENTENCES


def _in_a_row(pending: deque[Doing], at: int, sentence_of: Sequence[int], said: Said) -> bool:
    """Whether deeds are told sentence by sentence, and were all in vain: "Valves set. New plug. No change."."""
    if said.effect is not Effect.NO_CHANGE:
        return False
    if any(_long(sentence_of, sentence_of[d.hit.last]) for d in pending):
        return False
    told = [*(sentence_of[d.hit.last] for d in pending), sentence_of[at]]
    return all(b - a <= 1 for a, b in pairwise(told))


def _of_none(
    pending: deque[Doing], said: Said, complaints: Sequence[int], sentence_of: Sequence[int]
) -> bool:
    """Whether an effect is that of no deed before it, or nobody can say of which."""
    if not pending or said.ahead:
        return said.ahead or said.effect is Effect.OVERSHOT
    helps = said.by_running and said.effect in (Effect.BETTER, Effect.CURED)
    if helps and _only_listed(pending[-1], complaints):
        return True
    if pending[-1].hit.meaning.kind != "change":
        return said.effect is Effect.OVERSHOT
    if said.effect is Effect.NO_CHANGE:
        return False
    # settings moved both ways in one sentence: "main up, clip up, slower" does not say which
    last = sentence_of[pending[-1].hit.last]
    near = (d.hit for d in islice(reversed(pending), _TOGETHER) if sentence_of[d.hit.last] == last)
    moved = [hit.meaning for hit in near if hit.meaning.kind == "change"]
    return len({m.record for m in moved}) > 1 and len({m.more for m in moved}) > 1


def _only_listed(doing: Doing, complaints: Sequence[int]) -> bool:
    """Whether a repair is listed at the beginning of a post, before any trouble: "fresh top end, idle is ..."."""
    ahead = bisect_right(complaints, doing.hit.first)
    return doing.how is How.NAMED and doing.hit.meaning.kind == "do" and ahead == 0 and bool(complaints)


def _without_repeats(
    events: Sequence[tuple[int, int, Doing | Said]], sentence_of: Sequence[int]
) -> list[tuple[int, int, Doing | Said]]:
    """Deeds and effects without those that only go on about the one right behind a deed: "still does it, but less"."""
    out: list[tuple[int, int, Doing | Said]] = []
    for event in events:
        last = out[-1][2] if out else None
        behind = len(out) > 1 and isinstance(out[-2][2], Doing)
        if behind and isinstance(last, Said) and isinstance(event[2], Said) and _again(last, event[2], sentence_of):
            continue
        out.append(event)
    return out


def _again(told: Said, said: Said, sentence_of: Sequence[int]) -> bool:
    """Whether an effect only goes on about the one told of a deed right before: "still does it, but less"."""
    near = said.first - told.last <= _SAID_FIRST and sentence_of[said.first] == sentence_of[told.last]
    return near and said.effect is told.effect is Effect.BETTER


def _together(
    pending: deque[Doing], said: Said, helped: Meaning, sentence_of: Sequence[int], left: list[Doing]
) -> Iterator[Outcome]:
    """The settings moved the same way in the sentence of one that helped; of others, what helped is not said."""
    while helped.kind == "change" and pending and sentence_of[pending[-1].hit.last] == sentence_of[said.first]:
        other = pending.pop()
        if (other.hit.meaning.kind, other.hit.meaning.more) == (helped.kind, helped.more):
            yield Outcome(other, said.effect, (said.first, said.last), False)
        else:
            left.append(other)


def _leads(said: Said, doing: Doing, sentence_of: Sequence[int]) -> bool:
    """Whether an effect said first belongs to a deed in the same sentence: "no difference with a new coil"."""
    near = doing.hit.first - said.last <= _SAID_FIRST
    return near and sentence_of[said.first] == sentence_of[doing.hit.first]
