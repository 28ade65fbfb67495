"""The notes asked for, as what is heard is held against them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trainer.ear.alignment.align import MISSED, Answer
from trainer.ear.analysis.frames import Track
from trainer.music.note import Note, Start
from trainer.music.ornaments import Realised
from trainer.music.tuning import Tuning

LEFT_OUT = 0.02
"""Cost of a grace note or a turn of a trill that isn't there: nobody counts them. Our own
estimate."""


@dataclass(frozen=True)
class ExpectedNotes:
    """The expected notes as arrays, each of shape (notes,)."""

    notes: tuple[Note, ...]
    midi: Track
    """Sounding pitch in the tuning asked for."""
    beats_s: Track
    """From the first beat, at the tempo asked for."""
    lengths_s: Track
    starts_known: bool
    """Whether the notes say how they should start."""
    missed: Track
    """What it costs to leave each out."""

    @property
    def half_steps(self) -> frozenset[int]:
        """MIDI numbers of the lower of two notes next to each other that lie a half-step apart."""
        near = np.round(self.midi).astype(int)
        steps = np.diff(near)
        return frozenset(np.minimum(near[:-1], near[1:])[np.abs(steps) == 1].tolist())

    def part(self, inside: slice) -> ExpectedNotes:
        """Some of the notes that follow on each other."""
        return replace(
            self,
            notes=self.notes[inside],
            midi=self.midi[inside],
            beats_s=self.beats_s[inside],
            lengths_s=self.lengths_s[inside],
            missed=self.missed[inside],
        )

    def next_ones(self, first: int, lasts_s: float) -> ExpectedNotes:
        """The notes from one place on that are due within so long after that one."""
        later_s = self.beats_s[first:] - self.beats_s[first : first + 1]
        return self.part(slice(first, first + int(np.count_nonzero(later_s < lasts_s))))

    def at_pace(self, pace: float) -> ExpectedNotes:
        """The notes as they come when so many seconds are played for each one asked."""
        return replace(self, beats_s=pace * self.beats_s, lengths_s=pace * self.lengths_s)

    def start_of(self, answer: Answer) -> Start | None:
        """How the note should start that a sound answers; None where that isn't known."""
        if answer.index is None or not self.starts_known:
            return None
        return self.notes[answer.index].start


def expected_notes(
    sounded: Realised, tempo_bpm: float, tuning: Tuning, *, starts_known: bool
) -> ExpectedNotes:
    """The expected notes at a tempo and in a tuning."""
    notes = sounded.notes
    beat_s = 60.0 / tempo_bpm
    return ExpectedNotes(
        notes=notes,
        midi=np.array([tuning.placed_midi(note.pitch) for note in notes]),
        beats_s=np.array([float(note.beat) * beat_s for note in notes]),
        lengths_s=np.array([float(note.length) * beat_s for note in notes]),
        starts_known=starts_known,
        missed=np.where(np.array(sounded.may_be_left_out, dtype=bool), LEFT_OUT, MISSED),
    )
