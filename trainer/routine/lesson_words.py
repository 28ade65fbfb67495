"""Reading when the lesson is."""

from __future__ import annotations

import yaml

from trainer.routine.lesson_day import WEEKDAYS, LessonDay, lesson_day
from trainer.routine.reader import Reader, misread, scalar

_SAYS = "a day such as Thursday, or a date such as 2026-12-03"


def _lesson(node: yaml.Node) -> LessonDay:
    typed = scalar(node)
    found = lesson_day(typed)
    if found is None:
        raise misread(node, f"'{typed}' is no day.")
    return found


LESSON: Reader[LessonDay] = Reader(
    _SAYS,
    _lesson,
    {
        "anyOf": [
            {"type": "string", "enum": [*WEEKDAYS, *(f"{day}s" for day in WEEKDAYS)]},
            {"type": "string", "pattern": r"^\s*\d{4}-\d{2}-\d{2}\s*$"},
        ]
    },
)
