"""Which routine is practised today, and what the teacher has sent with it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from trainer.app.paths import Paths
from trainer.app.settings_applied import settings_or_usual
from trainer.journal.from_teacher import latest_note, latest_routine, notes_from_teacher
from trainer.routine.lesson_day import (
    LessonDay,
    dated_lesson_words,
    lesson_day,
    lesson_words,
    next_lesson,
)
from trainer.routine.load import load_routine
from trainer.routine.shipped import shipped_routines
from trainer.wording.days import date_words

SHIPPED_ROUTINES = shipped_routines()
FIRST_ROUTINE = "morning.yaml"
FIRST_ROUND = SHIPPED_ROUTINES / "first_morning.yaml"


def todays_routine_file(paths: Paths) -> Path:
    """The newest routine the teacher sent, else the student's own, else the shipped morning."""
    sent = latest_routine(notes_from_teacher(paths.journal)[0])
    if sent is not None:
        return sent
    own = _listed(paths.routines, "*.yaml")
    return own[0] if own else SHIPPED_ROUTINES / FIRST_ROUTINE


def routine_file_for(paths: Paths) -> Path:
    """Today's; two minutes to meet on the first morning, where no teacher has sent anything."""
    file = todays_routine_file(paths)
    return FIRST_ROUND if is_first_morning(paths) and file.parent == SHIPPED_ROUTINES else file


def is_first_morning(paths: Paths) -> bool:
    """Nothing was ever set and nothing ever practised."""
    return not _listed(paths.config_file.parent, paths.config_file.name) and not _listed(
        paths.journal, "*"
    )


def _listed(folder: Path, pattern: str) -> list[Path]:
    """What is in a folder by that name; nothing where it can't be looked into."""
    try:
        return sorted(folder.glob(pattern))
    except OSError:
        return []


def words_from_teacher(paths: Paths) -> str:
    """The teacher's last note and the routine sent last, each with its day; empty without any."""
    notes, _ = notes_from_teacher(paths.journal)
    note, sent = latest_note(notes), next((n for n in reversed(notes) if n.routine_file), None)
    lines = [f"{date_words(note.written)}: {note.words}"] if note is not None else []
    if sent is not None and sent.routine_file is not None:
        lines.append(f"{date_words(sent.written)}: sent the routine {sent.routine_file.stem}.")
    return "\n".join(lines)


def words_before_lesson(paths: Paths, day: date) -> str:
    """When the next lesson is and what it wants to hear, by today's routine and what is set; empty
    where neither says."""
    lesson, wants = _lesson(paths)
    return lesson_words(lesson, wants, day)


def lesson_on_paper(paths: Paths, day: date) -> str:
    """The same with the lesson's date."""
    lesson, wants = _lesson(paths)
    return dated_lesson_words(next_lesson(lesson, day), wants)


def _lesson(paths: Paths) -> tuple[LessonDay | None, str]:
    """The day that is set, else the routine's, and what the routine's teacher wants to hear."""
    routine = load_routine(todays_routine_file(paths))[0]
    set_ = lesson_day(settings_or_usual(paths)[0].lesson)
    return (set_, "") if routine is None else (set_ or routine.lesson, routine.for_the_lesson)
