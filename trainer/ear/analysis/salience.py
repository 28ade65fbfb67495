"""How strongly each semitone's harmonics stand in each frame.

Where a hall still rings with the last note, two tones sound at once and no period fits both; a
longer window then tells them apart.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft, signal

from trainer.ear.analysis.frames import (
    HIGHEST_HZ,
    HOP_S,
    WINDOW_S,
    Frames,
    Samples,
    Track,
    samples_between,
)
from trainer.music.tuning import A4_MIDI

Mask = NDArray[np.bool_]
Salience = NDArray[np.float32]

LONG_WINDOW_S = 0.046
"""Long enough to keep a whole tone apart from C5 up, and its upper harmonics below."""
PADDED_TO_S = 0.085
"""The spectrum is read off this finely."""
HARMONICS = 6
EACH_HARMONIC = 0.8
"""Weight of a harmonic against the one below it: less than 1, so that no note is taken for the
octave below it; near 1, as the lowest notes have a weak fundamental."""
WEAK_FUNDAMENTAL_BELOW_MIDI = 64.5
"""C4 to E4 often have their second harmonic above the first, up to 10 dB (SHARC, flute)."""
BELOW_LOWEST = 1
"""Semitones below the lowest note that still are looked for: players tuned lower. Not more, as two
notes a fifth apart that ring together look like one an octave below the lower."""
MOST_PER_FUNDAMENTAL = 6.0
"""A note's harmonics together against its first; what stands above that are other notes that
happen to be harmonics of it, like a fifth ringing together."""
SECOND_COUNTS = 0.15
"""How much of the second harmonic may stand in for the first, in the low notes."""
SHARES = (-1 / 3, 0.0, 1 / 3)
"""Places within a semitone at which its strength is looked for."""
PERIOD_CLEAR = 0.75
BELOW_LOUDEST_DB = 42.0
"""What lies further below the loud notes is no note of this player: room, neighbours, hiss."""
BATCH_FRAMES = 512
"""So many are transformed at once, for the memory's sake."""


def tone_frames(frames: Frames, clear: float) -> Mask:
    """True where a frame holds a tone of this player."""
    clearly = (frames.clarity > clear) & np.isfinite(frames.midi)
    if not clearly.any():
        return clearly
    return np.asarray(clearly & (frames.level_db > loud_db(frames, clear) - BELOW_LOUDEST_DB))


def loud_db(frames: Frames, clear: float = 0.0) -> float:
    """The level of this player's loud notes, dB re full scale; -inf without a tone."""
    clearly = (frames.clarity > clear) & np.isfinite(frames.midi)
    return float(np.percentile(frames.level_db[clearly], 90)) if clearly.any() else -np.inf


def toned(frames: Frames) -> Mask:
    """True where a frame holds a tone with a clear period."""
    return tone_frames(frames, PERIOD_CLEAR)


def off_grid(frames: Frames) -> float:
    """How far the player as a whole stands from the equal-tempered grid, in semitones."""
    midi = frames.midi[toned(frames)]
    if midi.size == 0:
        return 0.0
    return float(np.angle(np.exp(2j * np.pi * midi).mean()) / (2 * np.pi))


class SalienceWindow:
    """Measures the strengths of every semitone from just below the lowest note to the top."""

    def __init__(self, sample_rate_hz: int, a4_hz: float, shift: float, lowest_midi: float) -> None:
        """shift: the player's grid against the equal-tempered one, in semitones."""
        lowest = int(np.floor(lowest_midi)) - BELOW_LOWEST
        highest = int(A4_MIDI + 12 * np.log2(HIGHEST_HZ / a4_hz))
        self.semitones: Track = np.arange(lowest, highest + 1, dtype=np.float64) + shift
        self.size = round(LONG_WINDOW_S * sample_rate_hz)
        self._hop = round(HOP_S * sample_rate_hz)
        self._lead = round(self.size / 2 - round(WINDOW_S * sample_rate_hz) / 2)
        self._shape = signal.windows.hann(self.size, sym=False).astype(np.float32)
        self._fft_size = fft.next_fast_len(round(PADDED_TO_S * sample_rate_hz), real=True)
        hz = a4_hz * 2 ** ((self.semitones - A4_MIDI) / 12)
        low_hz = a4_hz * 2 ** ((WEAK_FUNDAMENTAL_BELOW_MIDI - A4_MIDI) / 12)
        places = (hz[:, None] * 2 ** (np.array(SHARES) / 12)).reshape(-1)
        order = np.arange(1, HARMONICS + 1)[:, None]
        self._bins = np.round(order * places * self._fft_size / sample_rate_hz).astype(int)
        self._low = np.repeat(np.where(hz < low_hz, np.float32(SECOND_COUNTS), 0), len(SHARES))

    def begins(self, frame: int) -> int:
        """The sample at which a frame's long window begins; negative near the beginning."""
        return frame * self._hop - self._lead

    def strength(self, samples: Samples, first: int, end: int) -> Salience:
        """Summed harmonic amplitudes of each semitone about the frames from first up to end, shape
        (frames, semitones); before the sound and behind it there is silence."""
        strong = np.empty((end - first, self.semitones.size), np.float32)
        for place in range(first, end, BATCH_FRAMES):
            last = min(place + BATCH_FRAMES, end)
            strong[place - first : last - first] = self._batch(samples, place, last)
        return strong

    def _batch(self, samples: Samples, first: int, end: int) -> Salience:
        from_ = self.begins(first)
        to = self.begins(end - 1) + self.size
        about = samples_between(samples, from_, to)
        cut = np.lib.stride_tricks.sliding_window_view(about, self.size)[:: self._hop]
        spectrum = np.abs(fft.rfft(cut * self._shape, self._fft_size, axis=1))
        total = np.zeros((len(cut), self._bins.shape[1]), np.float32)
        bearing = np.zeros_like(total)
        for harmonic, bins in enumerate(self._bins, start=1):
            good = bins < spectrum.shape[1]
            values = spectrum[:, np.where(good, bins, 0)] * good
            total += np.float32(EACH_HARMONIC ** (harmonic - 1)) * values
            if harmonic == 1:
                bearing += values
            if harmonic == 2:
                bearing += self._low * values
        capped = np.minimum(total, np.float32(MOST_PER_FUNDAMENTAL) * bearing)
        return np.asarray(capped.reshape(len(cut), -1, len(SHARES)).max(axis=2))
