"""Which sound answers which note, where a whole line was not played."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.ear.alignment.align import align
from trainer.ear.segments.note_segment import NoteSegment

SCALE = np.array([60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 77, 76, 74, 72, 71, 69, 67, 65])
STEP_S = 0.25


@pytest.mark.parametrize("played", [1, 2, 5, 11, 19, 20])
def test_of_a_line_broken_off_what_was_played_counts(played: int) -> None:
    """None of it is taken for a wrong note further on, however much is left."""
    midi = np.tile(SCALE, 3).astype(float)
    lengths_s = np.full(midi.size, STEP_S)
    sounds = [
        NoteSegment(pitch, 0.5 + place * STEP_S, 0.7 + place * STEP_S, -20.0)
        for place, pitch in enumerate(midi[:played])
    ]
    answers = align(sounds, midi, np.cumsum(lengths_s) - STEP_S, lengths_s)
    assert [answer.index for answer in answers if answer.right] == list(range(played))
