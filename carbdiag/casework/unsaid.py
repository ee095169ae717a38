"""What a rider spoke of, and what it means that he left the rest unsaid."""

from __future__ import annotations

import numpy as np

from carbdiag.belief.lattice import Floats, Ints
from carbdiag.case_schema import Case, FindingReport
from carbdiag.model import Model
from carbdiag.terms import Status


class Unsaid:
    """The signs and places that a case speaks of; what it leaves out speaks against the causes that show it."""

    def __init__(self, model: Model, case: Case) -> None:
        self.model, self.case = model, case
        self.k = model.knowledge
        self.mentioned: set[int] = set()
        self.spoken_of: set[str] = set()
        self.visited: set[str] = set(case.visited)
        self.ridden = False
        """Whether a sign was told of an engine that is ridden or worked with, so that it was started and has idled."""

    def mention(self, report: FindingReport, places: list[str]) -> None:
        """Take down that a sign was spoken of, whatever was said."""
        for place in places:
            self.mentioned.update(self.model.kin[report.finding, place])
            if report.status is Status.UNKNOWN or report.asked:
                continue
            self.spoken_of.add(place)
            if report.status is Status.PRESENT and self.k.findings[report.finding].means_ride:
                self.ridden = True
            if report.at:
                self.visited.add(place)
                self.visited.update(self.k.places[place].implies_visited)

    def silence(self) -> Floats:
        """Likelihood of what an unprompted complaint left out, by state, shape (S,)."""
        if self.case.reporting != "volunteered":
            return np.ones(self.model.network.states)
        return self._silence_of_signs() * self._silence_of_circumstances()

    def unspoken(self) -> Ints:
        """Rows of the signs that the rider was in a position to see, might have told unasked, and did not."""
        if self.case.reporting != "volunteered":
            return np.zeros(0, dtype=np.intp)
        been = self.visited | {p.id for p in self.k.places.values() if not p.in_chart}
        if self.ridden:
            riding = (p for p in self.k.places.values() if p.running and p.in_chart)
            been |= set[str].intersection(*({p.id, *p.implies_visited} for p in riding))
        rows = enumerate(self.model.row_keys)
        return np.array([n for n, (_, place) in rows if place in been and n not in self.mentioned], dtype=np.intp)

    def _weights(self) -> dict[str, float]:
        """How much the silence of each place counts."""
        weights = dict.fromkeys(self.visited, 1.0)
        # one or two words stand for all that is wrong at a place: what else is silent there says less
        here = self.visited & self.spoken_of
        weights.update(dict.fromkeys(here, self.k.scales.reporting.silence_where_spoken))
        return weights

    def silence_at(self, cells: Ints) -> Floats:
        """Likelihood of the signs left out where nothing but the mixture is off, so far at every place, (P, V) to (V,).

        The first is the measure.
        """
        model, weights = self.model, self._weights()
        if self.case.reporting != "volunteered" or not weights:
            return np.ones(cells.shape[1])
        tables = model.silence_over_x
        log = sum(w * tables[model.place(p)].take(cells[model.place(p)]) for p, w in weights.items())
        for row in sorted(self.mentioned):
            weight = weights.get(model.row_keys[row][1])
            if weight is not None:
                log = log - weight * model.silent_over_x(row).take(cells[model.place(model.row_keys[row][1])])
        short = self.k.scales.reporting.only_the_worst
        return np.asarray((1 - short) * np.exp(log - log[0]) + short)

    def _silence_of_signs(self) -> Floats:
        model, weights = self.model, self._weights()
        if not weights:
            return np.ones(self.model.network.states)
        by_place = np.array([weights.get(place, 0.0) for place in model.places])
        log = by_place @ model.place_silence
        for row in sorted(self.mentioned):
            weight = weights.get(model.row_keys[row][1])
            if weight is not None:
                log -= weight * model.silence(row)
        # of those who tell only the worst, silence says nothing; nothing wrong (state 0) is the measure
        short = self.k.scales.reporting.only_the_worst
        return np.asarray(np.exp(log[0]) * ((1 - short) * np.exp(log - log[0]) + short))

    def _silence_of_circumstances(self) -> Floats:
        told, model = self.case.contexts, self.model
        if not self.spoken_of and all(c.asked for c in told):  # nothing was told unasked
            return np.ones(self.model.network.states)
        held = {c.context for c in told if c.status is Status.PRESENT}
        spoken_of = {c.context for c in told}
        spoken_of |= {c.id for c in self.k.contexts.values() if not held.isdisjoint(c.settled_by)}
        # "worked on", "rejetted" and "just cleaned" are often one and the same: the one most missed speaks for all
        left_out = [n for n, c in enumerate(model.told) if c not in spoken_of]
        return np.asarray(model.unsaid.take(left_out, axis=0).min(axis=0, initial=1.0))
