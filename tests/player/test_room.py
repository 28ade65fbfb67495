"""The synthetic room and microphone against the definition of reverberation time."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from trainer.player.room import in_room, microphone

RATE_HZ = 48000


@pytest.mark.parametrize("rt60_s", [0.3, 0.8])
def test_the_tail_dies_in_the_time_asked_for(rt60_s):
    """Backward-integrated decay (Schroeder 1965, JASA 37:409), −5 to −25 dB in the octave at 1 kHz,
    as in ISO 3382-1."""
    click = np.zeros(RATE_HZ // 10, np.float32)
    click[0] = 1
    tail = in_room(click, RATE_HZ, rt60_s, seed=1, wet_db=0.0)[1:].astype(float)
    octave = signal.butter(3, (707, 1414), "band", fs=RATE_HZ, output="sos")
    tail = signal.sosfilt(octave, tail)
    decay_db = 10 * np.log10(np.cumsum(tail[::-1] ** 2)[::-1] / np.sum(tail**2) + 1e-12)
    time_s = np.arange(len(tail)) / RATE_HZ
    used = (decay_db < -5) & (decay_db > -25)
    slope_db_per_s = np.polyfit(time_s[used], decay_db[used], 1)[0]
    assert -60 / slope_db_per_s == pytest.approx(rt60_s, rel=0.15)


def test_the_direct_sound_is_not_moved_and_the_tail_has_its_level():
    click = np.zeros(1000, np.float32)
    click[100] = 0.5
    sound = in_room(click, RATE_HZ, 0.3, seed=1, wet_db=-10.0)
    assert np.argmax(np.abs(sound)) == 100
    assert sound[100] == pytest.approx(0.5, abs=0.01)
    tail = sound.copy()
    tail[100] = 0
    assert 10 * np.log10(np.sum(tail**2) / 0.25) == pytest.approx(-10.0, abs=0.1)


def test_the_room_repeats_by_seed():
    sound = np.random.default_rng(1).standard_normal(2000).astype(np.float32)
    first, again, other = (in_room(sound, RATE_HZ, 0.2, seed) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_the_microphone_adds_its_noise_and_its_gain_and_clips():
    silence = np.zeros(RATE_HZ, np.float32)
    noise_db = 10 * np.log10(np.mean(microphone(silence, -62.0, 20.0) ** 2))
    assert noise_db == pytest.approx(-62.0, abs=0.2)
    tone = np.full(1000, 0.1, np.float32)
    assert np.mean(microphone(tone, -120.0, 6.0)) == pytest.approx(0.1995, abs=0.001)
    assert np.max(microphone(tone, -120.0, 40.0)) == 1.0
