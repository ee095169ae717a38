"""Chance that comes out the same on every machine and every version of Python."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


class Dice:
    """Draws from a text seed, through `random.Random.random` alone: only its sequence is promised to stay."""

    def __init__(self, seed: str) -> None:
        self._random = random.Random(seed).random

    def below(self, n: int) -> int:
        """A whole number from 0 to n - 1."""
        return min(int(self._random() * n), n - 1)

    def token(self) -> str:
        """A text that no other draw gives: the seed of other dice."""
        return f"{self.below(10**15):015d}"

    def pick(self, items: Sequence[T]) -> T:
        """One of the items."""
        return items[self.below(len(items))]

    def weighted(self, items: Sequence[T], weights: Sequence[float]) -> T:
        """One of the items, each with its weight; the weights must not all be 0."""
        at = self._random() * sum(weights)
        for item, weight in zip(items, weights, strict=True):
            at -= weight
            if at < 0:
                return item
        return next(i for i, w in zip(reversed(items), reversed(weights), strict=True) if w > 0)

    def shuffled(self, items: Sequence[T]) -> list[T]:
        """The items in random order."""
        out = list(items)
        for last in range(len(out) - 1, 0, -1):
            other = self.below(last + 1)
            out[last], out[other] = out[other], out[last]
        return out
