"""A few weeks of invented practice behind the demo: nobody played them.

Marit Halvorsen is a student in an invented studio over a sail loft. Her high notes start sharp
and her back syllable weak, and both get better; some days she doesn't practise.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from demo.made_rounds import plain_round
from trainer.app.begun_walk import opening_log
from trainer.app.open_session import planned_for
from trainer.app.paths import Paths
from trainer.coach.advice import Topic
from trainer.ear.heard import State
from trainer.figures.round_figures import evenness_ms
from trainer.journal.log import NoteLog, RoundLog
from trainer.journal.write import JournalFile
from trainer.music.note import Note, Start
from trainer.routine.model import Routine
from trainer.routine.round import Round

STUDENT = "Marit Halvorsen"
WEEKS = 4
DAYS_A_WEEK = 5
HALF_LIFE_DAYS = 20.0
SHARP_TOP_CENTS = 22.0
WEAK_BACK_DB = 6.0
UNEVEN_MS = 24.0
STEADY_MS = 7.0
HIGH_MIDI = 86
MISS_PROBABILITY = 0.012
REMARKS = (
    "Top notes felt easier with the corners relaxed.",
    "Tired today, stopped before the arpeggios.",
    "Double tonguing still lopsided.",
    "C sharp to D was smoother after the slow rounds.",
)


def write_weeks(
    routine: Routine,
    paths: Paths,
    today: date,
    seed: int = 7,
    weeks: int = WEEKS,
    days_a_week: float = DAYS_A_WEEK,
) -> int:
    """Write the weeks before today into the journal; the number of sessions written."""
    random = Random(seed)
    written = 0
    for days_ago in range(7 * weeks, 0, -1):
        if random.random() > days_a_week / 7:
            continue
        day = today - timedelta(days=days_ago)
        _write_session(routine, paths, day, 7 * weeks - days_ago, random)
        written += 1
    return written


def _write_session(
    routine: Routine, paths: Paths, day: date, days_practised: int, random: Random
) -> None:
    planned = planned_for(routine, day, ())
    begun = datetime.combine(day, time(7, random.randrange(10, 50)), ZoneInfo("Europe/Oslo"))
    log = opening_log(routine, planned, begun, STUDENT)
    journal = JournalFile.begin(paths.journal, log, paths.spare_journal)
    left = 0.5 ** (days_practised / HALF_LIFE_DAYS)
    elapsed_s = 0.0
    for exercise in planned:
        elapsed_s += exercise.rest_s
        for round_ in exercise.rounds:
            elapsed_s += 10 + round_.count_in_beats * round_.beat_s
            at = begun + timedelta(seconds=elapsed_s)
            journal.add_round(_played(round_, at, left, random), elapsed_s)
            elapsed_s += round_.seconds
    ended = begun + timedelta(seconds=elapsed_s)
    remark = random.choice(REMARKS) if random.random() < 0.4 else ""
    journal.finish(ended, elapsed_s, remark=remark)


def _played(round_: Round, at: datetime, left: float, random: Random) -> RoundLog:
    spread_ms = STEADY_MS + (UNEVEN_MS - STEADY_MS) * left
    notes = tuple(_notes(round_, left, spread_ms, random))
    off_ms = [note.off_ms for note in notes if note.off_ms is not None]
    secure = left < 0.6 and all(note.state == "played" for note in notes)
    return plain_round(
        notes,
        started=at,
        seconds=round_.seconds,
        exercise_id=round_.exercise_id,
        title=round_.title,
        kind=round_.kind,
        articulation=round_.articulation,
        tempo_bpm=round_.tempo_bpm,
        key=round_.key.name if round_.key else "",
        number=round_.number,
        evenness_ms=evenness_ms(off_ms),
        aims=round_.aims,
        topic=Topic.SECURE if secure else Topic.TUNING_HIGH,
    )


def _notes(round_: Round, left: float, spread_ms: float, random: Random) -> Iterator[NoteLog]:
    for note in round_.notes:
        if note.start is Start.SILENT_AIR:
            yield NoteLog(str(note.pitch), start=Start.SILENT_AIR, off_ms=random.gauss(0, 15))
        elif random.random() < MISS_PROBABILITY * left:
            yield NoteLog(str(note.pitch), state=State.MISSED)
        else:
            yield _note(note, left, spread_ms, random)


def _note(note: Note, left: float, spread_ms: float, random: Random) -> NoteLog:
    height = max(0.0, (note.pitch.midi - HIGH_MIDI) / 10)
    soft_db = WEAK_BACK_DB * left if note.start is Start.BACK_TONGUED else 0.0
    heard = Start.TONGUED if note.start is Start.BACK_TONGUED else note.start
    return NoteLog(
        written=str(note.pitch),
        cents=round(SHARP_TOP_CENTS * left * height + random.gauss(-2, 4), 1),
        off_ms=round(random.gauss(0, spread_ms), 1),
        level_db=round(-24 - soft_db + random.gauss(0, 1), 1),
        start=heard,
    )
