"""Microphones that are not honest: what comes out of each for what goes in."""

from __future__ import annotations

import numpy as np
from scipy.signal import butter, lfilter, sosfilt

from trainer.sound.port import Samples

RATE = 48000
FULL_DB = 0.0


def honest(sound: Samples, noise_db: float = -66.0, gain_db: float = 0.0) -> Samples:
    """Gain, its own noise and the room's, and full scale."""
    noise = np.random.default_rng(8).standard_normal(sound.size) * 10 ** (noise_db / 20)
    return np.clip(sound * 10 ** (gain_db / 20) + noise, -1.0, 1.0).astype(np.float32)


def with_automatic_gain(
    sound: Samples, target_db: float = -18.0, most_db: float = 30.0, release_s: float = 0.8
) -> Samples:
    """Every sound is brought to one level: down at once, up again slowly."""
    block = RATE // 200
    out = sound.copy()
    gain_db = most_db
    for begin in range(0, sound.size, block):
        part = sound[begin : begin + block]
        level_db = 10 * np.log10(np.mean(part**2) + 1e-12)
        wanted_db = min(most_db, target_db - level_db)
        rise_db = most_db / release_s * block / RATE
        gain_db = (
            max(wanted_db, gain_db - 3.0)
            if wanted_db < gain_db
            else gain_db + min(rise_db, wanted_db - gain_db)
        )
        out[begin : begin + block] = part * 10 ** (gain_db / 20)
    return np.clip(out, -1.0, 1.0).astype(np.float32)


def with_noise_gate(sound: Samples, threshold_db: float = -38.0, hold_s: float = 0.03) -> Samples:
    """What is softer than the threshold becomes digital silence."""
    power = lfilter([1 - 0.999], [1, -0.999], sound.astype(np.float64) ** 2)
    open_ = 10 * np.log10(power + 1e-12) > threshold_db
    held = np.convolve(open_, np.ones(round(hold_s * RATE)), "full")[: sound.size] > 0
    return np.where(held, sound, 0.0).astype(np.float32)


def low_passed(sound: Samples, edge_hz: float = 3600.0) -> Samples:
    """A telephone's band."""
    low_pass = butter(10, edge_hz, fs=RATE, output="sos")
    return sosfilt(low_pass, sound).astype(np.float32)


def on_the_second_channel(sound: Samples) -> Samples:
    """A pair of channels, shape (samples, 2), of which only the second speaks."""
    hum = 1e-5 * np.random.default_rng(9).standard_normal(sound.size)
    return np.stack([hum, sound], axis=1).astype(np.float32)


def passages(
    soft_db: float = -36.0, loud_db: float = -16.0, hz: float = 587.33
) -> dict[str, Samples]:
    """A player before the microphone: silent, soft, loud, silent; breath noise with the tone."""
    rng = np.random.default_rng(7)

    def note(level_db: float, harmonics: int) -> Samples:
        at = np.arange(round(2.6 * RATE)) / RATE
        tone = sum(np.sin(2 * np.pi * hz * k * at) / k**1.8 for k in range(1, harmonics))
        tone = tone / np.sqrt(np.mean(tone**2)) + 0.01 * rng.standard_normal(at.size)
        slow = 1 + 0.15 * np.sin(2 * np.pi * 4.7 * at)  # no breath is steady
        edge = np.minimum(1.0, np.minimum(at - 0.3, at[-1] - 0.1 - at).clip(0) / 0.06)
        return (10 ** (level_db / 20) * tone * slow * edge).astype(np.float32)

    silence = np.zeros(2 * RATE, np.float32)
    return {
        "quiet": silence,
        "soft": note(soft_db, 6),
        "loud": note(loud_db, 14),
        "after": silence.copy(),
    }


def spoken(seconds: float = 2.5, seed: int = 6) -> Samples:
    """A voice without words: pitch on the move between 110 and 280 Hz, syllables with gaps."""
    dice = np.random.default_rng(seed)
    sound, rate = [], RATE
    while sum(map(len, sound)) < seconds * rate:
        count = round(dice.uniform(0.1, 0.3) * rate)
        share = np.arange(count) / count
        hz = dice.uniform(140, 220) * 2 ** (dice.uniform(-0.5, 0.5) * share)
        voice = sum(np.sin(2 * np.pi * n * np.cumsum(hz) / rate) / n for n in range(1, 12))
        sound += [
            np.sin(np.pi * share) ** 0.5 * voice,
            np.zeros(round(dice.uniform(0, 0.1) * rate)),
        ]
    return np.asarray(0.05 * np.concatenate(sound)[: round(seconds * rate)], np.float32)
