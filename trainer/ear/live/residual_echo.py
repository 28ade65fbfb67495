"""What sounds beside the player while a round is followed: what may be left of the partner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.ear.analysis.frames import SILENCE_DB, Samples, Track, frames

RINGS_FRAMES = 12
"""A room rings on for 60 ms at least; our own estimate."""
SAME_SEMITONES = 0.65
"""Nearer than this the pitch may be the partner's."""


@dataclass(frozen=True)
class ResidualEcho:
    """Beside the player at each frame, or shortly before."""

    level_db: Track
    """The highest, shape (frames,)."""
    midi: NDArray[np.float64]
    """Pitches, NaN where there is none, shape (frames, RINGS_FRAMES + 1)."""

    def has(self, midi: Track) -> NDArray[np.bool_]:
        """Whether the pitch at each frame is one of those beside."""
        return np.asarray((np.abs(self.midi - midi[:, None]) < SAME_SEMITONES).any(axis=1))


class ResidualEchoStream:
    """Follows it through a round."""

    def __init__(self, sample_rate_hz: int, a4_hz: float) -> None:
        self._rate = sample_rate_hz
        self._a4_hz = a4_hz
        self._levels: Track = np.full(RINGS_FRAMES, SILENCE_DB)
        self._midi: Track = np.full(RINGS_FRAMES, np.nan)
        self._quiet = True

    def feed(self, cut: Samples, count: int) -> ResidualEcho:
        """The sound beside the player in the frames that follow, as many as that."""
        if self._quiet and not cut.any():
            return ResidualEcho(
                np.full(count, SILENCE_DB), np.full((count, RINGS_FRAMES + 1), np.nan)
            )
        levels, midi = np.full(count, SILENCE_DB), np.full(count, np.nan)
        if cut.any():
            track = frames(cut, self._rate, self._a4_hz)
            levels, midi = track.level_db, track.midi
        levels = np.concatenate([self._levels, levels])
        midi = np.concatenate([self._midi, midi])
        self._levels, self._midi = levels[-RINGS_FRAMES:], midi[-RINGS_FRAMES:]
        self._quiet = bool((self._levels <= SILENCE_DB).all())
        lately = np.lib.stride_tricks.sliding_window_view
        return ResidualEcho(
            lately(levels, RINGS_FRAMES + 1).max(axis=1), lately(midi, RINGS_FRAMES + 1)
        )
