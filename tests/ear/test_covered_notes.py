"""A soft note after a loud one that rings on: not heard is not missed."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.ear.alignment.align import Answer
from trainer.ear.alignment.covered_notes import covered_notes
from trainer.ear.alignment.expected_times import Due
from trainer.ear.analysis.frames import Frames
from trainer.ear.segments.note_segment import NoteSegment

LOUD_DB, SOFT_DB = -20.0, -40.0
DUE = [Due(79.0, 0.0, 0.25), Due(77.0, 0.25, 0.5), Due(77.0, 0.5, 0.75)]
"""The second of three notes stays away; the third has its pitch."""


def _covered(before_db: float, falls_db_s: float, *wrong: NoteSegment) -> frozenset[int]:
    """Where the note before falls so fast from the moment on that the second one is due, or
    another is heard in its place."""
    times_s = np.arange(0.0, 0.75, 0.01)
    levels_db = before_db - falls_db_s * np.maximum(times_s - 0.25, 0.0)
    frames = Frames(0.01, 0.0, np.full(75, 79.0), np.ones(75), levels_db)
    found = [NoteSegment(79.0, 0.0, 0.4, before_db), NoteSegment(77.0, 0.5, 0.75, SOFT_DB)]
    answers = [Answer(0, 0), Answer(1, 2), *(Answer(2, 1, wrong=True) for _ in wrong)]
    return covered_notes(frames, [*found, *wrong], answers, DUE)


def test_what_a_loud_note_rings_over_is_covered() -> None:
    """A reverberation time of 0.6 s falls by 100 dB a second."""
    assert _covered(LOUD_DB, falls_db_s=100) == {1}


@pytest.mark.parametrize(
    ("before_db", "falls_db_s"),
    [(LOUD_DB, 400), (SOFT_DB + 3, 0)],
    ids=["it would have been heard", "a note as soft as it was held on"],
)
def test_what_would_have_been_heard_is_missed(before_db: float, falls_db_s: float) -> None:
    assert _covered(before_db, falls_db_s) == frozenset()


def test_a_note_in_whose_place_another_was_played_is_missed() -> None:
    wrong = NoteSegment(78.0, 0.25, 0.5, LOUD_DB)
    assert _covered(LOUD_DB, 100, wrong) == frozenset()
