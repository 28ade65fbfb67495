"""What every port is made of: a mixer, a memory of the microphone, and one frame counter."""

from __future__ import annotations

from abc import ABC, abstractmethod

from trainer.sound.mixer import Mixer
from trainer.sound.port import Samples, StreamFault
from trainer.sound.ring import Ring


class DuplexPort(ABC):
    """A `SoundPort` that is turned block by block, by a device or by a simulated clock."""

    def __init__(
        self, sample_rate_hz: int, round_trip_frames: int, listens: bool, memory_s: float
    ) -> None:
        self._sample_rate_hz = sample_rate_hz
        self.round_trip_frames = round_trip_frames
        """Frames from playing a sample to finding it in the microphone's samples."""
        self._listens = listens
        self._mixer = Mixer()
        self._microphone = Ring(round(memory_s * sample_rate_hz))
        self._played_frame = 0
        self._faults: list[StreamFault] = []

    @property
    @abstractmethod
    def name(self) -> str:
        """What the student would call it."""

    @property
    def alive(self) -> bool:
        """False once the device has stopped answering or the port is closed."""
        return True

    @property
    def listens(self) -> bool:
        """False when there is no microphone."""
        return self._listens

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second."""
        return self._sample_rate_hz

    def now_frame(self) -> int:
        """Frames played so far: the only clock."""
        return self._played_frame

    def heard_frame(self) -> int:
        """The microphone can be read up to this frame; behind `now_frame` by the round trip."""
        return max(0, self._microphone.end_frame - self.round_trip_frames)

    def play(self, sound: Samples, at_frame: int) -> None:
        """Mix a sound into what is played, from the given frame on; what is past is cut off."""
        self._mixer.play(sound, at_frame)

    def hush(self, from_frame: int) -> None:
        """Forget sounds that begin at or after the frame; one already sounding fades out."""
        self._mixer.hush(from_frame)

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """What the microphone heard between two frames; lost or future stretches are zeros."""
        shift = self.round_trip_frames
        return self._microphone.read(from_frame + shift, to_frame + shift)

    def faults(self) -> tuple[StreamFault, ...]:
        """Everything that went wrong so far, in order."""
        return tuple(self._faults)

    @abstractmethod
    def close(self) -> None:
        """Stop the sound; never hangs."""
