"""When the next lesson is: every week on a day, or once on a date."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TypeAlias

from trainer.wording.days import day_words
from trainer.wording.sentence_list import say

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
LessonDay: TypeAlias = str | date
"""One of WEEKDAYS, or a date."""
_LEAST_LETTERS = 3
"""'Thu' is enough."""


def lesson_day(typed: str) -> LessonDay | None:
    """The day written as 'Thursday', 'Thursdays', 'Thu' or 2026-12-03; None for anything else."""
    word = typed.strip().casefold()
    try:
        return date.fromisoformat(word)
    except ValueError:
        short = word.removesuffix("s") if word.endswith("days") else word
    if len(short) < _LEAST_LETTERS:
        return None
    return next((day for day in WEEKDAYS if day.casefold().startswith(short)), None)


def next_lesson(lesson: LessonDay | None, today: date) -> date | None:
    """The first lesson from today on; None where none is known or it is past."""
    if isinstance(lesson, date):
        return lesson if lesson >= today else None
    if lesson is None:
        return None
    return today + timedelta(days=(WEEKDAYS.index(lesson) - today.weekday()) % len(WEEKDAYS))


def lesson_words(lesson: LessonDay | None, wants: str, today: date) -> str:
    """'Lesson in 3 days: C5–D5, one breath.'; empty where no lesson is known.

    `wants`: what it is to hear, in the teacher's words; may be empty.
    """
    day = next_lesson(lesson, today)
    if day is None:
        return ""
    asked = _asked(wants)
    match (day - today).days:
        case 0:
            return say("lesson today", wants=asked)
        case 1:
            return say("lesson tomorrow", wants=asked)
        case days:
            return say("lesson ahead", days=days, wants=asked)


def dated_lesson_words(day: date | None, wants: str) -> str:
    """'Lesson on Thursday 3 December: C5–D5.', for paper and for the teacher; empty without one."""
    if day is None:
        return ""
    return say("lesson on", day=day_words(day), wants=_asked(wants))


def _asked(wants: str) -> str:
    return f": {' '.join(wants.split()).rstrip('.')}" if wants.strip() else ""
