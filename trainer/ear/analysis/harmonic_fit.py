"""Least squares on harmonics: the exact frequency, level and colour of one note.

For a tone in white noise the least-squares fit is the maximum-likelihood estimate, so its spread
comes close to the Cramér–Rao bound (Kay 1993, Fundamentals of Statistical Signal Processing:
Estimation Theory, ch. 7). Times are counted from the stretch's centre, so that the sums over pairs
of harmonics have closed forms (Dirichlet's kernel and its derivatives); only the sums over the
sound itself are taken sample by sample.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.ear.analysis.frames import TOP_SHARE, Samples, Track

Waves = NDArray[np.complex128]

MOST_HARMONICS = 8
"""So many harmonics are fitted at most. Our own estimate."""
NEWTON_STEPS = 4
LONGEST_STEP = 0.01
"""A frequency step may change the estimate by this share at most (17 cents)."""
SMALL_TURN = 0.02
"""A step that turns the phase at the stretch's ends by less than this (radians) is the last: the
error left after it goes with the step's third power."""
LONGEST_FIT_S = 0.4
"""A longer note is fitted on its middle; its pitch wanders anyway."""
BLOCK = 64
"""Samples in a block: phases are made for one block and for the blocks' places, not for each."""
WITHIN = np.arange(BLOCK, dtype=np.float64)
"""The places of a block's samples."""


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
        count = self.amplitudes.size
        turn = np.array([2 * np.pi * self.hz / sample_rate_hz])
        strength = self.coefficients[:count] - 1j * self.coefficients[count:]
        starts = np.arange(first, end, BLOCK) - self.centre
        whole = (strength * waves(starts, turn, count)) @ waves(WITHIN, turn, count).T
        return np.asarray(whole.real.reshape(-1)[: end - first])

    @property
    def tone_power(self) -> float:
        """Mean square of the tone."""
        return float(np.sum(self.amplitudes**2) / 2)


def harmonic_fit(
    samples: Samples, first: int, end: int, hz: float, sample_rate_hz: int
) -> HarmonicFit | None:
    """Fit samples[first:end], starting near a known frequency; None where it is too short."""
    first, end = middle(max(0, first), min(end, samples.size), sample_rate_hz)
    count = min(MOST_HARMONICS, int(TOP_SHARE * sample_rate_hz / hz))
    if count < 1 or end - first < 2 * sample_rate_hz / hz or end - first < 8 * count:
        return None
    blocks = in_blocks(samples[first:end])
    per_hz = 2 * np.pi / sample_rate_hz
    cosine = sine = np.zeros(count)
    explained = 0.0
    for _ in range(NEWTON_STEPS):
        sums, sums_by_time = _correlations(blocks, end - first, per_hz * hz, count)
        gram = _Gram(end - first, per_hz * hz, count)
        cosine, sine = gram.solved(sums.real, -sums.imag)
        explained = float(cosine @ sums.real - sine @ sums.imag)
        turn, gain = _step(gram, cosine, sine, sums_by_time)
        step = turn / per_hz
        hz += min(max(step, -LONGEST_STEP * hz), LONGEST_STEP * hz)
        if abs(step) * per_hz * (end - first) / 2 < SMALL_TURN:
            explained += gain
            break
    power = float(np.einsum("ij,ij->", blocks, blocks))
    return HarmonicFit(
        hz=hz,
        amplitudes=np.hypot(cosine, sine),
        noise_power=max(power - explained, 0.0) / (end - first),
        coefficients=np.concatenate([cosine, sine]),
        centre=(first + end - 1) / 2,
    )


def middle(first: int, end: int, sample_rate_hz: int) -> tuple[int, int]:
    """The part of a stretch of samples that is fitted: all of it, or the middle of a long one."""
    spare = end - first - round(LONGEST_FIT_S * sample_rate_hz)
    return (first, end) if spare <= 0 else (first + spare // 2, end - spare // 2)


def in_blocks(samples: NDArray[np.floating]) -> NDArray[np.float64]:
    """The stretch as rows of one block, zeros at its end, shape (blocks, BLOCK)."""
    padded = np.zeros((-(-samples.size // BLOCK), BLOCK))
    padded.reshape(-1)[: samples.size] = samples
    return padded


def waves(times: NDArray[np.floating], turns: Track, count: int) -> Waves:
    """So many harmonics of some tones at some times, phase 0 at time 0, those of one tone after
    another, shape (times, tones · harmonics): the powers of the first.

    times: in samples; turns: of the tones, radians a sample."""
    first = np.exp(1j * np.outer(times, turns))
    powers = np.cumprod(first[:, :, None].repeat(count, axis=2), axis=2)
    return np.asarray(powers.reshape(times.size, -1))


def _correlations(
    blocks: NDArray[np.float64], size: int, radians: float, count: int
) -> tuple[Waves, Waves]:
    """Σ x·exp(−jkωt) and Σ t·x·exp(−jkωt) for each harmonic k, t from the centre."""
    back = np.array([-radians])
    inner = waves(WITHIN, back, count)
    by_time = inner * WITHIN[:, None]
    parts = np.concatenate([inner.view(np.float64), by_time.view(np.float64)], axis=1)
    plain, by_place = (blocks @ parts).view(np.complex128).reshape(-1, 2, count).swapaxes(0, 1)
    starts = np.arange(len(blocks)) * float(BLOCK) - (size - 1) / 2
    outer = waves(starts, back, count)
    by_block = outer * plain
    return by_block.sum(axis=0), starts @ by_block + np.einsum("ij,ij->j", outer, by_place)


class _Pairs:
    """Of so many harmonics the pairs, whose sums and differences are harmonics too."""

    def __init__(self, count: int) -> None:
        self.order = np.arange(1, count + 1)
        self.halves = np.arange(1, 2 * count + 1) / 2
        self.apart = np.abs(self.order[:, None] - self.order)
        self.sign = np.sign(self.order[:, None] - self.order)
        self.joint = self.order[:, None] + self.order


_PAIRS = tuple(map(_Pairs, range(MOST_HARMONICS + 1)))


class _Gram:
    """Sums of products of the harmonics' cosines and sines over the stretch.

    Cosines are even and sines odd about the centre, so sums that mix them vanish, and those
    weighted by time are all that is left of the mixed ones. They go by sums over single harmonics:
    plain, weighted by time, by its square.
    """

    def __init__(self, size: int, radians: float, count: int) -> None:
        pairs = _PAIRS[count]
        self.order = pairs.order
        half = radians * pairs.halves
        s, c = np.sin(half), np.cos(half)
        s2 = s**2
        n, n1 = np.sin(size * half), size * np.cos(size * half)
        sums = np.empty((3, half.size + 1))
        sums[:, 0] = size, 0.0, size * (size**2 - 1) / 12
        sums[0, 1:] = n / s
        sums[1, 1:] = -(n1 / s - n * c / s2) / 2
        sums[2, 1:] = (size**2 * n / s + 2 * n1 * c / s2 - n * (1 / s + 2 * c**2 / s**3)) / 4
        apart, joint = sums[:, pairs.apart], sums[:, pairs.joint]
        cosines, sines = (apart + joint) / 2, (apart - joint) / 2
        self.inverses = np.linalg.inv(np.concatenate([cosines[:1], sines[:1]]))
        self.timed_sine_cosine = (joint[1] + pairs.sign * apart[1]) / 2
        """Σ t·sin(kωt)·cos(lωt), shape (k, l)."""
        self.timed_cosines, self.timed_sines = cosines[2], sines[2]

    def solved(self, with_cosines: Track, with_sines: Track) -> tuple[Track, Track]:
        """Coefficients of cosines and sines from their sums with the sound."""
        return self.inverses[0] @ with_cosines, self.inverses[1] @ with_sines


def _step(gram: _Gram, cosine: Track, sine: Track, sums_by_time: Waves) -> tuple[float, float]:
    """One Gauss–Newton step in radians per sample, amplitudes and phases free, and the energy
    it explains.

    The model's slope along the frequency is t · Σ k·(sine_k·cos(kωt) − cosine_k·sin(kωt)); its
    part outside the harmonics' own span is what tells about the frequency.
    """
    up, down = gram.order * sine, -gram.order * cosine
    with_sound = float(up @ sums_by_time.real - down @ sums_by_time.imag)
    # the slope's sums with each cosine and sine
    with_cosines = down @ gram.timed_sine_cosine
    with_sines = gram.timed_sine_cosine @ up
    inside = gram.solved(with_cosines, with_sines)
    own = float(up @ gram.timed_cosines @ up + down @ gram.timed_sines @ down)
    own -= float(with_cosines @ inside[0] + with_sines @ inside[1])
    rest = with_sound - float(with_cosines @ cosine + with_sines @ sine)
    own = max(own, 1e-30)
    return rest / own, rest**2 / own
