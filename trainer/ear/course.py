"""Which semitone sounds in each frame: the most likely course through a take.

A clear period decides; where a hall rings, how strongly each semitone's harmonics stand in a
longer window, and that notes go on rather than change. The course is found by dynamic programming
(Viterbi 1967, IEEE Trans. Inf. Theory 13:260). Weights are our own estimate, in decibels per frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trainer.ear.features import Features
from trainer.ear.frames import Track
from trainer.ear.strength import (
    EACH_HARMONIC,
    PERIOD_CLEAR,
    WEAK_FUNDAMENTAL_BELOW_MIDI,
    Mask,
    Strength,
    tone_frames,
)

WEAKEST_DB = -20.0
CHANGE_DB = 30.0
PERIOD_DB = 40.0
"""Per unit of clarity above that: how much a clear period speaks against every other semitone."""
BORNE_OUT = 0.4
"""A clear period counts only where its harmonics stand this high against the strongest note's:
two tones together often have a period of their own."""
ODD_SHARE = 0.06
TONE_CLEAR = 0.5
SILENCE_PER_CLARITY_DB = 40.0
SILENT_DB = 20.0
DUE_DB = 6.0
"""A note that is due needs so much less to be heard, as for a listener who knows the piece; one
that doesn't sound stands 10 to 20 dB below those that do."""


@dataclass(frozen=True)
class Due:
    """When a note should sound, going by those around it."""

    midi: float
    from_s: float
    to_s: float


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


def course(features: Features, due: Sequence[Due] = ()) -> Course:
    """Follow a take through its frames."""
    scores = _scores(features)
    for note in due:
        first, end = features.frames.at(note.from_s), features.frames.at(note.to_s) + 1
        scores[first:end, np.abs(features.semitones - note.midi).argmin()] += DUE_DB
    path = _best_path(scores)
    return Course(np.append(features.semitones, np.nan)[path])


def _scores(features: Features) -> Strength:
    """How well each semitone, and last of all silence, explains each frame, in dB."""
    frames, strong, semitones = features.frames, features.strength, features.semitones
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
