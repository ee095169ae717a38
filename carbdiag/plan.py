"""What to do next: questions, checks, trials of a setting and repairs, compared by the expected minutes to the cure.

One step ahead, as in decision-theoretic troubleshooting (Heckerman, Breese, Rommelse 1995): the expected minutes of
the repairs, in the order of success per minute, are what everything is measured by. Observations that shorten the
search for the repair that is needed by enough come before any repair; others only when their minutes and the repairs
expected after them cost less than the repairs expected now. A trial of a setting is an observation that may cure, and
one of several where a setting is off by several steps. What each costs is worked out in `moves`; here it is put in
order.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import islice
from typing import Final, Literal

import numpy as np

from carbdiag.belief.information import Shares
from carbdiag.belief.repair_cost import expected_minutes
from carbdiag.casework.believed import Assessment, Belief
from carbdiag.casework.several_settings import is_set_anew
from carbdiag.deciding import deciding, likely_of
from carbdiag.do_now import MOST_CAUSES, may_lead, wanted
from carbdiag.fixes import Fixes, open_fixes
from carbdiag.freed import freed_by
from carbdiag.knowledge import Knowledge
from carbdiag.lean_risk import WIDE_OPEN
from carbdiag.moves import LEAST_SUCCESS, ROUNDS, Move, Trouble, as_series, curing, observing, worth_freeing
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import Outlook
from carbdiag.safety import Safety, cause_chances, first_looks, mended_first
from carbdiag.setting_round import its_turn
from carbdiag.several_outlook import SEVERAL
from carbdiag.shown import shown_cause, suspect_looks
from carbdiag.sparing import Deed, Spare, proving, sparing
from carbdiag.suiting import made_richer
from carbdiag.terms import Change

Strategy = Literal["ask_first", "cost", "information", "repairs"]

#: Observations whose cost is worked out: the best by information per minute and the best by information.
_BY_RATE, _BY_GAIN = 60, 20
#: Observations that tell less than this, in bits, are not worth asking for.
_LEAST_GAIN = 1e-3
_MOST_FACTS = 3


@dataclass(frozen=True)
class Plan:
    """The moves that are open, best first, and the expected minutes to the cure by repairs alone."""

    moves: tuple[Move, ...]
    by_repairs: float
    facts: tuple[tuple[str, str, str | None], ...]  # (kind, record, place) of the observations that tell most
    still_wrong: tuple[tuple[str, float], ...] = ()  # causes and their share in what is still to cure, largest first
    waits: str | None = None  # the setting that is probably too rich, whose leaner step waits


def plan(
    a: Assessment,
    look: Outlook | None,
    safety: Safety,
    most: int,
    asks_left: int | None = None,
    strategy: Strategy = "ask_first",
) -> Plan:
    """Rank what to do next, judged on the likeliest kind of machine.

    Args:
        a: the assessment.
        look: the outlook of its likeliest kind of machine.
        safety: the holds that are on, and the chances they follow from.
        most: how many moves to return.
        asks_left: observations that may still be asked for; None for any number.
        strategy: `cost` for the least expected minutes, one step ahead; `ask_first` for the same, but cheap
            observations that pay come before any repair; `information` for bits per minute; `repairs` to observe
            nothing.
    """
    if look is None:
        return Plan((), 0.0, ())
    trouble = Trouble.of(a, look)
    belief, k = trouble.belief, a.knowledge
    fixes, waiting = open_fixes(a, belief, safety, trouble.causes)
    waits = _likely_and_waiting(k, waiting, trouble.weights)
    turn = its_turn(a, belief, fixes, waiting, trouble.shares)
    waiting, steps = worth_freeing(trouble, safety, waiting)
    trials, fixes = as_series(trouble, fixes)
    _, waiting = as_series(trouble, waiting)
    by_repairs = float(
        expected_minutes(trouble.weights, fixes.works, fixes.minutes, k.scales.decision.workshop_minutes, ROUNDS)[0]
    )
    cures = list(curing(trouble, fixes, trials, turn))
    mend = mended_first(k, a.case, safety.on)  # a scored piston is mended by no other oil, and by no jet
    cures = [m for m in cures if m.id in mend] or cures
    is_open = open_candidates(belief, a.case, safety.on)
    asking = strategy != "repairs" and (asks_left is None or asks_left > 0)
    looks = _Looks() if strategy == "repairs" else _Looks.of(trouble, safety, fixes, _dear(k, cures), is_open, asking)
    freed = partial(freed_by, belief, trouble.look, safety.risk, steps, k.scales.decision.lean_is_possible)
    moves = [*observing(trouble, looks.all, fixes, waiting, freed), *cures]
    if strategy == "information" and asking:
        moves.sort(key=lambda m: -m.gain_bits / m.minutes)
    else:
        _sort_by_cost(k, moves, by_repairs)
    if strategy == "ask_first":
        moves = _with_looks_first(trouble, safety, looks, moves, waits)
    first = looks.first
    moves.sort(key=lambda m: first.index(m.id) if m.kind in ("check", "question") and m.id in first else len(first))
    return Plan(
        _differing(k, moves, most), by_repairs, _facts(trouble.look, is_open), _largest_first(trouble.shares), waits
    )


@dataclass(frozen=True)
class _Looks:
    """The observations that may come before a deed, as candidates by number, and why each may."""

    first: tuple[str, ...] = ()  # ids of the checks that tell whether the engine may run at all
    open_first: tuple[int, ...] = ()
    telling: tuple[int, ...] = ()
    decide: tuple[int, ...] = ()
    prove: Spare = field(default_factory=dict)
    spare: Spare = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        trouble: Trouble,
        safety: Safety,
        fixes: Fixes,
        dear: Sequence[Deed],
        is_open: Callable[[int], bool],
        asking: bool,
    ) -> _Looks:
        """Those that are open; where nothing more may be asked, only what lifts a hold or must prove a repair."""
        look, case = trouble.look, trouble.a.case
        first = first_looks(trouble.a.knowledge, case, safety.on)
        open_first = tuple(t for t, (check, _) in enumerate(look.candidates.ids) if check in first and is_open(t))
        prove = proving(case, look, dear, is_open)
        if not asking:
            return cls(first, open_first, prove=prove)
        telling = tuple(_worth_working_out(look, is_open, trouble.belief.again))
        decide = _deciding(trouble.left, is_open, telling)
        spare = sparing(look, trouble.causes, trouble.to_cause, fixes, dear, is_open)
        return cls(first, open_first, telling, decide, prove, spare)

    @property
    def all(self) -> tuple[int, ...]:
        """All of them."""
        behind = (t for looked in (*self.prove.values(), *self.spare.values()) for t in looked)
        return (*self.open_first, *self.telling, *self.decide, *behind)


def _sort_by_cost(k: Knowledge, moves: list[Move], by_repairs: float) -> None:
    """Put the moves in the order of what they are expected to cost."""
    decision = k.scales.decision
    hopeful = decision.hopeful_trial * max(map(_rate, moves), default=0.0)
    moves.sort(key=lambda m: _in_order(m, by_repairs, decision.workshop_minutes, hopeful))


def _with_looks_first(
    trouble: Trouble, safety: Safety, looks: _Looks, moves: list[Move], waits: str | None
) -> list[Move]:
    """The moves, what is shown put right first, else what pays to ask; and each repair behind what proves it."""
    a, look, left = trouble.a, trouble.look, trouble.left
    shown = _against_shown(a, left, moves)
    spare = {deed: _named(moves, look, candidates) for deed, candidates in looks.spare.items()}
    if shown is not None:
        sure = max(left.chances[0].values()) >= a.knowledge.scales.decision.certain_cause
        moves = [*([] if sure else spare.get((shown.id, None), [])), shown, *moves]
    else:
        now = list(_before_all_asking(a, trouble.belief, safety, moves, waits))
        moves = _asking_first(a.knowledge, moves, now, _named(moves, look, looks.decide), spare)
    return list(_proved_first(moves, look, looks.prove))


def _largest_first(shares: Iterable[tuple[str | None, float]]) -> tuple[tuple[str, float], ...]:
    """The causes and their shares in what is still wrong, largest first."""
    named = [(c, p) for c, p in shares if c is not None and c != SEVERAL]
    return tuple(sorted(named, key=lambda share: (-share[1], share[0])))


def _before_all_asking(
    a: Assessment, belief: Belief, safety: Safety, moves: Sequence[Move], waits: str | None
) -> Iterator[Move]:
    """What is put right before any question, and what a leaner step waits for, whatever else is asked."""
    leading = _leading(a, belief, safety)
    yield from [m for m in moves if (m.id, m.direction) in leading][:1]
    if waits is not None and is_set_anew(a.knowledge, a.case) and not safety.risk.told_of_wide_open:
        yield from [m for m in moves if m.kind == "finding" and m.at in WIDE_OPEN][:1]


def _dear(k: Knowledge, cures: Iterable[Move]) -> tuple[Deed, ...]:
    """The repairs, and the steps of a setting for which the carburetor is opened; in order, for what comes of it is."""
    cheap = k.scales.decision.cheap_minutes
    return tuple(dict.fromkeys((m.id, m.direction) for m in cures if m.kind == "repair" or m.minutes >= cheap))


def _against_shown(a: Assessment, left: Outlook, moves: Iterable[Move]) -> Move | None:
    """The repair against what a check has shown, the quickest of those that cure it; None where there is none."""
    shown = shown_cause(a.knowledge, a.case, left.chances[0])
    cures = {fix.do for fix in a.knowledge.causes[shown].fixed_by} if shown is not None else set()
    repairs = [m for m in moves if m.kind == "repair" and m.id in cures]
    best = max((m.success for m in repairs), default=0.0)
    return max((m for m in repairs if m.success >= best / 2), key=_rate, default=None)


def _proved_first(moves: Iterable[Move], look: Outlook, prove: Spare) -> Iterator[Move]:
    """The moves, each repair that wants proof behind the check that gives it."""
    ordered = list(moves)
    for move in ordered:
        for check in _named(ordered, look, prove.get((move.id, move.direction), ())[:1]):
            yield replace(check, proves=move.id)
        yield move


def _asking_first(
    k: Knowledge, moves: list[Move], now: list[Move], decide: list[Move], spare: Mapping[Deed, list[Move]]
) -> list[Move]:
    """What is done `now`, then what pays to ask, then the deeds: what goes on, and whose turn it is, before others.

    What may decide about the likely cause is asked before what only pays, and a repair waits for the looks that may
    `spare` it.
    """
    deeds = [m for m in moves if m.kind not in _ASKED]
    further = max(deeds, key=lambda m: m.chance, default=None)
    if further is not None and further.goes_on and further.success >= k.scales.decision.goes_on:
        moves.sort(key=lambda m: m is not further)
    elif any(m.in_round for m in moves):
        moves.sort(key=lambda m: not m.in_round)
    asks = [m for m in decide if m.minutes <= k.scales.decision.cheap_minutes]
    if further is not None and further.chance >= k.scales.decision.likely_cause:
        asks += spare.get((further.id, further.direction), [])
    asks += _worth_asking(k, moves)
    deed = next((m for m in moves if m.kind not in _ASKED), None)
    if deed is not None:
        asks += spare.get((deed.id, deed.direction), [])
    # what leads is known from what was told: only a touch of the choke, or of the screw, may still come before a jet
    first = [x for m in now for x in (*[s for s in spare.get((m.id, m.direction), []) if s.at is not None][:1], m)]
    return [*first, *asks[:1], *_one_of_each(moves, asks[:1]), *asks[1:], *moves]


def _named(moves: list[Move], look: Outlook, candidates: Iterable[int]) -> list[Move]:
    """The moves that are some candidates, by number, in their order."""
    c = look.candidates
    found = {(m.kind, m.id, m.at): m for m in moves}
    return [found[c.kind[t], *c.ids[t]] for t in candidates]


def _deciding(left: Outlook, is_open: Callable[[int], bool], telling: Sequence[int]) -> tuple[int, ...]:
    """The open checks and questions that may decide about what is likely in what is `left` wrong.

    Where no one cause is likely, the quick looks at one that stands out come before them.
    """
    causes, groups = left.chances
    likely = likely_of(left.model.knowledge, causes, groups)
    suspect = () if likely == "cause" else suspect_looks(left, causes, is_open)
    decide = () if likely is None else (t for t in deciding(left, likely, telling) if is_open(t))
    return tuple(dict.fromkeys((*suspect, *decide)))


def _likely_and_waiting(k: Knowledge, waiting: Fixes, weights: Shares) -> str | None:
    """The setting to which it points that it is too rich, and whose leaner step waits for what is not known."""
    chance = (weights @ (waiting.works.T > 0))[0]
    if not len(chance) or chance.max() < k.scales.decision.points_to:
        return None
    return waiting.ids[int(np.argmax(chance))]


def _leading(a: Assessment, belief: Belief, safety: Safety) -> frozenset[tuple[str, Change | None]]:
    """What puts the likeliest cause right, by id and direction, where that comes before any question."""
    k = a.knowledge
    ranked = [(c, p) for c, p in islice(cause_chances(a), MOST_CAUSES) if p >= LEAST_SUCCESS]
    top, chance = ranked[0] if ranked else ("", 0.0)
    if top not in belief.model.cause_numbers:
        return frozenset()
    cause = k.causes[top]
    circuit = made_richer(belief, a.case, cause)
    way = Change.RICHER if circuit is not None else None
    if circuit is not None:
        chance = wanted(p for c, p in ranked if made_richer(belief, a.case, k.causes[c]) == circuit)
    risk = safety.risk
    lean, seen = risk.before_new_air() if cause.air else risk.at_wide_open(), not risk.nothing_seen
    if not may_lead(k, a.case, cause, chance, way, circuit, safety.holds, lean, first=False, seen=seen):
        return frozenset()
    if way is not None and circuit is not None:
        return frozenset({(circuit, way)})
    return frozenset((fix.do, None) for fix in cause.fixed_by)


def _in_order(m: Move, by_repairs: float, otherwise: float, hopeful: float) -> tuple[bool, bool, float]:
    """By expected minutes; deeds that a workshop would be cheaper than, by the chance that they cure per minute.

    Whoever does not go there works through what is left, and that is best done in the order of success per minute. An
    observation that is expected to save less than it takes waits for the deeds, and so does a trial that cures less
    than `hopeful` a minute: what is told of it afterwards would be all that it brings.
    """
    beyond = m.expected_minutes > otherwise
    waits = _rate(m) < hopeful if m.kind == "trial" else m.kind in _ASKED and m.expected_minutes >= by_repairs
    return waits, beyond, -_rate(m) if beyond else m.expected_minutes


def _worth_asking(k: Knowledge, moves: list[Move]) -> list[Move]:
    """The cheap observations that pay, best first.

    One answer alone seldom changes what is done next, but it shortens the search through all that may be needed,
    together with the answers still to come. It pays when it saves `ask_return` times its minutes. Once it is likelier
    than not that the best deed puts right what is wrong, or goes on with what has just helped, there is little left to
    search: an answer must then be worth its minutes by itself.
    """
    decision = k.scales.decision
    asks = [m for m in moves if m.kind in _ASKED and m.minutes <= decision.cheap_minutes]
    deeds = [m for m in moves if m.kind not in _ASKED]
    led = [m for m in deeds if m.goes_on]
    deed = max(led or deeds, key=_rate, default=None)
    if deed is not None and (deed.goes_on or deed.chance >= decision.likely_cause):
        asks = [m for m in asks if m.expected_minutes < deed.expected_minutes]
    return sorted((m for m in asks if m.saves > decision.ask_return * m.minutes), key=lambda m: m.minutes - m.saves)


def _rate(m: Move) -> float:
    """The chance that it cures, per minute."""
    return m.success / m.minutes


def _differing(k: Knowledge, moves: list[Move], most: int) -> tuple[Move, ...]:
    """The first of the moves, of near-duplicates (one sign at several places, paraphrases) only the best."""
    out: dict[tuple[str, str, Change | None], Move] = {}
    for move in moves:
        cluster = k.findings[move.id].cluster if move.kind == "finding" else None
        out.setdefault((move.kind, cluster or move.id, move.direction), move)
    return tuple(out.values())[:most]


_ASKED: Final = ("check", "question", "finding", "context")
_SORTS: Final = (("check",), ("repair", "trial"))


def _one_of_each(moves: list[Move], first: list[Move]) -> Iterator[Move]:
    """Beside a first question: the best check and the best deed by expected cost, so that there is a choice."""
    for sort in _SORTS:
        if first and first[0].kind not in sort:
            yield from [m for m in moves if m.kind in sort][:1]


def _facts(look: Outlook, is_open: Callable[[int], bool]) -> tuple[tuple[str, str, str | None], ...]:
    c = look.candidates
    out: dict[str, tuple[str, str, str | None]] = {}
    for t in np.argsort(-look.gain, kind="stable").tolist():
        if len(out) == _MOST_FACTS or look.gain[t] <= _LEAST_GAIN:
            break
        if c.cluster[t] not in out and is_open(t):
            out[c.cluster[t]] = (c.kind[t], *c.ids[t])
    return tuple(out.values())


def _worth_working_out(
    look: Outlook, is_open: Callable[[int], bool], again: Iterable[tuple[str, str]]
) -> Iterable[int]:
    """Candidates by number: what to look at `again` after a repair, and what tells most."""
    c = look.candidates
    rate = look.gain / c.minutes
    chosen = {t: None for sign in again if is_open(t := c.number[sign])}
    for worth, most in ((rate, _BY_RATE), (look.gain, _BY_GAIN)):
        found = 0
        for t in np.argsort(-worth, kind="stable").tolist():
            if found == most or look.gain[t] <= _LEAST_GAIN:
                break
            if t in chosen or is_open(t):
                chosen[t] = None
                found += 1
    return chosen


