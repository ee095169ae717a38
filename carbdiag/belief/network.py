"""Everything about the hypotheses that no case changes, as arrays.

A *state* is a cause at one severity; state 0 is "nothing". A *hypothesis* is an unordered pair of states of
different causes, written (first, second): (0, 0) is nothing wrong, (s, 0) a single cause, (s, t) a pair.

A pair takes each cause at its most usual severities only, whose odds then stand for all of the cause's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
    first: Ints  # (H,)
    second: Ints  # (H,)
    pair_scale: Floats  # (S,) what a state's odds are multiplied by inside a pair; 0: not in pairs
    raised: Ints  # hypotheses that are likelier than chance: a setting with the fault it hides
    raised_by: float
    x_index: Ints  # (P, H) lattice index of each hypothesis at each place
    singles: int  # hypotheses 0 .. singles-1 are (s, 0) with first = index
    weights: Floats  # (Q,) residual quadrature
    reads: Ints  # (P, Q, N) lattice index read at each residual of a place
    same_group: Ints  # pairs whose members are of one group
    base_q: Floats  # (R, Q, N) silent_base read at each residual
    base_mean: Floats  # (R, N) silent_base averaged over the residual
    single_silent: Floats  # (R, S) chance that a sign is silent when one state alone is at work
    typical: Floats  # (S,) prior odds of what is wrong, normalized; 0 for state 0

    @property
    def states(self) -> int:
        """Number of states, nothing included."""
        return len(self.cause)

    def product(self, by_state: Floats) -> Floats:
        """The product over the members of every hypothesis, shape (H,)."""
        out = by_state.take(self.first)
        out *= by_state.take(self.second)
        return out

    def total(self, by_state: Floats) -> Floats:
        """The sum over the members of every hypothesis, shape (H,); state 0 must count 0."""
        out = by_state.take(self.first)
        out += by_state.take(self.second)
        return out

    def links(self, row: int) -> Floats:
        """D of one sign for every hypothesis, shape (H,)."""
        return self.product(self.signs.silent_links[row])

    def blur(self, table: Floats, place: int) -> Floats:
        """A table on the lattice averaged over the residual of a place, along its last axis."""
        return np.asarray(np.tensordot(table.take(self.reads[place], axis=-1), self.weights, axes=(-2, 0)))


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
    severities_in_pairs: int = 2,
) -> Network:
    """Enumerate nothing, every single state and every pair of states of different listed causes.

    Shapes as in `Network`; `sigma` (P,) is the spread of each place's residual; `compensates` holds ordered pairs of
    cause numbers (setting, fault it hides).
    Unlisted states (cause -1) stand alone.
    """
    states = len(cause)
    pair_scale = _pair_scale(cause, odds, severities_in_pairs)
    listed = np.flatnonzero(pair_scale > 0)
    i, j = np.triu_indices(len(listed), k=1)
    a, b = listed[i], listed[j]
    different = cause[a] != cause[b]
    a, b = a[different], b[different]
    first = np.concatenate([np.arange(states), a]).astype(np.intp)
    second = np.concatenate([np.zeros(states, dtype=np.intp), b]).astype(np.intp)
    raised = np.zeros(len(first), dtype=bool)
    for setting, fault in sorted(compensates):
        raised |= ((cause[first] == setting) & (cause[second] == fault)) | (
            (cause[first] == fault) & (cause[second] == setting)
        )
    x_index = np.ascontiguousarray(lattice.clip(x[:, first] + x[:, second] + lattice.center))
    offsets, weights = lattice.quadrature(sigma)
    reads = lattice.clip(np.arange(lattice.size) + offsets[:, :, None])
    base_q = np.ascontiguousarray(
        np.take_along_axis(signs.silent_base[:, None, :], reads[signs.place], axis=2)
    )
    base_mean = np.tensordot(weights, base_q, axes=(0, 1))
    return Network(
        lattice=lattice,
        cause=cause,
        group=group,
        odds=odds,
        x=x,
        signs=signs,
        first=first,
        second=second,
        pair_scale=pair_scale,
        raised=np.flatnonzero(raised),
        raised_by=compensation,
        x_index=x_index,
        singles=states,
        weights=weights,
        reads=reads,
        same_group=np.flatnonzero((group[first] == group[second]) & (group[first] >= 0) & (second > 0)),
        base_q=base_q,
        base_mean=base_mean,
        single_silent=single_silent(base_mean, signs, x_index, states),
        typical=np.concatenate([[0.0], odds[1:] / odds[1:].sum()]),
    )


def single_silent(base_mean: Floats, signs: Signs, x_index: Ints, states: int) -> Floats:
    """Chance that each sign is silent when one state alone is at work, shape (R, S)."""
    at = np.take_along_axis(base_mean, x_index[signs.place, :states], axis=1)
    return np.asarray(at * signs.silent_links)


def _pair_scale(cause: Ints, odds: Floats, most: int) -> Floats:
    scale = np.zeros(len(cause))
    for c in range(int(cause.max()) + 1):
        mine = np.flatnonzero(cause == c)
        kept = mine[np.argsort(-odds[mine], kind="stable")[:most]]
        scale[kept] = odds[mine].sum() / odds[kept].sum()
    return scale
