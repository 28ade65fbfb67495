"""The way through the devices as they report it, followed block by block.

A sound server that was held up goes on where it stopped, often without a sign: what is played then
comes later than before, by whole blocks of it. What the device says of its own delays may be off,
and lags behind, but it stands still within a few milliseconds as long as nothing happens.
"""

from __future__ import annotations

from statistics import median

MOVED_S = 0.02
"""A lasting change by more is a new way. Undisturbed it stood within 0.005 s in a minute beside six
busy programs, a sound server stopped for a tenth of a second and more moved it by 0.042 s at least
(our own measurement; PulseAudio through ALSA)."""
LASTS_S = 0.25
"""A device that reports in coarse steps is back before that."""
FOLLOWS = 0.05
"""Two clocks that drift move it slowly: so much of each difference is followed."""


class ReportedWay:
    """From the microphone to the loudspeaker, in seconds, as it was and as it is."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._lasts_frames = round(LASTS_S * sample_rate_hz)
        self._held_s: float | None = None
        self._away: list[tuple[int, float]] = []

    def moved_at(self, frame: int, way_s: float) -> int | None:
        """The frame from which on the way is another, told once that lasts; None otherwise."""
        if self._held_s is None:
            self._held_s = way_s
        off_s = way_s - self._held_s
        if abs(off_s) <= MOVED_S:
            self._held_s += FOLLOWS * off_s
            self._away.clear()
            return None
        self._away.append((frame, way_s))
        first = self._away[0][0]
        if frame - first < self._lasts_frames:
            return None
        self._held_s = median(way for _, way in self._away)
        self._away.clear()
        return first
