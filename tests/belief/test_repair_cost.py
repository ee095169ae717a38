"""The search for the repair that is needed, beside every order written out."""

from __future__ import annotations

from itertools import permutations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from carbdiag.belief.repair_cost import search_minutes

REPAIRS = st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(1.0, 200.0)), min_size=1, max_size=5)


def in_order(order: tuple[tuple[float, float], ...]) -> float:
    """Each repair's chance, times the minutes of all up to it."""
    return sum(p * sum(m for _, m in order[: n + 1]) for n, (p, _) in enumerate(order))


@given(REPAIRS)
def test_no_order_of_the_repairs_takes_fewer_minutes(repairs: list[tuple[float, float]]) -> None:
    chances, minutes = np.array(repairs).T
    found = float(search_minutes(chances[None], minutes)[0])
    assert np.isclose(found, min(in_order(o) for o in permutations(repairs)), rtol=1e-9)


@given(REPAIRS, st.lists(st.floats(0.0, 1.0), min_size=5, max_size=5))
def test_an_answer_never_lengthens_the_search_it_is_expected_to_leave(
    repairs: list[tuple[float, float]], yes: list[float]
) -> None:
    chances, minutes = np.array(repairs).T
    given_yes = chances * np.array(yes[: len(chances)])
    after = search_minutes(np.stack([given_yes, chances - given_yes]), minutes).sum()
    assert after <= search_minutes(chances[None], minutes)[0] + 1e-9 * (1 + minutes.sum())


def test_what_is_unlikely_and_done_last_counts_with_all_that_is_done_before() -> None:
    even = search_minutes(np.array([[0.5, 0.3, 0.2]]), np.array([10.0, 10.0, 500.0]))
    assert np.isclose(even[0], 0.5 * 10 + 0.3 * 20 + 0.2 * 520)
