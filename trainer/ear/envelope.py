"""Fine envelopes of a take: where the sound dips and rises, to the millisecond."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage, signal

from trainer.ear.frames import HIGH_BAND_HZ, SILENCE_DB, Samples, Track

STEP_S = 0.001
WIDE_S = 0.008
"""Longer than a period of B3 and up, so that the envelope doesn't follow the wave itself."""
HIGH_S = 0.003
STOP_WITHIN_S = 0.08
STOP_DB = 5.0
FADED_DB = 25.0
"""A tone has stopped where the level is so far below that of the last 80 ms, or of the note."""


@dataclass(frozen=True)
class Envelope:
    """Levels on a one-millisecond grid, each of shape (steps,)."""

    step_s: float
    wide_db: Track
    """All frequencies, smoothed over 8 ms, re full scale."""
    high_db: Track
    """The 5–14 kHz band, smoothed over 3 ms, re full scale."""

    def at(self, time_s: float) -> int:
        """The step nearest to a time."""
        return int(np.clip(round(time_s / self.step_s), 0, self.wide_db.size - 1))

    def between(self, track: Track, from_s: float, to_s: float) -> Track:
        """A stretch of a track, at least one step long."""
        first = self.at(from_s)
        return track[first : max(first + 1, self.at(to_s))]


def envelope(samples: Samples, sample_rate_hz: int) -> Envelope:
    """Measure both envelopes of a take."""
    step = max(1, round(STEP_S * sample_rate_hz))
    high = high_band(samples, sample_rate_hz)
    return Envelope(
        step_s=step / sample_rate_hz,
        wide_db=_smoothed_db(samples, step, WIDE_S / STEP_S),
        high_db=_smoothed_db(high, step, HIGH_S / STEP_S),
    )


def high_band(samples: Samples, sample_rate_hz: int) -> Samples:
    """The band of consonants and breath; silence where the rate leaves none of it."""
    low_hz, high_hz = HIGH_BAND_HZ
    high_hz = min(high_hz, 0.45 * sample_rate_hz)
    if high_hz <= 1.2 * low_hz:
        return np.zeros_like(samples)
    sections = signal.butter(4, (low_hz, high_hz), "bandpass", fs=sample_rate_hz, output="sos")
    filtered: Samples = signal.sosfilt(sections, samples).astype(np.float32)
    return filtered


def tone_stops(envelope: Envelope, onset_s: float, latest_s: float) -> float:
    """The last moment at which a note still sounds, up to a latest time.

    A tone that stops falls far within a few hundredths of a second, also where a room rings on; a
    player's diminuendo doesn't.
    """
    level = envelope.between(envelope.wide_db, onset_s, latest_s)
    lately_db = ndimage.maximum_filter1d(
        level, reach := round(STOP_WITHIN_S / envelope.step_s), origin=(reach - 1) // 2
    )
    loud_db = float(np.percentile(level, 70))
    sounds = (level >= lately_db - STOP_DB) & (level >= loud_db - FADED_DB)
    return onset_s + (int(np.flatnonzero(sounds)[-1]) + 1) * envelope.step_s


def _smoothed_db(samples: Samples, step: int, steps: float) -> Track:
    """Power in blocks of one step, smoothed by a Gaussian about `steps` long, in dB."""
    whole = samples[: samples.size - samples.size % step].reshape(-1, step)
    power = np.einsum("ij,ij->i", whole, whole).astype(np.float64) / step
    if power.size == 0:
        power = np.zeros(1)
    smooth = ndimage.gaussian_filter1d(power, steps / 3, mode="nearest")
    return np.asarray(10 * np.log10(np.maximum(smooth, 10 ** (SILENCE_DB / 10))))
