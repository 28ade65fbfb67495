"""A steady rise or fall over weeks or months, told only with enough of them.

Each period gives one middle value. Whether they rise or fall steadily is asked of their order
alone (Mann 1945, Econometrica 13:245; Kendall's tau), by how much with the median of all slopes
between two of them (Sen 1968, J. Am. Stat. Assoc. 63:1379). Neither asks anything of the shape of
the values, and one odd month moves neither much. Weeks that hang together make the test a little
too ready to speak; so periods with too few values are left out and chance gets 1 in 100.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.journal.statistics import CHANCE

FEWEST_PERIODS = 6
"""With five, even values in perfect order come by chance more often than 1 time in 100."""


@dataclass(frozen=True)
class Trend:
    """How a figure moved over the periods."""

    periods: int
    """Those with enough to say."""
    a_period: float
    """Median change from one period to the next."""
    clear: bool
    """More than chance would commonly do."""


def trend(values: Sequence[float | None]) -> Trend | None:
    """The trend of one value a period, None where a period has too little to say.

    None of fewer than six periods with a value.
    """
    known = [(place, value) for place, value in enumerate(values) if value is not None]
    if len(known) < FEWEST_PERIODS:
        return None
    from scipy.stats import kendalltau, theilslopes  # slow to load, and only a trend needs it

    places, heights = zip(*known, strict=True)
    if len(set(heights)) == 1:
        return Trend(len(known), 0.0, clear=False)
    slope = float(theilslopes(heights, places).slope)
    return Trend(len(known), slope, bool(kendalltau(places, heights).pvalue < CHANCE))
