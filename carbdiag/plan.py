"""What to do next: questions, checks, trials of a setting and repairs, compared by the expected minutes to the cure.

One step ahead, as in decision-theoretic troubleshooting (Heckerman, Breese, Rommelse 1995): the expected minutes of
the repairs, in the order of success per minute, are what everything is measured by. Observations that shorten the
search for the repair that is needed by enough come before any repair; others only when their minutes and the repairs
expected after them cost less than the repairs expected now. A trial of a setting is an observation that may cure, and
one of several where a setting is off by several steps. Two causes that are both at work count as half of each; what
was repaired, or a setting that was put right, is no longer at work, for whoever asks on is not cured.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.information import Shares, outcome_gain_bits
from carbdiag.belief.lattice import Floats
from carbdiag.belief.quiet_product import quiet_product
from carbdiag.belief.repair_cost import expected_minutes, search_minutes
from carbdiag.casework.believed import Assessment, Belief, likeliest
from carbdiag.casework.several_settings import is_set_anew
from carbdiag.casework.still_at_work import put_right
from carbdiag.deciding import deciding, likely_of
from carbdiag.do_now import MOST_CAUSES, may_lead, wanted
from carbdiag.fixes import Fixes, open_fixes
from carbdiag.freed import Waiting, freed_by
from carbdiag.knowledge import Knowledge
from carbdiag.lean_risk import WIDE_OPEN
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import Outlook
from carbdiag.safety import Safety, cause_chances, first_looks
from carbdiag.setting_round import Turn, its_turn
from carbdiag.setting_trials import goes_on, steps_to_try
from carbdiag.several_outlook import SEVERAL, with_several
from carbdiag.shown import shown_cause, suspect_looks
from carbdiag.sparing import Deed, Spare, proving, sparing
from carbdiag.suiting import made_richer
from carbdiag.terms import Change, Effect
from carbdiag.trial_outlook import TRIAL_EFFECTS, TrialOutlook

Kind = Literal["check", "question", "finding", "context", "repair", "trial", "machine"]
Strategy = Literal["ask_first", "cost", "information", "repairs"]

#: Observations whose cost is worked out: the best by information per minute and the best by information.
_BY_RATE, _BY_GAIN = 60, 20
#: Observations that tell less than this, in bits, are not worth asking for.
_LEAST_GAIN = 1e-3
_MOST_FACTS = 3
#: Repairs whose cost is worked out as a first step.
_REPAIRS = 10
#: Repairs looked ahead; what is left after them is small.
_ROUNDS = 10
#: A repair or trial less likely than this to cure is not proposed.
_LEAST_SUCCESS = 0.004
_WORSE: Final = TRIAL_EFFECTS.index(Effect.WORSE)


@dataclass(frozen=True)
class Move:
    """One thing to do next, with what it costs; `success` is the chance that it cures.

    `saves`: minutes by which an answer is expected to shorten the search for the repair that is needed.
    `chance`: that what this deed puts right is wrong; of a trial, that the setting is off this way, by however much.
    `goes_on`: whether the step before it was the same way, and helped.
    `in_round`: whether settings are gone through one after the other, and it is the turn of this one.
    `for_others`: whether it is so only that others can be made leaner safely.
    `proves`: the repair that nobody does before this check.
    """

    kind: Kind
    id: str
    at: str | None
    direction: Change | None
    steps: float  # of a setting
    minutes: float
    expected_minutes: float
    success: float
    gain_bits: float
    outcomes: tuple[tuple[str, float], ...]
    saves: float = 0.0
    chance: float = 0.0
    goes_on: bool = False
    in_round: bool = False
    for_others: bool = False
    proves: str | None = None


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
    belief = likeliest(a)
    if look is None:
        return Plan((), 0.0, ())
    look = with_several(look, belief)
    causes, to_cause = _still_wrong(look, put_right(belief))
    weights = (look.groups.weights @ to_cause)[None, :]
    fixes, waiting = open_fixes(a, belief, safety, causes)
    otherwise = a.knowledge.scales.decision.workshop_minutes
    waits = _likely_and_waiting(a.knowledge, waiting, weights)
    turn = its_turn(a, belief, fixes, waiting, tuple(zip(causes, weights[0].tolist(), strict=True)))
    waiting, steps = _worth_freeing(a, belief, safety, waiting, weights)
    trials, fixes = _as_series(a, belief, look, to_cause, fixes)
    _, waiting = _as_series(a, belief, look, to_cause, waiting)
    by_repairs = float(expected_minutes(weights, fixes.works, fixes.minutes, otherwise, _ROUNDS)[0])

    left, shares = _left(look, to_cause), _largest_first(causes, weights)
    is_open = open_candidates(belief, a.case, safety.on)
    asking = strategy != "repairs" and (asks_left is None or asks_left > 0)
    possible = a.knowledge.scales.decision.lean_is_possible
    freed = partial(freed_by, belief, look, safety.risk, steps, possible)
    looks = () if strategy == "repairs" else first_looks(a.knowledge, a.case, safety.on)
    chosen = [t for t, (check, _) in enumerate(look.candidates.ids) if check in looks and is_open(t)]
    decide: tuple[int, ...] = ()
    if asking:
        telling = tuple(_worth_working_out(look, is_open, belief.again))
        decide = _deciding(left, is_open, telling)
        chosen += [*telling, *decide]
    cures = list(_cures(a, look, to_cause, weights, fixes, trials, turn))
    dear = _dear(a.knowledge, cures)
    prove = {} if strategy == "repairs" else proving(a.case, look, dear, is_open)
    spare = sparing(look, causes, to_cause, fixes, dear, is_open) if asking else {}
    chosen += [t for looked in (*prove.values(), *spare.values()) for t in looked]
    moves = [*_observations(a, look, chosen, to_cause, fixes, waiting, freed), *cures]
    if strategy == "information" and asking:
        moves.sort(key=lambda m: -m.gain_bits / m.minutes)
    else:
        hopeful = a.knowledge.scales.decision.hopeful_trial * max(map(_rate, moves), default=0.0)
        moves.sort(key=lambda m: _in_order(m, by_repairs, otherwise, hopeful))
    if strategy == "ask_first":
        shown = _against_shown(a, left, moves)
        looked = {deed: _named(moves, look, candidates) for deed, candidates in spare.items()}
        if shown is not None:
            sure = max(left.chances[0].values()) >= a.knowledge.scales.decision.certain_cause
            moves = [*([] if sure else looked.get((shown.id, None), [])), shown, *moves]
        else:
            now = list(_before_all_asking(a, belief, safety, moves, waits))
            moves = _asking_first(a.knowledge, moves, now, _named(moves, look, decide), looked)
        moves = list(_proved_first(moves, look, prove))
    moves.sort(key=lambda m: looks.index(m.id) if m.kind in ("check", "question") and m.id in looks else len(looks))
    return Plan(_differing(a.knowledge, moves, most), by_repairs, _facts(look, is_open), shares, waits)


def _largest_first(causes: Sequence[str | None], weights: Shares) -> tuple[tuple[str, float], ...]:
    """The causes and their shares in what is still wrong, largest first."""
    shares = [(c, p) for c, p in zip(causes, weights[0].tolist(), strict=True) if c is not None and c != SEVERAL]
    return tuple(sorted(shares, key=lambda share: (-share[1], share[0])))


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


def _left(look: Outlook, to_cause: Shares) -> Outlook:
    """The outlook on what is still wrong."""
    return replace(look, groups=replace(look.groups, weights=look.groups.weights * to_cause.sum(axis=1)))


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
    ranked = [(c, p) for c, p in islice(cause_chances(a), MOST_CAUSES) if p >= _LEAST_SUCCESS]
    top, chance = ranked[0] if ranked else ("", 0.0)
    if top not in belief.model.cause_numbers:
        return frozenset()
    cause = k.causes[top]
    circuit = made_richer(belief, a.case, cause)
    way = Change.RICHER if circuit is not None else None
    if circuit is not None:
        chance = wanted(p for c, p in ranked if made_richer(belief, a.case, k.causes[c]) == circuit)
    if not may_lead(k, a.case, cause, chance, way, circuit, safety.holds, safety.risk.at_wide_open(), first=False):
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


def _still_wrong(look: Outlook, mended: Floats) -> tuple[tuple[str | None, ...], Shares]:
    """The causes that the merged hypotheses name (None: nothing wrong), and what of each is still at work, (M, C).

    Several settings off at once are one more, the last. Whoever asks what to do next is not cured: what settings have
    put right is out, and the rest is scaled up to one. Two causes that are both at work share a hypothesis.
    """
    states = look.model.states
    pairs = list(zip(look.first.tolist(), look.second.tolist(), strict=True))
    named = dict.fromkeys(states[s].cause for s, t in pairs for s in ((s, t) if t else (s,)))
    causes = tuple(named) if look.several is None else (*named, SEVERAL)
    number = {c: n for n, c in enumerate(causes)}
    out = np.zeros((len(pairs), len(causes)), dtype=np.float32)
    for m, (s, t) in enumerate(pairs if look.several is None else pairs[:-1]):
        left, other = 1 - mended[s], (1 - mended[t] if t else 0.0)
        out[m, number[states[s].cause]] += left * (1 - other / 2)
        if t:
            out[m, number[states[t].cause]] += other * (1 - left / 2)
    if look.several is not None:
        out[-1, -1] = 1.0
    return causes, out / float(look.groups.weights @ out.sum(axis=1))


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


def _observations(
    a: Assessment,
    look: Outlook,
    candidates: Iterable[int],
    to_cause: Shares,
    fixes: Fixes,
    waiting: Fixes,
    freed: Callable[[Sequence[int], Shares], NDArray[np.bool_]],
) -> Iterator[Move]:
    """Candidates, by number, as moves: what their answers would leave to do."""
    c, chosen = look.candidates, tuple(dict.fromkeys(candidates))
    if not chosen:
        return
    given = [look.given(t) for t in chosen]
    stacked: Shares = np.concatenate(given) * look.groups.weights
    otherwise = a.knowledge.scales.decision.workshop_minutes
    by_cause = quiet_product(stacked, to_cause)
    after = expected_minutes(by_cause, fixes.works, fixes.minutes, otherwise, _ROUNDS)
    by_repair, minutes = _summed_by_repair(by_cause, fixes, otherwise)
    search = search_minutes(by_repair, minutes)
    if waiting.ids:
        free = freed(list(chosen), stacked)
        for which in np.unique(free[free.any(axis=1)], axis=0):
            alike = np.flatnonzero((free == which).all(axis=1))
            wider = fixes.beside(waiting.some(np.flatnonzero(which)))
            after[alike] = expected_minutes(by_cause[alike], wider.works, wider.minutes, otherwise, _ROUNDS)
            search[alike] = search_minutes(*_summed_by_repair(by_cause[alike], wider, otherwise))
    marginal = stacked.sum(axis=1)
    # the answers to any one observation add up to what is believed now
    now = float(search_minutes(by_repair[: len(given[0])].sum(axis=0, keepdims=True), minutes)[0])
    start = 0
    for t, rows in zip(chosen, given, strict=True):
        end = start + len(rows)
        record, place = c.ids[t]
        yield Move(
            kind=c.kind[t],
            id=record,
            at=place,
            direction=None,
            steps=1.0,
            minutes=float(c.minutes[t]),
            expected_minutes=float(c.minutes[t] + after[start:end].sum()),
            success=0.0,
            gain_bits=float(look.gain[t]),
            outcomes=tuple(zip(outcomes_of(a.knowledge, c.kind[t], record), marginal[start:end].tolist(), strict=True)),
            saves=now - float(search[start:end].sum()),
        )
        start = end


def _worth_freeing(
    a: Assessment, belief: Belief, safety: Safety, waiting: Fixes, weights: Shares
) -> tuple[Fixes, tuple[Waiting, ...]]:
    """Of the steps that wait those that may well cure, and that an answer may well free."""
    kept, steps = [], []
    for n in np.flatnonzero(weights[0] @ waiting.works.T >= _LEAST_SUCCESS).tolist():
        circuit, at = waiting.ids[n], waiting.at[n] or ""
        step = Waiting(circuit, at, steps_to_try(a, belief, circuit, Change.LEANER, at))
        if max(safety.risk.after_leaner(circuit, step.steps).values()) <= a.knowledge.scales.decision.hopeless:
            kept.append(n)
            steps.append(step)
    return waiting.some(np.array(kept, dtype=np.intp)), tuple(steps)


def _summed_by_repair(by_cause: Shares, fixes: Fixes, otherwise: float) -> tuple[Shares, Shares]:
    """Causes summed by the repair that would be done first, were the cause known: (R, C) to (R, A); and minutes (A,).

    What no repair cures costs `otherwise`.
    """
    nothing = np.zeros((1, by_cause.shape[1]), dtype=np.float32)
    rate = np.concatenate([fixes.works / fixes.minutes[:, None], nothing])
    repair = np.where(rate.any(axis=0), np.argmax(rate, axis=0), len(fixes.ids))
    order = np.argsort(repair, kind="stable")
    start = np.flatnonzero(np.diff(repair[order], prepend=-1))
    minutes = np.append(fixes.minutes, np.float32(otherwise))[repair[order][start]]
    return np.asarray(np.add.reduceat(by_cause[:, order], start, axis=1)), minutes


def outcomes_of(k: Knowledge, kind: str, record: str) -> tuple[str, ...]:
    """The outcomes of a check, question, sign or circumstance, as an answer names them."""
    return tuple(k.checks[record].outcomes) if kind in ("check", "question") else ("yes", "no")


def _as_series(
    a: Assessment, belief: Belief, look: Outlook, to_cause: Shares, fixes: Fixes
) -> tuple[dict[int, tuple[TrialOutlook, float]], Fixes]:
    """The steps of settings among some fixes, with how far each goes, and the fixes at the minutes of all their steps.

    A setting that is off by several steps is put right one trial after the other. Were the whole counted at the
    minutes of one, and the first trial at what it alone cures, the plan would put the trial off for ever.
    """
    trials, minutes = {}, fixes.minutes.copy()
    for n, direction in enumerate(fixes.direction):
        if direction is None:
            continue
        circuit, place = fixes.ids[n], fixes.at[n] or ""
        steps = steps_to_try(a, belief, circuit, direction, place)
        trials[n] = TrialOutlook.of(belief, look, circuit, direction, steps, place), steps
        minutes[n] *= trials[n][0].trials_needed(look.groups.weights, to_cause, fixes.works[n])
    return trials, replace(fixes, minutes=minutes)


def _cures(
    a: Assessment,
    look: Outlook,
    to_cause: Shares,
    weights: Shares,
    fixes: Fixes,
    trials: dict[int, tuple[TrialOutlook, float]],
    turn: Turn | None,
) -> Iterator[Move]:
    """The repairs and trials most likely to cure per minute, as first steps, and the setting whose turn it is."""
    k = a.knowledge
    if not len(fixes.ids):
        return
    success = (weights @ fixes.works.T)[0]
    order = np.argsort(-success / fixes.minutes, kind="stable")
    order = order[success[order] >= _LEAST_SUCCESS][:_REPAIRS]
    if turn is not None and turn.fix not in order:
        order = np.append(order, turn.fix)
    otherwise = k.scales.decision.workshop_minutes
    by_effect = k.scales.trials.repair
    for n in order.tolist():
        minutes, works, left = fixes.minutes, fixes.works, np.arange(len(fixes.ids)) != n
        way = fixes.direction[n]
        if n not in trials:
            p, steps, takes = float(success[n]), 1.0, float(minutes[n])
            outcomes = tuple(
                (e.value, p * by_effect.fixed[e] + (1 - p) * by_effect.not_fixed[e]) for e in by_effect.fixed
            )
            rows, minutes, works = weights * (1 - works[n]), minutes[left], works[left]
            gain = _entropy(np.array([p, 1 - p]))
        else:
            trial, steps = trials[n]
            now, cured = look.groups.weights, trial.cures(to_cause, works[n])
            p, joint = float(now @ cured), trial.felt * now
            effects = joint.sum(axis=1)
            mostly_worse = effects[_WORSE] > a.knowledge.scales.decision.mostly_worse
            if turn is not None and n != turn.fix and mostly_worse:
                continue
            outcomes = tuple((e.value, float(told)) for e, told in zip(TRIAL_EFFECTS, effects, strict=True))
            rows = (joint * (1 - cured)) @ to_cause
            takes = float(minutes[n]) / trial.trials_needed(now, to_cause, works[n])
            minutes = minutes.copy()
            minutes[n] = takes * trial.trials_needed(now * (1 - cured), to_cause, works[n], done=1)
            gain = float(outcome_gain_bits(now, trial.felt, np.zeros(1, dtype=np.intp))[0])
        yield Move(
            kind="trial" if n in trials else "repair",
            id=fixes.ids[n],
            at=fixes.at[n],
            direction=way,
            steps=steps,
            minutes=takes,
            expected_minutes=takes + float(expected_minutes(rows, works, minutes, otherwise, _ROUNDS).sum()),
            success=p,
            gain_bits=gain,
            outcomes=outcomes,
            chance=float(success[n]) if way is None else float((weights @ (fixes.works[n] > 0))[0]),
            goes_on=way is not None and goes_on(k, a.case, fixes.ids[n], way),
            in_round=turn is not None and n == turn.fix,
            for_others=turn is not None and n == turn.fix and turn.for_others,
        )


def _entropy(p: Shares) -> float:
    """Bits of a distribution."""
    p = p[p > 0]
    return float(-(p * np.log2(p)).sum())
