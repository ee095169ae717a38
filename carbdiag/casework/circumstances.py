"""What circumstances do to the odds of every cause."""

from __future__ import annotations

import math

import numpy as np

from carbdiag.belief.lattice import Floats
from carbdiag.case_schema import Case
from carbdiag.casework.columns import typically
from carbdiag.casework.observation import Observation, statement
from carbdiag.model import Model
from carbdiag.records.scales import Scales
from carbdiag.settled import context_statuses
from carbdiag.terms import Status


def circumstances(model: Model, case: Case) -> tuple[list[Floats], list[Observation]]:
    """What each circumstance told, or denied, does to the odds by state, and what it says."""
    k, network = model.knowledge, model.network
    factors: list[Floats] = []
    observations: list[Observation] = []
    held = {c.context for c in case.contexts if c.status is Status.PRESENT}
    for context, says in context_statuses(case.contexts).items():
        void = not held.isdisjoint(k.contexts[context].void_beside)
        for status in says:
            factor = (model.told if status is Status.PRESENT else model.denied)[context]
            if void and status is Status.PRESENT:  # "it ran fine before", of another set-up
                factor = np.ones_like(factor)
            if len(says) > 1:
                factor = np.sqrt(factor)  # said to be so and not so: each counts half
            factors.append(factor)
            words = k.contexts[context].name
            text = words if status is Status.PRESENT else f"Not so: {words.lower()}"
            said = statement("context", text, ids=(context,), status=status)
            observations.append(Observation(said, factor, typically(network, factor)))
    return factors, observations


def together(factors: list[Floats], scales: Scales) -> Floats:
    """What circumstances do to the odds together, by state.

    They are not independent of each other: a filter, a jet and a repair are often one event. So of those that raise a
    cause, and of those that lower it, the strongest counts whole and each other one in part (a power of its factor);
    all of them do no more than the limit, or than the strongest alone.
    """
    log = np.log(np.array(factors))
    strongest = np.maximum(log.max(axis=0), 0), np.minimum(log.min(axis=0), 0)
    overlap, limit = scales.context_overlap, math.log(scales.context_limit)
    total = overlap * log.sum(axis=0) + (1 - overlap) * (strongest[0] + strongest[1])
    return np.asarray(np.exp(np.clip(total, np.minimum(strongest[1], -limit), np.maximum(strongest[0], limit))))
