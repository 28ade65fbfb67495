"""The commands of a teacher who has students' journals in folders."""

from __future__ import annotations

import argparse
import json
import os
import sys
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.app.paths import user_paths
from trainer.commands.desk import routine_or_complaint
from trainer.commands.family import DAY, day
from trainer.commands.page_file import write_page
from trainer.commands.plain_output import progress
from trainer.errors import StudioError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.commands.family import Commands
    from trainer.studio.folders import StudentFolder

TO_STANDARD_OUTPUT = Path("-")
TRAVELS = (
    "It travels with the student's folder: where a syncing program keeps that, there is nothing to "
    "do; else send the folder 'from teacher', to be put into the student's practice folder. The "
    "student sees it on the first screen the next morning."
)
"""Said once something was sent."""


def add_to(commands: Commands) -> None:
    """Add these commands to the command line."""
    studio = commands.add_parser("studio", help="a teacher's students, a folder each")
    studio.add_argument("folder", type=Path, metavar="DIR", help="a folder for each student in it")
    studio.add_argument(
        "students",
        nargs="*",
        default=[],
        metavar="STUDENT",
        help="these students only, in this order",
    )
    studio.add_argument("--ending", type=day, default=None, metavar=DAY)
    studio.add_argument("--json", action="store_true")
    studio.add_argument("--csv", action="store_true", help="a row a student, for a spreadsheet")
    studio.add_argument(
        "--order", choices=("name", "attention"), default="name",
        help="attention: who has not practised, is stuck or left something out comes first",
    )  # fmt: skip
    studio.add_argument("--weeks", action="store_true", help="the last six weeks side by side")
    studio.add_argument(
        "--page",
        type=Path,
        metavar="FILE",
        help="a page, .html or .pdf: of one student, or a few lines of each",
    )
    studio.add_argument(
        "--day", type=Path, nargs="?", const=TO_STANDARD_OUTPUT, metavar="FILE",
        help="a list for the day of lessons, to read; to print (.html, .pdf) with a FILE",
    )  # fmt: skip
    studio.add_argument(
        "--note", nargs="+", metavar="WORDS", help="words for these students' next practice"
    )
    studio.add_argument("--routine", type=Path, metavar="FILE", help="a new routine for them")
    studio.set_defaults(command=_studio)


def _studio(options: argparse.Namespace) -> int:
    if options.note is not None or options.routine is not None:
        return _send(options)
    if options.page is not None:
        return _page(options)
    if options.day is not None:
        return _day(options)
    return _student(options) if options.students else _overview(options)


def _overview(options: argparse.Namespace) -> int:
    from trainer.studio.overview import by_attention, overview
    from trainer.studio.overview_text import (
        overview_csv,
        overview_json,
        overview_text,
        weeks_text,
    )

    found = overview(options.folder, _indexes(), _ending(options), _counting())
    if options.order == "attention":
        found = by_attention(found)
    if options.csv:
        print(overview_csv(found), end="")
        return 0
    told = weeks_text if options.weeks else overview_text
    text = json.dumps(overview_json(found), indent=2) if options.json else told(found)
    print(text)
    return 0


def _student(options: argparse.Namespace) -> int:
    from trainer.studio.student import student_page_json, student_page_text

    page = student_page_json if options.json else student_page_text
    found = [page(each, _indexes(), _ending(options)) for each in _chosen(options)]
    if options.json:
        print(json.dumps(found[0] if len(found) == 1 else found, indent=2))
    else:
        print("\n\n".join(str(text) for text in found))
    return 0


def _page(options: argparse.Namespace) -> int:
    from trainer.journal.lesson_page import lesson_page
    from trainer.routine.lesson_day import dated_lesson_words
    from trainer.studio.student import shown_week, stuck_week

    students = _chosen(options)
    if len(students) != 1:
        from trainer.studio.lessons import lessons, lessons_page

        found = lessons(students or _all(options), _indexes(), _ending(options))
        return write_page(options.page, lessons_page(found))
    summary, sessions, problems = shown_week(students[0], _indexes(), _ending(options))
    _complain(problems)
    line = stuck_week(students[0], _indexes(), _ending(options))
    lesson = dated_lesson_words(line.lesson, line.lesson_wants)
    return write_page(options.page, lesson_page(summary, sessions, lesson))


def _day(options: argparse.Namespace) -> int:
    from trainer.studio.lessons import lessons, lessons_json, lessons_page, lessons_text

    found = lessons(_chosen(options) or _all(options), _indexes(), _ending(options))
    if options.day != TO_STANDARD_OUTPUT:
        return write_page(options.day, lessons_page(found))
    print(json.dumps(lessons_json(found), indent=2) if options.json else lessons_text(found))
    return 0


def _send(options: argparse.Namespace) -> int:
    from trainer.journal.from_teacher import send_note

    _sort_words_and_names(options)
    students = _chosen(options)
    if not students:
        raise StudioError("Say to whom: name one or more students after the folder.")
    if options.routine is not None and routine_or_complaint(options.routine) is None:
        return 1
    at = datetime.now().astimezone()
    for student in students:
        file = send_note(student.inbox, options.note or "", at, options.routine)
        print(f"For {student.name}, written in {file}.")
    print(TRAVELS)
    return 0


def _chosen(options: argparse.Namespace) -> tuple[StudentFolder, ...]:
    from trainer.studio.folders import named

    everyone = _all(options)
    return tuple(named(everyone, name) for name in options.students)


def _sort_words_and_names(options: argparse.Namespace) -> None:
    """Names may come before or after the words of a note: what is no student's name is the note."""
    from trainer.studio.folders import named

    everyone, told = _all(options), [*options.students, *(options.note or ())]

    def is_name(text: str) -> bool:
        try:
            return bool(text.strip()) and bool(named(everyone, text))
        except StudioError:
            return False

    words = [each for each in told if not is_name(each)]
    if options.note is not None and not words:
        words = [options.note[-1]]
    if options.note is not None:
        options.students = [each for each in told if each not in words]
        options.note = " ".join(words)


def _all(options: argparse.Namespace) -> tuple[StudentFolder, ...]:
    from trainer.studio.folders import student_folders

    return student_folders(options.folder)[0]


def _ending(options: argparse.Namespace) -> date:
    ending: date = options.ending or date.today()
    return ending


def _indexes() -> Path:
    return user_paths(os.environ).indexes / "studio"


def _complain(problems: Sequence[str]) -> None:
    for problem in problems:
        print(problem, file=sys.stderr)


def _counting() -> Callable[[int, int], None]:
    """Says now and then how far a long reading has come, to a person at a terminal."""

    def say(done: int, of: int) -> None:
        if done == of or done % 20 == 0:
            progress("" if done == of else f"{done} of {of} students")

    return say
