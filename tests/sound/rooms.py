"""A simulated port in a room: what is played comes back through walls, a microphone and noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import butter, sosfilt

from trainer.player.room import in_room
from trainer.sound.port import Samples
from trainer.sound.simulated import SimulatedPort


@dataclass(frozen=True)
class Room:
    """How the loudspeaker reaches the microphone."""

    gain_db: float
    """Direct sound at the microphone against what is played."""
    rt60_s: float
    wet_db: float
    noise_db: float
    """RMS level of the microphone's noise, dBFS."""
    low_pass_hz: float
    seed: int


def any_room(random: np.random.Generator) -> Room:
    """A living room, a bathroom or a hall; a loudspeaker near or far; a quiet or a noisy place."""
    gain_db = float(random.uniform(-30, -6))
    return Room(
        gain_db=gain_db,
        rt60_s=float(random.uniform(0.15, 0.9)),
        wet_db=float(random.uniform(-12, 0)),
        noise_db=gain_db - float(random.uniform(25, 50)),
        low_pass_hz=float(random.uniform(7000, 18_000)),
        seed=int(random.integers(1 << 30)),
    )


class RoomPort(SimulatedPort):
    """A `SimulatedPort` whose microphone stands in a room; `listen` lets the sound arrive."""

    def __init__(self, room: Room, delay_frames: int, believed_frames: int) -> None:
        super().__init__(round_trip_frames=believed_frames, memory_s=30.0)
        self.delay_frames = delay_frames
        self._room = room

    def listen(self, until_frame: int) -> None:
        """Play on until the microphone can be read up to the frame, then work the room out."""
        room, rate = self._room, self.sample_rate_hz
        self.advance(until_frame + self.round_trip_frames - self.now_frame())
        played = self.played(0, self.now_frame())
        low_pass = butter(2, room.low_pass_hz, fs=rate, output="sos")
        heard = sosfilt(low_pass, in_room(played, rate, room.rt60_s, room.seed, room.wet_db))
        heard = heard[: played.size] * 10 ** (room.gain_db / 20)
        noise = np.random.default_rng(room.seed).standard_normal(heard.size)
        self._in_room = np.asarray(heard + noise * 10 ** (room.noise_db / 20), np.float32)

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """What the microphone heard of the room."""
        out = np.zeros(max(0, to_frame - from_frame), np.float32)
        shift = self.round_trip_frames - self.delay_frames
        first, end = max(0, from_frame + shift), min(to_frame + shift, self._in_room.size)
        if end > first:
            at = first - from_frame - shift
            out[at : at + end - first] = self._in_room[first:end]
        return out
