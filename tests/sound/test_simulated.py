"""The port in memory keeps the contract every port keeps."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.sound.port import SoundPort
from trainer.sound.simulated import LONGEST_PAUSE_S, PacedPort, SimulatedPort

RNG = np.random.default_rng(7)


def noise(frames: int) -> np.ndarray:
    return RNG.uniform(-0.4, 0.4, frames).astype(np.float32)


def test_time_passes_only_by_advance() -> None:
    port: SoundPort = SimulatedPort()
    assert port.now_frame() == 0
    assert isinstance(port, SimulatedPort)
    port.advance(10_001)
    assert port.now_frame() == port.heard_frame() == 10_001


@pytest.mark.parametrize("round_trip_frames", [0, 1, 768, 9999])
def test_what_is_sung_at_a_frame_is_read_at_that_frame(round_trip_frames: int) -> None:
    port = SimulatedPort(round_trip_frames=round_trip_frames)
    song = noise(5000)
    port.sing(song, 12_345)
    port.advance(12_345 + 5000 + round_trip_frames)
    assert port.heard_frame() == 17_345
    np.testing.assert_array_equal(port.read(12_345, 17_345), song)
    assert not port.read(0, 12_345).any()


@pytest.mark.parametrize("round_trip_frames", [0, 100, 6400])
def test_bleed_stands_where_it_was_played(round_trip_frames: int) -> None:
    port = SimulatedPort(round_trip_frames=round_trip_frames, bleed=0.5)
    sound = noise(9000)
    port.play(sound, 2000)
    port.advance(11_000 + round_trip_frames)
    np.testing.assert_allclose(port.read(2000, 11_000), 0.5 * sound, atol=1e-7)
    np.testing.assert_array_equal(port.played(2000, 11_000), sound)


def test_the_step_of_time_does_not_change_the_sound() -> None:
    sound, song = noise(7000), noise(5000)
    heard = []
    for step in (1, 64, 4801, 9000):
        port = SimulatedPort(round_trip_frames=321, bleed=0.25)
        port.play(sound, 100)
        port.sing(song, 150)
        while port.now_frame() < 9000:
            port.advance(step)
        heard.append(port.read(0, 8000))
    for other in heard[1:]:
        np.testing.assert_array_equal(heard[0], other)


def test_without_a_microphone_nothing_is_heard() -> None:
    port = SimulatedPort(listens=False, bleed=1.0)
    port.sing(noise(100), 0)
    port.play(noise(100), 0)
    port.advance(200)
    assert not port.listens
    assert not port.read(0, 200).any()
    assert port.heard_frame() == 200


def test_a_song_can_break_off() -> None:
    port = SimulatedPort()
    port.sing(noise(1000), 0)
    port.sing(noise(1000), 5000)
    port.fall_silent(2000)
    port.advance(8000)
    assert port.read(0, 1000).any()
    assert not port.read(1000, 8000).any()


def test_faults_keep_their_frame_and_closing_stops_the_clock() -> None:
    port = SimulatedPort()
    port.advance(480)
    port.fail("The microphone was unplugged.")
    port.close()
    port.advance(480)
    assert [(fault.frame, fault.what) for fault in port.faults()] == [
        (480, "The microphone was unplugged.")
    ]
    assert port.now_frame() == 480
    assert not port.alive


class Clock:
    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


def test_a_paced_port_keeps_real_time() -> None:
    clock = Clock()
    port = PacedPort(clock_s=clock)
    song = noise(480)
    port.sing(song, 48_000)
    for _ in range(3000):
        clock.now_s += 0.001234567
        port.now_frame()
    assert abs(port.now_frame() - 3000 * 0.001234567 * 48000) <= 1.0
    np.testing.assert_array_equal(port.read(48_000, 48_480), song)


def test_a_sleeping_computer_does_not_count_as_practice() -> None:
    clock = Clock()
    port = PacedPort(clock_s=clock)
    clock.now_s += 3600.0
    assert port.now_frame() == LONGEST_PAUSE_S * 48000
