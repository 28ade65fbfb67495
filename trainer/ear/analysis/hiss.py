"""How much a tone hisses: the noise of the air between its harmonics."""

from __future__ import annotations

import math

import numpy as np
from scipy import fft

from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.harmonic_fit import middle

BAND_HZ = (1000.0, 6000.0)
"""Where it is measured: above most of the power of a flute's harmonics, below what a laptop's
microphone leaves out."""
SHORTEST_S = 0.05
"""In less the harmonics of a low note leave nothing between them."""
FAINTEST = 1e-14
"""Power of digital silence."""


def hiss_db(samples: Samples, sample_rate_hz: int) -> float | None:
    """Level of the noise of 1 to 6 kHz in the middle of a note's samples, dB re full scale; None
    where they are too few.

    By the median of the spectrum's powers: the harmonics, and whatever else rings on with a pitch,
    are narrow and few, and a room changes the mean of so many frequencies hardly at all. Of noise
    the median of a power is ln 2 of its mean (it is exponentially distributed).
    """
    first, end = middle(0, samples.size, sample_rate_hz)
    if end - first < SHORTEST_S * sample_rate_hz:
        return None
    size = fft.next_fast_len(end - first, real=True)  # of a prime one it takes five times as long
    window = np.hanning(end - first)
    spectrum = np.abs(fft.rfft(samples[first:end] * window, size)) ** 2
    low, high = (round(hz * size / sample_rate_hz) for hz in BAND_HZ)
    power = float(np.median(spectrum[low:high])) / math.log(2) / float(window @ window)
    return 10 * math.log10(max(2 * power * (high - low) / size, FAINTEST))
