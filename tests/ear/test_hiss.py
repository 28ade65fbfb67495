"""The noise of the air between a tone's harmonics."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from tests.ear.steady_tones import RATE
from trainer.ear.analysis.hiss import BAND_HZ, hiss_db
from trainer.player.room import in_room

SECONDS = 1.2
NOISE_DB = -50.0


def tone(hz: float, level: float = 0.1) -> np.ndarray:
    """Six harmonics, each half as strong as the one before, with a vibrato of 15 cents."""
    at = np.arange(round(SECONDS * RATE)) / RATE
    turns = (
        2 * np.pi * hz * (at + (2 ** (15 / 1200) - 1) / (2 * np.pi * 5) * np.sin(10 * np.pi * at))
    )
    return level * sum(0.5**k * np.sin((k + 1) * turns) for k in range(6))


def noise(seed: int) -> np.ndarray:
    dice = np.random.default_rng(seed)
    return 10 ** (NOISE_DB / 20) * dice.standard_normal(round(SECONDS * RATE))


@pytest.mark.parametrize("hz", [262.0, 587.0, 1319.0])
@pytest.mark.parametrize("level", [0.0, 0.02, 0.2])
def test_the_noise_of_the_band_is_measured_whatever_tone_stands_in_it(
    hz: float, level: float
) -> None:
    """White noise has in a band the share of its power that the band is of all frequencies; so
    Welch's estimate says too (Welch 1967, IEEE Trans Audio 15:70; scipy.signal.welch)."""
    sound = noise(1)
    frequencies, density = signal.welch(sound, RATE, nperseg=4096)
    inside = (frequencies >= BAND_HZ[0]) & (frequencies < BAND_HZ[1])
    welch_db = 10 * np.log10(density[inside].sum() * (frequencies[1] - frequencies[0]))
    assert welch_db == pytest.approx(
        NOISE_DB + 10 * np.log10((BAND_HZ[1] - BAND_HZ[0]) / (RATE / 2)), abs=0.3
    )
    assert hiss_db(sound + tone(hz, level), RATE) == pytest.approx(welch_db, abs=0.8)


@pytest.mark.parametrize("seed", range(4))
def test_a_room_lifts_every_note_s_hiss_alike(seed: int) -> None:
    """Rooms of 0.4 and 0.8 s move the level of single pitches by 3 dB (standard deviation), their
    hiss by less than one (our own measurement on recorded notes)."""
    wet = [
        in_room(tone(hz) + noise(number), RATE, 0.6, seed, 0.0)
        for number, hz in enumerate((349.0, 440.0, 523.0, 698.0, 880.0))
    ]
    found = [hiss_db(sound[: round(SECONDS * RATE)], RATE) for sound in wet]
    levels_db = [10 * np.log10(np.mean(sound[: round(SECONDS * RATE)] ** 2)) for sound in wet]
    assert np.ptp([db for db in found if db is not None]) < 1.5 < np.ptp(levels_db)


def test_of_a_short_sound_nothing_is_said() -> None:
    assert hiss_db(noise(2)[: round(0.04 * RATE)], RATE) is None
