"""How loud the harmonics of one pitch are, moment by moment, whatever else sounds."""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from scipy import signal

from trainer.ear.analysis.frames import TOP_SHARE, Samples, Track
from trainer.ear.analysis.harmonic_fit import waves

WINDOW_S = 0.04
"""Keeps tones 50 Hz apart from each other: neighbours from A5 up, their harmonics below."""
HOP_S = 0.01
"""From one level to the next."""
HARMONICS = 6
"""Whose levels are followed."""
FAINTEST = 1e-6
"""Amplitude below which nothing is told apart."""


def harmonic_levels_db(
    samples: Samples,
    sample_rate_hz: int,
    hz: float,
    from_s: float,
    to_s: float,
    window_s: float = WINDOW_S,
) -> tuple[Track, Track]:
    """Times about every 10 ms between two times, shape (steps,), and there the level of each
    harmonic that the rate can hold, dB re full scale, shape (harmonics, steps)."""
    size = round(window_s * sample_rate_hz)
    hop = round(HOP_S * sample_rate_hz)
    first = max(0, round(from_s * sample_rate_hz) - size // 2)
    end = min(samples.size, round(to_s * sample_rate_hz) + size // 2 + 1)
    orders = np.arange(1, HARMONICS + 1)
    orders = orders[orders * hz < TOP_SHARE * sample_rate_hz]
    if end - first < size or orders.size == 0:
        return np.zeros(0), np.zeros((orders.size, 0))
    cut = np.lib.stride_tricks.sliding_window_view(samples[first:end], size)[::hop]
    parts = cut @ _waves(hz / sample_rate_hz, orders.size, size)
    strong = np.hypot(parts[:, : orders.size], parts[:, orders.size :]).astype(np.float64)
    times_s = (first + size // 2 + hop * np.arange(len(cut))) / sample_rate_hz
    return times_s, 20 * np.log10(np.maximum(strong.T, FAINTEST))


@lru_cache(maxsize=8)
def _waves(turns: float, harmonics: int, size: int) -> Samples:
    """Cosines and sines of so many harmonics of a wave with so many turns a sample, in a window of
    so many samples, shape (size, 2 * harmonics)."""
    turning = waves(np.arange(float(size)), np.array([2 * np.pi * turns]), harmonics)
    turning *= _shape(size)[:, None]
    return np.concatenate([turning.real, turning.imag], axis=1, dtype=np.float32)


@cache
def _shape(size: int) -> Track:
    """The window's shape, of which a wave of amplitude 1 has the sum 1, shape (size,)."""
    shape = signal.windows.hann(size, sym=False)
    return np.asarray(2 * shape / shape.sum())
