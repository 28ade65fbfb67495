"""Middle, spread and straight line that a few odd values don't move.

`scipy.stats` has both, but its checks of every call take ten times as long as what is counted; the
tests hold ours to it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NORMAL_MAD = 0.6744897501960817
"""The median absolute deviation of a normal distribution of standard deviation 1: its upper
quartile."""


def robust_spread(values: Sequence[float] | Floats) -> float:
    """The median absolute deviation from the median, scaled to a normal standard deviation.

    values: shape (values,).
    """
    values = np.asarray(values, dtype=float)
    return float(np.median(np.abs(values - np.median(values)))) / NORMAL_MAD


def robust_line(x: Floats, y: Floats) -> tuple[float, float]:
    """Slope and intercept after Theil and Sen: the median slope between any two points at
    different places, and the median of what each point stands above that slope. (The median height
    less the slope times the median place would lay a line through the middle one of points in a
    row, wherever that stands.)

    x, y: shape (points,), two different places at least (Sen 1968, J Am Stat Assoc 63:1379).
    """
    first, second = np.triu_indices(len(x), 1)
    apart = x[second] - x[first]
    there = apart != 0
    slope = float(np.median((y[second] - y[first])[there] / apart[there]))
    return slope, float(np.median(y - slope * x))
