"""The scales file read: words as numbers."""

from __future__ import annotations

from carbdiag.knowledge import Knowledge
from carbdiag.terms import ProbabilityWord


def probability(k: Knowledge, word: ProbabilityWord) -> float:
    """A likelihood word as a number, held off 0 and 1 by the floor."""
    floor = k.scales.floor
    return min(max(k.scales.probability[word], floor), 1 - floor)
