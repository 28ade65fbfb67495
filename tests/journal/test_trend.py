"""The trend's test and slope, against counting every order by hand."""

from __future__ import annotations

from itertools import combinations, permutations
from statistics import median

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.journal.statistics import CHANCE
from trainer.journal.trend import FEWEST_PERIODS, trend


def chance_again(values: list[float]) -> float:
    """Share of all orders at least as steady as this one (Mann 1945), two-sided."""

    def steadiness(order: tuple[float, ...]) -> int:
        return abs(sum((b > a) - (b < a) for a, b in combinations(order, 2)))

    seen = steadiness(tuple(values))
    orders = list(permutations(values))
    return sum(steadiness(order) >= seen for order in orders) / len(orders)


def slope_again(values: list[float]) -> float:
    """Median slope between any two periods (Sen 1968)."""
    return median((b - a) / (j - i) for (i, a), (j, b) in combinations(enumerate(values), 2))


@settings(max_examples=25)
@given(st.lists(st.integers(-40, 40), min_size=6, max_size=7, unique=True))
def test_it_is_counted_right(values: list[int]) -> None:
    found = trend(values)
    assert found
    assert found.periods == len(values)
    assert found.a_period == pytest.approx(slope_again(list(map(float, values))))
    assert found.clear == (chance_again(list(map(float, values))) < CHANCE)


def test_a_steady_fall_is_clear_and_one_odd_month_does_not_hide_it() -> None:
    found = trend([30, 28, 25, 24, 21, 20, 35, 16, 15, 12])
    assert found
    assert found.clear
    assert found.a_period == pytest.approx(-2, abs=0.4)


def test_too_little_is_no_trend() -> None:
    assert trend([]) is None
    assert trend([1, 2, 3, 4, 5]) is None
    assert trend([1, None, 2, 3, None, 4, 5, None]) is None
    assert FEWEST_PERIODS == 6


def test_gaps_keep_their_place() -> None:
    found = trend([1, 2, None, None, 5, 6, 7, 8])
    assert found
    assert found.a_period == pytest.approx(1)
    assert found.periods == 6


def test_equal_values_are_no_trend() -> None:
    found = trend([4.0] * 9)
    assert found
    assert (found.a_period, found.clear) == (0, False)
