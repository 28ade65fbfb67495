"""The player's own line: where each onset belongs, judged only by the player's other onsets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from trainer.figures.robust import robust_line, robust_spread

Floats = NDArray[np.float64]

LINE_NOTES = 4
"""Fewer onsets than this give no line."""
BEND_NOTES = 12
"""From so many onsets on, the line may bend: a tempo that changes is not unevenness."""
LOOSE_S = 0.012
"""Onsets further off than about this, or the spread if that is wider, hardly pull on the line."""
_REDRAWN = 4
"""How often the line is drawn again; enough for the steps to settle."""


@dataclass(frozen=True)
class OwnLine:
    """A player's line through one round."""

    off_s: Floats
    """Each onset against the line, seconds, late positive; shape (onsets,)."""
    beat_s: float
    """Length of a beat in the middle of the round."""
    tempo_change: float | None
    """Tempo at the last onset against the first as a share, 0.03 is 3 % faster; None where the
    line is straight."""
    seconds: float
    """From the first onset to the last."""

    @property
    def spread_s(self) -> float:
        """Spread of the ordinary onsets: the median absolute deviation, scaled to a normal SD."""
        return robust_spread(self.off_s)

    def centred_on(self, places: Sequence[int]) -> OwnLine:
        """The same line, laid through the middle of these onsets."""
        return replace(self, off_s=self.off_s - float(np.median(self.off_s[list(places)])))

    def seen_at(self, places: Sequence[int]) -> OwnLine:
        """The same line as these onsets stand about it: of the others only the tempo is left."""
        return replace(self, off_s=self.off_s[list(places)])

    @property
    def tempo_error(self) -> float:
        """Standard error of the tempo, as a share: of a least-squares slope through even onsets,
        spread · sqrt(12 / n) / seconds."""
        return self.spread_s * math.sqrt(12 / len(self.off_s)) / self.seconds

    @property
    def tempo_change_error(self) -> float:
        """Standard error of the change, likewise: the error of a parabola's coefficient over
        -1 to 1, spread · sqrt(45 / 4n), times 8 / seconds."""
        return 8 * self.spread_s * math.sqrt(45 / 4 / len(self.off_s)) / self.seconds


def own_line(
    beats: Sequence[float], onsets_s: Sequence[float], breath_beats: Sequence[float] = ()
) -> OwnLine | None:
    """The line through onsets at these beats, in order; None for fewer than LINE_NOTES.

    `breath_beats`: where play goes on after a planned breath. A breath may cost time, so what
    each stretch between breaths lies off its own middle is taken out and the line drawn again.
    """
    if len(beats) < LINE_NOTES:
        return None
    x, y = np.asarray(beats, dtype=float), np.asarray(onsets_s, dtype=float)
    if not breath_beats:
        return _drawn(x, y)
    stretches = np.searchsorted(np.asarray(breath_beats, dtype=float), x, side="right")
    y = y - _pauses(x, y, stretches)
    line = _drawn(x, y)
    for _ in range(_REDRAWN):
        y = y - _middles(line.off_s, stretches)
        line = _drawn(x, y)
    return line


def _drawn(x: Floats, y: Floats) -> OwnLine:
    """A straight line after Theil and Sen, then one bend fitted with a
    Cauchy loss (scipy.optimize.least_squares), so that single late notes don't draw it to them.
    """
    slope, intercept = robust_line(x, y)
    straight = y - (intercept + slope * x)
    seconds = float(y[-1] - y[0])
    if len(x) < BEND_NOTES:
        return OwnLine(straight, slope, None, seconds)
    middle, half = float(x[0] + x[-1]) / 2, float(x[-1] - x[0]) / 2
    place = (x - middle) / half
    terms = np.stack([np.ones_like(place), place, place**2], axis=1)
    loose_s = max(LOOSE_S, robust_spread(straight))
    fit = least_squares(
        lambda c: straight - terms @ c,
        np.zeros(3),
        jac=lambda _: -terms,
        loss="cauchy",
        f_scale=loose_s,
    ).x
    beat_s = float(slope + fit[1] / half)
    bend_s = 2 * float(fit[2]) / half
    change = float((beat_s - bend_s) / (beat_s + bend_s) - 1)
    return OwnLine(straight - terms @ fit, beat_s, change, seconds)


def _pauses(x: Floats, y: Floats, stretches: NDArray[np.int64]) -> Floats:
    """For each onset, the time the breaths before it have cost, at one tempo throughout. Who comes
    in earlier by more than half a note hasn't hurried, but left notes out: that counts, too."""
    slopes = [
        robust_line(x[inside], y[inside])[0]
        for stretch in np.unique(stretches)
        if (inside := stretches == stretch).sum() >= LINE_NOTES
    ]
    if not slopes:
        return np.zeros_like(y)
    slope = float(np.median(slopes))
    off, note_s = y - slope * x, slope * float(np.diff(x).min())
    cost, result = 0.0, np.zeros_like(y)
    for before, stretch in pairwise(np.unique(stretches)):
        step_s = float(
            np.median(off[stretches == stretch][:_BESIDE])
            - np.median(off[stretches == before][-_BESIDE:])
        )
        cost += step_s if step_s > 0 or step_s <= -note_s / 2 else 0.0
        result[stretches == stretch] = cost
    return result


_BESIDE = 4
"""So many onsets on either side of a breath say what it cost."""


def _middles(off_s: Floats, stretches: NDArray[np.int64]) -> Floats:
    """For each onset, the median of its stretch; 0 where that has too few notes."""
    middles = np.zeros_like(off_s)
    for stretch in np.unique(stretches):
        inside = stretches == stretch
        if inside.sum() >= LINE_NOTES:
            middles[inside] = np.median(off_s[inside])
    return middles
