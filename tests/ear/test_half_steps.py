"""Half-steps that a room mixes are two notes each; one note that sways about a half-step is one.

The rooms are made of Polack's diffuse field (see `steady_tones`), in which two notes a half-step
apart ring together; where each begins is known exactly.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from tests.ear.made_flute import as_expected
from tests.ear.steady_tones import RATE, Sound, in_a_row, in_diffuse_room, measured, steady
from trainer.ear.alignment.align import Answer
from trainer.ear.alignment.asked_notes import expected_notes
from trainer.ear.alignment.heard_notes import in_order
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, State, Take
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import note_segments
from trainer.music.note import Start
from trainer.music.ornaments import realised
from trainer.music.tuning import Tuning

TRILL = [75, 76] * 4
NOTE_S = 0.15


def _heard(sound: Sound, midis: list[int]) -> Take:
    expected = as_expected(midis, Start.SLURRED)
    bpm = 60 * float(expected[0].length) / NOTE_S
    noise = np.random.default_rng(3).standard_normal(sound.size) * 10**-3.6
    samples = (sound + noise).astype(np.float32)
    return hear(samples, RATE, expected, bpm, Tuning(), 0.4)


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_half_steps_that_are_asked_for_are_each_heard_in_a_live_room(seed: int) -> None:
    """A trill written out in 1.2 s, with more of the room in it than comes directly."""
    trill = in_a_row(*(steady(midi, NOTE_S) for midi in TRILL))
    take = _heard(0.5 * in_diffuse_room(trill, 1.2, 3.0, seed), TRILL)
    assert [note.state for note in take.notes] == [State.PLAYED] * len(TRILL)


def _swaying(midi: float, seconds: float, cents: float) -> Sound:
    time_s = np.arange(round(seconds * RATE)) / RATE
    hz = 440 * 2 ** ((midi + cents / 100 * np.sin(2 * np.pi * 5 * time_s) - 69) / 12)
    turns = 2 * np.pi * np.cumsum(hz) / RATE
    edge = np.minimum(1, np.minimum(time_s, time_s[::-1]) / 0.02)
    return np.asarray(0.1 * (np.sin(turns) + 0.6 * np.sin(2 * turns)) * edge)


def test_a_note_that_sways_over_the_border_of_an_asked_half_step_is_one() -> None:
    """Sharp by nearly half a semitone; listeners take the mean of a vibrato for its pitch (Brown &
    Vaughn 1996, JASA 100:1728)."""
    midis = [79, 82, 86, 83, 82]
    line = [steady(midi, NOTE_S) for midi in midis]
    line[1] = _swaying(82.45, 6 * NOTE_S, 40)
    sound = in_a_row(*line)
    features = measured(sound)
    assert len(note_segments(features, features.course, frozenset({82}))) > len(midis)
    take = _heard(sound, midis)
    assert [note.state for note in take.notes] == [State.PLAYED] * len(midis)


def test_a_note_out_of_tune_is_not_cut_into_a_half_step_that_was_left_out() -> None:
    """It lasts for the three asked, and sways a little over the border between them."""
    midis = [79, 82, 83, 82, 86, 83]
    sounds = [_swaying(82.45, 3 * NOTE_S, 25), *(steady(midi, NOTE_S) for midi in midis[4:])]
    take = _heard(in_a_row(steady(midis[0], NOTE_S), *sounds), midis)
    played = [note.index for note in take.notes if note.state is State.PLAYED]
    assert played == [0, 1, 4, 5]


@pytest.mark.parametrize(("midi", "cents"), [(82.8, -20.0), (82.1, None)])
def test_a_note_whose_harmonics_are_its_neighbours_is_not_called_out_of_tune(
    midi: float, cents: float | None
) -> None:
    """Its course stands on the note asked for: a student is told of no other one."""
    sounds = (NoteSegment(82.9, 0.0, NOTE_S, -20.0), NoteSegment(86.0, NOTE_S, 0.3, -20.0))
    features = measured(in_a_row(steady(82.9, NOTE_S), steady(86.0, NOTE_S)))
    heard = HeardNote(None, None, State.EXTRA, midi=midi, onset_s=0.0, end_s=NOTE_S)
    evidence: Any = SimpleNamespace(
        features=features,
        segments=sounds,
        heard=lambda _: heard,
        knows_cents=lambda _: True,
    )
    expected = realised(as_expected([83, 86], Start.SLURRED), 1.0)
    asked = expected_notes(expected, 60.0, Tuning(), starts_known=True)
    first, _ = in_order(evidence, [Answer(0, 0), Answer(1, 1)], asked, frozenset())
    assert first.state is State.PLAYED
    assert first.cents == (None if cents is None else pytest.approx(cents))
    assert first.midi == (sounds[0].midi if cents is None else midi)
