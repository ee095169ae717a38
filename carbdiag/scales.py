"""The scales file read: words as numbers, and the mixture axis."""

from __future__ import annotations

from carbdiag.belief.lattice import Lattice
from carbdiag.knowledge import Knowledge
from carbdiag.terms import ProbabilityWord


def probability(k: Knowledge, word: ProbabilityWord) -> float:
    """A likelihood word as a number, held off 0 and 1 by the floor."""
    floor = k.scales.floor
    return min(max(k.scales.probability[word], floor), 1 - floor)


def lattice_of(k: Knowledge) -> Lattice:
    """The mixture axis that the scales ask for."""
    m = k.scales.mixture
    return Lattice(m.lattice_step, m.lattice_limit, m.right_within, m.lean_within)
