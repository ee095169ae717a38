"""What an answer says of several settings being off at once."""

from __future__ import annotations

from collections.abc import Iterable

from carbdiag.case_schema import Case, Trial
from carbdiag.casework.believed import Assessment, Belief
from carbdiag.correction import tuning_rank
from carbdiag.diagnosis_schema import SettingOff, SeveralSettingsOff
from carbdiag.knowledge import Knowledge
from carbdiag.records.circuits import Circuit
from carbdiag.terms import Change, Direction, Effect
from carbdiag.totals import rounded
from carbdiag.trials import direction_of, steps_moved

#: Settings that are named at least while none was moved: where several are off, two are.
_FEWEST = 2


def several_off(a: Assessment) -> SeveralSettingsOff | None:
    """How likely several settings are off at once and which; None where it was not weighed.

    Which, is told for the kind of machine that gives it most weight.
    """
    weighed = [(b.weight * b.several.share, b) for b in a.beliefs if b.several is not None]
    if not weighed:
        return None
    main = max(weighed, key=lambda w: w[0])[1]
    probability, settings = sum(p for p, _ in weighed), tuple(_settings(a.knowledge, a.case, main))
    scales = a.knowledge.scales
    return SeveralSettingsOff.trusted(
        probability=rounded(probability),
        leads=bool(settings) and probability >= scales.decision.likely_cause,
        named=bool(settings) and rounded(probability) >= scales.showing.several_from,
        settings=settings,
    )


def _settings(k: Knowledge, case: Case, belief: Belief) -> list[SettingOff]:
    """The settings that are likely off now, each the likelier way: too lean ones first, then in the tuning order."""
    several, model = belief.several, belief.model
    assert several is not None
    found = []
    trials = {c: [t for e in case.history() for t in e.trials if t.change == c] for c in several.off}
    richer = {c: _richer_since(k.circuits[c], moved) for c, moved in trials.items()}
    for circuit, moved in trials.items():
        if moved and moved[-1].effect is Effect.CURED:
            continue  # what was felt there is right
        p, way = max((several.chance([(circuit, way)], richer), way) for c, way in several.ways() if c == circuit)
        number = model.settings.get((circuit, way))
        if number is not None:
            cause = model.cause_ids[number]
            found.append(SettingOff.trusted(circuit=circuit, direction=way, cause=cause, probability=rounded(p)))
    found.sort(key=lambda s: -s.probability)
    fewest = 0 if any(richer.values()) else _FEWEST
    named = [s for n, s in enumerate(found) if n < fewest or s.probability >= k.scales.decision.likely_cause]
    return sorted(named, key=lambda s: (s.direction is Direction.RICH, tuning_rank(k, k.causes[s.cause])))


def _richer_since(circuit: Circuit, trials: Iterable[Trial]) -> float:
    """By how many steps a setting was made richer and left so."""
    kept = [t for t in trials if not t.put_back and t.effect is not Effect.CAME_BACK]
    ways = [(direction_of(circuit, t), steps_moved(circuit, t)) for t in kept]
    return sum(steps if way is Change.RICHER else -steps for way, steps in ways if way is not None)


def sentence_of(k: Knowledge, several: SeveralSettingsOff) -> str:
    """It in one sentence."""
    names = {s.circuit: k.circuits[s.circuit].name.partition(" (")[0].lower() for s in several.settings}
    order = ", then ".join(f"{names[s.circuit]} too {s.direction}" for s in several.settings)
    rule = "Put right one at a time, and nothing leaner while it may run lean wide open"
    return f"Several settings are probably off at once ({several.probability:.0%}). {rule}: {order}."
