"""Which notes are written an octave lower under an octave sign (8va), so that the staff stays low.

A passage goes under the sign by whole beats where it can, so that the sign does not begin in the
middle of a group.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from trainer.music.note import Note
from trainer.music.pitch import Pitch

LABEL = "8va"
LOWEST_LOWERED = Pitch.parse("C5").staff_step
"""Written lower than this, a note would come to stand under the staff."""


def lowered_notes(notes: Sequence[Note], highest_step: int) -> frozenset[int]:
    """Indices of the notes to write an octave lower, so that none stands above `highest_step`."""
    lowered: set[int] = set()
    for _, beat_notes in groupby(notes, key=lambda note: note.beat // 1):
        group = tuple(beat_notes)
        high = [note for note in group if note.pitch.staff_step > highest_step]
        whole = all(note.pitch.staff_step >= LOWEST_LOWERED for note in group)
        lowered.update(note.index for note in (group if high and whole else high))
    return frozenset(lowered)


def spans(notes: Sequence[Note], lowered: frozenset[int]) -> list[tuple[Note, Note]]:
    """First and last note under each octave sign."""
    runs = groupby(notes, key=lambda note: note.index in lowered)
    groups = [tuple(run) for under, run in runs if under]
    return [(group[0], group[-1]) for group in groups]
