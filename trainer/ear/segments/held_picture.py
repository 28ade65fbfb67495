"""What goes on while one pitch sounds, as a picture for the network that says where its note
starts again.

Levels on a grid of 4 ms: at the pitch's harmonics, what at them does not follow from the moments
before, in bands a fifth of an octave wide, and over wide bands in windows short enough for a
consonant. All against the loudest harmonic near by, so that neither a microphone's gain nor a swell
matters.

A stroke breaks the tone's wave off and begins it anew; a beat of the room only turns it. What is
not foretold by the last two moments' levels and phases shows that (Bello, Duxbury, Davies & Sandler
2004, 'On the use of phase and energy for musical onset detection in the complex domain', IEEE
Signal Processing Letters 11:553).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from trainer.ear.analysis.features import HeldSpectra
from trainer.ear.analysis.frames import Samples
from trainer.ear.segments.seam_patch import (
    BAND_EDGES_HZ,
    HARMONICS,
    LONG_S,
    RANGE_DB,
    SHORT_S,
    STEP_S,
    WIDE_EDGES_HZ,
    bands,
    fft_size,
    spectra,
)

Picture = NDArray[np.float32]

ROWS = 2 * HARMONICS + (BAND_EDGES_HZ.size - 1) + (WIDE_EDGES_HZ.size - 1)
NEAR_STEPS = 97
"""The loudest harmonic is looked for in so many steps about each."""
BINS = (-1, 0, 1, 2)
"""Of a harmonic, from the one it lies in."""


def held_picture(
    samples: Samples, sample_rate_hz: int, first: int, end: int, pitch_hz: float
) -> Picture:
    """Levels from one step of the take's grid to another, as `against_loudest`."""
    return against_loudest(held_levels_db(samples, sample_rate_hz, first, end, pitch_hz))


def against_loudest(levels_db: Picture) -> Picture:
    """Levels of shape (ROWS, steps), 0 for the loudest harmonic near by, -1 for 80 dB less."""
    loudest_db = ndimage.maximum_filter1d(levels_db[:HARMONICS].max(axis=0), NEAR_STEPS)
    return np.asarray(np.clip((levels_db - loudest_db) / RANGE_DB, -1.0, 0.5), np.float32)


def held_levels_db(
    samples: Samples, sample_rate_hz: int, first: int, end: int, pitch_hz: float
) -> Picture:
    """The levels themselves; each step's are the same whichever others are asked for with it."""
    spectra_there = held_spectra(samples, sample_rate_hz, first, end)
    return pitch_levels_db(spectra_there, sample_rate_hz, first, end, pitch_hz)


def held_spectra(samples: Samples, sample_rate_hz: int, first: int, end: int) -> HeldSpectra:
    """What the levels from one step to another are made of, whichever pitch is asked for."""
    places = _places(sample_rate_hz, first, end)
    window, short_window = round(LONG_S * sample_rate_hz), round(SHORT_S * sample_rate_hz)
    long = spectra(samples, places, window)
    powers = long.real**2 + long.imag**2
    short = spectra(samples, places, short_window)
    log_rows = (powers @ bands(sample_rate_hz, window, "log")).T
    wide_rows = (np.abs(short) ** 2 @ bands(sample_rate_hz, short_window, "wide")).T
    return long, np.concatenate([log_rows, wide_rows])


def pitch_levels_db(
    of: HeldSpectra, sample_rate_hz: int, first: int, end: int, pitch_hz: float
) -> Picture:
    """The levels of `held_spectra` and those of a pitch."""
    long, in_bands = of
    size = fft_size(round(LONG_S * sample_rate_hz))
    places = _places(sample_rate_hz, first, end)
    rows = np.concatenate([*_harmonics(long, places, pitch_hz, sample_rate_hz, size), in_bands])
    return np.asarray(10 * np.log10(rows[:, 2:] + 1e-12), np.float32)


def _places(sample_rate_hz: int, first: int, end: int) -> NDArray[np.int64]:
    """Of the steps and the two before, in samples."""
    return np.round(np.arange(first - 2, end) * STEP_S * sample_rate_hz).astype(int)


def _harmonics(
    long: NDArray[np.complex64],
    places: NDArray[np.int64],
    pitch_hz: float,
    sample_rate_hz: int,
    size: int,
) -> tuple[Picture, Picture]:
    """Powers at the harmonics, and of what does not follow from the two steps before; each of
    shape (HARMONICS, steps)."""
    tones = np.zeros((HARMONICS, len(long)), np.float32)
    news = np.zeros((HARMONICS, len(long)), np.float32)
    for number in range(HARMONICS):
        hz = pitch_hz * (number + 1)
        bins = int(hz / sample_rate_hz * size) + np.array(BINS)
        if bins[-1] >= long.shape[1]:
            break
        turned = np.exp(-2j * np.pi * hz / sample_rate_hz * places)
        tone = long[:, np.maximum(bins, 0)] * turned[:, None].astype(np.complex64)
        goes_on = tone[1:-1] ** 2 * np.conj(tone[:-2])
        goes_on *= np.abs(tone[1:-1]) / (np.abs(goes_on) + np.float32(1e-20))
        tones[number] = (np.abs(tone) ** 2).sum(axis=1)
        news[number, 2:] = (np.abs(tone[2:] - goes_on) ** 2).sum(axis=1)
    return tones, news
