"""Dishonest microphones are told from honest ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.sound.microphones import (
    RATE,
    honest,
    low_passed,
    on_the_second_channel,
    passages,
    with_automatic_gain,
    with_noise_gate,
)
from trainer.ear.transcribe import transcribe
from trainer.music.tuning import Tuning
from trainer.session.microphone_check import LIMITS
from trainer.sound.board import private_board
from trainer.sound.level_check import WHAT_TO_DO, Finding, Passages, findings
from trainer.sound.port import Samples
from trainer.sound.stream import Turner

Microphone = Callable[[Samples], Samples]


def through(microphone: Microphone, soft_db: float = -36.0, loud_db: float = -16.0) -> Passages:
    """The whole minute goes through one microphone: gains and gates remember."""
    played = passages(soft_db, loud_db)
    ends = np.cumsum([sound.size for sound in played.values()])[:-1]
    heard = np.split(microphone(np.concatenate(list(played.values()))), ends)
    return Passages(*heard, sample_rate_hz=RATE)


@pytest.mark.parametrize("gain_db", [-6.0, 0.0, 6.0])
@pytest.mark.parametrize("noise_db", [-80.0, -66.0])
def test_an_honest_microphone_is_left_alone(gain_db: float, noise_db: float) -> None:
    heard = through(lambda sound: honest(sound, noise_db, gain_db))
    assert findings(heard, LIMITS) == ()


@pytest.mark.parametrize("loud_db", [-56.0, -54.0, -50.0, -46.0])
def test_the_check_and_a_round_call_the_same_sound_too_soft(loud_db: float) -> None:
    """A steady note in either: `trainer.ear.signal_warnings` says it after a round."""
    played = through(lambda sound: honest(sound, -110.0), loud_db - 6.0, loud_db)
    told = Finding.TOO_SOFT in findings(played, LIMITS)
    after_a_round = transcribe(played.loud, RATE, Tuning()).warnings
    assert told == any("very soft" in words for words in after_a_round) == (loud_db < -52)


@pytest.mark.parametrize(
    ("microphone", "finding"),
    [
        (lambda sound: 0.0 * sound, Finding.DEAD),
        (lambda sound: honest(sound, -66.0, -55.0), Finding.NOTHING_HEARD),
        (lambda sound: honest(sound, -95.0, -40.0), Finding.TOO_SOFT),
        (lambda sound: honest(sound, -66.0, 18.0), Finding.CLIPPING),
        (lambda sound: honest(sound, -45.0), Finding.NOISE),
        (lambda sound: with_automatic_gain(honest(sound)), Finding.GAIN_RIDES),
        (lambda sound: with_noise_gate(honest(sound)), Finding.SOFT_IS_EATEN),
        (lambda sound: with_noise_gate(honest(sound), -30.0), Finding.SOFT_IS_EATEN),
        (lambda sound: low_passed(honest(sound)), Finding.NARROW),
    ],
)
def test_a_dishonest_microphone_is_found_out(microphone: Microphone, finding: Finding) -> None:
    found = findings(through(microphone), LIMITS)
    assert finding in found
    assert len(found) <= 2
    assert len(WHAT_TO_DO[finding]) > 20


def test_noise_that_sinks_under_a_loud_note_is_automatic_gain() -> None:
    """The microphone turns itself down for the loud note and hasn't come up a second later."""
    heard = through(lambda sound: honest(sound, noise_db=-70.0))
    later = replace(heard, after=(heard.after * 10 ** (-9 / 20)).astype(np.float32))
    assert findings(heard, LIMITS) == ()
    assert findings(later, LIMITS) == (Finding.GAIN_RIDES,)


def test_a_player_without_contrast_is_no_automatic_gain() -> None:
    assert findings(through(honest, soft_db=-20.0, loud_db=-19.0), LIMITS) == ()


def test_the_wrong_channel_mends_itself() -> None:
    song = on_the_second_channel(honest(np.concatenate(list(passages().values()))))
    board = private_board(12 * RATE)
    turner = Turner(board, RATE)
    for begin in range(0, len(song), 2048):
        block = song[begin : begin + 2048]
        turner.turn(block, np.zeros((len(block), 2), np.float32), None)
    assert board.channel == 1
    loud = slice(5 * RATE, 7 * RATE)
    heard = board.microphone.read(loud.start, loud.stop)
    np.testing.assert_array_equal(heard, song[loud, 1])
