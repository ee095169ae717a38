"""A case weighed: its evidence, and the posterior of every hypothesis that it leaves."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from carbdiag.belief.network import Network
from carbdiag.belief.posterior import Evidence, Posterior, posterior
from carbdiag.belief.screening import alike, beside_nothing, heads, promise
from carbdiag.case_check import check_case
from carbdiag.case_schema import Case
from carbdiag.casework.air_change import air_shift, with_air
from carbdiag.casework.believed import Assessment, Belief
from carbdiag.casework.circumstances import circumstances, together
from carbdiag.casework.columns import typically
from carbdiag.casework.history import History
from carbdiag.casework.machine_kinds import machine_kinds, with_family_id, with_parts_told
from carbdiag.casework.observation import Observation
from carbdiag.casework.repaired import Repaired
from carbdiag.casework.several_settings import is_set_anew, weigh_several
from carbdiag.knowledge import Knowledge
from carbdiag.model import Model, compile_model, machine_fit
from carbdiag.settled import settle
from carbdiag.terms import Effect, Status


def assess(k: Knowledge, case: Case) -> Assessment:
    """Check a case and weigh every hypothesis.

    Raises:
        CaseError: listing every problem of the case.
    """
    case = with_family_id(k, case)
    check_case(k, case)
    settled = settle(k, case)
    case = settled.case
    kinds = with_parts_told(k, case, machine_kinds(k, case.machine))
    beliefs = [_believe(compile_model(k, family, strokes), case) for family, strokes, _ in kinds]
    logs = [
        math.log(weight) + belief.posterior.scale_log
        for (_, _, weight), belief in zip(kinds, beliefs, strict=True)
    ]
    largest = max(logs)
    raw = [math.exp(v - largest) for v in logs]
    total = sum(raw)
    return Assessment(
        k,
        case,
        tuple(
            b if w == total else replace(b, weight=w / total)
            for b, w in zip(beliefs, raw, strict=True)
            if w / total > 1e-6
        ),
        settled.notices,
    )


def _believe(model: Model, case: Case) -> Belief:
    k, network = model.knowledge, model.network
    fitted = network.odds * machine_fit(model, case.machine)
    factors, observations = circumstances(model, case)
    odds = fitted * together(factors, k.scales) if factors else fitted
    if case.air is not None:
        network = with_air(model, network, air_shift(k, model.family, case.air), odds)

    history = History(model, network, case)
    history.read()
    gathered, complaint, unsaid = history.gathered, history.findings.complaint, history.findings.unsaid
    observations += gathered.observations
    complained = complaint.column()
    evidence = Evidence(
        odds=odds,
        state_factor=unsaid.silence(),
        places=gathered.places(),
        columns=(*gathered.columns, complained) if complained is not None else tuple(gathered.columns),
        alone=gathered.alone,
    )
    network = with_pairs(k, network, evidence, observations, gathered.repaired)
    found = posterior(network, evidence)
    background = _background(k, network, evidence, observations, found)
    ratio = _explained(k, network, evidence, found, background)
    ratio *= _alone_in_its_rarity(network, observations)
    if complained is not None:
        # an unknown fault would be complained of as seldom for everyday signs; over the single causes
        single = network.blocks(found.weights)[0]
        ratio *= float((single / complaint.alone).sum() / single.sum())
    several = None
    if is_set_anew(k, case):
        chance = k.scales.several_settings.chance
        prior = float(odds.sum()) * chance / (1 - chance)
        nothing = float(found.weights[0] / odds[0]) / (1 + background)
        several = weigh_several(model, network, history, prior, nothing)
    return Belief(
        model=model,
        network=network,
        weight=1.0,
        evidence=evidence,
        posterior=found.beside(background),
        observations=tuple(observations),
        steps=gathered.steps,
        background=background / (1 + background),
        background_ratio=float(ratio),
        repaired=gathered.repaired or Repaired.nothing(network.states),
        again=tuple(key for key in to_tell_again(case) if key in model.rows),
        unspoken=unsaid.unspoken(),
        seen={p: tuple(terms) for p, terms in gathered.seen.items()},
        several=several,
        seen_since={p: tuple(terms) for p, terms in gathered.seen_since.items()},
    )


def _background(
    k: Knowledge, network: Network, evidence: Evidence, observations: Iterable[Observation], found: Posterior
) -> float:
    """Weight of something unknown, on the scale of the weights of the posterior."""
    odds, share = evidence.odds, k.scales.unlisted.share_of_background
    log = math.log(share * float(network.odds[1:].sum())) + float(
        np.log(np.maximum(odds @ evidence.state_factor / odds.sum(), 1e-300))
    )
    log += sum(math.log(max(o.background, 1e-300)) for o in observations if o.statement.kind != "context")
    return math.exp(min(log - found.scale_log, 600.0))


def _explained(k: Knowledge, network: Network, evidence: Evidence, found: Posterior, background: float) -> float:
    """How many times better the listed causes, weighed as before the evidence, foretold it than something unknown."""
    singles = float(evidence.odds[1:].sum())
    listed = float(network.odds[1:].sum())
    ratio = (1 - found.weights[0]) / (singles + singles**2 / 2) / (
        background / (k.scales.unlisted.share_of_background * listed)
    )
    return float(ratio)


def _alone_in_its_rarity(network: Network, observations: Iterable[Observation]) -> float:
    """How much one sign, rarer than all others told, speaks for something unknown: no sign goes against itself.

    It is what the rider came for, and as rare with any cause.
    """
    seen = (o for o in observations if o.statement.kind != "context")
    boosts = [math.log(max(o.background, 1e-300) / max(typically(network, o.likelihood), 1e-300)) for o in seen]
    first, second = sorted([*boosts, 0.0, 0.0], reverse=True)[:2]
    return math.exp(first - second)


def with_pairs(
    k: Knowledge,
    network: Network,
    evidence: Evidence,
    observations: Iterable[Observation],
    repaired: Repaired | None = None,
) -> Network:
    """Add the pairs that matter to a case, judged by how the single causes fare."""
    before, alone = evidence.before, posterior(network, evidence).weights
    seen = [o.likelihood for o in observations if o.statement.kind != "context"]
    spoken = beside_nothing(network, seen)
    some = heads(network, promise(network, before, spoken, float(alone[0])), k.scales.pairs.not_headed)
    # in a pair the other one explains its part: what was seen counts for about half of what it does alone
    kinds = alike(network, before, alone, spoken, None if repaired is None else repaired.of_two)
    return network.narrowed(some, np.sqrt(before * alone), kinds)


def to_tell_again(case: Case) -> tuple[tuple[str, str], ...]:
    """Signs, by place, that showed before a repair that made it better, and of which nothing was told since.

    Where it helped and did not cure, what is gone and what is left tells what was repaired and what was not.
    """
    shown: dict[tuple[str, str], None] = {}
    again: dict[tuple[str, str], None] = {}
    if not any(t.do is not None for epoch in case.history() for t in epoch.trials):
        return ()
    for epoch in case.history():
        for report in epoch.findings:
            for place in report.at:
                again.pop((report.finding, place), None)
                shown.pop((report.finding, place), None)
                if report.status is Status.PRESENT and len(report.at) == 1:
                    shown[report.finding, place] = None
        if any(t.do is not None and t.effect is Effect.BETTER for t in epoch.trials):
            again = dict(shown)
    skipped = {(s.id, s.at) for s in case.unanswered if s.kind == "finding"}
    return tuple(key for key in again if key not in skipped)
