"""One student's page: the week the student sees, without what is private, and what is stuck."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path

from trainer.journal.export import without_private
from trainer.journal.from_teacher import TeacherNote, latest_note, notes_from_teacher
from trainer.journal.log import SessionLog
from trainer.journal.plain_data import plain
from trainer.journal.read import each_once, read_files
from trainer.journal.week_summary import TWO_WEEKS, Week, week
from trainer.journal.week_text import WIDTH, spot_lines, week_json, week_text
from trainer.routine.lesson_day import dated_lesson_words
from trainer.studio.folders import StudentFolder
from trainer.studio.overview import StudentWeek, recent_sessions, student_week
from trainer.studio.overview_text import (
    done_words,
    knot_words,
    sent_words,
    student_json,
    tempo_words,
    weeks_head,
    weeks_lines,
)
from trainer.wording.days import day_words


def shown_week(
    student: StudentFolder, state_folder: Path, ending: date
) -> tuple[Week, tuple[SessionLog, ...], tuple[str, ...]]:
    """The week as others may see it, the sessions of two weeks it was made from, and problems."""
    found = [read_files(folder, ending - TWO_WEEKS, ending) for folder in student.journals]
    files, copies = each_once([file for files, _ in found for file in files])
    sessions = tuple(without_private(log) for _, log in files)
    problems = (*(problem for _, faults in found for problem in faults), *copies)
    summary = week(sessions, ending, recent_sessions(student, state_folder, ending)[0])
    if not summary.student:
        summary = replace(summary, student=student.name)
    return summary, sessions, tuple(problem.brief for problem in problems)


def stuck_week(student: StudentFolder, state_folder: Path, ending: date) -> StudentWeek:
    """The student's line of the overview."""
    return student_week(student, *recent_sessions(student, state_folder, ending), ending)


def last_note(student: StudentFolder) -> TeacherNote | None:
    """What the teacher wrote to the student last."""
    return latest_note(notes_from_teacher(student.inbox)[0])


def student_page_text(student: StudentFolder, state_folder: Path, ending: date) -> str:
    """The student's page to read in a terminal."""
    summary, _, problems = shown_week(student, state_folder, ending)
    found = stuck_week(student, state_folder, ending)
    note = last_note(student)
    lesson = dated_lesson_words(found.lesson, found.lesson_wants)
    sections = (
        _listed("Assigned", _assigned_lines(found)),
        _listed("Stuck as well", _stuck_untold(found, summary)),
        "\n".join((*weeks_head((found,)), *weeks_lines(found, "  minutes in days"), "")),
        _listed("Your last note", (note_words(note),) if note else ()),
        _listed("To be seen to", dict.fromkeys((*problems, *found.problems))),
    )
    return "\n".join((week_text(summary, lesson=lesson), *filter(None, sections)))


def _listed(title: str, sentences: Iterable[str]) -> str:
    lines = [
        line
        for sentence in sentences
        for line in textwrap.wrap(sentence, WIDTH, initial_indent="  ", subsequent_indent="    ")
    ]
    return "\n".join((title, *lines, "")) if lines else ""


def _assigned_lines(found: StudentWeek) -> tuple[str, ...]:
    if found.assigned is None:
        return ()
    done = f"{found.assigned.routine}: {done_words(found)} exercises done"
    return (done, *sent_words(found))


def _stuck_untold(found: StudentWeek, week: Week) -> tuple[str, ...]:
    """What is stuck and doesn't stand among the week's trouble spots."""
    told = spot_lines(week)

    def is_told(spot: str) -> bool:
        return any(line.startswith(f"{spot} ") for line in told)

    spots = (knot_words(knot) for knot in found.knots if not is_told(knot.title))
    tempos = map(tempo_words, found.tempos)
    return (*spots, *(words for words in tempos if words.removesuffix(".") not in told))


def note_words(note: TeacherNote) -> str:
    """'Monday 23 November: Begin with the ladder.'"""
    return f"{day_words(note.written.date())}: {' '.join(note.words.split())}"


def student_page_json(
    student: StudentFolder, state_folder: Path, ending: date
) -> dict[str, object]:
    """The student's page as JSON-ready data; nothing private in it."""
    summary, _, _ = shown_week(student, state_folder, ending)
    notes, _ = notes_from_teacher(student.inbox)
    found = stuck_week(student, state_folder, ending)
    return {
        "week": week_json(summary),
        "studio": student_json(found),
        "notes": [plain(vars(note)) for note in notes],
    }
