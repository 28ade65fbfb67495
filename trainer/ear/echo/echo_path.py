"""How a long known sound reaches the microphone, and what it is there.

A way is worked out, and gone, at a low rate; clocks that drift are part of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import signal

from trainer.ear.analysis.frames import Samples

FIT_HZ = 8000
"""The partner has little above 4 kHz."""
FADE_S = 0.02
"""One way passes into the next."""
MARGIN = 16
"""Samples at FIT_HZ that a change of rate needs on both sides."""

Tone = tuple[int, Samples]
"""The sample of the take at which it was played, which may be negative, and its sound."""


@dataclass(frozen=True)
class EchoPath:
    """How the partner's tone reaches the microphone about some time."""

    fit_hz: float
    path: Samples
    """At this rate; the direct sound stands at tap `before`."""
    before: int
    at_s: float
    late_s: float
    """How late the direct sound comes at the time at_s."""
    drift: float
    """So much later in every second."""
    direct_s: float
    """How late the clicks were when it was found."""
    gain: float
    """How loud they were then."""

    def at(self, time_s: float) -> EchoPath:
        """The same, said of another time."""
        late_s = self.late_s + self.drift * (time_s - self.at_s)
        return replace(self, at_s=time_s, late_s=late_s)


class Tones:
    """The long known sounds, and what ways through the room make of them."""

    def __init__(self, sample_rate_hz: int, tones: Sequence[Tone]) -> None:
        self._rate = sample_rate_hz
        self._tones = tones
        self.factor = max(1, sample_rate_hz // FIT_HZ)
        """Samples of the take for one of the fit's."""
        self.fit_hz = sample_rate_hz / self.factor
        self._fade = round(FADE_S * sample_rate_hz)

    def leak(self, before: EchoPath | None, now: EchoPath, first: int, end: int) -> Samples:
        """What leaks in from sample first up to end; one way passes into the other there."""
        leak = self._leak(now, first, end)
        if before is not now:
            size = min(self._fade, end - first)
            share = np.linspace(1.0, 0.0, size, endpoint=False, dtype=np.float32)
            old = 0.0 if before is None else self._leak(before, first, first + size)
            leak[:size] += share * (old - leak[:size])
        return leak

    def _leak(self, way: EchoPath, first: int, end: int) -> Samples:
        begin, stop = first // self.factor - MARGIN, -(-end // self.factor) + MARGIN
        ahead = way.path.size - 1 - way.before
        played = self.played(way, begin - ahead, stop + way.before)
        leak = signal.oaconvolve(played, way.path, "valid")
        full = signal.resample_poly(leak, self.factor, 1)[first - begin * self.factor :]
        return np.asarray(full[: end - first], np.float32)

    def played(self, way: EchoPath, begin: int, stop: int) -> Samples:
        """What was played, as late as the way's direct sound, between two samples at the rate of
        the fit."""
        first, end = (begin - MARGIN) * self.factor, (stop + MARGIN) * self.factor
        places = np.arange(first, end)
        late = self._rate * (way.late_s - way.drift * way.at_s) + way.drift * places
        sound = np.zeros(places.size, np.float32)
        for at, tone in self._tones:
            from_ = places - late - at
            whole = np.floor(from_).astype(np.int64)
            inside = (whole >= 0) & (whole < tone.size - 1)
            low, share = whole[inside], (from_ - whole)[inside].astype(np.float32)
            sound[inside] += (1 - share) * tone[low] + share * tone[low + 1]
        fewer = signal.resample_poly(sound, 1, self.factor)
        return np.asarray(fewer[MARGIN : MARGIN + stop - begin], np.float32)
