"""Everything about the hypotheses that no case changes, as arrays; and which pairs of them one case looks at.

A *state* is a cause at one severity; state 0 is "nothing". A *hypothesis* is an unordered pair of states of
different causes, written (first, second): (0, 0) is nothing wrong, (s, 0) a single cause, (s, t) a pair.

Pairs lie in two blocks of one flat array of hypotheses, after the single states:

    heads      a column for each head, a row for every state that pairs: every severity with every severity
    ring       causes that have severities left beside the heads, each at one *standing* severity that weighs for all
               those; row d, column i holds the i-th and the i + d + 1-th on a ring, so that no pair comes twice

With all states as heads the enumeration is complete (`build`). A case makes the states heads that matter to it
(`narrowed`, `belief.screening`). A cell that is no pair of its own (two severities of one cause, a pair of heads met
a second time, the far side of an even ring) has the fit 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.lattice import Floats, Ints, Lattice
from carbdiag.belief.shifts import Shifts


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
    shifts: Shifts  # the same shifts and their sums
    single_cells: Ints  # (P, S) lattice index of every state alone
    single_silent: Floats  # (R, S) chance that a sign is silent when one state alone is at work
    typical: Floats  # (S,) prior odds of what is wrong, normalized; 0 for state 0
    listed: Ints  # (L,) states that pair; they stand side by side
    row: Ints  # (S,) where each state is in `listed`, -1 for the others
    fit: Floats  # (C, S) what the odds of a cause with a state are multiplied by: more where one hides the other
    hiding: Ints  # (2, pairs) causes whose pair is likelier than chance, the smaller number first
    raised: Ints  # states that have a pair likelier than chance
    raised_by: float
    # what a case looks at
    heads: Ints  # (K,) states whose pairs are looked at one by one
    standing: Ints  # (C,) the states that stand on the ring, each for its cause; () for no ring
    stands_for: Floats  # (C,) how many times its own odds
    spots: Ints  # where each cause stands on the ring, -1 for those that do not
    part: Floats  # (S,) part of its cause's weight on the ring that belongs to each state

    @cached_property
    def causes(self) -> int:
        """Number of listed causes."""
        return int(self.cause.max(initial=-1)) + 1

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
        return np.concatenate([np.arange(self.states), np.tile(self.heads, len(self.listed)), on_ring])

    @cached_property
    def second(self) -> Ints:
        """Second state of every hypothesis, 0 for none, shape (H,)."""
        return np.concatenate(
            [
                np.zeros(self.states, dtype=np.intp),
                np.repeat(self.listed, len(self.heads)),
                ring(self.standing).ravel(),
            ]
        )

    def members(self, some: Ints) -> tuple[Ints, Ints]:
        """First and second state of some hypotheses, as `first` and `second` have them for all."""
        start, end, _, k, c = self._layout
        first, second = some.copy(), np.zeros_like(some)
        pairs = (some >= start) & (some < end)
        row, column = np.divmod(some[pairs] - start, max(k, 1))
        first[pairs], second[pairs] = self.heads[column], self.listed[row]
        circle = some >= end
        row, column = np.divmod(some[circle] - end, max(c, 1))
        first[circle], second[circle] = self.standing[column], self.standing[(column + row + 1) % max(c, 1)]
        return first, second

    def over_x_with(self, cause: int, weights: Floats, place: int) -> tuple[Ints, Floats]:
        """Lattice index at a place and weight of every hypothesis in which a listed cause is at work."""
        x, (alone, pairs, circle) = self.x[place], self.blocks(weights)
        states = np.flatnonzero(self.cause == cause)
        columns = np.flatnonzero(self.cause.take(self.heads) == cause)
        found = [
            (x.take(states), alone.take(states)),
            (x[self.pairing, None] + x.take(self.heads.take(columns)), pairs.take(columns, axis=1)),
            (x.take(states)[:, None] + x.take(self.heads), pairs.take(self.row.take(states), axis=0)),
        ]
        spot = self.spots[cause] if circle.size else -1
        if spot >= 0:
            around = x.take(self.standing)
            own, count, beside = around[spot], len(around), np.arange(1, len(circle) + 1)
            before = (spot - beside) % count
            found.append((own + around.take((spot + beside) % count), circle[:, spot]))
            found.append((own + around.take(before), circle[beside - 1, before]))
        cells, weighed = (np.concatenate([part.ravel() for part in parts]) for parts in zip(*found, strict=True))
        return self.lattice.clip(cells + self.lattice.center), weighed

    def blocks(self, flat: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
        """Views of an (H,) array: single states (S,), pairs of heads (L, K), ring (C // 2, C)."""
        start, end, n, k, c = self._layout
        circle = flat[end:].reshape(c // 2, c) if c else _NO_RING
        return flat[:start], flat[start:end].reshape(n, k), circle

    @cached_property
    def _layout(self) -> tuple[int, int, int, int, int]:
        k, n = len(self.heads), len(self.listed)
        return self.states, self.states + k * n, n, k, len(self.standing)

    @cached_property
    def pairing(self) -> slice:
        """`listed` as a slice."""
        return _span(self.listed)

    @cached_property
    def _heading(self) -> slice | Ints:
        """`heads` as an index."""
        return self.pairing if self.heads is self.listed else self.heads

    @cached_property
    def paired(self) -> bool:
        """Whether there is more than the single states."""
        return self.size > self.states

    def product(self, by_state: Floats) -> Floats:
        """The product over the members of every hypothesis, (S,) to (H,)."""
        if not self.paired:
            return np.asarray(by_state * by_state[0])
        out = np.empty(self.size)
        alone, pairs, circle = self.blocks(out)
        np.multiply(by_state, by_state[0], out=alone)
        # a product of a column and a row; numpy's own, row by row, takes three times as long
        np.dot(by_state[self.pairing, None], by_state[None, self._heading], out=pairs)
        if circle.size:
            standing = by_state.take(self.standing)
            np.multiply(standing, ring(standing), out=circle)
        return out

    def products(self, alone: Floats, left: Floats, right: Floats) -> Floats:
        """Statements multiplied, each a sum of products over members, shape (H,).

            product over t of sum over k of left[t, i, k] * right[t, k, j]

        for the members i and j of a hypothesis; it must be the same for (j, i).
        alone (S,): the same for j = 0. left (T, S, K), right (T, K, S); the last part is a constant, `right` 1 there.
        """
        if not self.paired:
            return alone.copy()
        out = np.empty(self.size)
        first, pairs, circle = self.blocks(out)
        first[:] = alone
        if len(left) == 1:
            np.matmul(left[0, self.pairing], right[0][:, self._heading], out=pairs)
        else:
            np.multiply.reduce(left[:, self.pairing] @ right[:, :, self._heading], axis=0, out=pairs)
        if circle.size:
            ours, others = left.take(self.standing, 1), ring(right.take(self.standing, 2))
            for t, constant in enumerate(left[:, 0, -1].tolist()):
                here = ours[t, :, 0] * others[t, 0]
                for k in range(1, left.shape[2] - 1):
                    here += ours[t, :, k] * others[t, k]
                here += constant
                np.multiply(circle, here, out=circle) if t else np.copyto(circle, here)
        return out

    def total(self, by_state: Floats) -> Floats:
        """The sum over the members of every hypothesis, shape (H,); state 0 must count 0."""
        if not self.paired:
            return np.asarray(by_state + by_state[0])
        out = np.empty(self.size)
        alone, pairs, circle = self.blocks(out)
        np.add(by_state, by_state[0], out=alone)
        np.add(by_state[self.pairing, None], by_state[self._heading], out=pairs)
        if circle.size:
            standing = by_state.take(self.standing)
            np.add(standing, ring(standing), out=circle)
        return out

    def prior(self, by_state: Floats) -> Floats:
        """Odds of every hypothesis from those of its members, shape (H,)."""
        if not self.paired:
            return by_state.copy()
        out = np.empty(self.size)
        alone, pairs, circle = self.blocks(out)
        alone[:] = by_state
        np.dot(by_state[self.pairing, None], by_state[None, self._heading], out=pairs)
        pairs *= self._pair_fit
        if circle.size:
            standing = by_state.take(self.standing) * self.stands_for
            np.multiply(standing, ring(standing), out=circle)
            if len(standing) % 2 == 0:
                circle[-1, len(standing) // 2 :] = 0.0  # met already from the other side
            circle.reshape(-1)[self._hiding_cells] *= self.raised_by
        return out

    @cached_property
    def _pair_fit(self) -> Floats:
        fit = self.fit.take(self.heads, axis=1).take(self.cause[self.pairing], axis=0)
        rows, columns = _not_above(len(self.heads))
        # met in the other's column
        fit.reshape(-1)[self.row.take(self.heads).take(rows) * len(self.heads) + columns] = 0.0
        return fit

    @cached_property
    def _hiding_cells(self) -> Ints:
        """Where the pairs that are likelier than chance lie on the ring."""
        n = len(self.standing)
        first, second = self.spots.take(self.hiding)
        gap = second - first
        cells = np.where(2 * gap <= n, (gap - 1) * n + first, (n - gap - 1) * n + second)
        return np.asarray(cells[np.minimum(first, second) >= 0])

    def at(self, place: int, table: Floats) -> Floats:
        """A table on the lattice, read at the mixture of every hypothesis at a place, shape (H,)."""
        if not self.paired:
            return np.asarray(table.take(self.single_cells[place]))
        wide = table.take(self.shifts.spread)
        number, of_heads, of_ring = self._cells(place)
        out = np.empty(self.size)
        alone, pairs, circle = self.blocks(out)
        alone[:] = table.take(self.single_cells[place])
        # states that shift alike share a row; "clip": for the default mode numpy goes through a buffer
        wide.take(of_heads).take(number, axis=0, out=pairs, mode="clip")
        if circle.size:
            wide.take(of_ring, out=circle, mode="clip")
        return out

    def _cells(self, place: int) -> tuple[Ints, Ints, Ints]:
        """Indices into a table that `spread` has widened, so that no sum leaves it, at a place.

        A number for each state that pairs, (L,), by number the indices beside each head, and those of the ring.
        """
        known = self._known_cells.get(place)
        if known is not None:
            return known
        number, apart = self.shifts.distinct(place)
        x = self.x[place].take(self.standing) + self.shifts.reach
        of_heads = apart[:, None] + (self.x[place].take(self.heads) + 2 * self.shifts.reach)
        found = self._known_cells[place] = number, of_heads, np.add(x, ring(x))
        return found

    @cached_property
    def _known_cells(self) -> dict[int, tuple[Ints, Ints, Ints]]:
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
        if not self.paired:
            return out
        n, k = pairs.shape
        out[self._heading] += _ones(n).dot(pairs)
        out[self.pairing] += pairs.dot(_ones(k))
        if circle.size:
            # what does not stand there has no part in it, whichever number it reads
            spots = self.spots.take(self.cause[self.pairing])
            out[self.pairing] += _by_spot(circle).take(spots) * self.part[self.pairing]
        return out

    def over_x(self, weights: Floats, tables: Mapping[int, Floats]) -> list[Floats]:
        """Sum over all hypotheses of weight times a table (..., N) on the lattice, by place, each (...)."""
        shifts, standing, heads = self.shifts, self.standing, self.heads
        alone, pairs, circle = self.blocks(weights)
        nothing = 0.0
        if circle.size:
            moves, both, first, second = self._movers
            of_both, n = circle.reshape(-1).take(both), len(standing)
            in_both = np.bincount(first, of_both, n) + np.bincount(second, of_both, n)
            of_one = np.maximum(_by_spot(circle) - in_both, 0.0) * moves  # beside a cause that moves nothing
            nothing = max(float(circle.sum() - of_both.sum() - of_one.sum()), 0.0)
        out = []
        for place, table in tables.items():
            # most states move nothing: what a pair with one of them weighs lies where the other is alone
            moving, number, still = shifts.moving(place)
            x, size = self.x[place] + 2 * shifts.reach, len(shifts.spread)
            cells, weighed = [x, x.take(heads)], [alone, still.dot(pairs)]
            beside_heads = (shifts.distinct(place)[1][:, None] + x.take(heads)).take(number, axis=0)
            by_sum = np.zeros(size)
            by_sum += np.bincount(beside_heads.reshape(-1), pairs.take(moving, axis=0).reshape(-1), size)
            if circle.size:
                own, beside = x.take(standing), self.x[place].take(standing)
                by_sum += np.bincount(own.take(first) + beside.take(second), of_both, size)
                cells.append(own)
                weighed.append(of_one)
            by_sum += np.bincount(np.concatenate(cells), np.concatenate(weighed), size)
            by_cell = shifts.folded(by_sum)
            by_cell[self.lattice.center] += nothing
            out.append(np.asarray(table @ by_cell))
        return out

    @cached_property
    def _movers(self) -> tuple[NDArray[np.bool_], Ints, Ints, Ints]:
        """Which of those on the ring move the mixture; the pairs of which both do, and their members."""
        moves = (self.x.take(self.standing, axis=1) != 0).any(axis=0)
        both = np.flatnonzero(moves & ring(moves))
        first, second = (numbers.take(both) for numbers in _ring_members(len(moves)))
        return moves, both, first, second

    def in_group_twice(self, weights: Floats, groups: int) -> Floats:
        """Weight of the pairs whose members are of one group, by group, shape (groups,)."""
        _, pairs, circle = self.blocks(weights)
        of_heads = self.group.take(self.heads)
        alike = (np.arange(groups)[:, None] == of_heads).astype(float).take(self.group[self.pairing], axis=0)
        out = np.zeros(groups)
        out += np.bincount(of_heads, np.einsum("lk,lk->k", pairs, alike), groups)
        if circle.size:
            around = self.group.take(self.standing)
            small = around.astype(np.int16)  # quicker to compare
            kin = np.flatnonzero(small == ring(small))
            first, _ = _ring_members(len(around))
            out += np.bincount(around.take(first.take(kin)), circle.reshape(-1).take(kin), groups)
        return out

    def base_q(self, row: int) -> Floats:
        """`silent_base` of one sign read at each residual of its place, shape (Q, N)."""
        return np.asarray(self.signs.silent_base[row].take(self.reads[self.signs.place[row]]))

    def links(self, row: int) -> Floats:
        """D of one sign for every hypothesis, shape (H,)."""
        return self.product(self.signs.silent_links[row])

    def blur(self, table: Floats, place: int) -> Floats:
        """A table on the lattice averaged over the residual of a place, along its last axis."""
        return np.asarray(np.tensordot(table.take(self.reads[place], axis=-1), self.weights, axes=(-2, 0)))

    def moved(self, x: Ints) -> Network:
        """The same hypotheses with other shifts, shape (P, S)."""
        cells = self.lattice.clip(x + self.lattice.center)
        silent = single_silent(self.base_mean, self.signs, cells)
        shifts = Shifts(self.lattice, x, self.pairing)
        return self._with(x=x, shifts=shifts, single_cells=cells, single_silent=silent)

    def alone(self) -> Network:
        """The single states without any pair."""
        return self._with(heads=_NONE, standing=_NONE, stands_for=_NOTHING, spots=_NONE, part=_NOTHING)

    def narrowed(self, heads: Ints, weights: Floats) -> Network:
        """Pairs of the heads one by one, and of causes by what is left of them.

        weights (S,): of the single states; the heaviest that is no head stands for the rest of its cause.
        """
        rest = weights.copy()
        rest[heads] = 0.0
        of_listed, cause = rest[self.pairing], self.cause[self.pairing]
        order = of_listed.argsort(kind="stable")
        standing = np.zeros(self.causes, dtype=np.intp)
        standing[cause.take(order)] = self.listed.take(order)  # the last one written is the heaviest
        left = np.bincount(cause, of_listed, self.causes)
        part = np.zeros(self.states)
        np.divide(of_listed, np.maximum(left, _TINY).take(cause), out=part[self.pairing])
        stands = left > 0
        some, spots = stands.nonzero()[0], np.where(stands, stands.cumsum() - 1, -1)
        standing = standing.take(some)
        stands_for = left.take(some) / np.maximum(rest.take(standing), _TINY)
        return self._with(heads=heads, standing=standing, stands_for=stands_for, spots=spots, part=part)

    def _with(self, **changed: Any) -> Network:
        """What `dataclasses.replace` gives, in a tenth of the time."""
        other = object.__new__(Network)
        mine = self.__dict__
        other.__dict__.update({name: mine[name] for name in _FIELDS})
        other.__dict__.update(changed)
        return other


_FIELDS = tuple(f.name for f in fields(Network))


@lru_cache(maxsize=64)
def _not_above(heads: int) -> tuple[Ints, Ints]:
    """Rows and columns of a square that do not lie above its diagonal."""
    rows, columns = np.tril_indices(heads)
    return rows, columns


def _span(side_by_side: Ints) -> slice:
    return slice(int(side_by_side[0]), int(side_by_side[-1]) + 1) if len(side_by_side) else slice(0, 0)


@lru_cache(maxsize=256)
def _ones(n: int) -> Floats:
    ones = np.ones(n)
    ones.flags.writeable = False
    return ones


@lru_cache(maxsize=64)
def _ring_members(n: int) -> tuple[Ints, Ints]:
    """First and second of every pair on a ring of n, flat."""
    numbers = np.arange(n)
    return np.tile(numbers, n // 2), np.ascontiguousarray(ring(numbers)).ravel()


def _by_spot(circle: Floats) -> Floats:
    """Total weight of the pairs on the ring that hold each of those on it."""
    second = _ring_members(circle.shape[1])[1]
    return np.asarray(circle.sum(axis=0) + np.bincount(second, circle.reshape(-1)))


_NONE, _NOTHING = np.zeros(0, dtype=np.intp), np.zeros(0)
_NO_RING = np.zeros((0, 0))
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
    Unlisted states (cause -1) stand alone; the listed ones stand side by side.
    """
    states, causes = len(cause), int(cause.max(initial=-1)) + 1
    listed = np.flatnonzero(cause >= 0)
    if len(listed) and len(listed) != listed[-1] - listed[0] + 1:
        raise ValueError("the states of listed causes must stand side by side")
    row = np.full(states, -1)
    row[listed] = np.arange(len(listed))
    compensating = {c for pair in compensates for c in pair}
    by_cause = np.ones((causes, causes))
    for setting, fault in compensates:
        by_cause[setting, fault] = by_cause[fault, setting] = compensation
    np.fill_diagonal(by_cause, 0.0)
    offsets, weights = lattice.quadrature(sigma)
    reads = lattice.clip(np.arange(lattice.size) + offsets[:, :, None])
    base_mean = signs.silent_base.copy()
    mixed = np.flatnonzero(signs.has_mixture)  # the others are the same wherever they are read
    alike, of_place = np.unique(offsets, axis=0, return_inverse=True)
    for number, offset in enumerate(alike):
        here = mixed[of_place[signs.place[mixed]] == number]
        base_mean[here] = _averaged(signs.silent_base.take(here, axis=0), offset, weights)
    cells = lattice.clip(x + lattice.center)
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
        shifts=Shifts(lattice, x, _span(listed)),
        single_cells=cells,
        single_silent=single_silent(base_mean, signs, cells),
        typical=np.concatenate([[0.0], odds[1:] / odds[1:].sum()]),
        listed=listed,
        row=row,
        fit=by_cause.take(cause, axis=1),
        hiding=np.array(sorted({tuple(sorted(pair)) for pair in compensates}), dtype=np.intp).reshape(-1, 2).T,
        raised=np.array([n for n, c in enumerate(cause.tolist()) if c in compensating], dtype=np.intp),
        raised_by=compensation,
        heads=listed,
        standing=_NONE,
        stands_for=_NOTHING,
        spots=_NONE,
        part=_NOTHING,
    )


def _averaged(tables: Floats, offset: Ints, weights: Floats) -> Floats:
    """Tables (R, N) averaged over offsets along the lattice, their ends held."""
    most, size = int(np.abs(offset).max(initial=0)), tables.shape[-1]
    held = np.pad(tables, ((0, 0), (most, most)), mode="edge")
    return np.asarray(
        sum(w * held[:, most + at : most + at + size] for at, w in zip(offset.tolist(), weights.tolist(), strict=True))
    )


def single_silent(base_mean: Floats, signs: Signs, cells: Ints) -> Floats:
    """Chance that each sign is silent when one state alone is at work, shape (R, S); cells (P, S) on the lattice."""
    return np.asarray(np.take_along_axis(base_mean, cells[signs.place], axis=1) * signs.silent_links)
