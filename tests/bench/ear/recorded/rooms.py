"""Rooms from three generators, and four microphones.

`decay_s` is the reverberation time (60 dB, ISO 3382-1), `wet_db` the energy of everything that is
not direct sound against the direct sound. The generators: the project's own (diffuse tail), the one
beside the project (`stitch.room`: early reflections and a darkening tail), and shoebox rooms of
pyroomacoustics (image sources up to order 14, then rays; walls that take more of the treble; the
microphone stands at the distance at which direct and reverberant sound come out as asked).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from itertools import product

import numpy as np
from scipy import signal

from tests.bench.ear.recorded.heard_by import RATE, Sound, our_room
from tests.bench.ear.recorded.shared import cached, stitch

LOUD = 0.3
"""Highest sample at the microphone."""
FLOOR_DB = -66.0
"""Noise of the plain microphone, dBFS."""
BODIES = 2
"""Different rooms of one kind."""


@dataclass(frozen=True)
class Room:
    """A kind of room."""

    name: str
    decay_s: float
    wet_db: float
    metres: float | None = None
    """From player to microphone, in a hall; what rings is then as loud as it comes out."""


DRY = Room("dry", 0.0, -np.inf)
ROOMS = (
    DRY,
    Room("0.25 s −10 dB", 0.25, -10.0),
    Room("0.4 s −3 dB", 0.4, -3.0),
    Room("0.7 s −3 dB", 0.7, -3.0),
    Room("0.8 s 0 dB", 0.8, 0.0),
)

HALLS = (
    Room("hall 1.0 s, 3 m", 1.0, np.nan, 3.0),
    Room("hall 1.4 s, 5 m", 1.4, np.nan, 5.0),
    Room("hall 1.8 s, 8 m", 1.8, np.nan, 8.0),
)


@dataclass(frozen=True)
class Place:
    """Where a take is played and through what it is heard."""

    room: Room
    generator: str
    microphone: str
    seed: int

    def heard(self, sound: Sound) -> Sound:
        """The sound as it comes out of the microphone."""
        seed = self.seed % BODIES
        around = sound if self.room is DRY else GENERATORS[self.generator](sound, self.room, seed)
        loud = LOUD * around / max(1e-9, np.abs(around).max())
        return MICROPHONES[self.microphone](loud, np.random.default_rng([self.seed, 17]))


def place(room: Room, number: int) -> Place:
    """The place of the take of this number: in as many takes as there are pairs of generator and
    microphone each comes once, in an order drawn anew."""
    both = list(product(GENERATORS, MICROPHONES))
    order = np.random.default_rng([number // len(both), 23]).permutation(len(both))
    generator, microphone = both[order[number % len(both)]]
    if room.metres is not None:
        generator = "shoebox"
    return Place(room, "none" if room is DRY else generator, microphone, number)


# Generators --------------------------------------------------------------------------------------


def _ours(sound: Sound, room: Room, seed: int) -> Sound:
    return our_room(sound, room.decay_s, room.wet_db, seed)


def _beside(sound: Sound, room: Room, seed: int) -> Sound:
    module = stitch()
    assert module is not None
    return np.asarray(module.room(sound, RATE, room.decay_s, room.wet_db, seed))


def _shoebox(sound: Sound, room: Room, seed: int) -> Sound:
    return np.asarray(signal.fftconvolve(sound, shoebox_response(room, seed)))


GENERATORS: dict[str, Callable[[Sound, Room, int], Sound]] = {
    "ours": _ours,
    **({"stitch": _beside} if stitch() is not None else {}),
    **({"shoebox": _shoebox} if find_spec("pyroomacoustics") else {}),
}

_WALLS_M = {0.25: (3.1, 4.2, 2.5), 0.4: (4.3, 5.6, 2.8), 0.7: (6.2, 8.1, 3.2), 0.8: (7.0, 9.0, 3.6)}
_HALLS_M = {1.0: (10.0, 15.0, 5.5), 1.4: (13.0, 20.0, 7.5), 1.8: (16.0, 26.0, 10.0)}
_TREBLE = (0.8, 0.9, 1.0, 1.0, 1.15, 1.35, 1.6)
"""What walls take in the octaves from 125 Hz on, against the middle: common practice, no source."""
_OCTAVES_HZ = (125, 250, 500, 1000, 2000, 4000, 8000)
DIRECT_S = 0.0025


@cache
def shoebox_response(room: Room, seed: int) -> Sound:
    """Impulse response whose direct sound is 1 at sample 0."""
    file = cached(f"shoebox-{room.decay_s}-{room.metres or room.wet_db}-{seed}.npy")
    if not file.exists():
        np.save(file, _computed(room, seed))
    return np.asarray(np.load(file))


def _computed(room: Room, seed: int) -> Sound:
    import pyroomacoustics as pra

    dice = np.random.default_rng([seed, 29])
    pra.random.seed(seed) if hasattr(pra, "random") else np.random.seed(seed)
    walls = np.array((_WALLS_M | _HALLS_M)[room.decay_s]) * dice.uniform(0.93, 1.07, 3)
    taken, _ = pra.inverse_sabine(room.decay_s, walls)
    material = pra.Material(
        {
            "description": "walls",
            "coeffs": [min(0.95, share * taken) for share in _TREBLE],
            "center_freqs": list(_OCTAVES_HZ),
        }
    )
    box = pra.ShoeBox(
        walls, fs=RATE, materials=material, max_order=14, ray_tracing=True, air_absorption=True
    )
    box.set_ray_tracing(n_rays=6000)
    player = walls * dice.uniform((0.3, 0.25, 0), (0.42, 0.38, 0)) + (0, 0, 1.5)
    towards = np.array([0.55, 0.83, -0.05]) / np.linalg.norm([0.55, 0.83, -0.05])
    away = [room.metres] if room.metres is not None else np.geomspace(0.3, 2.4, 12)
    stands = [player + towards * metres for metres in away]
    box.add_source(player)
    box.add_microphone_array(np.array([s for s in stands if np.all(s < walls - 0.2)]).T)
    box.compute_rir()
    responses = [_from_direct(found[0]) for found in box.rir]
    if room.metres is not None:
        return responses[0]
    best = min(responses, key=lambda response: abs(wet_db(response) - room.wet_db))
    direct = round(DIRECT_S * RATE)
    best[direct:] *= 10 ** ((room.wet_db - wet_db(best)) / 20)  # less than a decibel is left
    return best


def _from_direct(response: Sound) -> Sound:
    peak = int(np.abs(response).argmax())
    return np.asarray(response[peak:] / response[peak])


def wet_db(response: Sound) -> float:
    """Energy after the direct sound against the direct sound, dB."""
    direct = round(DIRECT_S * RATE)
    return float(10 * np.log10((response[direct:] ** 2).sum() / (response[:direct] ** 2).sum()))


# Microphones -------------------------------------------------------------------------------------


def _plain(sound: Sound, dice: np.random.Generator) -> Sound:
    return sound + dice.standard_normal(sound.size) * 10 ** (FLOOR_DB / 20)


def _narrow(sound: Sound, dice: np.random.Generator) -> Sound:
    """A laptop's: nothing below 150 Hz and above 7 kHz."""
    band = signal.butter(4, (150, 7000), "bandpass", fs=RATE, output="sos")
    return _plain(np.asarray(signal.sosfilt(band, sound)), dice)


def _riding(sound: Sound, dice: np.random.Generator) -> Sound:
    """Gain that rides: 3:1 above -35 dBFS, down within 10 ms, up within 300 ms."""
    step = 64
    noisy = _plain(sound, dice)
    count = -(-noisy.size // step)
    blocks = np.pad(noisy, (0, count * step - noisy.size)).reshape(count, step)
    levels_db = 10 * np.log10((blocks**2).mean(axis=1) + 1e-9)
    followed, now = np.empty(count), -60.0
    for number, level_db in enumerate(levels_db):
        time_s = 0.01 if level_db > now else 0.3
        now += (level_db - now) * (1 - np.exp(-step / RATE / time_s))
        followed[number] = now
    gain_db = -(2 / 3) * np.maximum(0.0, followed + 35.0)
    at = (np.arange(count) + 0.5) * step
    ridden = noisy * 10 ** (np.interp(np.arange(noisy.size), at, gain_db) / 20)
    return np.asarray(ridden * LOUD / np.abs(ridden).max())


def _noisy(sound: Sound, dice: np.random.Generator) -> Sound:
    """Noise 40 dB under the loud parts, more of it in the bass."""
    loud = np.sqrt(np.percentile(sound**2, 95) / 2)
    noise = np.asarray(signal.lfilter([0.3], [1, -0.7], dice.standard_normal(sound.size)))
    return sound + noise / noise.std() * loud * 10 ** (-40 / 20)


MICROPHONES: dict[str, Callable[[Sound, np.random.Generator], Sound]] = {
    "plain": _plain,
    "narrow": _narrow,
    "riding": _riding,
    "noisy": _noisy,
}
