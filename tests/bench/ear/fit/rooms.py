"""Rooms and microphones, each take another: three generators and many faults of microphones.

`decay_s` is the reverberation time (60 dB, ISO 3382-1), `wet_db` the energy of all that is not
direct sound against it. A fourth and a fifth generator (`../shared/audio/stitch.py`, and shoebox
rooms of pyroomacoustics) are kept for measuring and never fitted on.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft, signal

from tests.ear.made_flute import in_a_room
from trainer.player.room import in_room

Sound = NDArray[np.float64]
Dice = np.random.Generator

DRY_SHARE = 0.17
ROOMS_S, HALLS_S = (0.1, 1.1), (0.9, 2.2)
"""How long they ring."""
FAR_DB = 3.0
"""More of the room than of the flute by so much is far from it."""
_EDGES_HZ = (0, 250, 500, 1000, 2000, 4000, 8000, 24000)


def diffuse(sound: Sound, rate: int, decay_s: float, wet_db: float, dice: Dice) -> Sound:
    """The trainer's own: a dying noise, the upper band dying in half the time."""
    heard = in_room(sound.astype(np.float32), rate, decay_s, int(dice.integers(1 << 30)), wet_db)
    return heard.astype(np.float64)


def echoed(sound: Sound, rate: int, decay_s: float, wet_db: float, dice: Dice) -> Sound:
    """The tests' own: five early echoes and a darkened tail."""
    longer = np.concatenate([sound, np.zeros(round(decay_s * rate))])
    return in_a_room(longer, rate, decay_s, dice, wet_db)


def banded(sound: Sound, rate: int, decay_s: float, wet_db: float, dice: Dice) -> Sound:
    """Every octave with its own decay and strength; a smooth tail, or sparse reflections that grow
    denser; four to eighteen early ones."""
    count = fft.next_fast_len(round(1.15 * decay_s * rate), real=True)
    time_s = np.arange(count) / rate
    if dice.random() < 0.33:
        tail = np.zeros(count)
        places = (dice.random(int(dice.uniform(150, 800))) ** 0.5 * count).astype(int)
        tail[np.minimum(places, count - 1)] = dice.standard_normal(places.size)
    else:
        tail = dice.standard_normal(count)
    spectrum = fft.rfft(tail)
    hz = fft.rfftfreq(count, 1 / rate)
    response = np.zeros(count)
    for low_hz, high_hz in pairwise(_EDGES_HZ):
        darker = 1.0 if low_hz < 2000 else dice.uniform(0.4, 0.95)
        band_s = decay_s * dice.uniform(0.6, 1.35) * darker
        inside = fft.irfft(spectrum * ((hz >= low_hz) & (hz < high_hz)), count)
        response += inside * 10 ** (-3 * time_s / band_s) * dice.uniform(0.5, 1.5)
    response[: round(dice.uniform(0.002, 0.015) * rate)] = 0
    loudest = np.abs(response).max()
    for _ in range(int(dice.integers(4, 19))):
        place = min(count - 1, round(dice.uniform(0.002, 0.04) * rate))
        response[place] += dice.choice([-1, 1]) * dice.uniform(0.1, 1.2) * loudest
    response *= 10 ** (wet_db / 20) / np.sqrt((response**2).sum())
    heard = np.concatenate([sound, np.zeros(count)])
    wet = signal.fftconvolve(sound, response)
    heard[: wet.size] += wet
    return heard


GENERATORS: dict[str, Callable[[Sound, int, float, float, Dice], Sound]] = {
    "diffuse": diffuse,
    "echoed": echoed,
    "banded": banded,
}


def somewhere(
    sound: Sound, rate: int, dice: Dice, *, halls: float = 0.0
) -> tuple[NDArray[np.float32], str]:
    """The sound in some room or none, through some microphone; and which room. halls: the share of
    halls among the rooms."""
    place = "dry"
    if dice.random() > DRY_SHARE:
        place = str(dice.choice(list(GENERATORS)))
        in_hall = dice.random() < halls
        decay_s = float(dice.uniform(*HALLS_S if in_hall else ROOMS_S))
        wet_db = float(dice.uniform(-6, 10) if in_hall else dice.triangular(-14, 3, 3))
        sound = GENERATORS[place](sound, rate, decay_s, wet_db, dice)
        near = wet_db < -7 or decay_s < 0.2
        hall = " far hall" if wet_db > FAR_DB else " hall"
        place += " near" if near else " mid" if wet_db < -3.5 else hall if in_hall else " live"
    return microphone(sound, rate, dice), place


def microphone(sound: Sound, rate: int, dice: Dice) -> NDArray[np.float32]:
    """Its edges, its tilt, its noise, and the gain of what stands behind it."""
    size = fft.next_fast_len(sound.size, real=True)
    hz = fft.rfftfreq(size, 1 / rate)
    top_hz = dice.uniform(5000, 8500) if dice.random() < 0.25 else dice.uniform(9000, 20000)
    steep = dice.choice([3, 6, 12])
    edges = (1 + (dice.uniform(20, 250) / (hz + 1)) ** 4) ** -0.5 * (
        1 + (hz / top_hz) ** (2 * steep)
    ) ** -0.5
    tilt_db = dice.normal(0, 4) * np.log2((hz + 50) / 1000) / 4
    shaped = fft.rfft(sound, size) * edges * 10 ** (tilt_db / 20)
    heard = fft.irfft(shaped, size)[: sound.size]
    noise = dice.standard_normal(sound.size)
    if dice.random() < 0.5:
        noise = signal.lfilter([1], [1, -dice.uniform(0.6, 0.98)], noise)
    loud = np.sqrt(np.mean(heard**2)) + 1e-9
    heard = heard + noise / noise.std() * loud * 10 ** (-dice.uniform(26, 65) / 20)
    if dice.random() < 0.25:
        heard = _ridden(heard, rate, dice)
    heard *= dice.uniform(0.02, 0.7) / (np.abs(heard).max() + 1e-9)
    return heard.astype(np.float32)


def _ridden(sound: Sound, rate: int, dice: Dice) -> Sound:
    """Gain that rides, or compression: down fast, up slowly."""
    step = 64
    count = -(-sound.size // step)
    blocks = np.pad(sound, (0, count * step - sound.size)).reshape(count, step)
    levels_db = 10 * np.log10((blocks**2).mean(axis=1) + 1e-12)
    above_db = np.percentile(levels_db, 95) - dice.uniform(6, 25)
    ratio = dice.uniform(0.3, 0.75)
    down, up = (
        1 - np.exp(-step / rate / seconds)
        for seconds in (dice.uniform(0.004, 0.03), dice.uniform(0.08, 0.5))
    )
    now, followed = float(levels_db[0]), []
    for level_db in levels_db.tolist():
        now += (level_db - now) * (down if level_db > now else up)
        followed.append(now)
    gain_db = -ratio * np.maximum(0.0, np.array(followed) - above_db)
    at = (np.arange(count) + 0.5) * step
    return np.asarray(sound * 10 ** (np.interp(np.arange(sound.size), at, gain_db) / 20))
