"""Notes that a room hides: not heard is not missed, and what rings on is no extra note."""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.made_flute import as_expected
from trainer.ear.alignment.align import Answer
from trainer.ear.alignment.covered_notes import covered_notes
from trainer.ear.alignment.expected_times import Due
from trainer.ear.analysis.frames import Frames, Track
from trainer.ear.hear import hear
from trainer.ear.heard import State
from trainer.ear.segments.note_segment import NoteSegment
from trainer.music.tuning import Tuning

LOUD_DB, SOFT_DB = -20.0, -40.0
DUE = [Due(79.0, 0.0, 0.25), Due(77.0, 0.25, 0.5), Due(77.0, 0.5, 0.75)]
"""The second of three notes stays away; the third has its pitch."""


RATE = 44100


def _tone(midi: int, levels: Track) -> Track:
    """Four harmonics, each half as strong as the one below it; levels: of each sample, linear."""
    turns = 2 * np.pi * Tuning().midi_hz(midi) / RATE * np.arange(levels.size)
    return np.asarray(levels * sum(0.1 / 2**k * np.sin((k + 1) * turns) for k in range(4)))


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


@pytest.mark.parametrize("anew", [False, True])
def test_a_note_that_comes_through_the_next_one_was_not_played_again(anew: bool) -> None:
    """G5 rings under D6 and beats by 8 dB, D6 by 14: in a live room either does so with its own
    echoes. Or it is struck anew, when it has long died away."""
    time_s = np.arange(round(1.4 * RATE)) / RATE - 0.3
    again = (time_s > 0.42) & (time_s < 0.52)
    rings = np.where(again, 0.5, 0.0 if anew else 0.2 * (time_s < 0.65))
    first = _tone(79, (time_s > 0) * np.where(time_s < 0.3, 1.0, rings))
    second = _tone(86, np.where(again, 0.1, 0.5) * ((time_s > 0.3) & (time_s < 0.65)))
    third = _tone(89, 0.5 * ((time_s > 0.65) & (time_s < 0.95)))
    noise = 1e-4 * np.random.default_rng(2).standard_normal(time_s.size)
    sound = (first + second + third + noise).astype(np.float32)
    take = hear(sound, RATE, as_expected([79, 86, 89]), 50, Tuning(), 0.3)
    assert bool(take.count(State.EXTRA)) == anew
