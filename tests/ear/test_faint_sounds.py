"""A sound that nobody asked for and that is far softer than what was asked is not the player's."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from tests.ear.made_flute import as_expected
from tests.ear.steady_tones import RATE, in_a_row, in_diffuse_room, steady
from trainer.ear.hear import hear
from trainer.ear.heard import State, Take
from trainer.ear.transcribe import NO_FLUTE, SEVERAL_TONES, transcribe
from trainer.music.tuning import Tuning

ASKED = (67, 71, 74, 79)
Sound = NDArray[np.float64]


def _line_with(other: Sound) -> Take:
    """Four notes, a rest of 1.2 s in which another sound may be, and the four again."""
    four = [steady(midi, 0.35) for midi in ASKED]
    sound = in_a_row(*four, np.zeros(round(1.2 * RATE)), *four, gap_s=0.03)
    first = round(2.1 * RATE)
    sound[first : first + other.size] += other
    noisy = sound + 1e-4 * np.random.default_rng(3).standard_normal(sound.size)
    expected = as_expected([*ASKED, *ASKED])
    return hear(noisy.astype(np.float32), RATE, expected, 150, Tuning(), None)


def _struck_string(midi: float, seconds: float, stiff: float = 0.0, dies_s: float = 0.4) -> Sound:
    """A piano's tone through a wall: hammered, dying, with little above 700 Hz. stiff: Fletcher's B
    (1964, JASA 36:203)."""
    time_s = np.arange(round(seconds * RATE)) / RATE
    hz = 440 * 2 ** ((midi - 69) / 12)
    tone = sum(
        0.1 / n * np.sin(2 * np.pi * n * hz * np.sqrt(1 + stiff * n * n) * time_s)
        for n in range(1, 5)
    ) * np.exp(-time_s / dies_s)
    wall = signal.butter(2, 700, fs=RATE, output="sos")
    return np.asarray(signal.sosfilt(wall, tone))


def test_a_piano_next_door_is_no_extra_note() -> None:
    chord = sum(_struck_string(midi, 0.7) for midi in (64, 69, 73))
    take = _line_with(np.asarray(chord) * 10 ** (-25 / 20))
    assert [note.state for note in take.notes] == [State.PLAYED] * 8


def _alone(*sounds: Sound, asked: tuple[int, ...] = ASKED) -> Take:
    """Each note asked twice, and what was heard."""
    sound = 0.05 * in_a_row(*sounds, gap_s=0.05)
    noisy = sound + 1e-4 * np.random.default_rng(3).standard_normal(sound.size)
    expected = as_expected([*asked, *asked])
    return hear(noisy.astype(np.float32), RATE, expected, 150, Tuning(), None)


def test_of_a_piano_alone_nothing_is_said() -> None:
    """The first round of a day: no earlier one says how loud the player is."""
    struck = [_struck_string(midi, 0.5) for midi in (64, 69, 66, 62, 73, 61)]
    take = _alone(*struck)
    assert [note.state for note in take.notes] == [State.NOT_JUDGED] * 8


@pytest.mark.parametrize(("chord", "heard"), [({0: 1.0, 4: 0.6, 12: 0.8}, 0), ({0: 1.0}, 6)])
def test_chords_are_no_notes_of_a_flute_where_nothing_is_asked(
    chord: dict[int, float], heard: int
) -> None:
    """Thirds and octaves of these strengths leave a root to be found, others none."""
    roots = (60, 65, 67, 62, 69, 64)
    sounds = [
        sum(loud * steady(root + above, 0.4) for above, loud in chord.items()) for root in roots
    ]
    sound = 0.1 * in_a_row(*map(np.asarray, sounds), gap_s=0.02)
    noisy = sound + 1e-4 * np.random.default_rng(3).standard_normal(sound.size)
    take = transcribe(noisy.astype(np.float32), RATE, Tuning())
    assert len(take.notes) == heard
    assert (SEVERAL_TONES in take.warnings) == (heard == 0)


def test_a_quick_tune_far_away_in_a_hall_is_one_flutes() -> None:
    """Its notes ring together, so that fewer than half of them are clear."""
    tune = (62, 64, 66, 67, 69, 71, 69, 67, 66, 64, 62, 66, 69, 66)
    hall = in_diffuse_room(in_a_row(*(steady(midi, 0.18) for midi in tune)), 2.0, 6.0)
    noisy = 0.1 * hall + 1e-4 * np.random.default_rng(3).standard_normal(hall.size)
    assert transcribe(noisy.astype(np.float32), RATE, Tuning()).notes


def test_chords_that_die_away_are_no_flutes_though_the_first_note_is_clear() -> None:
    """The strings of a piano, one of them alone at first."""
    alone = _struck_string(60, 0.4)
    chords = [
        sum(
            loud * _struck_string(root + above, 0.4)
            for above, loud in ((0, 1), (4, 0.6), (12, 0.8))
        )
        for root in (65, 67, 62, 69, 64, 60, 65)
    ]
    sound = in_a_row(alone, *map(np.asarray, chords), gap_s=0.02)
    noisy = sound + 1e-4 * np.random.default_rng(3).standard_normal(sound.size)
    take = transcribe(noisy.astype(np.float32), RATE, Tuning())
    assert take.warnings[:1] == (SEVERAL_TONES,)


@pytest.mark.parametrize(("stiff", "heard"), [(4e-4, 0), (0.0, 10)])
def test_a_piano_that_plays_what_was_asked_is_told_by_its_stretched_partials(
    stiff: float, heard: int
) -> None:
    """Of a piano's C4 Fletcher (as above) has B = 0.0004, from memory; a flute's partials are
    harmonic, however short its notes are."""
    asked = (60, 64, 67, 72, 69)
    struck = [_struck_string(midi, 0.35, stiff) for midi in (*asked, *asked)]
    assert _alone(*struck, asked=asked).count(State.PLAYED) == heard


SIX, FOUR, THREE = (60, 62, 64, 65, 67, 69), (60, 62, 64, 67), (60, 64, 67)
STANDS_S = 5.0


@pytest.mark.parametrize(
    ("pitches", "stretched", "dies_s", "heard"),
    [
        (SIX, SIX, STANDS_S, 0),
        (SIX, SIX[:4], STANDS_S, 12),
        (FOUR, FOUR, STANDS_S, 12),
        (FOUR, FOUR, 0.4, 0),
        (FOUR, FOUR[:2], 0.4, 12),
        (THREE, THREE, 0.4, 12),
    ],
)
def test_a_piano_is_told_only_where_nearly_all_of_several_pitches_are_stretched(
    pitches: tuple[int, ...], stretched: tuple[int, ...], dies_s: float, heard: int
) -> None:
    """In a room a flute's may seem so, the same note every time it comes. Of tones that die away
    fewer will do; a wall has dulled how they begin."""
    midis = pitches * (12 // len(pitches))
    sounds = [_struck_string(m, 0.35, 4e-4 * (m in stretched), dies_s) for m in midis]
    dulled = np.minimum(1.0, np.arange(sounds[0].size) / (0.02 * RATE))
    assert len(_untold(*(sound * dulled for sound in sounds)).notes) == heard


def _glide(midi: float, semitones: float, seconds: float = 0.18) -> Sound:
    """A tone that goes evenly from one pitch to another."""
    course = midi + semitones * np.linspace(-0.5, 0.5, round(seconds * RATE))
    phase = 2 * np.pi * np.cumsum(440 * 2 ** ((course - 69) / 12)) / RATE
    tone = sum(0.1 / n * np.sin(n * phase) for n in range(1, 6))
    return np.asarray(tone * np.minimum(1, 4 * np.hanning(phase.size)))


def _untold(*sounds: Sound) -> Take:
    sound = in_a_row(*sounds, gap_s=0.05)
    noisy = sound + 1e-4 * np.random.default_rng(3).standard_normal(sound.size)
    return transcribe(noisy.astype(np.float32), RATE, Tuning())


@pytest.mark.parametrize(("above", "heard"), [(0, 0), (12, 9)])
def test_speech_is_told_by_lying_lower_than_a_flute_goes(above: int, heard: int) -> None:
    """A woman's voice lies about 210 Hz (Titze 1989, JASA 85:1699, from memory)."""
    take = _untold(*(_glide(midi + above, -0.2) for midi in (57, 58, 56) * 3))
    assert len(take.notes) == heard
    assert (NO_FLUTE in take.warnings) == (heard == 0)


def test_two_notes_that_ring_together_are_no_tone_lower_than_a_flute_goes() -> None:
    """A fifth apart, they have the period of an octave below the lower one, and nothing there."""
    fifths = in_a_row(*(steady(midi, 0.2) for midi in (64, 71) * 10))
    hall = in_diffuse_room(fifths, 1.8, 6.0)
    assert len(transcribe(hall.astype(np.float32), RATE, Tuning()).notes) == 20


@pytest.mark.parametrize(
    ("above", "dies_s", "heard"), [(0, 0.4, 0), (12, 0.4, 8), (0, STANDS_S, 8)]
)
def test_what_falls_and_lies_partly_lower_than_a_flute_goes_is_none(
    above: int, dies_s: float, heard: int
) -> None:
    midis = (52, 67, 64, 55, 69, 62, 54, 65)
    sounds = [_struck_string(midi + above, 0.35, dies_s=dies_s) for midi in midis]
    dulled = np.minimum(1.0, np.arange(sounds[0].size) / (0.02 * RATE))
    assert len(_untold(*(sound * dulled for sound in sounds)).notes) == heard


@pytest.mark.parametrize(("midi", "extra"), [(66, 1), (58, 0)])
def test_a_word_lower_than_a_flute_goes_is_no_extra_note(midi: float, extra: int) -> None:
    take = _line_with(_glide(midi, 0.0, 0.3))
    assert (take.count(State.PLAYED), take.count(State.EXTRA)) == (8, extra)


@pytest.mark.parametrize(("rises_s", "room", "heard"), [(0, 0.02, 0), (0.03, 0.02, 8), (0, 0, 8)])
def test_strings_are_told_where_nothing_is_asked_by_being_there_at_once(
    rises_s: float, room: float, heard: int
) -> None:
    """A tongued flute takes some 10 to 100 ms, from memory, and may die away as evenly; what a gate
    lets begin at once it ends at once, and no room rings on."""
    time_s = np.arange(round(0.35 * RATE)) / RATE
    rising = np.minimum(1.0, time_s / rises_s) if rises_s else np.ones(time_s.size)
    sound = 0.1 * in_a_row(*(rising * _struck_string(midi, 0.35) for midi in ASKED * 2), gap_s=0.05)
    dice = np.random.default_rng(3)
    rings = room * dice.standard_normal(time_s.size) * np.exp(-time_s / 0.04)
    sound = sound + signal.fftconvolve(sound, rings)[: sound.size]
    noisy = sound + 1e-5 * dice.standard_normal(sound.size)
    assert len(transcribe(noisy.astype(np.float32), RATE, Tuning()).notes) == heard


def test_a_soft_player_of_wrong_notes_is_heard() -> None:
    take = _alone(*(steady(midi, 0.35) for midi in (64, 69, 66, 62, 73, 61)))
    assert sum(note.midi is not None for note in take.notes) == 6


def test_a_player_of_what_was_asked_is_heard_however_the_notes_fall() -> None:
    """Staccatissimo falls as a struck string does."""
    take = _alone(*(_struck_string(midi, 0.3) for midi in (*ASKED, *ASKED)))
    assert take.count(State.PLAYED) >= 7


def test_a_note_of_the_player_that_nobody_asked_for_is_an_extra_one() -> None:
    take = _line_with(10 ** (-12 / 20) * steady(76, 0.5))
    assert [note.state for note in take.notes].count(State.EXTRA) == 1


@pytest.mark.parametrize("soft_db", [-12.0, -26.0])
def test_a_soft_note_that_was_asked_for_stays(soft_db: float) -> None:
    levels = (1.0, 10 ** (soft_db / 20))
    notes = [levels[place % 2] * steady(midi, 0.35) for place, midi in enumerate((*ASKED, *ASKED))]
    sound = in_a_row(*notes, gap_s=0.1)
    noisy = sound + 1e-5 * np.random.default_rng(3).standard_normal(sound.size)
    expected = as_expected([*ASKED, *ASKED])
    take = hear(noisy.astype(np.float32), RATE, expected, 130, Tuning(), None)
    assert [note.state for note in take.notes] == [State.PLAYED] * 8
