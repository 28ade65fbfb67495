"""The list for a day of lessons: a few lines a student, to read or to print on A4.

The page has nothing in it from elsewhere, nothing in it runs, and private remarks stay out.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trainer.journal.from_teacher import TeacherNote
from trainer.journal.next_week import next_thing
from trainer.journal.plain_data import plain
from trainer.journal.to_ask import own_questions
from trainer.journal.week_summary import Remark, Week
from trainer.journal.week_text import cut, week_json
from trainer.paper.page_words import escape, policy
from trainer.paper.parts import with_signs
from trainer.routine.lesson_day import dated_lesson_words
from trainer.studio.folders import StudentFolder
from trainer.studio.overview import StudentWeek
from trainer.studio.overview_text import done_words, stuck_words, student_json, student_name
from trainer.studio.student import last_note, note_words, shown_week, stuck_week
from trainer.wording.days import day_words, short_day

WIDTH = 80
"""Columns of a plain terminal."""
MOST_STUCK = 3
"""Lines on what a student is stuck at."""
MOST_REMARKS = 2
"""Of the student's newest."""
LONGEST_REMARK = 160
"""Characters."""
LONGEST_NOTE = 240
"""Characters of the teacher's own last note."""
LONGEST_NAME = 60
"""Characters."""
_INDENT = "  "
_STYLE = """
@page { size: A4; margin: 14mm; }
* { box-sizing: border-box; }
body { font: 10.5pt/1.35 "DejaVu Serif", Georgia, serif; color: #111; background: #fff;
  max-width: 182mm; margin: 0 auto; }
h1 { font-size: 15pt; margin: 0 0 3mm; }
h2 { font-size: 12pt; margin: 0 0 1mm; }
section { break-inside: avoid; border-top: 1px solid #111; padding: 2.5mm 0; }
table { border-collapse: collapse; margin: 0 0 1.5mm; }
th, td { font-weight: normal; text-align: right; padding: 0 2.5mm 0 0; }
p, ul { margin: 0 0 1mm; } ul { padding-left: 5mm; }
.write { border-bottom: 1px solid #999; height: 7mm; }
"""


@dataclass(frozen=True)
class Lesson:
    """What the teacher wants to know of one student before the lesson."""

    student: StudentWeek
    week: Week
    """Without what is private."""
    note: TeacherNote | None
    """What the teacher wrote last."""


@dataclass(frozen=True)
class LessonDay:
    """The lessons of a day, in the order asked for."""

    day: date
    lessons: tuple[Lesson, ...]


def lessons(students: Iterable[StudentFolder], state_folder: Path, day: date) -> LessonDay:
    """The lessons of a day, each with the seven days that end with it."""
    found = (
        Lesson(
            stuck_week(student, state_folder, day),
            shown_week(student, state_folder, day)[0],
            last_note(student),
        )
        for student in students
    )
    return LessonDay(day, tuple(found))


def lessons_json(found: LessonDay) -> dict[str, object]:
    """The list as JSON-ready data; nothing private in it."""
    return {
        "day": str(found.day),
        "lessons": [
            {
                "studio": student_json(lesson.student),
                "week": week_json(lesson.week),
                "note": None if lesson.note is None else plain(vars(lesson.note)),
            }
            for lesson in found.lessons
        ],
    }


def lessons_text(found: LessonDay) -> str:
    """The list to read in a terminal."""
    blocks = ["\n".join(_text_lines(lesson)) for lesson in found.lessons]
    return "\n\n".join((f"{_title(found)}", *blocks)) + "\n"


def _title(found: LessonDay) -> str:
    return f"Before the lessons: the week to {day_words(found.day)} {found.day.year}"


def _text_lines(lesson: Lesson) -> Iterator[str]:
    yield student_name(lesson.student)
    days = [f"{day.day:%a} {_minutes(day.minutes, day.sessions)}" for day in lesson.student.days]
    yield f"{_INDENT}{'  '.join(days)}"
    for sentence in _sentences(lesson):
        yield from textwrap.wrap(
            sentence, WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT * 2
        )


def _minutes(minutes: float, sessions: int) -> str:
    return f"{minutes:.0f}" if sessions else "·"


def _sentences(lesson: Lesson) -> Iterator[str]:
    yield from _when(lesson)
    yield _time_words(lesson)
    if lesson.student.practised:
        yield f"One thing: {_next_words(lesson.week)}"
    yield from _stuck(lesson)
    yield from (f"To ask: {words}" for words in _asked(lesson))
    yield from (f"Own words, {words}" for words in _remarks(lesson))
    yield from (f"You wrote, {words}" for words in _note(lesson))


def _when(lesson: Lesson) -> Iterator[str]:
    """When the lesson is and what it is to hear, where the routine says."""
    if words := dated_lesson_words(lesson.student.lesson, lesson.student.lesson_wants):
        yield words


def _time_words(lesson: Lesson) -> str:
    student = lesson.student
    if not student.practised:
        last = f"; last on {day_words(student.last_day)}" if student.last_day else ""
        return f"Nothing written down in these seven days{last}."
    left = [each.title for each in student.done if not each.days_done]
    missing = f"; not played: {', '.join(left)}" if left else ""
    return (
        f"{student.minutes:.0f} minutes on {student.days_practised} of 7 days; exercises done: "
        f"{done_words(student)}{missing}."
    )


def _next_words(week: Week) -> str:
    thing = next_thing(week)
    return " ".join((thing.sentence, *thing.evidence))


def _stuck(lesson: Lesson) -> tuple[str, ...]:
    return stuck_words(lesson.student)[:MOST_STUCK]


def _asked(lesson: Lesson) -> tuple[str, ...]:
    """The student's questions; what they are stuck at stands above."""
    return own_questions(lesson.week.to_ask, lesson.student.knots, lesson.student.tempos)


def _remarks(lesson: Lesson) -> Iterator[str]:
    shown = [remark for remark in lesson.week.remarks if not remark.private]
    for remark in shown[-MOST_REMARKS:]:
        yield f"{short_day(remark.day)}: {cut(_said(remark), LONGEST_REMARK)}"


def _said(remark: Remark) -> str:
    return ". ".join(filter(None, (remark.felt, " ".join(remark.remark.split()))))


def _note(lesson: Lesson) -> Iterator[str]:
    if lesson.note is not None:
        yield cut(note_words(lesson.note), LONGEST_NOTE)


def lessons_page(found: LessonDay) -> str:
    """The list as one self-contained HTML document that prints on A4, with room to write."""
    title = escape(_title(found))
    body = "\n".join(_section(lesson) for lesson in found.lessons)
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f"{policy()}\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f"<h1>{title}</h1>\n{body}\n</body>\n</html>\n"
    )


def _html(words: str) -> str:
    return escape(with_signs(words))


def _section(lesson: Lesson) -> str:
    student = lesson.student
    parts = [f"<h2>{escape(cut(student_name(student), LONGEST_NAME))}</h2>"]
    if student.practised:
        heads = "".join(f"<th>{short_day(day.day)}</th>" for day in student.days)
        cells = "".join(f"<td>{_minutes(day.minutes, day.sessions)}</td>" for day in student.days)
        parts += [f"<table><tr><th></th>{heads}</tr><tr><td>minutes</td>{cells}</tr></table>"]
    parts += [f"<p>{_html(each)}</p>" for each in (*_when(lesson), _time_words(lesson))]
    if student.practised:
        thing = next_thing(lesson.week)
        evidence = _html(" ".join(thing.evidence))
        parts += [f"<p><strong>{_html(thing.sentence)}</strong> {evidence}</p>"]
    said = (
        *_stuck(lesson),
        *(f"To ask: {words}" for words in _asked(lesson)),
        *(f"Own words, {words}" for words in _remarks(lesson)),
        *(f"You wrote, {words}" for words in _note(lesson)),
    )
    if said:
        parts += ["<ul>" + "".join(f"<li>{_html(each)}</li>" for each in said) + "</ul>"]
    parts += ['<div class="write"></div>']
    return "<section>" + "\n".join(parts) + "</section>"
