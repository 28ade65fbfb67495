"""Breaking a round's music into systems: one line of music each, spaced to the beat."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.music.note import Note

CLEF_COLUMNS = 6
"""The clef and the blank after it."""
BLANK_COLUMNS = 2
"""After the signature, so that the first note's own accidental never joins it."""
ROOMY_NOTE = 4
"""Columns from one note to the next: an accidental, the head's two, a blank."""
WIDEST_NOTE = 8
NARROWEST_BEAT = 8
"""A beat is never narrower, so that a held note has room for its pitch trail."""
FINEST_GRID = 24
"""Beats are cut into at most so many even columns; odder divisions are rounded."""


@dataclass(frozen=True)
class System:
    """One line of music."""

    notes: tuple[Note, ...]
    start: Fraction
    """Beat, counted from the round's first."""
    beats: Fraction
    left: int
    """Column of its first beat."""
    beat_columns: int
    held: Note | None = None
    """A note begun in an earlier system and held into this one."""

    @property
    def sounding(self) -> tuple[Note, ...]:
        """Every note that sounds in this system."""
        return self.notes if self.held is None else (self.held, *self.notes)

    @property
    def end(self) -> Fraction:
        """The beat after its last."""
        return self.start + self.beats

    @property
    def right(self) -> int:
        """Column after its last beat."""
        return self.left + round(self.beats * self.beat_columns)

    def column(self, beat: Fraction | float) -> int:
        """Where a beat stands; a note's head begins one column later."""
        return self.left + round((beat - self.start) * self.beat_columns)

    def holds(self, beat: Fraction | float) -> bool:
        """Whether a moment of the round falls into this system."""
        return self.start <= beat < self.end


@dataclass(frozen=True)
class _Spacing:
    beat_columns: int
    beats: int


def systems(
    notes: tuple[Note, ...], beats_per_bar: int, signature: int, width: int
) -> tuple[System, ...]:
    """The notes as systems of equal length in beats, each fitting into the width."""
    left = CLEF_COLUMNS + abs(signature) + BLANK_COLUMNS
    room = max(1, width - left - 1)
    spacing = _spacing(notes, beats_per_bar, room)
    end = math.ceil(notes[-1].beat + notes[-1].length)
    return tuple(
        System(
            notes=tuple(note for note in notes if start <= note.beat < start + spacing.beats),
            start=Fraction(start),
            beats=Fraction(min(spacing.beats, end - start)),
            left=left,
            beat_columns=spacing.beat_columns,
            held=next((n for n in notes if n.beat < start < n.beat + n.length), None),
        )
        for start in range(0, end, spacing.beats)
    )


def _spacing(notes: tuple[Note, ...], beats_per_bar: int, room: int) -> _Spacing:
    steps = [after.beat - note.beat for note, after in pairwise(notes)]
    closest = min([Fraction(1), *steps])
    grid = _grid(notes)
    for note_columns in range(ROOMY_NOTE, 0, -1):
        narrowest = max(NARROWEST_BEAT, math.ceil(note_columns / closest))
        beat_columns = _multiple(narrowest, grid)
        if beat_columns <= room:
            break
    beats = _even_beats(notes, room // min(beat_columns, room), beats_per_bar)
    widest = math.floor(WIDEST_NOTE / closest)
    roomy = min(room // beats, max(widest, beat_columns))
    return _Spacing(max(1, roomy - roomy % grid or roomy), beats)


def _grid(notes: tuple[Note, ...]) -> int:
    grid = math.lcm(*(note.beat.denominator for note in notes))
    return grid if grid <= FINEST_GRID else 1


def _multiple(least: int, of: int) -> int:
    return math.ceil(least / of) * of


def _even_beats(notes: tuple[Note, ...], most: int, beats_per_bar: int) -> int:
    """Whole bars where they fit, else an even part of the bar; no held note cut where possible."""
    wholes = list(range(most - most % beats_per_bar, 0, -beats_per_bar))
    parts = [beats for beats in range(beats_per_bar - 1, 0, -1) if beats <= most]
    even = [beats for beats in parts if beats_per_bar % beats == 0]
    candidates = wholes or even or [1]
    return next((beats for beats in candidates if not _cuts(notes, beats)), candidates[0])


def _cuts(notes: tuple[Note, ...], beats: int) -> bool:
    return any(note.beat % beats + note.length > beats for note in notes)
