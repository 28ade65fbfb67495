"""Which pitch sounds, where nothing is expected: read off a stream, frame by frame.

aubio says whether there is a tone and which: YIN over two periods of the lowest note (de Cheveigné
& Kawahara 2002, JASA 111:1917; its `yinfast`). Where exactly it stands is told by how far the
phases of its first harmonics turn from one frame to the next (Flanagan & Golden 1966, Bell System
Technical Journal 45:1493), since aubio's own figure leans sharp, by half a cent on recorded notes
and more in noise (tests/bench/RESULTS.md, 'Free pitch and the first note').
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import aubio
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from trainer.ear.analysis.frames import (
    HIGHEST_HZ,
    HOP_S,
    LOWEST_HZ,
    SILENCE_DB,
    TOP_SHARE,
    Samples,
    Track,
)

Spectra = NDArray[np.complexfloating]
"""Spectra of frames in a row, shape (frames, window // 2 + 1)."""

HARMONICS = (1, 2, 3)
"""The strongest of a flute at every dynamic (SHARC archive, G. Sandell)."""
APART_BINS = 4
"""Harmonics nearer to each other than a Hann window's main lobe is wide (Harris 1978, Proc. IEEE
66:51) can't be told apart: there, below a concert flute's range, aubio's own figure stays."""
LEAST_WEIGHT = 1e-20
"""Keeps digital silence from a division by zero."""


@dataclass(frozen=True)
class PitchReading:
    """What sounds in one frame."""

    time_s: float
    """Half-way between this frame's centre and the one's before, from the first sample ever fed."""
    hz: float | None
    """None where there is no period."""
    confidence: float
    """Near 1 for a tone, below 0.3 for white noise; 0 without a period."""
    level_db: float
    """RMS re full scale."""


class FreePitch:
    """Reads a growing stream; holds one window of it and less than a hop."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._hop = round(HOP_S * sample_rate_hz)
        self._window = 2 ** math.ceil(math.log2(2 * sample_rate_hz / LOWEST_HZ))
        self._yin = aubio.pitch("yinfast", self._window, self._hop, sample_rate_hz)
        self._yin.set_silence(SILENCE_DB)
        self._taper = np.hanning(self._window + 1)[:-1].astype(np.float32)
        self._held: Samples = np.zeros(self._window, np.float32)
        """From the beginning of the last frame on; before the first sample lies silence."""
        self._frames_read = 0

    def feed(self, samples: Samples) -> tuple[PitchReading, ...]:
        """New readings, one for each 5 ms, the first once a window and a hop are whole.

        samples: shape (samples,), following on those of the last call.
        """
        held = np.concatenate([self._held, samples.astype(np.float32, copy=False)])
        count = (held.size - self._window) // self._hop
        if not count:
            self._held = held
            return ()
        new = held[self._window : self._window + count * self._hop].reshape(count, self._hop)
        rough_hz, confidence = self._rough(new)
        cut = np.lib.stride_tricks.sliding_window_view(held, self._window)[:: self._hop]
        spectra = fft.rfft(cut[: count + 1] * self._taper, axis=1)
        hz = rough_hz + _turned_further_hz(rough_hz, spectra, self._hop, self._rate)
        power = np.einsum("ij,ij->i", cut[1 : count + 1], cut[1 : count + 1]) / self._window
        level_db = 10 * np.log10(np.maximum(power, 10 ** (SILENCE_DB / 10)))
        first = self._frames_read + 1
        self._held = held[count * self._hop :].copy()
        self._frames_read += count
        partial = max(0, math.ceil(self._window / self._hop) + 1 - first)
        return tuple(
            self._reading(first + place, hz[place], confidence[place], level_db[place])
            for place in range(partial, count)
        )

    def _rough(self, hops: Samples) -> tuple[Track, Track]:
        """aubio's own pitch, Hz, and its confidence after each hop."""
        read = [(float(self._yin(hop)[0]), float(self._yin.get_confidence())) for hop in hops]
        hz, confidence = np.array(read).T
        return hz, confidence

    def _reading(self, frame: int, hz: float, confidence: float, level_db: float) -> PitchReading:
        time_s = (frame * self._hop - (self._window + self._hop) / 2) / self._rate
        if not LOWEST_HZ <= hz <= HIGHEST_HZ:
            return PitchReading(time_s, None, 0.0, float(level_db))
        return PitchReading(time_s, float(hz), float(confidence), float(level_db))


def _turned_further_hz(rough_hz: Track, spectra: Spectra, hop: int, rate: int) -> Track:
    """How much faster the harmonics' phases turn than at the rough pitch, in Hz of the first.

    spectra: one more than pitches, beginning with the frame before the first. Each harmonic counts
    by its power and the square of its number, which is the likeliest mean in white noise.
    """
    rows = np.arange(rough_hz.size)
    weight = np.full(rough_hz.size, LEAST_WEIGHT)
    weighted = np.zeros(rough_hz.size)
    bins = spectra.shape[1]
    for number in HARMONICS:
        hz = number * rough_hz
        place = np.minimum(np.round(hz / rate * 2 * (bins - 1)).astype(np.intp), bins - 1)
        turned = spectra[rows + 1, place] * np.conj(spectra[rows, place])
        further_hz = (
            np.angle(turned * np.exp(-2j * np.pi * hz * hop / rate)) * rate / math.tau / hop
        )
        power = np.abs(turned) * (hz < TOP_SHARE * rate)
        weight += number**2 * power
        weighted += number * power * further_hz
    apart = rough_hz >= APART_BINS * rate / (2 * (bins - 1))
    return np.where(apart, weighted / weight, 0.0)
