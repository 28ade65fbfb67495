"""The round trip is found to a fraction of a frame, or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.sound.rooms import RoomPort, any_room
from trainer.errors import SoundError
from trainer.sound.calibrate import (
    RoundTrip,
    calibration_chirp,
    find_sound,
    measure_round_trip,
    remember_round_trip,
    remembered_round_trip,
)
from trainer.sound.click import Tap, click
from trainer.sound.simulated import SimulatedPort

RATE = 48000
CHIRP = calibration_chirp(RATE)


def hear(port: SimulatedPort, frame: int) -> None:
    port.advance(max(0, frame - port.heard_frame()))


def measured(port: SimulatedPort) -> RoundTrip | None:
    return measure_round_trip(port, lambda frame: hear(port, frame))


@pytest.mark.parametrize("delay_frames", [0, 1, 768, 6144, 20_000])
@pytest.mark.parametrize("bleed", [1.0, 0.02])
def test_a_loop_is_measured_to_the_frame(delay_frames: int, bleed: float) -> None:
    port = SimulatedPort(round_trip_frames=delay_frames, bleed=bleed)
    found = measured(port)
    assert found is not None
    assert found.frames == pytest.approx(delay_frames, abs=0.2)
    assert found.spread_frames < 0.1
    assert found.chirps_heard == 8
    assert found.sample_rate_hz == RATE


@pytest.mark.parametrize("assumed_frames", [0, 2000, 9000])
def test_a_wrong_assumption_does_not_matter(assumed_frames: int) -> None:
    """The port delays by 3000 frames but believes in another round trip."""
    port = SimulatedPort(round_trip_frames=3000, bleed=0.5)
    mix = port._turn

    def turn(frames: int) -> None:
        port.round_trip_frames = 3000
        mix(frames)
        port.round_trip_frames = assumed_frames

    port._turn = turn  # type: ignore[method-assign]
    port.round_trip_frames = assumed_frames
    found = measured(port)
    assert found is not None
    assert found.frames == pytest.approx(3000, abs=0.2)


@pytest.mark.parametrize("seed", range(10))
def test_noise_does_not_mislead_it(seed: int) -> None:
    """The chirp's peak stands 14 dB above the noise's root mean square."""
    port = SimulatedPort(round_trip_frames=1500, bleed=0.1)
    rng = np.random.default_rng(seed)
    port.sing(rng.normal(0, 0.005, 8 * RATE).astype(np.float32), 0)
    found = measured(port)
    assert found is not None
    assert found.frames == pytest.approx(1500, abs=1.0)


def test_the_direct_sound_counts_and_not_the_stronger_wall() -> None:
    heard = np.zeros(10_000, np.float32)
    heard[2000 : 2000 + CHIRP.size] += 0.8 * CHIRP
    heard[3000 : 3000 + CHIRP.size] += CHIRP
    assert find_sound(heard, CHIRP) == pytest.approx(2000, abs=0.2)


@pytest.mark.parametrize("share", [-0.4, -0.2, 0.2, 0.4])
def test_a_sound_between_two_frames_is_found_there(share: float) -> None:
    """Delayed by a turn of each frequency's phase: the shift theorem of the Fourier transform
    (Oppenheim & Schafer, Discrete-Time Signal Processing, table of properties)."""
    heard = np.zeros(8192, np.float32)
    heard[2000 : 2000 + CHIRP.size] = CHIRP
    turns = np.exp(-2j * np.pi * np.fft.rfftfreq(heard.size) * share)
    later = np.fft.irfft(np.fft.rfft(heard) * turns).astype(np.float32)
    assert find_sound(later, CHIRP) == pytest.approx(2000 + share, abs=0.05)


@pytest.mark.parametrize("seed", range(5))
def test_nothing_is_found_in_noise_a_tone_or_silence(seed: int) -> None:
    rng = np.random.default_rng(seed)
    flute = 0.3 * np.sin(2 * np.pi * 1046.5 * np.arange(40_000) / RATE)
    assert find_sound(rng.normal(0, 0.1, 40_000).astype(np.float32), CHIRP) is None
    assert find_sound(flute.astype(np.float32), CHIRP) is None
    assert find_sound(np.zeros(40_000, np.float32), CHIRP) is None


def test_another_sound_in_deep_silence_is_no_chirp() -> None:
    heard = np.zeros(40_000, np.float32)
    tap = click(Tap.ACCENT, RATE)
    heard[7000 : 7000 + tap.size] = tap
    assert find_sound(heard, CHIRP) is None


def test_headphones_give_no_round_trip() -> None:
    port = SimulatedPort(bleed=0.0)
    rng = np.random.default_rng(5)
    port.sing(rng.normal(0, 0.01, 10 * RATE).astype(np.float32), 0)
    assert measured(port) is None


def test_each_pair_of_devices_is_remembered(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "round_trips.json"
    first, second = RoundTrip(6144.25, 0.5, 8, RATE), RoundTrip(700.0, 1.0, 7, 44100)
    remember_round_trip(path, "Böhm and Laut", first)
    remember_round_trip(path, "Böhm and Laut", second)
    assert remembered_round_trip(path, "Böhm and Laut", RATE) == first
    assert remembered_round_trip(path, "Böhm and Laut", 44100) == second
    assert remembered_round_trip(path, "another", RATE) is None


MEASURED = (
    '{{"loop at 48000 Hz": {{"frames": {}, "spread_frames": 0, "chirps_heard": 8, '
    '"sample_rate_hz": 48000}}}}'
)
"""As it is written down; JSON as Python reads it knows numbers without end too."""


@pytest.mark.parametrize(
    "text",
    [
        "", "[1, 2]", '{"loop at 48000 Hz": {"frames": 1}}', "{", MEASURED.format("Infinity"),
        MEASURED.format("NaN"), MEASURED.format("1e300"), MEASURED.format("-1"),
    ],
)  # fmt: skip
def test_a_spoilt_file_counts_as_not_measured(tmp_path: Path, text: str) -> None:
    path = tmp_path / "round_trips.json"
    path.write_text(text)
    assert remembered_round_trip(path, "loop", RATE) is None
    remember_round_trip(path, "loop", RoundTrip(1.0, 0.0, 8, RATE))
    assert remembered_round_trip(path, "loop", RATE) == RoundTrip(1.0, 0.0, 8, RATE)


def test_a_folder_that_can_t_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(SoundError, match="can't be kept"):
        remember_round_trip(tmp_path / "file" / "x.json", "loop", RoundTrip(1.0, 0.0, 8, RATE))


@pytest.mark.parametrize("seed", range(6))
def test_in_any_room_the_round_trip_is_found_to_a_millisecond(seed: int) -> None:
    """Fifty rooms are in tests/bench/round_trip.py."""
    random = np.random.default_rng(500 + seed)
    true_frames = int(random.integers(300, 20_000))
    port = RoomPort(any_room(random), true_frames, believed_frames=4000)
    found = measure_round_trip(port, port.listen, chirps=4)
    assert found is not None
    assert abs(found.frames - true_frames) < 0.001 * port.sample_rate_hz
