"""What a student was assigned: the routine in the folder, or what the sessions say was asked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from trainer.journal.from_teacher import latest_routine, notes_from_teacher
from trainer.journal.log import SessionLog
from trainer.routine.document import UnreadableError, read_text
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
    student: StudentFolder, latest: SessionLog | None
) -> tuple[Assignment | None, tuple[str, ...]]:
    """The newest routine sent by the teacher, else the one the latest session names, else what
    that session was asked; and a sentence for each routine file that can't be used.
    """
    faults: list[str] = []
    for file in _candidates(student, latest):
        found = _from_file(file)
        if isinstance(found, Assignment):
            return found, tuple(faults)
        faults.append(found)
    if latest is None or not latest.asked:
        return None, tuple(faults)
    asked = tuple((each.exercise_id, each.title or each.exercise_id) for each in latest.asked)
    return Assignment(latest.routine_title, "", asked), tuple(faults)


def _candidates(student: StudentFolder, latest: SessionLog | None) -> Iterator[Path]:
    notes, _ = notes_from_teacher(student.inbox)
    sent = latest_routine(notes)
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
    return Assignment(routine.title, name, exercises)


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
