"""A ring of samples with absolute frame numbers: one thread writes, any number read."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trainer.sound.port import Samples

CLAIMED, END = 0, 1
"""Places of the two marks: what is being written, and what is whole."""
MARKS = 2
"""Of a ring."""
WRITTEN_SOON_FRAMES = 1 << 14
"""No device hands over more at a time."""


class Ring:
    """The last stretch of a stream, addressed by frame since the stream began.

    The writer neither locks nor allocates. It says how far it is about to write before it
    writes and publishes the end after: a reader that was overtaken knows which frames to drop.
    """

    def __init__(self, capacity_frames: int) -> None:
        """A ring in memory of its own; `Ring.over` lays one over memory that processes share."""
        self._samples: Samples = np.zeros(capacity_frames, np.float32)
        self._marks: NDArray[np.int64] = np.zeros(MARKS, np.int64)
        self._forgotten = 0

    @classmethod
    def over(cls, samples: Samples, marks: NDArray[np.int64]) -> Ring:
        """A ring that goes on in this memory; marks has shape (MARKS,)."""
        ring = cls(0)
        ring._samples, ring._marks = samples, marks
        return ring

    @property
    def end_frame(self) -> int:
        """One past the newest frame written."""
        return int(self._marks[END])

    @property
    def capacity_frames(self) -> int:
        """Frames remembered at most."""
        return int(self._samples.size)

    def write(self, samples: Samples) -> None:
        """Append samples, shape (samples,), no longer than the ring; the oldest are forgotten."""
        count = samples.size
        end_frame = self.end_frame
        start = end_frame % self._samples.size
        first = min(count, self._samples.size - start)
        self._marks[CLAIMED] = end_frame + count
        self._samples[start : start + first] = samples[:first]
        self._samples[: count - first] = samples[first:]
        self._marks[END] = end_frame + count

    def skip_to(self, frame: int) -> None:
        """Go on from a frame at or past the end; zeros stand between, and where a writer died."""
        self._marks[CLAIMED] = max(frame, self._marks[CLAIMED])
        gap = min(int(self._marks[CLAIMED]) - self.end_frame, self._samples.size)
        first = int(self._marks[CLAIMED]) - gap
        self._samples[np.arange(first, first + gap) % self._samples.size] = 0.0
        self._marks[END] = self._marks[CLAIMED]

    def wipe(self) -> None:
        """Put zeros in the place of everything remembered."""
        self._samples[:] = 0.0

    def forget(self, before_frame: int) -> None:
        """Put zeros in the place of what lies before a frame; for one reader, while it is written.

        What the writer is about to write over by itself is left to it.
        """
        soonest = int(self._marks[CLAIMED]) - self._samples.size + WRITTEN_SOON_FRAMES
        first = max(self._forgotten, soonest, 0)
        end = min(before_frame, self.end_frame)
        if first < end:
            self._samples[np.arange(first, end) % self._samples.size] = 0.0
            self._forgotten = end

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """A copy of the frames asked for; forgotten and future ones are zeros."""
        out: Samples = np.zeros(max(0, to_frame - from_frame), np.float32)
        capacity = self._samples.size
        begin = max(from_frame, int(self._marks[CLAIMED]) - capacity, 0)
        end = min(to_frame, self.end_frame)
        if begin >= end:
            return out
        start = begin % capacity
        first = min(end - begin, capacity - start)
        at = begin - from_frame
        out[at : at + first] = self._samples[start : start + first]
        out[at + first : end - from_frame] = self._samples[: end - begin - first]
        overtaken = int(self._marks[CLAIMED]) - capacity - from_frame
        if overtaken > 0:
            out[:overtaken] = 0.0
        return out
