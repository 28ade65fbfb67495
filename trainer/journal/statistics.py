"""Middle values, their spread, and when two of them differ for real."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb
from statistics import median, quantiles

CHANCE = 0.01
"""How often chance alone may pass for a change; a week compares many figures, so 1 in 100 rather
than the customary 1 in 20 (common practice, no source)."""

COUNTABLE_WAYS = 10_000
"""Up to this many ways to deal the values into two weeks each is counted, which is right with
equal values too; beyond it the normal approximation is close."""


@dataclass(frozen=True)
class Spread:
    """A middle value and how far its fellows lie from it."""

    median: float
    low: float
    """First quartile."""
    high: float
    """Third quartile."""
    count: int


def spread(values: Sequence[float]) -> Spread | None:
    """Median and quartiles, interpolated between values; None of no values."""
    if not values:
        return None
    if len(values) == 1:
        return Spread(values[0], values[0], values[0], 1)
    low, _, high = quantiles(values, n=4, method="inclusive")
    return Spread(median(values), low, high, len(values))


def clearly_changed(before: Sequence[float], now: Sequence[float], chance: float = CHANCE) -> bool:
    """Whether two sets of values lie further apart than chance would commonly put them.

    Two-sided rank-sum test (Mann & Whitney 1947, Ann. Math. Stat. 18:50), which asks nothing of
    the shape of the values. Fewer than five in each can never tell.
    """
    from scipy.stats import (  # most of a second to load, and only a trend needs it
        PermutationMethod,
        mannwhitneyu,
    )

    ways = comb(len(before) + len(now), len(now))
    method = PermutationMethod(ways) if ways <= COUNTABLE_WAYS else "asymptotic"
    return bool(mannwhitneyu(before, now, method=method).pvalue < chance)
