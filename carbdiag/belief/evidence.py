"""What was observed, as factors over hypotheses.

Every statement about a sign is linear in A(x)·D, the chance that the sign is silent:

    factor = constant + sum of  weight · A(x) · D

so one class serves present, denied, uncertain and paraphrased statements alike.
"""

from __future__ import annotations

import math
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


def _branches(
    network: Network, place: int, terms: tuple[PlaceTerm, ...]
) -> tuple[list[tuple[Floats, tuple[int, ...]]], float] | None:
    """Multiply the statements out into (table over residual and x, signs whose D multiplies it), and a log scale."""
    branches: list[tuple[Floats | float, tuple[int, ...]]] = [(1.0, ())]
    tables: list[Floats] = []
    for term in terms:
        plain: Floats | float = term.constant
        linked: list[tuple[Floats, int]] = []
        for part in term.parts:
            values = part.weight * shifted(network.base_q[part.row], part.steps)
            if network.signs.has_links[part.row]:
                linked.append((values, part.row))
            else:
                plain = plain + values
        if term.table is not None:
            tables.append(term.table)
        if len(branches) * (1 + len(linked)) > _MOST_BRANCHES:
            return None
        branches = [
            (table * factor, rows if row is None else (*rows, row))
            for table, rows in branches
            for factor, row in [(plain, None), *linked]
        ]
    shape = (len(network.weights), network.lattice.size)
    common, log = np.ones(shape), 0.0
    for extra in tables:
        common *= extra.take(network.reads[place])
        largest = float(common.max())
        if largest < SMALL:
            common /= largest
            log += math.log(largest)
    return [(common * table, rows) for table, rows in branches], log


def place_factor(network: Network, place: int, terms: tuple[PlaceTerm, ...]) -> tuple[Floats, float]:
    """Likelihood of all statements about one place for every hypothesis, shape (H,), and the log of its scale."""
    index = network.x_index[place]
    expanded = _branches(network, place, terms)
    if expanded is None:
        return _point_by_point(network, place, terms)
    branches, log = expanded
    total: Floats | None = None
    cache: dict[int, Floats] = {}
    for table, rows in branches:
        values = (network.weights @ table).take(index)
        for row in rows:
            if row not in cache:
                cache[row] = network.links(row)
            values *= cache[row]
        total = values if total is None else total + values
    assert total is not None
    return total, log


def _point_by_point(network: Network, place: int, terms: tuple[PlaceTerm, ...]) -> tuple[Floats, float]:
    index = network.x_index[place]
    links = {p.row: network.links(p.row) for t in terms for p in t.parts if network.signs.has_links[p.row]}
    product = np.ones((len(network.weights), len(index)))
    log = 0.0
    for term in terms:
        for q in range(len(product)):
            factor = np.full(len(index), term.constant)
            for part in term.parts:
                values = part.weight * shifted(network.base_q[part.row, q], part.steps).take(index)
                if part.row in links:
                    values *= links[part.row]
                factor += values
            if term.table is not None:
                factor *= term.table.take(network.reads[place, q]).take(index)
            product[q] *= factor
        largest = float(product.max())
        if largest < SMALL:
            product /= largest
            log += math.log(largest)
    return np.asarray(network.weights @ product), log


def single_term(network: Network, place: int, term: PlaceTerm) -> Floats:
    """Likelihood of one statement alone for every single state, shape (S,); used to explain."""
    index = network.x_index[place, : network.singles]
    if term.table is not None:
        return np.asarray(network.blur(term.table, place).take(index) * term.constant)
    out = np.full(network.singles, term.constant)
    for part in term.parts:
        if part.steps == 0:
            out += part.weight * network.single_silent[part.row]
        else:
            at = shifted(network.base_mean[part.row], part.steps).take(index)
            out += part.weight * at * network.signs.silent_links[part.row]
    return out


def somewhere_silent(
    network: Network, rows: tuple[int, ...], everyday_silent: float, steps: tuple[int, ...]
) -> Floats:
    """Chance that a sign shows at none of several places, for every hypothesis, shape (H,).

    The everyday chance counts once, not once a place; the places' residuals are independent.
    """
    total: Floats | None = None
    for row, step in zip(rows, steps, strict=True):
        place = int(network.signs.place[row])
        factor: Floats
        if network.signs.has_mixture[row]:
            table = shifted(network.base_mean[row], step) / everyday_silent
            factor = table.take(network.x_index[place])
            if network.signs.has_links[row]:
                factor *= network.links(row)
        elif network.signs.has_links[row]:
            factor = network.links(row)
        else:
            continue
        total = factor if total is None else total * factor
    if total is None:
        return np.full(len(network.first), everyday_silent)
    return np.asarray(total * everyday_silent)
