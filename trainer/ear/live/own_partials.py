"""Whether a note sounds while those before ring into it, and how many cents it is off, by the
partials it has for itself.

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

from trainer.ear.analysis.features import RUMBLE_HZ
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
STRONG_SHARE, KNOWN_SHARE = 0.3, 0.9
"""Of the strongest line a note's first partial has so much where it begins among others that ring,
and with theirs it explains so much of the power of all lines: with .2 to .5 and .9 to .98 no left
out or wrong note of the same lines begins (our own measurement)."""
GROWS, GROWS_WITHIN_S = 2.0, 0.06
"""So much louder its first partial has become within that time, as nothing does that rings on;
shorter than any note."""
EVERY_S = 0.0125
"""Looked for anew no sooner than so long after, in every third frame: the window moves slowly."""
FAINTEST = 1e-12
"""Added to amplitudes, whose logarithms are taken."""


class OwnPartials:
    """Follows a growing stream; holds its newest sound."""

    def __init__(self, sample_rate_hz: int, tuning: Tuning) -> None:
        self._rate, self._tuning = sample_rate_hz, tuning
        self._size = round(WINDOW_S * sample_rate_hz)
        self._held: Samples = np.zeros(3 * self._size, np.float32)
        self._fed = 0
        self._asked: tuple[float, ...] = ()
        self._looked_s = 0.0
        self._cents: float | None = None

    def feed(self, samples: Samples) -> None:
        """Samples that follow on those of the last call."""
        self._held = np.concatenate([self._held[-3 * self._size :], samples])
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

    def begun(self, until_s: float, midi: float, others: tuple[float, ...]) -> bool:
        """`has_begun` of the sound up to a moment."""
        end = self._held.size - self._fed + round(until_s * self._rate)
        earlier = end - round(GROWS_WITHIN_S * self._rate)
        window, before = (self._held[at - self._size : at] for at in (end, earlier))
        return has_begun(window, before, self._rate, self._tuning, midi, others)


def has_begun(
    window: Samples,
    before: Samples,
    sample_rate_hz: int,
    tuning: Tuning,
    midi: float,
    others: tuple[float, ...],
) -> bool:
    """Whether a note has begun to sound while the other pitches may ring on, and nothing else does.

    Its first partial is its own, strong, and has grown since the window before; hardly anything
    belongs to none of these pitches, where a wrong note has lines of its own. Both windows:
    WINDOW_S of sound, shape (samples,).
    """
    size = fft.next_fast_len(window.size, real=True)
    bin_hz = sample_rate_hz / size
    first_hz = tuning.midi_hz(midi)
    places = _places(tuning, midi, others, sample_rate_hz, size)
    if not places.bins.size or places.bins[0] * bin_hz > 1.5 * first_hz:
        return False
    amplitude = _spectrum(window, size)[: round(HIGHEST_HZ / bin_hz)]
    amplitude[: round(RUMBLE_HZ / bin_hz)] = FAINTEST
    least = SHARE * amplitude.max()
    first = places.about[0][amplitude[places.about[0]].argmax()]
    if amplitude[first] < STRONG_SHARE * amplitude.max():
        return False
    left, top, right = amplitude[:-2], amplitude[1:-1], amplitude[2:]
    lines = 1 + np.flatnonzero((left < top) & (top > right) & (top >= least))
    hz, power = _tops(amplitude, lines) * bin_hz, amplitude[lines] ** 2
    own = _is_partial(hz, first_hz)
    known = np.any([own, *(_is_partial(hz, tuning.midi_hz(other)) for other in others)], axis=0)
    if not own[lines == first].any() or power[known].sum() < KNOWN_SHARE * power.sum():
        return False
    return bool(amplitude[first] > GROWS * _spectrum(before, size)[first - 1 : first + 2].max())


def _is_partial(hz: Track, first_hz: float) -> NDArray[np.bool_]:
    """Which lines lie near the partials of a tone."""
    nearest_hz = first_hz * np.maximum(1, np.round(hz / first_hz))
    return np.asarray(np.abs(1200 * np.log2(hz / nearest_hz)) <= WITHIN_CENTS)


def own_cents(
    window: Samples, sample_rate_hz: int, tuning: Tuning, midi: float, others: tuple[float, ...]
) -> float | None:
    """How far a note stands from its pitch, by the middle of those partials that none of the other
    pitches' comes near, each weighed by its power; None where there are none. window: WINDOW_S of
    sound, shape (samples,)."""
    size = fft.next_fast_len(window.size, real=True)
    places = _places(tuning, midi, others, sample_rate_hz, size)
    if not places.bins.size:
        return None
    amplitude = _spectrum(window, size)
    lines = places.about[np.arange(places.bins.size), amplitude[places.about].argmax(axis=1)]
    left, top, right = amplitude[lines + np.array([[-1], [0], [1]])]
    peaks = (left < top) & (top > right) & (top >= SHARE * amplitude.max())
    bins = _tops(amplitude, lines[peaks])
    cents = 1200 * np.log2(bins / places.bins[peaks])
    near = np.abs(cents) <= WITHIN_CENTS
    if not near.any():
        return None
    in_order = cents[near].argsort()
    power = (top[peaks][near][in_order] ** 2).cumsum()
    return float(cents[near][in_order][power.searchsorted(power[-1] / 2)])


def _spectrum(window: Samples, size: int) -> NDArray[np.float32]:
    """Amplitudes above FAINTEST."""
    return np.asarray(np.abs(fft.rfft(window * _hann(window.size), size)) + FAINTEST, np.float32)


def _tops(amplitude: NDArray[np.float32], lines: NDArray[np.intp]) -> Track:
    """Where lines stand between the bins, by parabolas through the logarithms: within .02 of a
    line under this window."""
    left, top, right = np.log(amplitude[lines + np.array([[-1], [0], [1]])])
    return np.asarray(lines + 0.5 * (left - right) / (left - 2 * top + right), np.float64)


@dataclass(frozen=True)
class _Places:
    """Where a note's own partials lie in a spectrum."""

    bins: Track
    """Shape (partials,)."""
    about: NDArray[np.intp]
    """The lines about each, shape (partials, lines); the last is repeated where there are fewer."""


@lru_cache(64)
def _places(
    tuning: Tuning, midi: float, others: tuple[float, ...], sample_rate_hz: int, size: int
) -> _Places:
    """size: of the window that the spectrum is of, in samples."""
    bin_hz = sample_rate_hz / size
    aside = 2 ** (WITHIN_CENTS / 1200)
    partials_hz = tuning.midi_hz(midi) * np.arange(1, PARTIALS + 1)
    own = partials_hz < min(HIGHEST_HZ, (sample_rate_hz / 2 - 2 * bin_hz) / aside)
    own[1::2] = False
    for other in others:
        own &= apart_from(tuning, midi, other, PARTIALS)
    bins = np.asarray(partials_hz[own] / bin_hz, np.float64)
    first, last = np.floor(bins / aside).astype(int), np.ceil(bins * aside).astype(int)
    lines = np.arange((last - first).max(initial=0) + 1)
    return _Places(bins, np.minimum(first[:, None] + lines, last[:, None]))


@lru_cache(4)
def _hann(size: int) -> Samples:
    return np.hanning(size).astype(np.float32)
