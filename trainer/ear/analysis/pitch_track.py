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

from trainer.ear.analysis.frames import Frames, Track
from trainer.ear.analysis.salience import (
    BELOW_LOUDEST_DB,
    EACH_HARMONIC,
    PERIOD_CLEAR,
    WEAK_FUNDAMENTAL_BELOW_MIDI,
    Mask,
    Salience,
)

WEAKEST_DB = -20.0
"""A semitone with nothing in it is no worse than this."""
CHANGE_DB = 30.0
PERIOD_DB = 40.0
"""Per unit of clarity above that: how much a clear period speaks against every other semitone."""
BORNE_OUT = 0.4
"""A clear period counts only where its harmonics stand this high against the strongest note's:
two tones together often have a period of their own."""
ODD_SHARE = 0.06
"""Odd harmonics from which on a low note is heard in its octave's place."""
TONE_CLEAR = 0.5
"""Below this clarity silence is likelier than a tone."""
SILENCE_PER_CLARITY_DB = 40.0
"""... by so much for each unit of clarity."""
SILENT_DB = 20.0
KEPT_DB = 1000.0
"""A stretch looked at again begins and ends as it did."""
DUE_DB = 8.0
"""A note that is due needs so much less to be heard, as for a listener who knows the piece; one
that doesn't sound stands 10 to 20 dB below those that do."""
CLEAR_PERIOD = 0.93
"""A frame this clear needs no help: what it says stands, wrong note or slip of an octave."""


@dataclass(frozen=True)
class PitchTrack:
    """The semitone that sounds in each frame, shape (frames,)."""

    midi: Track
    """Centre of the semitone on the player's own grid; NaN where no note sounds."""

    def runs(self) -> list[tuple[int, int]]:
        """First and end frame of each stretch on one semitone."""
        key = np.where(np.isfinite(self.midi), self.midi, -1.0)
        edges = np.flatnonzero(np.diff(key, prepend=-2.0, append=-2.0))
        return [(int(first), int(end)) for first, end in pairwise(edges) if key[first] >= 0]


class PitchTracker:
    """Follows a take frame by frame; the course so far can be read at any time."""

    def __init__(self, semitones: Track) -> None:
        self._semitones = np.append(semitones, np.nan)
        self._total: Salience = np.zeros(0, np.float32)
        self._came_from: list[NDArray[np.int16]] = []

    def feed(self, scores: Salience) -> None:
        """Scores of the frames that follow, shape (frames, semitones + 1)."""
        came_from, self._total = _forward(scores, self._total)
        self._came_from.append(came_from)

    def last(self, pieces: int) -> PitchTrack:
        """The most likely course through the last pieces fed."""
        came_from = np.concatenate(self._came_from[-pieces:])
        return PitchTrack(self._semitones[_traced(came_from, int(self._total.argmax()))])


def revised(
    course: PitchTrack,
    frames: Frames,
    scores: Salience,
    semitones: Track,
    due: Sequence[tuple[int, int, float]],
    stretches: Sequence[tuple[int, int]],
) -> PitchTrack:
    """The course looked at again where something was missed or wrong, with an ear for what is due.

    due: first and end frame and MIDI number of the notes that should sound; stretches: first and
    end frame of what is looked at again, in order and apart.

    Scores have the shape (frames, semitones + 1), semitones (semitones,).
    """
    midi = course.midi.copy()
    states = np.append(semitones, np.nan)
    for first, end in stretches:
        again = scores[first:end].copy()
        unclear = (frames.clarity[first:end] < CLEAR_PERIOD).astype(np.float32)
        for from_, to, pitch in due:
            if to <= first or from_ >= end:
                continue
            inside = slice(max(from_ - first, 0), max(to - first, 0))
            place = int(np.abs(semitones - pitch).argmin())
            again[inside, place] += DUE_DB * unclear[inside]
        again[[0, -1]] += KEPT_DB * _is_state(states, course.midi[[first, end - 1]])
        came_from, total = _forward(again, np.zeros(0, np.float32))
        midi[first:end] = states[_traced(came_from, int(total.argmax()))]
    return PitchTrack(midi)


def _is_state(states: Track, midi: Track) -> Salience:
    same = (states[None, :] == midi[:, None]) | (np.isnan(states) & np.isnan(midi)[:, None])
    return np.asarray(same, np.float32)


def frame_scores(
    frames: Frames, strong: Salience, played: Salience, semitones: Track, loud_db: float
) -> Salience:
    """How well each semitone, and last of all silence, explains each frame, in dB.

    `strong`: the semitones' strengths; `played`: the same less what rings in them; loud_db: the
    level of this player's loud notes.

    The result has the shape (frames, semitones + 1).
    """
    best = np.maximum(played.max(axis=1, keepdims=True), 1e-12)
    scores = np.empty((strong.shape[0], strong.shape[1] + 1), np.float32)
    scores[:, :-1] = np.maximum(20 * np.log10(np.maximum(played / best, 1e-6)), WEAKEST_DB)
    clear_db = PERIOD_DB * np.maximum(frames.clarity - PERIOD_CLEAR, 0.0)
    nearest = np.round(np.nan_to_num(frames.midi) - semitones[0]).astype(int)
    inside = (clear_db > 0) & (nearest >= 0) & (nearest < semitones.size)
    nearest = _octave_below(nearest, strong, semitones, inside)
    borne = played[np.arange(len(strong)), np.where(inside, nearest, 0)]
    inside &= borne > BORNE_OUT * best[:, 0]
    scores[:, :-1] -= np.where(inside, clear_db, 0.0)[:, None]
    rows = np.flatnonzero(inside)
    scores[rows, nearest[rows]] = 0.0
    unclear_db = SILENCE_PER_CLARITY_DB * (TONE_CLEAR - frames.clarity)
    scores[:, -1] = np.clip(unclear_db, -SILENT_DB, SILENT_DB)
    toneless = ~np.isfinite(frames.midi) | (frames.level_db < loud_db - BELOW_LOUDEST_DB)
    scores[toneless, -1] = 2 * SILENT_DB
    return scores


def _octave_below(
    nearest: NDArray[np.int64], strong: Salience, semitones: Track, inside: Mask
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


def _forward(scores: Salience, total: Salience) -> tuple[NDArray[np.int16], Salience]:
    """For each frame and state the state before it on the best way there, and the totals at the
    end; each change of state costs the same. `total`: of the frames before, empty for none."""
    count, states = scores.shape
    stays = np.empty((count, states), bool)
    best = np.empty((count, 1), np.int16)
    if total.size == 0:
        total = np.zeros(states, np.float32)
    for row in range(count):
        best[row] = highest = total.argmax()
        changed = total[highest] - CHANGE_DB
        np.greater_equal(total, changed, out=stays[row])
        total = np.maximum(total, changed) + scores[row]
    came_from = np.where(stays, np.arange(states, dtype=np.int16), best)
    return came_from, total - total.max()


def _traced(came_from: NDArray[np.int16], last: int) -> NDArray[np.int64]:
    """The way back from the last state."""
    path = np.empty(len(came_from), np.int64)
    path[-1] = last
    for row in range(len(came_from) - 1, 0, -1):
        path[row - 1] = last = came_from.item(row, last)
    return path
