"""Two simulated sound cards with clocks of their own: what one hears, on the other's frames."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.sound.clocks import Crossing, Timeline

RATE = 48000


class Clock:
    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


def late_by(rng: np.random.Generator) -> float:
    """A callback's lateness: some ms, now and then 20."""
    return float(0.004 * rng.random() + (0.02 if rng.random() < 0.02 else 0.0))


def crossed_tone(
    seconds: float,
    in_ppm: float,
    out_ppm: float,
    in_rate: int = RATE,
    hz: float = 1000.0,
    in_block: int = 441,
    out_block: int = 512,
) -> np.ndarray:
    """A tone that is steady in true time, after the crossing; the callbacks come unevenly."""
    clock, rng = Clock(), np.random.default_rng(5)
    crossing = Crossing(in_rate, RATE, clock)
    in_hz, out_hz = in_rate * (1 + in_ppm * 1e-6), RATE * (1 + out_ppm * 1e-6)
    heard_frames = played_frames = 0
    next_in_s, next_out_s = in_block / in_hz, 0.0
    in_late, out_late = late_by(rng), late_by(rng)
    blocks = []
    while played_frames < seconds * RATE:
        if next_in_s + in_late < next_out_s + out_late:
            clock.now_s = next_in_s + in_late
            at_s = (heard_frames + np.arange(in_block)) / in_hz
            crossing.write(np.sin(2 * np.pi * hz * at_s).astype(np.float32))
            heard_frames += in_block
            next_in_s, in_late = (heard_frames + in_block) / in_hz, late_by(rng)
        else:
            clock.now_s = next_out_s + out_late
            blocks.append(crossing.crossed(out_block)[:, 0])
            played_frames += out_block
            next_out_s, out_late = played_frames / out_hz, late_by(rng)
    assert crossing.slips == 0
    return np.concatenate(blocks)


def phase_frames(sound: np.ndarray, hz: float, out_ppm: float) -> np.ndarray:
    """How far the tone stands from its place, in frames, every 0.1 s."""
    true_hz = hz / (1 + out_ppm * 1e-6)
    at = np.arange(sound.size)
    step = RATE // 10
    turning = sound * np.exp(-2j * np.pi * true_hz * at / RATE)
    phases = turning[: sound.size // step * step].reshape(-1, step).sum(axis=1)
    return np.unwrap(np.angle(phases)) / (2 * np.pi) * RATE / hz


@pytest.mark.parametrize(
    ("in_ppm", "out_ppm", "in_rate"),
    [
        (80, -60, RATE),
        (50, 50, 44100),
        pytest.param(0, 0, RATE, marks=pytest.mark.slow),
        pytest.param(-120, 30, RATE, marks=pytest.mark.slow),
    ],
)
def test_no_drift_is_left_between_two_cards(in_ppm: float, out_ppm: float, in_rate: int) -> None:
    """Without fitting, 150 ppm would be 430 frames after a minute."""
    sound = crossed_tone(60.0, in_ppm, out_ppm, in_rate)
    places = phase_frames(sound, 1000.0, out_ppm)[100:]  # from 10 s on
    assert np.ptp(places) < 0.001 * RATE  # within a millisecond
    cents = 1200 * np.log2(1 + np.gradient(places) / (0.1 * RATE))
    assert np.percentile(np.abs(cents), 95) < 0.3


def test_the_sound_is_whole() -> None:
    sound = crossed_tone(6.0, 40.0, -40.0, hz=5000.0)[4 * RATE :]
    at = np.arange(96)  # so short that the fit's own slow turn is nothing
    waves = np.exp(2j * np.pi * 5000 * at / RATE)
    waves = np.stack([waves.real, waves.imag], axis=1)
    for piece in sound[: 400 * 96].reshape(400, 96):
        rest = piece - waves @ np.linalg.lstsq(waves, piece, rcond=None)[0]
        assert np.abs(rest).max() < 0.01


def test_a_line_is_found_through_uneven_callbacks() -> None:
    line, rng = Timeline(RATE), np.random.default_rng(2)
    true_rate = RATE * (1 + 70e-6)
    for block in range(60 * 100):
        line.follow(block * 480, block * 480 / true_rate + 0.005 * rng.random())
    assert 1 / line.frame_s == pytest.approx(true_rate, rel=5e-6)
    assert line.time_at(48_000 * 60) == pytest.approx(48_000 * 60 / true_rate + 0.0025, abs=0.001)
    assert line.frame_at(line.time_at(1234.5)) == pytest.approx(1234.5)
