"""A round begins with its own first note, and with no other."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.music.pitch import Pitch
from trainer.session.first_note import FirstNote
from trainer.sound.simulated import SimulatedPort

RATE = 48000


def played(port: SimulatedPort, hz: float) -> None:
    """A quarter of a second of it at the microphone, and as much silence."""
    turn = 2 * np.pi * hz * np.arange(RATE // 4) / RATE
    port.sing((0.1 * np.sin(turn) + 0.03 * np.sin(2 * turn)).astype(np.float32), port.now_frame())
    port.advance(RATE // 2)


@pytest.mark.parametrize("hz", [293.66, 493.88, 659.26, 1174.66])
def test_another_note_below_or_above_begins_nothing(hz: float) -> None:
    """D4, B4, E5, D6 where D5 is asked for: UNSW Music Acoustics, J. Wolfe, 'Note names, MIDI
    numbers and frequencies'."""
    port = SimulatedPort()
    waits = FirstNote(port)
    played(port, hz)
    assert waits.onset_frame(Pitch.parse("D5")) is None
    begins_frame = port.now_frame()
    played(port, 587.33)
    onset_frame = waits.onset_frame(Pitch.parse("D5"))
    assert onset_frame == pytest.approx(begins_frame, abs=0.02 * RATE)
