"""Where a note should stand: A4, equal temperament, or pure intervals above a drone.

Equal temperament: f(n) = A4 · 2^((n − 69)/12) (UNSW Music Acoustics, J. Wolfe, 'Note names, MIDI
numbers and frequencies'). A4 = 440 Hz is ISO 16:1975; 415 is common baroque pitch.
Pure intervals: the 5-limit just ratios tabulated in PURE_RATIOS.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from trainer.music.pitch import Interval, Pitch, usual_pitch

A4_MIDI = 69
"""Number of A4 (MIDI 1.0 specification)."""
LOWEST_A4_HZ = 415.0
"""Baroque pitch, by convention 415 Hz."""
HIGHEST_A4_HZ = 446.0
"""The highest that orchestras tune to (common practice, no source)."""

PURE_RATIOS: dict[tuple[int, int], tuple[int, int]] = {
    (0, 0): (1, 1),
    (0, 1): (25, 24),
    (1, 1): (16, 15),
    (1, 2): (9, 8),
    (1, 3): (75, 64),
    (2, 3): (6, 5),
    (2, 4): (5, 4),
    (3, 4): (32, 25),
    (3, 5): (4, 3),
    (3, 6): (45, 32),
    (4, 6): (64, 45),
    (4, 7): (3, 2),
    (4, 8): (25, 16),
    (5, 8): (8, 5),
    (5, 9): (5, 3),
    (6, 9): (128, 75),
    (6, 10): (16, 9),
    (6, 11): (15, 8),
    (7, 11): (48, 25),
    (6, 12): (125, 64),
}
"""(letter steps, semitones) within the octave → frequency ratio above the drone."""

USUAL_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Letter steps of each semitone above a drone where no key says it: minor and major intervals, the
augmented fourth."""


@dataclass(frozen=True)
class Tuning:
    """The pitch every note is measured against."""

    a4_hz: float = 440.0
    """Frequency of A4, 415 to 446 Hz."""
    drone: Pitch | None = None
    """None: equal temperament. A pitch: pure intervals above it, itself in equal temperament."""

    def __post_init__(self) -> None:
        if not LOWEST_A4_HZ <= self.a4_hz <= HIGHEST_A4_HZ:
            raise ValueError(
                f"A4 = {self.a4_hz:g} Hz: write a tuning from {LOWEST_A4_HZ:g} to {HIGHEST_A4_HZ:g}"
            )

    def offset_cents(self, pitch: Pitch) -> float:
        """How far this tuning sets the pitch from equal temperament, in cents."""
        if self.drone is None:
            return 0.0
        interval = self.drone.interval_to(pitch)
        steps, semitones = interval.steps % 7, interval.semitones - 12 * (interval.steps // 7)
        ratio = PURE_RATIOS.get((steps, semitones))
        if ratio is None:  # an interval no just table lists, such as a doubly augmented fourth
            return 0.0
        return 1200 * math.log2(ratio[0] / ratio[1]) - 100 * semitones

    def unasked_pitch(self, midi: int) -> Pitch:
        """A sounding note where no key says how it is spelled: above a drone its usual interval,
        so that the third above B is D sharp and not E flat."""
        if self.drone is None:
            return usual_pitch(midi)
        octaves, semitones = divmod(midi - self.drone.midi, 12)
        steps = USUAL_STEPS[semitones] + 7 * octaves
        return self.drone.transposed(Interval(steps, midi - self.drone.midi))

    def placed_midi(self, pitch: Pitch) -> float:
        """Where a pitch stands in this tuning, as a fractional MIDI number at this A4."""
        return pitch.midi + self.offset_cents(pitch) / 100

    def hz(self, pitch: Pitch) -> float:
        """Frequency of a sounding pitch in this tuning."""
        return self.midi_hz(self.placed_midi(pitch))

    def midi_hz(self, midi: float) -> float:
        """Frequency of a fractional MIDI number in equal temperament at this A4."""
        return float(self.a4_hz * 2 ** ((midi - A4_MIDI) / 12))

    def midi(self, hz: float) -> float:
        """The fractional MIDI number of a frequency: `midi_hz` turned round."""
        return A4_MIDI + 12 * math.log2(hz / self.a4_hz)

    def cents(self, hz: float, pitch: Pitch) -> float:
        """How far a frequency stands from the pitch in this tuning, in cents, sharp positive."""
        return 1200 * math.log2(hz / self.hz(pitch))
