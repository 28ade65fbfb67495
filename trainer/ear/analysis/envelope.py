"""Fine envelopes of a take: where the sound dips and rises, to the millisecond."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, signal

from trainer.ear.analysis.frames import SILENCE_DB, TOP_SHARE, Samples, Track
from trainer.ear.analysis.order_statistics import quantile

HIGH_BAND_HZ = (5000.0, 14000.0)
"""Consonants and breath live here, and a room rings little here."""
STEP_S = 0.001
WIDE_S = 0.008
"""Longer than a period of B3 and up, so that the envelope doesn't follow the wave itself."""
HIGH_S = 0.003
SMOOTHED_BY = 2.0
"""The Gaussian reaches less than so many times its length to either side."""
STOP_WITHIN_S = 0.08
"""See FADED_DB."""
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
    first: int = 0
    """Number of the first step in the take."""

    def at(self, time_s: float) -> int:
        """The place in the tracks of the step nearest to a time."""
        return min(max(round(time_s / self.step_s) - self.first, 0), self.wide_db.size - 1)

    def between(self, track: Track, from_s: float, to_s: float) -> Track:
        """A stretch of a track, at least one step long."""
        first = self.at(from_s)
        return track[first : max(first + 1, self.at(to_s))]


class EnvelopeStream:
    """Measures both envelopes of sound that comes in piece by piece."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._step = max(1, round(STEP_S * sample_rate_hz))
        self._step_s = self._step / sample_rate_hz
        self._band = _band(sample_rate_hz)
        self._state = np.zeros((len(self._band), 2))
        self._held: Samples = np.zeros(0, np.float32)
        self._held_high: Samples = np.zeros(0, np.float32)
        self._wide: list[Track] = []
        self._high: list[Track] = []

    def feed(self, samples: Samples) -> None:
        """Sound that follows on what was fed before."""
        high = np.zeros_like(samples)
        if self._band.size:
            filtered, self._state = signal.sosfilt(self._band, samples, zi=self._state)
            high = filtered.astype(np.float32)
        self._held = _take_powers(np.concatenate([self._held, samples]), self._step, self._wide)
        self._held_high = _take_powers(
            np.concatenate([self._held_high, high]), self._step, self._high
        )

    def since(self, time_s: float) -> Envelope:
        """The envelopes from a time on, to the last whole step."""
        wide, high = _joined(self._wide), _joined(self._high)
        first = min(max(round(time_s / self._step_s), 0), wide.size - 1)
        return Envelope(
            step_s=self._step_s,
            wide_db=_smoothed_db(wide, first, WIDE_S / STEP_S),
            high_db=_smoothed_db(high, first, HIGH_S / STEP_S),
            first=first,
        )


def _band(sample_rate_hz: int) -> NDArray[np.float64]:
    """The band of consonants and breath as second-order sections; none where the rate leaves
    nothing of it."""
    low_hz, high_hz = HIGH_BAND_HZ
    high_hz = min(high_hz, TOP_SHARE * sample_rate_hz)
    if high_hz <= 1.2 * low_hz:
        return np.zeros((0, 6))
    sections = signal.butter(4, (low_hz, high_hz), "bandpass", fs=sample_rate_hz, output="sos")
    return np.asarray(sections, np.float64)


def tone_stops(envelope: Envelope, onset_s: float, latest_s: float) -> float:
    """The last moment at which a note still sounds, up to a latest time.

    A tone that stops falls far within a few hundredths of a second, also where a room rings on; a
    player's diminuendo doesn't.
    """
    level = envelope.between(envelope.wide_db, onset_s, latest_s)
    lately_db = ndimage.maximum_filter1d(
        level, reach := round(STOP_WITHIN_S / envelope.step_s), origin=(reach - 1) // 2
    )
    loud_db = quantile(level, 0.7)
    sounds = (level >= lately_db - STOP_DB) & (level >= loud_db - FADED_DB)
    return onset_s + (int(np.flatnonzero(sounds)[-1]) + 1) * envelope.step_s


def _take_powers(samples: Samples, step: int, powers: list[Track]) -> Samples:
    """Add the powers of the whole steps, and give back what is left over."""
    left = samples.size % step
    whole = samples[: samples.size - left].reshape(-1, step)
    powers.append(np.einsum("ij,ij->i", whole, whole).astype(np.float64) / step)
    return samples[samples.size - left :].copy()


def _joined(powers: list[Track]) -> Track:
    """All of them as one, which takes their place in the list; one step of silence for none."""
    if len(powers) > 1:
        powers[:] = [np.concatenate(powers)]
    return powers[0] if powers and powers[0].size else np.zeros(1)


def filtered_db(
    samples: Samples,
    sample_rate_hz: int,
    sections: NDArray[np.float64],
    settles_s: float,
    smoothed_s: float,
    from_s: float,
    to_s: float,
) -> Track:
    """The level of a stretch of sound behind a filter, in steps as the envelope's, at least one,
    shape (steps,). sections: second-order ones, shape (sections, 6), begun so long before it."""
    step = max(1, round(STEP_S * sample_rate_hz))
    first = round(from_s * sample_rate_hz)
    end = first + step * max(1, round((to_s - from_s) / (step / sample_rate_hz)))
    early = max(0, first - round(settles_s * sample_rate_hz))
    sound = signal.sosfilt(sections, samples[early:end])[first - early :]
    power = np.square(sound[: sound.size - sound.size % step]).reshape(-1, step).mean(axis=1)
    return _smoothed_db(power, 0, smoothed_s / STEP_S)


def _smoothed_db(power: Track, first: int, steps: float) -> Track:
    """From a place on, smoothed by a Gaussian about `steps` long, in dB."""
    from_ = max(0, first - round(SMOOTHED_BY * steps))
    smooth = ndimage.gaussian_filter1d(power[from_:], steps / 3, mode="nearest")[first - from_ :]
    return np.asarray(10 * np.log10(np.maximum(smooth, 10 ** (SILENCE_DB / 10))))
