"""Everything about the hypotheses that no case changes, as arrays.

A *state* is a cause at one severity; state 0 is "nothing". A *hypothesis* is an unordered pair of states of
different causes, written (first, second): (0, 0) is nothing wrong, (s, 0) a single cause, (s, t) a pair.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from carbdiag.belief.lattice import Floats, Ints, Lattice, shifted


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
    pair_factor: Floats  # (H,) what makes a pair likelier than chance
    x_index: Ints  # (P, H) lattice index of each hypothesis at each place
    singles: int  # hypotheses 0 .. singles-1 are (s, 0) with first = index
    offsets: Ints  # (Q,) residual quadrature
    weights: Floats  # (Q,)
    base_q: Floats  # (R, Q, N) silent_base read at each residual
    base_mean: Floats  # (R, N) silent_base averaged over the residual

    @property
    def states(self) -> int:
        """Number of states, nothing included."""
        return len(self.cause)

    def of_single(self, state: Ints) -> Ints:
        """Index of the hypothesis in which only `state` is at work (state 0: nothing)."""
        return state

    def links(self, row: int) -> Floats:
        """D of one sign for every hypothesis, shape (H,)."""
        by_state = self.signs.silent_links[row]
        return np.asarray(by_state[self.first] * by_state[self.second])


def build(
    lattice: Lattice,
    cause: Ints,
    group: Ints,
    odds: Floats,
    x: Ints,
    signs: Signs,
    compensates: frozenset[tuple[int, int]],
    compensation: float,
) -> Network:
    """Enumerate nothing, every single state and every pair of states of different listed causes.

    Shapes as in `Network`; `compensates` holds ordered pairs of cause numbers (setting, fault it hides).
    Unlisted states (cause -1) stand alone.
    """
    states = len(cause)
    listed = np.flatnonzero(cause >= 0)
    i, j = np.triu_indices(len(listed), k=1)
    a, b = listed[i], listed[j]
    different = cause[a] != cause[b]
    a, b = a[different], b[different]
    first = np.concatenate([np.arange(states), a]).astype(np.intp)
    second = np.concatenate([np.zeros(states, dtype=np.intp), b]).astype(np.intp)
    pair_factor = np.ones(len(first))
    for setting, fault in sorted(compensates):
        hit = ((cause[first] == setting) & (cause[second] == fault)) | (
            (cause[first] == fault) & (cause[second] == setting)
        )
        pair_factor[hit] = compensation
    x_index = np.ascontiguousarray(lattice.clip(x[:, first] + x[:, second] + lattice.center))
    offsets, weights = lattice.quadrature()
    base_q = np.ascontiguousarray(np.stack([shifted(signs.silent_base, int(o)) for o in offsets], axis=1))
    return Network(
        lattice=lattice,
        cause=cause,
        group=group,
        odds=odds,
        x=x,
        signs=signs,
        first=first,
        second=second,
        pair_factor=pair_factor,
        x_index=x_index,
        singles=states,
        offsets=offsets,
        weights=weights,
        base_q=base_q,
        base_mean=np.tensordot(weights, base_q, axes=(0, 1)),
    )
