"""A take cut into short frames: pitch, clarity and level of each.

Pitch comes from the normalised square difference function, a period finder that sees through a
weak fundamental (McLeod & Wyvill 2005, 'A smarter way to find pitch', ICMC): the first of its
peaks that is nearly as high as the highest. It knows nothing of the expected notes, so that an
octave slip is heard as one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from trainer.music.tuning import A4_MIDI

Samples = NDArray[np.float32]
Track = NDArray[np.float64]

HOP_S = 0.005
WINDOW_S = 0.0215
"""Long enough for three periods of B3's octave below, short beside a 94 ms sixteenth at 160."""
LOWEST_HZ = 110.0
HIGHEST_HZ = 4800.0
"""A little beyond the bass flute's C3 and the piccolo's C8."""
NEARLY_THE_HIGHEST = 0.88
"""A shorter period wins when its peak reaches this share of the highest one (McLeod & Wyvill
suggest 0.8 to 1)."""
TOP_SHARE = 0.45
"""Of the sampling rate: above it a microphone or its filter hears nothing."""
SILENCE_DB = -120.0
"""Nothing is lower."""
BATCH_FRAMES = 2048
"""So many are transformed at once, for the memory's sake."""


@dataclass(frozen=True)
class Frames:
    """Tracks of one take, each of shape (frames,)."""

    hop_s: float
    first_s: float
    """Centre of the take's first frame, from the start of the samples."""
    midi: Track
    """Fractional MIDI number at A4 = a4_hz; NaN where there is no period."""
    clarity: Track
    """Height of the chosen peak: near 1 for a tone, near 0 for noise."""
    level_db: Track
    """RMS re full scale."""
    first: int = 0
    """Number of the first of them in the take."""

    @property
    def times_s(self) -> Track:
        """Centres of the frames."""
        places = np.arange(self.first, self.first + self.midi.size, dtype=np.float64)
        return self.first_s + self.hop_s * places

    def time_s(self, place: int) -> float:
        """Centre of one of them."""
        return self.first_s + self.hop_s * (self.first + place)

    @property
    def size(self) -> int:
        """How many there are."""
        return self.midi.size

    def part(self, first: int, end: int) -> Frames:
        """The frames from first up to end."""
        return Frames(
            self.hop_s,
            self.first_s,
            self.midi[first:end],
            self.clarity[first:end],
            self.level_db[first:end],
            self.first + first,
        )

    def at(self, time_s: float) -> int:
        """The frame whose centre is nearest."""
        place = round((time_s - self.first_s) / self.hop_s) - self.first
        return min(max(place, 0), self.midi.size - 1)


def frames(samples: Samples, sample_rate_hz: int, a4_hz: float) -> Frames:
    """Cut and measure a stretch of at least one window, the first frame at its beginning."""
    window = round(WINDOW_S * sample_rate_hz)
    hop = round(HOP_S * sample_rate_hz)
    cut = np.lib.stride_tricks.sliding_window_view(samples, window)[::hop]
    batches = [cut[first : first + BATCH_FRAMES] for first in range(0, len(cut), BATCH_FRAMES)]
    measured = [(*_periods(batch, sample_rate_hz), _rms_db(batch)) for batch in batches]
    period, clarity, level_db = map(_in_a_row, zip(*measured, strict=True))
    return Frames(
        hop_s=hop / sample_rate_hz,
        first_s=window / 2 / sample_rate_hz,
        midi=A4_MIDI + 12 * np.log2(sample_rate_hz / period / a4_hz),
        clarity=clarity,
        level_db=level_db,
    )


def samples_between(samples: Samples, first: int, end: int) -> Samples:
    """The samples from one place up to another, which may lie before the sound or behind it, where
    there is silence; a view where neither does."""
    inside = samples[max(0, first) : max(0, end)]
    if inside.size == end - first:
        return inside
    return np.pad(inside, (before := max(0, -first), end - first - before - inside.size))


def _in_a_row(tracks: tuple[Track, ...]) -> Track:
    return tracks[0] if len(tracks) == 1 else np.concatenate(tracks)


def _rms_db(cut: NDArray[np.float32]) -> Track:
    power = np.einsum("ij,ij->i", cut, cut) / cut.shape[1]
    return np.asarray(10 * np.log10(np.maximum(power, 10 ** (SILENCE_DB / 10))), np.float64)


def _periods(cut: NDArray[np.float32], sample_rate_hz: int) -> tuple[Track, Track]:
    """Period in samples (NaN where there is none) and clarity of each frame."""
    window = cut.shape[1]
    longest = min(round(sample_rate_hz / LOWEST_HZ), window // 2)
    shortest = max(2, int(sample_rate_hz / HIGHEST_HZ))
    curve = _normalised(cut - cut.mean(axis=1, keepdims=True), longest + 2)
    inside = curve[:, 1:-1]
    peak = (inside > curve[:, :-2]) & (inside >= curve[:, 2:])
    peak[:, : shortest - 1] = False
    # the slope down from lag 0 is no period: count peaks only after the curve has been below 0
    peak &= np.logical_or.accumulate(inside < 0, axis=1)
    height = np.where(peak, inside, -1.0)
    highest = height.max(axis=1)
    good = height >= np.maximum(NEARLY_THE_HIGHEST * highest, 1e-6)[:, None]
    lag = good.argmax(axis=1)
    rows = np.arange(len(curve))
    left, middle, right = curve[rows, lag], curve[rows, lag + 1], curve[rows, lag + 2]
    falls, bend = left - right, left - 2 * middle + right
    shift = np.where(bend < 0, 0.5 * falls / np.where(bend < 0, bend, -1.0), 0.0)
    shift = np.minimum(np.maximum(shift, -0.5), 0.5)
    clarity = np.where(highest > 0, middle - 0.25 * falls * shift, 0.0)
    period = np.where(highest > 0, lag + 1 + shift, np.nan)
    return period, np.minimum(np.maximum(clarity, 0.0), 1.0)


def _normalised(cut: NDArray[np.float32], lags: int) -> NDArray[np.float64]:
    """The normalised square difference function, 1 at lag 0, shape (frames, lags)."""
    window = cut.shape[1]
    size = _fast_size(window + lags)
    spectrum = fft.rfft(cut, size, axis=1)
    power = spectrum.real**2 + spectrum.imag**2
    correlation = fft.irfft(power, size, axis=1)[:, :lags]
    squares = np.cumsum(cut.astype(np.float64) ** 2, axis=1)
    total = squares[:, -1:]
    energy = np.empty((len(cut), lags))
    energy[:, 0] = 2 * total[:, 0]
    up_to_last = squares[:, window - 2 : window - lags - 1 : -1]
    energy[:, 1:] = up_to_last + total - squares[:, : lags - 1]
    return np.asarray(2 * correlation / np.maximum(energy, 1e-20))


@cache
def _fast_size(least: int) -> int:
    """The next length of which a spectrum is quickly had."""
    return int(fft.next_fast_len(least, real=True))
