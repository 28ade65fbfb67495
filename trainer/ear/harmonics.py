"""Least squares on harmonics: the exact frequency, level and colour of one note.

For a tone in white noise the least-squares fit is the maximum-likelihood estimate, so its spread
comes close to the Cramér–Rao bound (Kay 1993, Fundamentals of Statistical Signal Processing:
Estimation Theory, ch. 7).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.ear.frames import Samples, Track

MOST_HARMONICS = 8
TOP_SHARE = 0.45
"""Harmonics above this share of the rate are left out."""
NEWTON_STEPS = 3
LONGEST_STEP = 0.01
"""A frequency step may change the estimate by this share at most (17 cents)."""
LONGEST_FIT_S = 0.4
"""A longer note is fitted on its middle; its pitch wanders anyway."""


@dataclass(frozen=True)
class HarmonicFit:
    """A steady harmonic tone fitted to a stretch of sound."""

    hz: float
    amplitudes: Track
    """Of harmonics 1 and up, full scale 1, shape (harmonics,)."""
    noise_power: float
    """Mean square of what the tone doesn't explain."""
    coefficients: Track
    """Cosine and sine of each harmonic about the stretch's centre, shape (2 · harmonics,)."""
    centre: float
    """Sample about which the phases stand."""

    def wave(self, first: int, end: int, sample_rate_hz: int) -> Track:
        """The tone continued over any samples of the take."""
        base = _basis(
            np.arange(first, end, dtype=np.float64) - self.centre,
            self.hz,
            self.amplitudes.size,
            sample_rate_hz,
        )
        return np.asarray(base @ self.coefficients)

    @property
    def tone_power(self) -> float:
        """Mean square of the tone."""
        return float(np.sum(self.amplitudes**2) / 2)


def harmonic_fit(
    samples: Samples, first: int, end: int, hz: float, sample_rate_hz: int
) -> HarmonicFit | None:
    """Fit samples[first:end], starting near a known frequency; None where it is too short."""
    first, end = _middle(max(0, first), min(end, samples.size), sample_rate_hz)
    count = min(MOST_HARMONICS, int(TOP_SHARE * sample_rate_hz / hz))
    if count < 1 or end - first < 2 * sample_rate_hz / hz or end - first < 8 * count:
        return None
    x = samples[first:end].astype(np.float64)
    centre = (first + end - 1) / 2
    time: Track = np.arange(first, end, dtype=np.float64) - centre
    coefficients: Track = np.zeros(2 * count)
    for _ in range(NEWTON_STEPS):
        base = _basis(time, hz, count, sample_rate_hz)
        coefficients = _solved(base, x)
        hz += _step(x, base, coefficients, time, hz, count, sample_rate_hz)
    base = _basis(time, hz, count, sample_rate_hz)
    coefficients = _solved(base, x)
    rest = x - base @ coefficients
    return HarmonicFit(
        hz=hz,
        amplitudes=np.hypot(coefficients[:count], coefficients[count:]),
        noise_power=float(rest @ rest / rest.size),
        coefficients=coefficients,
        centre=centre,
    )


def _middle(first: int, end: int, sample_rate_hz: int) -> tuple[int, int]:
    spare = end - first - round(LONGEST_FIT_S * sample_rate_hz)
    return (first, end) if spare <= 0 else (first + spare // 2, end - spare // 2)


def _basis(time: Track, hz: float, count: int, sample_rate_hz: int) -> NDArray[np.float64]:
    """Cosines, then sines, of the harmonics, shape (samples, 2 · harmonics)."""
    turn = np.exp(2j * np.pi * hz / sample_rate_hz * time)
    waves = np.empty((time.size, count), np.complex128)
    waves[:, 0] = turn
    for k in range(1, count):
        np.multiply(waves[:, k - 1], turn, out=waves[:, k])
    return np.concatenate([waves.real, waves.imag], axis=1)


def _solved(base: NDArray[np.float64], x: Track) -> Track:
    """Least-squares coefficients of the base's columns."""
    return np.asarray(np.linalg.solve(base.T @ base, base.T @ x), np.float64)


def _step(
    x: Track,
    base: NDArray[np.float64],
    coefficients: Track,
    time: Track,
    hz: float,
    count: int,
    sample_rate_hz: int,
) -> float:
    """One Gauss–Newton step of the frequency, amplitudes and phases free."""
    order = 2 * np.pi / sample_rate_hz * np.arange(1, count + 1)
    cosine, sine = coefficients[:count], coefficients[count:]
    slope = time * (base[:, count:] @ (-order * cosine) + base[:, :count] @ (order * sine))
    own = slope - base @ _solved(base, slope)
    rest = x - base @ coefficients
    step = float(own @ rest / max(float(own @ own), 1e-30))
    return float(np.clip(step, -LONGEST_STEP * hz, LONGEST_STEP * hz))
