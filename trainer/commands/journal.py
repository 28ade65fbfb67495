"""The commands that read back what was practised."""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections.abc import Sequence
from datetime import date, datetime
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.app.paths import user_paths
from trainer.commands.family import DAY, day
from trainer.commands.page_file import write_file, write_page
from trainer.commands.plain_output import progress

VOLUME_S = 3.0
"""Time to turn the volume down."""

if TYPE_CHECKING:
    from trainer.app.paths import Paths
    from trainer.commands.family import Commands
    from trainer.journal.index import Read
    from trainer.journal.log import SessionLog
    from trainer.journal.read import JournalProblem


def add_to(commands: Commands) -> None:
    """Add these commands to the command line."""
    week = commands.add_parser("week", help="the last seven days")
    week.add_argument("--ending", type=day, default=None, metavar=DAY)
    week.add_argument("--json", action="store_true")
    week.add_argument(
        "--page", type=Path, metavar="FILE", help="write the lesson page: .html or .pdf"
    )
    week.add_argument(
        "--hear", action="store_true", help="a round of this week beside an old take of the same"
    )
    week.set_defaults(command=_week)

    tuning = commands.add_parser(
        "tuning", help="every note's own habit over months: a card for the stand"
    )
    tuning.add_argument("--from", dest="from_day", type=day, metavar=DAY)
    tuning.add_argument("--to", dest="to_day", type=day, metavar=DAY)
    tuning.add_argument("--json", action="store_true")
    tuning.add_argument(
        "--page", type=Path, metavar="FILE", help="write the card to print: .html or .pdf"
    )
    tuning.set_defaults(command=_tuning)

    journal = commands.add_parser("journal", help="the sessions written down; alone: a list")
    journal.set_defaults(command=_journal, from_day=None, to_day=None)
    actions = journal.add_subparsers(title="actions", metavar="")
    listed = actions.add_parser("list", help="a line a session")
    shown = actions.add_parser("show", help="one session")
    remark = actions.add_parser("remark", help="add a remark to a session that is over")
    export = actions.add_parser("export", help="sessions for other programs, on standard output")
    long = actions.add_parser("long", help="how it went over months and years")
    for action in (listed, export, long):
        action.add_argument("--from", dest="from_day", type=day, metavar=DAY)
        action.add_argument("--to", dest="to_day", type=day, metavar=DAY)
    for action in (shown, remark):
        action.add_argument("when", type=_when, metavar="WHEN",
                            help="'last', yesterday, 2026-11-23 or '2026-11-23 17:05'")  # fmt: skip
    shown.set_defaults(command=_journal_show)
    remark.add_argument("words")
    remark.add_argument("--private", action="store_true", help="keep it out of exports and pages")
    remark.set_defaults(command=_journal_remark)
    as_what = export.add_mutually_exclusive_group()
    as_what.add_argument(
        "--form", choices=("csv", "json"), default="csv", help="csv: a row a note; json: whole"
    )
    as_what.add_argument(
        "--table", type=Path, metavar="FILE", help="write a row a note as a column file: .parquet"
    )
    export.set_defaults(command=_journal_export)
    spots = actions.add_parser("spots", help="every trouble spot with its story")
    spots.add_argument("--json", action="store_true")
    spots.set_defaults(command=_journal_spots)
    schema = actions.add_parser("schema", help="the form of a session's file, as JSON Schema")
    schema.add_argument("--table", action="store_true", help="the columns of the exported table")
    schema.set_defaults(command=_journal_schema)
    long.add_argument("--by", choices=("week", "month", "year"), help="what one column is")
    long.add_argument("--json", action="store_true")
    long.set_defaults(command=_journal_long)


def _when(typed: str) -> str:
    """A day that is said plainly as the journal writes it; anything else as it stands."""
    try:
        return str(day(typed))
    except argparse.ArgumentTypeError:
        return typed


def _week(options: argparse.Namespace) -> int:
    from trainer.app.morning import outlined_sessions
    from trainer.app.todays_routine import lesson_on_paper, words_before_lesson, words_from_teacher
    from trainer.journal.lesson_page import lesson_page
    from trainer.journal.stuck import first_outlined
    from trainer.journal.week_summary import TWO_WEEKS, week
    from trainer.journal.week_text import week_json, week_text

    paths = user_paths(os.environ)

    ending = options.ending or date.today()
    if options.hear:
        return _then_and_now(paths, ending)
    sessions = _sessions(ending - TWO_WEEKS, ending)
    outlined, _ = outlined_sessions(paths, first_outlined(ending), ending)
    summary = week(sessions, ending, outlined)
    if options.page is not None:
        return write_page(
            options.page, lesson_page(summary, sessions, lesson_on_paper(paths, ending))
        )
    said = week_text(summary, words_from_teacher(paths), words_before_lesson(paths, ending))
    print(json.dumps(week_json(summary), indent=2) if options.json else said)
    return 0


def _then_and_now(paths: Paths, ending: date) -> int:
    """Say which two takes they are and what changed, and play them one after the other."""
    from trainer.app.keepsake import keepsake
    from trainer.commands.takes import play_takes

    found = keepsake(paths, ending)
    if isinstance(found, str):
        print(found)
        return 1
    print(f"{found.title}\n  then: {found.then_words}\n  now:  {found.now_words}")
    print(f"{found.changed}\nTurn the volume down first: it begins in three seconds.", flush=True)
    time.sleep(VOLUME_S)
    play_takes(paths, [found.then_file, found.now_file])
    return 0


def _sessions(from_day: date | None, to_day: date | None) -> Sequence[SessionLog]:
    """The sessions of these days; what is wrong with a file goes to standard error."""
    from trainer.journal.kept import kept_sessions

    paths = user_paths(os.environ)
    sessions, problems = kept_sessions(
        paths.journal_folders, from_day or date.min, to_day or date.max
    )
    for problem in problems:
        print(problem, file=sys.stderr)
    return sessions


def _journal(options: argparse.Namespace) -> int:
    from trainer.journal.sessions_text import sessions_text

    print(sessions_text(_sessions(options.from_day, options.to_day)), end="")
    return 0


def _journal_show(options: argparse.Namespace) -> int:
    from trainer.journal.sessions_text import session_named, session_text_page

    print(session_text_page(session_named(_sessions(None, None), options.when)), end="")
    return 0


def _journal_remark(options: argparse.Namespace) -> int:
    from trainer.journal.kept import kept_files
    from trainer.journal.remark import add_remark
    from trainer.journal.sessions_text import session_named

    files, _ = kept_files(user_paths(os.environ).journal_folders)
    session = session_named([log for _, log in files], options.when)
    path = next(path for path, log in files if log is session)
    add_remark(path, options.words, datetime.now().astimezone(), private=options.private)
    print(f"Written in {path}.")
    return 0


def _journal_export(options: argparse.Namespace) -> int:
    from trainer.journal.export import notes_csv, sessions_json

    sessions = _sessions(options.from_day, options.to_day)
    if options.table is not None:
        from trainer.journal.note_table import note_table

        table, rows = note_table(sessions)
        write_file(options.table, table)
        print(f"{rows} rows in {options.table}")
        return 0
    form = notes_csv if options.form == "csv" else sessions_json
    sys.stdout.write(form(sessions))
    return 0


def _journal_spots(options: argparse.Namespace) -> int:
    from trainer.app.short_morning import shelf_today
    from trainer.app.spots_told import spots_json, spots_text

    spots = shelf_today(user_paths(os.environ), date.today())
    print(json.dumps(spots_json(spots), indent=2) if options.json else spots_text(spots))
    return 0


def _journal_schema(options: argparse.Namespace) -> int:
    from trainer.journal.json_schema import journal_schema
    from trainer.journal.note_table import columns_plain

    shown = columns_plain() if options.table else journal_schema()
    print(json.dumps(shown, indent=2, ensure_ascii=False))
    return 0


def _journal_long(options: argparse.Namespace) -> int:
    from trainer.journal.index import ask_index
    from trainer.journal.long_text import long_json, long_text
    from trainer.journal.long_view import long_view
    from trainer.journal.periods import By, usual_by, usual_first_day

    paths = user_paths(os.environ)
    last = options.to_day or date.today()
    first = options.from_day or usual_first_day(last, By(options.by or By.MONTH))
    by = By(options.by or usual_by(first, last))
    folders = (paths.journal, paths.spare_journal)
    view, problems = ask_index(
        lambda index: long_view(index, by, first, last),
        folders,
        paths.indexes,
        read=_reading_aloud(),
    )
    for problem in problems:
        print(problem, file=sys.stderr)
    print(json.dumps(long_json(view), indent=2) if options.json else long_text(view), end="")
    return 0


def _tuning(options: argparse.Namespace) -> int:
    from trainer.journal.index import ask_index
    from trainer.journal.tuning_card import MONTHS, tuning_cards
    from trainer.journal.tuning_card_page import card_json, card_page, card_text

    paths = user_paths(os.environ)
    last = options.to_day or date.today()
    first = options.from_day or last - MONTHS
    cards, problems = ask_index(
        lambda index: tuning_cards(index, first, last),
        (paths.journal, paths.spare_journal),
        paths.indexes,
        read=_reading_aloud(),
    )
    for problem in problems:
        print(problem, file=sys.stderr)
    if options.page is not None:
        return write_page(options.page, card_page(cards))
    print(json.dumps(card_json(cards), indent=2) if options.json else card_text(cards), end="")
    return 0


def _reading_aloud() -> Read:
    """Reads a session, and tells a person at a terminal now and then how far a long reading is."""
    from trainer.journal.read import read_session

    numbers = count(1)

    def read(path: Path) -> tuple[SessionLog | None, tuple[JournalProblem, ...]]:
        number = next(numbers)
        if number % 50 == 0:
            progress(f"Sessions new or changed: {number}")
        return read_session(path)

    return read
