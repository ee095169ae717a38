"""What is believed of a case: for each kind of machine it may be about, every hypothesis with its weight."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from carbdiag.belief.evidence import PlaceTerm
from carbdiag.belief.lattice import Floats, Ints
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import Evidence, Posterior
from carbdiag.case_schema import Case
from carbdiag.casework.observation import Observation
from carbdiag.casework.repaired import Repaired
from carbdiag.casework.several_settings import SeveralSettings
from carbdiag.knowledge import Knowledge
from carbdiag.model import Model
from carbdiag.terms import Direction

Seen = Mapping[int, tuple[PlaceTerm, ...]]


@dataclass(frozen=True, eq=False)
class Belief:
    """One kind of machine the case may be about, with its posterior."""

    model: Model
    network: Network  # the model's, adapted to the air of the case
    weight: float  # P(this kind of machine | case); sums to 1 over an assessment
    evidence: Evidence
    posterior: Posterior
    observations: tuple[Observation, ...]
    steps: Ints  # (P,) lattice steps by which settings changed and kept since trouble began moved the mixture
    background: float  # P(something unknown), on the scale of the posterior's weights
    background_ratio: float  # how many times better the listed hypotheses explain the case
    repaired: Repaired
    unspoken: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.intp))  # rows of signs the rider left out
    again: tuple[tuple[str, str], ...] = ()  # signs, by place, worth telling again: see `to_tell_again`
    seen: Seen = field(default_factory=dict)  # what was said of each place
    seen_since: Seen = field(default_factory=dict)  # of it, what was said since the first repair
    several: SeveralSettings | None = None  # several settings off at once; None where nothing changed that asks for it


@dataclass(frozen=True, eq=False)
class Assessment:
    """A case, settled for reading, and what it makes us believe, per kind of machine."""

    knowledge: Knowledge
    case: Case
    beliefs: tuple[Belief, ...]
    notices: tuple[str, ...] = ()  # contradictions in the case


def likeliest(a: Assessment) -> Belief:
    """The belief in the likeliest kind of machine."""
    return max(a.beliefs, key=lambda b: b.weight)


def by_cause(belief: Belief, by_state: Floats) -> Floats:
    """P(cause is at work), in the order of the model, from P(state is at work); several settings off are each one."""
    network, several = belief.network, belief.several
    once = np.bincount(network.cause[network.pairing], by_state[network.pairing], len(belief.model.cause_ids))
    found = np.asarray(once, dtype=np.float64)
    if several is None:
        return found
    found *= 1 - several.share
    for setting in several.ways():
        number = belief.model.settings.get(setting)
        if number is not None:
            found[number] += several.share * several.chance([setting])
    return found


def by_group(belief: Belief, by_state: Floats) -> Floats:
    """P(at least one cause of the group is at work), in the order of the model, from P(state is at work)."""
    network, model, several = belief.network, belief.model, belief.several
    groups, grouped = len(model.group_ids), network.group >= 0
    once = np.bincount(network.group[grouped], by_state[grouped], groups)
    found = np.asarray(once - network.in_group_twice(belief.posterior.weights, groups), dtype=np.float64)
    if several is None:
        return found
    found *= 1 - several.share
    of_group: dict[str, list[tuple[str, Direction]]] = {}
    for setting in several.ways():
        number = model.settings.get(setting)
        if number is not None:
            of_group.setdefault(model.knowledge.causes[model.cause_ids[number]].group, []).append(setting)
    for group, settings in of_group.items():
        found[model.group_ids.index(group)] += several.share * several.chance(settings)
    return found
