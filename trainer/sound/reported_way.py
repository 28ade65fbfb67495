"""The way through the devices as they report it, followed block by block.

A sound server that was held up goes on where it stopped: what is played then comes later than
before, by whole blocks of it. What a device says of its own delays may be off, and by how much the
sound moved can't be seen from it; but where it stood still, and stands still again elsewhere, as
the sound thread was held up, something happened. Of a device whose figures wander nothing can be
told.
"""

from __future__ import annotations

from dataclasses import dataclass

MOVED_S = 0.02
"""A lasting step by more is a new way: with every jump of taps it was 0.042 s at least (our own
measurement; PulseAudio through ALSA, its server stopped for a tenth of a second and more)."""
NEAR_S = 0.006
"""So near a way stands still: within 0.005 s in a minute beside six busy programs, on one device
that hears what it plays; a microphone of its own wandered by 0.1 s within seconds."""
STOOD_S, STANDS_S = 3.0, 0.5
"""It must have stood so long before a step, and stand so long after it."""
UNSETTLED_S = 1.0
"""What hasn't settled by then wanders."""
HELD_UP_S = 0.1
"""So much lies ready (see `stream.LATENCY_S`), and hardly a shorter pause of the sound thread
empties it: it paused for 0.13 to 0.27 s before nine steps by which taps moved, for 0.08 at most
where only the figures stepped (our own measurement, beside seven busy programs)."""
FOLLOWS = 0.05
"""Two clocks that drift move it slowly: so much of each difference is followed."""


@dataclass
class _Stand:
    """A way that stands still from a frame on."""

    way_s: float
    from_frame: int

    def holds(self, way_s: float) -> bool:
        """Whether this way is still the same; it is followed then."""
        off_s = way_s - self.way_s
        if abs(off_s) > NEAR_S:
            return False
        self.way_s += FOLLOWS * off_s
        return True


class ReportedWay:
    """From the microphone to the loudspeaker, in seconds, as it stood and as it stands."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._before: _Stand | None = None
        self._now: _Stand | None = None
        self._left_frame = 0
        self._held_up_frame: int | None = None

    def moved_at(self, frame: int, way_s: float, paused_s: float) -> int | None:
        """The frame at which the way left where it stood, told once it stands elsewhere; None
        otherwise. paused_s: since the block before."""
        if paused_s > HELD_UP_S:
            self._held_up_frame = frame
        if self._before is not None and self._before.holds(way_s):
            self._now = None
            return None
        if self._now is None:
            self._left_frame = frame
        elif self._before is not None and frame - self._left_frame > UNSETTLED_S * self._rate:
            self._before = None
        if self._now is None or not self._now.holds(way_s):
            self._now = _Stand(way_s, frame)
        if frame - self._now.from_frame < STANDS_S * self._rate:
            return None
        before, self._before, self._now = self._before, self._now, None
        return self._left_frame if self._is_step(before) else None

    def _is_step(self, before: _Stand | None) -> bool:
        """From where it had stood long enough, far enough, as the sound thread was held up."""
        if before is None or self._before is None or self._held_up_frame is None:
            return False
        if abs(self._left_frame - self._held_up_frame) > UNSETTLED_S * self._rate:
            return False
        stood_frames = self._left_frame - before.from_frame
        far_s = abs(self._before.way_s - before.way_s)
        return stood_frames >= STOOD_S * self._rate and far_s > MOVED_S
