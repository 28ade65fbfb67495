"""One stretch of steady pitch, before it is known whether it is a note."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SAME_SOUND_SEMITONES = 0.6
OCTAVE = 12.0
"""Semitones."""
HARMONICS_SEMITONES = 12 * np.log2(np.arange(2, 7))
"""Second to sixth above the first."""
JOINED_S = 0.09
"""A sound that ends this close before the next one may be slurred or tongued into it."""
BLIP_S = 0.062
"""False pitches up to some 50 ms come from fingers moving apart (Almeida, Chow, Smith & Wolfe
2009, JASA 126:1521: delays of tens of milliseconds)."""


@dataclass(frozen=True)
class NoteSegment:
    """One stretch of steady pitch."""

    midi: float
    """Median pitch, fractional MIDI number."""
    from_s: float
    to_s: float
    level_db: float
    """Of its loudest part, re full scale."""
    clarity: float = 1.0
    """Median of its frames; two tones of a change-over that ring together are unclear."""
    again_s: float | None = None
    """Where its note was heard to start again, in the middle of a sound; None where the sound
    itself begins."""

    @property
    def length_s(self) -> float:
        """How long it lasts."""
        return self.to_s - self.from_s

    def has_pitch_of(self, other: NoteSegment) -> bool:
        """Whether both may be one sound, going by their pitch."""
        return abs(self.midi - other.midi) < SAME_SOUND_SEMITONES

    def is_octave_below(self, other: NoteSegment) -> bool:
        """Whether the other is its octave."""
        return abs(other.midi - self.midi - OCTAVE) < SAME_SOUND_SEMITONES

    def is_harmonic_of(self, other: NoteSegment) -> bool:
        """Whether it stands at a harmonic of the other, as one that comes out of it does."""
        away = np.abs(self.midi - other.midi - HARMONICS_SEMITONES)
        return bool((away < SAME_SOUND_SEMITONES).any())

    def is_joined_to(self, other: NoteSegment) -> bool:
        """Whether hardly anything lies between them, whichever comes first."""
        return max(self.from_s - other.to_s, other.from_s - self.to_s) < JOINED_S
