"""That somebody complains because of the fault: seldom are all the signs that he tells everyday ones."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from carbdiag.belief.lattice import Floats
from carbdiag.belief.posterior import Column
from carbdiag.case_schema import Case, FindingReport
from carbdiag.casework.columns import Paraphrase, of_members
from carbdiag.model import Model
from carbdiag.terms import Status


class Complaint:
    """The signs of a case told unasked, and how likely a fault has no part in them."""

    def __init__(self, model: Model, case: Case) -> None:
        self.case = case
        self.least = model.knowledge.scales.reporting.complains_of_everyday
        # of each sign told unasked, by state: the chance that the fault has no part in it
        self.beside_the_fault: list[Floats] = []
        self.alone = np.ones(model.network.states)
        """What complaining of everyday signs counts for single causes."""
        self.told: list[tuple[float, tuple[Paraphrase, ...]]] = []
        """Every sign told unasked, with its chance on a sound machine."""

    def tell(
        self,
        status: Status,
        reports: Sequence[FindingReport],
        sound: float,
        single: Floats,
        said: tuple[Paraphrase, ...],
    ) -> None:
        """Keep how likely a sign told unasked is an everyday one: `sound` is its chance on a sound machine."""
        if status is Status.PRESENT and not all(r.asked for r in reports):
            self.told.append((sound, said))
            everyday = sound * (1 - single) / np.maximum((1 - sound) * single, 1e-12)
            self.beside_the_fault.append(np.minimum(everyday, 1.0))

    def brought_by(self, chances: Sequence[Floats]) -> Floats | float:
        """What it says of faults that show each sign told with these chances, (V,)."""
        if self.case.reporting != "volunteered" or not chances:
            return 1.0
        everyday = np.ones_like(chances[0])
        for (sound, _), chance in zip(self.told, chances, strict=True):
            everyday *= np.minimum(sound * (1 - chance) / np.maximum((1 - sound) * chance, 1e-12), 1.0)
        return np.asarray(1 - (1 - self.least) * everyday)

    def column(self) -> Column | None:
        """What it says, as the last statement and for all signs together; whether nothing is wrong it leaves open."""
        if self.case.reporting != "volunteered" or not self.beside_the_fault:
            return None
        everyday = np.multiply.reduce(self.beside_the_fault, axis=0)
        alone = 1 - (1 - self.least) * everyday
        alone[0] = 1.0
        self.alone = alone
        return of_members(alone, 1.0, ((self.least - 1) * everyday, everyday))
