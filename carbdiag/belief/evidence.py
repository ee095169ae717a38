"""What was observed, as factors over hypotheses.

Every statement about a sign is linear in A(x)·D, the chance that the sign is silent:

    factor = constant + sum of  weight · A(x) · D

so one class serves present, denied, uncertain and paraphrased statements alike.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from carbdiag.belief.lattice import Floats, shifted
from carbdiag.belief.network import Network

#: Above this many products a place is integrated point by point instead of being expanded.
_MOST_BRANCHES = 16
#: Products are scaled up again before they get this small.
SMALL = 1e-100


@dataclass(frozen=True, eq=False)
class SignPart:
    """One sign inside a statement: its row in the network, its weight, the trial shift it was seen under."""

    row: int
    weight: float
    steps: int = 0


@dataclass(frozen=True, eq=False)
class PlaceTerm:
    """A statement about one place, integrated over the residual that all statements there share."""

    constant: float
    parts: tuple[SignPart, ...] = ()
    table: Floats | None = None  # (N,) multiplies the whole statement (checks, readings, trials)


def said_present(error: float) -> tuple[float, float]:
    """Constant and weight of "it does this", said with a chance `error` of being wrong."""
    return 1 - error, -(1 - 2 * error)


def said_absent(error: float) -> tuple[float, float]:
    """Constant and weight of "it does not do this", said with a chance `error` of being wrong."""
    return error, 1 - 2 * error


@dataclass(frozen=True, eq=False)
class Place:
    """All statements about one place, multiplied out over the residual where that is short."""

    place: int
    terms: tuple[PlaceTerm, ...]
    branches: tuple[tuple[Floats, tuple[int, ...]], ...] | None  # table over x, signs whose D multiplies it
    log: float  # of what the tables were divided by

    @classmethod
    def of(cls, network: Network, place: int, terms: tuple[PlaceTerm, ...]) -> Place:
        """Multiply the statements out; depends on the tables of the network, not on its hypotheses."""
        branches: list[tuple[Floats | float, tuple[int, ...]]] = [(1.0, ())]
        tables: list[Floats] = []
        for term in terms:
            plain: Floats | float = term.constant
            linked: list[tuple[Floats, int]] = []
            for part in term.parts:
                values = part.weight * shifted(network.base_q(part.row), part.steps)
                if network.signs.has_links[part.row]:
                    linked.append((values, part.row))
                else:
                    plain = plain + values
            if term.table is not None:
                tables.append(term.table)
            if len(branches) * (1 + len(linked)) > _MOST_BRANCHES:
                return cls(place, terms, None, 0.0)
            branches = [
                (table * factor, rows if row is None else (*rows, row))
                for table, rows in branches
                for factor, row in [(plain, None), *linked]
            ]
        common, log = np.ones((len(network.weights), network.lattice.size)), 0.0
        for extra in tables:
            common *= extra.take(network.reads[place])
            largest = float(common.max())
            if largest < SMALL:
                common /= largest
                log += math.log(largest)
        return cls(place, terms, tuple((network.weights @ (common * table), rows) for table, rows in branches), log)

    def factor(self, network: Network) -> tuple[Floats, float]:
        """Likelihood of all statements for every hypothesis, shape (H,), and the log of its scale."""
        if self.branches is None:
            return _point_by_point(network, self.place, self.terms)
        total: Floats | None = None
        cache: dict[int, Floats] = {}
        for table, rows in self.branches:
            values = network.at(self.place, table)
            for row in rows:
                if row not in cache:
                    cache[row] = network.links(row)
                values *= cache[row]
            total = values if total is None else np.add(total, values, out=total)
        assert total is not None
        return total, self.log


def _point_by_point(network: Network, place: int, terms: tuple[PlaceTerm, ...]) -> tuple[Floats, float]:
    links = {p.row: network.links(p.row) for t in terms for p in t.parts if network.signs.has_links[p.row]}
    product = np.ones((len(network.weights), network.size))
    log = 0.0
    for term in terms:
        for q in range(len(product)):
            factor = np.full(network.size, term.constant)
            for part in term.parts:
                values = part.weight * network.at(place, shifted(network.base_q(part.row)[q], part.steps))
                if part.row in links:
                    values *= links[part.row]
                factor += values
            if term.table is not None:
                factor *= network.at(place, term.table.take(network.reads[place, q]))
            product[q] *= factor
        largest = float(product.max())
        if largest < SMALL:
            product /= largest
            log += math.log(largest)
    return np.asarray(network.weights @ product), log


def single_term(network: Network, place: int, term: PlaceTerm) -> Floats:
    """Likelihood of one statement alone for every single state, shape (S,); used to explain."""
    index = network.single_cell(place)
    if term.table is not None:
        return np.asarray(network.blur(term.table, place).take(index) * term.constant)
    out = np.full(network.states, term.constant)
    for part in term.parts:
        if part.steps == 0:
            out += part.weight * network.single_silent[part.row]
        else:
            at = shifted(network.base_mean[part.row], part.steps).take(index)
            out += part.weight * at * network.signs.silent_links[part.row]
    return out


def signs_alone(network: Network, terms: tuple[PlaceTerm, ...]) -> Callable[[Network], Floats]:
    """Likelihood of statements about signs that the mixture does not touch, multiplied, as a function to (H,)."""
    most = max(len(term.parts) for term in terms)
    left = np.zeros((len(terms), network.states, most + 1))
    right = np.zeros((len(terms), most + 1, network.states))
    for t, term in enumerate(terms):
        for k, part in enumerate(term.parts):
            right[t, k] = links = network.signs.silent_links[part.row]
            np.multiply(links, part.weight * network.base_mean[part.row, 0], out=left[t, :, k])
        left[t, :, most], right[t, most] = term.constant, 1.0
    alone = np.multiply.reduce(left @ right[:, :, :1], axis=0)[:, 0]
    return lambda looked_at: looked_at.products(alone, left, right)


def somewhere_silent(
    network: Network, rows: tuple[int, ...], everyday_silent: float, steps: tuple[int, ...], times: float
) -> Floats:
    """Chance that a sign shows at none of several places, multiplied by `times`, for every hypothesis, shape (H,).

    The everyday chance counts once, not once a place; the places' residuals are independent.
    """
    once = everyday_silent * times  # multiplied into the first table, which is short
    total: Floats | None = None
    links: Floats | None = None  # of all places together: they multiply by state
    for row, step in zip(rows, steps, strict=True):
        if network.signs.has_mixture[row]:
            table = shifted(network.base_mean[row], step) * ((once if total is None else 1.0) / everyday_silent)
            factor = network.at(int(network.signs.place[row]), table)
            total = factor if total is None else np.multiply(total, factor, out=total)
        if network.signs.has_links[row]:
            mine = network.signs.silent_links[row]
            links = mine if links is None else links * mine
    if total is None:
        total = np.full(network.size, once)
    if links is not None:
        total *= network.product(links)
    return total
