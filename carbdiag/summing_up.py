"""What an answer says of the whole: how sure it is, what was understood, and its one sentence."""

from __future__ import annotations

from carbdiag.case_schema import Case
from carbdiag.casework.believed import Assessment, Belief, likeliest
from carbdiag.diagnosis_schema import (
    BandMixture,
    CauseBelief,
    Correction,
    Diagnosis,
    NextStep,
    OffMixture,
    Unexplained,
    left_to_do,
)
from carbdiag.explanation import in_words
from carbdiag.knowledge import Knowledge
from carbdiag.several_off import sentence_of
from carbdiag.terms import UNKNOWN_FAMILY, Direction, Level
from carbdiag.totals import Totals, rounded
from carbdiag.trials import stretches


def unexplained_by(a: Assessment, totals: Totals, told: bool) -> Unexplained:
    """Whether hardly anything listed explains the case, and which statements fit worst."""
    k = a.knowledge
    ratio = sum(b.weight * b.background_ratio for b in a.beliefs)
    main = likeliest(a)
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


def area_of(k: Knowledge, causes: tuple[CauseBelief, ...], totals: Totals) -> str | None:
    """The group to name instead of a cause: the likely one, or twice as likely as the likeliest cause."""
    if not causes or causes[0].probability >= k.scales.decision.likely_cause:
        return None
    group, p = max(totals.groups.items(), key=lambda i: i[1])
    points = p >= k.scales.decision.points_to and p >= 2 * causes[0].probability
    return group if points or p >= k.scales.decision.likely_area else None


def off_at(k: Knowledge, mixture: tuple[BandMixture, ...]) -> OffMixture | None:
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
    return OffMixture.trusted(direction=way, places=places, probability=rounded(max(chances)))


def summed_up(k: Knowledge, d: Diagnosis, told: bool) -> Diagnosis:
    """An answer that lacks only how sure it is, and its sentence, with both."""
    answer, summary = _sentence(k, d, told)
    off = d.off if answer == "open" else None
    return Diagnosis.trusted(**{**d.__dict__, "answer": answer, "summary": summary, "off": off})


def _sentence(k: Knowledge, d: Diagnosis, told: bool) -> tuple[str, str]:
    if not told:
        ask = "What does the engine do wrong, and at which throttle opening?"
        return "ask_first", f"Nothing was observed yet, so nothing is claimed. Answer this first: {ask}"
    do_now = next((c for c in d.causes if c.id == d.do_now), None)
    first = _first_step(d.next_steps) if do_now is None else _now(do_now.correction)
    top = left_to_do(d.causes)[0]
    if d.unexplained.flag:
        return "unexplained", f"I can't explain this well yet.{first} Nearest guess: {top.name.lower()}."
    several = d.several_settings
    together = sentence_of(k, several) if several is not None and several.leads else None
    if together or top.probability >= k.scales.decision.likely_cause:
        mended = " What was tried has probably put it right." if top.is_put_right else ""
        likely = f"{top.name} is {top.words} ({top.probability:.0%}).{mended}"
        if d.only_air:
            likely = f"No trouble was told, only other air: {top.name.lower()}."
        return "likely", f"{together or likely}{first}"
    if d.area is not None:
        p = next(g.probability for g in d.groups if g.group == d.area)
        name = k.groups[d.area].name
        if p >= k.scales.decision.likely_area:
            return "likely", f"{name} is {in_words(k, p)} ({p:.0%}); which part of it is open.{first}"
        return "open", f"I can't tell yet which part, but it points to this: {name.lower()} ({p:.0%}).{first}"
    few = ", ".join(f"{c.name.lower()} ({c.probability:.0%})" for c in left_to_do(d.causes)[:3])
    return "open", f"I can't tell yet{_runs(k, d.off)}. Most likely so far: {few}.{first}"


def _now(change: Correction) -> str:
    if change.direction is None:
        return f" Do this now: {change.name}."
    return f" Try this now: {change.name[0].lower()}{change.name[1:]}, {change.direction}."


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


def understood(k: Knowledge, case: Case, main: Belief) -> tuple[str, ...]:
    """The machine and everything that was told, in words."""
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


def families_of(a: Assessment) -> dict[str, float]:
    """How likely each kind of carburetor is, the likeliest first; nothing where it was said."""
    if a.case.machine.family != UNKNOWN_FAMILY:
        return {}
    weights: dict[str, float] = {}
    for b in a.beliefs:
        weights[b.model.family.id] = weights.get(b.model.family.id, 0.0) + b.weight
    return {f: rounded(w) for f, w in sorted(weights.items(), key=lambda i: -i[1])}


def notes_of(a: Assessment, leading: CauseBelief | None) -> tuple[str, ...]:
    """What was not known of the machine, and the order of work where a setting leads."""
    k, machine = a.knowledge, a.case.machine
    out = []
    if machine.family == UNKNOWN_FAMILY:
        mix = ", ".join(f"{k.families[f].name.lower()} {w:.0%}" for f, w in families_of(a).items())
        out.append(f"The kind of carburetor is not known; the answer mixes {mix}.")
    if machine.strokes is None:
        out.append("Two-stroke or four-stroke was not said; both were considered.")
    if leading is not None and leading.correction.direction:
        stages = " → ".join(s.name.lower() for s in k.tuning_order.values())
        out.append(f"Put things right in this order, one change at a time: {stages}.")
    return tuple(out)
