"""What the coach says after a round: one sentence, its evidence, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Topic(StrEnum):
    """What a piece of advice is about; one of these per planted habit in the tests."""

    NOTES = "notes"
    TUNING_HIGH = "tuning of the high notes"
    TUNING_LOW = "tuning of the low notes"
    TUNING = "tuning"
    HELD = "holding the pitch of long notes"
    EVENNESS = "evenness"
    CROSSING = "crossing between two notes"
    BACK_SYLLABLE = "back syllable"
    LATE_NOTE = "a note that speaks late"
    RUSHING = "rushing"
    DRAGGING = "dragging"
    START = "how notes start"
    BLIP = "false note between fingerings"
    TONE = "tone"
    BREATH = "where the breath comes"
    FADING = "the sound fading towards the end"
    SETTLING = "letting a note stand"
    VIBRATO = "vibrato"
    SWELL = "swells"
    OCTAVES = "octaves"
    VOICE = "one sound throughout"
    COLOUR = "two colours, one tuning"
    TRILL = "trills"
    SOUND = "the sound itself could not be judged"
    SECURE = "everything asked for was heard"
    UNHEARD = "nothing was heard"


@dataclass(frozen=True)
class Advice:
    """One thing, as a teacher would say it."""

    topic: Topic
    sentence: str
    evidence: tuple[str, ...]
    """The figures behind the sentence, one a line."""
    note_indices: tuple[int, ...] = ()
    """The notes that need care, for marking them on the music."""


class NextStep(StrEnum):
    """What the coach proposes to do now."""

    GO_ON = "go on"
    AGAIN = "again"
    FASTER = "faster"
    SLOWER = "slower"
    TAKE_OUT = "take the knot out"
    DONE = "done"


@dataclass(frozen=True)
class Proposal:
    """The next step, its tempo and why."""

    step: NextStep
    why: str
    tempo_bpm: float | None = None
