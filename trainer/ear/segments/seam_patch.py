"""What stands about a seam, as a picture for the network that says how a note started.

Levels in 4 ms steps, 0.2 s to either side: at the harmonics of the note before and of the note
after, in bands a fifth of an octave wide, and over wide bands in windows short enough for a
consonant. All against the loudest harmonic, so that a microphone's gain doesn't matter.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from trainer.ear.analysis.frames import Samples, samples_between

Patch = NDArray[np.float32]

STEP_S = 0.004
"""From one column of the picture to the next."""
STEPS = 96
LONG_S, SHORT_S = 0.0232, 0.0058
"""Windows: three periods of the flute's lowest notes; the length of a consonant."""
HARMONICS = 5
"""Of the note before, and of the note after."""
BAND_EDGES_HZ = np.geomspace(150, 16000, 25)
WIDE_EDGES_HZ = np.array([0.0, 500, 1500, 3000, 5000, 8000, 12000, 22050])
ROWS = 2 * HARMONICS + (BAND_EDGES_HZ.size - 1) + (WIDE_EDGES_HZ.size - 1)
RANGE_DB = 80.0
"""What lies so far under the loudest harmonic counts as silence."""


def seam_patch(
    samples: Samples,
    sample_rate_hz: int,
    at_s: float,
    before_hz: float,
    after_hz: float,
    steps: int = STEPS,
) -> Patch:
    """Levels about a time, 0 for the loudest harmonic, -1 for 80 dB less; shape (ROWS, steps).

    For a start out of silence `before_hz` is the note's own.
    """
    places = round(at_s * sample_rate_hz) + np.round(
        (np.arange(steps) - steps / 2) * STEP_S * sample_rate_hz
    ).astype(int)
    long = _powers(samples, places, round(LONG_S * sample_rate_hz))
    short = _powers(samples, places, round(SHORT_S * sample_rate_hz))
    width_hz = sample_rate_hz / fft_size(round(LONG_S * sample_rate_hz))
    rows = np.concatenate(
        [
            _harmonics(long, before_hz / width_hz),
            _harmonics(long, after_hz / width_hz),
            (long @ bands(sample_rate_hz, round(LONG_S * sample_rate_hz), "log")).T,
            (short @ bands(sample_rate_hz, round(SHORT_S * sample_rate_hz), "wide")).T,
        ]
    )
    levels_db = 10 * np.log10(rows + 1e-12)
    levels_db -= levels_db[: 2 * HARMONICS].max()
    return np.asarray(np.clip(levels_db / RANGE_DB, -1.0, 0.5), np.float32)


def _powers(samples: Samples, places: NDArray[np.int64], window: int) -> NDArray[np.float32]:
    """Powers of the spectrum about each place, shape (places, bins)."""
    spectrum = spectra(samples, places, window)
    return np.asarray(spectrum.real**2 + spectrum.imag**2, np.float32)


def spectra(samples: Samples, places: NDArray[np.int64], window: int) -> NDArray[np.complex64]:
    """The spectrum about each place, in their order, shape (places, bins); the phase is that of
    the window's first sample."""
    first, end = int(places[0]) - window // 2, int(places[-1]) - window // 2 + window
    about = samples_between(samples, first, end)
    cut = np.lib.stride_tricks.sliding_window_view(about, window)[places - places[0]]
    return np.asarray(fft.rfft(cut * _shape(window), fft_size(window), axis=1), np.complex64)


def _harmonics(powers: NDArray[np.float32], first_bin: float) -> NDArray[np.float32]:
    rows = np.zeros((HARMONICS, len(powers)), np.float32)
    for number in range(HARMONICS):
        place = int(first_bin * (number + 1))
        if place + 3 <= powers.shape[1]:
            rows[number] = powers[:, max(0, place - 1) : place + 3].sum(axis=1)
    return rows


@lru_cache(maxsize=8)
def fft_size(window: int) -> int:
    """Of the transform of a window."""
    return int(fft.next_fast_len(window, real=True))


@lru_cache(maxsize=8)
def _shape(window: int) -> NDArray[np.float32]:
    """A Hann window of unit energy."""
    shape = np.hanning(window + 2)[1:-1]
    return np.asarray(shape / np.sqrt((shape**2).sum()), np.float32)


@lru_cache(maxsize=8)
def bands(sample_rate_hz: int, window: int, kind: str) -> NDArray[np.float32]:
    """Which bins lie in which band, shape (bins, bands); the nearest bin for a band with none."""
    size = fft_size(window)
    hz = np.arange(size // 2 + 1) * sample_rate_hz / size
    edges = BAND_EDGES_HZ if kind == "log" else WIDE_EDGES_HZ
    inside = (hz[:, None] >= edges[:-1]) & (hz[:, None] < edges[1:])
    for band in np.flatnonzero(~inside.any(axis=0)):
        inside[int(np.abs(hz - edges[band]).argmin()), band] = hz[-1] >= edges[band]
    return inside.astype(np.float32)
