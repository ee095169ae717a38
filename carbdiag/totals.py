"""The belief of all kinds of machine that it may be, added up."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from carbdiag.casework.believed import Assessment, by_cause, by_group, likeliest
from carbdiag.casework.levels import mixture_levels
from carbdiag.terms import Direction

_Name = TypeVar("_Name", bound=Hashable)


@dataclass(frozen=True, eq=False)
class Totals:
    """Beliefs of all machine kinds added up."""

    causes: dict[str, float]
    groups: dict[str, float]
    nothing: float
    unlisted: float
    unlisted_where: dict[tuple[str | None, str | None, Direction | None], float]  # (group, circuit, direction)
    levels: np.ndarray  # (bands, 5)
    main_by_state: np.ndarray  # (S,) of the likeliest kind of machine


def add_up(a: Assessment) -> Totals:
    """The beliefs of every kind of machine, each by its weight."""
    causes: dict[str, float] = {}
    groups: dict[str, float] = {}
    where: dict[tuple[str | None, str | None, Direction | None], float] = {}
    nothing = unlisted = 0.0
    levels = np.zeros(0)
    main = likeliest(a)
    main_by_state = np.zeros(0)
    for b in a.beliefs:
        network = b.network
        by_state = b.posterior.by_state(network)
        if b is main:
            main_by_state = by_state
        alone = b.weight * (1 if b.several is None else 1 - b.several.share)
        _add(causes, b.model.cause_ids, by_cause(b, by_state) * b.weight)
        _add(groups, b.model.group_ids, by_group(b, by_state) * b.weight)
        nothing += alone * float(by_state[0])
        unlisted += alone * b.background
        others = b.model.unlisted
        by_part = alone * np.bincount(others.where, by_state.take(others.states), len(others.parts))
        unlisted += float(by_part.sum())
        _add(where, others.parts, by_part)
        mine = b.weight * mixture_levels(b)
        levels = levels + mine if levels.size else mine
    return Totals(causes, groups, nothing, unlisted, where, levels, main_by_state)


def _add(totals: dict[_Name, float], names: tuple[_Name, ...], more: np.ndarray) -> None:
    """Add numbers to named totals in place; the first to come are the totals."""
    pairs = zip(names, more.tolist(), strict=True)
    if not totals:
        totals.update(pairs)
        return
    for name, value in pairs:
        totals[name] = totals.get(name, 0.0) + value


def leading_of(totals: dict[str, float], least: float) -> list[tuple[str, float]]:
    """Names and probabilities from `least` up, largest first, ties by name (the last digits are rounding)."""
    return sorted([(n, p) for n, p in totals.items() if p >= least], key=lambda i: (-round(i[1], 12), i[0]))


def rounded(p: float) -> float:
    """A chance as answers give it: from 0 to 1, with four digits."""
    return round(min(max(p, 0.0), 1.0), 4)
