"""Rendered sounds waiting for their frame, mixed into whatever the device asks for next."""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock

import numpy as np

from trainer.sound.port import Samples

FADE_LEAD_FRAMES = 1024
"""A hushed sound plays on this long, so that the fade is not overtaken by the device."""
FADE_FRAMES = 480
"""10 ms at 48 kHz: short enough to be an end, long enough not to be a crack."""


@dataclass(frozen=True)
class Scheduled:
    """A sound and the frame of its first sample."""

    at_frame: int
    sound: Samples

    @property
    def end_frame(self) -> int:
        """One past its last frame."""
        return self.at_frame + int(self.sound.size)


class Mixer:
    """Scheduled sounds; any thread may schedule, one thread fills.

    The filling thread reads one immutable tuple and takes no lock; the schedulers replace it.
    """

    def __init__(self) -> None:
        self._scheduled: tuple[Scheduled, ...] = ()
        self._filled_frame = 0
        self._schedulers = Lock()

    def play(self, sound: Samples, at_frame: int) -> None:
        """Mix the sound in from the frame on; what is past is cut off.

        Raises ValueError when a sample is not a number: it would reach somebody's ears.
        """
        sound = np.array(sound, dtype=np.float32)  # a copy: the caller may reuse its buffer
        if sound.ndim != 1 or not np.isfinite(sound).all():
            raise ValueError("a sound must be one row of finite samples")
        with self._schedulers:
            waiting = (item for item in self._scheduled if item.end_frame > self._filled_frame)
            self._scheduled = (*waiting, Scheduled(at_frame, sound))

    def hush(self, from_frame: int) -> None:
        """Forget what begins at or after the frame; what of it already sounds fades out."""
        with self._schedulers:
            fade_frame = self._filled_frame + FADE_LEAD_FRAMES
            self._scheduled = tuple(
                _faded(item, fade_frame) if item.at_frame >= from_frame else item
                for item in self._scheduled
                if item.at_frame < max(from_frame, self._filled_frame)
            )

    def fill(self, out: Samples, first_frame: int) -> None:
        """Write the mix for the frames from first_frame into out, shape (frames,), within ±1."""
        out.fill(0.0)
        end_frame = first_frame + out.size
        for item in self._scheduled:
            begin = max(item.at_frame, first_frame)
            end = min(item.at_frame + item.sound.size, end_frame)
            if begin < end:
                out[begin - first_frame : end - first_frame] += item.sound[
                    begin - item.at_frame : end - item.at_frame
                ]
        np.clip(out, -1.0, 1.0, out=out)
        self._filled_frame = end_frame


def _faded(item: Scheduled, fade_frame: int) -> Scheduled:
    """The sound with its end at the fade; unchanged when it ends sooner anyway."""
    kept = fade_frame - item.at_frame
    if item.sound.size <= kept:
        return item
    sound = item.sound[: kept + FADE_FRAMES].copy()
    sound[kept:] *= np.linspace(1.0, 0.0, sound.size - kept, dtype=np.float32)
    return Scheduled(item.at_frame, sound)
