"""Everything about the hypotheses that no case changes, as arrays; and which pairs of them one case looks at.

A *state* is a cause at one severity; state 0 is "nothing". A *hypothesis* is an unordered pair of states of
different causes, written (first, second): (0, 0) is nothing wrong, (s, 0) a single cause, (s, t) a pair.

Pairs lie in two blocks of one flat array of hypotheses, after the single states:

    heads      a row for each head, a column for every state that pairs: every severity with every severity
    ring       causes by what is left of them beside the heads, each at one *standing* severity that weighs for all
               those; row d, column i holds causes i and i + d + 1 on a ring, so that no pair comes twice

With all states as heads the enumeration is complete (`build`). A case makes the states heads that matter to it
(`narrowed`, `belief.screening`). A cell that is no pair of its own (two severities of one cause, a pair of heads met
a second time, the far side of an even ring) has the fit 0.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.lattice import Floats, Ints, Lattice


@dataclass(frozen=True, eq=False)
class Signs:
    """Findings at places, one row each (R rows)."""

    place: Ints  # (R,) index of the place
    silent_base: Floats  # (R, N) A(x) = (1 - everyday)(1 - g(x)) on the lattice
    silent_links: Floats  # (R, S) D = 1 - direct link, by state
    has_mixture: tuple[bool, ...]
    has_links: tuple[bool, ...]


@dataclass(frozen=True, eq=False)
class Network:
    """Hypotheses and likelihood tables for one kind of machine."""

    lattice: Lattice
    cause: Ints  # (S,) cause of each state, -1 for nothing and for unlisted faults
    group: Ints  # (S,) group of each state, -1 likewise
    odds: Floats  # (S,) prior odds without context; state 0: nothing wrong
    x: Ints  # (P, S) shift of each state at each place, in lattice steps
    signs: Signs
    weights: Floats  # (Q,) residual quadrature
    reads: Ints  # (P, Q, N) lattice index read at each residual of a place
    base_mean: Floats  # (R, N) silent_base averaged over the residual
    reach: int  # the largest shift of a state
    spread: Ints  # lattice index of every sum of two shifts, from twice that below x = 0 to twice that above
    single_cells: Ints  # (P, S) lattice index of every state alone
    single_silent: Floats  # (R, S) chance that a sign is silent when one state alone is at work
    typical: Floats  # (S,) prior odds of what is wrong, normalized; 0 for state 0
    listed: Ints  # (L,) states that pair
    column: Ints  # (S,) where each state is in `listed`, -1 for the others
    fit: Floats  # (S, L) what the odds of a pair are multiplied by: more for a setting with the fault it hides
    ring_fit: Floats  # (C // 2, C) the same for two causes on the ring
    ring_other: Ints  # (C // 2, C) the second cause
    alike: Floats  # (S, L) 1 where two states are of one group
    ring_alike: Floats  # (C // 2, C) 1 where two causes are
    raised: Ints  # states that have a pair likelier than chance
    raised_by: float
    # what a case looks at
    heads: Ints  # (K,) states whose pairs are looked at one by one
    standing: Ints  # (C,) the state that stands on the ring for each cause, or () for no ring
    stands_for: Floats  # (C,) how many times its own odds
    part: Floats  # (S,) part of its cause's weight on the ring that belongs to each state

    @property
    def states(self) -> int:
        """Number of states, nothing included."""
        return len(self.cause)

    @cached_property
    def size(self) -> int:
        """Number of hypotheses, H; 0 .. states-1 are (s, 0) with first = index."""
        return self.states + len(self.heads) * len(self.listed) + len(self.standing) * (len(self.standing) // 2)

    @cached_property
    def first(self) -> Ints:
        """First state of every hypothesis, shape (H,)."""
        on_ring = np.tile(self.standing, len(self.standing) // 2)
        return np.concatenate([np.arange(self.states), np.repeat(self.heads, len(self.listed)), on_ring])

    @cached_property
    def second(self) -> Ints:
        """Second state of every hypothesis, 0 for none, shape (H,)."""
        return np.concatenate(
            [
                np.zeros(self.states, dtype=np.intp),
                np.tile(self.listed, len(self.heads)),
                ring(self.standing).ravel(),
            ]
        )

    def members(self, some: Ints) -> tuple[Ints, Ints]:
        """First and second state of some hypotheses, as `first` and `second` have them for all."""
        start, end, _, n, c = self._layout
        first, second = some.copy(), np.zeros_like(some)
        pairs = (some >= start) & (some < end)
        row, column = np.divmod(some[pairs] - start, max(n, 1))
        first[pairs], second[pairs] = self.heads[row], self.listed[column]
        circle = some >= end
        row, column = np.divmod(some[circle] - end, max(c, 1))
        first[circle], second[circle] = self.standing[column], self.standing[(column + row + 1) % max(c, 1)]
        return first, second

    def holding(self, cause: int) -> Ints:
        """The hypotheses in which a listed cause is at work, in ascending order."""
        held = np.zeros(self.size, dtype=bool)
        alone, pairs, circle = self.blocks(held)
        alone[self.cause == cause] = True
        pairs[self.cause.take(self.heads) == cause] = True
        pairs[:, self.cause.take(self.listed) == cause] = True
        if circle.size:
            circle[:, cause] = True
            circle[self.ring_other == cause] = True
        return np.flatnonzero(held)

    def blocks(self, flat: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
        """Views of an (..., H) array: single states (..., S), pairs of heads (..., K, L), ring (..., C // 2, C)."""
        start, end, k, n, c = self._layout
        lead, step, last = flat.shape[:-1], flat.strides[:-1], flat.strides[-1]
        pairs = np.ndarray((*lead, k, n), flat.dtype, flat, start * last, (*step, n * last, last))
        circle = np.ndarray((*lead, c // 2, c), flat.dtype, flat, end * last if c else 0, (*step, c * last, last))
        return flat[..., :start], pairs, circle

    @cached_property
    def _layout(self) -> tuple[int, int, int, int, int]:
        k, n = len(self.heads), len(self.listed)
        return self.states, self.states + k * n, k, n, len(self.standing)

    def product(self, by_state: Floats) -> Floats:
        """The product over the members of every hypothesis, (..., S) to (..., H)."""
        return self._outer(np.multiply, by_state, by_state.take(self.standing, axis=-1))

    def total(self, by_state: Floats) -> Floats:
        """The sum over the members of every hypothesis, shape (H,); state 0 must count 0."""
        return self._outer(np.add, by_state, by_state.take(self.standing))

    def prior(self, by_state: Floats) -> Floats:
        """Odds of every hypothesis from those of its members, shape (H,)."""
        out = self._outer(np.multiply, by_state, by_state.take(self.standing) * self.stands_for)
        alone, pairs, circle = self.blocks(out)
        alone[:] = by_state
        pairs *= self._pair_fit
        if circle.size:
            circle *= self.ring_fit
        return out

    @cached_property
    def _pair_fit(self) -> Floats:
        fit = self.fit.take(self.heads, axis=0)
        rows, columns = _not_above(len(self.heads))
        fit.put(rows * len(self.listed) + self.column.take(self.heads).take(columns), 0.0)  # met in the other's row
        return fit

    def _outer(
        self, combine: np.ufunc, by_state: NDArray[Any], standing: NDArray[Any], kind: type = float
    ) -> NDArray[Any]:
        if not len(self.heads) and not len(self.standing):
            return np.asarray(combine(by_state, by_state[..., :1]))
        out: NDArray[Any] = np.empty((*by_state.shape[:-1], self.size), dtype=kind)
        alone, pairs, circle = self.blocks(out)
        combine(by_state, by_state[..., :1], out=alone)
        combine(by_state.take(self.heads, axis=-1)[..., None], by_state[..., None, :].take(self.listed, -1), out=pairs)
        if circle.size:
            combine(standing[..., None, :], ring(standing), out=circle)
        return out

    def at(self, place: int, table: Floats) -> Floats:
        """A table on the lattice, read at the mixture of every hypothesis at a place, shape (H,)."""
        if self.size == self.states:
            return np.asarray(table.take(self.single_cells[place]))
        return table.take(self.spread).take(self._cells(place))

    def _cells(self, place: int) -> Ints:
        """Index of every hypothesis at a place into a table that `spread` has widened, so that no sum leaves it."""
        found = self._known_cells.get(place)
        if found is None:
            x = self.x[place] + self.reach
            found = self._known_cells[place] = self._outer(np.add, x, x.take(self.standing), np.intp)
        return found

    @cached_property
    def _known_cells(self) -> dict[int, Ints]:
        return {}

    def single_cell(self, place: int) -> Ints:
        """Lattice index of every state alone at a place, shape (S,)."""
        return np.asarray(self.single_cells[place])

    def cell(self, place: int, some: Ints) -> Ints:
        """Lattice index of some hypotheses at a place."""
        x = self.x[place]
        first, second = self.members(some)
        return self.lattice.clip(x.take(first) + x.take(second) + self.lattice.center)

    def by_state(self, weights: Floats) -> Floats:
        """Total weight of the hypotheses that hold each state, shape (S,); state 0 holds that of nothing wrong."""
        alone, pairs, circle = self.blocks(weights)
        out = alone.copy()
        out[self.heads] += pairs.sum(axis=1)
        out[self.listed] += pairs.sum(axis=0)
        if circle.size:
            by_cause = circle.sum(axis=0) + np.bincount(self.ring_other.ravel(), circle.ravel())
            out[self.listed] += by_cause.take(self.cause.take(self.listed)) * self.part.take(self.listed)
        return out

    def over_x(self, weights: Floats, place: int, table: Floats) -> Floats:
        """Sum over all hypotheses of weight times a table (..., N) on the lattice at a place, shape (...)."""
        by_cell = np.bincount(self._cells(place), weights, len(self.spread))
        return np.asarray(table.take(self.spread, axis=-1) @ by_cell)

    def in_group_twice(self, weights: Floats, groups: int) -> Floats:
        """Weight of the pairs whose members are of one group, by group, shape (groups,)."""
        _, pairs, circle = self.blocks(weights)
        by_head = np.einsum("kl,kl->k", pairs, self.alike.take(self.heads, axis=0))
        out = np.zeros(groups)
        out += np.bincount(self.group.take(self.heads), by_head, groups)
        if circle.size:
            by_cause = np.einsum("dc,dc->c", circle, self.ring_alike)
            out += np.bincount(self.group.take(self.standing), by_cause, groups)
        return out

    def base_q(self, row: int) -> Floats:
        """`silent_base` of one sign read at each residual of its place, shape (Q, N)."""
        return np.asarray(self.signs.silent_base[row].take(self.reads[self.signs.place[row]]))

    def links(self, row: int | Ints) -> Floats:
        """D of one sign, or of several, for every hypothesis, shape (..., H)."""
        return self.product(self.signs.silent_links[row])

    def blur(self, table: Floats, place: int) -> Floats:
        """A table on the lattice averaged over the residual of a place, along its last axis."""
        return np.asarray(np.tensordot(table.take(self.reads[place], axis=-1), self.weights, axes=(-2, 0)))

    def moved(self, x: Ints) -> Network:
        """The same hypotheses with other shifts, shape (P, S)."""
        cells = self.lattice.clip(x + self.lattice.center)
        reach, spread = _spread(self.lattice, x)
        silent = single_silent(self.base_mean, self.signs, cells)
        return replace(self, x=x, reach=reach, spread=spread, single_cells=cells, single_silent=silent)

    def alone(self) -> Network:
        """The single states without any pair."""
        return replace(self, heads=_NONE, standing=_NONE, stands_for=np.zeros(0), part=np.zeros(self.states))

    def narrowed(self, heads: Ints, weights: Floats) -> Network:
        """Pairs of the heads one by one, and of all causes by what is left of them.

        weights (S,): of the single states; the heaviest that is no head stands for the rest of its cause.
        """
        rest = weights.copy()
        rest[heads] = 0.0
        order = self.listed[np.argsort(rest.take(self.listed), kind="stable")]
        causes = self.ring_fit.shape[1]
        standing = np.zeros(causes, dtype=np.intp)
        standing[self.cause.take(order)] = order  # the last one written is the heaviest
        left = np.bincount(self.cause.take(self.listed), rest.take(self.listed), causes)
        most = rest.take(standing)
        part = np.zeros(self.states)
        part[self.listed] = (rest.take(self.listed) / np.maximum(left, _TINY).take(self.cause.take(self.listed)))
        return replace(self, heads=heads, standing=standing, stands_for=left / np.maximum(most, _TINY), part=part)


@lru_cache(maxsize=64)
def _not_above(heads: int) -> tuple[Ints, Ints]:
    """Rows and columns of a square that do not lie above its diagonal."""
    rows, columns = np.tril_indices(heads)
    return rows, columns


_NONE = np.zeros(0, dtype=np.intp)
_TINY = 1e-290


def ring(values: NDArray[Any]) -> NDArray[Any]:
    """Row d, column i: the value d + 1 further round the ring; (..., n) to (..., n // 2, n), a view on a copy.

    >>> ring(np.array([1, 2, 3])).tolist(), ring(np.array([1, 2, 3, 4])).tolist()
    ([[2, 3, 1]], [[2, 3, 4, 1], [3, 4, 1, 2]])
    """
    *lead, n = values.shape
    if n < 2:
        return values[..., None, :][..., :0, :]
    twice = np.concatenate([values, values[..., : n // 2]], axis=-1)
    *step, last = twice.strides
    return np.ndarray((*lead, n // 2, n), twice.dtype, twice, last, (*step, last, last))


def _spread(lattice: Lattice, x: Ints) -> tuple[int, Ints]:
    reach = int(np.abs(x).max(initial=0))
    return reach, lattice.clip(np.arange(-2 * reach, 2 * reach + 1) + lattice.center)


def build(
    lattice: Lattice,
    cause: Ints,
    group: Ints,
    odds: Floats,
    x: Ints,
    signs: Signs,
    sigma: Floats,
    compensates: frozenset[tuple[int, int]],
    compensation: float,
) -> Network:
    """Enumerate nothing, every single state and every pair of states of different listed causes.

    Shapes as in `Network`; `sigma` (P,) is the spread of each place's residual; `compensates` holds ordered pairs of
    cause numbers (setting, fault it hides).
    Unlisted states (cause -1) stand alone.
    """
    states, causes = len(cause), int(cause.max(initial=-1)) + 1
    listed = np.flatnonzero(cause >= 0)
    column = np.full(states, -1)
    column[listed] = np.arange(len(listed))
    compensating = {c for pair in compensates for c in pair}
    by_cause = np.ones((causes, causes))
    for setting, fault in compensates:
        by_cause[setting, fault] = by_cause[fault, setting] = compensation
    np.fill_diagonal(by_cause, 0.0)
    fit = np.zeros((states, len(listed)))
    fit[listed] = by_cause[np.ix_(cause[listed], cause[listed])]
    numbers = np.arange(causes)
    other = ring(numbers)
    ring_fit = by_cause[numbers, other]
    if causes and causes % 2 == 0:
        ring_fit[-1, causes // 2 :] = 0.0  # met already from the other side
    of_cause = np.zeros(causes, dtype=np.intp)
    of_cause[cause[listed]] = group[listed]
    offsets, weights = lattice.quadrature(sigma)
    reads = lattice.clip(np.arange(lattice.size) + offsets[:, :, None])
    base_mean = signs.silent_base.copy()
    mixed = np.flatnonzero(signs.has_mixture)  # the others are the same wherever they are read
    for place in range(len(reads)):
        here = mixed[signs.place[mixed] == place]
        base_mean[here] = np.tensordot(signs.silent_base[here].take(reads[place], axis=-1), weights, axes=(-2, 0))
    cells = lattice.clip(x + lattice.center)
    reach, spread = _spread(lattice, x)
    return Network(
        lattice=lattice,
        cause=cause,
        group=group,
        odds=odds,
        x=x,
        signs=signs,
        weights=weights,
        reads=reads,
        base_mean=base_mean,
        reach=reach,
        spread=spread,
        single_cells=cells,
        single_silent=single_silent(base_mean, signs, cells),
        typical=np.concatenate([[0.0], odds[1:] / odds[1:].sum()]),
        listed=listed,
        column=column,
        fit=fit,
        ring_fit=ring_fit,
        ring_other=np.ascontiguousarray(other),
        alike=(group[:, None] == group[listed]).astype(float),
        ring_alike=(of_cause == of_cause[other]).astype(float),
        raised=np.array([n for n, c in enumerate(cause.tolist()) if c in compensating], dtype=np.intp),
        raised_by=compensation,
        heads=listed,
        standing=_NONE,
        stands_for=np.zeros(0),
        part=np.zeros(states),
    )


def single_silent(base_mean: Floats, signs: Signs, cells: Ints) -> Floats:
    """Chance that each sign is silent when one state alone is at work, shape (R, S); cells (P, S) on the lattice."""
    return np.asarray(np.take_along_axis(base_mean, cells[signs.place], axis=1) * signs.silent_links)
