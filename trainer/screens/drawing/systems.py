"""Breaking a round's music into systems: one line of music each, spaced to the beat."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.screens.drawing.note_values import written
from trainer.screens.drawing.staff_rows import signature_of

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


def systems(round_: Round, width: int) -> tuple[System, ...]:
    """The round's notes as systems of equal length in beats, each fitting into the width."""
    notes, signature = round_.printed, signature_of(round_)
    left = CLEF_COLUMNS + abs(signature) + BLANK_COLUMNS
    room = max(1, width - left - 1)
    spacing = _spacing(round_, room)
    end = math.ceil(round_.beats)
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


def _spacing(round_: Round, room: int) -> _Spacing:
    """Room for every sign that is written, the second half of a tie too."""
    places = [part.beat for part in written(round_).parts]
    closest = min([Fraction(1), *(after - place for place, after in pairwise(places))])
    grid = _grid(places)
    for note_columns in range(ROOMY_NOTE, 0, -1):
        narrowest = max(NARROWEST_BEAT, math.ceil(note_columns / closest))
        beat_columns = _multiple(narrowest, grid)
        if beat_columns <= room:
            break
    most = room // min(beat_columns, room)
    beats = _even_beats(round_.printed, most, round_.beats_per_bar)
    widest = math.floor(WIDEST_NOTE / closest)
    roomy = min(room // beats, max(widest, beat_columns))
    return _Spacing(max(1, roomy - roomy % grid or roomy), beats)


def _grid(places: Sequence[Fraction]) -> int:
    grid = math.lcm(*(place.denominator for place in places))
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
