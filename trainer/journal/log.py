"""What one session's log holds.

`round_log` turns a finished round into its log; `plain_round` makes one from a few facts. The form
on disk is described in `trainer.journal.session_schema`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from statistics import median, pstdev

from trainer.coach.advice import Topic
from trainer.ear.heard import HeardNote, RoundMeasures, State, Take, Tone
from trainer.music.note import Articulation, Start
from trainer.music.pitch import sharp_name
from trainer.routine.round import Aims, Round, RoundKind

SCHEMA_VERSION = 1


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
    """Onset minus beat; negative is early."""
    level_db: float | None = None
    """Re full scale (dBFS)."""
    start: Start | None = None
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
    articulation: Articulation
    tempo_bpm: float
    """The tempo asked for."""
    started: datetime
    """With its offset from UTC."""
    seconds: float
    """Time played, without the count-in, by the sound's own clock."""
    key: str = ""
    """'E flat major'; empty where the exercise has none."""
    aims: Aims = field(default_factory=Aims)
    secure: bool | None = None
    """Everything asked for was heard; None where nothing could be judged."""
    advice: str = ""
    topic: str = ""
    felt: str = ""
    """The student's own word on this round."""
    disagreed: bool = False
    """The student did not agree with the advice."""
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


def round_log(
    round_: Round,
    take: Take | None,
    *,
    off_ms: Sequence[float | None] = (),
    advice_sentence: str,
    topic: Topic | None,
    started: datetime,
    seconds: float,
    felt: str = "",
) -> RoundLog:
    """The log of a finished round.

    `take` is None when the trainer did not listen. `off_ms` holds onset minus beat for each of
    the round's notes, in order; it may be empty. `seconds` is the time played.
    """
    return RoundLog(
        exercise_id=round_.exercise_id,
        title=round_.title,
        kind=round_.kind,
        number=round_.number,
        articulation=round_.articulation,
        tempo_bpm=round_.tempo_bpm,
        started=started,
        seconds=seconds,
        key=round_.key.name if round_.key else "",
        aims=round_.aims,
        secure=_secure(topic),
        advice=advice_sentence,
        topic=topic.value if topic else "",
        felt=felt,
        measures=take.measures if take else None,
        notes=_note_logs(round_, take, off_ms) if take else (),
        breaths_s=take.breaths_s if take else (),
        warnings=take.warnings if take else (),
    )


def _secure(topic: Topic | None) -> bool | None:
    if topic in (None, Topic.SOUND, Topic.UNHEARD):
        return None
    return topic is Topic.SECURE


def _note_logs(round_: Round, take: Take, off_ms: Sequence[float | None]) -> tuple[NoteLog, ...]:
    written = [str(note.pitch) for note in round_.notes]
    off_by_index = dict(enumerate(off_ms))
    transposition = _transposition(round_, take)

    def note_log(heard: HeardNote) -> NoteLog:
        if heard.index is not None:
            return _heard_log(heard, written[heard.index], off_ms=off_by_index.get(heard.index))
        sounded = None if heard.midi is None else sharp_name(round(heard.midi) + transposition)
        replaced = None if heard.instead_of is None else written[heard.instead_of]
        return _heard_log(heard, sounded, instead_of=replaced)

    return tuple(note_log(heard) for heard in take.notes)


def _transposition(round_: Round, take: Take) -> int:
    """Semitones from what sounds to what is written: 0 for the C flute, 5 for the alto flute."""
    for heard in take.notes:
        if heard.index is not None and heard.expected is not None:
            return round_.notes[heard.index].pitch.midi - heard.expected.midi
    return 0


def _heard_log(
    heard: HeardNote,
    written: str | None,
    off_ms: float | None = None,
    instead_of: str | None = None,
) -> NoteLog:
    return NoteLog(
        written=written,
        state=heard.state,
        cents=heard.cents,
        cents_spread=heard.cents_spread,
        drift_cents=heard.drift_cents,
        off_ms=off_ms,
        level_db=heard.level_db,
        start=heard.start,
        attack_ms=None if heard.attack_s is None else 1000 * heard.attack_s,
        vibrato_hz=heard.vibrato_hz,
        vibrato_cents=heard.vibrato_cents,
        tone=heard.tone,
        blip=heard.blip,
        instead_of=instead_of,
    )


def plain_round(
    notes: Sequence[NoteLog],
    *,
    started: datetime,
    seconds: float,
    exercise_id: str,
    title: str,
    kind: RoundKind = RoundKind.TECHNIQUE,
    articulation: Articulation = Articulation.SLURRED,
    tempo_bpm: float = 60.0,
    key: str = "",
    number: int = 1,
    evenness_ms: float | None = None,
    aims: Aims = Aims(),  # noqa: B008  (frozen)
    topic: Topic | None = None,
    advice: str = "",
) -> RoundLog:
    """A round's log from its notes and a few facts; the measures are worked out from the notes."""
    return RoundLog(
        exercise_id=exercise_id,
        title=title,
        kind=kind,
        number=number,
        articulation=articulation,
        tempo_bpm=tempo_bpm,
        started=started,
        seconds=seconds,
        key=key,
        aims=aims,
        secure=_secure(topic),
        advice=advice,
        topic=topic.value if topic else "",
        measures=_plain_measures(notes, evenness_ms) if notes else None,
        notes=tuple(notes),
    )


def _plain_measures(notes: Sequence[NoteLog], evenness_ms: float | None) -> RoundMeasures:
    cents = [note.cents for note in notes if note.cents is not None]
    off_ms = [note.off_ms for note in notes if note.off_ms is not None]
    level_db = [note.level_db for note in notes if note.level_db is not None]
    states = Counter(note.state for note in notes)
    return RoundMeasures(
        played=states[State.PLAYED],
        missed=states[State.MISSED],
        extra=states[State.EXTRA],
        lead_ms=median(off_ms) if off_ms else None,
        evenness_ms=evenness_ms,
        cents_median=median(cents) if cents else None,
        cents_spread=pstdev(cents) if len(cents) > 1 else None,
        level_db=median(level_db) if level_db else None,
    )
