"""A port at whose microphone a played-in flutist sits, heard through the real loudspeaker too."""

from __future__ import annotations

import numpy as np

from trainer.sound.port import Samples, SoundPort, StreamFault

REMEMBERED_S = 120.0
LOUDSPEAKER_GAIN = 0.5
"""The flutist beside the click and the partner: our own estimate."""


class SungPort:
    """A `SoundPort` on a real device whose microphone hears only what is sung into it."""

    def __init__(self, device: SoundPort) -> None:
        self._device = device
        self._sung: tuple[tuple[int, Samples], ...] = ()

    @property
    def name(self) -> str:
        """The device, and who plays."""
        return f"{self._device.name}, with a played-in flutist"

    @property
    def listens(self) -> bool:
        """Always: the flutist plays straight into it."""
        return True

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second."""
        return self._device.sample_rate_hz

    @property
    def alive(self) -> bool:
        """False while the device is gone or being restarted."""
        return self._device.alive

    @property
    def slipped(self) -> bool:
        """True since the device's stream faltered."""
        return self._device.slipped

    def now_frame(self) -> int:
        """Frames played so far: the only clock."""
        return self._device.now_frame()

    def audible_frame(self) -> int:
        """The frame that comes out of the loudspeaker now."""
        return self._device.audible_frame()

    def heard_frame(self) -> int:
        """What was sung is heard at once."""
        return self._device.now_frame()

    def play(self, sound: Samples, at_frame: int) -> None:
        """Mix a sound into what is played."""
        self._device.play(sound, at_frame)

    def hush(self, from_frame: int) -> None:
        """Forget every scheduled sound that begins at or after the frame, the flutist's too."""
        self._device.hush(from_frame)
        self.fall_silent(from_frame)

    def sing(self, samples: Samples, at_frame: int) -> None:
        """Let the microphone and the loudspeaker have the flutist's sound."""
        oldest = self.now_frame() - round(REMEMBERED_S * self.sample_rate_hz)
        kept = tuple((at, sound) for at, sound in self._sung if at + sound.size > oldest)
        self._sung = (*kept, (at_frame, samples))
        self._device.play(LOUDSPEAKER_GAIN * samples, at_frame)

    def fall_silent(self, from_frame: int) -> None:
        """Break off what is sung at the frame."""
        self._sung = tuple(
            (at, sound[: max(0, from_frame - at)]) for at, sound in self._sung if at < from_frame
        )

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """What was sung between two frames."""
        heard: Samples = np.zeros(max(0, to_frame - from_frame), np.float32)
        for at, sound in self._sung:
            first, end = max(at, from_frame), min(at + sound.size, to_frame)
            if end > first:
                heard[first - from_frame : end - from_frame] += sound[first - at : end - at]
        return heard

    def keep_from(self, frame: int | None) -> None:
        """The flutist's notes are kept anyway, and what the device hears isn't asked for."""

    def lengthen_round_trip(self, by_frames: int) -> None:
        """The flutist hears at once: there is no way round."""

    def restart(self) -> None:
        """Start the device afresh."""
        self._device.restart()

    def faults(self) -> tuple[StreamFault, ...]:
        """Everything that went wrong so far, in order."""
        return self._device.faults()

    def close(self) -> None:
        """Stop the sound; never hangs."""
        self._device.close()
