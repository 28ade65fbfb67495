"""A synthetic room and a microphone for the played-in flutist."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.sound.port import Samples

_DIRECT_TO_FIRST_ECHO_S = 0.004
"""The nearest wall is 70 cm away."""


def in_room(
    samples: Samples, sample_rate_hz: int, rt60_s: float, seed: int, wet_db: float = -8.0
) -> Samples:
    """The sound in a room: the direct sound and a diffuse, dying tail.

    rt60_s is the time in which the tail falls by 60 dB (the reverberation time of ISO 3382-1),
    wet_db the energy of the tail against the direct sound. High frequencies die sooner, as in
    air and on curtains. The tail is kept beyond the last sample: the result is longer by rt60_s.
    """
    tail = _tail(sample_rate_hz, rt60_s, np.random.default_rng(seed)) * 10 ** (wet_db / 20)
    length = len(samples) + len(tail)
    sounded = np.zeros(length)
    sounded[: len(samples)] = samples
    sounded[: length - 1] += signal.fftconvolve(samples, tail)
    return sounded.astype(np.float32)


def _tail(sample_rate_hz: int, rt60_s: float, random: np.random.Generator) -> NDArray[np.float64]:
    """A diffuse tail of unit energy, the upper band dying in half the time."""
    count = max(2, round(rt60_s * sample_rate_hz))
    time_s = np.arange(count) / sample_rate_hz
    noise = random.standard_normal(count)
    low = signal.sosfilt(signal.butter(1, 2500, "low", fs=sample_rate_hz, output="sos"), noise)
    decay = 10 ** (-3 * time_s / rt60_s)
    tail = low * decay + (noise - low) * decay**2
    tail[time_s < _DIRECT_TO_FIRST_ECHO_S] = 0
    return np.asarray(tail / np.sqrt(np.sum(tail**2)))


def microphone(samples: Samples, noise_floor_db: float, gain_db: float, seed: int = 0) -> Samples:
    """What a microphone makes of the sound: gain, its own noise, and clipping at full scale.

    noise_floor_db is the RMS level of the microphone's noise, dBFS.
    """
    noise = np.random.default_rng(seed).standard_normal(len(samples)) * 10 ** (noise_floor_db / 20)
    return np.clip(samples * 10 ** (gain_db / 20) + noise, -1, 1).astype(np.float32)
