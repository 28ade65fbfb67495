"""The played-in flutist on a real device: heard at the microphone and from the loudspeaker."""

from __future__ import annotations

import numpy as np

from trainer.sound.simulated import SimulatedPort
from trainer.sound.sung import LOUDSPEAKER_GAIN, SungPort

TONE = np.linspace(0.1, 0.4, 1000, dtype=np.float32)


def test_what_is_sung_is_heard_at_its_frame_and_played() -> None:
    device = SimulatedPort(listens=False)
    port = SungPort(device)
    port.sing(TONE, 500)
    device.advance(2000)
    assert port.listens
    heard = port.read(400, 1600)
    np.testing.assert_array_equal(heard[100:1100], TONE)
    assert not heard[:100].any()
    assert not heard[1100:].any()
    np.testing.assert_allclose(device.played(500, 1500), LOUDSPEAKER_GAIN * TONE)


def test_it_breaks_off_where_it_is_told_to() -> None:
    port = SungPort(SimulatedPort())
    port.sing(TONE, 0)
    port.sing(TONE, 5000)
    port.fall_silent(300)
    heard = port.read(0, 6000)
    np.testing.assert_array_equal(heard[:300], TONE[:300])
    assert not heard[300:].any()


def test_the_clock_is_the_devices() -> None:
    device = SimulatedPort()
    port = SungPort(device)
    device.advance(480)
    assert port.now_frame() == port.heard_frame() == 480
    port.close()
    assert not device.alive
