"""Everything about the hypotheses that no case changes, as arrays; and which pairs of them one case looks at.

A *state* is a cause at one severity; state 0 is "nothing". A *hypothesis* is an unordered pair of states of
different causes, written (first, second): (0, 0) is nothing wrong, (s, 0) a single cause, (s, t) a pair.

Pairs lie in two blocks of one flat array of hypotheses, after the single states:

    heads      a column for each head, a row for every state that pairs: each pair looked at by itself
    crowd      the states that are no heads, in classes of those that fare alike, each class as the one state that
               *stands* for it: a row and a column for each class, half of every two of its members in each of the
               two cells where their classes meet

With all states as heads the enumeration is complete (`build`). A case makes the states heads that matter to it
(`narrowed`, `belief.screening`). A cell of the heads that is no pair of its own (two severities of one cause, a pair of
heads met a second time) has the odds 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from carbdiag.belief.lattice import Floats, Ints, Lattice
from carbdiag.belief.quiet_product import quiet_product
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
    tied: Ints  # (2, T) two listed states, each way round, whose odds together are not the product of their odds
    ties: Floats  # (T,) what the product is multiplied by: 0 for one cause or opposed ones, more if one hides the other
    raised: Ints  # states that have a pair likelier than chance
    raised_by: float
    # what a case looks at
    heads: Ints  # (K,) states whose pairs are looked at one by one
    of_class: Ints  # (S,) the class of each state of the crowd; of the others 0
    part: Floats  # (S,) its part of the weight of its class; of the others 0
    standing: Ints  # (C,) the state that stands for each class
    stands_for: Floats  # (C,) how many times its own odds

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
        return self.by_name + len(self.standing) ** 2

    @cached_property
    def by_name(self) -> int:
        """Number of hypotheses, the first ones, that are what they name, and no two classes."""
        return self.states + len(self.heads) * len(self.listed)

    @cached_property
    def first(self) -> Ints:
        """First state of every hypothesis, shape (H,)."""
        of_heads, of_classes = np.tile(self.heads, len(self.listed)), np.tile(self.standing, len(self.standing))
        return np.concatenate([np.arange(self.states), of_heads, of_classes])

    @cached_property
    def second(self) -> Ints:
        """Second state of every hypothesis, 0 for none, shape (H,)."""
        of_listed, of_classes = np.repeat(self.listed, len(self.heads)), np.repeat(self.standing, len(self.standing))
        return np.concatenate([np.zeros(self.states, dtype=np.intp), of_listed, of_classes])

    def members(self, some: Ints) -> tuple[Ints, Ints]:
        """First and second state of some hypotheses that are what they name, as `first` and `second` have them."""
        first, second = some.copy(), np.zeros_like(some)
        pairs = some >= self.states
        row, column = np.divmod(some[pairs] - self.states, max(len(self.heads), 1))
        first[pairs], second[pairs] = self.heads[column], self.listed[row]
        return first, second

    def of_first(self, by_state: Floats) -> Floats:
        """A value of the first member of every hypothesis; of a class the mean over it."""
        classes, of_heads = self._over_class(by_state), np.tile(by_state[self.heads], len(self.listed))
        return np.concatenate([by_state, of_heads, np.tile(classes, len(classes))])

    def of_second(self, by_state: Floats) -> Floats:
        """A value of the second member, or of nothing."""
        classes, alone = self._over_class(by_state), np.full(self.states, by_state[0])
        of_listed = np.repeat(by_state[self.listed], len(self.heads))
        return np.concatenate([alone, of_listed, np.repeat(classes, len(classes))])

    def _over_class(self, by_state: Floats) -> Floats:
        classes = len(self.standing)
        return np.asarray(np.bincount(self.of_class, self.part * by_state, classes)[:classes], dtype=float)

    def _to_members(self, by_class: Floats) -> Floats:
        """Weights of classes, each given to the members, (C,) to (S,)."""
        return self.part * by_class.take(self.of_class) if by_class.size else self.part

    def to_first(self, weights: Floats) -> Floats:
        """The weights of all hypotheses, each given to its first member, shape (S,)."""
        out, pairs, classes = self.blocks(weights)
        out = out.copy()
        out[self._heading] += _ones(len(pairs)).dot(pairs)
        return out + self._to_members(_ones(len(classes)).dot(classes))

    def to_second(self, weights: Floats) -> Floats:
        """The weights of all hypotheses, each given to its second member; those of one cause alone to nothing."""
        alone, pairs, classes = self.blocks(weights)
        out = np.zeros(self.states)
        out[0] = np.add.reduce(alone)
        out[self.pairing] += pairs.dot(_ones(pairs.shape[1]))
        return out + self._to_members(classes.dot(_ones(len(classes))))

    def over_x_with(self, cause: int, weights: Floats, place: int) -> tuple[Ints, Floats]:
        """Lattice index at a place and weight of every hypothesis in which a listed cause is at work."""
        x, (alone, pairs, classes) = self.x[place], self.blocks(weights)
        states = np.flatnonzero(self.cause == cause)
        columns = np.flatnonzero(self.cause.take(self.heads) == cause)
        found = [
            (x.take(states), alone.take(states)),
            (x[self.pairing, None] + x.take(self.heads.take(columns)), pairs.take(columns, axis=1)),
            (x.take(states)[:, None] + x.take(self.heads), pairs.take(self.row.take(states), axis=0)),
        ]
        if classes.size:
            spots = self.of_class.take(states)
            share = self._of_crowd(classes).take(states) / np.maximum(classes.sum(axis=1).take(spots), _TINY)
            found.append((x.take(states)[:, None] + x.take(self.standing), classes[spots] * share[:, None]))
        cells, weighed = (np.concatenate([part.ravel() for part in parts]) for parts in zip(*found, strict=True))
        return self.lattice.clip(cells + self.lattice.center), weighed

    def blocks(self, flat: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
        """Views of an (H,) array: single states (S,), pairs of heads (L, K), classes of the crowd (C, C)."""
        start, end, n, k, c = self._layout
        return flat[:start], flat[start:end].reshape(n, k), flat[end:].reshape(c, c) if c else _NO_CLASSES

    @cached_property
    def _layout(self) -> tuple[int, int, int, int, int]:
        return self.states, self.by_name, len(self.listed), len(self.heads), len(self.standing)

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
        alone, pairs, classes = self.blocks(out)
        np.multiply(by_state, by_state[0], out=alone)
        # a product of a column and a row; numpy's own, row by row, takes three times as long
        np.dot(by_state[self.pairing, None], by_state[None, self._heading], out=pairs)
        if classes.size:
            standing = by_state.take(self.standing)
            np.dot(standing[:, None], standing[None], out=classes)
        return out

    def products(self, alone: Floats, left: Floats, right: Floats) -> Floats:
        """Statements multiplied, each a sum of products over members, shape (H,).

            product over t of sum over k of left[t, i, k] * right[t, k, j]

        for the members i and j of a hypothesis; it must be the same for (j, i).
        alone (S,): the same for j = 0. left (T, S, K), right (T, K, S).
        """
        if not self.paired:
            return alone.copy()
        out = np.empty(self.size)
        first, pairs, classes = self.blocks(out)
        first[:] = alone
        _products(left[:, self.pairing], right[:, :, self._heading], pairs)
        if classes.size:
            _products(left.take(self.standing, 1), right.take(self.standing, 2), classes)
        return out

    def total(self, by_state: Floats) -> Floats:
        """The sum over the members of every hypothesis, shape (H,); state 0 must count 0."""
        if not self.paired:
            return np.asarray(by_state + by_state[0])
        out = np.empty(self.size)
        alone, pairs, classes = self.blocks(out)
        np.add(by_state, by_state[0], out=alone)
        np.add(by_state[self.pairing, None], by_state[self._heading], out=pairs)
        if classes.size:
            standing = by_state.take(self.standing)
            np.add(standing[:, None], standing, out=classes)
        return out

    def prior(self, by_state: Floats) -> Floats:
        """Odds of every hypothesis from those of its members, shape (H,)."""
        if not self.paired:
            return by_state.copy()
        out = np.empty(self.size)
        alone, pairs, classes = self.blocks(out)
        alone[:] = by_state
        np.dot(by_state[self.pairing, None], by_state[None, self._heading], out=pairs)
        pairs *= self._head_fit
        if classes.size:
            standing = by_state.take(self.standing) * self.stands_for
            np.dot(standing[:, None], standing[None], out=classes)
            classes *= self._class_fit
        return out

    @cached_property
    def _head_fit(self) -> Floats:
        """What the odds of a pair with a head are multiplied by, (L, K)."""
        count, heads = len(self.heads), self.heads
        column = np.full(self.states, -1)
        column[heads] = np.arange(count)
        across = column.take(self.tied[1])
        some = np.flatnonzero(across >= 0)
        fit = np.ones((len(self.listed), count))
        fit.reshape(-1)[self.row.take(self.tied[0].take(some)) * count + across.take(some)] = self.ties.take(some)
        rows, columns = _not_above(count)
        fit.reshape(-1)[self.row.take(heads).take(rows) * count + columns] = 0.0  # met in the other's column
        return fit

    @cached_property
    def _crowd_ties(self) -> tuple[Ints, Floats]:
        """Of two tied states: the cell of their classes, and by how much more than 1 the tie multiplies their part of
        it; 0 unless both are in the crowd."""
        first, second = self.tied
        more = (self.ties - 1) * self.part.take(first) * self.part.take(second)
        return self.of_class.take(first) * len(self.standing) + self.of_class.take(second), more

    @cached_property
    def _class_fit(self) -> Floats:
        """What the odds of two classes are multiplied by, half of it here and half where they meet again, (C, C)."""
        count = len(self.standing)
        cells, more = self._crowd_ties
        fit = (1.0 + np.bincount(cells, more, count * count)[: count * count]) / 2
        fit[fit < _NEARLY_NONE] = 0.0  # a class of one cause alone has no pair in itself; no rest of 1 - 1 must count
        return fit.reshape(count, count)

    @cached_property
    def _free(self) -> Floats:
        """What turns the weights of pairs of classes into those they had if all their members paired alike, (C, C)."""
        return np.asarray((self._class_fit > 0) / np.maximum(self._class_fit, _NEARLY_NONE))

    def _of_crowd(self, classes: Floats) -> Floats:
        """Total weight of the pairs of the crowd that hold each state, shape (S,)."""
        cells, more = self._crowd_ties
        free = classes * self._free
        out = self._to_members(free.dot(_ones(len(free))))
        out += np.bincount(self.tied[0], more * free.take(cells), len(out))
        return np.maximum(out, 0.0)

    def at(self, place: int, table: Floats) -> Floats:
        """A table on the lattice, read at the mixture of every hypothesis at a place, shape (H,)."""
        if not self.paired:
            return np.asarray(table.take(self.single_cells[place]))
        wide = table.take(self.shifts.spread)
        number, of_heads, of_classes = self._cells(place)
        out = np.empty(self.size)
        alone, pairs, classes = self.blocks(out)
        alone[:] = table.take(self.single_cells[place])
        # states that shift alike share a row; "clip": for the default mode numpy goes through a buffer
        wide.take(of_heads).take(number, axis=0, out=pairs, mode="clip")
        if classes.size:
            wide.take(of_classes, out=classes, mode="clip")
        return out

    def _cells(self, place: int) -> tuple[Ints, Ints, Ints]:
        """Indices into a table that `spread` has widened, so that no sum leaves it, at a place.

        A number for each state that pairs, (L,), by number the indices beside each head, and those of the classes.
        """
        known = self._known_cells.get(place)
        if known is not None:
            return known
        number, apart = self.shifts.distinct(place)
        x = self.x[place].take(self.standing) + self.shifts.reach
        of_heads = apart[:, None] + (self.x[place].take(self.heads) + 2 * self.shifts.reach)
        found = self._known_cells[place] = number, of_heads, x[:, None] + x
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
        alone, pairs, classes = self.blocks(weights)
        out = alone.copy()
        if not self.paired:
            return out
        n, k = pairs.shape
        out[self._heading] += _ones(n).dot(pairs)
        out[self.pairing] += pairs.dot(_ones(k))
        return out + self._of_crowd(classes) if classes.size else out

    def over_x(self, weights: Floats, tables: Mapping[int, Floats]) -> list[Floats]:
        """Sum over all hypotheses of weight times a table (..., N) on the lattice, by place, each (...).

        Classes lie where their members do, each by its part; as they weigh a few percent in all, in coarse steps.
        """
        shifts, size = self.shifts, len(self.shifts.spread)
        alone, pairs, classes = self.blocks(weights)
        by_sum = np.empty((len(tables), size))
        for n, place in enumerate(tables):
            by_sum[n] = np.bincount(self.x[place] + 2 * shifts.reach, alone, size)
            if self.paired:
                number, of_heads, _ = self._cells(place)
                by_sum[n] += np.bincount(of_heads.take(number, axis=0).reshape(-1), pairs.reshape(-1), size)
            if classes.size:
                number, sums = shifts.rough(place)
                at = self.of_class[self.pairing] * len(sums) + number
                lies = np.bincount(at, self.part[self.pairing], len(classes) * len(sums)).reshape(-1, len(sums))
                both = quiet_product(lies.T, quiet_product(classes, lies))
                by_sum[n] += np.bincount(sums.reshape(-1), both.reshape(-1), size)
        by_cell = shifts.folded(by_sum)
        return [np.asarray(table @ here) for table, here in zip(tables.values(), by_cell, strict=True)]

    def in_group_twice(self, weights: Floats, groups: int) -> Floats:
        """Weight of the pairs whose members are of one group, by group, shape (groups,)."""
        _, pairs, classes = self.blocks(weights)
        small = self.group.astype(np.int16)  # quicker to compare
        kin = np.flatnonzero(small[self.pairing, None] == small.take(self.heads))
        of_kin = self.group.take(self.heads).take(kin % max(len(self.heads), 1))
        out = np.zeros(groups)
        out += np.bincount(of_kin, pairs.reshape(-1).take(kin), groups)
        if not classes.size:
            return out
        cells, more = self._crowd_ties
        free = classes * self._free
        free /= 2
        at = self.of_class * groups + np.maximum(self.group, 0)  # what has no group has no part either
        share = np.asarray(np.bincount(at, self.part, len(free) * groups), dtype=float).reshape(-1, groups)
        out += np.add.reduce(quiet_product(free, share) * share)
        first, second = (self.group.take(states) for states in self.tied)
        return out + np.bincount(first, np.where(first == second, more * free.take(cells), 0.0), groups)

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
        return self._with(heads=_NONE, **_no_crowd(self.states))

    def narrowed(self, heads: Ints, weights: Floats, alike: Ints) -> Network:
        """Pairs of the heads one by one, and of the other states as classes of those that are alike.

        weights (S,): how much each state counts in its class, for which the heaviest stands; alike (S,): a number that
        those of one class share.
        """
        weighs = weights > 0
        weighs[heads] = False
        crowd = self.listed[weighs[self.pairing]]
        # class by class, the last of each the heaviest
        order = crowd.take(np.lexsort((weights.take(crowd), alike.take(crowd))))
        kind, of_order = alike.take(order), weights.take(order)
        ends = np.ones(len(order), dtype=bool)
        np.not_equal(kind[1:], kind[:-1], out=ends[:-1])
        standing, number = order[ends], ends.cumsum() - ends
        every = np.bincount(number, of_order, len(standing))
        of_class, part = np.zeros(self.states, dtype=np.intp), np.zeros(self.states)
        of_class[order] = number
        part[order] = of_order / every.take(number)
        stands_for = every / weights.take(standing)
        return self._with(heads=heads, of_class=of_class, part=part, standing=standing, stands_for=stands_for)

    def _with(self, **changed: Any) -> Network:
        """What `dataclasses.replace` gives, in a tenth of the time."""
        other = object.__new__(Network)
        other.__dict__.update(self._given)
        other.__dict__.update(changed)
        return other

    @cached_property
    def _given(self) -> dict[str, Any]:
        return {name: self.__dict__[name] for name in _FIELDS}


_FIELDS = tuple(f.name for f in fields(Network))


def _products(left: Floats, right: Floats, out: Floats) -> None:
    if len(left) == 1:
        np.matmul(left[0], right[0], out=out)
    else:
        np.multiply.reduce(left @ right, axis=0, out=out)


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


_NONE, _NOTHING = np.zeros(0, dtype=np.intp), np.zeros(0)
_NO_CLASSES = np.zeros((0, 0))
#: What is rounding in a class in which nothing pairs.
_NEARLY_NONE = 1e-12
_TINY = 1e-290


def _no_crowd(states: int) -> dict[str, Any]:
    """What a network holds that has no classes."""
    nobody = {"of_class": np.zeros(states, dtype=np.intp), "part": np.zeros(states)}
    return {**nobody, "standing": _NONE, "stands_for": _NOTHING}


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
    opposed: frozenset[tuple[int, int]] = frozenset(),
) -> Network:
    """Enumerate nothing, every single state and every pair of states of different listed causes.

    Shapes as in `Network`; `sigma` (P,) is the spread of each place's residual; `compensates` holds ordered pairs of
    cause numbers (setting, fault it hides), `opposed` pairs that cannot both be: one setting off either way.
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
    for one, other in opposed:
        by_cause[one, other] = by_cause[other, one] = 0.0
    np.fill_diagonal(by_cause, 0.0)
    fit = by_cause.take(cause[listed], axis=0).take(cause[listed], axis=1)
    tied = np.array(np.nonzero(fit != 1))
    offsets, weights = lattice.quadrature(sigma)
    reads = lattice.clip(np.arange(lattice.size) + offsets[:, :, None])
    base_mean = _over_residual(signs, offsets, weights)
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
        tied=listed.take(tied),
        ties=fit[tied[0], tied[1]],
        raised=np.array([n for n, c in enumerate(cause.tolist()) if c in compensating], dtype=np.intp),
        raised_by=compensation,
        heads=listed,
        **_no_crowd(states),
    )


def _over_residual(signs: Signs, offsets: Ints, weights: Floats) -> Floats:
    """`silent_base` of every sign averaged over the residual of its place, (R, N)."""
    base_mean = signs.silent_base.copy()
    mixed = np.flatnonzero(signs.has_mixture)  # the others are the same wherever they are read
    alike, of_place = np.unique(offsets, axis=0, return_inverse=True)
    for number, offset in enumerate(alike):
        here = mixed[of_place[signs.place[mixed]] == number]
        base_mean[here] = _averaged(signs.silent_base.take(here, axis=0), offset, weights)
    return base_mean


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
