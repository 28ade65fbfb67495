"""Spelled pitches against music21 and the published note table."""

from __future__ import annotations

import warnings
from itertools import product

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from trainer.music.pitch import OCTAVE, Interval, Pitch, sharp_name

PITCHES = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(0, 8))
NATURAL_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
INTERVALS = st.builds(
    lambda steps, quality: Interval(
        steps, 12 * (steps // 7) + NATURAL_SEMITONES[steps % 7] + quality
    ),
    st.integers(-14, 14),
    st.integers(-2, 1),
)


@pytest.mark.parametrize(
    ("text", "midi"),
    [
        # MIDI numbers: UNSW Music Acoustics, J. Wolfe, 'Note names, MIDI numbers and frequencies'
        ("C4", 60),
        ("A4", 69),
        ("C5", 72),
        ("C6", 84),
        ("C7", 96),
        # the octave digit follows the letter, not the sound (scientific pitch notation)
        ("Cb4", 59),
        ("B#3", 60),
        ("Cx5", 74),
        ("Fbb4", 63),
        ("c-1", 0),
    ],
)
def test_midi_numbers_are_as_published(text, midi):
    assert Pitch.parse(text).midi == midi


@pytest.mark.parametrize("text", ["H4", "C", "4", "C#b4", "C###4", "", "Do4", "C44", "C 4"])
def test_what_is_no_note_is_refused_in_a_sentence(text):
    with pytest.raises(ValueError, match="is not a note: write a letter, # or b, and an octave"):
        Pitch.parse(text)


@given(PITCHES)
def test_a_pitch_is_read_as_written(pitch):
    assert Pitch.parse(str(pitch)) == pitch
    assert Pitch.named(pitch.name, pitch.midi) == pitch


@given(st.integers(12, 108))
def test_every_midi_number_has_its_sharp_name(midi):
    assert Pitch.parse(sharp_name(midi)).midi == midi


@given(PITCHES, INTERVALS)
def test_transposing_there_and_back(pitch, interval):
    try:
        moved = pitch.transposed(interval)
    except ValueError:
        assume(False)
    assert moved.transposed(-interval) == pitch
    assert pitch.interval_to(moved) == interval
    assert moved.midi - pitch.midi == interval.semitones
    assert moved.staff_step - pitch.staff_step == interval.steps


@given(PITCHES)
def test_an_octave_keeps_the_name(pitch):
    assert pitch.transposed(OCTAVE) == Pitch(pitch.letter, pitch.alter, pitch.octave + 1)


def test_a_name_that_cannot_sound_so_is_refused():
    with pytest.raises(ValueError, match="MIDI 61 can't be called C"):
        Pitch.named("C", 61)


def test_a_triple_accidental_is_refused():
    with pytest.raises(ValueError, match="more than a double accidental"):
        Pitch.parse("F##4").transposed(Interval(0, 1))


def test_spelled_transposition_agrees_with_music21():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
    names = {"P4": (3, 5), "A4": (3, 6), "d5": (4, 6), "M3": (2, 4), "m3": (2, 3), "m7": (6, 10)}
    names |= {"d7": (6, 9), "M7": (6, 11), "m2": (1, 1), "A2": (1, 3), "m6": (5, 8), "A1": (0, 1)}
    for letter, alter, (name, interval) in product("CDEFGAB", (-1, 0, 1), names.items()):
        start = f"{letter}{'-' if alter < 0 else '#' * alter}4"
        there = music21.pitch.Pitch(start).transpose(name)
        try:
            here = Pitch(letter, alter, 4).transposed(Interval(*interval))
        except ValueError:
            assert abs(there.alter) > 2
            continue
        assert str(here) == there.nameWithOctave.replace("-", "b")
        assert here.midi == there.midi
