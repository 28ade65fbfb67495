"""One long note in a passage is told from talk, noise and melodies."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tests.ear.recorded import RATE as RECORDED_RATE
from tests.ear.recorded import single_notes, sound_of
from tests.sound.microphones import (
    RATE,
    honest,
    passages,
    spoken,
    with_automatic_gain,
    with_noise_gate,
)
from trainer.ear.hear import hear
from trainer.ear.live.one_note import is_one_note
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning


@pytest.mark.parametrize("passage", ["soft", "loud"])
@pytest.mark.parametrize("microphone", [honest, with_automatic_gain, with_noise_gate])
def test_a_long_note_is_one_through_any_microphone(passage: str, microphone) -> None:  # type: ignore[no-untyped-def]
    assert is_one_note(microphone(honest(passages()[passage])), RATE)


def test_a_soft_note_that_a_noise_gate_chops_up_is_still_one() -> None:
    chopped = with_noise_gate(honest(passages()["soft"]), threshold_db=-36.0)
    level = np.abs(chopped[round(0.5 * RATE) : round(2.2 * RATE)])
    assert np.mean(level == 0.0) > 0.2
    assert is_one_note(chopped, RATE)


@pytest.mark.parametrize("seed", range(8))
def test_talk_is_none(seed: int) -> None:
    assert not is_one_note(honest(spoken(seed=seed)), RATE)


def test_noise_silence_and_a_melody_are_none() -> None:
    noise = 0.1 * np.random.default_rng(1).standard_normal(2 * RATE)
    at_s = np.arange(round(0.5 * RATE)) / RATE
    melody = [0.1 * np.sin(2 * np.pi * hz * at_s) for hz in (440.0, 493.9, 523.3, 587.3)]
    for sound in (noise, np.zeros(2 * RATE), np.concatenate(melody), np.zeros(10)):
        assert not is_one_note(np.asarray(sound, np.float32), RATE)


@pytest.mark.parametrize(("name", "rate_hz"), [("A4", 4.0), ("D5", 3.0), ("D5", 4.0)])
def test_the_pulses_of_a_held_note_are_no_strokes(name: str, rate_hz: float) -> None:
    """Truth: one tone of 6 s whose pitch goes 14 cents and its level 9 dB to either side, as a room
    was found to deepen the pulses of recorded notes in 0.4 s. Without a
    rule for pulses each was told as 15 to 44 notes; A4 at 3 a second still is several."""
    time_s = np.arange(6 * RATE) / RATE
    pitch, wave = Pitch.parse(name), np.sin(2 * np.pi * rate_hz * time_s)
    turns = np.cumsum(440 * 2 ** ((pitch.midi + 0.14 * wave - 69) / 12)) / RATE
    harmonics = ((1, 0.08), (2, 0.05), (3, 0.02), (4, 0.01))
    tone = sum(a * np.sin(2 * np.pi * k * turns) for k, a in harmonics) * 10 ** (9 * wave / 20) / 2
    edge = np.minimum(1, np.minimum(time_s, time_s[::-1]) / 0.03)
    sound = np.pad(tone * edge, RATE // 2)
    sound += 1e-4 * np.random.default_rng(1).standard_normal(sound.size)
    asked = (Note(0, pitch, Fraction(0), Fraction(6), Start.TONGUED),)
    take = hear(sound.astype(np.float32), RATE, asked, 60.0, Tuning(), 0.5)
    assert [note.index for note in take.notes] == [0]


@pytest.mark.usefixtures("recordings")
def test_every_long_recorded_note_is_one() -> None:
    notes = [note for note in single_notes() if note.length in ("1", "long", "very-long")]
    assert len(notes) > 100
    for note in notes:
        lead = np.zeros(round(0.3 * RECORDED_RATE))
        sound = np.concatenate([lead, sound_of(note.path)])[: round(2.5 * RECORDED_RATE)]
        assert is_one_note(sound.astype(np.float32), RECORDED_RATE), note.path.name
