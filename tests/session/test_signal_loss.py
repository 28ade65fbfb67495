"""What a fault of the sound took is not judged, and nothing else is spared."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from trainer.ear.heard import HeardNote, State, Take
from trainer.music.bars import Bars, Meter
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.music.pulse import Pace
from trainer.session.signal_loss import Damage, dies_at_s, hums, spared
from trainer.sound.click import click_track

RATE = 48000
NOISE = np.random.default_rng(1).standard_normal(6 * RATE).astype(np.float32)


BEAT_S = 0.5


def test_what_was_on_its_way_when_the_sound_broke_is_spared() -> None:
    """It had sounded a round trip earlier than the moment at which the device lost it."""
    pitch = Pitch.parse("D5")
    asked = [Note(n, pitch, Fraction(n), Fraction(1), Start.TONGUED) for n in range(8)]
    heard = tuple(HeardNote(note.index, pitch, State.MISSED) for note in asked)
    take = Take(RATE, 440.0, 0.0, heard)
    found = spared(take, asked, BEAT_S, Damage(faults_s=(2.0,), way_s=0.4))
    not_judged = [note.index for note in found.notes if note.state is State.NOT_JUDGED]
    assert not_judged == [3, 4]  # due at 1.5 s and at 2.0 s
    at_once = spared(take, asked, BEAT_S, Damage(faults_s=(2.0,)))
    assert [note.index for note in at_once.notes if note.state is State.NOT_JUDGED] == [4]


def test_a_microphone_that_works_is_never_wholly_silent() -> None:
    assert dies_at_s(1e-4 * NOISE, RATE) is None


def test_a_microphone_hums_where_it_is_never_silent() -> None:
    coarse = np.round(NOISE * 0.6) / 32768.0  # a quiet room in 16 bits: most samples are 0
    assert (coarse == 0.0).mean() > 0.5
    assert hums(coarse.astype(np.float32), RATE)
    gap = NOISE.copy()
    gap[RATE : RATE + RATE // 20] = 0.0
    assert not hums(gap, RATE)


def test_a_muted_microphone_is_dead_from_the_beginning() -> None:
    assert dies_at_s(np.zeros(6 * RATE, np.float32), RATE) == 0.0
    assert dies_at_s(np.zeros(0, np.float32), RATE) is None


@pytest.mark.parametrize("with_clicks", [False, True])
def test_a_microphone_that_is_unplugged_dies_there(with_clicks: bool) -> None:
    """Also where the system gives the loudspeaker's own signal in its place."""
    sound = NOISE.copy()
    sound[2 * RATE :] = 0.0
    if with_clicks:
        for frame, tap in click_track(2 * RATE, 4, Bars(Meter(4)), Pace(90.0, 90.0, 4), 0, RATE):
            sound[frame : frame + tap.size] = tap
    dies_s = dies_at_s(sound, RATE)
    assert dies_s is not None
    assert dies_s == pytest.approx(2.0, abs=0.05)


def test_a_microphone_may_be_dead_from_the_beginning() -> None:
    """What is heard then are the trainer's clicks alone, from the system's own memory."""
    sound = np.zeros(6 * RATE, np.float32)
    for frame, tap in click_track(RATE, 8, Bars(Meter(4)), Pace(90.0, 90.0, 8), 0, RATE):
        piece = tap[: max(0, sound.size - frame)]
        sound[frame : frame + piece.size] = piece
    assert dies_at_s(sound, RATE) == 0.0


def test_a_rest_at_the_end_is_no_death() -> None:
    sound = NOISE.copy()
    sound[-RATE // 2 :] = 0.0
    assert dies_at_s(sound, RATE) is None
