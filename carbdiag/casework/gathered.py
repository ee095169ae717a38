"""The evidence of one case for one kind of machine, while its statements are read."""

from __future__ import annotations

import numpy as np

from carbdiag.belief.evidence import Place, PlaceTerm
from carbdiag.belief.lattice import Floats
from carbdiag.belief.network import Network
from carbdiag.belief.posterior import Column
from carbdiag.case_schema import Case
from carbdiag.casework.columns import typically
from carbdiag.casework.observation import Observation
from carbdiag.casework.repaired import Repaired
from carbdiag.diagnosis_schema import Statement
from carbdiag.model import Model


class Gathered:
    """What the statements of a case have said so far; lives only while one case is read."""

    def __init__(self, model: Model, network: Network, case: Case) -> None:
        self.model, self.network, self.case = model, network, case
        self.k = model.knowledge
        self.by_place: dict[int, list[PlaceTerm]] = {}
        self.seen: dict[int, list[PlaceTerm]] = {}  # all that was said of a place
        self.seen_since: dict[int, list[PlaceTerm]] = {}  # and since the first repair
        self.columns: list[Column] = []
        self.alone: dict[Column, Floats] = {}
        self.observations: list[Observation] = []
        self.steps = np.zeros(len(model.places), dtype=np.intp)  # trial shifts since trouble began, lattice steps
        self.moved: set[str] = set()  # circuits whose setting was moved
        self.repaired: Repaired | None = None  # given the effects told
        self.was_fine = True  # no trouble told yet: work that made it worse brought it
        self.number = 0  # of the epoch

    def places(self) -> tuple[Place, ...]:
        """What was read of each place since the last repair, or in all."""
        return tuple(Place.of(self.network, p, tuple(terms)) for p, terms in sorted(self.by_place.items()))

    def at(self, place: int, term: PlaceTerm) -> None:
        """Take down a statement about a place."""
        self.by_place.setdefault(place, []).append(term)
        self.seen.setdefault(place, []).append(term)
        if self.repaired is not None:
            self.seen_since.setdefault(place, []).append(term)

    def column(self, column: Column) -> Floats:
        """Add a factor over all hypotheses; what it is for the single states."""
        self.columns.append(column)
        single = self.alone[column] = column(self.network)
        return single

    def note(self, said: Statement, likelihood: Floats, background: float | None = None) -> None:
        """Take down what was said: its likelihood by state, and with a cause unknown (left out, the typical one)."""
        if background is None:
            background = typically(self.network, likelihood)
        if self.number:
            said = said.model_copy(update={"epoch": self.number})
        self.observations.append(Observation(said, likelihood, background))
