"""Taking the trainer's own click and partner out of what the microphone heard.

The sound that was played is known to the sample; the way through the loudspeaker, the room and the
microphone is a short linear filter, found by least squares. Input and output share a clock here;
where the fit explains too little, nothing is taken out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg, signal

from trainer.ear.frames import Samples

FILTER_S = 0.008
SEARCH_S = 0.06
"""The measured round trip may be off by this much, either way."""
LEAST_SHARE = 0.02
"""Of the microphone's energy while the known sound plays; below this there is no leak worth it."""


@dataclass(frozen=True)
class KnownSound:
    """A sound the trainer played itself."""

    samples: Samples
    at_s: float
    """When it was played, from the start of the take's samples; may be negative."""


def without_known(samples: Samples, sample_rate_hz: int, known: Sequence[KnownSound]) -> Samples:
    """The take without the known sounds, as far as they are found in it; same shape."""
    played = _laid_out(samples.size, sample_rate_hz, known)
    if not played.any():
        return samples
    search = round(SEARCH_S * sample_rate_hz)
    delay = _delay(samples, played, search)
    taps = round(FILTER_S * sample_rate_hz)
    shifted = np.roll(played, delay - taps // 4)
    leak = _fitted(samples, shifted, taps)
    left = samples - leak
    sounding = np.abs(shifted) > 0
    before = float(np.sum(samples[sounding].astype(np.float64) ** 2))
    after = float(np.sum(left[sounding].astype(np.float64) ** 2))
    if before <= 0 or after > (1 - LEAST_SHARE) * before:
        return samples
    return left


def _laid_out(size: int, rate: int, known: Sequence[KnownSound]) -> Samples:
    played = np.zeros(size, np.float32)
    for sound in known:
        at = round(sound.at_s * rate)
        first, end = max(at, 0), min(at + sound.samples.size, size)
        if end > first:
            played[first:end] += sound.samples[first - at : end - at]
    return played


def _delay(samples: Samples, played: Samples, search: int) -> int:
    """The shift at which the played sound is most like the microphone's."""
    match = signal.correlate(samples, played, "full", method="fft")
    middle = played.size - 1
    near = match[middle - search : middle + search + 1]
    return int(np.abs(near).argmax()) - search


def _fitted(samples: Samples, played: Samples, taps: int) -> Samples:
    """The played sound through the least-squares filter of so many taps."""
    own = signal.correlate(played, played, "full", method="fft")[played.size - 1 :][:taps]
    cross = signal.correlate(samples, played, "full", method="fft")[played.size - 1 :][:taps]
    own = own.astype(np.float64)
    own[0] *= 1 + 1e-4
    filter_taps = linalg.solve_toeplitz(own, cross.astype(np.float64))
    leak: Samples = signal.fftconvolve(played, filter_taps)[: samples.size].astype(np.float32)
    return leak
