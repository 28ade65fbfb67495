"""One long note in a passage is told from talk, noise and melodies."""

from __future__ import annotations

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
from trainer.ear.live.one_note import is_one_note


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


@pytest.mark.usefixtures("recordings")
def test_every_long_recorded_note_is_one() -> None:
    notes = [note for note in single_notes() if note.length in ("1", "long", "very-long")]
    assert len(notes) > 100
    for note in notes:
        lead = np.zeros(round(0.3 * RECORDED_RATE))
        sound = np.concatenate([lead, sound_of(note.path)])[: round(2.5 * RECORDED_RATE)]
        assert is_one_note(sound.astype(np.float32), RECORDED_RATE), note.path.name
