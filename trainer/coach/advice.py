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
    SLOW_TO_SPEAK = "a note slow to speak"
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
    OTHER_LINE = "other notes than these"
    LEFT_OPEN = "the student heard it differently"


ABOUT: dict[Topic, str] = {
    Topic.NOTES: "the right notes",
    Topic.TUNING_HIGH: "the tuning of the high notes",
    Topic.TUNING_LOW: "the tuning of the low notes",
    Topic.TUNING: "the tuning",
    Topic.HELD: "the ends of the long notes",
    Topic.EVENNESS: "even notes",
    Topic.CROSSING: "the change between two notes",
    Topic.BACK_SYLLABLE: "the K",
    Topic.LATE_NOTE: "a note that comes late",
    Topic.SLOW_TO_SPEAK: "a note that is slow to speak",
    Topic.RUSHING: "keeping the tempo back",
    Topic.DRAGGING: "keeping the tempo up",
    Topic.START: "how the notes start",
    Topic.BLIP: "false notes in between",
    Topic.TONE: "the tone",
    Topic.BREATH: "where you breathe",
    Topic.FADING: "air for the end",
    Topic.SETTLING: "settling each note",
    Topic.VIBRATO: "the vibrato",
    Topic.SWELL: "the swells",
    Topic.OCTAVES: "the octaves",
    Topic.VOICE: "one sound throughout",
    Topic.COLOUR: "two colours, one tuning",
    Topic.TRILL: "the trill",
    Topic.SOUND: "the sound itself",
    Topic.SECURE: "nothing amiss",
    Topic.UNHEARD: "nothing heard",
    Topic.OTHER_LINE: "the right line",
    Topic.LEFT_OPEN: "what you heard differently",
}
"""A topic as it is spoken of; the journal's files keep the topic's own name."""

UNJUDGED = frozenset({Topic.SOUND, Topic.UNHEARD, Topic.OTHER_LINE})
"""How the round went is not known."""

NO_FAULT = UNJUDGED | {Topic.SECURE, Topic.LEFT_OPEN}
"""Nothing is claimed of the playing in these."""

IN_THE_WAY = frozenset(
    {
        Topic.NOTES,
        Topic.EVENNESS,
        Topic.CROSSING,
        Topic.BACK_SYLLABLE,
        Topic.LATE_NOTE,
        Topic.SLOW_TO_SPEAK,
        Topic.RUSHING,
        Topic.DRAGGING,
        Topic.START,
        Topic.BLIP,
        Topic.BREATH,
        Topic.TRILL,
    }
)
"""What must be put right before a faster tempo: notes, time, tongue and where the line breaks."""


@dataclass(frozen=True)
class Advice:
    """One thing, as a teacher would say it."""

    topic: Topic
    sentence: str
    evidence: tuple[str, ...]
    """The figures behind the sentence, one a line."""
    note_indices: tuple[int, ...] = ()
    """The notes that need care, for marking them on the music."""
    strength: float | None = None
    """How many times over what is worth a word; None where nothing was measured against that."""


class NextStep(StrEnum):
    """What the coach proposes to do now."""

    GO_ON = "go on"
    AGAIN = "again"
    FASTER = "faster"
    SLOWER = "slower"
    TAKE_OUT = "take the trouble spot out"
    DONE = "done"


@dataclass(frozen=True)
class Proposal:
    """The next step, its tempo and why."""

    step: NextStep
    why: str
    tempo_bpm: float | None = None


class Felt(StrEnum):
    """How the player says the round felt."""

    EASY = "easy"
    FINE = "fine"
    HARD = "hard"


TOLD_FROM = {"%": 3, "ms": 4, "cents": 3}
"""A change is told from so much on: rounds of one evening differ by less. Our own estimate."""


@dataclass(frozen=True)
class FigureThenAndNow:
    """One figure, then and now, rounded as it is shown."""

    name: str
    """'clean', 'evenness'; empty where the unit says it."""
    unit: str
    before: int
    now: int

    @property
    def better(self) -> bool | None:
        """Whether it is better now; None where the change is too small to speak of."""
        change = self.now - self.before
        if abs(change) < TOLD_FROM[self.unit]:
            return None
        return (change > 0) is (self.unit == "%")


@dataclass(frozen=True)
class LastTime:
    """The last time the same was played, and the figures of both times."""

    when: str
    """'last time', 'yesterday', 'Tuesday', '3 March'."""
    tempo_bpm: float | None
    """The tempo of that time; None where it was the same."""
    figures: tuple[FigureThenAndNow, ...]


class Ask(StrEnum):
    """What the due note needs now."""

    BEGIN = "begin"
    HIGHER = "a little higher"
    LOWER = "a little lower"
    HOLD = "hold it"
    OTHER = "another note sounds"


@dataclass(frozen=True)
class Standing:
    """The due note at this moment."""

    index: int
    ask: Ask
    cents: float | None
    """Over the last cycle; None where nothing near it sounds."""
    share: float
    """How much of the time it must stand it has stood, 0 to 1."""
