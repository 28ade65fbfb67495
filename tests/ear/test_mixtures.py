"""Two notes that ring together are no third, and a short note that sounds between them is one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.ear.steady_tones import RATE, measured
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.segments.mixtures import (
    is_mixture,
    mixtures,
    no_notes,
    without,
)
from trainer.ear.segments.note_beginnings import with_their_beginnings
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.own_harmonics import LEAST_RISE_DB, UP_DB, rise_db
from trainer.music.tuning import Tuning

FIRST, BETWEEN, SECOND = 81, 84, 86
CHANGES_S, LASTS_S = 0.6, 0.07
LOW = 61


def _tone(midi: int, levels: Track) -> Track:
    """Four harmonics, each half as strong as the one below it; levels: of each sample, linear."""
    turns = 2 * np.pi * Tuning().midi_hz(midi) / RATE * np.arange(levels.size)
    return np.asarray(levels * sum(0.1 / 2**k * np.sin((k + 1) * turns) for k in range(4)))


def _rings() -> tuple[Track, Track]:
    """The time before and after the change, and how a note falls there as in a hall of 2 s."""
    time_s = np.arange(round(1.4 * RATE)) / RATE - CHANGES_S
    return time_s, np.where(time_s < 0, 1.0, 10 ** (-30 * time_s / 20)) * (time_s > -0.4)


def _heard(*, sounds: bool) -> Features:
    """A5 falls as in a hall of 2 s while D6 grows, or while C6 sounds for a moment between them."""
    time_s, rings = _rings()
    grows = np.clip(time_s / LASTS_S, 0, 1) * (time_s < 0.5)
    short = 0.7 * ((time_s > 0) & (time_s < LASTS_S)) * sounds
    sound = _tone(FIRST, rings) + _tone(BETWEEN, short) + _tone(SECOND, grows)
    return measured(sound, noise_db=-50.0)


def _found(midi: float, clarity: float = 0.8) -> tuple[NoteSegment, ...]:
    """The two notes, and a sound of such a pitch that was found between them."""
    ends_s = CHANGES_S + LASTS_S
    return (
        NoteSegment(FIRST, 0.2, CHANGES_S, -20.0),
        NoteSegment(midi, CHANGES_S, ends_s, -22.0, clarity),
        NoteSegment(SECOND, ends_s, 1.1, -20.0),
    )


def test_a_sound_between_two_of_one_pitch_is_none_of_their_mixture() -> None:
    """As in a trill: of fourteen notes a second in a room few have risen when the next comes."""
    features, (before, sound, after) = _heard(sounds=False), _found(BETWEEN)
    assert is_mixture(features, (before, sound, after), 1)
    assert not is_mixture(features, (before, sound, replace(after, midi=before.midi)), 1)


@pytest.mark.parametrize("sounds", [False, True])
def test_what_nothing_of_its_own_rises_for_is_the_two_beside_it(sounds: bool) -> None:
    features, found = _heard(sounds=sounds), _found(BETWEEN)
    own_db = rise_db(features, found[1], (FIRST, SECOND))
    assert own_db >= LEAST_RISE_DB if sounds else own_db < UP_DB
    assert is_mixture(features, found, 1) != sounds
    kept = without(features, found, mixtures(features, found))
    assert [one.midi for one in kept] == ([FIRST, BETWEEN, SECOND] if sounds else [FIRST, SECOND])
    assert kept[0].to_s == found[0 if sounds else 1].to_s


def test_a_short_sound_counts_if_it_was_asked_for() -> None:
    features, (first, between, second) = _heard(sounds=True), _found(BETWEEN)
    short = replace(between, to_s=between.from_s + 0.05)
    assert no_notes(features, (first, short, second), {1}) == {1}
    assert not no_notes(features, (first, short, second), set())
    assert not no_notes(features, (first, replace(between, clarity=0.99), second), {1})


def test_a_clear_sound_is_a_note() -> None:
    assert not is_mixture(_heard(sounds=False), _found(BETWEEN, clarity=0.99), 1)


def test_the_octave_in_which_a_note_speaks_is_no_note_however_clear() -> None:
    assert is_mixture(_heard(sounds=False), _found(SECOND - 12, clarity=0.99), 1)


def test_a_note_that_seems_to_leave_its_pitch_for_a_moment_is_one() -> None:
    """Its third harmonic, alone for a moment."""
    time_s = np.arange(round(1.4 * RATE)) / RATE
    held = _tone(69, ((time_s > 0.2) & (time_s < 1.2)).astype(float))
    features = measured(held)
    found = (
        NoteSegment(69, 0.2, 0.6, -20.0),
        NoteSegment(88.02, 0.6, 0.66, -22.0),
        NoteSegment(69, 0.66, 1.2, -20.0),
    )
    (kept,) = without(features, found, mixtures(features, found))
    assert (kept.midi, kept.from_s, kept.to_s) == (69, 0.2, 1.2)


def _low_after(begins: int, ringing: int) -> tuple[NoteSegment, ...]:
    """What is kept of C#4 after a note that rings, where it seemed a semitone lower for the first
    tenth of a second, in which `begins` sounds."""
    time_s, rings = _rings()
    first = ((time_s > 0) & (time_s < 0.1)).astype(float)
    later = ((time_s >= 0.1) & (time_s < 0.5)).astype(float)
    sound = _tone(ringing, rings) + _tone(begins, first) + _tone(LOW, later)
    found = (
        NoteSegment(ringing, 0.2, CHANGES_S, -20.0),
        NoteSegment(LOW - 0.9, CHANGES_S, CHANGES_S + 0.1, -22.0, 0.9),
        NoteSegment(LOW - 0.2, CHANGES_S + 0.1, 1.1, -20.0, 0.98),
    )
    return with_their_beginnings(measured(sound, noise_db=-50.0), found, {1})


def test_a_low_note_under_one_that_rings_begins_where_its_harmonics_do() -> None:
    _, note = _low_after(begins=LOW, ringing=71)
    assert (note.midi, note.from_s, note.to_s) == (LOW - 0.2, CHANGES_S, 1.1)


def test_a_half_step_played_before_it_stays_a_sound() -> None:
    assert len(_low_after(begins=LOW - 1, ringing=71)) == 3


def test_of_a_half_step_it_is_not_known_whose_the_beginning_is() -> None:
    assert len(_low_after(begins=LOW, ringing=62)) == 3


def _third_harmonic_first(begins_s: float) -> tuple[NoteSegment, ...]:
    """What is kept of B4 after D5 rings, where its third harmonic F#6 was seen for 0.07 s before
    it; the rest of its own begins at a time after the change."""
    time_s, rings = _rings()
    held = (time_s >= begins_s) & (time_s < 0.5)
    third = ((time_s >= 0) & (time_s < 0.5)).astype(float)
    sound = _tone(74, rings) + _tone(71, held.astype(float)) + 0.5 * _tone(90, third)
    found = (
        NoteSegment(74, 0.2, CHANGES_S, -20.0),
        NoteSegment(90.02, CHANGES_S, CHANGES_S + LASTS_S, -22.0, 0.85),
        NoteSegment(71, CHANGES_S + LASTS_S, 1.1, -20.0, 0.98),
    )
    return with_their_beginnings(measured(sound, noise_db=-50.0), found, {1})


def test_a_harmonic_that_a_room_brings_out_first_is_the_note_s_beginning() -> None:
    """As of a recorded B4 in two rooms of 0.8 s."""
    _, note = _third_harmonic_first(begins_s=0.0)
    assert (note.midi, note.from_s, note.to_s) == (71, CHANGES_S, 1.1)


def test_a_twelfth_played_before_a_note_stays_a_sound() -> None:
    assert len(_third_harmonic_first(begins_s=LASTS_S)) == 3


def test_a_note_that_seems_struck_again_as_the_next_begins_is_not() -> None:
    """The next one's stroke is heard in what rings, its pitch only when that has fallen."""
    time_s, rings = _rings()
    held = ((time_s >= 0) & (time_s < 0.5)).astype(float)
    features = measured(_tone(FIRST, rings) + _tone(SECOND, held), noise_db=-50.0)
    first, second = _found(FIRST)[0], _found(FIRST)[2]
    again = replace(first, from_s=CHANGES_S, to_s=CHANGES_S + LASTS_S, again_s=CHANGES_S)
    kept = with_their_beginnings(features, (first, again, second), {1})
    assert [(one.midi, one.from_s, one.again_s) for one in kept] == [
        (FIRST, 0.2, None),
        (SECOND, CHANGES_S, None),
    ]


@pytest.mark.parametrize(("unasked", "sounds"), [({2}, 4), ({2, 3}, 2), ({1, 2}, 2)])
def test_what_rings_through_a_note_leaves_it_one(unasked: set[int], sounds: int) -> None:
    """G5 rings while D6 sounds, which a room takes away for a moment; if D6 was asked for twice
    both stay."""
    time_s, rings = _rings()
    dips = np.where((time_s > 0.1) & (time_s < 0.17), 0.01, 1.0)
    held = ((time_s >= 0) & (time_s < 0.5)) * dips
    features = measured(_tone(79, rings) + _tone(86, held), noise_db=-50.0)
    found = (
        NoteSegment(79, 0.2, CHANGES_S, -20.0),
        NoteSegment(86, CHANGES_S, CHANGES_S + 0.1, -20.0),
        NoteSegment(79, CHANGES_S + 0.1, CHANGES_S + 0.17, -24.0),
        NoteSegment(86, CHANGES_S + 0.17, 1.1, -20.0),
    )
    assert len(without(features, found, no_notes(features, found, unasked))) == sounds
