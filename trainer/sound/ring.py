"""A ring of samples with absolute frame numbers: one thread writes, any number read."""

from __future__ import annotations

import numpy as np

from trainer.sound.port import Samples


class Ring:
    """The last stretch of a stream, addressed by frame since the stream began.

    The writer neither locks nor allocates. It says how far it is about to write before it
    writes and publishes the end after: a reader that was overtaken knows which frames to drop.
    """

    def __init__(self, capacity_frames: int) -> None:
        self._samples: Samples = np.zeros(capacity_frames, np.float32)
        self._claimed_frame = 0
        self._end_frame = 0

    @property
    def end_frame(self) -> int:
        """One past the newest frame written."""
        return self._end_frame

    @property
    def capacity_frames(self) -> int:
        """Frames remembered at most."""
        return int(self._samples.size)

    def write(self, samples: Samples) -> None:
        """Append samples, shape (samples,), no longer than the ring; the oldest are forgotten."""
        count = samples.size
        start = self._end_frame % self._samples.size
        first = min(count, self._samples.size - start)
        self._claimed_frame = self._end_frame + count
        self._samples[start : start + first] = samples[:first]
        self._samples[: count - first] = samples[first:]
        self._end_frame = self._claimed_frame

    def read(self, from_frame: int, to_frame: int) -> Samples:
        """A copy of the frames asked for; forgotten and future ones are zeros."""
        out: Samples = np.zeros(max(0, to_frame - from_frame), np.float32)
        capacity = self._samples.size
        begin = max(from_frame, self._claimed_frame - capacity, 0)
        end = min(to_frame, self._end_frame)
        if begin >= end:
            return out
        start = begin % capacity
        first = min(end - begin, capacity - start)
        at = begin - from_frame
        out[at : at + first] = self._samples[start : start + first]
        out[at + first : end - from_frame] = self._samples[: end - begin - first]
        overtaken = self._claimed_frame - capacity - from_frame
        if overtaken > 0:
            out[:overtaken] = 0.0
        return out
