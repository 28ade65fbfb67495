"""Notices in a growing stream that a tone of a known pitch begins and is held.

Heard by aubio, which by the same rule notices as many recorded notes as the period finder of
`frames.py`, and takes as little else for one (tests/bench/RESULTS.md, 'Free pitch and the first
note').
"""

from __future__ import annotations

import math

from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.free_pitch import FreePitch, PitchReading

LASTING_S = 0.08
"""A tone must have stood so long; a sixteenth at 160 lasts 94 ms."""
SURE = 0.5
"""Confidence of a tone: noise and air through the flute stay below it, 999 frames of 1000."""
QUIETEST_DB = -60.0
"""What is softer is nobody near the microphone."""
NEAR_CENTS = 60.0
"""How far from its pitch a tone still is the note that is waited for."""
STEADY_CENTS = 30.0
"""A flute's note settles within this from its first 5 ms on; a speaking voice seldom stands so."""
DYING_DB = 10.0
"""A key shut hard rings at the tube's pitch, but dies away so much before it looks like a note."""


class AwaitedTone:
    """Waits for the tone; holds no more than its first reading."""

    def __init__(
        self, sample_rate_hz: int, expected_hz: float, quietest_db: float = QUIETEST_DB
    ) -> None:
        """quietest_db: what is softer isn't waited for, dB re full scale."""
        self._pitch = FreePitch(sample_rate_hz)
        self._expected_hz = expected_hz
        self._quietest_db = max(QUIETEST_DB, quietest_db)
        self._first: PitchReading | None = None
        self._loudest_db = 0.0

    def feed(self, samples: Samples) -> float | None:
        """Where the tone began, in seconds from the first sample ever fed; None until it lasts.

        samples: shape (samples,), following on those of the last call.
        """
        for reading in self._pitch.feed(samples):
            if not self._is_waited_for(reading):
                self._first = None
            elif self._first is None or not self._goes_on(self._first, reading):
                self._first, self._loudest_db = reading, reading.level_db
            elif reading.time_s - self._first.time_s >= LASTING_S:
                return self._first.time_s
            else:
                self._loudest_db = max(self._loudest_db, reading.level_db)
        return None

    def _is_waited_for(self, reading: PitchReading) -> bool:
        return (
            reading.hz is not None
            and reading.confidence >= SURE
            and reading.level_db >= self._quietest_db
            and cents_apart(reading.hz, self._expected_hz) <= NEAR_CENTS
        )

    def _goes_on(self, first: PitchReading, reading: PitchReading) -> bool:
        """The tone neither moves elsewhere nor dies away."""
        assert first.hz is not None
        assert reading.hz is not None
        stands = cents_apart(reading.hz, first.hz) <= STEADY_CENTS
        return stands and reading.level_db > self._loudest_db - DYING_DB


def cents_apart(hz: float, other_hz: float) -> float:
    """How far two frequencies lie apart, in cents, whichever is higher."""
    return abs(1200 * math.log2(hz / other_hz))
