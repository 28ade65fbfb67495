"""A school of invented students and a student of ten years, written to disk for the benches.

The sessions are the demo's invented ones. A school of thousands repeats sixteen different
students under other names, so that writing it takes minutes and not hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from random import Random

from demo.studio import ROUTINE, ROUTINE_FILE, Student, session_on, sessions_of
from trainer.journal.encode import session_text

DIFFERENT = 16
SCHOOL_WEEKS = 40


def write_years(folder: Path, last: date, years: int) -> int:
    """One student's daily sessions over whole years; their number."""
    folder.mkdir(parents=True)
    student = Student("Ten Years", 7, 60, 0.05)
    random = Random(1)
    days = 365 * years
    for number in range(days):
        day = last - timedelta(days=days - 1 - number)
        log = session_on(student, day, number // 7, random)
        file = folder / f"{log.started:%Y-%m-%d_%H-%M-%S}.yaml"
        file.write_text(session_text(log), encoding="utf-8")
    return days


def write_school(folder: Path, last: date, students: int, weeks: int = SCHOOL_WEEKS) -> int:
    """A folder a student with their sessions; the number of files."""
    kinds = [_texts(number, last, weeks) for number in range(min(DIFFERENT, students))]
    written = 0
    for number in range(students):
        home = folder / f"Student {number:04}"
        (home / "routines").mkdir(parents=True)
        (home / "routines" / ROUTINE_FILE).write_text(ROUTINE)
        written += _copy(kinds[number % len(kinds)], home, number)
    return written


@cache
def _texts(number: int, last: date, weeks: int) -> list[tuple[str, str]]:
    """File names and texts of one kind of student, named INVENTED."""
    random = Random(number)
    student = Student(
        "INVENTED",
        days_a_week=random.uniform(2, 6.5),
        begins_at_bpm=random.uniform(56, 80),
        rises_bpm=random.uniform(0.5, 2),
        ceiling_bpm=random.choice((90, 100, 200)),
        knot_until_week=random.choice((None, weeks - 3, weeks + 9)),
        weeks=weeks,
        stopped_weeks_ago=random.choice((0, 0, 0, 0, 1, 3)),
        remark="The top step still sticks.",
        private_remark="Not for others." if number % 3 == 0 else "",
    )
    return [
        (f"{log.started:%Y-%m-%d_%H-%M-%S}.yaml", session_text(log))
        for log in sessions_of(student, last, random)
    ]


def _copy(texts: Sequence[tuple[str, str]], home: Path, number: int) -> int:
    for name, text in texts:
        renamed = text.replace("-invented\n", f"-{number}\n").replace("INVENTED", home.name)
        (home / name).write_text(renamed, encoding="utf-8")
    return len(texts)
