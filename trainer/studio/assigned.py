"""What a student was assigned: what the sessions were asked, else the routine in the folder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from pathlib import Path

from trainer.journal.from_teacher import TeacherNote, latest_routine, notes_from_teacher
from trainer.journal.log import SessionLog
from trainer.routine.document import UnreadableError, read_text
from trainer.routine.lesson_day import LessonDay, next_lesson
from trainer.routine.load import read_routine
from trainer.routine.model import Exercise
from trainer.studio.folders import ROUTINES, StudentFolder

DIFFERENT_ROUTINES = 4096
"""Routines remembered at a time; most students of a school share one."""


@dataclass(frozen=True)
class Assignment:
    """The exercises a student is to practise."""

    routine: str
    """Title of the routine; empty where none is known."""
    file: str
    """The routine's file in the student's folder; empty where only the sessions tell."""
    exercises: tuple[tuple[str, str], ...]
    """Name inside the routine, and what to call it."""
    lesson: LessonDay | None = None
    """When lessons are, as the routine says."""
    wants: str = ""
    """What the next one is to hear."""


@dataclass(frozen=True)
class ExerciseDone:
    """One assigned exercise in the seven days."""

    exercise_id: str
    title: str
    days_done: int
    """Days with at least one finished round of it."""
    rounds: int
    played_minutes: float
    """In rounds only."""


def assignment(
    student: StudentFolder,
    notes: Sequence[TeacherNote],
    week: Sequence[SessionLog],
    latest: SessionLog | None,
) -> tuple[Assignment | None, tuple[str, ...]]:
    """What was in force in a week, and a sentence for each routine file that can't be used.

    notes: those sent up to its end (`notes_until`).

    That is what the week's sessions were asked, so that a routine sent later rewrites nothing; of
    a week without any, the newest routine sent up to its end, else the one the latest session
    names, else what that session was asked.
    """
    faults: list[str] = []
    asked = _asked(week)
    for file in _candidates(student, notes, latest):
        found = _from_file(file)
        if isinstance(found, Assignment) and (not asked or _is_of(file, week)):
            return replace(found, exercises=asked or found.exercises), tuple(faults)
        if isinstance(found, str):
            faults.append(found)
    if latest is None or not (asked or latest.asked):
        return None, tuple(faults)
    title = next((log.routine_title for log in reversed(week) if log.asked), latest.routine_title)
    return Assignment(title, "", asked or _asked([latest])), tuple(faults)


def sent_since(notes: Sequence[TeacherNote], latest: SessionLog | None) -> str:
    """The title of a routine that was sent after the last practice; empty where there is none."""
    sent = [note for note in notes if note.routine_file is not None]
    if not sent or (latest is not None and sent[-1].written <= latest.started):
        return ""
    found = _from_file(sent[-1].routine_file) if sent[-1].routine_file else ""
    return found.routine if isinstance(found, Assignment) else ""


def lesson_ahead(
    student: StudentFolder,
    notes: Sequence[TeacherNote],
    latest: SessionLog | None,
    ending: date,
) -> tuple[date | None, str]:
    """The next lesson from a day on, and what it is to hear, as the newest routine says."""
    files = (_from_file(file) for file in _candidates(student, notes, latest))
    newest = next((found for found in files if isinstance(found, Assignment)), None)
    if newest is None:
        return None, ""
    return next_lesson(newest.lesson, ending), newest.wants


def notes_until(student: StudentFolder, ending: date) -> list[TeacherNote]:
    """What the teacher sent up to a day, oldest first."""
    return [n for n in notes_from_teacher(student.inbox)[0] if n.written.date() <= ending]


def _asked(week: Sequence[SessionLog]) -> tuple[tuple[str, str], ...]:
    """What the week's sessions asked for, each once, by its latest title."""
    titles = {
        each.exercise_id: each.title or each.exercise_id for log in week for each in log.asked
    }
    return tuple(titles.items())


def _is_of(file: Path, week: Sequence[SessionLog]) -> bool:
    """Whether the week's last session that asked for anything was of this routine."""
    names = [Path(log.routine_file).name for log in week if log.asked]
    return bool(names) and names[-1] == file.name


def _candidates(
    student: StudentFolder, notes: Sequence[TeacherNote], latest: SessionLog | None
) -> Iterator[Path]:
    sent = latest_routine(tuple(notes))
    if sent is not None:
        yield sent
    if latest is None or not latest.routine_file:
        return
    name = Path(latest.routine_file).name
    homes = dict.fromkeys((student.folder, *student.journals))
    places = [place for home in homes for place in (home / ROUTINES / name, home / name)]
    yield from (place for place in places if place.is_file())


def _from_file(file: Path) -> Assignment | str:
    """The assignment, or a sentence on what is wrong with the file."""
    try:
        return _from_text(read_text(file), file.name)
    except UnreadableError as stop:
        return stop.problem.sentence()


@lru_cache(maxsize=DIFFERENT_ROUTINES)
def _from_text(text: str, name: str) -> Assignment | str:
    routine, problems = read_routine(text, name)
    if routine is None:
        return problems[0].sentence()
    exercises = tuple(
        (entry.id, entry.title or entry.id)
        for entry in routine.entries
        if isinstance(entry, Exercise)
    )
    return Assignment(routine.title, name, exercises, routine.lesson, routine.for_the_lesson)


def exercises_done(
    assigned: Assignment | None, week: Sequence[SessionLog]
) -> tuple[ExerciseDone, ...]:
    """What was done of the assignment in the week's sessions, in its order."""
    if assigned is None:
        return ()
    played = [(log.day, round_) for log in week for round_ in log.rounds]
    return tuple(
        ExerciseDone(
            exercise_id=exercise_id,
            title=title,
            days_done=len({day for day, r in played if r.exercise_id == exercise_id}),
            rounds=sum(r.exercise_id == exercise_id for _, r in played),
            played_minutes=sum(r.seconds for _, r in played if r.exercise_id == exercise_id) / 60,
        )
        for exercise_id, title in assigned.exercises
    )
