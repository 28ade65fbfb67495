"""Which semitone sounds in each frame: the most likely course through a take.

Where a hall still rings with the last note, two tones sound at once and no period fits both. A
second look then decides: how strong each semitone's harmonics stand in a longer window, and that
notes go on rather than change. The course is found by dynamic programming (Viterbi 1967, IEEE
Trans. Inf. Theory 13:260). Weights are our own estimate, in decibels per frame.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft, signal

from trainer.ear.frames import BATCH_FRAMES, HIGHEST_HZ, LOWEST_HZ, Frames, Samples, Track
from trainer.music.tuning import A4_MIDI

Mask = NDArray[np.bool_]
Strength = NDArray[np.float32]

LONG_WINDOW_S = 0.046
"""Long enough to keep a whole tone apart from C5 up, and its upper harmonics below."""
PADDED_TO_S = 0.085
HARMONICS = 6
EACH_HARMONIC = 0.8
"""Weight of a harmonic against the one below it: less than 1, so that no note is taken for the
octave below it; near 1, as the lowest notes have a weak fundamental."""
WEAK_FUNDAMENTAL_BELOW_MIDI = 64.5
"""C4 to E4 often have their second harmonic above the first, up to 10 dB (SHARC, flute)."""
MOST_PER_FUNDAMENTAL = 6.0
"""A note's harmonics together against its first; what stands above that are other notes that
happen to be harmonics of it, like a fifth ringing together."""
SECOND_COUNTS = 0.15
"""How much of the second harmonic may stand in for the first, in the low notes."""
SHARES = (-1 / 3, 0.0, 1 / 3)
"""Places within a semitone at which its strength is looked for."""
WEAKEST_DB = -20.0
CHANGE_DB = 30.0
PERIOD_CLEAR = 0.75
PERIOD_DB = 40.0
"""Per unit of clarity above that: how much a clear period speaks against every other semitone."""
BORNE_OUT = 0.4
"""A clear period counts only where its harmonics stand this high against the strongest note's:
two tones together often have a period of their own."""
ODD_SHARE = 0.06
TONE_CLEAR = 0.5
SILENCE_PER_CLARITY_DB = 40.0
SILENT_DB = 20.0
BELOW_LOUDEST_DB = 42.0
"""What lies further below the loud notes is no note of this player: room, neighbours, hiss."""


@dataclass(frozen=True)
class Course:
    """The semitone that sounds in each frame, shape (frames,)."""

    midi: Track
    """Centre of the semitone on the player's own grid; NaN where no note sounds."""

    def runs(self) -> list[tuple[int, int]]:
        """First and end frame of each stretch on one semitone."""
        key = np.where(np.isfinite(self.midi), self.midi, -1.0)
        edges = np.flatnonzero(np.diff(key, prepend=-2.0, append=-2.0))
        return [(int(first), int(end)) for first, end in pairwise(edges) if key[first] >= 0]


def course(samples: Samples, sample_rate_hz: int, frames: Frames, a4_hz: float) -> Course:
    """Follow a take through its frames."""
    off_grid = _off_grid(frames)
    lowest = int(np.ceil(A4_MIDI + 12 * np.log2(LOWEST_HZ / a4_hz)))
    highest = int(A4_MIDI + 12 * np.log2(HIGHEST_HZ / a4_hz))
    semitones = np.arange(lowest, highest + 1, dtype=np.float64) + off_grid
    scores = _scores(samples, sample_rate_hz, frames, semitones, a4_hz)
    path = _best_path(scores)
    return Course(np.append(semitones, np.nan)[path])


def tone_frames(frames: Frames, clear: float) -> Mask:
    """True where a frame holds a tone of this player."""
    toned = (frames.clarity > clear) & np.isfinite(frames.midi)
    if not toned.any():
        return toned
    loud_db = np.percentile(frames.level_db[toned], 90)
    return np.asarray(toned & (frames.level_db > loud_db - BELOW_LOUDEST_DB))


def _off_grid(frames: Frames) -> float:
    """How far the player as a whole stands from the equal-tempered grid, in semitones."""
    midi = frames.midi[tone_frames(frames, PERIOD_CLEAR)]
    if midi.size == 0:
        return 0.0
    return float(np.angle(np.exp(2j * np.pi * midi).mean()) / (2 * np.pi))


def _scores(
    samples: Samples, sample_rate_hz: int, frames: Frames, semitones: Track, a4_hz: float
) -> Strength:
    """How well each semitone, and last of all silence, explains each frame, in dB."""
    hz = a4_hz * 2 ** ((semitones - A4_MIDI) / 12)
    low_hz = a4_hz * 2 ** ((WEAK_FUNDAMENTAL_BELOW_MIDI - A4_MIDI) / 12)
    strong = _strength(samples, sample_rate_hz, frames, hz, low_hz)
    best = np.maximum(strong.max(axis=1, keepdims=True), 1e-12)
    scores = np.empty((strong.shape[0], strong.shape[1] + 1), np.float32)
    scores[:, :-1] = np.maximum(20 * np.log10(np.maximum(strong / best, 1e-6)), WEAKEST_DB)
    clear_db = PERIOD_DB * np.maximum(frames.clarity - PERIOD_CLEAR, 0.0)
    nearest = np.round(np.nan_to_num(frames.midi) - semitones[0]).astype(int)
    inside = (clear_db > 0) & (nearest >= 0) & (nearest < semitones.size)
    nearest = _octave_below(nearest, strong, semitones, inside)
    borne = strong[np.arange(len(strong)), np.where(inside, nearest, 0)]
    inside &= borne > BORNE_OUT * best[:, 0]
    scores[:, :-1] -= np.where(inside, clear_db, 0.0)[:, None]
    rows = np.flatnonzero(inside)
    scores[rows, nearest[rows]] = 0.0
    unclear_db = SILENCE_PER_CLARITY_DB * (TONE_CLEAR - frames.clarity)
    scores[:, -1] = np.clip(unclear_db, -SILENT_DB, SILENT_DB)
    scores[~tone_frames(frames, 0.0), -1] = 2 * SILENT_DB
    return scores


def _octave_below(
    nearest: NDArray[np.int64], strong: Strength, semitones: Track, inside: Mask
) -> NDArray[np.int64]:
    """Places of the periods, an octave lower where a low note's odd harmonics say so.

    A room can swallow the weak fundamental of the lowest notes, and half their period then fits.
    """
    below = nearest - 12
    low = (
        inside
        & (below >= 0)
        & (semitones[np.clip(below, 0, semitones.size - 1)] < WEAK_FUNDAMENTAL_BELOW_MIDI)
    )
    rows = np.arange(len(strong))
    upper = strong[rows, np.where(low, nearest, 0)]
    lower = strong[rows, np.where(low, below, 0)]
    odd = lower - EACH_HARMONIC * upper
    return np.where(low & (odd > ODD_SHARE * upper), below, nearest)


def _strength(
    samples: Samples, sample_rate_hz: int, frames: Frames, hz: Track, low_hz: float
) -> Strength:
    """Summed harmonic amplitudes of each semitone about each frame, shape (frames, semitones)."""
    window = round(LONG_WINDOW_S * sample_rate_hz)
    hop = round(frames.hop_s * sample_rate_hz)
    lead = round(window / 2 - frames.first_s * sample_rate_hz)
    count = frames.midi.size
    tail = max(0, (count - 1) * hop + window - lead - samples.size)
    cut = np.lib.stride_tricks.sliding_window_view(np.pad(samples, (lead, tail)), window)
    cut = cut[: (count - 1) * hop + 1 : hop]
    size = fft.next_fast_len(round(PADDED_TO_S * sample_rate_hz), real=True)
    places = hz[:, None] * 2 ** (np.array(SHARES) / 12)
    low = np.where(hz < low_hz, np.float32(SECOND_COUNTS), np.float32(0))
    shape = signal.windows.hann(window, sym=False).astype(np.float32)
    strong = np.empty((count, hz.size), np.float32)
    for first in range(0, count, BATCH_FRAMES):
        spectrum = np.abs(fft.rfft(cut[first : first + BATCH_FRAMES] * shape, size, axis=1))
        total = np.zeros((len(spectrum), *places.shape), np.float32)
        bearing = np.zeros_like(total)
        for harmonic in range(1, HARMONICS + 1):
            bins = np.round(harmonic * places * size / sample_rate_hz).astype(int)
            good = bins < spectrum.shape[1]
            values = spectrum[:, np.where(good, bins, 0)] * good
            total += np.float32(EACH_HARMONIC ** (harmonic - 1)) * values
            if harmonic == 1:
                bearing += values
            if harmonic == 2:
                bearing += low[:, None] * values
        capped = np.minimum(total, np.float32(MOST_PER_FUNDAMENTAL) * bearing)
        strong[first : first + BATCH_FRAMES] = capped.max(axis=2)
    return strong


def _best_path(scores: Strength) -> NDArray[np.int64]:
    """The path of highest total score, each change of state costing the same."""
    count, states = scores.shape
    came_from = np.empty((count, states), np.int16)
    own = np.arange(states, dtype=np.int16)
    total = scores[0].copy()
    for row in range(1, count):
        best = int(total.argmax())
        changed = total[best] - CHANGE_DB
        stays = total >= changed
        came_from[row] = np.where(stays, own, best)
        total = np.where(stays, total, changed) + scores[row]
    path = np.empty(count, np.int64)
    path[-1] = int(total.argmax())
    for row in range(count - 1, 0, -1):
        path[row - 1] = came_from[row, path[row]]
    return path
