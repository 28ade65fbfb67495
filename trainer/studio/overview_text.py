"""The studio as plain text for a terminal, and as plain data."""

from __future__ import annotations

import csv
import io
import textwrap
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date, timedelta

from trainer.disk.outside_text import cell
from trainer.journal.plain_data import plain
from trainer.journal.stuck import OpenKnot, StuckTempo
from trainer.journal.time_spent import DAYS_IN_WEEK
from trainer.journal.week_text import cut, times_words
from trainer.studio.overview import Overview, StudentWeek, WeekBeside
from trainer.wording.days import date_words, day_words
from trainer.wording.sentence_list import say

WIDTH = 80
MOST_PROBLEMS = 10
"""Sentences on files; the rest is in the plain data."""
_NAME = 26
"""Columns for the student's name."""
_WEEKS_NAME, _WEEK = 17, 10
"""Columns of a name, and of one of six weeks."""
_INDENT = "  "


def overview_json(found: Overview) -> dict[str, object]:
    """The overview as JSON-ready data; numbers unrounded."""
    facts = asdict(found)
    facts["students"] = [student_json(student) for student in found.students]
    return {key: plain(value) for key, value in facts.items()}


def overview_csv(found: Overview) -> str:
    """A row a student: minutes of each day and in all, what was done, what is stuck."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    days = [found.first_day + timedelta(days=number) for number in range(DAYS_IN_WEEK)]
    rows.writerow(
        [
            "student",
            *map(str, days),
            "minutes",
            "days",
            "exercises done",
            "exercises",
            "stuck",
            "lesson",
        ]
    )
    for student in found.students:
        minutes = [f"{day.minutes:.1f}" for day in student.days]
        done = (student.days_practised, student.exercises_done, len(student.done))
        stuck = " ".join(stuck_words(student))
        whose = cell(student.folder)
        rows.writerow(
            [whose, *minutes, f"{student.minutes:.1f}", *done, cell(stuck), student.lesson or ""]
        )
    return text.getvalue()


def student_json(student: StudentWeek) -> dict[str, object]:
    """One student's week as JSON-ready data."""
    facts = asdict(student) | {
        "minutes": student.minutes,
        "days_practised": student.days_practised,
        "exercises_done": student.exercises_done,
    }
    return {key: plain(value) for key, value in facts.items()}


def overview_text(found: Overview, width: int = WIDTH) -> str:
    """The overview to read in a terminal; no colour, no ranks."""
    practised = [student for student in found.students if student.practised]
    sections = (
        _title(found, len(practised)),
        _practised(practised),
        _absent(found, [student for student in found.students if not student.practised]),
        _lessons(found.students, width),
        _sent(found.students, width),
        _stuck(found.students, width),
        _problems(found, width),
    )
    return "\n\n".join("\n".join(lines) for lines in map(list, sections) if lines) + "\n"


def _title(found: Overview, practised: int) -> Iterator[str]:
    yield f"{day_words(found.first_day)} to {day_words(found.ending)} {found.ending.year}"
    if not found.students:
        yield "There is no student's folder here: make one for each student's journal."
        return
    yield f"{practised} of {times_words(len(found.students), 'student')} practised"


def _practised(students: Sequence[StudentWeek]) -> Iterator[str]:
    if not students:
        return
    days = " ".join(f"{day.day:%a}"[:3].rjust(3) for day in students[0].days)
    yield f"{'Minutes by day':<{_NAME + 2}} {days}  in all  exercises done"
    for student in students:
        yield _INDENT + _student_line(student)


def _student_line(student: StudentWeek) -> str:
    minutes = " ".join(f"{day.minutes:>3.0f}" if day.sessions else "  ·" for day in student.days)
    return (
        f"{cut(student_name(student), _NAME):<{_NAME}} {minutes}  {student.minutes:>6.0f}  "
        f"{done_words(student)}"
    )


def weeks_text(found: Overview) -> str:
    """The last six weeks side by side: minutes, days, and of the rounds judged those clean."""
    if not found.students:
        return overview_text(found)
    lines = list(weeks_head(found.students))
    for student in found.students:
        lines += weeks_lines(student, cut(student_name(student), _WEEKS_NAME - 1))
    return "\n".join(lines) + "\n"


def weeks_head(students: Sequence[StudentWeek]) -> tuple[str, ...]:
    """What stands side by side, and the last day of each week."""
    days = "".join(f"{_short(week.ending):>{_WEEK}}" for week in students[0].weeks)
    title = "Weeks side by side, by their last day: minutes, and on how many days"
    return title, f"{'':<{_WEEKS_NAME}}{days}"


def weeks_lines(student: StudentWeek, name: str) -> tuple[str, ...]:
    """A line of minutes and days, and one of the share of rounds that were clean, where known."""
    time = "".join(f"{_time(week):>{_WEEK}}" for week in student.weeks)
    clean = "".join(f"{_clean(week):>{_WEEK}}" for week in student.weeks)
    lines = (f"{name:<{_WEEKS_NAME}}{time}", f"{'  rounds clean':<{_WEEKS_NAME}}{clean}")
    return lines if clean.strip() else lines[:1]


def _time(week: WeekBeside) -> str:
    return f"{week.minutes:.0f} in {week.days}" if week.days else "·"


def _clean(week: WeekBeside) -> str:
    if not week.judged_rounds:
        return ""
    return f"{week.clean_rounds} of {week.judged_rounds}"


def _short(day: date) -> str:
    return f"{day.day} {day:%b}"


def student_name(student: StudentWeek) -> str:
    """The folder's name, and the student's own where it says something else."""
    same = student.student.casefold() == student.folder.casefold()
    return student.folder if same else f"{student.folder} ({student.student})"


def done_words(student: StudentWeek) -> str:
    """'3 of 4', or that nothing was assigned."""
    if not student.done:
        return "none assigned"
    return f"{student.exercises_done} of {len(student.done)}"


def sent_words(student: StudentWeek) -> tuple[str, ...]:
    """'sent since: Only long tones', where a routine waits to be begun."""
    return (f"sent since: {student.sent}",) if student.sent else ()


def _absent(found: Overview, students: Sequence[StudentWeek]) -> Iterator[str]:
    if not students:
        return
    yield "Nothing written down in these seven days"
    for student in students:
        yield f"{_INDENT}{cut(student_name(student), _NAME):<{_NAME}} {last_words(student, found)}"


def last_words(student: StudentWeek, found: Overview) -> str:
    """When the student last practised."""
    if student.last_day is None:
        return "no session in the folder"
    ago = (found.ending - student.last_day).days
    return f"last on {date_words(student.last_day)}, {ago} days before"


def _lessons(students: Sequence[StudentWeek], width: int) -> Iterator[str]:
    """Whose lesson is when, the next first."""
    whose: dict[date, list[str]] = defaultdict(list)
    for student in students:
        if student.lesson is not None:
            whose[student.lesson].append(student.folder)
    if whose:
        yield "Next lessons"
    for day in sorted(whose):
        yield from _wrapped(f"{day_words(day)}: {', '.join(whose[day])}", width)


def _sent(students: Sequence[StudentWeek], width: int) -> Iterator[str]:
    waiting = [student for student in students if student.sent]
    if waiting:
        yield "Routines sent and not begun yet"
    for student in waiting:
        yield from _wrapped(f"{student.folder}: {student.sent}", width)


def _stuck(students: Sequence[StudentWeek], width: int) -> Iterator[str]:
    stuck = [(student, stuck_words(student)) for student in students]
    if not any(words for _, words in stuck):
        return
    yield "Stuck"
    for student, sentences in stuck:
        for sentence in sentences:
            yield from _wrapped(f"{student.folder}: {sentence}", width)


def stuck_words(student: StudentWeek) -> tuple[str, ...]:
    """A sentence for each open trouble spot and each tempo that doesn't rise."""
    return (*map(knot_words, student.knots), *map(tempo_words, student.tempos))


def knot_words(knot: OpenKnot) -> str:
    """'C#6–D6 in ferry, open since 19 October.'"""
    return say("spot open", spot_note=knot.title, what=knot.exercise_id, day=knot.since)


def tempo_words(stuck: StuckTempo) -> str:
    """'Rope ladder, slurred is stuck at 80.'"""
    if stuck.held_bpm is None:
        return say("no tempo yet", what=stuck.what)
    return say("tempo not rising", what=stuck.what, bpm=f"{stuck.held_bpm:g}")


def _problems(found: Overview, width: int) -> Iterator[str]:
    told = [*found.notices]
    told += [f"{s.folder}: {problem}" for s in found.students for problem in s.problems]
    if not told:
        return
    yield "To be seen to"
    for sentence in told[:MOST_PROBLEMS]:
        yield from _wrapped(sentence, width)
    if len(told) > MOST_PROBLEMS:
        yield f"{_INDENT}{len(told) - MOST_PROBLEMS} more with --json."


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, initial_indent=_INDENT, subsequent_indent=_INDENT * 2) or [
        _INDENT
    ]
