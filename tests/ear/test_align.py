"""Which sound answers which note, where a whole line was not played."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from trainer.ear.alignment.align import Answer, align
from trainer.ear.alignment.answers import at_own_pace
from trainer.ear.alignment.asked_notes import expected_notes
from trainer.ear.segments.note_segment import NoteSegment
from trainer.music.note import Note, Start
from trainer.music.ornaments import realised
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.tuning import Tuning

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


def test_a_passage_played_twice_and_told_once_is_played_once_more() -> None:
    """The second time answers nothing, but for the note at which the first was left, and no sound
    of it is one that nobody asked for."""
    played = [*range(12), *range(4, 20)]
    sounds = [
        NoteSegment(SCALE[note], place * STEP_S, (place + 0.8) * STEP_S, -20.0)
        for place, note in enumerate(played)
    ]
    lengths_s = np.full(SCALE.size, STEP_S)
    answers = align(sounds, SCALE.astype(float), np.cumsum(lengths_s) - STEP_S, lengths_s)
    assert [answer.index for answer in answers if answer.right] == list(range(20))
    assert [answer.segment for answer in answers if answer.once_more] == list(range(11, 19))


def test_a_note_at_which_a_wrong_start_is_left_is_heard_the_next_time() -> None:
    """The start is left at the first of three repeated notes; a hall makes the three one sound the
    next time, and only there do they last for three."""
    line = np.array([60.0, 62.0, 64.0, 64.0, 64.0, 65.0])
    lengths_s = np.full(line.size, STEP_S)
    played = [(60, 0.0, 0.2), (62, 0.25, 0.2), (64, 0.5, 0.2)]
    played += [(60, 2.0, 0.2), (62, 2.25, 0.2), (64, 2.5, 0.7), (65, 3.25, 0.2)]
    sounds = [NoteSegment(float(midi), at, at + lasts, -20.0) for midi, at, lasts in played]
    answers = align(sounds, line, np.cumsum(lengths_s) - STEP_S, lengths_s)
    struck = {answer.index: answer.segment for answer in answers if answer.right}
    assert struck[2] == 5


def test_half_steps_that_a_hall_mixes_move_no_trill() -> None:
    """Of a trill three notes are heard as one sound, three times as long: the others are where they
    were played."""
    trill = [82.0, 83.0] * 6
    sounds = [
        NoteSegment(trill[place], place * STEP_S, (place + lasts) * STEP_S, -20.0)
        for place, lasts in [(0, 1), (1, 1), (2, 3), (5, 1), (6, 1), (7, 3), (10, 1), (11, 1)]
    ]
    lengths_s = np.full(len(trill), STEP_S)
    answers = align(sounds, np.array(trill), np.cumsum(lengths_s) - STEP_S, lengths_s)
    assert [answer.index for answer in answers if answer.right] == [0, 1, 2, 5, 6, 7, 10, 11]


def test_strokes_that_a_hall_hides_move_no_phrase() -> None:
    """A phrase of pairs, each heard as one sound, with the same pitches once each after it."""
    pairs, once = np.repeat(SCALE[:6], 2), SCALE[:6]
    midi = np.concatenate([pairs, once]).astype(float)
    lengths_s = np.full(midi.size, STEP_S)
    heard = [
        NoteSegment(pitch, 2 * place * STEP_S, (2 * place + 1.9) * STEP_S, -20.0)
        for place, pitch in enumerate(once.astype(float))
    ]
    answers = align(heard, midi, np.cumsum(lengths_s) - STEP_S, lengths_s)
    assert [answer.index for answer in answers] == [0, 2, 4, 6, 8, 10]


@pytest.mark.parametrize(("level_db", "answers"), [(-55.0, 3), (-30.0, 2)])
def test_a_tail_stands_for_no_louder_sound_of_its_pitch(level_db: float, answers: int) -> None:
    """D5, C5 and D5 again: the first sound of that comes when it is due, a loud one after it. From
    pianissimo to fortissimo one player's notes lie within some 20 dB."""
    heard = [
        NoteSegment(74.0, 0.0, 0.24, -20.0),
        NoteSegment(72.0, 0.25, 0.49, -20.0),
        NoteSegment(74.0, 0.5, 0.62, level_db),
        NoteSegment(74.0, 0.7, 0.95, -20.0),
    ]
    lengths_s = np.full(3, STEP_S)
    found = align(heard, np.array([74.0, 72.0, 74.0]), np.cumsum(lengths_s) - STEP_S, lengths_s)
    assert found[answers].index == 2


@pytest.mark.parametrize(
    ("step_s", "rest_s", "kept"),
    [(1.0, 0.0, True), (1.04, 0.0, True), (0.3, 0.0, False), (2.1, 3.0, False)],
)
def test_notes_known_by_their_order_get_the_pace_they_are_played_at(
    step_s: float, rest_s: float, kept: bool
) -> None:
    """One beat a second is what `--notes` says; nobody plays so."""
    notes = [
        Note(
            place, Pitch.parse(sharp_name(int(pitch))), Fraction(place), Fraction(1), Start.TONGUED
        )
        for place, pitch in enumerate(SCALE)
    ]
    asked = expected_notes(realised(notes, 1.0), 60.0, Tuning(), starts_known=False)
    starts_s = [place * step_s + rest_s * (place > 9) for place in range(SCALE.size)]
    heard = [
        NoteSegment(float(pitch), at_s, at_s + 0.9 * step_s, -20.0)
        for pitch, at_s in zip(SCALE, starts_s, strict=True)
    ]
    found, answers = at_own_pace(heard, asked)
    assert answers == tuple(Answer(place, place) for place in range(SCALE.size))
    np.testing.assert_allclose(found.lengths_s, 1.0 if kept else step_s)
