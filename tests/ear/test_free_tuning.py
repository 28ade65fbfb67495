"""The free tuner and somebody else's A: recorded notes, made strings, and what is no A."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.ear.recorded import RATE, RecordedNote, single_notes, sound_of
from trainer.ear.live.free_note import FreeNote, FreeNotes
from trainer.ear.live.reference_tone import a4_of

HOP = 1470
LONG = [note for note in single_notes() if note.held_out and note.length in ("long", "very-long")]
needs_recordings = pytest.mark.skipif(not LONG, reason="no recordings at ../shared/recordings")
Sound = np.ndarray


def told(sound: Sound) -> list[FreeNote | None]:
    notes = FreeNotes(RATE)
    return [
        notes.feed(sound[start : start + HOP].astype(np.float32))
        for start in range(0, sound.size, HOP)
    ]


def tone(hz: float, seconds: float, cents: float = 0.0, beats_hz: float = 5.0) -> Sound:
    """Six harmonics with a vibrato of so many cents to each side."""
    time_s = np.arange(round(seconds * RATE)) / RATE
    line = hz * 2 ** (cents * np.sin(2 * np.pi * beats_hz * time_s) / 1200)
    phase = 2 * np.pi * np.cumsum(line) / RATE
    return 0.1 * sum(level * np.sin(k * phase) for k, level in enumerate((1, 0.5, 0.3, 0.1), 1))


def apart(hz: float, other_hz: float) -> float:
    return abs(1200 * math.log2(hz / other_hz))


def test_a_vibrato_hardly_moves_the_figure() -> None:
    settled = [note for note in told(tone(587.33, 3.0, cents=20)) if note and note.stands_s > 1.0]
    assert max(apart(note.hz, 587.33) for note in settled) < 2.0


def test_a_fast_arpeggio_is_followed_note_by_note() -> None:
    asked = [293.66, 369.99, 440.0, 587.33, 739.99, 880.0]
    sound = np.concatenate([tone(hz, 0.15) for hz in asked])
    seen = [note.hz for note in told(sound) if note is not None]
    for hz in asked:
        assert any(apart(hz, one) < 6 for one in seen), hz


def test_silence_and_noise_are_no_note() -> None:
    noise = 0.05 * np.random.default_rng(5).normal(size=2 * RATE)
    assert not any(told(np.zeros(RATE)))
    assert sum(note is not None for note in told(noise)) <= 1


@needs_recordings
@pytest.mark.parametrize("note", LONG[::6], ids=lambda note: note.path.stem)
def test_the_figure_is_as_an_independent_reader_has_it(note: RecordedNote) -> None:
    """librosa's YIN (McFee et al., ISC licence) over the same second."""
    librosa = pytest.importorskip("librosa")
    sound = sound_of(note.path)[: 3 * RATE]
    last = [each for each in told(sound) if each is not None and each.stands_s > 1.0][-1]
    near_hz = 440 * 2 ** ((note.midi - 69) / 12)
    read = librosa.yin(sound.astype(float), fmin=near_hz / 1.3, fmax=near_hz * 1.3, sr=RATE)
    frame_s = 512 / RATE
    end = round(min(sound.size / RATE, 3.0) / frame_s)
    middle = float(np.median(read[max(0, end - round(0.9 / frame_s)) : end - 4]))
    assert apart(last.hz, middle) < 8.0


@pytest.mark.parametrize("a4_hz", [415.3, 430.0, 441.7, 444.8])
@pytest.mark.parametrize("octave", [-1, 0, 1])
def test_the_a_of_beating_strings_in_noise(a4_hz: float, octave: int) -> None:
    """Three strings a cent apart, partials stretched by B = 0.0007 (Fletcher 1964, JASA 36:203):
    the A is their line in the octave of A4, of an A5 its first."""
    rng = np.random.default_rng(round(a4_hz) + octave)
    time_s = np.arange(3 * RATE) / RATE
    sound = np.zeros(time_s.size)
    for cents in (-0.6, 0.0, 0.6):
        for k in range(1, 7):
            hz = a4_hz * 2**octave * 2 ** (cents / 1200) * k * math.sqrt(1 + 7e-4 * k * k)
            fall = np.exp(-time_s * (0.7 + 0.3 * k)) / k
            sound += fall * np.sin(2 * np.pi * hz * time_s + rng.uniform(0, 2 * np.pi))
    sound += rng.normal(size=sound.size) * math.sqrt(float(np.mean(sound**2)) / 10)
    heard = a4_of(sound.astype(np.float32), RATE)
    part = 2 if octave < 0 else 1
    assert heard is not None
    assert abs(heard.a4_hz - a4_hz * math.sqrt(1 + 7e-4 * part * part)) < 0.3


def test_the_root_of_a_chord_is_the_a() -> None:
    chord = sum(tone(221.0 * ratio, 3.0) for ratio in (1, 5 / 4, 3 / 2, 2))
    heard = a4_of(chord.astype(np.float32), RATE)
    assert heard is not None
    assert heard.a4_hz == pytest.approx(442.0, abs=0.2)


def test_another_note_can_be_the_one_that_is_given() -> None:
    b_flat = tone(442.0 * 2 ** (1 / 12), 3.0)
    heard = a4_of(b_flat.astype(np.float32), RATE, semitones_from_a=1)
    assert heard is not None
    assert heard.a4_hz == pytest.approx(442, abs=0.2)


def test_what_is_said_of_a_section_of_players_holds_as_nearly_as_it_says() -> None:
    """Eight players, each at a place and with a vibrato of their own: the middle of them all lies
    within what is told nineteen times in twenty, as twice a standard error should."""
    near, rate = [], 16000
    for seed in range(12):
        rng = np.random.default_rng(seed)
        time_s = np.arange(8 * rate) / rate
        sound, middle_hz = np.zeros(time_s.size), 0.0
        for at_hz in 441.5 * 2 ** (rng.normal(0, 6, 8) / 1200):
            swing = rng.uniform(2, 4) * np.sin(2 * np.pi * rng.uniform(4, 6.5) * time_s)
            sound += np.sin(2 * np.pi * np.cumsum(at_hz + swing) / rate + rng.uniform(0, 6.28))
            middle_hz += at_hz / 8
        heard = a4_of(sound.astype(np.float32), rate)
        assert heard is not None
        near.append(abs(heard.a4_hz - middle_hz) <= heard.within_hz)
    assert sum(near) >= 10


@pytest.mark.parametrize("hz", [523.25, 659.26, 293.66])
def test_another_letter_is_no_a(hz: float) -> None:
    assert a4_of(tone(hz, 3.0).astype(np.float32), RATE) is None


def test_noise_and_a_short_a_are_not_enough() -> None:
    rng = np.random.default_rng(9)
    short = np.concatenate([tone(440.0, 0.9), np.zeros(2 * RATE)])
    assert a4_of(rng.normal(size=3 * RATE).astype(np.float32), RATE) is None
    assert a4_of(short.astype(np.float32), RATE) is None
