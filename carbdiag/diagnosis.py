"""From a case to a diagnosis: likely causes with reasons, mixture by band, next steps, corrections."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import TypeVar, cast

import numpy as np

from carbdiag.applies import as_asked, can_be_asked
from carbdiag.belief.posterior import left_out_odds
from carbdiag.case_schema import Case, Machine
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment, Belief, by_group
from carbdiag.casework.levels import mixture_levels
from carbdiag.change_of_mind import would_lower
from carbdiag.correction import correct, tuning_rank
from carbdiag.diagnosis_schema import (
    BandMixture,
    CauseBelief,
    Correction,
    Diagnosis,
    GroupBelief,
    HoldNow,
    NextStep,
    OffMixture,
    PutBack,
    Reason,
    Unexplained,
    UnlistedBelief,
)
from carbdiag.explanation import CauseLikelihoods, in_words, likelihoods, reasons
from carbdiag.knowledge import Knowledge, shipped_knowledge
from carbdiag.lean_risk import LeanRisk, reaches_wide_open
from carbdiag.next_step import rank_steps
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import Outlook, outlook
from carbdiag.records.causes import Cause
from carbdiag.records.safety import CautionText
from carbdiag.safety import holds_on
from carbdiag.sizing import sized_change
from carbdiag.terms import LEVELS, UNKNOWN_FAMILY, Change, Direction, Effect, Level
from carbdiag.trials import brackets, direction_of, stretches, to_put_back

_MOST_CAUSES = 6
_LEAST_SHOWN = 0.02
#: Settings among the leading causes for which a size is worked out; the others get one practical step.
_MOST_SIZED = 2

MEANING = (
    "Percentages are degrees of belief under this knowledge, not measured success rates. They share out what the"
    " statements leave open among known causes; follow the machine's manual, local law and a workshop's eyes first."
)


def diagnose(
    case: Case, knowledge: Knowledge | None = None, steps: int = 5, sizes: bool = True
) -> Diagnosis:
    """Rank the likely causes of a case, with reasons, corrections and the next best checks.

    Args:
        case: everything known of one machine.
        knowledge: the records to reason with; without it, the shipped ones (loaded once).
        steps: how many next steps to rank, 0 to 20.
        sizes: whether to work out how large a change of setting is wanted; without, one practical step is named.

    Returns:
        The answer: `summary` in a sentence, `causes` with the likeliest first, `next_steps` with the best first. The
        same case and knowledge always give the same answer.

    Raises:
        CaseError: the case names what the knowledge does not have, or says what cannot be so; `problems` lists all.
        KnowledgeError: the shipped knowledge cannot be read.

    Examples:
        >>> from carbdiag import load_case
        >>> answer = diagnose(load_case("findings: [{finding: fuel_overflow}]"))
        >>> answer.causes[0].group, answer.causes[0].probability > 0.2
        ('float_valve_leak', True)
    """
    k = knowledge or shipped_knowledge()
    return _answer(assess(k, case), min(max(steps, 0), 20), sizes)


_Name = TypeVar("_Name", bound=Hashable)


@dataclass(frozen=True, eq=False)
class _Totals:
    """Beliefs of all machine kinds added up."""

    causes: dict[str, float]
    groups: dict[str, float]
    nothing: float
    unlisted: float
    unlisted_where: dict[tuple[str | None, str | None, Direction | None], float]  # (group, circuit, direction)
    levels: np.ndarray  # (bands, 5)
    main_by_state: np.ndarray  # (S,) of the likeliest kind of machine


def _add_up(a: Assessment) -> _Totals:
    causes: dict[str, float] = {}
    groups: dict[str, float] = {}
    where: dict[tuple[str | None, str | None, Direction | None], float] = {}
    nothing = unlisted = 0.0
    levels = np.zeros(0)
    main = max(a.beliefs, key=lambda b: b.weight)
    main_by_state = np.zeros(0)
    for b in a.beliefs:
        network = b.network
        by_state = b.posterior.by_state(network)
        if b is main:
            main_by_state = by_state
        per_cause = np.bincount(network.cause[network.pairing], by_state[network.pairing], len(b.model.cause_ids))
        _add(causes, b.model.cause_ids, per_cause * b.weight)
        _add(groups, b.model.group_ids, by_group(b, by_state) * b.weight)
        nothing += b.weight * float(by_state[0])
        unlisted += b.weight * b.background
        others = b.model.unlisted
        by_part = b.weight * np.bincount(others.where, by_state.take(others.states), len(others.parts))
        unlisted += float(by_part.sum())
        _add(where, others.parts, by_part)
        mine = b.weight * mixture_levels(b)
        levels = levels + mine if levels.size else mine
    return _Totals(causes, groups, nothing, unlisted, where, levels, main_by_state)


def _add(totals: dict[_Name, float], names: tuple[_Name, ...], more: np.ndarray) -> None:
    """Add numbers to named totals in place; the first to come are the totals."""
    pairs = zip(names, more.tolist(), strict=True)
    if not totals:
        totals.update(pairs)
        return
    for name, value in pairs:
        totals[name] = totals.get(name, 0.0) + value


def _leading(totals: dict[str, float], least: float) -> list[tuple[str, float]]:
    """Names and probabilities from `least` up, largest first, ties by name (the last digits are rounding)."""
    return sorted([(n, p) for n, p in totals.items() if p >= least], key=lambda i: (-round(i[1], 12), i[0]))


@dataclass(frozen=True, eq=False)
class _Standing:
    """What is believed, added up, and what that forbids for now."""

    totals: _Totals
    main: Belief
    levels: np.ndarray  # (bands, 5)
    lean: dict[str, float]  # band -> P(lean)
    told: bool
    holds: tuple[HoldNow, ...]

    @classmethod
    def of(cls, a: Assessment) -> _Standing:
        k, totals = a.knowledge, _add_up(a)
        main = max(a.beliefs, key=lambda b: b.weight)
        bands = [p.id for p in k.places.values() if p.kind == "band"]
        total = totals.levels.sum(axis=1, keepdims=True)
        levels = totals.levels / np.where(total > 0, total, 1.0)
        lean = {p: float(levels[n, 3] + levels[n, 4]) for n, p in enumerate(bands)}
        told = bool(main.observations) or a.case.air is not None
        return cls(totals, main, levels, lean, told, holds_on(k, a.case, lean, totals.causes) if told else ())

    @property
    def on(self) -> set[str]:
        """The holds by id."""
        return {h.id for h in self.holds}


def next_steps(case: Case, knowledge: Knowledge, steps: int) -> tuple[NextStep, ...]:
    """The next steps that `diagnose` ranks, without the rest of the answer.

    Raises:
        CaseError: listing every problem of the case.
    """
    a = assess(knowledge, case)
    now = _Standing.of(a)
    return rank_steps(now.main, a.case, now.on, steps, outlook(now.main))


def _answer(a: Assessment, steps: int, sizes: bool) -> Diagnosis:
    k, case = a.knowledge, a.case
    now = _Standing.of(a)
    totals, main, told = now.totals, now.main, now.told
    risk = LeanRisk(now.lean, a.beliefs)
    look = outlook(main) if steps else None
    proposed = rank_steps(main, case, now.on, steps, look)
    unexplained = _unexplained(a, totals, told)
    causes = _causes(a, main, totals, risk, _MOST_SIZED if sizes else 0) if told else ()
    if look is not None:
        causes = with_change_of_mind(k, look, open_candidates(main, case, now.on), causes)
    area = _area(k, causes, totals)
    mixture = _mixture(k, main, now.levels, list(now.lean)) if told else ()
    off = None if area or not told else _off(k, mixture)
    order = tuple(c.id for c in sorted(causes, key=lambda c: (tuning_rank(k, k.causes[c.id]), -c.probability)))
    do_now = None if unexplained.flag else _do_now(k, causes, order, now.holds)
    answer, summary = _summary(k, causes, totals, area, off, unexplained, proposed, told, do_now)
    notes = (*a.notices, *_notes(a, next(iter(causes), None)))
    return Diagnosis.trusted(
        edition=k.edition,
        case_id=case.id,
        title=case.title,
        machine=case.machine,
        air=case.air,
        told=tuple(o.statement for o in main.observations),
        answer=answer,
        area=area,
        off=off if answer == "open" else None,
        summary=summary,
        understood=_understood(k, case, main),
        causes=causes,
        order=order,
        do_now=None if do_now is None else do_now.id,
        groups=tuple(
            GroupBelief.trusted(group=g, name=k.groups[g].name, probability=_p(p))
            for g, p in _leading(totals.groups, _LEAST_SHOWN / 2)
        )
        if told
        else (),
        nothing_wrong=_p(totals.nothing) if told else 0.0,
        unlisted=_unlisted(totals) if told else UnlistedBelief.trusted(probability=0.0),
        mixture=mixture,
        next_steps=proposed,
        unexplained=unexplained,
        holds=now.holds,
        put_back_first=_put_back(k, case, now),
        brackets=brackets(k, case),
        families=_families(a),
        left_out=round(sum(b.weight * left_out_odds(b.network, b.evidence, b.posterior) for b in a.beliefs), 4),
        notes=notes,
        cautions=_cautions(k, a.case.machine, causes, proposed),
        of_machine=_of_use(k, a.case.machine),
        meaning=MEANING,
    )


def with_change_of_mind(
    k: Knowledge, look: Outlook, is_open: Callable[[int], bool], causes: tuple[CauseBelief, ...]
) -> tuple[CauseBelief, ...]:
    """The causes, each with the open observations that would lower it most."""
    lower = would_lower(k, look, is_open, [(c.id, c.probability) for c in causes])
    return tuple(CauseBelief.trusted(**{**c.__dict__, "would_change": lower[c.id]}) for c in causes)


def _p(p: float) -> float:
    return round(min(max(p, 0.0), 1.0), 4)


def _causes(
    a: Assessment, main: Belief, totals: _Totals, risk: LeanRisk, sizes_left: int
) -> tuple[CauseBelief, ...]:
    k = a.knowledge
    leading = _leading(totals.causes, _LEAST_SHOWN) or _leading(totals.causes, 0.0)[:1]
    ranked = [c for c, _ in leading[:_MOST_CAUSES]]
    known = [c for c in ranked if c in main.model.cause_numbers]
    # where nothing else is likely, the rival is the first cause at hand
    ids = tuple(known if len(known) > 1 else dict.fromkeys([*known, *main.model.cause_ids]))[: max(len(known), 2)]
    found = likelihoods(main, ids, totals.main_by_state)
    asked = as_asked(k.uses, a.case.machine)
    out = []
    for cause_id in ranked:
        cause = k.causes[cause_id]
        rival = next((c for c in ids if c != cause_id), cause_id)
        because, against = _reasons(k, main, found, cause_id, rival)
        way = main.model.directions.get(cause_id)
        correction = correct(k, cause, main.model.family, main.model.tables, way, risk)
        is_setting = correction.direction is not None or cause.air is not None
        if is_setting and correction.held_back is None and sizes_left > 0:
            sizes_left -= 1
            sized = sized_change(k, main, a.case, cause, risk)
            correction = Correction.trusted(**{**correction.__dict__, "sized": sized})
        separating = next((m.told_apart_by for m in cause.mistaken_for if m.cause == rival), None)
        if separating:
            told_apart = k.checks.get(separating) or k.findings[separating]
            if not can_be_asked(told_apart, asked, main.model.family, main.model.strokes):
                separating = None
        out.append(
            CauseBelief.trusted(
                id=cause_id,
                group=cause.group,
                name=cause.name,
                summary=cause.summary,
                probability=_p(totals.causes[cause_id]),
                words=in_words(k, totals.causes[cause_id]),
                circuit=cause.mixture.circuit if cause.mixture else None,
                direction=way,
                because=because,
                against=against,
                rival=rival if rival != cause_id else None,
                told_apart_by=_name_of(k, separating) if separating else None,
                separator=separating,
                correction=correction,
                verify=cause.verify,
                workshop=cause.workshop,
                sources=cause.sources,
                cautions=_all_cautions(k, cause, correction),
            )
        )
    return tuple(out)


def _all_cautions(
    k: Knowledge, cause: Cause, correction: Correction
) -> tuple[CautionText, ...]:
    """Those of the cause, then those of its correction, which depend on what is done and which way."""
    key = ("cautions", cause.id, correction.action, correction.direction)
    found = k.memo.get(key)
    if found is None:
        found = k.memo[key] = k.cautions_for((*cause.cautions, *(c.id for c in correction.cautions)))
    return cast(tuple[CautionText, ...], found)


def _reasons(
    k: Knowledge, main: Belief, found: CauseLikelihoods, cause: str, rival: str
) -> tuple[tuple[Reason, ...], tuple[Reason, ...]]:
    if cause not in found.causes or rival == cause:
        return (), ()
    return reasons(main, found, cause, rival, k.causes[rival].name.lower())


def _name_of(k: Knowledge, record: str) -> str:
    return k.checks[record].name if record in k.checks else k.findings[record].name


def _unlisted(totals: _Totals) -> UnlistedBelief:
    where, p = max(totals.unlisted_where.items(), key=lambda i: i[1], default=(None, 0.0))
    named = where is not None and p > totals.unlisted / 2
    return UnlistedBelief.trusted(
        probability=_p(totals.unlisted),
        group=where[0] if named and where else None,
        circuit=where[1] if named and where else None,
        direction=where[2] if named and where else None,
    )


def _mixture(
    k: Knowledge, main: Belief, levels: np.ndarray, bands: list[str]
) -> tuple[BandMixture, ...]:
    out = []
    for place, row in zip(bands, np.round(levels, 4).tolist(), strict=True):
        p = dict(zip(LEVELS, row, strict=True))
        out.append(
            BandMixture.trusted(
                place=place,
                name=k.places[place].name,
                levels=p,
                verdict=_verdict(p),
                circuits=main.model.controlling[place],
            )
        )
    return tuple(out)


def _verdict(p: dict[Level, float]) -> str:
    lean = p[Level.LEAN] + p[Level.VERY_LEAN]
    rich = p[Level.RICH] + p[Level.VERY_RICH]
    name, size = ("lean", lean) if lean >= rich else ("rich", rich)
    percent = round(100 * size)
    if percent >= 70:
        return f"probably {name} ({percent}%)"
    if percent >= 45:
        return f"perhaps {name} ({percent}%)"
    right = round(100 * p[Level.RIGHT])
    if right >= 60:
        return f"probably right ({right}%)"
    return "cannot tell yet"


def _unexplained(a: Assessment, totals: _Totals, told: bool) -> Unexplained:
    k = a.knowledge
    ratio = sum(b.weight * b.background_ratio for b in a.beliefs)
    main = max(a.beliefs, key=lambda b: b.weight)
    flag = told and ratio < k.scales.decision.explained_ratio
    out: list[int] = []
    if flag:
        by_state = totals.main_by_state[1:]
        fit = [
            (float(by_state @ o.likelihood[1:] / max(by_state.sum(), 1e-12)) / max(o.background, 1e-9), n)
            for n, o in enumerate(main.observations)
            if o.statement.kind != "context"
        ]
        out = [n for r, n in sorted(fit, key=lambda i: i[0]) if r < 1][:3]
    text = (
        "Nothing known here explains all of this well; take the list below with care."
        if flag
        else "Known causes explain this better than chance does."
        if told
        else "Nothing was told yet."
    )
    return Unexplained.trusted(
        flag=flag,
        ratio=float(f"{ratio:.3g}"),
        findings=tuple(main.observations[n].statement.text for n in out),
        statements=tuple(out),
        text=text,
    )


def _put_back(k: Knowledge, case: Case, now: _Standing) -> tuple[PutBack, ...]:
    """What to put back first; never all the way where that leans wide openings that may be lean already."""
    limits = {limit for h in now.on for limit in k.holds[h].trials}
    out = []
    for trial in to_put_back(case):
        circuit = k.circuits[str(trial.change)]
        too_far = trial.effect is Effect.OVERSHOT
        leaner = direction_of(circuit, trial) is not Change.LEANER
        reaches = not too_far and reaches_wide_open(now.main.model.tables, circuit.id)
        if leaner and limits & ({"all", "leaner", "leaner_wide"} if reaches else {"all", "leaner"}):
            continue
        actions = (k.actions[circuit.richer.action], k.actions[circuit.leaner.action])
        ids = dict.fromkeys((*circuit.cautions, *(c for a in actions for c in a.cautions)))
        cautions = k.cautions_for(tuple(ids))
        out.append(PutBack.trusted(circuit=circuit.id, too_far=too_far, cautions=cautions))
    return tuple(out)


def _area(k: Knowledge, causes: tuple[CauseBelief, ...], totals: _Totals) -> str | None:
    """The group to name instead of a cause: the likely one, or twice as likely as the likeliest cause."""
    if not causes or causes[0].probability >= k.scales.decision.likely_cause:
        return None
    group, p = max(totals.groups.items(), key=lambda i: i[1])
    points = p >= k.scales.decision.points_to and p >= 2 * causes[0].probability
    return group if points or p >= k.scales.decision.likely_area else None


def _off(k: Knowledge, mixture: tuple[BandMixture, ...]) -> OffMixture | None:
    """Rich or lean, with the bands beside the surest one that are as good as sure."""
    least = k.scales.decision.points_to_mixture
    ways = {
        Direction.RICH: [b.levels[Level.VERY_RICH] + b.levels[Level.RICH] for b in mixture],
        Direction.LEAN: [b.levels[Level.VERY_LEAN] + b.levels[Level.LEAN] for b in mixture],
    }
    way, chances = max(ways.items(), key=lambda w: max(w[1]))
    first = last = chances.index(max(chances))
    if chances[first] < least:
        return None
    while first > 0 and chances[first - 1] >= least:
        first -= 1
    while last + 1 < len(chances) and chances[last + 1] >= least:
        last += 1
    places = tuple(b.place for b in mixture[first : last + 1])
    return OffMixture.trusted(direction=way, places=places, probability=_p(max(chances)))


def _do_now(
    k: Knowledge, causes: Sequence[CauseBelief], order: Sequence[str], holds: Sequence[HoldNow]
) -> CauseBelief | None:
    """The cause that is as good as certain, where putting it right comes first and nothing observed forbids it."""
    if not causes or causes[0].probability < k.scales.decision.certain_cause or order[0] != causes[0].id:
        return None
    observed = any(hold.chance >= 1 for hold in holds)
    return None if observed or causes[0].correction.held_back else causes[0]


def _summary(
    k: Knowledge,
    causes: tuple[CauseBelief, ...],
    totals: _Totals,
    area: str | None,
    off: OffMixture | None,
    unexplained: Unexplained,
    steps: tuple[NextStep, ...],
    told: bool,
    do_now: CauseBelief | None,
) -> tuple[str, str]:
    first = _first_step(steps) if do_now is None else f" Do this now: {do_now.correction.name}."
    if not told:
        ask = "What does the engine do wrong, and at which throttle opening?"
        return "ask_first", f"Nothing was observed yet, so nothing is claimed. Answer this first: {ask}"
    top = causes[0]
    if unexplained.flag:
        return "unexplained", f"I can't explain this well yet.{first} Nearest guess: {top.name.lower()}."
    if top.probability >= k.scales.decision.likely_cause:
        return "likely", f"{top.name} is {top.words} ({top.probability:.0%}).{first}"
    if area is not None:
        name, p = k.groups[area].name, totals.groups[area]
        if p >= k.scales.decision.likely_area:
            return "likely", f"{name} is {in_words(k, p)} ({p:.0%}); which part of it is open.{first}"
        return "open", f"I can't tell yet which part, but it points to this: {name.lower()} ({p:.0%}).{first}"
    few = ", ".join(f"{c.name.lower()} ({c.probability:.0%})" for c in causes[:3])
    return "open", f"I can't tell yet{_runs(k, off)}. Most likely so far: {few}.{first}"


def _runs(k: Knowledge, off: OffMixture | None) -> str:
    if off is None:
        return ""
    first, last = (k.places[off.places[n]].name for n in (0, -1))
    where = f"at {first}" if first == last else f"from {first} to {last}"
    return f" which part, but it probably runs {off.direction} {where} ({off.probability:.0%})"


def _first_step(steps: tuple[NextStep, ...]) -> str:
    if not steps:
        return ""
    step = steps[0]
    if step.kind == "check":
        return f" Check this first: {step.name}."
    return f" Answer this first: {step.name if step.kind == 'question' else step.do}"


def _understood(k: Knowledge, case: Case, main: Belief) -> tuple[str, ...]:
    machine = case.machine
    known = machine.family != UNKNOWN_FAMILY
    family = k.families[machine.family].name if known else "Carburetor not known"
    stroke = {2: "two-stroke", 4: "four-stroke", None: "two- or four-stroke not said"}[machine.strokes]
    cylinders = f", {machine.cylinders} cylinder{'s' if machine.cylinders != 1 else ''}" if machine.cylinders else ""
    used = k.uses[machine.use].name if machine.use is not None else ""
    use = f"; {used if used[1:2].isupper() else used.lower()}" if used else ""
    lines = [f"{family}, {stroke}{cylinders}{use}"]
    if case.air is not None:
        was, now = (
            f"{a.elevation_m:.0f} m" + (f" and {a.temperature_c:.0f} °C" if a.temperature_c is not None else "")
            for a in (case.air.set, case.air.now)
        )
        lines.append(f"Set at {was}, now at {now}")
    told = [o.statement for o in main.observations]
    when = {n: f"{mark.replace('_', ' ').capitalize()}: " for n, mark in stretches(told).items()}
    return (*lines, *(when.get(n, "") + s.text for n, s in enumerate(told)))


def _families(a: Assessment) -> dict[str, float]:
    """How likely each kind of carburetor is, the likeliest first; nothing where it was said."""
    if a.case.machine.family != UNKNOWN_FAMILY:
        return {}
    weights: dict[str, float] = {}
    for b in a.beliefs:
        weights[b.model.family.id] = weights.get(b.model.family.id, 0.0) + b.weight
    return {f: _p(w) for f, w in sorted(weights.items(), key=lambda i: -i[1])}


def _notes(a: Assessment, leading: CauseBelief | None) -> tuple[str, ...]:
    k, machine = a.knowledge, a.case.machine
    out = []
    if machine.family == UNKNOWN_FAMILY:
        mix = ", ".join(f"{k.families[f].name.lower()} {w:.0%}" for f, w in _families(a).items())
        out.append(f"The kind of carburetor is not known; the answer mixes {mix}.")
    if machine.strokes is None:
        out.append("Two-stroke or four-stroke was not said; both were considered.")
    if leading is not None and leading.correction.direction:
        stages = " → ".join(s.name.lower() for s in k.tuning_order.values())
        out.append(f"Put things right in this order, one change at a time: {stages}.")
    return tuple(out)


def _of_use(k: Knowledge, machine: Machine) -> tuple[str, ...]:
    return k.uses[machine.use].cautions if machine.use is not None else ()


def _cautions(
    k: Knowledge,
    machine: Machine,
    causes: tuple[CauseBelief, ...], steps: tuple[NextStep, ...]
) -> tuple[CautionText, ...]:
    seen: dict[str, CautionText] = {}
    asked, of_cause = (steps[0].cautions if steps else ()), (causes[0].cautions if causes else ())
    shown = [*k.cautions_for(_of_use(k, machine)), *asked, *of_cause]
    for caution in shown:
        seen.setdefault(caution.id, caution)
    return tuple(seen.values())
