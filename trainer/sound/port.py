"""The border between the session and anything that makes or takes sound.

A port is duplex and has one clock: the number of frames it has played since it was opened.
Sounds are scheduled by absolute frame; the microphone is read by absolute frame on the same
clock, already moved by the measured round trip, so that a sound played at frame n and heard at
once by the microphone stands at frame n of what is read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
"""Mono sound at the port's rate, shape (samples,), full scale ±1."""


@dataclass(frozen=True)
class StreamFault:
    """Something that went wrong in the stream, and where."""

    frame: int
    what: str
    """A plain sentence."""


class SoundPort(Protocol):
    """A duplex stream: a device, a sound file, or a played-in flutist."""

    @property
    def name(self) -> str:
        """What the student would call it."""
        ...

    @property
    def listens(self) -> bool:
        """False when there is no microphone: practice goes on, nothing is heard."""
        ...

    @property
    def sample_rate_hz(self) -> int:
        """Frames per second."""
        ...

    def now_frame(self) -> int:
        """Frames played so far: the only clock."""
        ...

    def heard_frame(self) -> int:
        """The microphone can be read up to this frame of the same clock."""
        ...

    def play(self, sound: Samples, at_frame: int) -> None:
        """Mix a sound into what is played, from the given frame on; what is past is cut off."""
        ...

    def hush(self, from_frame: int) -> None:
        """Forget every sound that begins at or after the frame; one already sounding fades out."""
        ...

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """What the microphone heard between two frames; lost or future stretches are zeros."""
        ...

    def faults(self) -> tuple[StreamFault, ...]:
        """Everything that went wrong so far, in order."""
        ...

    def close(self) -> None:
        """Stop the sound; never hangs."""
        ...
