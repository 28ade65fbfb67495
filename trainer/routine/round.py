"""A round: one time through an exercise with one articulation at one tempo, ready to be played."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from trainer.music.key import Key
from trainer.music.note import Articulation, Note
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning

A440 = Tuning()
"""Equal temperament at A4 = 440 Hz."""


@dataclass(frozen=True)
class Aims:
    """What the teacher asks for; None where nothing is asked."""

    cents: float | None = None
    """Notes should stand within this many cents."""
    evenness_ms: float | None = None
    """Onsets should spread about an even line by no more than this."""
    clean: float | None = None
    """Share of notes (0 to 1) that should be played, right and without a blip."""


class PartnerPart(StrEnum):
    """What the trainer plays along."""

    SAME_NOTES = "same notes"
    OCTAVE_BELOW = "octave below"
    DRONE = "drone"


class RoundKind(StrEnum):
    """What the round is for; it decides what the coach looks at first."""

    TECHNIQUE = "technique"
    CLIMB = "speed climb"
    VOICING = "voicing"
    LONG_TONES = "long tones"
    PASSAGE = "passage"
    KNOT = "knot"


@dataclass(frozen=True)
class Round:
    """One time through an exercise."""

    exercise_id: str
    """The exercise's name inside its routine, as in `trainer listen --exercise`."""
    title: str
    """What the screen calls it: 'E flat major, full range'."""
    kind: RoundKind
    number: int
    """1 for the exercise's first round."""
    key: Key | None
    articulation: Articulation
    tempo_bpm: float
    notes: tuple[Note, ...]
    """Written pitches."""
    beats_per_bar: int
    aims: Aims
    partner: PartnerPart | None
    words: str = ""
    """The teacher's own words for this exercise."""
    count_in_beats: int = 4
    tuning: Tuning = A440
    """Where sounding pitches should stand: A4, and the drone where intervals are to be pure."""
    drone: Pitch | None = None
    """Written pitch of the drone where the partner holds one."""

    @property
    def beats(self) -> Fraction:
        """Length of the round in beats, from its first beat to the end of its last note."""
        last = self.notes[-1]
        return last.beat + last.length

    @property
    def beat_s(self) -> float:
        """Length of one beat in seconds."""
        return 60.0 / self.tempo_bpm

    @property
    def seconds(self) -> float:
        """Length of the round without its count-in."""
        return float(self.beats) * self.beat_s
