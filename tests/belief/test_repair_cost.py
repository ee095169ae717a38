"""The bound on the search for the repair that is needed, beside every order written out."""

from __future__ import annotations

from itertools import permutations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from carbdiag.belief.repair_cost import search_bound

REPAIRS = st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(1.0, 200.0)), min_size=1, max_size=5)


def in_order(order: tuple[tuple[float, float], ...]) -> float:
    """Each repair's chance, times the minutes of all up to it."""
    return sum(p * sum(m for _, m in order[: n + 1]) for n, (p, _) in enumerate(order))


def in_best_order(chances: np.ndarray, minutes: np.ndarray) -> float:
    return min(in_order(o) for o in permutations(zip(chances, minutes, strict=True)))


@given(REPAIRS)
def test_the_best_order_of_the_repairs_takes_no_more_minutes(repairs: list[tuple[float, float]]) -> None:
    chances, minutes = np.array(repairs).T
    bound = float(search_bound(chances[None], minutes)[0])
    assert in_best_order(chances, minutes) <= bound * (1 + 1e-9)


def test_where_one_repair_alone_is_possible_or_all_are_alike_the_search_takes_just_that_long() -> None:
    minutes = np.array([10.0, 10.0, 10.0])
    found = search_bound(np.array([[0.0, 1.0, 0.0], [1 / 3, 1 / 3, 1 / 3]]), minutes)
    assert np.allclose(found, [10.0, 20.0])


@given(REPAIRS, st.lists(st.floats(0.0, 1.0), min_size=5, max_size=5))
def test_an_answer_never_lengthens_the_search_it_is_expected_to_leave(
    repairs: list[tuple[float, float]], yes: list[float]
) -> None:
    chances, minutes = np.array(repairs).T
    given_yes = chances * np.array(yes[: len(chances)])
    after = search_bound(np.stack([given_yes, chances - given_yes]), minutes).sum()
    assert after <= search_bound(chances[None], minutes)[0] * (1 + 1e-9)


def test_an_answer_counts_that_turns_no_order_by_itself_but_does_together_with_another() -> None:
    minutes = np.array([10.0, 10.0])
    now = np.array([0.75, 0.25])
    no, yes = np.array([0.65, 0.35]), np.array([0.35, 0.65])  # P(answer | which repair is needed)
    one = [now * no, now * yes]
    two = [now * a * b for a in (no, yes) for b in (no, yes)]
    best = in_best_order(now, minutes)
    assert np.isclose(sum(in_best_order(x, minutes) for x in one), best)
    assert sum(in_best_order(x, minutes) for x in two) < best - 0.1
    assert search_bound(np.array(one), minutes).sum() < search_bound(now[None], minutes)[0] - 0.1


def test_what_is_unlikely_counts_with_all_that_is_done_before() -> None:
    minutes = np.array([10.0, 10.0, 500.0])
    first, last = (search_bound(np.array([p]), minutes)[0] for p in ([0.6, 0.4, 0.0], [0.6, 0.2, 0.2]))
    assert last > first + 0.2 * 500
