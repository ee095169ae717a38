"""From a case to a diagnosis: likely causes with reasons, mixture by band, next steps, corrections."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from carbdiag.applies import as_asked, can_be_asked
from carbdiag.belief.posterior import left_out_odds
from carbdiag.case_schema import Case, Machine
from carbdiag.casework.assessing import assess
from carbdiag.casework.believed import Assessment, Belief, likeliest
from carbdiag.casework.still_at_work import put_right
from carbdiag.change_of_mind import would_lower
from carbdiag.correction import correct, tuning_rank
from carbdiag.deciding import Likely, likely_of
from carbdiag.diagnosis_schema import (
    BandMixture,
    Bracket,
    CauseBelief,
    Correction,
    Diagnosis,
    GroupBelief,
    HoldNow,
    MayUse,
    NextStep,
    PutBack,
    Reason,
    UnlistedBelief,
    left_to_do,
)
from carbdiag.do_now import MOST_CAUSES, may_lead, wanted
from carbdiag.errors import OutOfRangeError, must_be
from carbdiag.explanation import CauseLikelihoods, in_words, likelihoods, reasons
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.lean_risk import LeanRisk, reaches_wide_open, sound_lean
from carbdiag.next_step import rank_steps
from carbdiag.open_candidates import open_candidates
from carbdiag.outlook import Outlook, outlook
from carbdiag.records.causes import Cause
from carbdiag.records.safety import CautionText
from carbdiag.safety import holds_on, may_use
from carbdiag.several_off import several_off
from carbdiag.sizing import sized_change, trouble_band
from carbdiag.suiting import setting_to_suit
from carbdiag.summing_up import area_of, families_of, notes_of, off_at, summed_up, understood, unexplained_by
from carbdiag.terms import LEVELS, Change, Effect, Level
from carbdiag.totals import Totals, add_up, leading_of, rounded
from carbdiag.trials import brackets, direction_of, to_put_back, was_better_there

#: Next steps that can be asked for: the limits of kinds leave hardly more, and nobody reads on.
MOST_STEPS = 20

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
        steps: how many next steps to rank, 0 to 20 (`MOST_STEPS`).
        sizes: whether to work out how large a change of setting is wanted; without, one practical step is named.

    Returns:
        The answer: `summary` in a sentence, `causes` with the likeliest first, `next_steps` with the best first. The
        same case and knowledge always give the same answer.

    Raises:
        CaseError: the case names what the knowledge does not have, or says what cannot be so; `problems` lists all.
        KnowledgeError: the shipped knowledge cannot be read.
        OutOfRangeError: `steps` is below 0 or above 20.

    Examples:
        >>> from carbdiag import load_case
        >>> answer = diagnose(load_case("findings: [{finding: fuel_overflow}]"))
        >>> answer.causes[0].group, answer.causes[0].probability > 0.2
        ('float_valve_leak', True)
    """
    must_be(case, Case, "a case is a Case: load_case(text) reads YAML or JSON, Case.model_validate(data) takes a dict")
    if not 0 <= steps <= MOST_STEPS:
        raise OutOfRangeError("steps", steps, 0, MOST_STEPS, "")
    k = the_knowledge(knowledge)
    return _answer(assess(k, case), steps, sizes)


@dataclass(frozen=True, eq=False)
class _Standing:
    """What is believed, added up, and what that forbids for now."""

    totals: Totals
    main: Belief
    levels: np.ndarray  # (bands, 5)
    lean: dict[str, float]  # band -> P(lean)
    told: bool  # of the engine, or of the air: circumstances alone are no trouble
    holds: tuple[HoldNow, ...]
    may_use: MayUse

    @classmethod
    def of(cls, a: Assessment) -> _Standing:
        """Where all the beliefs about one case stand, added up."""
        k, totals = a.knowledge, add_up(a)
        main = likeliest(a)
        bands = [p.id for p in k.places.values() if p.kind == "band"]
        total = totals.levels.sum(axis=1, keepdims=True)
        levels = totals.levels / np.where(total > 0, total, 1.0)
        lean = {p: float(levels[n, 3] + levels[n, 4]) for n, p in enumerate(bands)}
        told = a.case.air is not None or any(o.statement.kind != "context" for o in main.observations)
        believed = (lean, totals.causes) if told else ({}, {})
        sound = sound_lean(a.beliefs)
        holds = holds_on(k, a.case, *believed, sound) if told or main.observations else ()
        use = may_use(k, a.case, *believed, sound) if told or holds else MayUse.trusted(how="not_known")
        return cls(totals, main, levels, lean, told, holds, use)

    @property
    def likely(self) -> Likely | None:
        """Whether one cause is called likely, or a group of causes."""
        return likely_of(self.main.model.knowledge, self.totals.causes, self.totals.groups)

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
    return rank_steps(now.main, a.case, now.on, steps, outlook(now.main), now.likely)


def _answer(a: Assessment, steps: int, sizes: bool) -> Diagnosis:
    k, case = a.knowledge, a.case
    now = _Standing.of(a)
    totals, main, told = now.totals, now.main, now.told
    risk = LeanRisk(now.lean, a.beliefs)
    look = outlook(main) if steps else None
    proposed = rank_steps(main, case, now.on, steps, look, now.likely)
    unexplained = unexplained_by(a, totals, told)
    causes = _causes(a, main, totals, risk, _MOST_SIZED if sizes else 0) if told else ()
    if look is not None:
        causes = with_change_of_mind(k, look, open_candidates(main, case, now.on), causes)
    several = several_off(a) if told else None
    area = None if several is not None and several.leads else area_of(k, causes, totals)
    mixture = _mixture(k, main, now.levels, list(now.lean)) if told else ()
    off = None if area or not told else off_at(k, mixture)
    order = tuple(c.id for c in sorted(causes, key=lambda c: (tuning_rank(k, k.causes[c.id]), -c.probability)))
    put_back = _put_back(k, case, now)
    holds = (*now.holds, *_forbidding(now.may_use))
    do_now = None if unexplained.flag or put_back else _do_now(k, case, causes, order, holds, risk)
    notes = (*a.notices, *notes_of(a, next(iter(causes), None)))
    unsaid = Diagnosis.trusted(
        edition=k.edition,
        case_id=case.id,
        title=case.title,
        machine=case.machine,
        air=case.air,
        told=tuple(o.statement for o in main.observations),
        answer="ask_first",
        area=area,
        off=off,
        several_settings=several,
        summary="",
        understood=understood(k, case, main),
        causes=causes,
        order=order,
        do_now=None if do_now is None else do_now.id,
        groups=tuple(
            GroupBelief.trusted(group=g, name=k.groups[g].name, probability=rounded(p))
            for g, p in leading_of(totals.groups, k.scales.showing.cause_from / 2)
        )
        if told
        else (),
        nothing_wrong=rounded(totals.nothing) if told else 0.0,
        unlisted=_unlisted(totals) if told else UnlistedBelief.trusted(probability=0.0),
        mixture=mixture,
        next_steps=proposed,
        unexplained=unexplained,
        only_air=_only_other_air(k, case, risk, causes),
        holds=now.holds,
        may_use=now.may_use,
        put_back_first=put_back,
        brackets=_brackets(k, case, risk),
        families=families_of(a),
        left_out=round(sum(b.weight * left_out_odds(b.network, b.evidence, b.posterior) for b in a.beliefs), 4),
        notes=notes,
        cautions=_cautions(k, a.case.machine, causes, proposed),
        of_machine=_of_use(k, a.case.machine),
        meaning=MEANING,
    )
    return summed_up(k, unsaid, told)


def with_change_of_mind(
    k: Knowledge, look: Outlook, is_open: Callable[[int], bool], causes: tuple[CauseBelief, ...]
) -> tuple[CauseBelief, ...]:
    """The causes, each with the open observations that would lower it most."""
    lower = would_lower(k, look, is_open, [(c.id, c.probability) for c in causes])
    return tuple(CauseBelief.trusted(**{**c.__dict__, "would_change": lower[c.id]}) for c in causes)


def _causes(
    a: Assessment, main: Belief, totals: Totals, risk: LeanRisk, sizes_left: int
) -> tuple[CauseBelief, ...]:
    k = a.knowledge
    leading = leading_of(totals.causes, k.scales.showing.cause_from) or leading_of(totals.causes, 0.0)[:1]
    ranked = [c for c, _ in leading[:MOST_CAUSES]]
    known = [c for c in ranked if c in main.model.cause_numbers]
    # where nothing else is likely, the rival is the first cause at hand
    ids = tuple(known if len(known) > 1 else dict.fromkeys([*known, *main.model.cause_ids]))[: max(len(known), 2)]
    found = likelihoods(main, ids, totals.main_by_state)
    mended = _mended(a.case, main, totals.main_by_state)
    out = []
    for cause_id in ranked:
        cause = k.causes[cause_id]
        rival = next((c for c in ids if c != cause_id), cause_id)
        way = main.model.directions.get(cause_id)
        suits = setting_to_suit(main, a.case, cause)
        moved = suits or cause.setting
        felt_at = trouble_band(k, main, a.case, moved) if moved and moved in main.model.step_x else None
        correction = correct(k, cause, main.model.family, main.model.tables, way, risk, suits, felt_at)
        is_setting = correction.direction is not None or cause.air is not None
        if is_setting and correction.held_back is None and sizes_left > 0:
            sizes_left -= 1
            sized = sized_change(k, main, a.case, cause, risk, suits)
            correction = Correction.trusted(**{**correction.__dict__, "sized": sized})
        because, against = _reasons(k, main, found, cause_id, rival)
        separating = _separator(a, main, cause, rival)
        out.append(
            CauseBelief.trusted(
                id=cause_id,
                group=cause.group,
                name=cause.name,
                summary=cause.summary,
                probability=rounded(totals.causes[cause_id]),
                words=in_words(k, totals.causes[cause_id]),
                circuit=cause.mixture.circuit if cause.mixture else None,
                direction=way,
                because=because,
                against=against,
                rival=rival if rival != cause_id else None,
                told_apart_by=_name_of(k, separating) if separating else None,
                separator=separating,
                correction=correction,
                put_right=mended.get(cause_id, 0.0),
                verify=cause.verify,
                workshop=cause.workshop,
                sources=cause.sources,
                cautions=_all_cautions(k, cause, correction),
                spelled_out=rounded(totals.causes[cause_id]) >= k.scales.showing.correction_from,
            )
        )
    return tuple(out)


def _mended(case: Case, main: Belief, by_state: np.ndarray) -> dict[str, float]:
    """By cause, the chance that what was done since has put it right, if it was at work."""
    mended, listed = put_right(main, case), main.network.pairing
    if not mended.any():
        return {}
    cause, causes = main.network.cause[listed], len(main.model.cause_ids)
    of_all = np.bincount(cause, by_state[listed], causes)
    share = np.bincount(cause, (by_state * mended)[listed], causes) / np.maximum(of_all, 1e-300)
    return {c: rounded(p) for c, p in zip(main.model.cause_ids, share.tolist(), strict=True) if p > 0}


def _separator(a: Assessment, main: Belief, cause: Cause, rival: str) -> str | None:
    """The check or sign that tells a cause from its rival, where it can be asked of such a machine."""
    k, model = a.knowledge, main.model
    separating = next((m.told_apart_by for m in cause.mistaken_for if m.cause == rival), None)
    if separating is None:
        return None
    record = k.checks.get(separating) or k.findings[separating]
    asked = as_asked(k.uses, a.case.machine)
    return separating if can_be_asked(record, asked, model.family, model.strokes) else None


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


def _unlisted(totals: Totals) -> UnlistedBelief:
    where, p = max(totals.unlisted_where.items(), key=lambda i: i[1], default=(None, 0.0))
    named = where is not None and p > totals.unlisted / 2
    return UnlistedBelief.trusted(
        probability=rounded(totals.unlisted),
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


def _put_back(k: Knowledge, case: Case, now: _Standing) -> tuple[PutBack, ...]:
    """What to put back first; never all the way where that leans wide openings that may be lean already."""
    limits = {limit for h in now.on for limit in k.holds[h].trials}
    out = []
    for trial in to_put_back(case):
        circuit = k.circuits[str(trial.change)]
        too_far = trial.effect is Effect.OVERSHOT
        leaner = direction_of(circuit, trial) is not Change.LEANER
        reaches = not too_far and reaches_wide_open(now.main.model.tables, circuit.id)
        known_good = "leaner_wide" if was_better_there(case, trial) else None
        if leaner and (limits - {known_good}) & ({"all", "leaner", "leaner_wide"} if reaches else {"all", "leaner"}):
            continue
        actions = (k.actions[circuit.richer.action], k.actions[circuit.leaner.action])
        ids = dict.fromkeys((*circuit.cautions, *(c for a in actions for c in a.cautions)))
        cautions = k.cautions_for(tuple(ids))
        out.append(PutBack.trusted(circuit=circuit.id, too_far=too_far, cautions=cautions))
    return tuple(out)


def _brackets(k: Knowledge, case: Case, risk: LeanRisk) -> tuple[Bracket, ...]:
    """Where trials say the right sizes lie; "leaner than 80" is not told of an opening that may be lean as it is."""
    most = k.scales.decision.likely_cause
    return tuple(b for b in brackets(k, case) if b.richer_than is not None or risk.by_place.get(b.at, 0.0) < most)


def _do_now(
    k: Knowledge,
    case: Case,
    causes: Sequence[CauseBelief],
    order: Sequence[str],
    holds: Sequence[HoldNow],
    risk: LeanRisk,
) -> CauseBelief | None:
    """The cause that is put right before anything else is asked, if there is one."""
    if not causes:
        return None
    # where something dangerous was observed, a step richer may lead though the likeliest cause is a repair
    observed = any(h.chance >= 1 for h in holds)
    richer = [c for c in causes[1:] if observed and c.correction.direction is Change.RICHER]
    for cause in (causes[0], *sorted(richer, key=lambda c: -_wanted(c, causes))[:1]):
        way, circuit, first = cause.correction.direction, cause.correction.circuit, order[0] == cause.id
        chance = _wanted(cause, causes) if way is Change.RICHER else cause.probability
        record, held = k.causes[cause.id], cause.correction.held_back is not None
        lean, seen = risk.before_new_air() if record.air else risk.at_wide_open(), not risk.nothing_seen
        if not held and may_lead(k, case, record, chance, way, circuit, holds, lean, first, seen):
            return cause
    return None


def _wanted(cause: CauseBelief, causes: Sequence[CauseBelief]) -> float:
    """How likely the step that puts a cause right is wanted, for whichever cause."""
    step = cause.correction.circuit, cause.correction.direction
    return wanted(c.probability for c in causes if (c.correction.circuit, c.correction.direction) == step)


def _only_other_air(k: Knowledge, case: Case, risk: LeanRisk, causes: tuple[CauseBelief, ...]) -> bool:
    """Whether nothing was told but that the air is, or will be, other than it was set for, and that leads."""
    told = case.air is not None and risk.nothing_seen
    return told and bool(causes) and k.causes[left_to_do(causes)[0].id].air is not None


def _forbidding(use: MayUse) -> tuple[HoldNow, ...]:
    return use.because if use.how in ("not_at_all", "standing_only") else ()


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
