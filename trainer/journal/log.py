"""What one session's log holds.

Each field has its row in `trainer.journal.session_schema`, the form on disk.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from trainer.ear.heard import State, Tone
from trainer.figures.round_measures import RoundMeasures
from trainer.music.articulations import AnyArticulation
from trainer.music.note import Start
from trainer.routine.round import Aims, RoundKind

SCHEMA_VERSION = 2
"""Raised with every new form of a session's file."""


@dataclass(frozen=True)
class NoteLog:
    """One note of a round as heard. None wherever nothing was measured."""

    written: str | None
    """Written pitch: 'F#5'. For an extra note what sounded, spelled with sharps."""
    state: State = State.PLAYED
    cents: float | None = None
    """Against the tuning in force; sharp is positive."""
    cents_spread: float | None = None
    drift_cents: float | None = None
    off_ms: float | None = None
    """Off the beat: onset against the player's own line, late positive; None where it has no place
    there (`trainer.figures.onset_places`)."""
    level_db: float | None = None
    """Re full scale (dBFS)."""
    start: Start | None = None
    """None where that wasn't sure, or nothing sounded."""
    start_certainty: float | None = None
    """Chance from 0 to 1 that the likeliest start was right (`trainer.ear.heard.HeardNote`); None
    where no start was looked for, and in files of a trainer that didn't keep it."""
    attack_ms: float | None = None
    vibrato_hz: float | None = None
    vibrato_cents: float | None = None
    """Half the peak-to-peak extent."""
    tone: Tone | None = None
    blip: bool = False
    """A false note sounded between the note before and this one."""
    instead_of: str | None = None
    """For an extra note: the written pitch it replaced."""


@dataclass(frozen=True)
class RoundLog:
    """One finished round."""

    exercise_id: str
    title: str
    kind: RoundKind
    number: int
    """1 for the exercise's first round in this session."""
    articulation: AnyArticulation
    tempo_bpm: float
    """The tempo asked for."""
    started: datetime
    """With its offset from UTC."""
    seconds: float
    """Time played, without the count-in, by the sound's own clock."""
    key: str = ""
    """'E flat major'; empty where the exercise has none."""
    knot: tuple[str, ...] = ()
    """Written pitches of the knot practised; empty in rounds that are none's."""
    aims: Aims = field(default_factory=Aims)
    secure: bool | None = None
    """Everything asked for was heard; None where nothing could be judged."""
    advice: str = ""
    topic: str = ""
    strength: float | None = None
    """How many times over what is worth a word the thing said was; None where it was not measured
    against that, and in files of a trainer that didn't keep it."""
    felt: str = ""
    """The student's own word on this round."""
    disagreed: bool = False
    """The student did not agree with the advice."""
    heard_from: str = ""
    """The name of the sound file it was heard in; empty where it was practised here."""
    measures: RoundMeasures | None = None
    """None when the trainer did not listen."""
    notes: tuple[NoteLog, ...] = ()
    """Expected notes in order, with extra notes between; empty when it did not listen."""
    breaths_s: tuple[tuple[float, float], ...] = ()
    """Start and end of each breath, from the start of the take."""
    warnings: tuple[str, ...] = ()
    """What was wrong with the sound."""


@dataclass(frozen=True)
class AskedExercise:
    """One exercise the routine asked for in this session."""

    exercise_id: str
    title: str
    minutes: float | None = None


@dataclass(frozen=True)
class LaterRemark:
    """Words added to a session afterwards."""

    remark: str
    at: datetime | None = None
    """With its offset from UTC; None where a hand wrote it without."""
    private: bool = False
    """For the student alone: stays out of exports and of the lesson page."""


@dataclass(frozen=True)
class SessionLog:
    """One practice session."""

    started: datetime
    """With its offset from UTC; its date is the day the whole session counts for."""
    routine_title: str = ""
    routine_file: str = ""
    student: str = ""
    instrument: str = "flute"
    a4_hz: float = 440.0
    asked: tuple[AskedExercise, ...] = ()
    rounds: tuple[RoundLog, ...] = ()
    ended: datetime | None = None
    """None while it runs, and for ever if it was cut off."""
    elapsed_s: float | None = None
    """From start to end, rests included, by the sound's own clock."""
    felt: str = ""
    remark: str = ""
    """The student's own words."""
    private: bool = False
    """`felt` and `remark` are for the student alone: they stay out of exports and lesson page."""
    remarks: tuple[LaterRemark, ...] = ()
    """Added after the session."""
    session_id: str = ""
    """Set when the file is first written; a copy of the file keeps it."""
    version: int = SCHEMA_VERSION

    def __post_init__(self) -> None:
        if self.started.tzinfo is None:
            raise ValueError("a session's start needs its offset from UTC")

    @property
    def identity(self) -> str:
        """The same in every copy of the file; by the start where a hand wrote it without a name."""
        return self.session_id or f"{self.student} {self.started.isoformat()}"

    @property
    def file_stem(self) -> str:
        """The name of the session's file, which begins with its day; fit for every system."""
        return f"{self.started:%Y-%m-%d_%H-%M-%S}"

    @property
    def day(self) -> date:
        """The calendar day where the student was when the session began."""
        return self.started.date()

    @property
    def played_s(self) -> float:
        """Time spent in rounds."""
        return sum(round_.seconds for round_ in self.rounds)

    @property
    def lasted_s(self) -> float:
        """Time from start to end; the time in rounds where that is all that is known.

        The wall clock is not asked: it may have been set in between.
        """
        return max(self.elapsed_s or 0.0, self.played_s)


def judged(rounds: Iterable[RoundLog]) -> list[bool]:
    """Which of the rounds that were judged went well, in their order."""
    return [round_.secure for round_ in rounds if round_.secure is not None]
