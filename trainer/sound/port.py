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
    """Something that went wrong in the stream, or was mended again, and where."""

    frame: int
    what: str
    """A plain sentence."""
    lost: bool = True
    """Sound was lost there: what was played near it can't be judged."""
    moved: bool = False
    """The way through the devices is another from there on, nobody knows by how much: nothing
    after it can be judged until the port was restarted."""


REMEMBERED_S = 10.0
"""Of a room where nothing is played: a first note is noticed within a second, and a device that
gives nothing within three."""
MOVED_WORDS = (
    "The sound now takes a little {more} on its way through your devices; the trainer allows for "
    "that from here on."
)
TELL_S = 0.005
"""A smaller change of the round trip is nobody's concern."""


def moved_words(by_frames: int, sample_rate_hz: int) -> str | None:
    """What the student is told of a round trip that has changed; None when that is too little."""
    by_s = by_frames / sample_rate_hz
    if abs(by_s) < TELL_S:
        return None
    return MOVED_WORDS.format(more="longer" if by_s > 0 else "less")


def kept_from(asked_frame: int | None, heard_frame: int, sample_rate_hz: int) -> int:
    """The first frame that is kept, where so much was asked for and so far was heard."""
    remembered_frame = heard_frame - round(REMEMBERED_S * sample_rate_hz)
    return remembered_frame if asked_frame is None else min(asked_frame, remembered_frame)


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
        """Frames per second; another only after the port was not alive."""
        ...

    @property
    def alive(self) -> bool:
        """False while the device is gone or being restarted: the clock stands, then goes on.

        What was scheduled before is forgotten.
        """
        ...

    @property
    def slipped(self) -> bool:
        """True since the stream faltered: its delay may have changed until it is restarted."""
        ...

    def now_frame(self) -> int:
        """Frames played so far: the only clock."""
        ...

    def audible_frame(self) -> int:
        """The frame that comes out of the loudspeaker now; behind `now_frame`."""
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

    def keep_from(self, frame: int | None) -> None:
        """Keep what the microphone hears from this frame on, as far as the memory reaches; without
        this, and after None, only the last REMEMBERED_S can be read."""
        ...

    def lengthen_round_trip(self, by_frames: int) -> None:
        """What was played is found this much later than believed: read accordingly from now on."""
        ...

    def restart(self) -> None:
        """Start the device afresh where nothing sounds: the cure for a stream that slipped."""
        ...

    def faults(self) -> tuple[StreamFault, ...]:
        """Everything that went wrong so far, in order."""
        ...

    def close(self) -> None:
        """Stop the sound; never hangs."""
        ...
