"""An invented studio over a sail loft: a few students, their folders, and nobody who exists.

    python -m demo.studio DIR      writes the folders, one a student
    trainer studio DIR             what the teacher sees

Each student has a story: one climbs steadily, one is stuck at a tempo and at a trouble spot, one
has stopped coming, one has just begun.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

from demo.made_rounds import plain_round
from trainer.coach.advice import Topic
from trainer.ear.heard import State
from trainer.figures.round_figures import evenness_ms
from trainer.journal.encode import session_text
from trainer.journal.log import AskedExercise, NoteLog, RoundLog, SessionLog
from trainer.music.key import cycle
from trainer.music.note import Articulation
from trainer.routine.round import Aims, RoundKind

HERE = ZoneInfo("Europe/Oslo")
WEEKS = 9
ROUTINE_FILE = "over_the_sail_loft.yaml"
ROUTINE = """\
title: Over the sail loft
lesson: Thursday
for the lesson: the rope ladder, in one breath
exercises:
  - long tones: harbour lights
    notes: [B4, A4, G4, F#4]
  - scale: scale of the day
    key: by day through the circle of fifths
    range: two octaves
    articulations: [slurred, single, legato tongue]
  - speed climb: rope ladder
    key: same as scale of the day
    range: two octaves
    from: 60
    to: 120
    within: 8 minutes
  - passage: tide table
    key: D
    notes: quarter (D5 F#5) (A5 F#5) | half (E5 C#5) | whole D5
"""
ASKED = (
    AskedExercise("harbour lights", "Harbour lights", 4.0),
    AskedExercise("scale of the day", "Scale of the day", 6.0),
    AskedExercise("rope ladder", "Rope ladder", 8.0),
    AskedExercise("tide table", "Tide table", 4.0),
)
LONG = ("B4", "A4", "G4", "F#4")
SCALE = (
    "D4",
    "E4",
    "F#4",
    "G4",
    "A4",
    "B4",
    "C#5",
    "D5",
    "E5",
    "F#5",
    "G5",
    "A5",
    "B5",
    "C#6",
    "D6",
)
PHRASE = ("D5", "F#5", "A5", "F#5", "E5", "C#5", "D5")
KNOT = ("C#6", "D6")
KNOT_NOTES = (*KNOT, KNOT[0])


@dataclass(frozen=True)
class Student:
    """One invented student."""

    name: str
    days_a_week: float
    begins_at_bpm: float
    """Tempo at which the speed climb first held."""
    rises_bpm: float
    """A week."""
    ceiling_bpm: float = 200.0
    """Where it stops rising."""
    knot_until_week: int | None = None
    """The week in which the knot came undone; None: there is none."""
    weeks: int = WEEKS
    """Weeks since the first lesson."""
    stopped_weeks_ago: int = 0
    leaves_out: str = ""
    """An exercise seldom practised."""
    remark: str = ""
    private_remark: str = ""


STUDENTS = (
    Student("Aslaug Tindevik", 5.5, 66, 3.0, remark="The ladder is fun now."),
    Student("Bertil Okwuosa", 4, 72, 3.0, ceiling_bpm=80, knot_until_week=99,
            remark="The top step still sticks."),
    Student("Céline Duroy-Aas", 5, 60, 2.0, leaves_out="harbour lights",
            private_remark="I don't like long tones and haven't dared to say so."),
    Student("Dagfinn Morke", 4, 60, 2.0, stopped_weeks_ago=2),
    Student("Eliška Bronec", 3, 60, 2.0, weeks=2, knot_until_week=1),
)  # fmt: skip


def write_studio(folder: Path, today: date, students: tuple[Student, ...] = STUDENTS) -> int:
    """Write each student's folder; the number of sessions written."""
    written = 0
    for seed, student in enumerate(students):
        home = folder / student.name
        (home / "routines").mkdir(parents=True, exist_ok=True)
        (home / "routines" / ROUTINE_FILE).write_text(ROUTINE, encoding="utf-8")
        for log in sessions_of(student, today, Random(seed)):
            file = home / f"{log.started:%Y-%m-%d_%H-%M-%S}.yaml"
            file.write_text(session_text(log), encoding="utf-8")
            written += 1
    return written


def sessions_of(student: Student, today: date, random: Random) -> Iterator[SessionLog]:
    """The student's sessions up to today, oldest first."""
    for days_ago in range(7 * student.weeks - 1, 7 * student.stopped_weeks_ago - 1, -1):
        if random.random() < student.days_a_week / 7:
            day = today - timedelta(days=days_ago)
            yield session_on(student, day, student.weeks - 1 - days_ago // 7, random)


def session_on(student: Student, day: date, week: int, random: Random) -> SessionLog:
    """One day's session in the student's week `week`, counted from 0."""
    started = datetime.combine(day, time(16, random.randrange(60)), HERE)
    rounds: list[RoundLog] = []
    elapsed_s = 20.0
    for facts, names in _rounds(student, day, week, random):
        at = started + timedelta(seconds=elapsed_s)
        round_ = _round(names, at, week, random, facts)
        rounds.append(round_)
        elapsed_s += round_.seconds + 12
    private = bool(student.private_remark) and day.weekday() == 2
    said = student.private_remark if private else student.remark if day.weekday() == 0 else ""
    return SessionLog(
        started=started,
        routine_title="Over the sail loft",
        routine_file=ROUTINE_FILE,
        student=student.name,
        instrument="C flute",
        asked=ASKED,
        rounds=tuple(rounds),
        ended=started + timedelta(seconds=elapsed_s),
        elapsed_s=elapsed_s,
        remark=said,
        private=private,
        session_id=f"{started:%Y-%m-%d_%H-%M-%S}-{student.name.split()[0].lower()}",
    )


def _rounds(
    student: Student, day: date, week: int, random: Random
) -> Iterator[tuple[dict[str, object], tuple[str, ...]]]:
    """What is played: the facts of each round and its notes."""
    kept = [asked for asked in ASKED if asked.exercise_id != student.leaves_out]
    ids = {asked.exercise_id for asked in kept if random.random() < 0.9}
    key = cycle("circle of fifths")[day.toordinal() % 12].name
    if "harbour lights" in ids:
        yield _facts("harbour lights", RoundKind.LONG_TONES, 60, random.random() < 0.7), LONG
    if "scale of the day" in ids:
        for number, articulation in enumerate(list(Articulation)[:3], start=1):
            yield _facts("scale of the day", RoundKind.TECHNIQUE, 60, random.random() < 0.6,
                         key=key, articulation=articulation, number=number), SCALE  # fmt: skip
    if "rope ladder" in ids:
        held_bpm = min(student.ceiling_bpm, student.begins_at_bpm + student.rises_bpm * week)
        for number in range(5):
            tempo = round(held_bpm) - 8 + 4 * number
            yield _facts("rope ladder", RoundKind.CLIMB, tempo, tempo <= held_bpm, key=key,
                         number=number + 1), SCALE  # fmt: skip
    if student.knot_until_week is not None and random.random() < 0.7:
        for number in range(3):
            undone = week >= student.knot_until_week
            facts = _facts("scale of the day", RoundKind.KNOT, 50, undone, number=number + 1)
            yield facts | {"title": f"{'–'.join(KNOT)}, slowly", "knot": KNOT}, KNOT_NOTES
    if "tide table" in ids:
        yield _facts("tide table", RoundKind.PASSAGE, 66, random.random() < 0.8), PHRASE


def _facts(
    exercise_id: str, kind: RoundKind, tempo_bpm: float, secure: bool, **more: object
) -> dict[str, object]:
    return {
        "exercise_id": exercise_id,
        "title": exercise_id.capitalize(),
        "kind": kind,
        "tempo_bpm": tempo_bpm,
        "topic": Topic.SECURE if secure else Topic.EVENNESS,
        **more,
    }


def _round(
    names: tuple[str, ...], at: datetime, week: int, random: Random, facts: dict[str, object]
) -> RoundLog:
    sharp_cents = max(4.0, 20.0 - 2 * week)
    notes = [
        NoteLog(name, State.MISSED)
        if random.random() < 0.02
        else NoteLog(
            name,
            cents=round(random.gauss(sharp_cents if name.endswith("6") else -1.0, 4), 1),
            off_ms=random.gauss(0, 1),
            level_db=round(random.gauss(-24, 2), 1),
        )
        for name in names
    ]
    seconds = round(random.uniform(20, 45), 1)
    uneven_ms = max(5.0, random.gauss(24 - week, 3))
    played = [
        note if note.off_ms is None else replace(note, off_ms=round(uneven_ms * note.off_ms))
        for note in notes
    ]
    return plain_round(
        played,
        started=at,
        seconds=seconds,
        evenness_ms=evenness_ms([note.off_ms for note in played if note.off_ms is not None]),
        aims=Aims(cents=12, evenness_ms=20),
        **facts,  # type: ignore[arg-type]
    )


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit("Say where: python -m demo.studio DIR")
    count = write_studio(Path(sys.argv[1]), date.today())
    print(f"{len(STUDENTS)} students, {count} sessions. Now: trainer studio {sys.argv[1]}")
