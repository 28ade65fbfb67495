"""One practice session as plain states and commands, without a screen: where the rooms meet."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from trainer.coach.advice import Advice, Proposal
from trainer.ear.heard import LiveReading, Take
from trainer.routine.round import Round


class Stage(StrEnum):
    """Where the session stands."""

    TODAY = "today"
    """The routine lies open; nothing has begun."""
    READY = "ready"
    """The exercise is announced; it starts by `advance` or by simply beginning to play."""
    COUNT_IN = "count-in"
    PLAYING = "playing"
    WEIGHING = "weighing"
    """The take is being worked through; well under a second."""
    AFTER = "after"
    """The one sentence is shown; the next round counts in when the pause is over."""
    REST = "rest"
    """A rest the teacher, the coach or the student asked for."""
    READING = "reading"
    """The teacher's text to read before going on."""
    ENDED = "ended"


@dataclass(frozen=True)
class LiveNote:
    """The quick answer for one expected note."""

    index: int
    midi: float | None
    cents: float | None
    off_beat_ms: float | None


@dataclass(frozen=True)
class TimetableLine:
    """One exercise of today's routine."""

    title: str
    detail: str
    """'slurred, legato tongue, single at 60', 'from 60 towards 120', 'rest'."""
    minutes: float


@dataclass(frozen=True)
class Today:
    """What the routine holds today."""

    title: str
    instrument: str
    a4_hz: float
    words: str
    lines: tuple[TimetableLine, ...]
    cautions: tuple[str, ...]

    @property
    def minutes(self) -> float:
        """How long it takes."""
        return sum(line.minutes for line in self.lines)


@dataclass(frozen=True)
class View:
    """Everything a screen needs at this moment; immutable."""

    stage: Stage
    today: Today
    exercise_index: int
    """Place in `today.lines`."""
    round: Round | None
    """The round under way, just played, or about to be."""
    beat: float | None
    """Beats since the round's first beat, as sounding now; negative during the count-in."""
    note_due: int | None
    live_notes: tuple[LiveNote, ...]
    """The notes of this round answered so far."""
    trail: tuple[LiveReading, ...]
    """The pitch trail of this round."""
    take: Take | None
    """The whole take, from AFTER on."""
    advice: Advice | None
    proposal: Proposal | None
    tempos: tuple[float, ...]
    """Tempos of this exercise's rounds so far, for the ladder of a speed climb."""
    seconds_left: float | None
    """Of the rest or of the pause before the next count-in."""
    elapsed_s: float
    """Of the whole session."""
    listens: bool
    notices: tuple[str, ...]
    """Sentences about sound, rest and care, newest last."""
    journal_path: str
