"""A tone of a known pitch is noticed, and nothing else is taken for it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from tests.ear.recorded import RATE as RECORDED_RATE
from tests.ear.recorded import single_notes, sound_of
from trainer.ear.analysis.frames import Samples
from trainer.ear.live.awaited_tone import AwaitedTone

RATE = 48000
HISS = 0.0005


def after_silence(sound: Samples, silence_s: float = 0.5) -> Samples:
    """The sound, from silence into silence, with the hiss of a microphone."""
    quiet = np.zeros(round(silence_s * RATE))
    whole = np.concatenate([quiet, sound, quiet])
    hiss = HISS * np.random.default_rng(4).standard_normal(whole.size)
    return np.asarray(whole + hiss, np.float32)


def tone(hz: float, seconds: float = 0.4, level: float = 0.1) -> Samples:
    at_s = np.arange(round(seconds * RATE)) / RATE
    edge = np.minimum(1.0, np.minimum(at_s, seconds - at_s) / 0.01)
    sound = np.sin(2 * np.pi * hz * at_s) + 0.4 * np.sin(4 * np.pi * hz * at_s)
    return np.asarray(level * edge * sound, np.float32)


def begins_s(sound: Samples, hz: float, block: int = 800) -> float | None:
    waiting = AwaitedTone(RATE, hz)
    for first in range(0, sound.size, block):
        onset_s = waiting.feed(sound[first : first + block])
        if onset_s is not None:
            return onset_s
    return None


@pytest.mark.parametrize("hz", [246.9, 392.0, 440.0, 1174.7, 2093.0])
def test_a_tone_is_noticed_where_it_begins(hz: float) -> None:
    assert begins_s(after_silence(tone(hz)), hz) == pytest.approx(0.5, abs=0.015)


@pytest.mark.parametrize("off_cents", [-50.0, 50.0])
def test_half_a_semitone_off_is_still_the_note(off_cents: float) -> None:
    sound = after_silence(tone(440 * 2 ** (off_cents / 1200)))
    assert begins_s(sound, 440.0) is not None


@pytest.mark.parametrize("semitones", [-12, -2, -1, 1, 2, 12])
def test_another_note_is_not(semitones: int) -> None:
    assert begins_s(after_silence(tone(440 * 2 ** (semitones / 12))), 440.0) is None


def test_after_another_note_it_is_still_waited_for() -> None:
    sound = after_silence(np.concatenate([tone(493.9), tone(440.0)]))
    assert begins_s(sound, 440.0) == pytest.approx(0.9, abs=0.015)


def test_a_gliding_voice_is_not_taken_for_it() -> None:
    """Over the expected pitch within a fifth of a second, as spoken words do."""
    at_s = np.arange(round(0.4 * RATE)) / RATE
    hz = 440 * 2 ** ((at_s - 0.2) * 6 / 12)
    voice = sum(np.sin(2 * np.pi * n * np.cumsum(hz) / RATE) / n for n in range(1, 8))
    assert begins_s(after_silence(np.asarray(0.05 * voice, np.float32)), 440.0) is None


def test_a_key_shut_hard_is_not_taken_for_it() -> None:
    """The tube rings at the note's own pitch; how long is our own estimate, no source."""
    at_s = np.arange(round(0.4 * RATE)) / RATE
    knock = 0.3 * np.exp(-at_s / 0.025) * np.sin(2 * np.pi * 440 * at_s)
    assert begins_s(after_silence(knock.astype(np.float32)), 440.0) is None


def test_noise_and_silence_are_not() -> None:
    noise = 0.05 * np.random.default_rng(2).standard_normal(4 * RATE)
    assert begins_s(noise.astype(np.float32), 440.0) is None
    assert begins_s(np.zeros(RATE, np.float32), 440.0) is None


def test_what_is_too_faint_to_be_at_the_microphone_is_not() -> None:
    """The same tone through a wall, 70 dB below full scale; twenty louder it is the note."""
    assert begins_s(tone(440.0, level=0.0004), 440.0) is None
    assert begins_s(tone(440.0, level=0.004), 440.0) is not None


def test_it_does_not_matter_how_the_sound_comes_in() -> None:
    sound = after_silence(tone(587.3))
    found = [begins_s(sound, 587.3, block) for block in (100, 800, 4096, sound.size)]
    assert found == [found[0]] * 4


@pytest.mark.usefixtures("recordings")
@pytest.mark.parametrize("a4_hz", [415, 424, 430, 440, 442, 446])
def test_real_notes_are_noticed_at_any_a4(a4_hz: int) -> None:
    """Recorded long notes, every dynamic, retuned by resampling.

    The notes from B6 up are left out: in these recordings some are more than a semitone from
    their names.
    """
    notes = [note for note in single_notes() if note.length == "1" and note.midi < 94][::4]
    missed = []
    for note in notes:
        sound = signal.resample_poly(sound_of(note.path)[:RECORDED_RATE], 440, a4_hz)
        hz = a4_hz * 2 ** ((note.midi - 69) / 12)
        if AwaitedTone(RECORDED_RATE, hz).feed(sound.astype(np.float32)) is None:
            missed.append(note.path.name)
    assert len(notes) > 20
    assert not missed
