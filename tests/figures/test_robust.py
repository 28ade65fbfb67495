"""Spread and line against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation, theilslopes

from trainer.figures.robust import robust_line, robust_spread

HEIGHTS = st.lists(st.floats(-1e3, 1e3), min_size=6, max_size=30)


@given(HEIGHTS)
def test_the_spread_is_scipys(values: list[float]) -> None:
    assert robust_spread(values) == pytest.approx(median_abs_deviation(values, scale="normal"))


@given(HEIGHTS, st.integers(1, 3))
def test_the_line_is_scipys_also_where_two_points_share_a_place(
    values: list[float], times: int
) -> None:
    x, y = np.arange(len(values)) // times / 4, np.asarray(values)
    with np.errstate(invalid="ignore"):  # in scipy's interval of confidence, where all are alike
        expected = theilslopes(y, x, method="joint")
    assert robust_line(x, y) == pytest.approx((expected.slope, expected.intercept))
