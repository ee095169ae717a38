"""Why a cause: each observation's likelihood ratio against the strongest rival, in words."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from carbdiag.belief.lattice import Floats
from carbdiag.casework.believed import Belief
from carbdiag.diagnosis_schema import Reason
from carbdiag.knowledge import Knowledge

#: Reasons weaker than this (natural-log ratio) are not worth a rider's minute.
_LEAST = 0.25
_MOST_REASONS = 3


@dataclass(frozen=True, eq=False)
class CauseLikelihoods:
    """log P(observation | cause) for the causes that matter, shape (causes, observations)."""

    causes: tuple[str, ...]
    log: Floats
    of_any: Floats
    """The same where nothing is known of the cause, shape (observations,)."""


def likelihoods(belief: Belief, causes: tuple[str, ...], by_state: Floats) -> CauseLikelihoods:
    """Average each observation over a cause's severities, weighted as believed now."""
    model = belief.model
    if not belief.observations:
        return CauseLikelihoods(causes, np.zeros((len(causes), 0)), np.zeros(0))
    table = np.stack([o.likelihood for o in belief.observations])  # (O, S)
    numbers = np.array([model.cause_numbers[c] for c in causes])
    mine = belief.network.cause == numbers[:, None]
    weights = np.where(mine, np.maximum(by_state, 1e-12 * belief.network.odds), 0.0)
    weights /= weights.sum(axis=1, keepdims=True)
    of_any = table @ belief.network.odds / belief.network.odds.sum()
    return CauseLikelihoods(causes, np.log(np.maximum(weights @ table.T, 1e-9)), np.log(np.maximum(of_any, 1e-9)))


def reasons(
    belief: Belief, found: CauseLikelihoods, cause: str, rival: str, rival_name: str
) -> tuple[tuple[Reason, ...], tuple[Reason, ...]]:
    """The observations that speak most for a cause, and most against it, beside its rival."""
    mine = found.log[found.causes.index(cause)]
    weights = (mine - found.log[found.causes.index(rival)]).tolist()
    fits = (mine - found.of_any > _LEAST).tolist()
    order = sorted(range(len(weights)), key=lambda n: -abs(weights[n]))
    because: list[Reason] = []
    against: list[Reason] = []
    for n in order:
        w = weights[n]
        if abs(w) < _LEAST:
            break
        side, word = (because, "for") if w > 0 else (against, "against")
        if len(side) < _MOST_REASONS:
            text = belief.observations[n].statement.text
            says = f"speaks {_strength(abs(w))} {word} it, compared with {rival_name}"
            if fits[n] and side is against:
                says = f"fits it, and {rival_name} {_strength(abs(w))} better"
            side.append(
                Reason.trusted(
                    observation=text,
                    statement=n,
                    text=f"{text}: {says}",
                    weight=round(w, 3),
                    fits=fits[n],
                )
            )
    return tuple(because), tuple(against)


def _strength(weight: float) -> str:
    if weight > math.log(10):
        return "strongly"
    if weight > math.log(3):
        return "clearly"
    return "slightly"


def in_words(k: Knowledge, p: float) -> str:
    """A probability as a rider would say it."""
    return next(word for word, least in k.scales.saying.items() if p >= least)
