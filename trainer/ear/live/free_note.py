"""The note that sounds now where nothing is asked: quick to name, steadier the longer it stands.

aubio's pitch, put right by phases (`free_pitch.py`), is averaged under a Hann window over the note
so far, at most AVERAGED_S: a vibrato of four turns a second and more comes to less than a tenth of
its width there (the window's first zero lies at 2 / AVERAGED_S; Harris 1978, Proc. IEEE 66:51).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.free_pitch import FreePitch, PitchReading
from trainer.ear.live.awaited_tone import QUIETEST_DB, SURE, cents_apart

AVERAGED_S = 0.8
"""Long enough for a steady figure, short enough to follow a headjoint being moved."""
ANOTHER_CENTS = 60.0
"""A pitch this far from the note's own is another note, or a slip."""
LASTING_S = 0.04
"""Another note must have stood so long; a passing one of a fast arpeggio stands 90 ms."""
ATTACK_S = 0.06
"""A note's beginning scoops, and is left out of its figure once there is more."""
SILENT_S = 0.25
"""After so long without a tone the note is over."""


@dataclass(frozen=True)
class FreeNote:
    """What sounds now, as sure as it is by now."""

    hz: float
    """Averaged over the note so far, at most AVERAGED_S."""
    stands_s: float
    """How long it has stood."""


class FreeNotes:
    """Follows a growing stream; holds AVERAGED_S of readings."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._pitch = FreePitch(sample_rate_hz)
        self._note: deque[PitchReading] = deque()
        """The readings of the note that stands, newest last."""
        self._began_s = 0.0
        self._another: list[PitchReading] = []
        """Readings that may become the next note."""

    def feed(self, samples: Samples) -> FreeNote | None:
        """The note that stands after these samples, shape (samples,); None in silence."""
        for reading in self._pitch.feed(samples):
            self._take(reading)
        return self._standing()

    def _take(self, reading: PitchReading) -> None:
        if not _is_tone(reading):
            self._another = []
        elif self._note and _cents(reading, self._note) <= ANOTHER_CENTS:
            self._another = []
            self._note.append(reading)
        else:
            self._may_begin(reading)
        while self._note and reading.time_s - self._note[0].time_s > AVERAGED_S:
            self._note.popleft()
        if self._note and reading.time_s - self._note[-1].time_s > SILENT_S:
            self._note.clear()

    def _may_begin(self, reading: PitchReading) -> None:
        """Another note begins once it has lasted."""
        if self._another and _cents(reading, self._another) > ANOTHER_CENTS:
            self._another = []
        self._another.append(reading)
        if reading.time_s - self._another[0].time_s >= LASTING_S:
            self._note = deque(self._another)
            self._began_s = self._another[0].time_s
            self._another = []

    def _standing(self) -> FreeNote | None:
        if not self._note:
            return None
        times = np.array([reading.time_s for reading in self._note])
        pitches = np.log2([reading.hz or 1.0 for reading in self._note])
        settled = times - self._began_s >= ATTACK_S
        if settled.any():
            times, pitches = times[settled], pitches[settled]
        weights = np.hanning(times.size + 2)[1:-1]
        hz = 2 ** float(np.average(pitches, weights=weights))
        return FreeNote(hz, self._note[-1].time_s - self._began_s)


def _is_tone(reading: PitchReading) -> bool:
    return reading.hz is not None and reading.confidence >= SURE and reading.level_db >= QUIETEST_DB


def _cents(reading: PitchReading, note: deque[PitchReading] | list[PitchReading]) -> float:
    """How far a reading lies from a note's newest ones."""
    newest = [each.hz for each in list(note)[-9:] if each.hz is not None]
    middle = sorted(newest)[len(newest) // 2]
    assert reading.hz is not None
    return cents_apart(reading.hz, middle)
