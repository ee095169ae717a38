"""The unlisted fault of each kind, beside the mean written out cause by cause."""

from __future__ import annotations

import random

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from carbdiag.belief.kindred import likeness

#: Of each cause: its kind (-1 for none), and the odds of its severities.
CAUSES = st.lists(
    st.tuples(st.integers(-1, 3), st.lists(st.floats(0.01, 1), min_size=1, max_size=3)), min_size=1, max_size=12
)


@given(CAUSES, st.randoms(use_true_random=False))
def test_an_unlisted_fault_is_like_its_kin_and_as_one_more_like_all(
    drawn: list[tuple[int, list[float]]], luck: random.Random
) -> None:
    numbers = {kind: n for n, kind in enumerate(dict.fromkeys(kind for kind, _ in drawn if kind >= 0))}
    causes = [(numbers.get(kind, -1), odds) for kind, odds in drawn]
    states = [(-1, -1, 1.0), *((kind, c, o) for c, (kind, odds) in enumerate(causes) for o in odds)]
    kind, cause, odds = (np.array(column) for column in zip(*states, strict=True))
    values = np.array([luck.random() for _ in states])  # type: ignore[attr-defined]
    means = [
        sum(o * v for (_, c, o), v in zip(states, values, strict=True) if c == n) / sum(causes[n][1])
        for n in range(len(causes))
    ]
    like = likeness(kind, cause, odds)
    assert len(like) == len(numbers)
    for number in numbers.values():
        kin = [m for m, (k, _) in zip(means, causes, strict=True) if k == number]
        expected = (sum(kin) + sum(means) / len(means)) / (len(kin) + 1)
        assert np.isclose(like.of(values)[number], expected)
        assert np.isclose(like.of_causes(np.array(means))[number], expected)
