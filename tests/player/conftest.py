"""Rounds to play, and an ear of its own: plain scipy that knows nothing of how we render."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pytest
from scipy import signal

from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch

Build = Callable[..., tuple[Note, ...]]


@pytest.fixture
def row() -> Build:
    """Build a row of notes of equal length from their names."""

    def build(
        names: str,
        articulation: Articulation = Articulation.SINGLE,
        length: Fraction = Fraction(1, 4),
    ) -> tuple[Note, ...]:
        notes = [
            Note(index, Pitch.parse(name), index * length, length, Start.TONGUED)
            for index, name in enumerate(names.split())
        ]
        return articulated(notes, articulation)

    return build


@dataclass(frozen=True)
class Analysis:
    """Measurements on sound by textbook means; times in seconds from the first sample."""

    rate_hz: int = 48000

    def part(self, sound, from_s: float, to_s: float):
        return np.asarray(sound[round(from_s * self.rate_hz) : round(to_s * self.rate_hz)], float)

    def band(self, sound, low_hz: float, high_hz: float):
        sos = signal.butter(3, (low_hz, high_hz), "band", fs=self.rate_hz, output="sos")
        return signal.sosfiltfilt(sos, np.asarray(sound, float))

    def hz_track(self, sound, low_hz: float, high_hz: float):
        """Instantaneous frequency of what sounds in the band (analytic signal)."""
        phase = np.unwrap(np.angle(signal.hilbert(self.band(sound, low_hz, high_hz))))
        return np.gradient(phase) * self.rate_hz / (2 * np.pi)

    def mean_hz(self, sound, near_hz: float, from_s: float, to_s: float) -> float:
        """Cycles counted by phase between two times, near a frequency."""
        track = self.hz_track(sound, near_hz * 0.8, near_hz * 1.25)
        return float(np.mean(self.part(track, from_s, to_s)))

    def harmonics_db(self, sound, hz: float, count: int):
        """Levels of harmonics re the strongest: power within 20 Hz of each."""
        power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
        freqs = np.fft.rfftfreq(len(sound), 1 / self.rate_hz)
        sums = [power[np.abs(freqs - k * hz) < 20].sum() for k in range(1, count + 1)]
        return 10 * np.log10(np.array(sums) / max(sums))

    def noise_db(self, sound) -> float:
        """Median density between harmonics, summed over 2–5 kHz, against the whole."""
        power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
        freqs = np.fft.rfftfreq(len(sound), 1 / self.rate_hz)
        band = (freqs > 2000) & (freqs < 5000)
        return float(10 * np.log10(np.median(power[band]) * band.sum() / power.sum()))

    def envelope_db(self, sound, window_s: float = 0.003):
        size = round(window_s * self.rate_hz)
        power = np.convolve(np.asarray(sound, float) ** 2, np.ones(size) / size, "same")
        return 10 * np.log10(power + 1e-14)

    def stroke_times_s(self, sound):
        """When the hiss above 6 kHz returns after each silence."""
        hiss = self.envelope_db(self.band(sound, 6000, 14000), 0.002)
        sounding, silent = hiss > -82, hiss < -90
        edges = np.flatnonzero(sounding | silent)
        returns = np.flatnonzero(sounding[edges[1:]] & silent[edges[:-1]])
        return edges[returns + 1] / self.rate_hz

    def level_db(self, sound) -> float:
        return float(10 * np.log10(np.mean(np.square(sound)) + 1e-14))


@pytest.fixture
def analysis() -> Analysis:
    return Analysis()
