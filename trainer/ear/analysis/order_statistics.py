"""Medians and the like of short tracks, by sorting, and their slopes.

The same numbers as numpy's `median`, `percentile` (linear interpolation between neighbours) and
`polyfit`, which spend ten times as long on their arguments as on a track of fifty values; an ear
that works while the round sounds asks for thousands of them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trainer.ear.analysis.frames import Track


def quantile(track: Track, share: float) -> float:
    """The value below which this share of a track lies, 0 to 1; the track may not be empty."""
    place = share * (track.size - 1)
    lower = int(place)
    upper = min(lower + 1, track.size - 1)
    ordered = np.sort(track)
    return float(ordered[lower] + (place - lower) * (ordered[upper] - ordered[lower]))


def median(track: Track) -> float:
    """The median of a track, which may not be empty."""
    return quantile(track, 0.5)


def medians(tracks: NDArray[np.floating]) -> NDArray[np.floating]:
    """The median of each of several tracks of one length, of shape (tracks, values)."""
    ordered = np.sort(tracks, axis=1)
    count = ordered.shape[1]
    return np.asarray((ordered[:, (count - 1) // 2] + ordered[:, count // 2]) / 2)


def slope(track: Track, step: float) -> float:
    """Of the straight line through a track of two values at least, by least squares, for each unit
    of its steps."""
    place = np.arange(track.size) - (track.size - 1) / 2
    return float(place @ track) / (step * float(place @ place))
