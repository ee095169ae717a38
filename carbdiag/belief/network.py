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

    def over_x_with(self, cause: int, weights: Floats, place: int) -> tuple[Ints, Floats]:
        """Lattice index at a place and weight of every hypothesis in which a listed cause is at work."""
        x, (alone, pairs, circle) = self.x[place], self.blocks(weights)
        states = np.flatnonzero(self.cause == cause)
        rows = np.flatnonzero(self.cause.take(self.heads) == cause)
        found = [
            (x.take(states), alone.take(states)),
            (x.take(self.heads.take(rows))[:, None] + x[self.pairing], pairs.take(rows, axis=0)),
            (x.take(self.heads)[:, None] + x.take(states), pairs.take(self.column.take(states), axis=1)),
        ]
        if circle.size:
            around = x.take(self.standing)
            own, count, beside = around[cause], len(around), np.arange(1, len(circle) + 1)
            before = (cause - beside) % count
            found.append((own + around.take((cause + beside) % count), circle[:, cause]))
            found.append((own + around.take(before), circle[beside - 1, before]))
        cells, weighed = (np.concatenate([part.ravel() for part in parts]) for parts in zip(*found, strict=True))
        return self.lattice.clip(cells + self.lattice.center), weighed

    def blocks(self, flat: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
        """Views of an (H,) array: single states (S,), pairs of heads (K, L), ring (C // 2, C)."""
        start, end, k, n, c = self._layout
        circle = flat[end:].reshape(c // 2, c) if c else _NO_RING
        return flat[:start], flat[start:end].reshape(k, n), circle

    @cached_property
    def _layout(self) -> tuple[int, int, int, int, int]:
        k, n = len(self.heads), len(self.listed)
        return self.states, self.states + k * n, k, n, len(self.standing)

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
        np.dot(by_state[self._heading, None], by_state[None, self.pairing], out=pairs)
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
        np.multiply.reduce(left[:, self._heading] @ right[:, :, self.pairing], axis=0, out=pairs)
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
        np.add(by_state[self._heading, None], by_state[self.pairing], out=pairs)
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
        np.dot(by_state[self._heading, None], by_state[None, self.pairing], out=pairs)
        pairs *= self._pair_fit
        if circle.size:
            standing = by_state.take(self.standing) * self.stands_for
            np.multiply(standing, ring(standing), out=circle)
            circle *= self.ring_fit
        return out

    @cached_property
    def _pair_fit(self) -> Floats:
        fit = self.fit.take(self.heads, axis=0)
        rows, columns = _not_above(len(self.heads))
        fit[rows, self.column.take(self.heads).take(columns)] = 0.0  # met in the other's row
        return fit

    def at(self, place: int, table: Floats) -> Floats:
        """A table on the lattice, read at the mixture of every hypothesis at a place, shape (H,)."""
        if not self.paired:
            return np.asarray(table.take(self.single_cells[place]))
        return table.take(self.shifts.spread).take(self._cells(place))

    def _cells(self, place: int) -> Ints:
        """Index of every hypothesis at a place into a table that `spread` has widened, so that no sum leaves it."""
        last = self._last_cells.get("last")
        if last is not None and last[0] == place:
            return last[1]
        number, sums = self.shifts.sums(place)
        x = self.x[place] + self.shifts.reach
        found = np.empty(self.size, dtype=np.intp)
        alone, pairs, circle = self.blocks(found)
        np.add(x, self.shifts.reach, out=alone)
        # "clip": for the default mode numpy goes through a buffer
        sums.take(number.take(self.heads), axis=0, out=pairs, mode="clip")
        if circle.size:
            standing = x.take(self.standing)
            np.add(standing, ring(standing), out=circle)
        self._last_cells["last"] = place, found
        return found

    @cached_property
    def _last_cells(self) -> dict[str, tuple[int, Ints]]:
        """The last place and its cells: the next table is mostly read there, and more would crowd the cache."""
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
        k, n = pairs.shape
        out[self._heading] += pairs.dot(_ones(n))
        out[self.pairing] += _ones(k).dot(pairs)
        if circle.size:
            by_cause = circle.sum(axis=0) + np.bincount(self.ring_other.ravel(), circle.ravel())
            out[self.pairing] += by_cause.take(self.cause[self.pairing]) * self.part[self.pairing]
        return out

    def over_x(self, weights: Floats, tables: Mapping[int, Floats]) -> list[Floats]:
        """Sum over all hypotheses of weight times a table (..., N) on the lattice, by place, each (...)."""
        shifts, standing, heads = self.shifts, self.standing, self.heads
        alone, pairs, circle = self.blocks(weights)
        # most states move nothing: what a pair with one of them weighs lies where the other is alone
        parts, still = [alone, pairs.take(shifts.moving, axis=1).ravel(), pairs.dot(shifts.still)], 0.0
        movers, n = shifts.movers, len(shifts.moving)
        if circle.size:
            flat = circle.ravel()
            both = flat.take(movers.both)
            one = np.asarray(np.bincount(movers.mover, flat.take(movers.one), len(standing)))
            still = float(flat.sum() - both.sum() - one.sum())
            parts += both, one
        weighed = np.concatenate(parts)
        first, second, third = np.cumsum([len(part) for part in parts[:3]]).tolist()
        cells = np.empty(len(weighed), dtype=np.intp)
        out = []
        for place, table in tables.items():
            number, sums = shifts.moving_sums(place)
            x = self.x[place] + 2 * shifts.reach
            cells[:first] = x
            sums.take(number.take(heads), axis=0, out=cells[first:second].reshape(len(heads), n), mode="clip")
            cells[second:third] = x.take(heads)
            if circle.size:
                own, end = x.take(standing), third + len(both)
                beside = self.x[place].take(standing)
                np.add(own.take(movers.first), beside.take(movers.second), out=cells[third:end])
                cells[end:] = own
            by_cell = shifts.folded(np.asarray(np.bincount(cells, weighed, len(shifts.spread))))
            by_cell[self.lattice.center] += still
            out.append(np.asarray(table @ by_cell))
        return out

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
        shifts = Shifts(self.lattice, x, self.cause, self.pairing)
        return self._with(x=x, shifts=shifts, single_cells=cells, single_silent=silent)

    def alone(self) -> Network:
        """The single states without any pair."""
        return self._with(heads=_NONE, standing=_NONE, stands_for=np.zeros(0), part=np.zeros(self.states))

    def narrowed(self, heads: Ints, weights: Floats) -> Network:
        """Pairs of the heads one by one, and of all causes by what is left of them.

        weights (S,): of the single states; the heaviest that is no head stands for the rest of its cause.
        """
        rest = weights.copy()
        rest[heads] = 0.0
        of_listed, cause = rest[self.pairing], self.cause[self.pairing]
        order = of_listed.argsort(kind="stable")
        causes = self.ring_fit.shape[1]
        standing = np.zeros(causes, dtype=np.intp)
        standing[cause.take(order)] = self.listed.take(order)  # the last one written is the heaviest
        left = np.bincount(cause, of_listed, causes)
        most = rest.take(standing)
        part = np.zeros(self.states)
        np.divide(of_listed, np.maximum(left, _TINY).take(cause), out=part[self.pairing])
        return self._with(heads=heads, standing=standing, stands_for=left / np.maximum(most, _TINY), part=part)

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


_NONE = np.zeros(0, dtype=np.intp)
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
    column = np.full(states, -1)
    column[listed] = np.arange(len(listed))
    compensating = {c for pair in compensates for c in pair}
    by_cause = np.ones((causes, causes))
    for setting, fault in compensates:
        by_cause[setting, fault] = by_cause[fault, setting] = compensation
    np.fill_diagonal(by_cause, 0.0)
    fit = np.zeros((states, len(listed)))
    fit[listed] = by_cause.take(cause[listed], axis=0).take(cause[listed], axis=1)
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
        shifts=Shifts(lattice, x, cause, _span(listed)),
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
