"""How rich or lean a place runs: on every lattice step of its residual, and given what was seen there.

Likelihoods change slowly along x, so the posterior integrates a residual over five points. Whether a mixture lies
beyond a limit changes at once: of five points one is beyond or not, so a sound mixture would be lean with the chance
0.01 or 0.22 and nothing between. Here every step counts. What was seen at a place speaks of its residual too: signs
of rich that no cause at work accounts for say that this place of this engine is rich by itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from carbdiag.belief.evidence import PlaceTerm
from carbdiag.belief.lattice import Floats, Ints, Lattice, shifted
from carbdiag.belief.network import Network

#: Residuals further out than so many sigma count at the last step.
_SIGMAS = 3.5
#: Products of statements about signs that causes show directly, too.
_MOST_BRANCHES = 16
_TINY = 1e-300


@dataclass(frozen=True, eq=False)
class Residual:
    """The residual of one place on one kind of machine, in whole lattice steps."""

    lattice: Lattice
    offsets: Ints  # (Q,)
    weights: Floats  # (Q,)
    reads: Ints  # (N, Q) lattice index read at each residual
    edges: Ints  # (4,) first lattice index of every level but the richest
    _known: dict[int, tuple[Ints, Floats]] = field(default_factory=dict)

    @classmethod
    def of(cls, lattice: Lattice, sigma: float) -> Residual:
        """The normal residual of spread `sigma`."""
        reach = math.ceil(_SIGMAS * sigma / lattice.step)
        offsets = np.arange(-reach, reach + 1)
        beyond = [math.erfc((n + 0.5) * lattice.step / (sigma * math.sqrt(2))) / 2 for n in offsets[:-1].tolist()]
        reads = lattice.clip(np.arange(lattice.size)[:, None] + offsets)
        edges = np.searchsorted(lattice.level_weights().argmax(axis=0), np.arange(1, 5))
        return cls(lattice, offsets, -np.diff(np.array([1.0, *beyond, 0.0])), reads, edges)

    @cached_property
    def sound(self) -> Floats:
        """P(level) where no cause moves the mixture, (5,)."""
        return self.unseen(0)[:, self.lattice.center]

    def by_level(self, likely: Floats, moved: int) -> Floats:
        """Weight of each level at every x when settings have moved it by `moved` steps, (N, Q) to (5, N)."""
        return self._summed(likely, self._of_move(moved)[0])

    def unseen(self, moved: int) -> Floats:
        """P(level) at every x where nothing was seen, (5, N)."""
        return self._of_move(moved)[1]

    def _of_move(self, moved: int) -> tuple[Ints, Floats]:
        """Where the levels begin and end among running sums over the residuals, flat (6, N), and P(level) unseen."""
        found = self._known.get(moved)
        if found is None:
            size, most = self.reads.shape
            first = self.edges[:, None] - (np.arange(size) + moved + int(self.offsets[0]))
            ends = np.concatenate([np.zeros((1, size), np.intp), first.clip(0, most), np.full((1, size), most)])
            at = ends + np.arange(size) * (most + 1)
            # few moves differ: settings go a few practical steps either way
            found = self._known[moved] = at, self._summed(np.tile(self.weights, (size, 1)), at)
        return found

    def _summed(self, likely: Floats, ends: Ints) -> Floats:
        # the residuals that end in a level lie side by side: what it weighs is a difference of running sums
        upto = np.zeros((len(likely), likely.shape[1] + 1))
        np.cumsum(likely, axis=1, out=upto[:, 1:])
        at = upto.reshape(-1).take(ends)
        return np.asarray(at[1:] - at[:-1])


def levels_seen(
    network: Network, residual: Residual, place: int, terms: Sequence[PlaceTerm], weights: Floats, moved: int
) -> Floats:
    """Weight of each level at a place over hypotheses of these weights (H,), given what was said of it, shape (5,).

    The weights know what was said. `moved` is how far settings have moved the mixture by now, in lattice steps.
    """
    branches = _branches(network, residual, terms)
    levels = [residual.by_level(likely, moved) for likely, _ in branches]
    total = [by_level.sum(axis=0) for by_level in levels]
    if len(levels) == 1:
        return network.over_x(weights, {place: levels[0] / np.maximum(total[0], _TINY)})[0]
    links = {row: network.links(row) for _, rows in branches for row in rows}
    ways = [_product([links[row] for row in rows]) for _, rows in branches[1:]]
    every = network.at(place, total[0])
    for way, table in zip(ways, total[1:], strict=True):
        every += way * network.at(place, table)
    share = np.divide(weights, np.maximum(every, _TINY, out=every), out=every)
    out = network.over_x(share, {place: levels[0]})[0]
    for way, table in zip(ways, levels[1:], strict=True):
        out += network.over_x(share * way, {place: table})[0]
    return out


def of_mixture(network: Network, term: PlaceTerm) -> Floats:
    """Likelihood of a statement at every x with no cause that shows it directly, (N,)."""
    direct = network.signs.silent_links[:, 0]
    every = (values * np.prod(direct[list(rows)]) for values, rows in _factors(network, term))
    return np.asarray(sum(every))


def by_mixture(network: Network, residual: Residual, terms: Sequence[PlaceTerm]) -> Floats:
    """Weight of every residual at every x by statements, with no cause that shows them directly, (N, Q)."""
    likely = np.tile(residual.weights, (network.lattice.size, 1))
    for term in terms:
        likely *= of_mixture(network, term).take(residual.reads)
        likely *= 1 / max(float(likely.max()), _TINY)
    return likely


def _product(factors: Sequence[Floats]) -> Floats:
    out = factors[0]
    for factor in factors[1:]:
        out = out * factor
    return out


def _branches(
    network: Network, residual: Residual, terms: Sequence[PlaceTerm]
) -> list[tuple[Floats, tuple[int, ...]]]:
    """The statements multiplied out: weight of every residual at every x (N, Q), times D of some signs; first of none.

    Where there are too many of them those that speak most for lean are taken: they are what must not be missed.
    """
    factors = [list(_factors(network, term)) for term in terms]
    likely = np.tile(residual.weights, (network.lattice.size, 1))
    for (table, _), *more in factors:
        if not more:
            likely *= table.take(residual.reads)
            likely *= 1 / max(float(likely.max()), _TINY)
    branches: list[tuple[Floats, tuple[int, ...]]] = [(likely, ())]
    linked = sorted((f for f in factors if len(f) > 1), key=lambda f: -_for_lean(residual, f))
    for factor in linked:
        if len(branches) * len(factor) > _MOST_BRANCHES:
            break
        read = [(table.take(residual.reads), rows) for table, rows in factor]
        branches = [(table * by, (*rows, *more)) for by, more in read for table, rows in branches]
    return branches


def _for_lean(residual: Residual, factor: list[tuple[Floats, tuple[int, ...]]]) -> float:
    """How many times likelier a statement is where it is lean than where it is right, with no cause that shows it."""
    table = np.sum([values for values, _ in factor], axis=0)
    _, right, lean, leaner = residual.edges.tolist()
    return float(table[lean:leaner].mean() / table[right:lean].mean())


def _factors(network: Network, term: PlaceTerm) -> Iterator[tuple[Floats, tuple[int, ...]]]:
    """A statement as a sum of tables (N,), each but the first times D of a sign."""
    plain = np.full(network.lattice.size, term.constant)
    times = 1.0 if term.table is None else term.table
    linked = []
    for part in term.parts:
        values = part.weight * shifted(network.signs.silent_base[part.row], part.steps)
        if network.signs.has_links[part.row]:
            linked.append((values * times, (part.row,)))
        else:
            plain += values
    yield plain * times, ()
    yield from linked
