"""How many cents a note is off while the notes before ring into it, by the partials it has for
itself.

What rings with a note pulls the period that `frames.py` finds; it doesn't pull those of the note's
partials that none of its own comes near. Only odd ones are looked at: the even ones are also those
of the octave above, so that a note overblown would be taken for the one asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from trainer.ear.analysis.frames import Samples, Track
from trainer.ear.segments.own_harmonics import apart_from
from trainer.music.tuning import Tuning

WINDOW_S = 0.043
"""Two frames long, so that half the main lobe is as wide as what `apart_from` keeps free."""
PARTIALS = 10
HIGHEST_HZ = 6000.0
"""Above it a flute's partials are soft."""
WITHIN_CENTS = 50.0
"""A partial further from its place is another note's."""
SHARE = 0.1
"""What has less than this of the amplitude of the strongest line isn't counted: with a half and
twice of it the same recorded notes have cents (our own measurement)."""
EVERY_S = 0.0125
"""Looked for anew no sooner than so long after, in every third frame: the window moves slowly."""
FAINTEST = 1e-12
"""Added to an amplitude, whose logarithm is taken."""


class OwnPartials:
    """Follows a growing stream; holds its newest sound."""

    def __init__(self, sample_rate_hz: int, tuning: Tuning) -> None:
        self._rate, self._tuning = sample_rate_hz, tuning
        self._size = round(WINDOW_S * sample_rate_hz)
        self._held: Samples = np.zeros(2 * self._size, np.float32)
        self._fed = 0
        self._asked: tuple[float, ...] = ()
        self._looked_s = 0.0
        self._cents: float | None = None

    def feed(self, samples: Samples) -> None:
        """Samples that follow on those of the last call."""
        self._held = np.concatenate([self._held[-2 * self._size :], samples])
        self._fed += samples.size

    def cents(self, until_s: float, midi: float, others: tuple[float, ...]) -> float | None:
        """`own_cents` of the sound up to a moment, or as it was just before."""
        asked = midi, *others
        if asked != self._asked or until_s - self._looked_s >= EVERY_S:
            end = self._held.size - self._fed + round(until_s * self._rate)
            window = self._held[end - self._size : end]
            self._cents = own_cents(window, self._rate, self._tuning, midi, others)
            self._asked, self._looked_s = asked, until_s
        return self._cents


def own_cents(
    window: Samples, sample_rate_hz: int, tuning: Tuning, midi: float, others: tuple[float, ...]
) -> float | None:
    """How far a note stands from its pitch, by the middle of those partials that none of the other
    pitches' comes near, each weighed by its power; None where there are none. window: WINDOW_S of
    sound, shape (samples,)."""
    size = fft.next_fast_len(window.size, real=True)
    places = _places(tuning, midi, others, sample_rate_hz / size)
    if not places.bins.size:
        return None
    amplitude = np.abs(fft.rfft(window * _hann(window.size), size))
    lines = places.about[np.arange(places.bins.size), amplitude[places.about].argmax(axis=1)]
    left, top, right = amplitude[lines + np.array([[-1], [0], [1]])] + FAINTEST
    peaks = (left < top) & (top > right) & (top >= SHARE * amplitude.max())
    left, top, right = np.log((left[peaks], top[peaks], right[peaks]))
    # the top of a parabola through the logarithms: within .02 of a line under this window
    bins = lines[peaks] + 0.5 * (left - right) / (left - 2 * top + right)
    cents = 1200 * np.log2(bins / places.bins[peaks])
    near = np.abs(cents) <= WITHIN_CENTS
    if not near.any():
        return None
    in_order = cents[near].argsort()
    power = np.exp(2 * top[near][in_order]).cumsum()
    return float(cents[near][in_order][power.searchsorted(power[-1] / 2)])


@dataclass(frozen=True)
class _Places:
    """Where a note's own partials lie in a spectrum."""

    bins: Track
    """Shape (partials,)."""
    about: NDArray[np.intp]
    """The lines about each, shape (partials, lines); the last is repeated where there are fewer."""


@lru_cache(64)
def _places(tuning: Tuning, midi: float, others: tuple[float, ...], bin_hz: float) -> _Places:
    partials_hz = tuning.midi_hz(midi) * np.arange(1, PARTIALS + 1)
    own = partials_hz < HIGHEST_HZ
    own[1::2] = False
    for other in others:
        own &= apart_from(tuning, midi, other, PARTIALS)
    bins = np.asarray(partials_hz[own] / bin_hz, np.float64)
    aside = 2 ** (WITHIN_CENTS / 1200)
    first, last = np.floor(bins / aside).astype(int), np.ceil(bins * aside).astype(int)
    lines = np.arange((last - first).max(initial=0) + 1)
    return _Places(bins, np.minimum(first[:, None] + lines, last[:, None]))


@lru_cache(4)
def _hann(size: int) -> Samples:
    return np.hanning(size).astype(np.float32)
