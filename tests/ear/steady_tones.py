"""Steady tones in a row, and the rooms they stand in.

Truth: rooms are white noise under an exponential, whose decay is known exactly (the model of
Polack's diffuse field, in Jot & Chaigne 1991, AES 90, preprint 3030).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.ear.analysis.features import Features, FeatureStream
from trainer.music.tuning import Tuning

RATE = 44100
Sound = NDArray[np.float64]


def steady(midi: float, seconds: float, amounts: tuple[float, ...] = (1, 0.6, 0.3, 0.1)) -> Sound:
    """A steady tone with 20 ms of rise and fall."""
    time_s = np.arange(round(seconds * RATE)) / RATE
    hz = 440 * 2 ** ((midi - 69) / 12)
    waves = (a * np.sin(2 * np.pi * hz * n * time_s) for n, a in enumerate(amounts, start=1))
    edge = np.minimum(1, np.minimum(time_s, time_s[::-1]) / 0.02)
    return np.asarray(0.1 * sum(waves) * edge)


def in_a_row(*sounds: Sound, gap_s: float = 0.0) -> Sound:
    """One sound after another, each with a gap behind it, and quiet around them."""
    rest = np.zeros(round(gap_s * RATE))
    parts = [np.concatenate([sound, rest]) for sound in sounds]
    quiet = np.zeros(round(0.4 * RATE))
    return np.concatenate([quiet, *parts, quiet, quiet])


def in_diffuse_room(sound: Sound, decay_s: float, wet_db: float, seed: int = 1) -> Sound:
    """The sound and so much of a diffuse field beside it."""
    time_s = np.arange(round(1.2 * decay_s * RATE)) / RATE
    tail = np.random.default_rng(seed).standard_normal(time_s.size) * 10 ** (-3 * time_s / decay_s)
    wet = signal.fftconvolve(sound, tail / np.sqrt((tail**2).sum()))
    wet = np.asarray(wet) * 10 ** (wet_db / 20)
    wet[: sound.size] += sound
    return wet


def measured(sound: Sound, noise_db: float = -72.0) -> Features:
    """What the ear measures of it, noise added."""
    noise = np.random.default_rng(2).standard_normal(sound.size) * 10 ** (noise_db / 20)
    stream = FeatureStream(RATE, Tuning())
    stream.feed((sound + noise).astype(np.float32))
    return stream.finished()
