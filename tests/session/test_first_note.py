"""A round is begun by playing, in the routine's own tuning."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import signal

from tests.ear.recorded import RATE as RECORDED_RATE
from tests.ear.recorded import RECORDINGS, single_notes, sound_of
from tests.session.conftest import Practice
from trainer.session.view import Stage
from trainer.sound.port import Samples

Build = Callable[..., Practice]
RATE = 48000

TUNED = """
title: One round
tuning: A4 = {a4_hz}
exercises:
  - scale: hill
    key: D
    range: one octave
    tempo: 96
    articulations: [slurred]
"""

PURE = """
title: Above a drone
exercises:
  - passage: settling
    key: D
    tempo: 60
    partner: drone on the tonic
    temperament: pure above the drone
    notes: half (F#5 D5)
"""
PURE_F_SHARP_HZ = 440.0 * 2 ** (-7 / 12) * 5 / 2
"""An octave and a pure third, 5:4, above a tempered D4 at A4 = 440 (5-limit just intonation)."""


def tone(hz: float, off_cents: float = 0.0) -> Samples:
    at_s = np.arange(RATE // 2) / RATE
    played_hz = hz * 2 ** (off_cents / 1200)
    return (0.1 * np.sin(2 * np.pi * played_hz * at_s)).astype(np.float32)


def begins(practice: Practice, sound: Samples) -> bool:
    """Whether the round that is ready has begun by the end of the sound, and at its note."""
    practice.do(practice.session.advance)
    assert practice.view().stage is Stage.READY
    practice.port.sing(sound, practice.port.now_frame() + RATE // 10)
    practice.pass_time(sound.size / RATE + 0.2)
    return practice.view().stage is Stage.PLAYING


def d4_hz(a4_hz: float) -> float:
    """Equal temperament: a fifth, seven semitones, below A4."""
    return a4_hz * 2 ** (-7 / 12)


@pytest.mark.parametrize("a4_hz", [415, 424, 430, 440, 442, 446])
def test_a_round_begins_by_playing_at_any_a4(practice_of: Build, a4_hz: int) -> None:
    practice = practice_of(TUNED.format(a4_hz=a4_hz), plays=False)
    assert begins(practice, tone(d4_hz(a4_hz)))


@pytest.mark.parametrize("a4_hz", [415, 446])
@pytest.mark.parametrize("semitones", [-1, 1, 12])
def test_another_note_of_that_tuning_does_not_begin_it(
    practice_of: Build, a4_hz: int, semitones: int
) -> None:
    practice = practice_of(TUNED.format(a4_hz=a4_hz), plays=False)
    assert not begins(practice, tone(d4_hz(a4_hz) * 2 ** (semitones / 12)))


@pytest.mark.parametrize(("level_before_db", "is_it"), [(-20.0, True), (0.0, False)])
def test_somebody_far_softer_than_the_player_does_not_begin_it(
    practice_of: Build, level_before_db: float, is_it: bool
) -> None:
    """The tone lies at -23 dB."""
    practice = practice_of(TUNED.format(a4_hz=440), plays=False, level_before_db=level_before_db)
    assert begins(practice, tone(d4_hz(440))) is is_it


@pytest.mark.parametrize(("off_cents", "is_it"), [(-52.0, True), (0.0, True), (66.0, False)])
def test_a_pure_third_is_where_the_temperament_puts_it(
    practice_of: Build, off_cents: float, is_it: bool
) -> None:
    """It lies 13.7 cents below the tempered one, which a gate in equal temperament would get wrong
    at both ends of a quarter tone."""
    assert 1200 * math.log2(PURE_F_SHARP_HZ / 739.989) == pytest.approx(-13.7, abs=0.1)
    practice = practice_of(PURE, plays=False)
    assert begins(practice, tone(PURE_F_SHARP_HZ, off_cents)) is is_it


@pytest.mark.skipif(not RECORDINGS.is_dir(), reason="the real recordings are not at hand")
@pytest.mark.parametrize("a4_hz", [415, 424, 440])
def test_a_round_begins_with_a_real_flutes_note(practice_of: Build, a4_hz: int) -> None:
    """D4 as recorded at every dynamic, retuned by resampling."""
    for note in [n for n in single_notes() if n.midi == 62 and n.length == "1"]:
        recorded = sound_of(note.path)[:RECORDED_RATE]
        sound = signal.resample_poly(recorded, RATE * 440, RECORDED_RATE * a4_hz)
        practice = practice_of(TUNED.format(a4_hz=a4_hz), plays=False)
        assert begins(practice, sound.astype(np.float32)), note.path.name
