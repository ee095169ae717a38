"""What an answer says of several settings being off at once."""

from __future__ import annotations

from carbdiag.casework.believed import Assessment, Belief
from carbdiag.correction import tuning_rank
from carbdiag.diagnosis_schema import SettingOff, SeveralSettingsOff
from carbdiag.knowledge import Knowledge
from carbdiag.terms import Change, Direction
from carbdiag.totals import rounded

#: Settings that are named at least: where several are off, two are.
_FEWEST = 2


def several_off(a: Assessment) -> SeveralSettingsOff | None:
    """How likely several settings are off at once and which; None where it was not weighed.

    Which, is told for the kind of machine that gives it most weight.
    """
    weighed = [(b.weight * b.several.share, b) for b in a.beliefs if b.several is not None]
    if not weighed:
        return None
    main = max(weighed, key=lambda w: w[0])[1]
    probability, settings = sum(p for p, _ in weighed), tuple(_settings(a.knowledge, main))
    leads = bool(settings) and probability >= a.knowledge.scales.decision.likely_cause
    return SeveralSettingsOff.trusted(probability=rounded(probability), leads=leads, settings=settings)


def _settings(k: Knowledge, belief: Belief) -> list[SettingOff]:
    """The settings that are likely off, the two likeliest at least, each the likelier way, in the tuning order."""
    several, model = belief.several, belief.model
    assert several is not None
    found = []
    for circuit in several.off:
        p, way = max((several.chance([(circuit, way)]), way) for c, way in several.ways() if c == circuit)
        number = model.settings.get((circuit, way))
        if number is not None:
            cause = model.cause_ids[number]
            found.append(SettingOff.trusted(circuit=circuit, direction=way, cause=cause, probability=rounded(p)))
    found.sort(key=lambda s: -s.probability)
    named = [s for n, s in enumerate(found) if n < _FEWEST or s.probability >= k.scales.decision.likely_cause]
    return sorted(named, key=lambda s: (tuning_rank(k, k.causes[s.cause]), -s.probability))


def sentence_of(k: Knowledge, several: SeveralSettingsOff) -> str:
    """It in one sentence."""
    ways = {Direction.LEAN: Change.RICHER, Direction.RICH: Change.LEANER}
    names = {s.circuit: k.circuits[s.circuit].name.partition(" (")[0].lower() for s in several.settings}
    order = ", then ".join(f"{names[s.circuit]} {ways[s.direction]}" for s in several.settings)
    return f"Several settings are probably off at once ({several.probability:.0%}). One at a time: {order}."
